//! The strip book at the end of a stage and of a job.

use super::{back, keys, off};
use crate::answer::Notice;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip;
use leadhand_facts::rows::{PositionRow, StageRow};
use leadhand_facts::{JobNo, PositionKey};
use std::collections::BTreeSet;

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

/// Refuses to leave a stage out while nothing was said of what its steps that are done took off or put in.
pub(in crate::decide) fn refuse_hidden(state: &State, stage: &StageRow) -> Result<(), Refusal> {
    let own = strip::positions(state, stage.job).filter(|row| row.stage == stage.stage);
    let hidden: Vec<&PositionRow> = own.filter(|row| strip::is_unsaid(state, row)).collect();
    if hidden.is_empty() {
        return Ok(());
    }
    Err(Refusal::PositionsUnsaid { stage: stage.stage.clone(), positions: keys(hidden) })
}

/// Tells what is open when a job is called off: the vehicle goes as it is.
pub(in crate::decide) fn tell_open(session: &mut Session, job: JobNo) {
    let open = strip::open(strip::positions(session.state, job));
    let left: BTreeSet<PositionKey> = open.iter().map(|open| open.position().clone()).collect();
    session.notices.extend(left.into_iter().map(|position| Notice::LeftOpen { position }));
}
