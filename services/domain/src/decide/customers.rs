//! Customers: added, edited, forgotten; and the vehicles that are theirs.

use crate::answer::Made;
use crate::check;
use crate::command::{AddCustomer, Change, EditCustomer, EditVehicle, ForgetCustomer};
use crate::decide::jobs;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::{JobRow, VehicleRow};
use leadhand_facts::words::JobState;
use leadhand_facts::{CustomerId, Fact, JobNo, TextId, TextRef, VehicleId};
use std::collections::BTreeSet;

pub(super) fn add(session: &mut Session, command: &AddCustomer) -> Result<Made, Refusal> {
    check::name("name", &command.name)?;
    check::text_some("contact", command.contact.as_deref())?;
    check::text_some("note", command.note.as_deref())?;
    let customer = CustomerId(session.id());
    let name = session.seal(&command.name);
    let contact = session.seal_some(command.contact.as_deref());
    let about = session.seal_some(command.note.as_deref());
    session.emit(Fact::CustomerAdded { customer, name, contact, about })?;
    Ok(Made::Customer(customer))
}

pub(super) fn edit(session: &mut Session, command: &EditCustomer) -> Result<Made, Refusal> {
    command.name.as_deref().map_or(Ok(()), |name| check::name("name", name))?;
    check::text_some("contact", said(&command.contact))?;
    check::text_some("note", said(&command.note))?;
    let row = look::customer(session.state, command.customer)?.clone();
    if command.name.is_none() && (&command.contact, &command.note) == (&Change::Keep, &Change::Keep) {
        return Err(Refusal::NothingToDo { what: "edit: say the name, the contact or the note".to_owned() });
    }
    let mut erased = Vec::new();
    let name = reworded(session, row.name, command.name.as_deref(), &mut erased)?;
    let contact = changed(session, row.contact, &command.contact, &mut erased)?;
    let about = changed(session, row.about, &command.note, &mut erased)?;
    session.emit(Fact::CustomerEdited { customer: row.customer, name, contact, about, erased })?;
    Ok(Made::Customer(row.customer))
}

/// Forgets the words of the customer's row and vehicles and all that was typed on the customer's jobs, as
/// far as it is still there. Who has an open job is still a customer.
pub(super) fn forget(session: &mut Session, command: &ForgetCustomer) -> Result<Made, Refusal> {
    let state = &*session.state;
    let row = look::any_customer(state, command.customer)?.clone();
    let own = state.vehicles.iter().filter(|vehicle| vehicle.customer == Some(row.customer));
    let of_vehicles = own.flat_map(|vehicle| [Some(vehicle.label), vehicle.plate]);
    let named = [Some(row.name), row.contact, row.about].into_iter().chain(of_vehicles).flatten();
    let all: BTreeSet<TextId> = named.chain(command.texts.iter().copied()).collect();
    let texts: Vec<TextId> = all.into_iter().filter(|text| is_living(state, *text)).collect();
    if row.forgotten && texts.is_empty() {
        return Err(Refusal::CustomerForgotten {});
    }
    let open = state.jobs.iter().filter(|job| job.customer == Some(row.customer) && job.state == JobState::Open);
    let open: Vec<String> = open.map(|job| job.job.to_string()).collect();
    if !open.is_empty() {
        return Err(Refusal::CustomerHasOpenJob { jobs: open.join(", ") });
    }
    session.emit(Fact::CustomerForgotten { customer: row.customer, texts })?;
    Ok(Made::Customer(row.customer))
}

pub(super) fn edit_vehicle(session: &mut Session, command: &EditVehicle) -> Result<Made, Refusal> {
    check_form(command)?;
    let row = look::vehicle(session.state, command.vehicle)?.clone();
    let customer = match command.customer {
        Change::Keep => row.customer,
        Change::Clear => None,
        Change::Set(customer) => Some(look::customer(session.state, customer)?.customer),
    };
    let weight_kg = match command.weight_kg {
        Change::Keep => row.weight_kg,
        Change::Clear => None,
        Change::Set(weight_kg) => Some(weight_kg),
    };
    refuse_heavy(session.state, row.vehicle, weight_kg)?;
    let mut erased = Vec::new();
    let label = reworded(session, row.label, command.label.as_deref(), &mut erased)?;
    let plate = changed(session, row.plate, &command.plate, &mut erased)?;
    let vehicle = row.vehicle;
    session.emit(Fact::VehicleDescribed { vehicle, label, plate, weight_kg, customer, erased })?;
    for job in going_along(session.state, &row, customer, command.earlier_jobs) {
        session.emit(Fact::JobCustomerSet { job, customer })?;
    }
    Ok(Made::Nothing)
}

fn check_form(command: &EditVehicle) -> Result<(), Refusal> {
    command.label.as_deref().map_or(Ok(()), |label| check::name("label", label))?;
    said(&command.plate).map_or(Ok(()), |plate| check::name("plate", plate))?;
    if let Change::Set(weight_kg) = command.weight_kg {
        jobs::check_weight("weight_kg", Some(weight_kg))?;
    }
    if command.earlier_jobs && command.customer == Change::Keep {
        let why = "it is about whose the vehicle is; say the customer as well";
        return Err(Refusal::invalid("earlier_jobs", why));
    }
    let nothing = (&command.label, &command.plate, &command.weight_kg, &command.customer)
        == (&None, &Change::Keep, &Change::Keep, &Change::Keep);
    if nothing {
        let what = "edit: say the label, the plate, the weight or the customer".to_owned();
        return Err(Refusal::NothingToDo { what });
    }
    Ok(())
}

/// A bay that holds the vehicle has to bear what it weighs after all.
fn refuse_heavy(state: &State, vehicle: VehicleId, weight_kg: Option<i32>) -> Result<(), Refusal> {
    let Some(stay) = look::stay_of(state, vehicle) else { return Ok(()) };
    let bay = look::bay(state, &stay.bay)?;
    match weight_kg.filter(|weight_kg| !look::bears(bay, *weight_kg)) {
        Some(weight_kg) => Err(Refusal::TooHeavy { bay: bay.bay.clone(), rated_kg: bay.rated_kg, weight_kg }),
        None => Ok(()),
    }
}

/// The jobs that go along when a vehicle becomes another customer's: the open one; closed ones that were
/// nobody's while the vehicle was; and on a lead's word those of the one who was named by mistake.
fn going_along(state: &State, was: &VehicleRow, customer: Option<CustomerId>, earlier: bool) -> Vec<JobNo> {
    let goes = |job: &&JobRow| {
        let with_it = job.state == JobState::Open || was.customer.is_none() || earlier;
        job.vehicle == was.vehicle
            && job.customer != customer
            && with_it
            && (job.state == JobState::Open || job.customer == was.customer)
    };
    state.jobs.iter().filter(goes).map(|job| job.job).collect()
}

/// A vehicle that was described when it was added.
pub(super) fn describe_new(
    session: &mut Session,
    vehicle: VehicleId,
    plate: Option<&str>,
    customer: Option<CustomerId>,
) -> Result<(), Refusal> {
    if plate.is_none() && customer.is_none() {
        return Ok(());
    }
    let row = look::vehicle(session.state, vehicle)?.clone();
    let label = sealed(session.state, row.label)?;
    let plate = session.seal_some(plate);
    let (weight_kg, erased) = (row.weight_kg, Vec::new());
    session.emit(Fact::VehicleDescribed { vehicle, label, plate, weight_kg, customer, erased })?;
    Ok(())
}

fn said(change: &Change<String>) -> Option<&str> {
    match change {
        Change::Set(words) => Some(words),
        Change::Keep | Change::Clear => None,
    }
}

fn is_living(state: &State, text: TextId) -> bool {
    state.texts.get(&(text,)).is_some_and(|row| row.erased_n.is_none())
}

/// Words that were sealed before, as a fact refers to them.
fn sealed(state: &State, text: TextId) -> Result<TextRef, Refusal> {
    let row = state.texts.get(&(text,));
    let row = row.ok_or_else(|| Refusal::Defect { why: format!("text {text} is not loaded") })?;
    Ok(TextRef { id: row.text, hash: row.hash.clone() })
}

/// Words that are always there. What is said is sealed anew even if it is the same: nobody here can read it.
fn reworded(
    session: &mut Session,
    was: TextId,
    words: Option<&str>,
    erased: &mut Vec<TextId>,
) -> Result<TextRef, Refusal> {
    let Some(words) = words else { return sealed(session.state, was) };
    erased.extend(Some(was).filter(|was| is_living(session.state, *was)));
    Ok(session.seal(words))
}

/// Words that may be there.
fn changed(
    session: &mut Session,
    was: Option<TextId>,
    change: &Change<String>,
    erased: &mut Vec<TextId>,
) -> Result<Option<TextRef>, Refusal> {
    if *change == Change::Keep {
        return was.map(|was| sealed(session.state, was)).transpose();
    }
    erased.extend(was.filter(|was| is_living(session.state, *was)));
    Ok(said(change).map(|words| session.seal(words)))
}
