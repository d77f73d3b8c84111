//! What the sample journal has of suppliers, of what was told, and of corrections that were asked for.

use crate::kit::{JOB, Journal, PERSON, gasket, minute, strip, text};
use leadhand_facts::fact::WantedTime;
use leadhand_facts::supplier::Round;
use leadhand_facts::words::FluidKind;
use leadhand_facts::{AskNo, ClockingId, Fact, ItemFluid, Measure, SupplierKey, ToldNo};

/// A correction of the last entry that a lead declined, and one that waits.
pub fn asked(journal: &mut Journal, clocking: ClockingId, entry: i64) {
    let (job, person) = (JOB, PERSON);
    let until_at = Some(minute(12));
    let wanted = Some(WantedTime { job, stage: strip(), from_at: minute(10), until_at });
    let ask = |ask, wanted, reason| Fact::CorrectionAsked { job, ask, clocking, entry, person, wanted, reason };
    journal.at(22, ask(AskNo(1), None, text(113)));
    let (by, reason) = (Some(PERSON), text(114));
    journal.at(22, Fact::CorrectionDecided { job, ask: AskNo(1), by, taken: false, reason });
    journal.at(22, ask(AskNo(2), wanted, text(115)));
}

/// A supplier of the gaskets; what the customer's brother was told, and once wrongly.
pub fn suppliers_and_told(journal: &mut Journal) {
    let round = Round { weekdays: vec![1, 2], order_by_minute: 630, here_minute: 840, days_later: 0 };
    let (supplier, name) = (SupplierKey::from("north"), "North Parts".to_owned());
    journal.at(23, Fact::SupplierSet { supplier: supplier.clone(), name, rounds: vec![round] });
    journal.at(23, Fact::ItemSupplierSet { item: gasket(), supplier: Some(supplier) });
    let fluid = Some(ItemFluid { kind: FluidKind::Coolant, strength: Some(Measure::whole(50)) });
    journal.at(23, Fact::ItemFluidSet { item: gasket(), fluid });
    let (job, told, person, customer) = (JOB, ToldNo(1), Some(PERSON), None);
    let (whom, words, promised_at) = (Some(text(107)), text(108), Some(minute(90)));
    journal.at(23, Fact::SomebodyTold { job, told, person, customer, whom, words, promised_at });
    journal.at(23, Fact::ToldWithdrawn { job, told, reason: text(109) });
}
