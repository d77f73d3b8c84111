//! "The book's way is unsafe here", and "I don't like this": whoever works says so, and a lead answers.

use crate::answer::{Made, Notice};
use crate::check as form;
use crate::command::{CallLead, DecideWay, ProposeWay};
use crate::condition;
use crate::decide::{clocking, flow, proof};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::words::{Cause, StepState};
use leadhand_facts::{BlockerNo, Fact, JobNo, StageKey, TextRef};

/// What only a lead may do about another way.
const DECIDE: &str = "decide on a way that is not the book's";

/// Our way, and why. The step is held until a lead decides.
pub(in crate::decide) fn propose(session: &mut Session, command: &ProposeWay) -> Result<Made, Refusal> {
    form::text("way", &command.way)?;
    form::text("reason", &command.reason)?;
    let job = look::open_job(session.state, session.context, command.job)?.job;
    let step = look::step(session.state, job, &command.stage, command.step)?;
    if step.state != StepState::Pending {
        return Err(Refusal::StepIs { stage: step.stage.clone(), step: step.step, state: step.state });
    }
    let known = session.state.ways.get(&(job, command.stage.clone(), command.step));
    if let Some(last) = known.map(|row| row.decided_at.unwrap_or(row.proposed_at)).filter(|last| session.at() < *last) {
        return Err(look::too_early("another way", session.at(), last));
    }
    let (note, reason) = (session.seal(&command.way), session.seal(&command.reason));
    let person = session.context.actor.person;
    session.emit(Fact::WayProposed { job, stage: command.stage.clone(), step: command.step, person, note, reason })?;
    Ok(Made::Nothing)
}

/// A lead approves, or the book's way stays.
pub(in crate::decide) fn decide(session: &mut Session, command: &DecideWay) -> Result<Made, Refusal> {
    form::text_some("note", command.note.as_deref())?;
    let job = look::open_job(session.state, session.context, command.job)?.job;
    let step = look::step(session.state, job, &command.stage, command.step)?;
    let key = (job, command.stage.clone(), command.step);
    let way = session.state.ways.get(&key).ok_or_else(|| Refusal::NothingToDo {
        what: format!("decide: nobody proposed another way for step {} of stage '{}'", command.step, command.stage),
    })?;
    if way.approved.is_some() && step.state != StepState::Pending {
        return Err(Refusal::StepIs { stage: step.stage.clone(), step: step.step, state: step.state });
    }
    if session.at() < way.proposed_at {
        return Err(look::too_early("the decision", session.at(), way.proposed_at));
    }
    let person = proof::lead_by_name(session, DECIDE)?;
    let note = session.seal_some(command.note.as_deref());
    let (stage, step, approved) = (command.stage.clone(), command.step, command.approved);
    session.emit(Fact::WayDecided { job, stage, step, person, approved, note })?;
    Ok(Made::Nothing)
}

/// Calls the lead: the stage waits until a lead says that it goes on. Without a stage the one that the person is clocked
/// on to.
pub(in crate::decide) fn call_lead(session: &mut Session, command: &CallLead) -> Result<Made, Refusal> {
    form::text_some("note", command.note.as_deref())?;
    let (job, stage) = match (command.job, &command.stage) {
        (Some(job), Some(stage)) => (job, stage.clone()),
        (None, None) => {
            let person = clocking::acting_person(session, "say which stage is meant")?;
            let on = look::clocking_of(session.state, person).ok_or(Refusal::NotClockedOn {})?;
            (on.job, on.stage.clone())
        }
        (missing, _) => {
            let field = if missing.is_none() { "job" } else { "stage" };
            return Err(Refusal::invalid(field, "job and stage go together; give both, or neither"));
        }
    };
    look::open_job(session.state, session.context, job)?;
    let row = look::stage(session.state, job, &stage)?;
    if look::is_ended(row) {
        let state = row.state;
        let todo =
            "choose a stage that is left, or add one to look at it (`leadhand stage add`) and call the lead there";
        return Err(Refusal::StageIs { job, stage, state, attempted: "held up", todo });
    }
    if let Some(called) = condition::called(session.state, job, &stage) {
        let what = format!("call: stage '{stage}' waits for the lead already, on blocker {}", called.blocker);
        return Err(Refusal::NothingToDo { what });
    }
    let note = session.seal_some(command.note.as_deref());
    let blocker = raise(session, job, stage, note)?;
    Ok(Made::Blocker { job, blocker })
}

/// Has a stage wait for the lead.
pub(super) fn raise(
    session: &mut Session,
    job: JobNo,
    stage: StageKey,
    note: Option<TextRef>,
) -> Result<BlockerNo, Refusal> {
    let (blocker, cause) = (flow::next_blocker(session.state, job)?, Cause::Safety);
    let (owner, expected_at) = (None, None);
    let (step, item, reading, tool) = (None, None, None, None);
    session.emit(Fact::BlockerRaised {
        job,
        blocker,
        stage,
        cause,
        owner,
        expected_at,
        note,
        step,
        item,
        reading,
        tool,
    })?;
    Ok(blocker)
}

/// Refuses work on a stage that waits for the lead. Nobody overrides that: a lead who sees no danger ends it.
pub(in crate::decide) fn refuse_called(session: &mut Session, job: JobNo, stage: &StageKey) -> Result<(), Refusal> {
    if let Some(row) = condition::called(session.state, job, stage) {
        return Err(Refusal::LeadCalled { job, stage: stage.clone(), blocker: row.blocker });
    }
    // What somebody saw at one stage may hurt whoever is at another of the same vehicle.
    let elsewhere = look::open_blockers(session.state, job).find(|row| row.cause == Cause::Safety);
    let told = elsewhere.map(|row| Notice::CalledElsewhere { job, stage: row.stage.clone() });
    if let Some(told) = told.filter(|told| !session.notices.contains(told)) {
        session.notice(told);
    }
    Ok(())
}
