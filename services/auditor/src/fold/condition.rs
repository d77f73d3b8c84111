//! The condition of a vehicle: states, fluids, and ways that are not the book's.

use super::astray;
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::rows::{FluidRow, JobRow, StepRow, VehicleStateRow, WayRow};
use leadhand_facts::safety::{Fill, FluidSpec, ReckonedFill};
use leadhand_facts::template::Need;
use leadhand_facts::words::{JobState, StepState};
use leadhand_facts::{Fact, FluidKey, JobNo, StageKey, StepNo};

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::VehicleStateSet { .. } => state_set(tables, at, fact),
        Fact::FluidRecorded { .. } => fluid_recorded(tables, at, fact),
        Fact::FluidReopened { job, fluid, .. } => {
            open(tables, at, *job)?;
            let row = tables.change::<FluidRow>(at, &(*job, fluid.clone()))?;
            at.demand(row.filled_ml + row.drained_ml > 0, "fluid", || {
                format!("nothing was said of fluid '{fluid}' of job {job} that could be taken back")
            })?;
            match row.filled_ml {
                0 => row.drained_ml = 0,
                _ => row.filled_ml = 0,
            }
            row.note = None;
            row.said_n = Some(at.n);
            row.said_at = Some(at.happened);
            Ok(())
        }
        Fact::FillReckoned { .. } => fill_reckoned(tables, at, fact),
        Fact::WayProposed { .. } => way_proposed(tables, at, fact),
        Fact::WayDecided { job, stage, step, person, approved, note } => {
            open(tables, at, *job)?;
            let row = tables.change::<WayRow>(at, &(*job, stage.clone(), *step))?;
            at.demand(row.proposed_at <= at.happened, "own_way", || {
                format!("the way of step {step} of stage '{stage}' of job {job} is decided before it was proposed")
            })?;
            (row.decided_n, row.decided_at) = (Some(at.n), Some(at.happened));
            (row.decided_by, row.approved) = (Some(*person), Some(*approved));
            row.decided_note = note.as_ref().map(|text| text.id);
            Ok(())
        }
        _ => Err(astray(at)),
    }
}

fn open(tables: &Tables, at: At, job: JobNo) -> Result<(), Fault> {
    let open = tables.known::<JobRow>(at, &(job,))?.state == JobState::Open;
    at.demand(open, "job", || format!("job {job} is closed, and its vehicle is not here"))
}

fn state_set(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::VehicleStateSet { job, state, before, person, stage, step, reason } = fact else {
        return Err(astray(at));
    };
    open(tables, at, *job)?;
    if let (Some(stage), Some(step)) = (stage, step) {
        let row = tables.known::<StepRow>(at, &(*job, stage.clone(), *step))?;
        let brought = row.state == StepState::Done && row.safety.sets.contains(state);
        at.demand(brought, "vehicle_state", || {
            format!("step {step} of stage '{stage}' of job {job} did not bring about '{state}'")
        })?;
    }
    at.demand(stage.is_some() == step.is_some(), "vehicle_state", || {
        format!("'{state}' of job {job} names half a step")
    })?;
    let feature = state.feature();
    let known = tables.get::<VehicleStateRow>(&(*job, feature)).map(|row| row.state);
    let was = known.unwrap_or(feature.initial());
    at.demand(was == *before, "vehicle_state", || format!("job {job} was '{was}' and not '{before}'"))?;
    tables.put(VehicleStateRow {
        job: *job,
        feature,
        state: *state,
        before: was,
        person: *person,
        stage: stage.clone(),
        step: *step,
        reason: reason.as_ref().map(|text| text.id),
        set_at: at.happened,
        set_n: at.n,
    });
    Ok(())
}

/// A step that is left says what goes in, of the fluid that it fills and no other, and takes no item twice. One that is done
/// keeps what went in, and is told only that an item of it says otherwise by now.
fn fill_reckoned(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::FillReckoned { job, stage, step, fill, needs, cautions } = fact else {
        return Err(astray(at));
    };
    open(tables, at, *job)?;
    let row = tables.change::<StepRow>(at, &(*job, stage.clone(), *step))?;
    let left = row.state == StepState::Pending || row.state == StepState::Done && went_in(row, fill, needs);
    let own = row.safety.fill.as_ref().is_none_or(|own| own.fluid == fill.fluid);
    at.demand(left && own && fill.reckoned.is_some(), "step", || {
        format!("step {step} of stage '{stage}' of job {job} is {} or fills no '{}'", row.state, fill.fluid)
    })?;
    let once = needs.iter().enumerate().all(|(place, need)| needs[..place].iter().all(|other| other.item != need.item));
    at.demand(once && needs.iter().all(|need| need.quantity.0 > 0), "step", || {
        format!("step {step} of stage '{stage}' of job {job} takes an item twice or nothing of it")
    })?;
    row.needs.clone_from(needs);
    row.cautions.clone_from(cautions);
    row.safety.fill = Some(fill.clone());
    Ok(())
}

/// Whether a fill says the same of what goes in as its step does, and every item that gainsays it is one that it is poured from.
fn went_in(row: &StepRow, fill: &Fill, needs: &[Need]) -> bool {
    let (Some(before), Some(now)) = (row.safety.fill.as_ref().and_then(|own| own.reckoned.as_ref()), &fill.reckoned)
    else {
        return false;
    };
    let bare = |own: &ReckonedFill| ReckonedFill { cautions: Vec::new(), gainsaid: Vec::new(), ..own.clone() };
    row.needs == needs && bare(before) == bare(now) && now.gainsaid.iter().all(|one| now.from.contains(&one.item))
}

fn fluid_recorded(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::FluidRecorded { job, fluid, person, drained_ml, filled_ml, note } = fact else {
        return Err(astray(at));
    };
    open(tables, at, *job)?;
    let says = drained_ml + filled_ml > 0 || note.is_some();
    at.demand(*drained_ml >= 0 && *filled_ml >= 0 && says, "fluid", || {
        format!("{drained_ml} mL out and {filled_ml} mL in say nothing of fluid '{fluid}' of job {job}")
    })?;
    let known = tables.get::<FluidRow>(&(*job, fluid.clone())).cloned();
    let row = known.unwrap_or_else(|| bare(at, *job, fluid));
    tables.put(FluidRow {
        drained_ml: row.drained_ml + drained_ml,
        filled_ml: row.filled_ml + filled_ml,
        person: *person,
        said_at: Some(at.happened),
        said_n: Some(at.n),
        note: note.as_ref().map_or(row.note, |text| Some(text.id)),
        ..row
    });
    Ok(())
}

fn bare(at: At, job: JobNo, fluid: &FluidKey) -> FluidRow {
    FluidRow {
        job,
        fluid: fluid.clone(),
        stage: None,
        step: None,
        what: None,
        expected_ml: None,
        back: None,
        drained_ml: 0,
        filled_ml: 0,
        person: None,
        said_at: None,
        said_n: None,
        note: None,
        added_n: at.n,
    }
}

/// A fluid of a step that comes to be.
pub(super) fn lay(
    tables: &mut Tables,
    at: At,
    job: JobNo,
    stage: &StageKey,
    step: StepNo,
    fluid: &FluidSpec,
) -> Result<(), Fault> {
    at.demand(fluid.expected_ml.is_none_or(|expected| expected > 0), "fluid", || {
        format!("fluid '{}' of job {job} is expected to be nothing", fluid.key)
    })?;
    let mut row = bare(at, job, &fluid.key);
    (row.stage, row.step) = (Some(stage.clone()), Some(step));
    (row.what, row.expected_ml, row.back) = (Some(fluid.what.clone()), fluid.expected_ml, fluid.back.clone());
    tables.add(at, row)
}

fn way_proposed(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::WayProposed { job, stage, step, person, note, reason } = fact else {
        return Err(astray(at));
    };
    open(tables, at, *job)?;
    let row = tables.known::<StepRow>(at, &(*job, stage.clone(), *step))?;
    at.demand(row.state == StepState::Pending, "own_way", || {
        format!("step {step} of stage '{stage}' of job {job} is {} already", row.state)
    })?;
    tables.put(WayRow {
        job: *job,
        stage: stage.clone(),
        step: *step,
        note: note.id,
        reason: reason.id,
        person: *person,
        proposed_at: at.happened,
        proposed_n: at.n,
        approved: None,
        decided_by: None,
        decided_at: None,
        decided_n: None,
        decided_note: None,
    });
    Ok(())
}
