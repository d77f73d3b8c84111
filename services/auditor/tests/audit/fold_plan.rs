//! Plans, pins and overtime: what each fact makes of the rows, which facts can't be, and the law with rows that break it.

use crate::kit::{JOB, Journal, OTHER, PERSON, all, minute, refused, strip, text};
use crate::laws::{any, broken, broken_by};
use leadhand_facts::plan::{BayVisit, HangsOn, PlannedJob, PlannedStage};
use leadhand_facts::rows::{OvertimeRow, PlanJobRow, PlanRow, PlanStageRow, PlanVisitRow, StagePinRow};
use leadhand_facts::{Fact, JobNo, PersonId, StageKey};

fn planned(stage: StageKey, from: i64, until: i64) -> PlannedStage {
    let (bay, people, tools) = (Some("b1".into()), vec![PERSON], vec![]);
    PlannedStage { job: JOB, stage, bay, people, tools, from: minute(from), until: minute(until) }
}

fn accepted(made_n: i64, stages: Vec<PlannedStage>) -> Fact {
    let visits = vec![BayVisit { job: JOB, bay: "b1".into(), from: minute(5), until: minute(90) }];
    let jobs = vec![PlannedJob {
        job: JOB,
        ready: Some(minute(90)),
        likely: None,
        safe: None,
        nowhere: vec![],
        hangs_on: vec![],
    }];
    Fact::PlanAccepted { made_n, made_at: minute(1), stages, visits, jobs }
}

fn hangs(stages: &[&str]) -> Fact {
    let Fact::PlanAccepted { made_n, made_at, visits, mut jobs, .. } = accepted(2, vec![]) else { unreachable!() };
    jobs[0].hangs_on = stages.iter().map(|stage| HangsOn { job: JOB, stage: (*stage).into() }).collect();
    Fact::PlanAccepted { made_n, made_at, stages: vec![], visits, jobs }
}

fn overtime(from: i64, until: i64) -> Fact {
    Fact::OvertimeOpened { person: PERSON, from_at: minute(from), until_at: minute(until) }
}

fn closed(from: i64) -> Fact {
    Fact::OvertimeClosed { person: PERSON, from_at: minute(from) }
}

fn pinned(people: Vec<PersonId>) -> Fact {
    Fact::StagePinned { job: JOB, stage: strip(), bay: None, people, from_at: None }
}

/// A journal with a job, and then these, a minute apart.
fn after(facts: Vec<Fact>) -> Journal {
    let mut journal = Journal::working();
    for (minutes, fact) in (1..).zip(facts) {
        journal.at(minutes, fact);
    }
    journal
}

#[test]
fn a_plan_takes_the_place_of_the_one_before_and_goes_with_its_job() {
    let two = vec![planned(strip(), 5, 30), planned("refit".into(), 30, 90)];
    let journal =
        || after(vec![accepted(2, two.clone()), pinned(vec![PERSON]), accepted(3, vec![planned(strip(), 6, 31)])]);
    let books = journal().books();
    let stages: Vec<PlanStageRow> = all(&books);
    assert_eq!((stages.len(), stages[0].from_at), (1, minute(6)));
    let plans: Vec<PlanRow> = all(&books);
    assert_eq!((plans.len(), plans[0].made_n, plans[0].accepted_at), (1, 3, minute(3)));
    let mut journal = journal();
    journal.at(9, Fact::JobCancelled { job: JOB, reason: text(90), apart: false });
    let books = journal.books();
    assert_eq!(all::<PlanStageRow>(&books), []);
    assert_eq!(all::<PlanVisitRow>(&books), []);
    assert_eq!(all::<PlanJobRow>(&books), []);
    assert_eq!(all::<StagePinRow>(&books), []);
    assert_eq!(all::<PlanRow>(&books).len(), 1);
}

#[test]
fn overtime_ends_when_it_is_closed_or_goes() {
    let books = after(vec![overtime(2, 60), overtime(60, 90), closed(60), closed(2)]).books();
    let row = OvertimeRow {
        person: PERSON,
        from_at: minute(2),
        until_at: minute(4),
        opened_n: all::<OvertimeRow>(&books)[0].opened_n,
    };
    assert_eq!(all::<OvertimeRow>(&books), [row]);
}

#[test]
fn what_can_t_be_planned_is_refused() {
    let none = || after(vec![]);
    let of = |row: PlannedStage| accepted(2, vec![row]);
    refused(none, 1, of(planned("nowhere".into(), 5, 30)), "stage", "unknown");
    refused(none, 1, of(planned(strip(), 30, 5)), "plan_stage", "ends before it begins");
    refused(none, 1, of(PlannedStage { job: JobNo(9), ..planned(strip(), 5, 30) }), "job", "unknown");
    refused(none, 1, of(PlannedStage { bay: Some("b9".into()), ..planned(strip(), 5, 30) }), "bay", "unknown");
    let twice = vec![planned(strip(), 5, 30), planned(strip(), 40, 50)];
    refused(none, 1, accepted(2, twice), "plan_stage", "there already");
    refused(none, 1, accepted(0, vec![]), "plan", "not before");
    refused(none, 1, accepted(99, vec![]), "plan", "not before");
    refused(none, 0, accepted(2, vec![]), "plan", "not before");
    refused(none, 1, hangs(&["paint"]), "stage", "unknown");
    refused(none, 1, hangs(&["strip", "strip"]), "plan_job", "hangs twice");
    refused(none, 1, pinned(vec![]), "stage_pin", "nothing is pinned");
    refused(none, 1, Fact::StageUnpinned { job: JOB, stage: strip() }, "stage_pin", "unknown");
    refused(none, 1, overtime(9, 9), "overtime_window", "empty");
    refused(|| after(vec![overtime(5, 9)]), 2, overtime(8, 12), "overtime_window", "meets another");
    refused(none, 1, closed(5), "overtime_window", "unknown");
    refused(|| after(vec![overtime(5, 9)]), 10, closed(5), "overtime_window", "over already");
    let over = || after(vec![Fact::JobCancelled { job: JOB, reason: text(90), apart: false }]);
    refused(over, 2, accepted(2, vec![]), "plan", "is not planned");
}

#[test]
fn nothing_planned_is_in_two_places() {
    let other = |minutes: (i64, i64), people: Vec<PersonId>| PlanStageRow {
        job: JOB,
        stage: "refit".into(),
        bay: None,
        people,
        from_at: minute(minutes.0),
        until_at: minute(minutes.1),
    };
    let with = |row: PlanStageRow| broken(|books| drop(books.tables_mut().put(row.clone())));
    assert_eq!(with(other((45, 50), vec![PERSON])), Vec::<&str>::new());
    assert_eq!(with(other((44, 50), vec![OTHER])), Vec::<&str>::new());
    assert_eq!(with(other((44, 50), vec![PERSON])), ["plan"]);
    let visit = |job, bay: &str, from, until| PlanVisitRow {
        job,
        from_at: minute(from),
        bay: bay.into(),
        until_at: minute(until),
    };
    let stay = |row: PlanVisitRow| broken(|books| drop(books.tables_mut().put(row.clone())));
    assert_eq!(stay(visit(JOB, "b2", 60, 70)), Vec::<&str>::new());
    assert_eq!(stay(visit(JOB, "b2", 59, 70)), ["plan"], "a vehicle in two bays");
    assert_eq!(broken_by(any::<PlanJobRow>, |row| row.job = JobNo(2)), ["plan"], "job 2 is over");
    assert_eq!(broken_by(any::<StagePinRow>, |row| row.job = JobNo(2)), ["plan"]);
}
