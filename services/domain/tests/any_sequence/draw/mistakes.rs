//! Commands that take something back.

use super::Draw;
use leadhand_domain::command::*;
use leadhand_domain::look;
use leadhand_facts::rows::{ClockingRow, StageRow, StayRow, StepRow};
use leadhand_facts::words::{BayKind, JobState, StepState};
use leadhand_facts::*;

/// An entry of time, mostly a late one; now and then none.
fn entry(draw: &mut Draw<'_>) -> Option<ClockingRow> {
    let mut all: Vec<ClockingRow> = draw.state.clockings.iter().cloned().collect();
    all.sort_by_key(|row| std::cmp::Reverse(row.on_n));
    if !draw.rarely(4) {
        all.truncate(4);
    }
    draw.one_of(&all)
}

pub fn correct_clocking(draw: &mut Draw<'_>) -> Command {
    let row = entry(draw);
    let near = |draw: &mut Draw<'_>, at: Option<Instant>| {
        let at = at.unwrap_or(draw.now);
        (draw.below(3) != 0).then(|| at.plus_minutes(draw.between(-6, 6)))
    };
    let from_at = near(draw, row.as_ref().map(|row| row.from_at));
    let until_at = near(draw, row.as_ref().and_then(|row| row.until_at));
    let job = draw.rarely(4).then(|| draw.job());
    let of = job.or(row.as_ref().map(|row| row.job)).unwrap_or(JobNo(1));
    let stage = (draw.rarely(3) || (job.is_some() && !draw.rarely(5))).then(|| draw.stage(of));
    CorrectClocking {
        entry: row.map_or(3, |row| row.on_n),
        from_at,
        until_at,
        job,
        stage,
        reason: draw.words("the wrong time"),
        override_reason: draw.sometimes("under supervision"),
    }
    .into()
}

pub fn withdraw_clocking(draw: &mut Draw<'_>) -> Command {
    let entry = entry(draw).map_or(3, |row| row.on_n);
    WithdrawClocking { entry, reason: draw.words("it was somebody else") }.into()
}

pub fn reopen_step(draw: &mut Draw<'_>) -> Command {
    let ended = |row: &&StepRow| row.state != StepState::Pending;
    let going_on = |row: &&StepRow| {
        let stage = draw.state.stages.get(&(row.job, row.stage.clone()));
        stage.is_some_and(|stage| !look::is_ended(stage))
    };
    let sensible: Vec<StepRow> = draw.state.steps.iter().filter(ended).filter(going_on).cloned().collect();
    let any: Vec<StepRow> = draw.state.steps.iter().cloned().collect();
    let from = if draw.rarely(6) || sensible.is_empty() { any } else { sensible };
    let (job, stage, step) =
        draw.one_of(&from).map_or((JobNo(1), "strip".into(), StepNo(1)), |row| (row.job, row.stage, row.step));
    ReopenStep { job, stage, step, reason: draw.words("it was not done") }.into()
}

pub fn reopen_stage(draw: &mut Draw<'_>) -> Command {
    let mut ended: Vec<StageRow> = draw.state.stages.iter().filter(|row| look::is_ended(row)).cloned().collect();
    ended.sort_by_key(|row| std::cmp::Reverse(row.ended_n));
    if !draw.rarely(4) {
        ended.truncate(3);
    }
    let (job, stage) = match draw.one_of(&ended) {
        Some(row) if !draw.rarely(10) => (row.job, row.stage),
        _ => {
            let job = draw.job();
            (job, draw.stage(job))
        }
    };
    ReopenStage { job, stage, reason: draw.words("it was not finished") }.into()
}

/// Mostly a job that was closed, the last ones first.
pub fn reopen_job(draw: &mut Draw<'_>) -> Command {
    let closed = draw.state.jobs.iter().rev().filter(|row| row.state != JobState::Open);
    let closed: Vec<JobNo> = closed.map(|row| row.job).collect();
    let job = if draw.rarely(10) { None } else { draw.one_of(&closed) };
    ReopenJob { job: job.unwrap_or_else(|| draw.job()), reason: draw.words("it was another one") }.into()
}

pub fn set_bay(draw: &mut Draw<'_>) -> Command {
    let kind = if draw.below(3) == 0 { draw.one_of(BayKind::ALL) } else { None };
    let rated_kg = (draw.below(3) != 2).then(|| draw.between(-100, 4000).try_into().expect("a small number"));
    SetBay { bay: draw.bay(), kind, rated_kg, reason: draw.words("read off the plate") }.into()
}

pub fn correct_stay(draw: &mut Draw<'_>) -> Command {
    let all: Vec<StayRow> = draw.state.stays.iter().cloned().collect();
    let row = draw.one_of(&all);
    let near = |draw: &mut Draw<'_>, at: Option<Instant>| {
        at.filter(|_| !draw.rarely(3)).map(|at| at.plus_minutes(draw.between(-4, 4)))
    };
    let from_at = near(draw, row.as_ref().map(|row| row.from_at));
    let until_at = near(draw, row.as_ref().and_then(|row| row.until_at));
    let bay = (draw.below(2) == 0).then(|| draw.bay());
    let job = row.as_ref().map_or(JobNo(1), |row| row.job);
    let stay = if draw.rarely(3) { None } else { row.map(|row| row.from_n) };
    CorrectStay { job, stay, bay, from_at, until_at, reason: draw.words("it was the other bay") }.into()
}
