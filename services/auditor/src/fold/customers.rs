//! Customers, whose vehicles and jobs are, and what is known of vehicles.

use super::astray;
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::rows::{CustomerRow, JobRow, TextRow, VehicleRow};
use leadhand_facts::words::JobState;
use leadhand_facts::{CustomerId, Fact, TextId, TextRef};

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::CustomerAdded { customer, name, contact, about } => {
            let (customer, name, contact, about) = (*customer, name.id, id(contact.as_ref()), id(about.as_ref()));
            tables.add(at, CustomerRow { customer, name, contact, about, forgotten: false, added_n: at.n })
        }
        Fact::CustomerEdited { customer, name, contact, about, erased } => {
            living(tables, at, Some(*customer))?;
            let row = tables.change::<CustomerRow>(at, &(*customer,))?;
            let before = [Some(row.name), row.contact, row.about];
            (row.name, row.contact, row.about) = (name.id, id(contact.as_ref()), id(about.as_ref()));
            let after = [Some(row.name), row.contact, row.about];
            replace(tables, at, &before, &after, erased)
        }
        Fact::CustomerForgotten { customer, texts } => forgotten(tables, at, *customer, texts),
        Fact::VehicleDescribed { vehicle, label, plate, weight_kg, customer, erased } => {
            living(tables, at, *customer)?;
            let row = tables.change::<VehicleRow>(at, &(*vehicle,))?;
            let before = [Some(row.label), row.plate];
            (row.label, row.plate) = (label.id, id(plate.as_ref()));
            (row.weight_kg, row.customer) = (*weight_kg, *customer);
            let after = [Some(row.label), row.plate];
            replace(tables, at, &before, &after, erased)
        }
        Fact::JobCustomerSet { job, customer } => {
            living(tables, at, *customer)?;
            tables.change::<JobRow>(at, &(*job,))?.customer = *customer;
            Ok(())
        }
        _ => Err(astray(at)),
    }
}

fn id(text: Option<&TextRef>) -> Option<TextId> {
    text.map(|text| text.id)
}

/// Nothing new becomes the property of somebody who was forgotten.
fn living(tables: &Tables, at: At, customer: Option<CustomerId>) -> Result<(), Fault> {
    let Some(customer) = customer else { return Ok(()) };
    let row = tables.known::<CustomerRow>(at, &(customer,))?;
    at.demand(!row.forgotten, "customer", || format!("customer {customer} was forgotten before"))
}

/// What was there and is there no longer is erased, unless it was before; nothing else is.
fn replace(
    tables: &mut Tables,
    at: At,
    before: &[Option<TextId>],
    after: &[Option<TextId>],
    erased: &[TextId],
) -> Result<(), Fault> {
    for gone in before.iter().flatten().filter(|text| !after.contains(&Some(**text))) {
        let was = tables.known::<TextRow>(at, &(*gone,))?.erased_n.is_some();
        at.demand(was != erased.contains(gone), "text_ref", || format!("text {gone} was replaced and is kept"))?;
    }
    let strange = erased.iter().find(|text| !before.contains(&Some(**text)));
    at.demand(strange.is_none(), "text_ref", || format!("text {strange:?} is another's"))?;
    erase(tables, at, erased)
}

fn erase(tables: &mut Tables, at: At, texts: &[TextId]) -> Result<(), Fault> {
    for text in texts {
        let row = tables.change::<TextRow>(at, &(*text,))?;
        at.demand(row.erased_n.is_none(), "text_ref", || format!("text {text} was erased before"))?;
        row.erased_n = Some(at.n);
    }
    Ok(())
}

fn forgotten(tables: &mut Tables, at: At, customer: CustomerId, texts: &[TextId]) -> Result<(), Fault> {
    let row = tables.change::<CustomerRow>(at, &(customer,))?;
    // A second time only for words that the first one left.
    let news = !row.forgotten || !texts.is_empty();
    at.demand(news, "customer", || format!("customer {customer} was forgotten before"))?;
    row.forgotten = true;
    let mut names = vec![Some(row.name), row.contact, row.about];
    let open = tables.rows::<JobRow>().find(|job| job.customer == Some(customer) && job.state == JobState::Open);
    at.demand(open.is_none(), "customer", || format!("customer {customer} still has an open job"))?;
    let own: Vec<VehicleRow> =
        tables.rows::<VehicleRow>().filter(|vehicle| vehicle.customer == Some(customer)).cloned().collect();
    for vehicle in own {
        names.extend([Some(vehicle.label), vehicle.plate]);
        tables.put(VehicleRow { customer: None, ..vehicle });
    }
    erase(tables, at, texts)?;
    // Whatever else goes, the names do.
    for name in names.into_iter().flatten() {
        let gone = tables.known::<TextRow>(at, &(name,))?.erased_n.is_some();
        at.demand(gone, "text_ref", || format!("text {name} names a customer who is forgotten"))?;
    }
    Ok(())
}
