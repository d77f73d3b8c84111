//! Customers, and what is said about vehicles.

use super::{Broken, Folded, add, change, strayed};
use crate::state::State;
use leadhand_facts::rows::{CustomerRow, JobRow};
use leadhand_facts::{CustomerId, Entry, Fact, TextId, VehicleId};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    match &entry.fact {
        Fact::CustomerAdded { customer, name, contact, about } => {
            let row = CustomerRow {
                customer: *customer,
                name: name.id,
                contact: contact.as_ref().map(|text| text.id),
                about: about.as_ref().map(|text| text.id),
                forgotten: false,
                added_n: entry.number,
            };
            add(entry, &mut state.customers, row)
        }
        Fact::CustomerEdited { customer, name, contact, about, erased } => {
            change(entry, &mut state.customers, &(*customer,), |row| {
                row.name = name.id;
                row.contact = contact.as_ref().map(|text| text.id);
                row.about = about.as_ref().map(|text| text.id);
            })?;
            erase(state, entry, erased)
        }
        Fact::CustomerForgotten { customer, texts } => forgotten(state, entry, *customer, texts),
        Fact::VehicleDescribed { vehicle, label, plate, weight_kg, customer, erased } => {
            change(entry, &mut state.vehicles, &(*vehicle,), |row| {
                row.label = label.id;
                row.plate = plate.as_ref().map(|text| text.id);
                row.weight_kg = *weight_kg;
                row.customer = *customer;
            })?;
            erase(state, entry, erased)
        }
        Fact::JobCustomerSet { job, customer } => {
            change(entry, &mut state.jobs, &(*job,), |row: &mut JobRow| row.customer = *customer)
        }
        _ => strayed(entry),
    }
}

fn forgotten(state: &mut State, entry: &Entry, customer: CustomerId, texts: &[TextId]) -> Folded {
    change(entry, &mut state.customers, &(customer,), |row| row.forgotten = true)?;
    let own: Vec<VehicleId> =
        state.vehicles.iter().filter(|row| row.customer == Some(customer)).map(|row| row.vehicle).collect();
    for vehicle in own {
        change(entry, &mut state.vehicles, &(vehicle,), |row| row.customer = None)?;
    }
    erase(state, entry, texts)
}

fn erase(state: &mut State, entry: &Entry, texts: &[TextId]) -> Result<(), Broken> {
    texts
        .iter()
        .try_for_each(|text| change(entry, &mut state.texts, &(*text,), |row| row.erased_n = Some(entry.number)))
}
