//! The condition of a vehicle: states, hold points, fluids, and ways that are not the book's.

use super::Found;
use crate::packed::Steps;
use crate::tables::Tables;
use leadhand_facts::rows::{ClockingRow, FluidRow, JobRow, StepRow, VehicleStateRow, WayRow};
use leadhand_facts::words::{Feature, JobState, StepState, VehicleState};
use leadhand_facts::{Instant, JobNo, PersonId, StageKey};
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn check(tables: &Tables, found: &mut Found) {
    // What a lead let go of, for vehicles that went; nothing of a job where it was all of it.
    let gone: Gone<'_> = tables
        .rows::<JobRow>()
        .filter(|job| job.state == JobState::Completed && job.overridden.is_none())
        .map(|job| (job.job, job.overruled.iter().map(|line| line.line.as_str()).collect()))
        .collect();
    for row in tables.rows::<VehicleStateRow>() {
        state(row, went(&gone, row.job, &format!("state:{}", row.feature)), found);
    }
    let mut steps = Steps::of(tables);
    for row in tables.rows::<FluidRow>() {
        fluid(row, went(&gone, row.job, &format!("fluid:{}", row.fluid)), found);
        let drained = row.stage.as_ref().zip(row.step).and_then(|(stage, step)| steps.get(row.job, stage, step));
        let silent =
            row.note.is_none() && row.drained_ml + row.filled_ml == 0 && row.expected_ml.is_some_and(|ml| ml > 0);
        let silent = silent && drained.is_some_and(|step| step.state == StepState::Done);
        let unsaid = went(&gone, row.job, &format!("fluid-unsaid:{}", row.fluid));
        found.law("fluid-said", row, !silent || !unsaid, || {
            "its step was done, and nobody said what came out before the vehicle went".to_owned()
        });
        let full = row.expected_ml.is_none_or(|holds| {
            row.filled_ml <= holds || row.filled_ml <= row.drained_ml || row.filled_ml <= row.drained_ml + holds / 10
        });
        let went = went(&gone, row.job, &format!("fluid-over:{}", row.fluid));
        found.law("fluid-over", row, full || !went, || {
            format!("the vehicle went with {} mL in, which is more than it holds and than came out", row.filled_ml)
        });
    }
    for row in tables.rows::<WayRow>() {
        way(row, went(&gone, row.job, &format!("way:{}/{}", row.stage, row.step)), found);
    }
    holds(tables, &gone, found);
}

/// What a lead overruled, by job.
type Gone<'a> = BTreeMap<JobNo, BTreeSet<&'a str>>;

/// Whether a vehicle went without a lead's word about this line.
fn went(gone: &Gone<'_>, job: JobNo, line: &str) -> bool {
    gone.get(&job).is_some_and(|overruled| !overruled.contains(line))
}

fn state(row: &VehicleStateRow, gone: bool, found: &mut Found) {
    let own = |state: VehicleState| state.word().starts_with(&format!("{} ", row.feature.word()));
    let whole = own(row.state) && own(row.before) && row.stage.is_some() == row.step.is_some();
    found.law("vehicle-state", row, whole, || format!("'{}' is no state of '{}'", row.state, row.feature));
    // How a vehicle goes, said apart from how it comes.
    let fit = match row.feature {
        Feature::Battery => row.state == VehicleState::BatteryConnected,
        Feature::FuelPressure => row.state == VehicleState::FuelPressureLive,
        Feature::Coolant => row.state == VehicleState::CoolantFull,
        Feature::Oil => row.state == VehicleState::OilFull,
        Feature::Support => row.state == VehicleState::SupportWheels,
        Feature::Engine => row.state == VehicleState::EngineMounted,
        Feature::Rolling => row.state == VehicleState::RollingFree,
        Feature::Bonnet => row.state == VehicleState::BonnetLatched,
        Feature::Ports => row.state == VehicleState::PortsClosed,
        Feature::Crank => row.state == VehicleState::CrankFree,
        Feature::Brakes => row.state == VehicleState::BrakesReady,
        Feature::Airbags => row.state == VehicleState::AirbagsLive,
        Feature::Temperature | Feature::HighVoltage => true,
    };
    found.law("at-rest", row, fit || !gone, || format!("the vehicle went while it was '{}'", row.state));
}

fn fluid(row: &FluidRow, gone: bool, found: &mut Found) {
    let said = row.said_n.is_some();
    let whole = row.drained_ml >= 0 && row.filled_ml >= 0 && said == row.said_at.is_some();
    let whole = whole && (said || (row.drained_ml, row.filled_ml) == (0, 0)) && row.expected_ml.is_none_or(|ml| ml > 0);
    found.law("fluid", row, whole, || "its amounts and the facts about it do not agree".to_owned());
    found.law("fluid-back", row, !gone || row.filled_ml >= row.drained_ml, || {
        format!("{} mL came out and {} mL went in before the vehicle went", row.drained_ml, row.filled_ml)
    });
}

fn way(row: &WayRow, gone: bool, found: &mut Found) {
    let decided = [row.decided_by.is_some(), row.decided_at.is_some(), row.decided_n.is_some()];
    let agrees = decided.iter().all(|one| *one == row.approved.is_some());
    let ordered = row.decided_at.is_none_or(|at| row.proposed_at <= at);
    found
        .law("own-way", row, agrees && ordered, || "its decision has no time, no person or comes too early".to_owned());
    found.law("own-way", row, !gone || row.approved.is_some(), || {
        "the vehicle went before a lead decided on it".to_owned()
    });
}

/// Who passed a hold point is named, looked after what comes before it, and did not do that where another was to look.
fn holds(tables: &Tables, gone: &Gone<'_>, found: &mut Found) {
    // Since when somebody has time on a stage.
    let mut since: BTreeMap<(JobNo, &StageKey, PersonId), Instant> = BTreeMap::new();
    for time in tables.rows::<ClockingRow>() {
        let first = since.entry((time.job, &time.stage, time.person)).or_insert(time.from_at);
        *first = time.from_at.min(*first);
    }
    tables.steps_by_job(|steps| holds_of_job(steps, &since, gone, found));
}

fn holds_of_job(
    steps: &[&StepRow],
    since: &BTreeMap<(JobNo, &StageKey, PersonId), Instant>,
    gone: &Gone<'_>,
    found: &mut Found,
) {
    // In the order of their keys, so those of a stage stand together.
    for rows in steps.chunk_by(|one, other| one.stage == other.stage) {
        for row in rows.iter().filter(|row| row.safety.hold.is_some()) {
            let passed = row.state == StepState::Done;
            found.law(
                "hold-passed",
                *row,
                passed || !went(gone, row.job, &format!("hold:{}/{}", row.stage, row.step)),
                || "the vehicle went and nobody had passed this hold point".to_owned(),
            );
            if !passed {
                continue;
            }
            let work: Vec<&&StepRow> =
                rows.iter().filter(|other| other.step < row.step && other.safety.hold.is_none()).collect();
            let ended = work.iter().all(|other| other.state != StepState::Pending);
            let named = row.done_by.is_some();
            found.law("hold-point", *row, ended && named, || "nobody passed it, or it was passed too early".to_owned());
            let second = row.safety.hold.as_ref().is_some_and(|hold| hold.second);
            let own = work.iter().any(|other| other.done_by.is_some() && other.done_by == row.done_by);
            let first = row.done_by.and_then(|by| since.get(&(row.job, &row.stage, by)));
            let own = own || first.is_some_and(|first| row.done_at.is_some_and(|done| *first < done));
            found.law("hold-point", *row, !(second && own), || "who did the work passed it".to_owned());
        }
    }
}
