//! Fluids: what came out, what went in, and what is still in.

use crate::answer::{Made, Notice};
use crate::check as form;
use crate::command::{RecordFluid, ReopenFluid};
use crate::condition;
use crate::fill::full_of;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip;
use crate::telling::amount;
use crate::template::{FLUID_MAX_ML, suggestion};
use crate::toolbox::listed as listed_all;
use leadhand_facts::rows::{FluidRow, PositionRow, StageRow, StepRow};
use leadhand_facts::words::{Manner, StepState, VehicleState};
use leadhand_facts::{Fact, FluidKey, Instant, JobNo, PositionKey, Quantity, TextRef, Unit};
use std::collections::BTreeSet;

pub(in crate::decide) fn record(session: &mut Session, command: &RecordFluid) -> Result<Made, Refusal> {
    form::text_some("note", command.note.as_deref())?;
    form::key("fluid", command.fluid.as_str())?;
    for (name, millilitres) in [("drained_ml", command.drained_ml), ("filled_ml", command.filled_ml)] {
        if !(0..=FLUID_MAX_ML).contains(&millilitres) {
            return Err(Refusal::invalid(name, format!("it is not from 0 to {FLUID_MAX_ML} mL")));
        }
    }
    // A system that had lost all of it is drained with nothing, and somebody says so.
    if (command.drained_ml, command.filled_ml) == (0, 0) && command.note.is_none() {
        let why = "nothing came out and nothing went in; say how much of one, or in a note why there is nothing";
        return Err(Refusal::invalid("drained_ml", why));
    }
    let job = look::open_job(session.state, session.context, command.job)?.job;
    let row = session.state.fluids.get(&(job, command.fluid.clone()));
    if let Some(said_at) = row.and_then(|row| row.said_at).filter(|said_at| session.at() < *said_at) {
        return Err(look::too_early(format!("what is said of '{}'", command.fluid), session.at(), said_at));
    }
    refuse_sums(row, command)?;
    refuse_unlisted(session.state, command)?;
    let in_all = in_all(row, command);
    let note = session.seal_some(command.note.as_deref());
    let (person, fluid) = (session.context.actor.person, command.fluid.clone());
    let (drained_ml, filled_ml) = (command.drained_ml, command.filled_ml);
    session.emit(Fact::FluidRecorded { job, fluid, person, drained_ml, filled_ml, note })?;
    if drained_ml > 0 {
        tell_still_in(session, job);
    }
    if filled_ml > 0 {
        tell_over(session, job, &command.fluid);
        tell_curing(session, job);
    }
    // What is over tells the sum of what is in already.
    let over = session.notices.iter().any(|notice| matches!(notice, Notice::FluidOver { .. }));
    let untold = |notice: &Notice| !(over && matches!(notice, Notice::FluidInAll { out: false, .. }));
    session.notices.extend(in_all.into_iter().filter(untold));
    Ok(Made::Nothing)
}

/// Tells what it comes to where something was said of it before: figures are added up, and whoever says one twice sees it.
fn in_all(row: Option<&FluidRow>, command: &RecordFluid) -> Vec<Notice> {
    let before = row.map_or((0, 0), |row| (row.drained_ml, row.filled_ml));
    let both = [(before.0, command.drained_ml, true), (before.1, command.filled_ml, false)];
    let added = both.into_iter().filter(|(before, now, _)| *before > 0 && *now > 0);
    let told = |(before, now, out): (i64, i64, bool)| Notice::FluidInAll {
        fluid: command.fluid.clone(),
        millilitres: before.saturating_add(now),
        out,
    };
    added.map(told).collect()
}

/// Tells what is back and has not cured: it is soon wet, warm, or on the road.
pub(in crate::decide) fn tell_curing(session: &mut Session, job: JobNo) {
    let at = session.at();
    let cures = |row: &PositionRow| Some((row.position.clone(), strip::cures_until(row, at)?));
    let cures: Vec<(PositionKey, Instant)> = strip::positions(session.state, job).filter_map(cures).collect();
    for (position, until) in cures {
        let minutes = until.minutes_since_up(at);
        session.notice(Notice::StillCures { position, minutes });
    }
}

/// Tells when more is in than came out, or, where nothing was said to be out, than should be in.
fn tell_over(session: &mut Session, job: JobNo, fluid: &FluidKey) {
    let Some(row) = session.state.fluids.get(&(job, fluid.clone())) else { return };
    let out = row.drained_ml > 0;
    let Some(most) = Some(row.drained_ml).filter(|_| out).or(row.expected_ml) else { return };
    if row.filled_ml > most {
        let (fluid, filled_ml) = (fluid.clone(), row.filled_ml);
        session.notice(Notice::FluidOver { fluid, filled_ml, most_ml: most, out });
    }
}

/// What the fluid book says against ticking a step: that nothing was said of what the step drains, or less than half is in of
/// what it fills. What else is missing stands in the list of the hand-over.
pub(in crate::decide) fn against(state: &State, row: &StepRow) -> Vec<Refusal> {
    let told = |millilitres: i64| amount(Quantity(millilitres), Some(Unit::Millilitre));
    let (stage, step) = (row.stage.clone(), row.step);
    let own = |fluid: &&FluidRow| fluid.stage.as_ref() == Some(&stage) && fluid.step == Some(step);
    let dry =
        condition::fluids(state, row.job).filter(own).filter(|fluid| fluid.drained_ml == 0 && fluid.note.is_none());
    let dry = dry.filter_map(|fluid| {
        let expected = told(fluid.expected_ml.filter(|expected| *expected > 0)?);
        Some(Refusal::FluidNotOut { stage: stage.clone(), step, fluid: fluid.fluid.clone(), expected })
    });
    let named = |fluid: &FluidRow| row.safety.fill.as_ref().is_some_and(|fill| fill.fluid == fluid.fluid);
    let filled = condition::fluids(state, row.job).filter(|fluid| named(fluid) || fills(state, row, fluid));
    let low = filled.filter_map(|fluid| {
        let wanted = if fluid.drained_ml > 0 { fluid.drained_ml } else { fluid.expected_ml.unwrap_or(0) };
        // Nearly nothing is nothing: an engine that runs on a cupful is lost.
        let short = fluid.filled_ml < wanted / 2 && wanted > 0;
        let filled = format!("{} of {}", told(fluid.filled_ml), told(wanted));
        let (stage, fluid) = (stage.clone(), fluid.fluid.clone());
        short.then_some(Refusal::FluidNotIn { stage, step, fluid, filled })
    });
    dry.chain(low).collect()
}

/// Whether a step leaves everything full that the step that drained this fluid has drained.
fn fills(state: &State, row: &StepRow, fluid: &FluidRow) -> bool {
    let drain = fluid.stage.clone().zip(fluid.step).and_then(|(stage, step)| state.steps.get(&(row.job, stage, step)));
    let Some(drain) = drain.filter(|drain| drain.state == StepState::Done || fluid.drained_ml > 0) else {
        return false;
    };
    let full = full_of(drain, &fluid.fluid);
    let is = |full: &VehicleState| condition::state_of(state, row.job, full.feature()) == *full;
    full.iter().any(|full| row.safety.sets.contains(full))
        && full.iter().all(|full| row.safety.sets.contains(full) || is(full))
}

/// Takes back that a system is full, when it is taken back that anything went in.
fn no_longer_full(session: &mut Session, row: &FluidRow, reason: &TextRef) -> Result<(), Refusal> {
    let drain = row.stage.clone().zip(row.step);
    let drain = drain.and_then(|(stage, step)| session.state.steps.get(&(row.job, stage, step))).cloned();
    for full in drain.map(|drain| full_of(&drain, &row.fluid)).unwrap_or_default() {
        let drained =
            if full == VehicleState::OilFull { VehicleState::OilDrained } else { VehicleState::CoolantDrained };
        if condition::state_of(session.state, row.job, full.feature()) == full {
            super::put(session, row.job, drained, None, Some(reason.clone()))?;
        }
    }
    Ok(())
}

/// A fluid of which the job knows nothing is asked about where it knows others: a slip of the keys would be a fluid of its
/// own, and the real one would count as untouched.
fn refuse_unlisted(state: &State, command: &RecordFluid) -> Result<(), Refusal> {
    let known: Vec<String> = condition::fluids(state, command.job).map(|row| format!("'{}'", row.fluid)).collect();
    let listed = known.iter().any(|key| *key == format!("'{}'", command.fluid));
    if command.unlisted || listed || known.is_empty() {
        return Ok(());
    }
    let known = listed_all(&known.iter().map(String::as_str).collect::<Vec<_>>());
    Err(Refusal::FluidUnlisted { job: command.job, fluid: command.fluid.clone(), known })
}

/// Refuses a step that fills what is nearly one of the job's fluids: a slip of the keys fills nothing. Another fluid may be met
/// on the way.
pub(in crate::decide) fn refuse_unlisted_fill(state: &State, job: JobNo, fluid: &FluidKey) -> Result<(), Refusal> {
    let known = || condition::fluids(state, job).map(|row| row.fluid.as_str());
    if known().any(|key| key == fluid.as_str()) {
        return Ok(());
    }
    let near = suggestion(fluid.as_str(), known());
    if near.is_empty() {
        Ok(())
    } else {
        Err(Refusal::invalid("fills", format!("'{fluid}' is no fluid of the job{near}")))
    }
}

fn refuse_sums(row: Option<&FluidRow>, command: &RecordFluid) -> Result<(), Refusal> {
    let drained = row.map_or(0, |row| row.drained_ml) + command.drained_ml;
    let filled = row.map_or(0, |row| row.filled_ml) + command.filled_ml;
    for (name, sum) in [("drained_ml", drained), ("filled_ml", filled)] {
        if sum > FLUID_MAX_ML {
            return Err(Refusal::invalid(
                name,
                format!("it makes more than {FLUID_MAX_ML} mL in all; check the figure"),
            ));
        }
    }
    let told = |millilitres: i64| amount(Quantity(millilitres), Some(Unit::Millilitre));
    let expected = row.and_then(|row| row.expected_ml);
    // A slip of the point: more than half as much again as it holds, or as came out.
    let most = expected.map(|expected| expected.max(drained)).filter(|most| filled > most + most / 2);
    if let Some(most) = most.filter(|_| command.filled_ml > 0 && command.note.is_none()) {
        let (expected, filled) = (told(most), told(filled));
        return Err(Refusal::FluidMore { fluid: command.fluid.clone(), expected, drained: filled });
    }
    match expected.filter(|expected| drained > *expected && command.drained_ml > 0 && command.note.is_none()) {
        Some(expected) => {
            let (expected, drained) = (told(expected), told(drained));
            Err(Refusal::FluidMore { fluid: command.fluid.clone(), expected, drained })
        }
        None => Ok(()),
    }
}

pub(in crate::decide) fn reopen(session: &mut Session, command: &ReopenFluid) -> Result<Made, Refusal> {
    form::text("reason", &command.reason)?;
    let job = look::open_job(session.state, session.context, command.job)?.job;
    let row = session.state.fluids.get(&(job, command.fluid.clone())).ok_or_else(|| Refusal::Unknown {
        what: "fluid",
        which: format!("{}' of job '{job}", command.fluid),
        todo: "`leadhand job show` lists them",
    })?;
    if (row.drained_ml, row.filled_ml) == (0, 0) {
        let what = format!("take back: nothing was said of fluid '{}' yet", command.fluid);
        return Err(Refusal::NothingToDo { what });
    }
    if let Some(said_at) = row.said_at.filter(|said_at| session.at() < *said_at) {
        return Err(look::too_early(format!("taking back '{}'", command.fluid), session.at(), said_at));
    }
    let (row, reason) = (row.clone(), session.seal(&command.reason));
    session.emit(Fact::FluidReopened { job, fluid: command.fluid.clone(), reason: reason.clone() })?;
    if row.filled_ml > 0 {
        no_longer_full(session, &row, &reason)?;
    }
    Ok(Made::Nothing)
}

/// Tells what is still in the vehicle: it runs out of whatever is opened.
fn tell_still_in(session: &mut Session, job: JobNo) {
    let left =
        condition::fluids(session.state, job).filter_map(|row| Some((row.fluid.clone(), condition::still_in(row)?)));
    let notices: Vec<Notice> = left.map(|(fluid, millilitres)| Notice::FluidLeft { fluid, millilitres }).collect();
    session.notices.extend(notices);
}

/// Tells, when a step that drains is ticked, what of its fluids is not said to be out.
pub(in crate::decide) fn tell_drained(session: &mut Session, step: &StepRow) {
    let own = |row: &&FluidRow| row.stage.as_ref() == Some(&step.stage) && row.step == Some(step.step);
    let notices: Vec<Notice> = condition::fluids(session.state, step.job).filter(own).filter_map(left_in).collect();
    session.notices.extend(notices);
}

/// Tells, when something comes off, what is still in the circuit that it opens: its step, or the step of something that
/// it lies behind, needs that drained.
pub(in crate::decide) fn tell_behind(session: &mut Session, job: JobNo, taken: &BTreeSet<PositionKey>) {
    let notices: Vec<Notice> = opened_by(session.state, job, taken).into_iter().filter_map(left_in).collect();
    session.notices.extend(notices);
}

/// Tells who starts a stage what is still in the circuits that it opens or fills; in any other stage it is no news.
pub(in crate::decide) fn tell_opened(session: &mut Session, stage: &StageRow) {
    let state = &*session.state;
    let own = strip::positions(state, stage.job)
        .filter(|row| row.stage == stage.stage && row.off_n.is_none() && row.detail.manner != Manner::In);
    let own: BTreeSet<PositionKey> = own.map(|row| row.position.clone()).collect();
    let opened = opened_by(state, stage.job, &own);
    let left = condition::fluids(state, stage.job)
        .filter(|row| row.back.as_ref() == Some(&stage.stage) || opened.iter().any(|one| one.fluid == row.fluid));
    let left = left.filter_map(|row| Some((row.fluid.clone(), condition::still_in(row)?)));
    let notices: Vec<Notice> = left.map(|(fluid, millilitres)| Notice::FluidLeft { fluid, millilitres }).collect();
    session.notices.extend(notices);
}

/// The fluids of the circuits that are opened when these come off.
fn opened_by<'s>(state: &'s State, job: JobNo, taken: &BTreeSet<PositionKey>) -> Vec<&'s FluidRow> {
    let drained: BTreeSet<VehicleState> =
        taken.iter().flat_map(|key| behind(state, job, key)).flat_map(|row| dry_for(state, row)).collect();
    let opened = |row: &&FluidRow| {
        let step = row.stage.clone().zip(row.step).and_then(|(stage, step)| state.steps.get(&(job, stage, step)));
        step.is_some_and(|step| step.safety.sets.iter().any(|set| drained.contains(set)))
    };
    condition::fluids(state, job).filter(opened).collect()
}

/// A position and everything that it lies behind, by whatever way.
fn behind<'s>(state: &'s State, job: JobNo, position: &PositionKey) -> Vec<&'s PositionRow> {
    let (mut seen, mut ahead, mut found) = (BTreeSet::new(), vec![position.clone()], Vec::new());
    while let Some(key) = ahead.pop() {
        let Some(row) = state.positions.get(&(job, key.clone())).filter(|_| seen.insert(key)) else { continue };
        ahead.extend(row.detail.behind.iter().cloned());
        found.push(row);
    }
    found
}

/// Which systems have to be drained before a position comes off.
fn dry_for<'s>(state: &'s State, row: &PositionRow) -> impl Iterator<Item = VehicleState> + use<'s> {
    let step = row.step.and_then(|step| state.steps.get(&(row.job, row.stage.clone(), step)));
    let dry = |need: &&VehicleState| matches!(need, VehicleState::CoolantDrained | VehicleState::OilDrained);
    step.into_iter().flat_map(move |step| step.safety.needs.iter().filter(dry).copied())
}

/// What should be out and is not said to be; nothing once it is filled again.
fn left_in(row: &FluidRow) -> Option<Notice> {
    let (fluid, expected) = (row.fluid.clone(), row.expected_ml?);
    match row.drained_ml {
        _ if row.filled_ml > 0 => None,
        // Somebody said why nothing came out.
        0 if row.note.is_some() => None,
        0 => Some(Notice::FluidUnsaid { fluid, millilitres: expected }),
        _ => condition::still_in(row).map(|millilitres| Notice::FluidLeft { fluid, millilitres }),
    }
}
