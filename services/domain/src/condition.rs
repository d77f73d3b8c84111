//! The condition of a vehicle: in which states it is, what is still in it, which hold points were passed, and where
//! something else is done than the book says. What stands against handing it over, beside the strip book.

use crate::hazard::HIGH_VOLTAGE_SKILL;
use crate::look;
use crate::state::State;
use crate::telling::amount;
use leadhand_facts::rows::{BlockerRow, FluidRow, PositionRow, StageRow, StepRow, VehicleStateRow, WayRow};
use leadhand_facts::words::{Cause, Feature, Hazard, StepState, VehicleState};
use leadhand_facts::{FluidKey, JobNo, Quantity, StageKey, StepNo, Unit};
use std::collections::{BTreeMap, BTreeSet};

/// The states of which something was said, by feature.
pub fn states(state: &State, job: JobNo) -> impl Iterator<Item = &VehicleStateRow> {
    state.vehicle_states.from_key((job, Feature::ALL[0])).take_while(move |row| row.job == job)
}

/// The state of a feature; how a vehicle comes, where nobody said anything.
pub fn state_of(state: &State, job: JobNo, feature: Feature) -> VehicleState {
    state.vehicle_states.get(&(job, feature)).map_or_else(|| feature.initial(), |row| row.state)
}

/// The fluids of a job, by key.
pub fn fluids(state: &State, job: JobNo) -> impl Iterator<Item = &FluidRow> {
    state.fluids.from_key((job, FluidKey(String::new()))).take_while(move |row| row.job == job)
}

/// The stage that drains it; for one that nobody listed the last that had begun when it was said.
pub(crate) fn stage_of_fluid(state: &State, row: &FluidRow) -> Option<StageKey> {
    row.stage.clone().or_else(|| {
        let said_at = row.said_at?;
        let begun = |stage: &&StageRow| stage.started_at.is_some_and(|from| from <= said_at);
        let stages = look::stages_in_order(state, row.job).into_iter().filter(begun);
        stages.max_by_key(|stage| stage.started_at).map(|stage| stage.stage.clone())
    })
}

/// Ways of a job that are not the book's, by stage and step.
pub fn ways(state: &State, job: JobNo) -> impl Iterator<Item = &WayRow> {
    state.ways.from_key((job, StageKey(String::new()), StepNo(0))).take_while(move |row| row.job == job)
}

/// Millilitres that should have come out and did not; nothing before anything came out, and nothing once it is filled.
pub fn still_in(row: &FluidRow) -> Option<i64> {
    let left = row.expected_ml? - row.drained_ml;
    (row.drained_ml > 0 && row.filled_ml == 0 && left > 0).then_some(left)
}

/// Whether the step that drains a fluid is done and nothing is said of it, or no longer.
fn is_unsaid(state: &State, row: &FluidRow) -> bool {
    let step = row.stage.clone().zip(row.step).and_then(|(stage, step)| state.steps.get(&(row.job, stage, step)));
    let listed = row.expected_ml.is_some_and(|expected| expected > 0) && row.note.is_none();
    listed && (row.drained_ml, row.filled_ml) == (0, 0) && step.is_some_and(|step| step.state == StepState::Done)
}

/// The most that should have gone in, where more did: what it holds, or what came out if that was more; and by more than a
/// tenth of what it holds, since it may have come low. Nothing is known of a system that nobody listed.
pub fn over(row: &FluidRow) -> Option<i64> {
    let expected = row.expected_ml?;
    // Where nothing came out there is room for what was low, and not for all of it again.
    let most = if row.drained_ml == 0 && row.note.is_none() { expected / 2 } else { expected.max(row.drained_ml) };
    (row.filled_ml > most && row.filled_ml - row.drained_ml > expected / 10).then_some(most)
}

/// The call for the lead on which a stage waits.
pub fn called<'a>(state: &'a State, job: JobNo, stage: &StageKey) -> Option<&'a BlockerRow> {
    look::open_blockers(state, job).find(|row| row.stage == *stage && row.cause == Cause::Safety)
}

/// States that the steps left of a stage need, that the vehicle is not in, and that no step left before them brings
/// about: each step that needs it, what it needs, and what there is.
pub fn wanted(state: &State, stage: &StageRow) -> Vec<(StepNo, VehicleState, VehicleState)> {
    let mut now: BTreeMap<Feature, VehicleState> = BTreeMap::new();
    let mut found: Vec<(StepNo, VehicleState, VehicleState)> = Vec::new();
    if look::is_ended(stage) {
        return found;
    }
    for step in look::steps(state, stage.job, &stage.stage).filter(|step| step.state == StepState::Pending) {
        for need in &step.safety.needs {
            let feature = need.feature();
            let is = now.get(&feature).copied().unwrap_or_else(|| state_of(state, stage.job, feature));
            if is != *need {
                found.push((step.step, *need, is));
            }
        }
        now.extend(step.safety.sets.iter().map(|set| (set.feature(), *set)));
    }
    found
}

/// The hold points of a stage before a step that nobody passed and no lead left out.
pub fn holds_before<'a>(state: &'a State, step: &'a StepRow) -> impl Iterator<Item = &'a StepRow> {
    // New pieces go in where the others do, and stand at the end of the list all the same.
    let earlier = look::steps(state, step.job, &step.stage).take_while(move |other| other.step < step.step);
    earlier.filter(|other| other.safety.hold.is_some() && other.state == StepState::Pending && step.fits.is_none())
}

/// Something that stands against handing a vehicle over. A lead may overrule each, with a reason.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Open {
    /// A state is not as it has to be.
    State {
        /// How it is.
        is: VehicleState,
        /// How it has to be.
        rest: VehicleState,
    },
    /// A hold point was not passed.
    Hold {
        /// Its stage.
        stage: StageKey,
        /// Its step.
        step: StepNo,
        /// What was to be looked at.
        what: String,
        /// Whether it was left out, by itself or with its stage.
        left_out: bool,
    },
    /// Less of a fluid went in than came out.
    Fluid {
        /// Which.
        fluid: FluidKey,
        /// Millilitres that came out.
        drained_ml: i64,
        /// Millilitres that went in.
        filled_ml: i64,
    },
    /// The step that drains a fluid is done, and nothing is said of it.
    FluidUnsaid {
        /// Which.
        fluid: FluidKey,
    },
    /// More of a fluid went in than came out and than should be in it.
    FluidOver {
        /// Which.
        fluid: FluidKey,
        /// The most that should be in it, in millilitres.
        most_ml: i64,
        /// Millilitres that went in.
        filled_ml: i64,
    },
    /// Nobody decided on another way.
    Way {
        /// Its stage.
        stage: StageKey,
        /// Its step.
        step: StepNo,
    },
}

impl Open {
    /// What it is about, in few words.
    pub fn about(&self) -> String {
        match self {
            Self::State { is, .. } => is.feature().to_string(),
            Self::Hold { stage, step, .. } | Self::Way { stage, step } => format!("{stage}/{step}"),
            Self::Fluid { fluid, .. } | Self::FluidUnsaid { fluid } | Self::FluidOver { fluid, .. } => {
                fluid.to_string()
            }
        }
    }
}

impl Open {
    /// What is open, without what it is about.
    pub fn what(&self) -> String {
        let told = |millilitres: i64| amount(Quantity(millilitres), Some(Unit::Millilitre));
        match self {
            Self::State { is, rest } => format!("{}, and has to be {}", is.value(), rest.value()),
            Self::Hold { what, left_out: true, .. } => format!("it was left out ({what})"),
            Self::Hold { what, .. } => format!("nobody passed it ({what})"),
            Self::Fluid { drained_ml, filled_ml, .. } => {
                format!("{} came out and {} went in", told(*drained_ml), told(*filled_ml))
            }
            Self::FluidUnsaid { .. } => "its step is done, and nobody said what came out or went in".to_owned(),
            Self::FluidOver { most_ml, filled_ml, .. } => {
                format!("{} went in, and {} should have at most", told(*filled_ml), told(*most_ml))
            }
            Self::Way { .. } => "no lead decided on the way that is not the book's".to_owned(),
        }
    }
}

impl std::fmt::Display for Open {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::State { .. } | Self::Fluid { .. } | Self::FluidUnsaid { .. } | Self::FluidOver { .. } => {
                write!(f, "{}: {}", self.about(), self.what())
            }
            Self::Hold { stage, step, .. } => write!(f, "hold point {step} of {stage}: {}", self.what()),
            Self::Way { stage, step } => write!(f, "step {step} of {stage}: {}", self.what()),
        }
    }
}

/// Everything that stands against handing a vehicle over, the strip book and what holds up aside.
pub fn open(state: &State, job: JobNo) -> Vec<Open> {
    let wrong = states(state, job).filter_map(|row| {
        // High voltage that somebody found is made safe, or a lead says why it may stay as it is.
        let found = row.state == VehicleState::HighVoltageLive && row.stage.is_none();
        let rest = row.feature.rest().or(found.then_some(VehicleState::HighVoltageIsolated));
        let rest = rest.filter(|rest| *rest != row.state)?;
        Some(Open::State { is: row.state, rest })
    });
    let steps = look::stages_in_order(state, job).into_iter();
    let steps = steps.flat_map(|stage| look::steps(state, job, &stage.stage).collect::<Vec<_>>());
    let holds = steps.filter(|step| step.state != StepState::Done).filter_map(|step| {
        let what = step.safety.hold.as_ref()?.what.clone();
        let left_out = step.state == StepState::Skipped;
        Some(Open::Hold { stage: step.stage.clone(), step: step.step, what, left_out })
    });
    let dry = fluids(state, job).filter(|row| row.filled_ml < row.drained_ml).map(|row| Open::Fluid {
        fluid: row.fluid.clone(),
        drained_ml: row.drained_ml,
        filled_ml: row.filled_ml,
    });
    let unsaid = fluids(state, job).filter(|row| is_unsaid(state, row));
    let unsaid = unsaid.map(|row| Open::FluidUnsaid { fluid: row.fluid.clone() });
    let over = fluids(state, job).filter_map(|row| {
        let most_ml = over(row)?;
        Some(Open::FluidOver { fluid: row.fluid.clone(), most_ml, filled_ml: row.filled_ml })
    });
    let undecided = ways(state, job).filter(|row| row.approved.is_none());
    let undecided = undecided.map(|row| Open::Way { stage: row.stage.clone(), step: row.step });
    wrong.chain(holds).chain(dry).chain(unsaid).chain(over).chain(undecided).collect()
}

/// Whether a step is done only by somebody with the skill of high voltage: it names the hazard or the skill, or makes it live
/// or safe.
pub(crate) fn is_about_high_voltage(row: &StepRow) -> bool {
    let sets =
        |state: &VehicleState| matches!(state, VehicleState::HighVoltageLive | VehicleState::HighVoltageIsolated);
    let skilled = row.safety.skills.iter().any(|skill| skill == HIGH_VOLTAGE_SKILL);
    skilled || row.safety.hazards.contains(&Hazard::HighVoltage) || row.safety.sets.iter().any(sets)
}

/// Whether a position is what a step about high voltage takes off or puts in; of what nobody listed, what came out with such
/// a thing or hangs on it.
pub(crate) fn touches_high_voltage(state: &State, row: &PositionRow) -> bool {
    let (mut seen, mut ahead) = (BTreeSet::new(), vec![row]);
    while let Some(row) = ahead.pop() {
        let step = row.step.and_then(|step| state.steps.get(&(row.job, row.stage.clone(), step)));
        if step.is_some_and(is_about_high_voltage) {
            return true;
        }
        let others = row.detail.came_with.iter().chain(&row.detail.attached_to).filter(|_| row.step.is_none());
        let others = others.filter_map(|key| state.positions.get(&(row.job, key.clone())));
        ahead.extend(others.filter(|other| seen.insert(&other.position)));
    }
    false
}
