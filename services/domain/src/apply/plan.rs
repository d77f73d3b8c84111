//! The accepted plan, and what a lead decided for every plan.

use super::{Broken, Folded, add, known, strayed};
use crate::state::{State, Table};
use leadhand_facts::rows::{OvertimeRow, PlanJobRow, PlanRow, PlanStageRow, PlanVisitRow, Row, StagePinRow};
use leadhand_facts::{Entry, Fact, JobNo};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    match &entry.fact {
        Fact::PlanAccepted { .. } => accepted(state, entry),
        Fact::StagePinned { job, stage, bay, people, from_at } => {
            known(entry, &state.stages, &(*job, stage.clone()))?;
            let (bay, people, pinned_n) = (bay.clone(), people.clone(), entry.number);
            state.stage_pins.put(StagePinRow {
                job: *job,
                stage: stage.clone(),
                bay,
                people,
                from_at: *from_at,
                pinned_n,
            });
            Ok(())
        }
        Fact::StageUnpinned { job, stage } => {
            let key = (*job, stage.clone());
            known(entry, &state.stage_pins, &key)?;
            state.stage_pins.remove(&key);
            Ok(())
        }
        Fact::OvertimeOpened { person, from_at, until_at } => {
            let (person, from_at, until_at) = (*person, *from_at, *until_at);
            add(entry, &mut state.overtime, OvertimeRow { person, from_at, until_at, opened_n: entry.number })
        }
        Fact::OvertimeClosed { person, from_at } => {
            let row = known(entry, &state.overtime, &(*person, *from_at))?.clone();
            if row.until_at <= entry.happened_at {
                return Err(Broken::new(entry, "the overtime is over already"));
            }
            if row.from_at < entry.happened_at {
                state.overtime.put(OvertimeRow { until_at: entry.happened_at, ..row });
            } else {
                state.overtime.remove(&row.key());
            }
            Ok(())
        }
        _ => strayed(entry),
    }
}

fn accepted(state: &mut State, entry: &Entry) -> Folded {
    let Fact::PlanAccepted { made_n, made_at, stages, visits, jobs } = &entry.fact else { return strayed(entry) };
    clear(&mut state.plan_stages, |_| true);
    clear(&mut state.plan_visits, |_| true);
    clear(&mut state.plan_jobs, |_| true);
    let (accepted_at, accepted_n) = (entry.happened_at, entry.number);
    state.plan.put(PlanRow { made_n: *made_n, made_at: *made_at, accepted_at, accepted_n });
    for row in stages {
        known(entry, &state.stages, &(row.job, row.stage.clone()))?;
        let planned = PlanStageRow {
            job: row.job,
            stage: row.stage.clone(),
            bay: row.bay.clone(),
            people: row.people.clone(),
            from_at: row.from,
            until_at: row.until,
        };
        add(entry, &mut state.plan_stages, planned)?;
    }
    for row in visits {
        let (job, from_at, bay, until_at) = (row.job, row.from, row.bay.clone(), row.until);
        add(entry, &mut state.plan_visits, PlanVisitRow { job, from_at, bay, until_at })?;
    }
    for row in jobs {
        for one in &row.nowhere {
            known(entry, &state.stages, &(row.job, one.stage.clone()))?;
        }
        for one in &row.hangs_on {
            known(entry, &state.stages, &(one.job, one.stage.clone()))?;
        }
        let (job, ready_at, likely_at, safe_at) = (row.job, row.ready, row.likely, row.safe);
        let (nowhere, hangs_on) = (row.nowhere.clone(), row.hangs_on.clone());
        add(entry, &mut state.plan_jobs, PlanJobRow { job, ready_at, likely_at, safe_at, nowhere, hangs_on })?;
    }
    Ok(())
}

/// What was planned and pinned of a job that is over.
pub(super) fn leave(state: &mut State, job: JobNo) {
    clear(&mut state.plan_stages, |row| row.job == job);
    clear(&mut state.plan_visits, |row| row.job == job);
    clear(&mut state.plan_jobs, |row| row.job == job);
    clear(&mut state.stage_pins, |row| row.job == job);
}

fn clear<R: Row>(table: &mut Table<R>, gone: impl Fn(&R) -> bool) {
    let keys: Vec<R::Key> = table.iter().filter(|row| gone(row)).map(Row::key).collect();
    for key in keys {
        table.remove(&key);
    }
}
