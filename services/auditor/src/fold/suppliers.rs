//! Suppliers, their rounds, what comes from whom, and which fluid an item is.

use super::astray;
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::Fact;
use leadhand_facts::rows::{ItemRow, SupplierRow};
use leadhand_facts::supplier::Round;
use leadhand_facts::words::FluidKind;
use std::collections::BTreeSet;

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::SupplierSet { supplier, name, rounds } => {
            let mut cut_offs = BTreeSet::new();
            for round in rounds {
                at.demand(is_round(round), "supplier", || format!("supplier '{supplier}' has a round that can't be"))?;
                for day in &round.weekdays {
                    let fresh = cut_offs.insert((*day, round.order_by_minute));
                    at.demand(fresh, "supplier", || format!("supplier '{supplier}' has two rounds with one cut-off"))?;
                }
            }
            let row =
                SupplierRow { set_n: at.n, supplier: supplier.clone(), rounds: rounds.clone(), name: name.clone() };
            tables.put(row);
            Ok(())
        }
        Fact::ItemSupplierSet { item, supplier } => {
            if let Some(key) = supplier {
                tables.known::<SupplierRow>(at, &(key.clone(),))?;
            }
            tables.change::<ItemRow>(at, &(item.clone(),))?.supplier.clone_from(supplier);
            Ok(())
        }
        Fact::ItemFluidSet { item, fluid } => {
            let says = fluid.and_then(|said| said.strength.map(|strength| (said.kind, strength.0)));
            let share = says
                .is_none_or(|(kind, millionths)| kind == FluidKind::Coolant && (1..=100_000_000).contains(&millionths));
            at.demand(share, "item", || {
                format!("item '{item}' is no coolant and has a strength, or one that can't be")
            })?;
            tables.change::<ItemRow>(at, &(item.clone(),))?.fluid = *fluid;
            Ok(())
        }
        _ => Err(astray(at)),
    }
}

/// Whether a round can be: both its ends counted from the cut-off's midnight.
fn is_round(round: &Round) -> bool {
    let Round { weekdays, order_by_minute, here_minute, days_later } = round;
    let in_order = weekdays.windows(2).all(|pair| pair[0] < pair[1]);
    let named = weekdays.first().is_some_and(|first| *first >= 1) && weekdays.last().is_some_and(|last| *last <= 7);
    let of_a_day = [order_by_minute, here_minute].into_iter().all(|minute| (0..1_440).contains(minute));
    let arrives = i64::from(*days_later) * 1_440 + i64::from(*here_minute);
    in_order && named && of_a_day && (0..=14).contains(days_later) && arrives > i64::from(*order_by_minute)
}
