//! The strip book at the end of a stage and of a job.

use super::{back, keys, off};
use crate::answer::Notice;
use crate::condition;
use crate::decide::skills;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip::{self, Open};
use leadhand_facts::rows::{PositionRow, StageRow};
use leadhand_facts::{JobNo, PositionKey, TextRef};
use std::collections::BTreeSet;

/// What only a lead may do about an open strip book.
const OPEN_BOOK: &str = "hand a vehicle over while its strip book is open, or it is not as it has to be";

/// Everything that is listed for a stage and was not said: off as listed, back as listed.
pub(in crate::decide) fn finish_as_listed(session: &mut Session, stage: &StageRow) -> Result<(), Refusal> {
    let lines = off::untouched(session.state, stage, |_| true);
    if !lines.is_empty() {
        off::off_all(session, stage, &lines, None)?;
    }
    let lines = back::due(session.state, stage);
    if !lines.is_empty() {
        back::back_all(session, stage, &lines, None)?;
    }
    Ok(())
}

/// Refuses to end a stage of which something that is listed was not said.
pub(in crate::decide) fn refuse_unsaid(state: &State, stage: &StageRow) -> Result<(), Refusal> {
    let own = strip::positions(state, stage.job).filter(|row| row.stage == stage.stage && row.off_n.is_none());
    let due = strip::positions(state, stage.job)
        .filter(|row| row.detail.back.as_ref() == Some(&stage.stage) && strip::is_open(row));
    let unsaid: Vec<&PositionRow> = own.chain(due).collect();
    if unsaid.is_empty() {
        return Ok(());
    }
    Err(Refusal::PositionsUnsaid { stage: stage.stage.clone(), positions: keys(unsaid) })
}

/// Refuses to hand over while the book is open; what may be overruled is, by a lead with a reason.
pub(in crate::decide) fn refuse_hand_over(
    session: &mut Session,
    job: JobNo,
    override_reason: Option<&str>,
) -> Result<Option<TextRef>, Refusal> {
    let open = strip::open(strip::positions(session.state, job));
    let more = condition::open(session.state, job);
    if open.is_empty() && more.is_empty() {
        return Ok(None);
    }
    let said = open.iter().map(Open::to_string).chain(more.iter().map(ToString::to_string));
    let lines = said.collect::<Vec<_>>().join("; ");
    if open.iter().any(Open::is_final) {
        return Err(Refusal::StripOpenForGood { job, lines });
    }
    let objection =
        if open.is_empty() { Refusal::HandOverOpen { job, lines } } else { Refusal::StripOpen { job, lines } };
    skills::overruled(session, Some(objection), override_reason, OPEN_BOOK)
}

/// Tells what is open when a job is called off: the vehicle goes as it is.
pub(in crate::decide) fn tell_open(session: &mut Session, job: JobNo) {
    let open = strip::open(strip::positions(session.state, job));
    let left: BTreeSet<PositionKey> = open.iter().map(|open| open.position().clone()).collect();
    session.notices.extend(left.into_iter().map(|position| Notice::LeftOpen { position }));
}
