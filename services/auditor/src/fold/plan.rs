//! The accepted plan, pins and overtime.

use super::astray;
use crate::fault::{At, Fault};
use crate::tables::{Kept, Tables};
use leadhand_facts::plan::{BayVisit, PlannedJob, PlannedStage};
use leadhand_facts::rows::{
    BayRow, JobRow, OvertimeRow, PersonRow, PlanJobRow, PlanRow, PlanStageRow, PlanVisitRow, Row, StagePinRow, StageRow,
};
use leadhand_facts::words::{JobState, StageState};
use leadhand_facts::{BayKey, Fact, JobNo, PersonId, StageKey, Window};

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::PlanAccepted { made_n, made_at, stages, visits, jobs } => {
            let made = 0 < *made_n && *made_n < at.n && *made_at <= at.happened;
            at.demand(made, "plan", || format!("it was made at number {made_n}, {made_at}, which was not before"))?;
            remove::<PlanStageRow>(tables, |_| true);
            remove::<PlanVisitRow>(tables, |_| true);
            remove::<PlanJobRow>(tables, |_| true);
            tables.put(PlanRow { accepted_n: at.n, accepted_at: at.happened, made_at: *made_at, made_n: *made_n });
            stages.iter().try_for_each(|row| planned(tables, at, row))?;
            visits.iter().try_for_each(|row| visit(tables, at, row))?;
            jobs.iter().try_for_each(|row| ready(tables, at, row))
        }
        Fact::StagePinned { job, stage, bay, people, from_at } => {
            going_on(tables, at, *job, stage)?;
            in_bay(tables, at, bay.as_ref())?;
            persons(tables, at, people)?;
            let says = bay.is_some() || from_at.is_some() || !people.is_empty();
            at.demand(says, "stage_pin", || format!("nothing is pinned of stage '{stage}' of job {job}"))?;
            let (bay, people) = (bay.clone(), people.clone());
            tables.put(StagePinRow { pinned_n: at.n, from_at: *from_at, bay, people, stage: stage.clone(), job: *job });
            Ok(())
        }
        Fact::StageUnpinned { job, stage } => {
            let key = (*job, stage.clone());
            tables.known::<StagePinRow>(at, &key)?;
            tables.remove::<StagePinRow>(&key);
            Ok(())
        }
        Fact::OvertimeOpened { person, from_at, until_at } => {
            persons(tables, at, &[*person])?;
            let window = Window { from: *from_at, until: *until_at };
            let apart = |row: &OvertimeRow| !Window { from: row.from_at, until: row.until_at }.meets(window);
            let alone = tables.rows::<OvertimeRow>().filter(|row| row.person == *person).all(apart);
            at.demand(from_at < until_at && alone, "overtime_window", || "it is empty, or meets another".to_owned())?;
            tables.add(at, OvertimeRow { opened_n: at.n, until_at: *until_at, from_at: *from_at, person: *person })
        }
        Fact::OvertimeClosed { person, from_at } => {
            let row = tables.change::<OvertimeRow>(at, &(*person, *from_at))?;
            at.demand(row.until_at > at.happened, "overtime_window", || "it was over already".to_owned())?;
            if *from_at < at.happened {
                row.until_at = at.happened;
            } else {
                tables.remove::<OvertimeRow>(&(*person, *from_at));
            }
            Ok(())
        }
        _ => Err(astray(at)),
    }
}

/// Nothing is planned or pinned of a job that is over.
pub(super) fn leave(tables: &mut Tables, job: JobNo) {
    remove::<PlanStageRow>(tables, |row| row.job == job);
    remove::<PlanVisitRow>(tables, |row| row.job == job);
    remove::<PlanJobRow>(tables, |row| row.job == job);
    remove::<StagePinRow>(tables, |row| row.job == job);
}

fn remove<R: Kept>(tables: &mut Tables, gone: impl Fn(&R) -> bool) {
    let keys: Vec<R::Key> = tables.rows::<R>().filter(|row| gone(row)).map(Row::key).collect();
    for key in keys {
        tables.remove::<R>(&key);
    }
}

fn planned(tables: &mut Tables, at: At, row: &PlannedStage) -> Result<(), Fault> {
    going_on(tables, at, row.job, &row.stage)?;
    in_bay(tables, at, row.bay.as_ref())?;
    persons(tables, at, &row.people)?;
    at.demand(row.from <= row.until, "plan_stage", || format!("stage '{}' ends before it begins", row.stage))?;
    let (stage, bay, people) = (row.stage.clone(), row.bay.clone(), row.people.clone());
    tables.add(at, PlanStageRow { from_at: row.from, until_at: row.until, job: row.job, stage, bay, people })
}

fn visit(tables: &mut Tables, at: At, row: &BayVisit) -> Result<(), Fault> {
    open(tables, at, row.job)?;
    in_bay(tables, at, Some(&row.bay))?;
    at.demand(row.from <= row.until, "plan_visit", || format!("job {} leaves before it comes", row.job))?;
    tables.add(at, PlanVisitRow { job: row.job, from_at: row.from, until_at: row.until, bay: row.bay.clone() })
}

fn ready(tables: &mut Tables, at: At, row: &PlannedJob) -> Result<(), Fault> {
    open(tables, at, row.job)?;
    for one in &row.nowhere {
        going_on(tables, at, row.job, &one.stage)?;
        let planned = tables.get::<PlanStageRow>(&(row.job, one.stage.clone())).is_some();
        at.demand(!planned, "plan_job", || format!("stage '{}' of job {} has a place and none", one.stage, row.job))?;
    }
    at.demand(row.ready.is_none() || row.nowhere.is_empty(), "plan_job", || {
        format!("job {} is ready, and a stage of it has no place", row.job)
    })?;
    for (k, one) in row.hangs_on.iter().enumerate() {
        going_on(tables, at, one.job, &one.stage)?;
        at.demand(!row.hangs_on[..k].contains(one), "plan_job", || {
            format!("job {} hangs twice on stage '{}' of job {}", row.job, one.stage, one.job)
        })?;
    }
    tables.add(
        at,
        PlanJobRow {
            job: row.job,
            ready_at: row.ready,
            likely_at: row.likely,
            safe_at: row.safe,
            nowhere: row.nowhere.clone(),
            hangs_on: row.hangs_on.clone(),
        },
    )
}

fn open(tables: &Tables, at: At, job: JobNo) -> Result<(), Fault> {
    let state = tables.known::<JobRow>(at, &(job,))?.state;
    at.demand(state == JobState::Open, "plan", || format!("job {job} is {state}, and is not planned"))
}

fn going_on(tables: &Tables, at: At, job: JobNo, stage: &StageKey) -> Result<(), Fault> {
    open(tables, at, job)?;
    let state = tables.known::<StageRow>(at, &(job, stage.clone()))?.state;
    let left = matches!(state, StageState::Pending | StageState::Active);
    at.demand(left, "plan", || format!("stage '{stage}' of job {job} is {state}, and is not planned"))
}

fn in_bay(tables: &Tables, at: At, bay: Option<&BayKey>) -> Result<(), Fault> {
    bay.map_or(Ok(()), |bay| tables.known::<BayRow>(at, &(bay.clone(),)).map(|_| ()))
}

fn persons(tables: &Tables, at: At, people: &[PersonId]) -> Result<(), Fault> {
    people.iter().try_for_each(|person| tables.known::<PersonRow>(at, &(*person,)).map(|_| ()))
}
