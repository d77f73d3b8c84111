//! The accepted plan: nothing in it is in two places.

use super::Found;
use crate::tables::Tables;
use leadhand_facts::rows::{JobRow, PlanJobRow, PlanStageRow, PlanVisitRow, StagePinRow};
use leadhand_facts::words::JobState;
use leadhand_facts::{JobNo, Window};

pub(super) fn check(tables: &Tables, found: &mut Found) {
    let open = |job: JobNo| tables.get::<JobRow>(&(job,)).is_some_and(|row| row.state == JobState::Open);
    let closed = || "its job is over or unknown".to_owned();
    for row in tables.rows::<PlanStageRow>() {
        found.law("plan", row, open(row.job), closed);
        let here = Window { from: row.from_at, until: row.until_at };
        let same = |other: &&PlanStageRow| (other.job, &other.stage) != (row.job, &row.stage);
        let meets = |other: &&PlanStageRow| Window { from: other.from_at, until: other.until_at }.meets(here);
        let shared = |other: &PlanStageRow| other.people.iter().any(|person| row.people.contains(person));
        let twice = here.length_us() > 0 && tables.rows::<PlanStageRow>().filter(same).filter(meets).any(shared);
        found.law("plan", row, !twice, || "somebody is at another stage at the same time".to_owned());
    }
    for row in tables.rows::<PlanVisitRow>() {
        found.law("plan", row, open(row.job), closed);
        let here = Window { from: row.from_at, until: row.until_at };
        let same = |other: &&PlanVisitRow| (other.job, other.from_at) != (row.job, row.from_at);
        let meets = |other: &&PlanVisitRow| Window { from: other.from_at, until: other.until_at }.meets(here);
        let clash = |other: &PlanVisitRow| other.bay == row.bay || other.job == row.job;
        let twice = tables.rows::<PlanVisitRow>().filter(same).filter(meets).any(clash);
        found.law("plan", row, !twice, || "its bay or its vehicle is planned elsewhere at the same time".to_owned());
    }
    for row in tables.rows::<PlanJobRow>() {
        found.law("plan", row, open(row.job), closed);
    }
    for row in tables.rows::<StagePinRow>() {
        found.law("plan", row, open(row.job), closed);
    }
}
