//! Commands about the condition of a vehicle, mostly sensible ones.

use super::Draw;
use leadhand_domain::command::*;
use leadhand_domain::look;
use leadhand_facts::rows::{FluidRow, StepRow, WayRow};
use leadhand_facts::words::{JobState, StageState, StepState, VehicleState};
use leadhand_facts::*;

/// Steps of open jobs that are left.
fn left(draw: &Draw<'_>) -> Vec<StepRow> {
    let is_open = |job: JobNo| draw.state.jobs.get(&(job,)).is_some_and(|row| row.state == JobState::Open);
    let steps = draw.state.steps.iter().filter(|row| row.state == StepState::Pending && is_open(row.job));
    steps.cloned().collect()
}

pub fn set_states(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    let mut states: Vec<VehicleState> = draw.one_of(VehicleState::ALL).into_iter().collect();
    states.extend(draw.rarely(3).then(|| draw.one_of(VehicleState::ALL)).flatten());
    SetVehicleStates { job, states, reason: draw.sometimes("as it came in") }.into()
}

pub fn record_fluid(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    let fluid = if draw.rarely(4) { "oil" } else { "coolant" }.into();
    let drained_ml = if draw.below(3) == 2 { 0 } else { draw.between(0, 900) };
    let filled_ml = if draw.below(3) == 0 { 0 } else { draw.between(0, 900) };
    let unlisted = !draw.rarely(3);
    RecordFluid { job, fluid, drained_ml, filled_ml, note: draw.sometimes("it was dark"), unlisted }.into()
}

pub fn reopen_fluid(draw: &mut Draw<'_>) -> Command {
    let said: Vec<FluidRow> = draw.state.fluids.iter().filter(|row| row.said_n.is_some()).cloned().collect();
    let (job, fluid) = draw.one_of(&said).map_or((JobNo(1), "oil".into()), |row| (row.job, row.fluid));
    ReopenFluid { job, fluid, reason: draw.words("it was the other can") }.into()
}

/// Mostly of what is out, from what is kept by volume.
pub fn set_fill(draw: &mut Draw<'_>) -> Command {
    let known: Vec<FluidRow> = draw.state.fluids.iter().cloned().collect();
    let (job, fluid) = draw.one_of(&known).map_or((JobNo(1), "oil".into()), |row| (row.job, row.fluid));
    let poured = draw.state.items.iter().filter(|row| matches!(row.unit, Unit::Millilitre | Unit::Litre));
    let poured: Vec<ItemKey> = poured.map(|row| row.item.clone()).collect();
    let item = draw.one_of(&poured).unwrap_or_else(|| "coolant".into());
    let millilitres = draw.between(-30, 900).max(0);
    let drawn_ml = draw.rarely(3).then(|| millilitres + draw.between(-1, 100));
    let poured = Measure::whole(if draw.rarely(4) { 50 } else { 100 });
    let mixture = Mixture { poured, water_ml: draw.between(0, 300), whole: Measure::whole(50), freezes: None };
    let (recipe, mixture) = (format!("{millilitres} mL at {poured} %"), (draw.below(2) == 0).then_some(mixture));
    let stage = (!draw.rarely(3)).then(|| draw.stage(job));
    let cautions = Vec::new();
    SetFillAside { job, stage, fluid, item, recipe, millilitres, mixture, drawn_ml, cautions, asked: String::new() }
        .into()
}

pub fn propose_way(draw: &mut Draw<'_>) -> Command {
    let all = left(draw);
    let row = draw.one_of(&all).map(|row| (row.job, row.stage, row.step));
    let (job, stage, step) = row.unwrap_or_else(|| (JobNo(1), "strip".into(), StepNo(1)));
    let (way, reason) = (draw.words("from below"), draw.words("the lift point is rusted"));
    ProposeWay { job, stage, step, way, reason }.into()
}

pub fn decide_way(draw: &mut Draw<'_>) -> Command {
    let open: Vec<WayRow> = draw.state.ways.iter().filter(|row| row.approved.is_none()).cloned().collect();
    let row = draw.one_of(&open).map(|row| (row.job, row.stage, row.step));
    let (job, stage, step) = row.unwrap_or_else(|| (JobNo(1), "strip".into(), StepNo(1)));
    DecideWay { job, stage, step, approved: draw.below(2) == 0, note: draw.sometimes("with two of you") }.into()
}

pub fn call_lead(draw: &mut Draw<'_>) -> Command {
    let note = draw.sometimes("it moves");
    if draw.rarely(3) {
        return CallLead { job: None, stage: None, note }.into();
    }
    let job = draw.job();
    let stage = draw.stage(job);
    CallLead { job: Some(job), stage: Some(stage), note }.into()
}

/// What a drain that is under way lets out, and what goes in again when it is done.
fn fluid_of(draw: &Draw<'_>, job: JobNo) -> Option<Command> {
    draw.state.fluids.iter().filter(|row| row.job == job).find_map(|row| {
        let (stage, step, expected) = (row.stage.clone()?, row.step?, row.expected_ml?);
        let drain = draw.state.steps.get(&(job, stage.clone(), step))?;
        let active = draw.state.stages.get(&(job, stage)).is_some_and(|stage| stage.state == StageState::Active);
        let out = if drain.state == StepState::Pending && active && row.drained_ml == 0 { expected } else { 0 };
        let missing = row.drained_ml.max(expected) - row.filled_ml;
        let into = if drain.state == StepState::Done && missing > 0 { missing } else { 0 };
        let (drained_ml, filled_ml) = (out, into);
        let said = RecordFluid { job, fluid: row.fluid.clone(), drained_ml, filled_ml, note: None, unlisted: false };
        (out + into > 0).then(|| said.into())
    })
}

/// What keeps a job from going on: a lead decides first.
pub fn next_in(draw: &Draw<'_>, job: JobNo) -> Option<Command> {
    if let Some(said) = fluid_of(draw, job) {
        return Some(said);
    }
    let row = draw.state.ways.iter().find(|row| row.job == job && row.approved.is_none())?;
    let step = look::step(draw.state, job, &row.stage, row.step).ok()?;
    let (stage, step, approved) = (row.stage.clone(), step.step, true);
    Some(DecideWay { job, stage, step, approved, note: None }.into())
}
