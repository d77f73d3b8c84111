//! Suppliers, and when to order from them.

use super::fields;
use super::time::timestamp;
use leadhand_app::AppError;
use leadhand_domain::command::SetSupplier;
use leadhand_domain::supplier::Order;
use leadhand_facts::rows::SupplierRow;
use leadhand_facts::supplier::Round;
use leadhand_proto::v1;

/// A supplier as it is to be kept.
pub fn read(said: Option<v1::Supplier>) -> Result<SetSupplier, AppError> {
    let said = said.unwrap_or_default();
    fields::bounded("supplier.rounds", &said.rounds)?;
    for (at, round) in said.rounds.iter().enumerate() {
        fields::bounded(&format!("supplier.rounds[{at}].weekdays"), &round.weekdays)?;
    }
    let supplier = fields::key("supplier.supplier", &said.supplier)?;
    Ok(SetSupplier { supplier, name: said.name, rounds: said.rounds.into_iter().map(read_round).collect() })
}

fn read_round(said: v1::SupplierRound) -> Round {
    let v1::SupplierRound { weekdays, order_by_minute, here_minute, days_later } = said;
    Round { weekdays, order_by_minute, here_minute, days_later }
}

/// A supplier in a list.
pub fn line(row: &SupplierRow, next: Option<&Order>) -> v1::SupplierLine {
    let rounds = row.rounds.iter().map(|round| v1::SupplierRound {
        weekdays: round.weekdays.clone(),
        order_by_minute: round.order_by_minute,
        here_minute: round.here_minute,
        days_later: round.days_later,
    });
    let supplier =
        v1::Supplier { supplier: row.supplier.to_string(), name: row.name.clone(), rounds: rounds.collect() };
    v1::SupplierLine { supplier: Some(supplier), order: next.map(order) }
}

/// From whom to order, and when.
pub fn order(order: &Order) -> v1::SupplierOrder {
    let next = order.next.as_ref();
    v1::SupplierOrder {
        supplier: order.supplier.to_string(),
        name: order.name.clone(),
        order_by: next.map(|next| timestamp(next.order_by)),
        here_at: next.map(|next| timestamp(next.here_at)),
        today: next.is_some_and(|next| next.today),
        passed_today: next.is_some_and(|next| next.passed_today),
        minutes_left: next.map_or(0, |next| next.minutes_left),
    }
}
