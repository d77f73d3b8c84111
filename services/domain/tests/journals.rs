//! Journals of version 1, kept as they were written: they must be read, folded and accepted for
//! ever. `v1_day.jsonl` is the demo's day as the server wrote it; `v1_rest.jsonl` holds the kinds
//! that this day does not have, `v1_doors.jsonl` those about who comes in, and `v1_mistakes.jsonl` those
//! that take something back, and `v1_customers.jsonl` those about customers and the later corrections, as the rules made them.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;
#[path = "journals/writers.rs"]
mod writers;

use leadhand_auditor::compare::written;
use leadhand_auditor::{Books, Comparing, check_books, check_journal, compare};
use leadhand_domain::answer::Made;
use leadhand_domain::apply::apply;
use leadhand_domain::command::*;
use leadhand_domain::state::{RowChange, State};
use leadhand_facts::fact::JobAfter;
use leadhand_facts::reading::ReadingDetail;
use leadhand_facts::safety::StepSafety;
use leadhand_facts::template::Minutes;
use leadhand_facts::upcast::{self, KINDS};
use leadhand_facts::words::{
    BayKind, Decision, Manner, Outcome, ProofKind, ReadingKind, ReadingUnit, RemarkKind, Role, StageKind, Tightness,
};
use leadhand_facts::*;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use stock_kit::Shop;

const DAY: &str = include_str!("journals/v1_day.jsonl");
const REST: &str = include_str!("journals/v1_rest.jsonl");
const DOORS: &str = include_str!("journals/v1_doors.jsonl");
const CUSTOMERS: &str = include_str!("journals/v1_customers.jsonl");
const STRIP: &str = include_str!("journals/v2_strip.jsonl");
const RECOUNT: &str = include_str!("journals/v2_recount.jsonl");
const READINGS: &str = include_str!("journals/v2_readings.jsonl");
const SEIZED: &str = include_str!("journals/v2_seized.jsonl");
const TOOLS: &str = include_str!("journals/v1_tools.jsonl");
const CONDITION: &str = include_str!("journals/v2_condition.jsonl");
const FILL: &str = include_str!("journals/v2_fill.jsonl");
const FLUIDS: &str = include_str!("journals/v2_fluids.jsonl");
const SUPPLIERS: &str = include_str!("journals/v1_suppliers.jsonl");
const ASKED: &str = include_str!("journals/v1_asked.jsonl");
const PLAN: &str = include_str!("journals/v1_plan.jsonl");
const YARD: &str = include_str!("journals/v1_yard.jsonl");
const MISTAKES: &str = include_str!("journals/v1_mistakes.jsonl");

fn entry(line: &str) -> Entry {
    let mut value: Value = serde_json::from_str(line).unwrap();
    let mut field = |name: &str| value[name].take();
    let kind = serde_json::from_value(field("kind")).unwrap();
    let version = serde_json::from_value(field("version")).unwrap();
    let fact = upcast::read(Stored { kind, version, body: field("body") }).unwrap();
    let Value::Object(fact) = serde_json::to_value(fact).unwrap() else { panic!("a fact is an object") };
    let mut whole = value.as_object().unwrap().clone();
    whole.extend(fact);
    serde_json::from_value(Value::Object(whole)).unwrap()
}

fn entries(journal: &str) -> Vec<Entry> {
    journal.lines().map(entry).collect()
}

#[test]
fn journals_of_version_1_are_accepted_by_both_folds() {
    for (journal, facts) in [
        (DAY, 710),
        (REST, REST.lines().count()),
        (DOORS, 12),
        (MISTAKES, MISTAKES.lines().count()),
        (CUSTOMERS, CUSTOMERS.lines().count()),
        (STRIP, STRIP.lines().count()),
        (RECOUNT, RECOUNT.lines().count()),
        (READINGS, READINGS.lines().count()),
        (SEIZED, SEIZED.lines().count()),
        (TOOLS, TOOLS.lines().count()),
        (CONDITION, CONDITION.lines().count()),
        (FILL, FILL.lines().count()),
        (FLUIDS, FLUIDS.lines().count()),
        (SUPPLIERS, SUPPLIERS.lines().count()),
        (ASKED, ASKED.lines().count()),
        (PLAN, PLAN.lines().count()),
        (YARD, YARD.lines().count()),
    ] {
        let entries = entries(journal);
        assert_eq!(entries.len(), facts);
        assert_eq!(check_journal(&entries), vec![]);
        let books = Books::of(&entries).unwrap();
        assert_eq!(check_books(&books).iter().map(ToString::to_string).collect::<Vec<_>>(), Vec::<String>::new());
        let mut state = State::at(0);
        for entry in &entries {
            apply(&mut state, entry).unwrap();
        }
        let mut rows: BTreeMap<String, Vec<Value>> =
            written(books.tables()).into_keys().map(|table| (table, vec![])).collect();
        for change in state.take_changes() {
            if let RowChange::Put(row) = change {
                rows.get_mut(row.table()).unwrap().push(row.to_value().unwrap());
            }
        }
        let differences = compare(&books, &rows);
        assert!(differences.is_empty(), "{differences:#?}");
        // The same with the steps of jobs that are over packed at once, and unpacked by whatever touches them again.
        let mut thrifty = Books::packing_after(0);
        for entry in &entries {
            thrifty.take(entry).unwrap();
        }
        assert_eq!(check_books(&thrifty), vec![]);
        let mut comparing = Comparing::of(thrifty.into_tables());
        for (table, rows) in &rows {
            for row in rows {
                comparing.row(table, row);
            }
            comparing.table_over(table);
        }
        assert_eq!(comparing.end(), vec![]);
    }
}

#[test]
fn every_kind_occurs_in_them() {
    let found: BTreeSet<String> = [
        DAY, REST, DOORS, MISTAKES, CUSTOMERS, STRIP, RECOUNT, READINGS, SEIZED, TOOLS, CONDITION, FILL, FLUIDS,
        SUPPLIERS, ASKED, PLAN, YARD,
    ]
    .iter()
    .flat_map(|journal| journal.lines())
    .map(|line| serde_json::from_str::<Value>(line).unwrap()["kind"].as_str().unwrap().to_owned())
    .collect();
    let missing: Vec<&str> = KINDS.into_iter().filter(|kind| !found.contains(*kind)).collect();
    assert!(missing.is_empty(), "no example of {missing:?}");
}

#[test]
fn a_kind_or_version_from_the_future_is_said_to_be_unknown() {
    let unknown = upcast::read(Stored { kind: "moon_phase".into(), version: 1, body: json!({}) }).unwrap_err();
    assert!(unknown.to_string().contains("upgrade"), "{unknown}");
    let newer =
        upcast::read(Stored { kind: "job_completed".into(), version: 3, body: json!({ "job": 1 }) }).unwrap_err();
    assert!(newer.to_string().contains("upgrade"), "{newer}");
}
