//! Work on something that a second pair of eyes has looked at: it is looked at again.

use super::goes_back;
use crate::answer::Notice;
use crate::decide::{again, flow, skills};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip;
use leadhand_facts::rows::{PositionRow, StageRow, StepRow};
use leadhand_facts::words::{StepState, Tightness};
use leadhand_facts::{Fact, JobNo, PersonId, PositionKey, StageKey, StepNo};
use std::collections::BTreeMap;

/// Opens the hold points again at which a second person looked at what is worked on now: of the stage in which it goes back,
/// and of the one in which it is done. Where such a stage has ended it stays so, and the look is all that is left of it.
pub(in crate::decide) fn look_again(
    session: &mut Session,
    job: JobNo,
    stage: Option<&StageKey>,
    worked_on: &[PositionKey],
) -> Result<(), Refusal> {
    let mut passed: BTreeMap<(StageKey, StepNo), (StepRow, PositionKey)> = BTreeMap::new();
    let rows = worked_on.iter().filter_map(|key| session.state.positions.get(&(job, key.clone())));
    for row in rows {
        for step in looked_at(session, row, stage) {
            passed.entry((step.stage.clone(), step.step)).or_insert_with(|| (step.clone(), row.position.clone()));
        }
    }
    let mut opened = false;
    for (step, position) in passed.into_values() {
        let stage = look::stage(session.state, job, &step.stage)?.clone();
        let ended = look::is_ended(&stage);
        session.notice(Notice::LookAgain {
            stage: step.stage.clone(),
            step: step.step,
            position: position.clone(),
            ended,
        });
        let reason = session.seal(&format!("'{position}' was worked on after it"));
        again::take_back(session, &stage, step, &reason)?;
        opened = true;
    }
    if opened { flow::settle_blockers(session, job) } else { Ok(()) }
}

/// Whoever passed a hold point as a second person has looked at what goes back there and asks for a second check: one look
/// is said once. What is not back and tight, or is their own work, they have not looked at.
pub(in crate::decide) fn looked(
    session: &mut Session,
    hold: &StepRow,
    person: Option<PersonId>,
) -> Result<(), Refusal> {
    let (Some(person), Some(own)) = (person, hold.safety.hold.as_ref().filter(|hold| hold.second)) else {
        return Ok(());
    };
    let at = session.at();
    let before = strip::stages_before(session.state, hold.job, &hold.stage);
    let seen = |row: &&PositionRow| goes_back(row, hold) || (own.whole && before.contains(own_stage(row)));
    let whole = |row: &&PositionRow| {
        let back = row.back_at.is_some_and(|back_at| back_at <= at) && !strip::is_open(row);
        back && row.tightness == Some(Tightness::Final)
    };
    let others = |row: &&PositionRow| !row.hands.contains(&person) && row.back_by != Some(person) && !row.unnamed;
    let due = strip::positions(session.state, hold.job)
        .filter(|row| row.detail.second_check && row.checked_by.is_none())
        .filter(seen)
        .filter(whole)
        .filter(others);
    let due: Vec<(PositionKey, StageKey)> = due.map(|row| (row.position.clone(), own_stage(row).clone())).collect();
    for (position, own) in due {
        let own = look::stage(session.state, hold.job, &own)?;
        if skills::objection(session.state, own, Some(person))?.is_some() {
            continue;
        }
        session.emit(Fact::PositionChecked { job: hold.job, position, person })?;
    }
    Ok(())
}

/// Hold points at which a second person looked at this position before the command's time.
fn looked_at<'s>(session: &'s Session<'_>, row: &'s PositionRow, stage: Option<&'s StageKey>) -> Vec<&'s StepRow> {
    let at = session.at();
    let state: &State = session.state;
    let stages = look::stages(state, row.job);
    let near = |one: &StageRow| stage == Some(&one.stage) || own_stage(row) == &one.stage;
    let behind = |one: &StageRow| strip::stages_before(state, row.job, &one.stage).contains(own_stage(row));
    let steps =
        stages.flat_map(|stage: &StageRow| look::steps(state, row.job, &stage.stage).map(move |step| (stage, step)));
    // One that looks at all that is due by then saw it as well, from whatever stage it goes back in.
    let second = steps.filter(|(one, step)| {
        let hold = step.safety.hold.as_ref();
        hold.is_some_and(|hold| (hold.second && near(one)) || (hold.whole && (near(one) || behind(one))))
    });
    let second = second.map(|(_, step)| step);
    let passed = second.filter(|step| step.state == StepState::Done && step.done_at.is_some_and(|done| done <= at));
    passed.filter(|step| saw(state, step, row)).collect()
}

/// The stage in which it is put back.
fn own_stage(row: &PositionRow) -> &StageKey {
    row.detail.back.as_ref().unwrap_or(&row.stage)
}

/// Whether a hold point looked at it: some of it was back by then, or no work of the stage comes after the look.
fn saw(state: &State, hold: &StepRow, row: &PositionRow) -> bool {
    let before = row.back_n.is_some_and(|back| hold.done_n.is_some_and(|passed| back < passed));
    let last = look::steps(state, hold.job, &hold.stage)
        .filter(|other| other.step > hold.step)
        .all(|other| !strip::is_work(other));
    let whole = hold.safety.hold.as_ref().is_some_and(|hold| hold.whole);
    whole || (before && goes_back(row, hold)) || last
}
