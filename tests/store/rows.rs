//! Rows go in and come out as they were, all columns of all tables.

use crate::samples::{first_rows, row, sample, samples, with};
use crate::shop::{Shop, shop};
use leadhand_domain::state::{AnyRow, RowChange};
use leadhand_facts::quantity::Unit;
use leadhand_facts::rows::TABLES;
use leadhand_facts::words::{
    BayKind, Cause, Decision, FluidKind, JobState, LeaveReason, MoveReason, PlaceKind, RemarkKind, Role, StageKind,
    StageState, StepState, Verdict,
};
use leadhand_store::Written;
use serde_json::{Value, json};

/// Tables whose rows never change once they are written.
const WRITTEN_ONCE: [&str; 3] = ["calendar", "template_revision", "stock_move"];

/// Source: the promise that every derived table equals what its facts add up to, cell by cell.
#[tokio::test]
async fn a_row_of_every_table_comes_back_as_it_went_in_and_as_it_was_changed() {
    let shop = shop().await;
    let samples = samples();
    let mut sampled: Vec<_> = samples.iter().map(|(table, ..)| *table).collect();
    sampled.sort_unstable();
    let mut tables = TABLES.to_vec();
    tables.sort_unstable();
    assert_eq!(sampled, tables, "every table has a sample");

    shop.put(&first_rows()).await.unwrap();
    for (table, first, _) in &samples {
        assert_eq!(shop.rows(table).await, [row(table, first)]);
    }

    let changed: Vec<(&str, AnyRow)> = samples
        .iter()
        .filter(|(table, ..)| !WRITTEN_ONCE.contains(table))
        .map(|(table, first, change)| (*table, row(table, &with(first, change))))
        .collect();
    shop.put(&changed.iter().map(|(_, row)| row.clone()).collect::<Vec<_>>()).await.unwrap();
    for (table, row) in changed {
        assert_eq!(shop.rows(table).await, [row]);
    }
}

/// A sample that leaves a column alone would not notice that it is never updated.
#[test]
fn the_samples_change_every_column_outside_of_the_key() {
    for (table, first, change) in samples().iter().filter(|(table, ..)| !WRITTEN_ONCE.contains(table)) {
        let key_columns = match *table {
            "shop" | "plan" => 0,
            "shift_window" | "proof" | "blocker" | "stage" | "strip_position" | "reading" | "job_remark"
            | "job_told" | "asked_correction" | "plan_stage" | "plan_visit" | "stage_pin" | "overtime_window"
            | "vehicle_state" | "fluid" | "hold" => 2,
            "stage_after" | "step" | "strip_attempt" | "own_way" | "balance" => 3,
            "demand" => 4,
            _ => 1,
        };
        let columns = first.as_object().unwrap();
        let changed = change.as_object().unwrap();
        assert_eq!(columns.len() - key_columns, changed.len(), "columns of '{table}'");
        for (column, value) in changed {
            assert_ne!(&columns[column], value, "column '{column}' of '{table}'");
        }
    }
}

#[tokio::test]
async fn a_row_written_once_cannot_be_written_again() {
    let shop = shop().await;
    shop.put(&first_rows()).await.unwrap();
    for table in WRITTEN_ONCE {
        let refused = shop.put(&[row(table, &sample(table))]).await.unwrap_err();
        assert!(refused.to_string().contains(&format!("{table}_pkey")), "{refused}");
    }
}

#[tokio::test]
async fn only_windows_and_what_was_planned_can_be_removed() {
    let shop = shop().await;
    shop.put(&first_rows()).await.unwrap();
    let (open, shift) = (sample("open_window"), sample("shift_window"));
    let changes = [
        RowChange::Removed { table: "open_window", key: json!([open["from_at"]]) },
        RowChange::Removed { table: "shift_window", key: json!([shift["person"], shift["from_at"]]) },
    ];
    shop.write(&Written { changes: &changes, ..Written::default() }).await.unwrap();
    assert_eq!(shop.rows("open_window").await, []);
    assert_eq!(shop.rows("shift_window").await, []);

    let planned = [
        RowChange::Removed { table: "plan_stage", key: json!([7, "strip"]) },
        RowChange::Removed { table: "plan_visit", key: json!([7, sample("plan_visit")["from_at"]]) },
        RowChange::Removed { table: "plan_job", key: json!([7]) },
        RowChange::Removed { table: "stage_pin", key: json!([7, "strip"]) },
        RowChange::Removed {
            table: "overtime_window",
            key: json!([shift["person"], sample("overtime_window")["from_at"]]),
        },
    ];
    shop.write(&Written { changes: &planned, ..Written::default() }).await.unwrap();
    for table in ["plan_stage", "plan_visit", "plan_job", "stage_pin", "overtime_window"] {
        assert_eq!(shop.rows(table).await, [], "{table}");
    }

    let bay = [RowChange::Removed { table: "bay", key: json!(["lift-1"]) }];
    let refused = shop.write(&Written { changes: &bay, ..Written::default() }).await;
    assert!(refused.is_err(), "a bay can't be removed");
    assert_eq!(shop.rows("bay").await.len(), 1);
}

/// Hours that shift within a day: each order of writing but the right one would overlap half-way.
#[tokio::test]
async fn windows_that_push_each_other_are_written_in_an_order_that_never_overlaps() {
    let shop = shop().await;
    let window = |from: &str, until: &str| {
        let columns = json!({"from_at": crate::samples::at(from), "until_at": crate::samples::at(until), "set_n": 1});
        row("open_window", &columns)
    };
    shop.put(&[window("08:00", "17:00")]).await.unwrap();
    shop.put(&[window("12:00", "17:00"), window("08:00", "11:00")]).await.unwrap();
    let gone = RowChange::Removed { table: "open_window", key: json!([crate::samples::at("12:00")]) };
    let changes = [RowChange::Put(window("08:00", "13:00")), gone, RowChange::Put(window("13:00", "17:00"))];
    shop.write(&Written { changes: &changes, ..Written::default() }).await.unwrap();
    assert_eq!(shop.rows("open_window").await.len(), 2);
}

/// The words of facts' vocabularies and the CHECKs of the tables are written down twice.
#[tokio::test]
async fn every_word_of_every_vocabulary_can_be_stored() {
    let shop = shop().await;
    each(&shop, "bay", "kind", BayKind::ALL.iter().map(|word| json!({"kind": word}))).await;
    each(&shop, "token", "role", Role::ALL.iter().map(|word| json!({"role": word}))).await;
    each(&shop, "item", "unit", Unit::ALL.iter().map(|word| json!({"unit": word}))).await;
    each(&shop, "item", "fluid", FluidKind::ALL.iter().map(|word| json!({"fluid": {"kind": word}}))).await;
    each(&shop, "blocker", "cause", Cause::ALL.iter().map(|word| json!({"cause": word}))).await;
    each(&shop, "stage", "kind", StageKind::ALL.iter().map(|word| json!({"kind": word}))).await;
    let places = PlaceKind::ALL.iter().map(|word| json!({"kind": word, "job": (*word == PlaceKind::Job).then_some(7)}));
    each(&shop, "place", "kind", places).await;
    let moves = (100..).zip(MoveReason::ALL).map(|(n, word)| json!({"n": n, "why": word}));
    each(&shop, "stock_move", "why", moves).await;
    let leaves = LeaveReason::ALL
        .iter()
        .map(|word| json!({"why_left": word, "until_n": 30, "until_at": crate::samples::at("12:00")}));
    each(&shop, "stay", "why_left", leaves).await;
    let (noon, id) = (crate::samples::at("12:00"), crate::samples::id(40));
    let jobs = JobState::ALL.iter().map(|word| {
        json!({"state": word, "closed_at": (*word != JobState::Open).then_some(&noon),
            "reason": (*word == JobState::Cancelled).then_some(&id)})
    });
    each(&shop, "job", "state", jobs).await;
    let stages = StageState::ALL.iter().map(|word| {
        let (begun, over) = (*word != StageState::Pending, matches!(word, StageState::Finished | StageState::Skipped));
        json!({"state": word, "started_at": begun.then_some(&noon), "started_n": begun.then_some(1),
            "ended_at": over.then_some(&noon), "ended_n": over.then_some(1),
            "reason": (*word == StageState::Skipped).then_some(&id)})
    });
    each(&shop, "stage", "state", stages).await;
    let steps = StepState::ALL.iter().map(|word| {
        let over = *word != StepState::Pending;
        json!({"state": word, "done_at": over.then_some(&noon), "done_n": over.then_some(1),
            "reason": (*word == StepState::Skipped).then_some(&id)})
    });
    each(&shop, "step", "state", steps).await;
    let verdicts = Verdict::ALL.iter().map(|word| {
        let off = if *word == Verdict::Out { json!([{"high": 0}]) } else { json!([]) };
        json!({"verdict": word, "taken_at": noon, "taken_n": 9, "figures": [1], "off_limits": off})
    });
    each(&shop, "reading", "verdict", verdicts).await;
    let decisions = Decision::ALL.iter().map(|word| {
        json!({"verdict": "out-of-limits", "taken_at": noon, "taken_n": 9, "figures": [1], "off_limits": ["spread"],
            "decision": word, "decided_at": noon, "decided_by": id, "decided_n": 10, "decided_reason": id})
    });
    each(&shop, "reading", "decision", decisions).await;
    each(&shop, "job_remark", "what", RemarkKind::ALL.iter().map(|word| json!({"what": word}))).await;
}

async fn each(shop: &Shop, table: &str, column: &str, changes: impl Iterator<Item = Value>) {
    let mut stored = 0;
    for change in changes {
        let wanted = row(table, &with(&sample(table), &change));
        if let Err(error) = shop.put(std::slice::from_ref(&wanted)).await {
            panic!("{table}.{column} {}: {error}", change[column]);
        }
        assert!(shop.rows(table).await.contains(&wanted));
        stored += 1;
    }
    assert!(stored > 1, "{table}.{column} has words");
}
