//! The next sensible command for a job, so that jobs get done as well as started.

use super::{Draw, condition, floor, readings, strip};
use leadhand_domain::command::*;
use leadhand_domain::look;
use leadhand_domain::state::State;
use leadhand_facts::rows::{BlockerRow, StageRow};
use leadhand_facts::words::{JobState, StageState, StepState};
use leadhand_facts::{BayKey, JobNo};

pub fn open_jobs(state: &State) -> Vec<JobNo> {
    state.jobs.iter().filter(|row| row.state == JobState::Open).map(|row| row.job).collect()
}

pub fn go_on(draw: &mut Draw<'_>) -> Command {
    let open = open_jobs(draw.state);
    // Mostly the first job, or none would ever be finished.
    let job = if draw.rarely(3) { draw.one_of(&open) } else { open.first().copied() };
    let Some(job) = job.filter(|_| open.len() < 5) else { return floor::open_job(draw) };
    next_of(draw, job)
}

fn next_of(draw: &mut Draw<'_>, job: JobNo) -> Command {
    let state = draw.state;
    let said: Vec<&BlockerRow> =
        look::open_blockers(state, job).filter(|row| row.item.is_none() && row.reading.is_none()).collect();
    if let Some(row) = said.first() {
        return ClearBlocker { job, blocker: row.blocker, note: draw.sometimes("it came back") }.into();
    }
    if let Some(first) = condition::next_in(draw, job).filter(|_| draw.below(3) != 0) {
        return first;
    }
    let stages = look::stages_in_order(state, job);
    if let Some(active) = stages.iter().find(|row| row.state == StageState::Active) {
        return go_on_with(draw, active);
    }
    if let Some(next) = stages.iter().find(|row| look::is_live(row) && row.state == StageState::Pending) {
        return begin(draw, next);
    }
    if !stages.is_empty() && stages.iter().all(|row| look::is_ended(row)) {
        if let Some(first) = strip::to_check(draw, job).filter(|_| draw.below(3) != 0) {
            return first;
        }
        return floor::hand_over(draw, job);
    }
    if stages.is_empty() { floor::add_stage(draw) } else { Tick {}.into() }
}

fn go_on_with(draw: &mut Draw<'_>, row: &StageRow) -> Command {
    let (job, stage) = (row.job, row.stage.clone());
    if let Some(next) = readings::next_in(draw, row).filter(|_| draw.below(4) != 0) {
        return next;
    }
    if let Some(next) = strip::next_in(draw, row).filter(|_| draw.below(3) != 0) {
        return next;
    }
    let all: Vec<_> = look::steps(draw.state, job, &stage).collect();
    let next = look::next_step(draw.state, row);
    let held = all.iter().any(|step| step.state == StepState::Pending && step.safety.hold.is_some());
    match (next, draw.below(4)) {
        (Some(step), 0..=2) if held => {
            let override_reason = draw.sometimes("no other way");
            TickSteps { job, stage, steps: vec![step.step], override_reason }.into()
        }
        (Some(step), 0 | 1) if all.len() > 1 => {
            TickSteps { job, stage, steps: vec![step.step], override_reason: None }.into()
        }
        (Some(step), 3) => SkipStep { job, stage, step: step.step, reason: "not needed".into() }.into(),
        (_, roll) => FinishStage { job, stage, as_listed: roll != 2 }.into(),
    }
}

fn begin(draw: &mut Draw<'_>, row: &StageRow) -> Command {
    let (job, stage) = (row.job, row.stage.clone());
    let vehicle = draw.state.jobs.get(&(job,)).map(|row| row.vehicle);
    let stands = vehicle.and_then(|vehicle| look::stay_of(draw.state, vehicle));
    let fit = |bay: &BayKey| draw.state.bays.get(&(bay.clone(),)).is_some_and(|bay| row.bays.contains(&bay.kind));
    if !row.bays.is_empty() && !stands.is_some_and(|stay| fit(&stay.bay)) {
        let free: Vec<BayKey> = draw
            .state
            .bays
            .iter()
            .map(|bay| bay.bay.clone())
            .filter(|bay| fit(bay) && look::stay_in(draw.state, bay).is_none())
            .collect();
        let bay = draw.one_of(&free).unwrap_or_else(|| draw.bay());
        return AssignJob { job, bay, override_reason: draw.sometimes("it has to go on") }.into();
    }
    StartStage { job, stage, override_reason: draw.sometimes("it has to go on") }.into()
}
