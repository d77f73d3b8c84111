//! Persons and customers.

use super::Found;
use crate::tables::Tables;
use leadhand_facts::TextId;
use leadhand_facts::rows::{CustomerRow, JobRow, PersonRow, TextRow, VehicleRow};
use leadhand_facts::words::JobState;

pub(super) fn check(tables: &Tables, found: &mut Found) {
    let is_erased = |text: TextId| tables.get::<TextRow>(&(text,)).is_some_and(|row| row.erased_n.is_some());
    for row in tables.rows::<PersonRow>().filter(|row| row.forgotten) {
        let name = row.name;
        found.law("forgotten", row, is_erased(name), || format!("its name, text {name}, is not erased"));
    }
    for row in tables.rows::<CustomerRow>().filter(|row| row.forgotten) {
        for text in [Some(row.name), row.contact, row.about].into_iter().flatten() {
            found.law("forgotten", row, is_erased(text), || format!("its text {text} is not erased"));
        }
        let theirs = tables.rows::<VehicleRow>().find(|vehicle| vehicle.customer == Some(row.customer));
        found.law("forgotten", row, theirs.is_none(), || format!("a vehicle is still its: {theirs:?}"));
        let mut jobs = tables.rows::<JobRow>().filter(|job| job.customer == Some(row.customer));
        let open = jobs.any(|job| job.state == JobState::Open);
        found.law("forgotten", row, !open, || "it has an open job".to_owned());
    }
}
