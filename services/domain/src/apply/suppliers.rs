//! Suppliers, and of each item from whom it comes and which fluid it is.

use super::{Folded, change, known, strayed};
use crate::state::State;
use leadhand_facts::rows::SupplierRow;
use leadhand_facts::{Entry, Fact};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    match &entry.fact {
        Fact::SupplierSet { supplier, name, rounds } => {
            let (supplier, name, rounds) = (supplier.clone(), name.clone(), rounds.clone());
            state.suppliers.put(SupplierRow { supplier, name, rounds, set_n: entry.number });
            Ok(())
        }
        Fact::ItemSupplierSet { item, supplier } => {
            if let Some(supplier) = supplier {
                known(entry, &state.suppliers, &(supplier.clone(),))?;
            }
            change(entry, &mut state.items, &(item.clone(),), |row| row.supplier.clone_from(supplier))
        }
        Fact::ItemFluidSet { item, fluid } => {
            change(entry, &mut state.items, &(item.clone(),), |row| row.fluid = *fluid)
        }
        _ => strayed(entry),
    }
}
