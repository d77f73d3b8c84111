//! Commands about customers and their vehicles.

use super::Draw;
use crate::stock_kit::texts::texts_of_customer;
use leadhand_domain::command::*;
use leadhand_facts::*;
use uuid::Uuid;

/// A customer, mostly one who is not forgotten; now and then nobody whom the shop knows.
fn customer(draw: &mut Draw<'_>) -> CustomerId {
    let forgotten = draw.rarely(6);
    let all = draw.state.customers.iter().filter(|row| forgotten || !row.forgotten);
    let all: Vec<CustomerId> = all.map(|row| row.customer).collect();
    let nobody = CustomerId(Uuid::from_u128(6));
    if draw.rarely(30) { nobody } else { draw.one_of(&all).unwrap_or(nobody) }
}

/// Whose a new vehicle is, if anybody's.
pub fn some(draw: &mut Draw<'_>) -> Option<CustomerId> {
    let known = draw.state.customers.iter().next().is_some();
    (known && draw.below(2) == 0).then(|| customer(draw))
}

pub fn add(draw: &mut Draw<'_>) -> Command {
    let (contact, note) = (draw.sometimes("by the mill"), draw.sometimes("rings twice"));
    AddCustomer { name: draw.words("Heather"), contact, note }.into()
}

fn change<T>(draw: &mut Draw<'_>, to: impl FnOnce(&mut Draw<'_>) -> T) -> Change<T> {
    match draw.below(3) {
        0 => Change::Set(to(draw)),
        1 => Change::Keep,
        _ => Change::Clear,
    }
}

pub fn edit(draw: &mut Draw<'_>) -> Command {
    EditCustomer {
        customer: customer(draw),
        name: draw.sometimes("Heather Senior"),
        contact: change(draw, |draw| draw.words("at the ford")),
        note: change(draw, |draw| draw.words("rings once")),
    }
    .into()
}

/// The words that go are those that the office was shown.
pub fn forget(draw: &mut Draw<'_>) -> Command {
    let customer = customer(draw);
    let mut texts: Vec<TextId> = texts_of_customer(draw.books, draw.journal, customer).into_iter().collect();
    if draw.rarely(4) {
        texts.pop();
    }
    ForgetCustomer { customer, texts }.into()
}

pub fn edit_vehicle(draw: &mut Draw<'_>) -> Command {
    let all: Vec<VehicleId> = draw.state.vehicles.iter().map(|row| row.vehicle).collect();
    let vehicle = if draw.rarely(30) { None } else { draw.one_of(&all) };
    let whose = change(draw, customer);
    EditVehicle {
        vehicle: vehicle.unwrap_or(VehicleId(Uuid::from_u128(5))),
        label: draw.sometimes("blue van"),
        plate: change(draw, |draw| draw.words("ZZ 2")),
        weight_kg: change(draw, |draw| draw.between(1, 2800).try_into().expect("a small number")),
        earlier_jobs: draw.rarely(4),
        customer: whose,
    }
    .into()
}
