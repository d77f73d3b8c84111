//! Suppliers, what was told to whom, and corrections that were asked for.

use super::Found;
use crate::tables::Tables;
use leadhand_facts::rows::{AskedRow, ItemRow, SupplierRow, ToldRow};

pub(super) fn check(tables: &Tables, found: &mut Found) {
    for row in tables.rows::<ItemRow>() {
        let listed = row.supplier.as_ref().is_none_or(|key| tables.get::<SupplierRow>(&(key.clone(),)).is_some());
        found.law("supplier", row, listed, || "it names a supplier that is not listed".to_owned());
    }
    for row in tables.rows::<ToldRow>() {
        let to_one = row.customer.is_some() != row.whom.is_some();
        let whole = row.withdrawn_n.is_some() == row.withdrawn_reason.is_some();
        let ahead = row.promised_at.is_none_or(|promised| promised > row.told_at);
        found.law("told", row, to_one && whole && ahead && row.told.0 > 0, || {
            "it was told to nobody or to two, promises what was over, or is withdrawn without a reason".to_owned()
        });
    }
    for row in tables.rows::<AskedRow>() {
        let wanted = [row.to_job.is_some(), row.to_stage.is_some(), row.from_at.is_some()];
        let whole = wanted == [true; 3] || (wanted == [false; 3] && row.until_at.is_none());
        let ends = row.from_at.zip(row.until_at).is_none_or(|(from, until)| from < until);
        let marks = [row.taken.is_some(), row.decided_at.is_some(), row.decided_n.is_some(), row.answer.is_some()];
        let decided = marks == [true; 4] || (marks == [false; 4] && row.decided_by.is_none());
        found.law("asked", row, whole && ends && decided && row.ask.0 > 0, || {
            "what it asks for or what was decided about it is not whole".to_owned()
        });
    }
}
