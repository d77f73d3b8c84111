//! What has to be whole before a vehicle comes to life: before the battery is on, the fuel line under pressure, a system
//! full, the engine run, or the vehicle back on its wheels.

use super::balance::{not_tight, pieces_left, places_left};
use super::order::{cures_until, is_open};
use super::positions;
use crate::look;
use crate::state::State;
use leadhand_facts::rows::{PositionRow, StageRow, StepRow};
use leadhand_facts::words::{Manner, StageState, StepState, VehicleState};
use leadhand_facts::{Instant, JobNo, StageKey};
use std::collections::BTreeSet;

/// What a state asks of the strip book beside that what is due is back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(clippy::struct_excessive_bools, reason = "each is asked by itself, and any may go with any")]
struct Waking {
    /// Whatever was put in is out, whenever it would be due.
    all_out: bool,
    /// What is back is tight.
    tight: bool,
    /// What seals has cured.
    cured: bool,
    /// What is back was looked at by a second person where that is asked for.
    seen: bool,
}

impl Waking {
    /// Whether something is back and not yet as it has to be for this.
    fn finds(self, row: &PositionRow, at: Instant) -> bool {
        let soft = self.cured && cures_until(row, at).is_some();
        (self.tight && (not_tight(row).is_some() || fewer(row))) || soft || (self.seen && unseen(row))
    }
}

/// The states that bring a vehicle to life. Turning the engine by hand is work on an open engine and is none of them; nor
/// are latching the bonnet, closing ports and bleeding brakes.
fn waking(state: VehicleState) -> Option<Waking> {
    use VehicleState as V;
    match state {
        // Current reaches everything, and nothing is under pressure yet: trim may still be loose.
        V::BatteryConnected | V::AirbagsLive | V::HighVoltageLive => {
            Some(Waking { all_out: true, tight: false, cured: false, seen: false })
        }
        // Pressure and turning parts find every bolt that is only hand-tight.
        V::FuelPressureLive => Some(Waking { all_out: true, tight: true, cured: false, seen: false }),
        // A seal that has not cured is washed out of its joint.
        V::CoolantFull | V::OilFull => Some(Waking { all_out: true, tight: true, cured: true, seen: false }),
        // It runs: nobody looks at the tightening of a head or a timing drive after that.
        V::TemperatureHot => Some(Waking { all_out: true, tight: true, cured: true, seen: true }),
        // A vehicle is moved with its engine apart, covers in; and wheels are tightened on the floor.
        V::SupportWheels | V::RollingFree => Some(Waking { all_out: false, tight: false, cured: false, seen: false }),
        _ => None,
    }
}

/// Positions that stand against a step that goes on with current, pressure or a running engine: what is due by then, as where
/// a step brings that about. What is in for later work may stay in, and a full system or wheels on the floor ask for nothing.
pub(crate) fn open_alive<'s>(
    state: &'s State,
    step: &StepRow,
    need: VehicleState,
    at: Instant,
) -> Vec<&'s PositionRow> {
    use VehicleState as V;
    let alive = matches!(
        need,
        V::BatteryConnected | V::AirbagsLive | V::HighVoltageLive | V::FuelPressureLive | V::TemperatureHot
    );
    let asks = waking(need).filter(|_| alive);
    asks.map(|asks| open_by(state, step, Waking { all_out: false, ..asks }, at)).unwrap_or_default()
}

/// Whether a step brings the vehicle to life.
pub(crate) fn wakes(step: &StepRow) -> bool {
    step.safety.sets.iter().any(|state| waking(*state).is_some())
}

/// Positions that stand against a state to which a step brings the vehicle.
pub(crate) fn open_before<'s>(
    state: &'s State,
    step: &StepRow,
    set: VehicleState,
    at: Instant,
) -> Vec<&'s PositionRow> {
    waking(set).map(|asks| open_by(state, step, asks, at)).unwrap_or_default()
}

fn open_by<'s>(state: &'s State, step: &StepRow, asks: Waking, at: Instant) -> Vec<&'s PositionRow> {
    let before = before(state, step.job, &step.stage);
    let due = |row: &PositionRow| match &row.detail.back {
        Some(back) => *back == step.stage || before.contains(back) || is_over(state, step.job, back),
        // Nobody said when it goes back, so it should be; but a vehicle may be lowered in the stage that takes it off.
        None => asks.all_out || before.contains(&row.stage),
    };
    let stands = |row: &&PositionRow| {
        let inside = row.detail.manner == Manner::In && asks.all_out;
        (is_open(row) && (inside || due(row))) || (asks.finds(row, at) && due(row))
    };
    positions(state, step.job).filter(stands).collect()
}

/// Positions that are open while a vehicle is in this state, whenever they would be due.
pub(crate) fn open_while(state: &State, job: JobNo, set: VehicleState, at: Instant) -> Vec<&PositionRow> {
    let Some(asks) = waking(set) else { return Vec::new() };
    let stands = |row: &&PositionRow| is_open(row) || asks.finds(row, at);
    positions(state, job).filter(stands).collect()
}

/// What goes back in the stage of a hold point and is not back and tight, where the hold point looks at all of it: the
/// template says so, or no work that it planned comes after it in its stage.
pub(crate) fn open_at_hold<'s>(state: &'s State, hold: &StepRow) -> Vec<&'s PositionRow> {
    let (job, stage) = (hold.job, &hold.stage);
    let left = |step: &StepRow| step.step > hold.step && is_work(step) && step.state == StepState::Pending;
    let whole = hold.safety.hold.as_ref().map(|hold| hold.whole);
    if whole.is_none() || (whole == Some(false) && look::steps(state, job, stage).any(left)) {
        return Vec::new();
    }
    // A template that says so means all that is due by then, and not only what goes back in this stage.
    let earlier = if whole == Some(true) { before(state, job, stage) } else { BTreeSet::new() };
    let here = |back: &StageKey| back == stage || earlier.contains(back);
    // Nobody said where it goes back: a look at all of it misses it as well.
    let nowhere = |row: &PositionRow| whole == Some(true) && row.detail.back.is_none() && here(&row.stage);
    let due = |row: &&PositionRow| {
        let back = row.detail.back.as_ref();
        row.off_n.is_some() && back.map_or_else(|| nowhere(row), here)
    };
    positions(state, job).filter(due).filter(|row| is_open(row) || not_tight(row).is_some() || fewer(row)).collect()
}

/// Off, and fewer of it were found than are listed: the rest may lie where it turns.
pub(crate) fn fewer(row: &PositionRow) -> bool {
    let off = row.off_n.is_some() && row.detail.manner != Manner::In && !super::never_there(row);
    off && row.found + row.missing < row.detail.count
}

/// Whether a step is work as the template has it. What was added on the way stands at the end of its stage, wherever it is
/// done.
pub(crate) fn is_work(step: &StepRow) -> bool {
    step.safety.hold.is_none() && !step.unplanned && step.fits.is_none()
}

/// Whether something that goes back in a stage asks for a second person, and nobody has looked at it yet.
pub(crate) fn asks_for_two(state: &State, stage: &StageRow) -> bool {
    let here = |row: &PositionRow| row.detail.back.as_ref() == Some(&stage.stage) && row.off_n.is_some();
    positions(state, stage.job).any(|row| row.detail.second_check && row.checked_by.is_none() && here(row))
}

/// Back, and not looked at by the second person that it asks for.
fn unseen(row: &PositionRow) -> bool {
    row.detail.second_check && row.off_n.is_some() && row.refitted + row.renewed > 0 && row.checked_by.is_none()
}

/// What is open of each, in words: what is off, what is in, what is not tight.
pub(crate) fn said(rows: &[&PositionRow]) -> String {
    let of = |row: &&&PositionRow| match row.detail.manner {
        Manner::In if pieces_left(row) > 0 => 1,
        Manner::In => 3,
        _ if places_left(row) > 0 => 0,
        _ if not_tight(row).is_some() => 2,
        _ if fewer(row) => 5,
        _ if unseen(row) => 4,
        _ => 6,
    };
    let kinds = [
        (0, "not back"),
        (1, "still in"),
        (2, "not tight"),
        (4, "not looked at by a second person"),
        (5, "fewer found than listed"),
        (6, "still curing"),
    ];
    let told = kinds.into_iter().filter_map(|(kind, words)| {
        let keys: Vec<String> =
            rows.iter().filter(|row| of(row) == kind).map(|row| format!("'{}'", row.position)).collect();
        (!keys.is_empty()).then(|| format!("{words}: {}", keys.join(", ")))
    });
    told.collect::<Vec<_>>().join("; ")
}

/// Every stage that comes before another, by whatever way.
pub(crate) fn before(state: &State, job: JobNo, stage: &StageKey) -> BTreeSet<StageKey> {
    let (mut seen, mut ahead) = (BTreeSet::new(), vec![stage.clone()]);
    while let Some(stage) = ahead.pop() {
        for after in look::afters(state, job, &stage) {
            if seen.insert(after.after.clone()) {
                ahead.push(after.after.clone());
            }
        }
    }
    seen
}

/// Whether nothing goes back in a stage any more.
fn is_over(state: &State, job: JobNo, stage: &StageKey) -> bool {
    let row = state.stages.get(&(job, stage.clone()));
    row.is_none_or(|row| matches!(row.state, StageState::Finished | StageState::Skipped))
}
