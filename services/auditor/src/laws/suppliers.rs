//! Suppliers, and what was told to whom.

use super::Found;
use crate::tables::Tables;
use leadhand_facts::rows::{ItemRow, SupplierRow, ToldRow};

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
}
