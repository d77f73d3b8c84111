//! What holds a stage up, said by hand.

use crate::answer::Made;
use crate::check;
use crate::command::{ClearBlocker, OwnBlocker, RaiseBlocker};
use crate::decide::{flow, proof};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::strip;
use leadhand_facts::words::Cause;
use leadhand_facts::{Fact, JobNo, StageKey};

pub(super) fn raise(session: &mut Session, command: &RaiseBlocker) -> Result<Made, Refusal> {
    check::text_some("note", command.note.as_deref())?;
    look::open_job(session.state, session.context, command.job)?;
    let stage = look::stage(session.state, command.job, &command.stage)?;
    if look::is_ended(stage) {
        let (job, stage, state) = (command.job, stage.stage.clone(), stage.state);
        return Err(Refusal::StageIs { job, stage, state, attempted: "held up", todo: "choose a stage that is left" });
    }
    if let Some(owner) = command.owner {
        look::person(session.state, owner)?;
    }
    if let Some(expected_at) = command.expected_at
        && expected_at <= session.at()
    {
        return Err(Refusal::invalid("expected_at", "it is not later than the blocker itself; give a later time"));
    }
    let blocker = flow::next_blocker(session.state, command.job)?;
    let note = session.seal_some(command.note.as_deref());
    session.emit(Fact::BlockerRaised {
        job: command.job,
        blocker,
        stage: command.stage.clone(),
        cause: command.cause,
        owner: command.owner,
        expected_at: command.expected_at,
        note,
        step: None,
        item: None,
        reading: None,
        tool: None,
    })?;
    Ok(Made::Blocker { job: command.job, blocker })
}

/// What would not move at its last safe try waits for the lead, and not for whoever is in a hurry.
pub(super) fn refuse_past_trying(session: &Session, job: JobNo, stage: &StageKey) -> Result<(), Refusal> {
    if strip::past_trying(session.state, job, stage).is_some() {
        proof::lead_by_name(session, "go on past something that would not move at its last safe try")?;
    }
    Ok(())
}

pub(super) fn clear(session: &mut Session, command: &ClearBlocker) -> Result<Made, Refusal> {
    check::text_some("note", command.note.as_deref())?;
    look::open_job(session.state, session.context, command.job)?;
    let row = look::blocker(session.state, command.job, command.blocker)?.clone();
    let (job, blocker) = (command.job, command.blocker);
    if row.cleared_at.is_some() {
        return Err(Refusal::BlockerCleared { job, blocker });
    }
    if let Some(item) = row.item {
        return Err(Refusal::BlockerOfShortage { job, blocker, item });
    }
    if let Some(reading) = row.reading {
        return Err(Refusal::BlockerOfReading { job, blocker, reading });
    }
    if let Some(tool) = row.tool {
        return Err(Refusal::BlockerOfTool { job, blocker, tool });
    }
    if session.at() < row.since {
        return Err(look::too_early(format!("the end of blocker {blocker}"), session.at(), row.since));
    }
    if row.cause == Cause::Safety {
        proof::lead_by_name(session, "say that a stage is safe again")?;
        if command.note.is_none() {
            let why = "somebody saw a danger here; say what was found, and why the stage is safe now";
            return Err(Refusal::invalid("note", why));
        }
    }
    if row.cause == Cause::Seized {
        refuse_past_trying(session, job, &row.stage)?;
    }
    let note = session.seal_some(command.note.as_deref());
    session.emit(Fact::BlockerCleared { job, blocker, note })?;
    Ok(Made::Blocker { job, blocker })
}

/// Who sees to it. Also of what ends by itself: somebody has to order the part.
pub(super) fn own(session: &mut Session, command: &OwnBlocker) -> Result<Made, Refusal> {
    look::open_job(session.state, session.context, command.job)?;
    let row = look::blocker(session.state, command.job, command.blocker)?;
    let (job, blocker, since) = (command.job, command.blocker, row.since);
    if row.cleared_at.is_some() {
        return Err(Refusal::BlockerCleared { job, blocker });
    }
    if (row.owner, row.expected_at) == (command.owner, command.expected_at) {
        return Err(Refusal::NothingToDo { what: format!("change: that is said of blocker {blocker} already") });
    }
    if let Some(owner) = command.owner {
        look::person(session.state, owner)?;
    }
    if session.at() < since {
        return Err(look::too_early(format!("seeing to blocker {blocker}"), session.at(), since));
    }
    if command.expected_at.is_some_and(|expected| expected <= session.at()) {
        return Err(Refusal::invalid("expected_at", "it is not later than now; give a later time, or none"));
    }
    let (owner, expected_at) = (command.owner, command.expected_at);
    session.emit(Fact::BlockerOwned { job, blocker, owner, expected_at })?;
    Ok(Made::Blocker { job, blocker })
}
