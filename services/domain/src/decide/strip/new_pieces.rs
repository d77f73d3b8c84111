//! Steps that fit new pieces of a position follow what is said of it: they are to be done again when the pieces are no
//! longer in, and are told of when nothing asks for them any more.

use super::seized::fits;
use crate::answer::Notice;
use crate::decide::again as taken_up;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip;
use leadhand_facts::rows::{PositionRow, StageRow, StepRow};
use leadhand_facts::words::StepState;
use leadhand_facts::{JobNo, PositionKey, TextRef};

/// What follows when the last word about a position was taken back.
pub(super) fn reopened(
    session: &mut Session,
    job: JobNo,
    position: &PositionKey,
    was_back: bool,
    reason: &TextRef,
) -> Result<(), Refusal> {
    let row = super::row(session.state, job, position)?.clone();
    let Some(stage) = row.detail.back.as_ref().and_then(|back| session.state.stages.get(&(job, back.clone()))).cloned()
    else {
        return Ok(());
    };
    if was_back {
        return if look::is_ended(&stage) { Ok(()) } else { again_of(session, &stage, &row, reason) };
    }
    let left = own(session.state, &stage, &row).into_iter().filter(|step| step.state == StepState::Pending);
    let told = left.map(|step| Notice::FitNewStays {
        stage: stage.stage.clone(),
        step: step.step,
        position: position.clone(),
    });
    let told: Vec<Notice> = told.collect();
    session.notices.extend(told);
    Ok(())
}

/// The same for everything that goes back in a stage that goes on: what a step fitted may have been taken back meanwhile.
pub(in crate::decide) fn again(session: &mut Session, stage: &StageRow, reason: &TextRef) -> Result<(), Refusal> {
    let here = strip::positions(session.state, stage.job).filter(|row| row.detail.back.as_ref() == Some(&stage.stage));
    let here: Vec<PositionRow> = here.cloned().collect();
    here.iter().try_for_each(|row| again_of(session, stage, row, reason))
}

fn again_of(session: &mut Session, stage: &StageRow, row: &PositionRow, reason: &TextRef) -> Result<(), Refusal> {
    // As many as are in it are fitted; the steps came one after the other, so the last ones fitted the rest.
    let mut fitted = i64::from(row.renewed);
    for step in own(session.state, stage, row) {
        fitted -= pieces(&step, row);
        if fitted >= 0 || step.state != StepState::Done {
            continue;
        }
        let (number, position) = (step.step, row.position.clone());
        taken_up::take_back(session, stage, step, reason)?;
        session.notice(Notice::FitNewAgain { stage: stage.stage.clone(), step: number, position });
    }
    Ok(())
}

/// The steps of a stage that fit new pieces of a position, in order.
fn own(state: &State, stage: &StageRow, row: &PositionRow) -> Vec<StepRow> {
    let steps = look::steps(state, stage.job, &stage.stage);
    steps.filter(|step| pieces(step, row) > 0).cloned().collect()
}

fn pieces(step: &StepRow, row: &PositionRow) -> i64 {
    row.detail.item.as_ref().map_or(0, |item| fits(step, &row.position, item))
}
