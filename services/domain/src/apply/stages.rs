//! Stages and their steps.

use super::{Folded, add, change, condition, jobs, readings, strayed, strip};
use crate::state::State;
use leadhand_facts::fact::{JobStage, JobStep};
use leadhand_facts::rows::{AfterRow, StageRow, StepRow};
use leadhand_facts::words::{StageState, StepState};
use leadhand_facts::{Entry, Fact, JobNo, StageKey, StepNo, TextId};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    match &entry.fact {
        Fact::StageAdded { job, stage, before } => inserted(state, entry, *job, stage, before),
        Fact::StageReady { job, stage, ready_at, waits } => on_stage(state, entry, *job, stage, |row| {
            row.ready_at = Some(*ready_at);
            row.ready_n = Some(entry.number);
            row.waiting = *waits;
        }),
        Fact::StageHeld { job, stage } => on_stage(state, entry, *job, stage, |row| {
            row.ready_at = None;
            row.ready_n = None;
            row.waiting = false;
        }),
        Fact::WaitPassed { job, stage } => on_stage(state, entry, *job, stage, |row| row.waiting = false),
        Fact::StageStarted { job, stage, .. } => on_stage(state, entry, *job, stage, |row| {
            row.state = StageState::Active;
            row.started_at = Some(entry.happened_at);
            row.started_n = Some(entry.number);
            row.waiting = false;
        }),
        Fact::StageFinished { job, stage, .. } => ended(state, entry, *job, stage, StageState::Finished, None),
        Fact::StageSkipped { job, stage, reason } => {
            ended(state, entry, *job, stage, StageState::Skipped, Some(reason.id))
        }
        Fact::StepDone { job, stage, step, person, overridden } => on_step(state, entry, (*job, stage, *step), |row| {
            row.state = StepState::Done;
            row.done_by = *person;
            row.overridden = overridden.as_ref().map(|text| text.id);
        }),
        Fact::StepSkipped { job, stage, step, reason } => on_step(state, entry, (*job, stage, *step), |row| {
            row.state = StepState::Skipped;
            row.reason = Some(reason.id);
        }),
        Fact::StepReopened { job, stage, step, .. } => {
            change(entry, &mut state.steps, &(*job, stage.clone(), *step), |row| {
                row.state = StepState::Pending;
                row.done_at = None;
                row.done_by = None;
                row.done_n = None;
                row.reason = None;
                row.overridden = None;
            })
        }
        Fact::StageReopened { job, stage, ready_at, .. } => on_stage(state, entry, *job, stage, |row| {
            row.state = if row.started_at.is_some() { StageState::Active } else { StageState::Pending };
            row.ready_at = *ready_at;
            row.ready_n = row.ready_n.filter(|_| ready_at.is_some());
            row.ended_at = None;
            row.ended_n = None;
            row.reason = None;
        }),
        Fact::StepAdded { job, stage, step } => {
            on_stage(state, entry, *job, stage, |row| row.last_step = row.last_step.max(step.step.0))?;
            add_step(state, entry, *job, stage, step)
        }
        _ => strayed(entry),
    }
}

/// A stage with its predecessors and steps, as it stands when it comes to be.
pub(super) fn add_stage(state: &mut State, entry: &Entry, job: JobNo, stage: &JobStage) -> Folded {
    let last_step = stage.steps.iter().map(|step| step.step.0).max().unwrap_or(0);
    let (title, title_text) = jobs::worded(&stage.title);
    let row = StageRow {
        job,
        stage: stage.stage.clone(),
        ordinal: stage.ordinal,
        title,
        title_text,
        kind: stage.kind,
        low: stage.minutes.low,
        likely: stage.minutes.likely,
        high: stage.minutes.high,
        bays: stage.bays.clone(),
        skills: stage.skills.clone(),
        hands: stage.hands,
        tools: stage.tools.clone(),
        may_leave: stage.may_leave,
        in_one_go: stage.in_one_go,
        unplanned: stage.unplanned,
        state: StageState::Pending,
        ready_at: None,
        ready_n: None,
        waiting: false,
        started_at: None,
        started_n: None,
        ended_at: None,
        ended_n: None,
        reason: None,
        last_step,
    };
    add(entry, &mut state.stages, row)?;
    for after in &stage.after {
        let (stage, after, wait_minutes) = (stage.stage.clone(), after.stage.clone(), after.wait_minutes);
        add(entry, &mut state.afters, AfterRow { job, stage, after, wait_minutes })?;
    }
    stage.steps.iter().try_for_each(|step| add_step(state, entry, job, &stage.stage, step))?;
    let positions = stage.positions.iter();
    positions.into_iter().try_for_each(|position| strip::add_position(state, entry, job, &stage.stage, position))?;
    let mut listed = stage.readings.iter();
    listed.try_for_each(|reading| readings::add_reading(state, entry, job, &stage.stage, reading))
}

/// A stage added as the work goes; those of `before` come after it from now on.
fn inserted(state: &mut State, entry: &Entry, job: JobNo, stage: &JobStage, before: &[StageKey]) -> Folded {
    add_stage(state, entry, job, stage)?;
    for later in before {
        let row = AfterRow { job, stage: later.clone(), after: stage.stage.clone(), wait_minutes: 0 };
        add(entry, &mut state.afters, row)?;
    }
    change(entry, &mut state.jobs, &(job,), |row| row.last_stage = row.last_stage.max(stage.ordinal))
}

fn add_step(state: &mut State, entry: &Entry, job: JobNo, stage: &StageKey, step: &JobStep) -> Folded {
    let (instruction, instruction_text) = jobs::worded(&step.instruction);
    let row = StepRow {
        job,
        stage: stage.clone(),
        step: step.step,
        instruction,
        instruction_text,
        tools: step.tools.clone(),
        shared_tools: step.shared_tools.clone(),
        cautions: step.cautions.clone(),
        needs: step.needs.clone(),
        follow_up: step.follow_up.clone(),
        safety: step.safety.clone(),
        unplanned: step.unplanned,
        fits: step.fits.clone(),
        state: StepState::Pending,
        done_at: None,
        done_by: None,
        done_n: None,
        reason: None,
        overridden: None,
    };
    add(entry, &mut state.steps, row)?;
    let mut fluids = step.safety.fluids.iter();
    fluids.try_for_each(|fluid| condition::add_fluid(state, entry, (job, stage, step.step), fluid))
}

/// A stage that ends while its wait still runs lived no longer than that: it became ready when it
/// ended. One that was left out may never have been ready.
fn ended(
    state: &mut State,
    entry: &Entry,
    job: JobNo,
    stage: &StageKey,
    how: StageState,
    reason: Option<TextId>,
) -> Folded {
    on_stage(state, entry, job, stage, |row| {
        row.state = how;
        row.ready_at = row.ready_at.map(|ready_at| ready_at.min(entry.happened_at));
        row.ended_at = Some(entry.happened_at);
        row.ended_n = Some(entry.number);
        row.reason = reason;
        row.waiting = false;
    })
}

fn on_stage(
    state: &mut State,
    entry: &Entry,
    job: JobNo,
    stage: &StageKey,
    with: impl FnOnce(&mut StageRow),
) -> Folded {
    change(entry, &mut state.stages, &(job, stage.clone()), with)
}

fn on_step(
    state: &mut State,
    entry: &Entry,
    (job, stage, step): (JobNo, &StageKey, StepNo),
    with: impl FnOnce(&mut StepRow),
) -> Folded {
    change(entry, &mut state.steps, &(job, stage.clone(), step), |row| {
        row.done_at = Some(entry.happened_at);
        row.done_n = Some(entry.number);
        with(row);
    })
}
