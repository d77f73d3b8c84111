//! Persons.

use super::Found;
use crate::tables::Tables;
use leadhand_facts::rows::{PersonRow, TextRow};

pub(super) fn check(tables: &Tables, found: &mut Found) {
    for row in tables.rows::<PersonRow>().filter(|row| row.forgotten) {
        let name = tables.get::<TextRow>(&(row.name,));
        let erased = name.is_some_and(|text| text.erased_n.is_some());
        found.law("forgotten", row, erased, || format!("its name, text {}, is not erased", row.name));
    }
}
