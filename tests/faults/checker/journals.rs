//! Journals are dense, and every log is a slice of one.

use super::Violation;
use crate::history::{History, Known, Log, ShopNo};
use std::collections::{BTreeMap, BTreeSet};

pub fn check(history: &History) -> Vec<Violation> {
    let mut found = Vec::new();
    for (shop, journal) in history.journals.iter().enumerate() {
        check_journal(shop, journal, &mut found);
    }
    for log in &history.logs {
        let journal = history.journals.get(log.shop).map_or(&[][..], Vec::as_slice);
        check_log(log, journal, &mut found);
    }
    found
}

fn check_journal(shop: ShopNo, journal: &[Known], found: &mut Vec<Violation>) {
    let mut ids = BTreeSet::new();
    let mut after = 0;
    for fact in journal {
        if fact.number != after + 1 {
            found.push(Violation::JournalGap { shop, after, found: fact.number });
        }
        if !ids.insert(fact.fact_id) {
            found.push(Violation::FactIdTwice { shop, number: fact.number });
        }
        after = fact.number;
    }
}

fn check_log(log: &Log, journal: &[Known], found: &mut Vec<Violation>) {
    let subscriber = &log.subscriber;
    let by_number: BTreeMap<i64, &Known> = journal.iter().map(|fact| (fact.number, fact)).collect();
    let mut after = log.after;
    for fact in &log.facts {
        if fact.number != after + 1 {
            found.push(Violation::LogGap { subscriber: subscriber.clone(), after, found: fact.number });
        }
        if by_number.get(&fact.number) != Some(&fact) {
            found.push(Violation::LogDiffers { subscriber: subscriber.clone(), number: fact.number });
        }
        after = fact.number;
    }
    if after < log.wanted || log.broken.is_some() {
        let why = log.broken.clone().unwrap_or_else(|| "nothing more came".to_owned());
        found.push(Violation::LogStopped { subscriber: subscriber.clone(), at: after, wanted: log.wanted, why });
    }
}
