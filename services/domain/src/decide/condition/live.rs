//! What can hurt whoever opens something now: the caution is told, and stops nothing.

use crate::answer::Notice;
use crate::condition;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::{PositionRow, StageRow, StepRow, VehicleStateRow};
use leadhand_facts::words::{Feature, Hazard, StageState, VehicleState};
use leadhand_facts::{JobNo, PositionKey, StageKey, TextRef};
use std::collections::BTreeSet;

/// States in which whatever is opened can hurt, and what does. They count once they were said: how a vehicle comes is no
/// news.
const LIVE: [(VehicleState, Hazard); 3] = [
    (VehicleState::HighVoltageLive, Hazard::HighVoltage),
    (VehicleState::FuelPressureLive, Hazard::Fuel),
    (VehicleState::TemperatureHot, Hazard::HotCoolant),
];

/// Hazards whose cautions ask for the battery to be off, gravest first.
const BATTERY_OFF: [Hazard; 3] = [Hazard::HighVoltage, Hazard::Fuel, Hazard::Airbag];

/// Tells, when these came off or are off again, what can hurt at the vehicle as it is: listed or met on the way.
pub(in crate::decide) fn tell_live(
    session: &mut Session,
    job: JobNo,
    stage: &StageKey,
    opened: &BTreeSet<PositionKey>,
) {
    let state = &*session.state;
    let open: Vec<&PositionRow> = opened.iter().filter_map(|key| state.positions.get(&(job, key.clone()))).collect();
    if open.iter().all(|row| row.off_n.is_none()) {
        return;
    }
    let said =
        |live: VehicleState| state.vehicle_states.get(&(job, live.feature())).is_some_and(|row| row.state == live);
    let mut notices: Vec<Notice> = LIVE
        .into_iter()
        .filter(|(live, _)| said(*live))
        .map(|(state, hazard)| Notice::LiveNow { state, hazard })
        .collect();
    if condition::state_of(state, job, Feature::Battery) == VehicleState::BatteryConnected {
        let asks = open.iter().filter_map(|row| asks_battery_off(state, stage, row)).min();
        notices.extend(asks.map(|hazard| Notice::LiveNow { state: VehicleState::BatteryConnected, hazard }));
    }
    session.notices.extend(notices);
}

/// Tells whoever starts a stage that high voltage is live, as somebody said.
pub(in crate::decide) fn tell_high_voltage(session: &mut Session, job: JobNo) {
    let said = session.state.vehicle_states.get(&(job, Feature::HighVoltage));
    if said.is_some_and(|row| row.state == VehicleState::HighVoltageLive) {
        session.notice(Notice::LiveNow { state: VehicleState::HighVoltageLive, hazard: Hazard::HighVoltage });
    }
}

/// Refuses to begin or to open anything where somebody said that high voltage is live, unless who acts is qualified. What a
/// step brought about as the template has it is how that vehicle works, and is told only.
pub(in crate::decide) fn refuse_voltage(
    session: &Session,
    job: JobNo,
    what: impl FnOnce() -> String,
) -> Result<(), Refusal> {
    let said = session.state.vehicle_states.get(&(job, Feature::HighVoltage));
    let found = |row: &VehicleStateRow| row.state == VehicleState::HighVoltageLive && row.stage.is_none();
    let live = said.is_some_and(|row| found(row) && row.set_at <= session.at());
    if live && !super::is_qualified(session.state, session.context.actor.proved) {
        return Err(Refusal::VoltageFound { job, what: what() });
    }
    Ok(())
}

/// Calls the lead to every stage that is under way: whoever passes the bay sees it, and the work there waits.
pub(super) fn call_lead(session: &mut Session, job: JobNo, reason: Option<&TextRef>) -> Result<(), Refusal> {
    let left = look::stages_in_order(session.state, job).into_iter().filter(|row| !look::is_ended(row));
    let left: Vec<&StageRow> = left.collect();
    let active: Vec<&StageRow> = left.iter().filter(|row| row.state == StageState::Active).copied().collect();
    // Where nobody works, whoever begins next.
    let meant = if active.is_empty() { left.into_iter().take(1).collect() } else { active };
    let uncalled = meant.into_iter().filter(|row| condition::called(session.state, job, &row.stage).is_none());
    let stages: Vec<StageKey> = uncalled.map(|row| row.stage.clone()).collect();
    let note = reason.cloned().unwrap_or_else(|| session.seal("high voltage is live"));
    for stage in stages {
        super::ways::raise(session, job, stage, Some(note.clone()))?;
    }
    Ok(())
}

/// Why the battery should be off for a position: its step asks for that, or, where nobody listed it, a step of the stage.
fn asks_battery_off(state: &State, stage: &StageKey, row: &PositionRow) -> Option<Hazard> {
    let steps = look::steps(state, row.job, stage).filter(|step| row.step.is_none_or(|own| own == step.step));
    let dead = condition::state_of(state, row.job, Feature::HighVoltage) == VehicleState::HighVoltageIsolated;
    steps.filter_map(|step| battery_off(step, row.step.is_some(), dead)).min()
}

/// Where high voltage is isolated, as somebody qualified said, it is no reason any more.
fn battery_off(step: &StepRow, own: bool, dead: bool) -> Option<Hazard> {
    // What the step takes off that isolates the battery comes off before that.
    if own && step.safety.sets.contains(&VehicleState::BatteryIsolated) {
        return None;
    }
    let mut reasons = BATTERY_OFF.into_iter().filter(|hazard| !dead || *hazard != Hazard::HighVoltage);
    let hazard = reasons.find(|hazard| step.safety.hazards.contains(hazard));
    let needs = step.safety.needs.contains(&VehicleState::BatteryIsolated);
    hazard.or(needs.then_some(Hazard::Battery))
}
