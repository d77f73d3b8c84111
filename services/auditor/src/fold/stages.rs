//! Stages, steps and blockers.

use super::jobs::words;
use super::{astray, condition, readings, strip};
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::fact::{JobStage, JobStep};
use leadhand_facts::rows::{AfterRow, BlockerRow, JobRow, ReadingRow, StageRow, StepRow};
use leadhand_facts::words::{StageState, StepState};
use leadhand_facts::{BlockerNo, Fact, Instant, JobNo, PersonId, StageKey, StepNo, TextId};

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::StageAdded { job, stage, before } => stage_added(tables, at, *job, stage, before),
        Fact::StageReady { job, stage, .. } | Fact::StageHeld { job, stage } | Fact::WaitPassed { job, stage } => {
            let row = tables.change::<StageRow>(at, &(*job, stage.clone()))?;
            readiness(row, at, fact)
        }
        Fact::StageStarted { job, stage, .. } => started(tables, at, *job, stage),
        Fact::StageFinished { job, stage, .. } => ended(tables, at, *job, stage, None),
        Fact::StageSkipped { job, stage, reason } => ended(tables, at, *job, stage, Some(reason.id)),
        Fact::StepDone { job, stage, step, person, overridden } => {
            let row = step_to_end(tables, at, *job, stage, *step)?;
            step_ends(row, at, StepState::Done, *person, None);
            row.overridden = overridden.as_ref().map(|text| text.id);
            let nobody = row.safety.hold.is_some() && person.is_none();
            at.demand(!nobody, "step", || format!("nobody passed hold point {step} of stage '{stage}' of job {job}"))?;
            Ok(())
        }
        Fact::StepSkipped { job, stage, step, reason } => {
            let row = step_to_end(tables, at, *job, stage, *step)?;
            step_ends(row, at, StepState::Skipped, None, Some(reason.id));
            Ok(())
        }
        Fact::StepReopened { job, stage, step, .. } => step_again(tables, at, *job, stage, *step),
        Fact::StageReopened { job, stage, ready_at, .. } => stage_again(tables, at, *job, stage, *ready_at),
        Fact::StepAdded { job, stage, step } => lay_step(tables, at, *job, stage, step),
        Fact::BlockerRaised { .. } => raised(tables, at, fact),
        Fact::BlockerCleared { job, blocker, note } => {
            cleared(tables, at, *job, *blocker, note.as_ref().map(|text| text.id))
        }
        Fact::BlockerOwned { job, blocker, owner, expected_at } => {
            let row = tables.change::<BlockerRow>(at, &(*job, *blocker))?;
            at.demand(row.cleared_at.is_none(), "blocker", || {
                format!("nobody sees to blocker {blocker} of job {job}, which was cleared")
            })?;
            (row.owner, row.expected_at) = (*owner, *expected_at);
            Ok(())
        }
        _ => Err(astray(at)),
    }
}

/// The stages of a job that opens; they may name each other in any order.
pub(super) fn lay_all(tables: &mut Tables, at: At, job: JobNo, stages: &[JobStage]) -> Result<(), Fault> {
    for stage in stages {
        lay_stage(tables, at, job, stage)?;
    }
    stages.iter().try_for_each(|stage| lay_after(tables, at, job, stage))
}

fn stage_added(tables: &mut Tables, at: At, job: JobNo, stage: &JobStage, before: &[StageKey]) -> Result<(), Fault> {
    lay_stage(tables, at, job, stage)?;
    lay_after(tables, at, job, stage)?;
    for later in before {
        let row = tables.known::<StageRow>(at, &(job, later.clone()))?;
        at.demand(row.state == StageState::Pending, "stage_after", || {
            format!("stage '{later}' of job {job} is {} and can't wait for '{}'", row.state, stage.stage)
        })?;
        after_row(tables, at, job, later, &stage.stage, 0)?;
    }
    Ok(())
}

fn lay_stage(tables: &mut Tables, at: At, job: JobNo, stage: &JobStage) -> Result<(), Fault> {
    let job_row = tables.change::<JobRow>(at, &(job,))?;
    job_row.last_stage = job_row.last_stage.max(stage.ordinal);
    let (title, title_text) = words(&stage.title);
    tables.add(
        at,
        StageRow {
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
            last_step: 0,
        },
    )?;
    for step in &stage.steps {
        lay_step(tables, at, job, &stage.stage, step)?;
    }
    stage.positions.iter().try_for_each(|position| strip::lay(tables, at, job, &stage.stage, position))?;
    stage.readings.iter().try_for_each(|reading| readings::lay(tables, at, job, &stage.stage, reading))
}

fn lay_after(tables: &mut Tables, at: At, job: JobNo, stage: &JobStage) -> Result<(), Fault> {
    for after in &stage.after {
        tables.known::<StageRow>(at, &(job, after.stage.clone()))?;
        after_row(tables, at, job, &stage.stage, &after.stage, after.wait_minutes)?;
    }
    Ok(())
}

fn after_row(
    tables: &mut Tables,
    at: At,
    job: JobNo,
    stage: &StageKey,
    after: &StageKey,
    wait_minutes: i32,
) -> Result<(), Fault> {
    at.demand(stage != after, "stage_after", || format!("stage '{stage}' of job {job} comes after itself"))?;
    tables.add(at, AfterRow { job, stage: stage.clone(), after: after.clone(), wait_minutes })
}

fn lay_step(tables: &mut Tables, at: At, job: JobNo, stage: &StageKey, step: &JobStep) -> Result<(), Fault> {
    let stage_row = tables.change::<StageRow>(at, &(job, stage.clone()))?;
    stage_row.last_step = stage_row.last_step.max(step.step.0);
    let (instruction, instruction_text) = words(&step.instruction);
    tables.add(
        at,
        StepRow {
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
        },
    )?;
    let mut fluids = step.safety.fluids.iter();
    fluids.try_for_each(|fluid| condition::lay(tables, at, job, stage, step.step, fluid))
}

/// Whether a stage may start, and from when.
fn readiness(row: &mut StageRow, at: At, fact: &Fact) -> Result<(), Fault> {
    let (stage, state) = (row.stage.clone(), row.state);
    let refuse = |holds: bool, why: &str| at.demand(holds, "stage", || format!("stage '{stage}' {why}"));
    at.demand(state == StageState::Pending, "stage", || {
        format!("stage '{}' is {state}, so whether it is ready can't change", row.stage)
    })?;
    match fact {
        Fact::StageReady { ready_at, waits, .. } => {
            refuse(row.ready_at.is_none(), "was ready before")?;
            refuse(!waits || *ready_at > at.happened, "has no wait left that could pass")?;
            row.ready_at = Some(*ready_at);
            row.ready_n = Some(at.n);
            row.waiting = *waits;
        }
        Fact::StageHeld { .. } => {
            refuse(row.ready_at.is_some(), "was not ready and can't be held")?;
            row.ready_at = None;
            row.ready_n = None;
            row.waiting = false;
        }
        _ => {
            refuse(row.waiting, "has no wait that could pass")?;
            row.waiting = false;
        }
    }
    Ok(())
}

fn started(tables: &mut Tables, at: At, job: JobNo, stage: &StageKey) -> Result<(), Fault> {
    let row = tables.change::<StageRow>(at, &(job, stage.clone()))?;
    at.demand(row.state == StageState::Pending, "stage", || {
        format!("stage '{stage}' of job {job} is {} and can't become active", row.state)
    })?;
    row.state = StageState::Active;
    row.started_at = Some(at.happened);
    row.started_n = Some(at.n);
    row.waiting = false;
    Ok(())
}

/// Finished without a reason, skipped with one.
fn ended(tables: &mut Tables, at: At, job: JobNo, stage: &StageKey, reason: Option<TextId>) -> Result<(), Fault> {
    let row = tables.change::<StageRow>(at, &(job, stage.clone()))?;
    let (to, may) = match reason {
        None => (StageState::Finished, row.state == StageState::Active),
        Some(_) => (StageState::Skipped, matches!(row.state, StageState::Pending | StageState::Active)),
    };
    at.demand(may, "stage", || format!("stage '{stage}' of job {job} is {} and can't become {to}", row.state))?;
    at.demand(row.started_at.is_none_or(|start| start <= at.happened), "stage", || {
        format!("stage '{stage}' of job {job} ends before it started")
    })?;
    if row.ready_at.is_some_and(|ready| ready > at.happened) {
        row.ready_at = Some(at.happened);
    }
    row.state = to;
    row.ended_at = Some(at.happened);
    row.ended_n = Some(at.n);
    row.reason = reason;
    row.waiting = false;
    Ok(())
}

/// What ended goes on; nothing behind it may have begun, or its own beginning would have no ground.
fn stage_again(
    tables: &mut Tables,
    at: At,
    job: JobNo,
    stage: &StageKey,
    ready_at: Option<Instant>,
) -> Result<(), Fault> {
    let behind = tables.rows::<AfterRow>().filter(|row| row.job == job && row.after == *stage);
    let behind: Vec<StageKey> = behind.map(|row| row.stage.clone()).collect();
    for later in behind {
        let row = tables.known::<StageRow>(at, &(job, later.clone()))?;
        at.demand(row.state == StageState::Pending, "stage", || {
            format!("stage '{stage}' of job {job} can't go on: '{later}' behind it is {}", row.state)
        })?;
    }
    let row = tables.change::<StageRow>(at, &(job, stage.clone()))?;
    let ended = row.ended_at.is_some_and(|end| end <= at.happened);
    at.demand(ended, "stage", || format!("stage '{stage}' of job {job} is {} and had not ended", row.state))?;
    let active = row.started_at.is_some();
    let agrees = match (row.ready_at, ready_at) {
        (None, None) => true,
        (Some(_), None) => !active,
        (before, now) => before.is_some() && before <= now,
    };
    at.demand(agrees, "stage", || format!("stage '{stage}' of job {job} goes on with another readiness than it had"))?;
    row.state = if row.started_at.is_none() { StageState::Pending } else { StageState::Active };
    (row.ended_at, row.ended_n, row.reason) = (None, None, None);
    row.ready_at = ready_at;
    if ready_at.is_none() {
        row.ready_n = None;
    }
    Ok(())
}

fn step_again(tables: &mut Tables, at: At, job: JobNo, stage: &StageKey, step: StepNo) -> Result<(), Fault> {
    let open = tables.known::<StageRow>(at, &(job, stage.clone()))?.ended_at.is_none();
    let row = tables.change::<StepRow>(at, &(job, stage.clone(), step))?;
    // What a second person looked at may be worked on after its stage: then the look is open again, and nothing else.
    let open = open || row.safety.hold.is_some();
    at.demand(open && row.state != StepState::Pending, "step", || {
        format!("step {step} of stage '{stage}' of job {job} is {} and can't be taken back", row.state)
    })?;
    row.state = StepState::Pending;
    (row.done_at, row.done_n, row.done_by, row.reason) = (None, None, None, None);
    row.overridden = None;
    Ok(())
}

fn step_to_end<'a>(
    tables: &'a mut Tables,
    at: At,
    job: JobNo,
    stage: &StageKey,
    step: StepNo,
) -> Result<&'a mut StepRow, Fault> {
    let row = tables.change::<StepRow>(at, &(job, stage.clone(), step))?;
    at.demand(row.state == StepState::Pending, "step", || {
        format!("step {step} of stage '{stage}' of job {job} is {} already", row.state)
    })?;
    Ok(row)
}

fn step_ends(row: &mut StepRow, at: At, state: StepState, done_by: Option<PersonId>, reason: Option<TextId>) {
    row.state = state;
    row.done_at = Some(at.happened);
    row.done_by = done_by;
    row.done_n = Some(at.n);
    row.reason = reason;
}

fn raised(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::BlockerRaised { job, blocker, stage, cause, owner, expected_at, note, step, item, reading, tool } = fact
    else {
        return Err(astray(at));
    };
    tables.known::<StageRow>(at, &(*job, stage.clone()))?;
    if let Some(step) = step {
        tables.known::<StepRow>(at, &(*job, stage.clone(), *step))?;
    }
    if let Some(reading) = reading {
        tables.known::<ReadingRow>(at, &(*job, reading.clone()))?;
    }
    let job_row = tables.change::<JobRow>(at, &(*job,))?;
    let due = job_row.last_blocker + 1;
    at.demand(blocker.0 == due, "blocker", || format!("blocker {blocker} of job {job} should be {due}"))?;
    job_row.last_blocker = blocker.0;
    tables.add(
        at,
        BlockerRow {
            job: *job,
            blocker: *blocker,
            stage: stage.clone(),
            cause: *cause,
            owner: *owner,
            expected_at: *expected_at,
            note: note.as_ref().map(|text| text.id),
            step: *step,
            item: item.clone(),
            reading: reading.clone(),
            tool: tool.clone(),
            since: at.happened,
            raised_n: at.n,
            cleared_at: None,
            cleared_n: None,
            cleared_note: None,
        },
    )
}

fn cleared(tables: &mut Tables, at: At, job: JobNo, blocker: BlockerNo, note: Option<TextId>) -> Result<(), Fault> {
    let row = tables.change::<BlockerRow>(at, &(job, blocker))?;
    at.demand(row.cleared_at.is_none(), "blocker", || format!("blocker {blocker} of job {job} was cleared before"))?;
    row.cleared_at = Some(if at.happened < row.since { row.since } else { at.happened });
    row.cleared_n = Some(at.n);
    row.cleared_note = note;
    Ok(())
}
