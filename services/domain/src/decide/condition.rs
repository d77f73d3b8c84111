//! What a step asks of the vehicle and of whoever does it; states that are said by word of mouth; and the hand-over.

mod fluids;
mod live;
mod looks;
mod ways;

pub(super) use fluids::{refuse_unlisted_fill, tell_behind, tell_curing, tell_drained};
pub(super) use live::{refuse_voltage, tell_high_voltage, tell_live};
pub(super) use looks::{look_again, looked};
pub(super) use ways::refuse_called;

use crate::answer::{Made, Notice};
use crate::check as form;
use crate::command::{CallLead, Command, SetVehicleStates};
use crate::condition;
use crate::context::Context;
use crate::decide::{place, proof, skills};
use crate::hazard::{DEFERENCE, HIGH_VOLTAGE_SKILL};
use crate::look;
use crate::need::Need;
use crate::reading;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip;
use crate::toolbox::listed;
use leadhand_facts::rows::{ClockingRow, PositionRow, StageRow, StepRow, WayRow};
use leadhand_facts::template::Caution;
use leadhand_facts::words::{Feature, StepState, VehicleState};
use leadhand_facts::{Fact, Instant, JobNo, PersonId, PositionKey, StepNo, TextRef};
use std::collections::{BTreeMap, BTreeSet};

/// What only a lead may do about a state or a hold point.
pub(super) const NOT_SAFE: &str = "let a step be done while the vehicle is not in a state that it needs or not whole, or a hold point before it was not passed";
/// What only a lead may do about a hold point.
pub(super) const LEAVE_HOLD: &str = "leave out a hold point";

/// Decides a command about the condition of a vehicle; nothing for any other.
pub(super) fn decide(session: &mut Session, command: &Command) -> Option<Result<Made, Refusal>> {
    Some(match command {
        Command::SetVehicleStates(c) => set(session, c),
        Command::RecordFluid(c) => fluids::record(session, c),
        Command::ReopenFluid(c) => fluids::reopen(session, c),
        Command::ProposeWay(c) => ways::propose(session, c),
        Command::DecideWay(c) => ways::decide(session, c),
        Command::CallLead(c) => ways::call_lead(session, c),
        _ => return None,
    })
}

/// What such a command needs to see.
pub(super) fn needs(state: &State, command: &Command, context: &Context) -> Vec<Need> {
    let job = match command {
        Command::SetVehicleStates(c) => c.job,
        Command::RecordFluid(c) => c.job,
        Command::ReopenFluid(c) => c.job,
        Command::ProposeWay(c) => c.job,
        Command::DecideWay(c) => c.job,
        Command::CallLead(CallLead { job: Some(job), .. }) => *job,
        Command::CallLead(_) => {
            return super::needs::of_clock_off(state, context.actor.person, super::needs::since(context.happened_at));
        }
        _ => return Vec::new(),
    };
    vec![Need::Job(job)]
}

/// Says that a vehicle is in other states now.
fn set(session: &mut Session, command: &SetVehicleStates) -> Result<Made, Refusal> {
    form::text_some("reason", command.reason.as_deref())?;
    let job = look::open_job(session.state, session.context, command.job)?.job;
    if command.states.is_empty() {
        return Err(Refusal::invalid("states", "none is named; name the states that the vehicle is in"));
    }
    let mut features = BTreeSet::new();
    for (at, state) in command.states.iter().enumerate() {
        if !features.insert(state.feature()) {
            let why = format!("'{}' has a state already; say it once", state.feature());
            return Err(Refusal::invalid(format!("states[{at}]"), why));
        }
        refuse_high_voltage(session, job, *state, command.reason.is_some())?;
        let said = session.state.vehicle_states.get(&(job, state.feature())).map(|row| row.set_at);
        if let Some(set_at) = said.filter(|set_at| session.at() < *set_at) {
            return Err(look::too_early(format!("'{state}'"), session.at(), set_at));
        }
    }
    // What a step left live is found anew: it counts for more than how the vehicle works.
    let found = |state: VehicleState| {
        let row = session.state.vehicle_states.get(&(job, state.feature()));
        state == VehicleState::HighVoltageLive && row.is_some_and(|row| row.stage.is_some())
    };
    let left =
        |state: &&VehicleState| condition::state_of(session.state, job, state.feature()) != **state || found(**state);
    let left: Vec<VehicleState> = command.states.iter().filter(left).copied().collect();
    if left.is_empty() {
        return Err(Refusal::NothingToDo { what: "set: the vehicle is in these states already".to_owned() });
    }
    let reason = session.seal_some(command.reason.as_deref());
    for state in left {
        put(session, job, state, None, reason.clone())?;
        tell_open(session, job, state);
        if state == VehicleState::HighVoltageLive {
            live::call_lead(session, job, reason.as_ref())?;
        }
    }
    Ok(Made::Nothing)
}

/// Tells what is open while the vehicle is in a state that brings it to life. Whoever says it saw it, so it is not refused.
fn tell_open(session: &mut Session, job: JobNo, state: VehicleState) {
    let open = strip::open_while(session.state, job, state, session.at());
    let positions: Vec<PositionKey> = open.into_iter().map(|row| row.position.clone()).collect();
    if !positions.is_empty() {
        session.notice(Notice::NotWhole { state, positions });
    }
}

/// Whoever looks for high voltage answers for it by name, and whoever isolates it is qualified.
fn refuse_high_voltage(session: &Session, job: JobNo, state: VehicleState, why: bool) -> Result<(), Refusal> {
    if state.feature() != Feature::HighVoltage {
        return Ok(());
    }
    let person = proof::by_name(session, "say something about high voltage")?;
    // Whoever finds it live says so, whatever was said before.
    if state == VehicleState::HighVoltageLive {
        return Ok(());
    }
    let was = condition::state_of(session.state, job, Feature::HighVoltage);
    // "None" is said where nobody found any, and no word against who is qualified.
    let argued = matches!(was, VehicleState::HighVoltageLive | VehicleState::HighVoltageIsolated);
    // Who said a wrong word takes it back, as long as nothing was said since; but nobody makes it isolated by that.
    let own = session.state.vehicle_states.get(&(job, Feature::HighVoltage)).filter(|row| {
        let said = row.stage.is_none() && row.person == Some(person) && row.state == VehicleState::HighVoltageLive;
        said && row.before == state && state != VehicleState::HighVoltageIsolated
    });
    if why && own.is_some() {
        return Ok(());
    }
    if (state == VehicleState::HighVoltageIsolated || argued) && !is_qualified(session.state, Some(person)) {
        return Err(Refusal::HighVoltage { what: format!("'{state}'") });
    }
    Ok(())
}

fn is_qualified(state: &State, person: Option<PersonId>) -> bool {
    let found = person.and_then(|person| state.persons.get(&(person,)));
    found.is_some_and(|found| found.skills.iter().any(|skill| skill == HIGH_VOLTAGE_SKILL))
}

/// The vehicle is in this state now.
fn put(
    session: &mut Session,
    job: JobNo,
    state: VehicleState,
    by: Option<&StepRow>,
    reason: Option<TextRef>,
) -> Result<(), Refusal> {
    let before = condition::state_of(session.state, job, state.feature());
    let (stage, step) = (by.map(|row| row.stage.clone()), by.map(|row| row.step));
    let person = session.context.actor.person;
    session.emit(Fact::VehicleStateSet { job, state, before, person, stage, step, reason })?;
    Ok(())
}

/// What a step leaves the vehicle in. Where somebody said something later, that stands.
pub(super) fn set_by_step(session: &mut Session, row: &StepRow) -> Result<(), Refusal> {
    for state in &row.safety.sets {
        let said = session.state.vehicle_states.get(&(row.job, state.feature())).map(|row| row.set_at);
        if said.is_none_or(|said| said <= session.at()) {
            put(session, row.job, *state, Some(row), None)?;
        }
    }
    Ok(())
}

/// A step that is taken back takes back the states that it brought about, as far as nothing was said since.
pub(super) fn unset_by_step(session: &mut Session, row: &StepRow, reason: &TextRef) -> Result<(), Refusal> {
    let own = condition::states(session.state, row.job)
        .filter(|state| state.stage.as_ref() == Some(&row.stage) && state.step == Some(row.step));
    let before: Vec<VehicleState> = own.map(|state| state.before).collect();
    let safe =
        |state: &VehicleState| matches!(state, VehicleState::HighVoltageIsolated | VehicleState::HighVoltageNone);
    let live = before.iter().any(safe);
    if live && !is_qualified(session.state, session.context.actor.proved) {
        return Err(Refusal::HighVoltage { what: format!("step {} of stage '{}'", row.step, row.stage) });
    }
    before.into_iter().try_for_each(|state| put(session, row.job, state, None, Some(reason.clone())))
}

/// Refuses whoever is not qualified what a step about high voltage takes off or puts in, whenever it is worked on: it is no
/// less about it when it goes back, and nobody overrides that.
pub(super) fn refuse_unqualified(session: &Session, row: &PositionRow) -> Result<(), Refusal> {
    let about = condition::touches_high_voltage(session.state, row);
    if about && !is_qualified(session.state, session.context.actor.proved) {
        return Err(Refusal::HighVoltage { what: format!("'{}'", row.position) });
    }
    Ok(())
}

/// All that stands against doing a step, as far as a lead may overrule it. What nobody overrules is refused.
pub(super) fn objection(session: &Session, row: &StepRow) -> Result<Vec<Refusal>, Refusal> {
    let state = &*session.state;
    let (stage, step) = (row.stage.clone(), row.step);
    if let Some(way) = state.ways.get(&(row.job, stage.clone(), step)).filter(|way| way.approved.is_none()) {
        return Err(Refusal::WayUndecided { stage: way.stage.clone(), step });
    }
    // A look in a stage that asks for the skill is a look at high voltage.
    let asked = state
        .stages
        .get(&(row.job, stage.clone()))
        .is_some_and(|row| row.skills.iter().any(|skill| skill == HIGH_VOLTAGE_SKILL));
    let about = condition::is_about_high_voltage(row) || (asked && row.safety.hold.is_some());
    if about && !is_qualified(state, session.context.actor.proved) {
        return Err(Refusal::HighVoltage { what: format!("step {step} of stage '{stage}'") });
    }
    let is = |need: &VehicleState| condition::state_of(state, row.job, need.feature());
    let missing: Vec<&VehicleState> = row.safety.needs.iter().filter(|need| is(need) != **need).collect();
    if missing.iter().any(|need| need.feature() == Feature::HighVoltage) {
        return Err(Refusal::HighVoltage { what: format!("step {step} of stage '{stage}'") });
    }
    let wants: Vec<String> = missing.iter().map(|need| format!("'{need}' and it is '{}'", is(need))).collect();
    let wanted = (!wants.is_empty()).then(|| (stage.clone(), step, wants.join(", ")));
    let wanted = wanted.map(|(stage, step, wants)| Refusal::StateWanted { stage, step, wants });
    let holds = condition::holds_before(state, row).map(|hold| {
        let (stage, what) = (stage.clone(), what_of(hold));
        Refusal::HoldNotPassed { stage, step, hold: hold.step, what }
    });
    let unskilled = skills::against_step(session, row)?;
    Ok(wanted.into_iter().chain(holds).chain(unskilled).collect())
}

/// What stands against ticking a step: the vehicle is not as the step needs it, or not whole enough for what the step
/// does to it.
pub(super) fn against_tick(session: &Session, row: &StepRow) -> Result<Vec<Refusal>, Refusal> {
    let mut all = objection(session, row)?;
    let open = waking_open(session.state, row, session.at());
    if let Some(Refusal::WakesOpen { stage, step, open, .. }) = &open
        && row.safety.sets.contains(&VehicleState::HighVoltageLive)
    {
        return Err(Refusal::VoltageOpen { stage: stage.clone(), step: *step, open: open.clone() });
    }
    all.extend(open);
    all.extend(hold_not_whole(session.state, row));
    all.extend(fluids::against(session.state, row));
    Ok(all)
}

/// What is open of the strip book when a step brings the vehicle to life, or goes on with it alive.
fn waking_open(state: &State, row: &StepRow, at: Instant) -> Option<Refusal> {
    let (mut states, mut open) = (Vec::new(), BTreeMap::new());
    // A step that ends what it needs makes it safe, and waits for nobody.
    let ends = |need: &&VehicleState| row.safety.sets.iter().any(|set| set.feature() == need.feature());
    let needs = row.safety.needs.iter().filter(|need| !ends(need));
    let asked = row.safety.sets.iter().map(|set| (set, strip::open_before(state, row, *set, at)));
    for (set, found) in asked.chain(needs.map(|need| (need, strip::open_alive(state, row, *need, at)))) {
        if !found.is_empty() {
            states.push(format!("'{set}'"));
            open.extend(found.into_iter().map(|row| (row.position.clone(), row)));
        }
    }
    let open: Vec<&PositionRow> = open.into_values().collect();
    let (stage, step, states) =
        (row.stage.clone(), row.step, listed(&states.iter().map(String::as_str).collect::<Vec<_>>()));
    (!open.is_empty()).then(|| Refusal::WakesOpen { stage, step, states, open: strip::said(&open) })
}

/// What is not whole of what the last look of a stage looks at.
fn hold_not_whole(state: &State, row: &StepRow) -> Option<Refusal> {
    let open = strip::open_at_hold(state, row);
    let (stage, step, what) = (row.stage.clone(), row.step, what_of(row));
    (!open.is_empty()).then(|| Refusal::HoldNotWhole { stage, step, what, open: strip::said(&open) })
}

fn what_of(row: &StepRow) -> String {
    row.safety.hold.as_ref().map(|hold| hold.what.clone()).unwrap_or_default()
}

/// Who passes a hold point: somebody by name, who named it, after what comes before it in the stage; another than who did
/// that where a second pair of eyes is asked for. Nobody for a step that is none.
pub(super) fn passes(session: &Session, row: &StepRow, named: bool) -> Result<Option<PersonId>, Refusal> {
    let Some(hold) = &row.safety.hold else { return Ok(None) };
    let (stage, step) = (row.stage.clone(), row.step);
    if !named {
        return Err(Refusal::HoldByName { stage, step, what: hold.what.clone() });
    }
    let person = proof::by_name(session, "pass a hold point")?;
    // Whoever looks at the vehicle stands in front of it, where the stage is done.
    place::refuse_elsewhere(session, look::stage(session.state, row.job, &row.stage)?)?;
    let earlier: Vec<&StepRow> =
        look::steps(session.state, row.job, &row.stage).take_while(|other| other.step < step).collect();
    let left = earlier.iter().filter(|other| other.state == StepState::Pending && other.safety.hold.is_none());
    let left: Vec<String> = left.map(|other| other.step.to_string()).collect();
    if !left.is_empty() {
        return Err(Refusal::HoldTooEarly { stage, step, left: left.join(", ") });
    }
    // A look vouches for what was there by then.
    let worked = earlier.iter().filter(|other| other.safety.hold.is_none()).filter_map(|other| other.done_at);
    let fitted = strip::positions(session.state, row.job).filter(|other| goes_back(other, row));
    let last = worked.chain(fitted.filter_map(|other| other.back_at)).max();
    if let Some(last) = last.filter(|last| session.at() < *last) {
        return Err(look::too_early(format!("hold point {step} of stage '{stage}'"), session.at(), last));
    }
    let did = earlier.iter().any(|other| other.done_by == Some(person) && other.safety.hold.is_none());
    let own = strip::positions(session.state, row.job).filter(|other| other.stage == row.stage);
    let back = strip::positions(session.state, row.job).filter(|other| goes_back(other, row));
    let hands = own.filter_map(|other| other.off_by).chain(back.flat_map(|other| other.hands.iter().copied()));
    let took = reading::of_stage(session.state, row.job, &row.stage).filter_map(|reading| reading.taken_by);
    let did = did || hands.chain(took).any(|one| one == person);
    let mut time = session.state.clockings.iter().filter(|time| (time.job, &time.stage) == (row.job, &row.stage));
    if hold.second {
        proof::own_eyes(session, person)?;
    }
    if hold.second && (did || time.any(|time| time.person == person)) {
        return Err(Refusal::HoldOwnWork { stage, step, what: hold.what.clone() });
    }
    if let Some(work) = nobodys(session.state, row, person).filter(|_| hold.second) {
        return Err(Refusal::HoldNobodysWork { stage, step, what: hold.what.clone(), work });
    }
    Ok(Some(person))
}

/// Whether putting something back is work of the stage of a step.
fn goes_back(position: &PositionRow, step: &StepRow) -> bool {
    position.detail.back.as_ref().unwrap_or(&position.stage) == &step.stage
}

/// Work before a hold point of which nobody can tell whose it was: recorded at a device without a name, while nobody else
/// was clocked on to the stage.
fn nobodys(state: &State, hold: &StepRow, looks: PersonId) -> Option<String> {
    let (job, stage) = (hold.job, &hold.stage);
    let steps = look::steps(state, job, stage).take_while(|other| other.step < hold.step);
    let steps = steps.filter(|step| step.safety.hold.is_none() && step.state == StepState::Done);
    let steps = steps.map(|step| (step.done_by, step.done_at, format!("step {}", step.step)));
    let own = strip::positions(state, job).filter(|row| row.stage == *stage);
    let off = own.map(|row| (row.off_by, row.off_at, format!("'{}'", row.position)));
    let back = strip::positions(state, job).filter(|row| goes_back(row, hold) && row.unnamed);
    let positions = off.chain(back.map(|row| (None, row.back_at, format!("'{}'", row.position))));
    let taken = reading::of_stage(state, job, stage);
    let taken = taken.map(|row| (row.taken_by, row.taken_at, format!("reading '{}'", row.reading)));
    let known = |at: Instant| {
        let on = |time: &&ClockingRow| (time.job, &time.stage) == (job, stage) && time.person != looks;
        let then = |time: &ClockingRow| time.from_at <= at && time.until_at.is_none_or(|until| at <= until);
        state.clockings.iter().filter(on).any(then)
    };
    let mut work = steps.chain(positions).chain(taken);
    work.find_map(|(by, at, what)| at.filter(|at| by.is_none() && !known(*at)).map(|_| what))
}

/// Refuses time on a stage of somebody who passed a hold point of it after that as a second pair of eyes.
pub(super) fn refuse_looked(state: &State, stage: &StageRow, person: PersonId, from: Instant) -> Result<(), Refusal> {
    let looked = look::steps(state, stage.job, &stage.stage).find_map(|step| {
        let second = step.safety.hold.as_ref().is_some_and(|hold| hold.second);
        let passed = second && step.state == StepState::Done && step.done_by == Some(person);
        Some((step.step, step.done_at.filter(|done_at| passed && from < *done_at)?))
    });
    looked.map_or(Ok(()), |(step, passed_at)| {
        Err(Refusal::LookedAtOwnWork { stage: stage.stage.clone(), step, passed_at })
    })
}

/// Hold points of a stage behind these steps that were passed: what they looked at is done anew, so they are as well.
pub(super) fn passed_behind(state: &State, stage: &StageRow, step: &StepRow) -> Vec<StepRow> {
    let work = step.safety.hold.is_none();
    let later = look::steps(state, stage.job, &stage.stage).filter(|other| work && other.step > step.step);
    later.filter(|other| other.safety.hold.is_some() && other.state == StepState::Done).cloned().collect()
}

/// Only a lead leaves a hold point out, or a stage that waits for the lead.
pub(super) fn refuse_leaving(session: &Session, stage: &StageRow, steps: &[StepNo]) -> Result<(), Refusal> {
    let mut own = look::steps(session.state, stage.job, &stage.stage).filter(|row| steps.contains(&row.step));
    if own.any(|row| row.safety.hold.is_some()) {
        proof::lead_by_name(session, LEAVE_HOLD)?;
    }
    Ok(())
}

/// Tells who starts a stage what can hurt in it, gravest first, each caution once; and last what comes before all of them.
pub(super) fn tell_cautions(session: &mut Session, stage: &StageRow) {
    let steps = look::steps(session.state, stage.job, &stage.stage).filter(|step| step.state == StepState::Pending);
    let said = steps.flat_map(|step| step.cautions.iter().map(|caution| (caution, step.step)));
    let mut all: Vec<(&Caution, StepNo)> = Vec::new();
    for (caution, step) in said {
        if all.iter().all(|(known, _)| known.text != caution.text) {
            all.push((caution, step));
        }
    }
    // Stable: of the same word what comes first in the work comes first.
    all.sort_by_key(|(caution, _)| (caution.text == DEFERENCE, caution.word));
    let told = all.into_iter().map(|(caution, step)| {
        let Caution { word, text } = caution.clone();
        Notice::Mind { word, step, text }
    });
    let told: Vec<Notice> = told.collect();
    session.notices.extend(told);
}

/// Tells who starts a stage which states its steps will miss, and what is still in the vehicle.
pub(super) fn tell(session: &mut Session, stage: &StageRow) {
    let wanted = condition::wanted(session.state, stage);
    session.notices.extend(wanted.into_iter().map(|(step, state, is)| Notice::StateWanted {
        stage: stage.stage.clone(),
        step,
        state,
        is,
    }));
    fluids::tell_opened(session, stage);
}

/// Tells at the hand-over where something else was done than the book says.
pub(super) fn tell_ways(session: &mut Session, job: JobNo) {
    let ways = condition::ways(session.state, job).filter(|row| row.approved == Some(true));
    let done = |row: &&WayRow| {
        let step = session.state.steps.get(&(job, row.stage.clone(), row.step));
        step.is_some_and(|step| step.state == StepState::Done)
    };
    let ways = ways.filter(done);
    let notices: Vec<Notice> = ways.map(|row| Notice::OtherWay { stage: row.stage.clone(), step: row.step }).collect();
    session.notices.extend(notices);
}
