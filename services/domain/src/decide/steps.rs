//! Steps are ticked, left out and added.

use crate::answer::{Made, Notice};
use crate::check;
use crate::command::{AddStep, SkipStep, TickSteps};
use crate::decide::{condition, flow, readings, skills, stock, strip, tools};
use crate::hazard;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::template::{once_is_enough, two_of_a_feature};
use leadhand_facts::fact::{JobStep, Wording};
use leadhand_facts::rows::{StageRow, StepRow};
use leadhand_facts::safety::StepSafety;
use leadhand_facts::template::Need;
use leadhand_facts::words::{StageState, StepState};
use leadhand_facts::{Fact, ItemKey, Quantity, StepNo, TextRef};

/// Most steps of a stage.
pub(super) const STEPS_MAX: i32 = 200;

pub(super) fn tick(session: &mut Session, command: &TickSteps) -> Result<Made, Refusal> {
    check::text_some("override_reason", command.override_reason.as_deref())?;
    let row = to_tick(session, command)?;
    if row.state == StageState::Pending {
        let (job, stage, state) = (row.job, row.stage, row.state);
        return Err(Refusal::StageIs { job, stage, state, attempted: "ticked", todo: "start it first" });
    }
    if let Some(started_at) = row.started_at
        && session.at() < started_at
    {
        return Err(look::too_early("a step", session.at(), started_at));
    }
    let steps = if command.steps.is_empty() { left(session.state, &row) } else { command.steps.clone() };
    if steps.is_empty() {
        return Err(Refusal::NothingToDo { what: format!("tick: every step of stage '{}' is done", row.stage) });
    }
    let named = !command.steps.is_empty();
    do_all(session, &row, &steps, named, command.override_reason.as_deref())?;
    flow::settle_blockers(session, row.job)?;
    Ok(Made::Nothing)
}

/// The stage whose steps are ticked. When it has ended, a hold point that was opened again is still passed by its number.
fn to_tick(session: &Session, command: &TickSteps) -> Result<StageRow, Refusal> {
    look::open_job(session.state, session.context, command.job)?;
    let row = look::stage(session.state, command.job, &command.stage)?;
    let again = |step: &StepNo| {
        let found = look::step(session.state, command.job, &command.stage, *step);
        found.is_ok_and(|step| step.safety.hold.is_some() && step.state == StepState::Pending)
    };
    if look::is_ended(row) && !command.steps.is_empty() && command.steps.iter().all(again) {
        return Ok(row.clone());
    }
    open_stage(session, command.job, &command.stage)
}

pub(super) fn skip(session: &mut Session, command: &SkipStep) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    let row = open_stage(session, command.job, &command.stage)?;
    pending(session.state, &row, command.step)?;
    condition::refuse_leaving(session, &row, &[command.step])?;
    let reason = session.seal(&command.reason);
    leave_out(session, &row, command.step, &reason)?;
    flow::settle_blockers(session, row.job)?;
    Ok(Made::Nothing)
}

pub(super) fn add(session: &mut Session, command: &AddStep) -> Result<Made, Refusal> {
    check_new(session.state, command)?;
    let row = open_stage(session, command.job, &command.stage)?;
    let step = next_number(&row)?;
    let instruction = Wording::Typed(session.seal(&command.instruction));
    let AddStep { tools, shared_tools, needs, cautions, follow_up, mut safety, .. } = command.clone();
    safety.hazards.sort();
    let mut cautions = hazard::cautions(&cautions, &safety.hazards);
    if safety.hazards.is_empty() {
        cautions.sort();
    }
    let plain = JobStep::plain(step, instruction);
    let added = JobStep { tools, shared_tools, cautions, needs, follow_up, safety, unplanned: true, ..plain };
    session.emit(Fact::StepAdded { job: row.job, stage: row.stage.clone(), step: added })?;
    flow::settle_blockers(session, row.job)?;
    Ok(Made::Step { job: row.job, stage: row.stage, step })
}

/// The number of the next step of a stage.
pub(super) fn next_number(row: &StageRow) -> Result<StepNo, Refusal> {
    let step = StepNo(row.last_step + 1);
    if step.0 > STEPS_MAX {
        return Err(Refusal::invalid("stage", format!("it has {STEPS_MAX} steps already; add another stage")));
    }
    Ok(step)
}

fn check_new(state: &State, command: &AddStep) -> Result<(), Refusal> {
    check::text("instruction", &command.instruction)?;
    for (at, tool) in command.tools.iter().enumerate() {
        check::name(&format!("tools[{at}]"), tool)?;
    }
    tools::check_named(state, "shared_tools", &command.shared_tools)?;
    for (at, caution) in command.cautions.iter().enumerate() {
        check::text(&format!("cautions[{at}].text"), &caution.text)?;
    }
    for (at, need) in command.needs.iter().enumerate() {
        check::quantity(&format!("needs[{at}].quantity"), need.quantity)?;
        check_item(state, at, need)?;
        if command.needs[..at].iter().any(|other| other.item == need.item) {
            let why = format!("'{}' stands there twice; give the sum in one line", need.item);
            return Err(Refusal::invalid(format!("needs[{at}].item"), why));
        }
    }
    check::text_some("follow_up", command.follow_up.as_deref())?;
    if let Some(fill) = &command.safety.fill {
        check::key("fills", fill.fluid.as_str())?;
        condition::refuse_unlisted_fill(state, command.job, &fill.fluid)?;
    }
    check_safety(&command.safety)
}

/// Holds what a step asks of the vehicle and of whoever does it to what a template is held to.
fn check_safety(safety: &StepSafety) -> Result<(), Refusal> {
    for (field, states) in [("needed_states", &safety.needs), ("set_states", &safety.sets)] {
        for (at, state) in states.iter().enumerate() {
            if let Some(other) = states[..at].iter().find(|other| other.feature() == state.feature()) {
                return Err(Refusal::invalid(format!("{field}[{at}]"), two_of_a_feature(*state, *other)));
            }
        }
    }
    for (at, hazard) in safety.hazards.iter().enumerate() {
        if safety.hazards[..at].contains(hazard) {
            return Err(Refusal::invalid(format!("hazards[{at}]"), once_is_enough(hazard.word())));
        }
    }
    safety.hold.iter().try_for_each(|hold| check::name("hold", &hold.what))?;
    check::skills("skills", &safety.skills)
}

fn check_item(state: &State, at: usize, need: &Need) -> Result<(), Refusal> {
    let item = state.items.get(&(need.item.clone(),)).ok_or_else(|| Refusal::Unknown {
        what: "item",
        which: need.item.to_string(),
        todo: "`leadhand stock list` shows them; list it first",
    })?;
    if item.unit == need.unit {
        return Ok(());
    }
    let why = format!("'{}' is kept in {}; give the quantity in that unit", need.item, item.unit.code());
    Err(Refusal::invalid(format!("needs[{at}].unit"), why))
}

/// A stage of an open job that is not ended.
pub(super) fn open_stage(
    session: &Session,
    job: leadhand_facts::JobNo,
    stage: &leadhand_facts::StageKey,
) -> Result<StageRow, Refusal> {
    look::open_job(session.state, session.context, job)?;
    let row = look::stage(session.state, job, stage)?.clone();
    if look::is_ended(&row) {
        let (job, stage, state) = (row.job, row.stage, row.state);
        return Err(Refusal::StageIs { job, stage, state, attempted: "changed", todo: "choose one that is left" });
    }
    Ok(row)
}

/// The steps of a stage that are left, in order.
pub(super) fn left(state: &State, row: &StageRow) -> Vec<StepNo> {
    look::steps(state, row.job, &row.stage)
        .filter(|step| step.state == StepState::Pending)
        .map(|step| step.step)
        .collect()
}

fn pending<'a>(state: &'a State, row: &StageRow, step: StepNo) -> Result<&'a StepRow, Refusal> {
    let found = look::step(state, row.job, &row.stage, step)?;
    if found.state == StepState::Pending {
        return Ok(found);
    }
    Err(Refusal::StepIs { stage: row.stage.clone(), step, state: found.state })
}

/// Ticks these steps; those that are hold points only when they were `named`.
pub(super) fn do_all(
    session: &mut Session,
    row: &StageRow,
    steps: &[StepNo],
    named: bool,
    override_reason: Option<&str>,
) -> Result<(), Refusal> {
    if !steps.is_empty() {
        condition::refuse_called(session, row.job, &row.stage)?;
        condition::refuse_voltage(session, row.job, || format!("stage '{}'", row.stage))?;
    }
    let unskilled = if steps.is_empty() { None } else { skills::against_ticks(session, row)? };
    // Who may not do it at all need not hear what else is missing.
    if let (Some(unskilled), None) = (&unskilled, override_reason) {
        return Err(unskilled.clone());
    }
    let mut overridden: Option<TextRef> = None;
    let mut against = skills::Against::default();
    against.add(unskilled.clone(), skills::WITHOUT_SKILL);
    let mut unsaid = Ok(());
    for step in steps {
        let found = pending(session.state, row, *step)?.clone();
        readings::refuse_tick(session.state, row, *step)?;
        let objection = condition::against_tick(session, &found)?;
        let stood_against = !objection.is_empty() || unskilled.is_some();
        against.add_all(objection, condition::NOT_SAFE);
        unsaid = unsaid.and_then(|()| strip::refuse_step_unsaid(session.state, &found));
        let passed_by = condition::passes(session, &found, named)?;
        // One reason for all of them is one text.
        if stood_against && overridden.is_none() {
            overridden = session.seal_some(override_reason);
        }
        let person = passed_by.or(session.context.actor.person);
        let overridden = overridden.clone().filter(|_| stood_against);
        session.emit(Fact::StepDone { job: row.job, stage: row.stage.clone(), step: *step, person, overridden })?;
        condition::looked(session, &found, passed_by)?;
        condition::set_by_step(session, &found)?;
        condition::tell_drained(session, &found);
        tell_without(session, &found);
        stock::tell_gainsaid(session, &found);
        stock::close_step(session, row.job, &row.stage, *step, false)?;
    }
    // Only now is all of it known: a later step may stand against the command as well, and a refusal undoes every fact.
    against.may_overrule(session, override_reason)?;
    // What is not safe comes before what was not said: whoever is told the latter goes and takes it off.
    unsaid
}

/// Leaves one step out; what was set aside for it is free again.
pub(super) fn leave_out(session: &mut Session, row: &StageRow, step: StepNo, reason: &TextRef) -> Result<(), Refusal> {
    pending(session.state, row, step)?;
    let reason = reason.clone();
    session.emit(Fact::StepSkipped { job: row.job, stage: row.stage.clone(), step, reason })?;
    stock::close_step(session, row.job, &row.stage, step, true)
}

/// Tells whoever ticks a step what of its needs came from nowhere: the stock book would promise it to somebody else.
fn tell_without(session: &mut Session, step: &StepRow) {
    let without = |need: &Need| {
        let key = (step.job, step.stage.clone(), step.step, need.item.clone());
        let demand = session.state.demands.get(&key);
        let there = demand.map_or(0, |demand| demand.issued.0 + demand.reserved.0);
        let (stage, step, item) = (step.stage.clone(), step.step, need.item.clone());
        let quantity = Quantity(need.quantity.0 - there);
        quantity.is_positive().then_some(Notice::TickedWithout { stage, step, item, quantity, unit: need.unit })
    };
    let notices: Vec<Notice> = step.needs.iter().filter_map(without).collect();
    session.notices.extend(notices);
}

/// Tells who starts a stage what its steps will miss: now, later, or never asked for.
pub(super) fn notice_missing(session: &mut Session, row: &StageRow) {
    let mut notices = Vec::new();
    let mut next = true;
    for step in look::steps(session.state, row.job, &row.stage).filter(|step| step.state == StepState::Pending) {
        for need in &step.needs {
            notices.extend(missing(session.state, step, need, next));
        }
        notices.extend(tools::missing(session.state, step, next));
        next = false;
    }
    session.notices.extend(notices);
}

fn missing(state: &State, step: &StepRow, need: &Need, next: bool) -> Option<Notice> {
    let (stage, number, item): (_, _, ItemKey) = (step.stage.clone(), step.step, need.item.clone());
    let unit = need.unit;
    let demand = state.demands.get(&(step.job, stage.clone(), number, item.clone()));
    match demand {
        None => Some(Notice::NotReserved { stage, step: number, item, quantity: need.quantity, unit }),
        Some(demand) if demand.short > Quantity::ZERO && next => {
            Some(Notice::MissingNow { stage, step: number, item, missing: demand.short, unit })
        }
        Some(demand) if demand.short > Quantity::ZERO => {
            Some(Notice::MissingLater { stage, step: number, item, missing: demand.short, unit })
        }
        Some(_) => None,
    }
}
