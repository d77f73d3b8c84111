//! The strip book at the end of a stage and of a job.

use super::{back, keys, off};
use crate::answer::Notice;
use crate::decide::steps;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip;
use leadhand_facts::rows::{PositionRow, StageRow, StepRow};
use leadhand_facts::{JobNo, PositionKey, StepNo};
use std::collections::BTreeSet;

/// Does everything that is listed for a stage and was not said: what comes off with each of the steps left, before the
/// step is ticked; and what goes back, at the latest before a step that brings the vehicle to life.
pub(in crate::decide) fn do_as_listed(session: &mut Session, stage: &StageRow, left: &[StepNo]) -> Result<(), Refusal> {
    let all = off::untouched(session.state, stage, |_| true);
    let together: BTreeSet<PositionKey> = all.into_iter().map(|line| line.position).collect();
    for step in left {
        take(session, stage, &together, |row| row.step == Some(*step))?;
        if strip::wakes(look::step(session.state, stage.job, &stage.stage, *step)?) {
            put(session, stage)?;
        }
        steps::do_all(session, stage, &[*step], false, None)?;
    }
    take(session, stage, &together, |_| true)?;
    put(session, stage)
}

/// Takes off what is listed and untouched; `together` is said in the same breath, so its order is no matter.
fn take(
    session: &mut Session,
    stage: &StageRow,
    together: &BTreeSet<PositionKey>,
    which: impl Fn(&PositionRow) -> bool,
) -> Result<(), Refusal> {
    let lines = off::untouched(session.state, stage, which);
    if lines.is_empty() { Ok(()) } else { off::off_all(session, stage, &lines, together, None).map(|_| ()) }
}

fn put(session: &mut Session, stage: &StageRow) -> Result<(), Refusal> {
    let lines = back::due(session.state, stage);
    if lines.is_empty() { Ok(()) } else { back::back_all(session, stage, &lines, None).map(|_| ()) }
}

/// Refuses to tick a step while something that it takes off or puts in was not said: a tick guesses nothing.
pub(in crate::decide) fn refuse_step_unsaid(state: &State, row: &StepRow) -> Result<(), Refusal> {
    let own = |one: &&PositionRow| one.stage == row.stage && one.step == Some(row.step) && one.off_n.is_none();
    let unsaid: Vec<&PositionRow> = strip::positions(state, row.job).filter(own).collect();
    if unsaid.is_empty() {
        return Ok(());
    }
    let (job, stage, step) = (row.job, row.stage.clone(), row.step);
    Err(Refusal::StepUnsaid { job, stage, step, positions: keys(unsaid) })
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

/// Tells what a stage that is left out leaves behind: what came off in it, and what was to go back or come out in it.
pub(in crate::decide) fn tell_left_out(session: &mut Session, stage: &StageRow) {
    let open: Vec<&PositionRow> = strip::positions(session.state, stage.job)
        .filter(|row| row.off_n.is_some() && !strip::of_position(row).is_empty())
        .collect();
    let due = |row: &PositionRow| row.detail.back.as_ref() == Some(&stage.stage);
    let keys = |which: &dyn Fn(&PositionRow) -> bool| {
        open.iter().filter(|row| which(row)).map(|row| row.position.clone()).collect::<Vec<_>>()
    };
    let own = keys(&|row| row.stage == stage.stage && !due(row));
    let told = [(true, keys(&due)), (false, own)].into_iter().filter(|(_, positions)| !positions.is_empty());
    let told = told.map(|(back, positions)| Notice::LeftOutOpen { stage: stage.stage.clone(), back, positions });
    let told: Vec<Notice> = told.collect();
    session.notices.extend(told);
}

/// Tells what is open when a job is called off: the vehicle goes as it is.
pub(in crate::decide) fn tell_open(session: &mut Session, job: JobNo) {
    let open = strip::open(strip::positions(session.state, job));
    let left: BTreeSet<PositionKey> = open.iter().map(|open| open.position().clone()).collect();
    session.notices.extend(left.into_iter().map(|position| Notice::LeftOpen { position }));
}
