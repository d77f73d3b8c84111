//! What can hurt whoever opens something now: the caution is told, and stops nothing.

use crate::answer::Notice;
use crate::condition;
use crate::look;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::{PositionRow, StepRow};
use leadhand_facts::words::{Feature, Hazard, VehicleState};
use leadhand_facts::{JobNo, PositionKey, StageKey};
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

/// Why the battery should be off for a position: its step asks for that, or, where nobody listed it, a step of the stage.
fn asks_battery_off(state: &State, stage: &StageKey, row: &PositionRow) -> Option<Hazard> {
    let steps = look::steps(state, row.job, stage).filter(|step| row.step.is_none_or(|own| own == step.step));
    steps.filter_map(|step| battery_off(step, row.step.is_some())).min()
}

fn battery_off(step: &StepRow, own: bool) -> Option<Hazard> {
    // What the step takes off that isolates the battery comes off before that.
    if own && step.safety.sets.contains(&VehicleState::BatteryIsolated) {
        return None;
    }
    let hazard = BATTERY_OFF.into_iter().find(|hazard| step.safety.hazards.contains(hazard));
    let needs = step.safety.needs.contains(&VehicleState::BatteryIsolated);
    hazard.or(needs.then_some(Hazard::Battery))
}
