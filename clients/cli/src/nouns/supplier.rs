//! `leadhand supplier`.

use super::{PAGE, all_pages};
use crate::app::App;
use crate::failure::Outcome;
use crate::moment;
use crate::out::Table;
use crate::rounds;
use clap::Subcommand;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{ListSuppliersRequest, SetSupplierRequest, Supplier, SupplierOrder, SupplierRound};
use prost_types::Timestamp;

/// Within so many days after the cut-off a weekday says which day is meant.
const WEEKDAY_SAYS: i32 = 6;

/// Suppliers, and when to order from them.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// List a supplier with its delivery rounds, or say it anew; the last word holds
    Add {
        /// Its key, such as north-parts
        supplier: String,
        /// Its name: a firm's, not a person's
        name: String,
        /// A round: ordered on these days by a time, and when it arrives; once for each
        #[arg(long = "round", value_name = "ROUND", value_parser = rounds::parse,
            long_help = "A round: ordered on these days by a time, and when it arrives; once for each, such as \
                'mon-fri 10:30, here 14:00', 'mon-thu 17:00, here 8:00 next day' or 'fri 17:00, here mon 8:00'")]
        rounds: Vec<SupplierRound>,
    },
    /// Suppliers with their rounds, and when to order next
    List,
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Add { supplier, name, rounds } => {
            let told = match rounds.len() {
                0 => "without rounds".to_owned(),
                _ => rounds.iter().map(rounds::told).collect::<Vec<_>>().join("; "),
            };
            let said = format!("supplier {supplier} is listed: {name}, {told}");
            let listed = Some(Supplier { supplier, name, rounds });
            let request = SetSupplierRequest { write: app.write().await?, supplier: listed };
            let answer = app.client.set_supplier(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::List => list(app).await,
    }
}

async fn list(app: &App) -> Outcome {
    let request = ListSuppliersRequest { page_size: PAGE, ..Default::default() };
    let answer = all_pages!(app, list_suppliers, request, suppliers);
    if app.out.is_json() {
        return crate::out::json(&answer);
    }
    let zone = app.zone().await?;
    let mut table = Table::new("suppliers", &["supplier", "name", "rounds", "next order"])
        .when_empty("the shop has no supplier yet; 'leadhand supplier add KEY NAME --round ROUND' lists one");
    for line in &answer.suppliers {
        let supplier = line.supplier.clone().unwrap_or_default();
        let rounds: Vec<String> = supplier.rounds.iter().map(rounds::told).collect();
        let next = line.order.as_ref().map_or_else(String::new, |order| next(order, zone));
        table.row([supplier.supplier, supplier.name, rounds.join("; "), next]);
    }
    app.out.table(&table)
}

/// From whom to order and when, in words.
pub fn told(order: &SupplierOrder, zone: &TimeZone) -> String {
    match (order.order_by.is_some(), order.today) {
        (false, _) => format!("order from {}", order.name),
        (true, true) => format!("order from {} {}", order.name, next(order, zone)),
        (true, false) => format!("{}: {}", order.name, next(order, zone)),
    }
}

/// When to order, in words; empty for a supplier without rounds.
fn next(order: &SupplierOrder, zone: &TimeZone) -> String {
    let (Some(by), Some(here)) = (local(order.order_by.as_ref(), zone), local(order.here_at.as_ref(), zone)) else {
        return String::new();
    };
    let apart = (here.date() - by.date()).get_days();
    let arrives = match apart {
        0 if order.today => here.strftime("%H:%M"),
        0..=WEEKDAY_SAYS => here.strftime("%a %H:%M"),
        _ => here.strftime("%a %-d %b %H:%M"),
    };
    let by_clock = by.strftime("%H:%M");
    match (order.today, order.passed_today) {
        (true, _) => format!("by {by_clock}, {}, here {arrives}", left(order.minutes_left)),
        (false, true) => format!("today's cut-off passed; next order {}, here {arrives}", by.strftime("%a %H:%M")),
        (false, false) => format!("next order {}, here {arrives}", by.strftime("%a %H:%M")),
    }
}

fn left(minutes: i64) -> String {
    if minutes < 1 {
        return "in less than a minute".to_owned();
    }
    format!("in {}", moment::show_length(minutes.saturating_mul(60)))
}

fn local(at: Option<&Timestamp>, zone: &TimeZone) -> Option<jiff::civil::DateTime> {
    at.and_then(moment::from_wire).map(|at| zone.to_datetime(at))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn order(order_by: &str, here_at: &str) -> SupplierOrder {
        let at = |text: &str| Some(moment::to_wire(text.parse().unwrap()));
        let (order_by, here_at) = (at(order_by), at(here_at));
        SupplierOrder { name: "North Parts".into(), order_by, here_at, ..Default::default() }
    }

    /// 2026-05-04 was a Monday (ISO 8601 week date 2026-W19-1).
    #[test]
    fn when_to_order_is_said_in_one_sentence() {
        let told = |order: &SupplierOrder| told(order, &TimeZone::UTC);
        let monday = order("2026-05-04T10:30:00Z", "2026-05-04T14:00:00Z");
        let today = SupplierOrder { today: true, minutes_left: 25, ..monday.clone() };
        assert_eq!(told(&today), "order from North Parts by 10:30, in 25 min, here 14:00");
        let now = SupplierOrder { minutes_left: 0, ..today };
        assert_eq!(told(&now), "order from North Parts by 10:30, in less than a minute, here 14:00");
        let evening = order("2026-05-04T17:00:00Z", "2026-05-05T08:00:00Z");
        let evening = SupplierOrder { today: true, minutes_left: 125, ..evening };
        assert_eq!(told(&evening), "order from North Parts by 17:00, in 2 h 05 min, here Tue 08:00");
        let passed = SupplierOrder { passed_today: true, ..monday.clone() };
        assert_eq!(told(&passed), "North Parts: today's cut-off passed; next order Mon 10:30, here Mon 14:00");
        assert_eq!(told(&monday), "North Parts: next order Mon 10:30, here Mon 14:00");
        let far = order("2026-05-04T10:30:00Z", "2026-05-14T14:00:00Z");
        assert_eq!(told(&far), "North Parts: next order Mon 10:30, here Thu 14 May 14:00");
        let bare = SupplierOrder { name: "North Parts".into(), ..Default::default() };
        assert_eq!(told(&bare), "order from North Parts");
    }
}
