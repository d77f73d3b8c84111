//! Commands of the workshop floor.

use super::Draw;
use leadhand_domain::command::*;
use leadhand_domain::hand_over::lines;
use leadhand_domain::look;
use leadhand_facts::fact::JobAfter;
use leadhand_facts::safety::{Fill, Hold, StepSafety};
use leadhand_facts::template::{Caution, Minutes, Need};
use leadhand_facts::words::{BayKind, Cause, Hazard, SignalWord, StageKind, StageState, VehicleState};
use leadhand_facts::*;
use uuid::Uuid;

pub fn tick(_: &mut Draw<'_>) -> Command {
    Tick {}.into()
}

pub fn open_job(draw: &mut Draw<'_>) -> Command {
    let blank = draw.below(4) == 3;
    let options = |draw: &mut Draw<'_>, name: &str| match draw.below(3) {
        1 => vec![OptionKey::from(name)],
        2 if draw.rarely(8) => vec!["no-such".into()],
        _ => vec![],
    };
    let vehicle = vehicle(draw);
    let promised_at = (draw.below(2) == 1).then(|| draw.now.plus_minutes(draw.between(-20, 3000)));
    OpenJob {
        template: (!blank).then(|| if draw.rarely(30) { "no-such".into() } else { "round".into() }),
        revision: if !blank && draw.below(4) == 3 { Some(1) } else { None },
        title: if blank { Some(draw.words("Rattle")) } else { draw.sometimes("Rattle") },
        vehicle,
        priority: if draw.rarely(40) { 9 } else { draw.between(1, 5).try_into().expect("a small number") },
        promised_at,
        with: if blank && !draw.rarely(20) { vec![] } else { options(draw, "flush") },
        without: if blank { vec![] } else { options(draw, "measure") },
    }
    .into()
}

fn vehicle(draw: &mut Draw<'_>) -> WhichVehicle {
    let known: Vec<VehicleId> = draw.state.vehicles.iter().map(|row| row.vehicle).collect();
    let customer = super::customers::some(draw);
    match draw.below(6) {
        5 => WhichVehicle::New { label: "hatch".into(), weight_kg: None, plate: draw.sometimes("ZZ 1"), customer },
        4 => WhichVehicle::Known(draw.one_of(&known).unwrap_or(VehicleId(Uuid::from_u128(8)))),
        3 => WhichVehicle::New { label: "lorry".into(), weight_kg: Some(3000), plate: None, customer: None },
        2 => WhichVehicle::New { label: draw.words("van"), weight_kg: None, plate: None, customer: None },
        _ => WhichVehicle::New { label: "van".into(), weight_kg: Some(1500), plate: None, customer: None },
    }
}

pub fn promise_job(draw: &mut Draw<'_>) -> Command {
    let promised_at = (draw.below(2) == 1).then(|| draw.now.plus_minutes(draw.between(-20, 3000)));
    PromiseJob {
        job: draw.job(),
        priority: (draw.below(2) == 0).then(|| draw.between(1, 5).try_into().expect("a small number")),
        withdraw_promise: draw.rarely(4),
        promised_at,
    }
    .into()
}

pub fn assign(draw: &mut Draw<'_>) -> Command {
    AssignJob { job: draw.job(), bay: draw.bay(), override_reason: draw.sometimes("it has to go") }.into()
}

pub fn roll_out(draw: &mut Draw<'_>) -> Command {
    RollOut { job: draw.job(), override_reason: draw.sometimes("it has to go") }.into()
}

pub fn complete(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    hand_over(draw, job)
}

/// A job is handed over: with one reason for the lines that are named, with a reason for each, or with both mixed; now and
/// then a line is forgotten, and one that is not open is named.
pub fn hand_over(draw: &mut Draw<'_>, job: JobNo) -> Command {
    let override_reason = draw.sometimes("it has to go");
    let mut overrides = Vec::new();
    if !draw.rarely(4) {
        let shared = override_reason.is_some() && draw.below(2) == 1;
        let forgets = draw.rarely(6);
        let open = lines(draw.state, job, draw.now).into_iter().skip(usize::from(forgets));
        let reason = (!shared).then(|| "the customer knows".to_owned());
        overrides.extend(open.map(|line| Override { line: line.key(), reason: reason.clone() }));
        if draw.rarely(12) {
            overrides.push(Override { line: "places:nowhere".into(), reason: Some(draw.words("a slip")) });
        }
    }
    CompleteJob { job, override_reason, overrides }.into()
}

pub fn cancel(draw: &mut Draw<'_>) -> Command {
    CancelJob { job: draw.job(), reason: draw.words("the customer changed plans"), as_it_is: !draw.rarely(3) }.into()
}

pub fn add_stage(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    let wait = draw.rarely(5);
    let some = |draw: &mut Draw<'_>| if draw.below(2) == 0 { vec![] } else { vec![draw.stage(job)] };
    let after = some(draw).into_iter().map(|stage| JobAfter { stage, wait_minutes: 5 }).collect();
    AddStage {
        job,
        stage: (draw.rarely(4)).then(|| draw.stage(job)),
        title: draw.words("Extract what broke"),
        kind: if wait { StageKind::Wait } else { StageKind::Work },
        minutes: Minutes { low: 5, likely: if draw.rarely(40) { 1 } else { 10 }, high: 30 },
        bays: if draw.below(3) == 2 { vec![BayKind::Floor] } else { vec![] },
        skills: if draw.rarely(5) { vec!["welding".into()] } else { vec![] },
        hands: i32::from(!wait),
        tools: vec!["extractor".into()],
        after,
        after_last: draw.below(2) == 0,
        before: before(draw, job),
        may_leave: draw.below(2) == 0,
        in_one_go: draw.rarely(4),
        steps: if wait { vec![] } else { vec![draw.words("Drill it"), "Draw it".into()] },
    }
    .into()
}

/// Mostly nothing; or a stage that is left, which then has to wait; or any.
fn before(draw: &mut Draw<'_>, job: JobNo) -> Vec<StageKey> {
    let left: Vec<StageKey> = look::stages(draw.state, job)
        .filter(|row| row.state == StageState::Pending && row.ready_at.is_some())
        .map(|row| row.stage.clone())
        .collect();
    match draw.below(5) {
        2 | 3 => draw.one_of(&left).into_iter().collect(),
        4 => vec![draw.stage(job)],
        _ => vec![],
    }
}

pub fn add_step(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    let need = |draw: &mut Draw<'_>| {
        let (item, unit) = draw.one_of(&[("gasket", Unit::Piece), ("seal", Unit::Piece), ("coolant", Unit::Litre)])?;
        let item = ItemKey::from(if draw.rarely(20) { "no-such" } else { item });
        Some(Need { item, quantity: Quantity(draw.between(1, 3)), unit })
    };
    let needs = (0..draw.below(3)).filter_map(|_| need(draw)).collect();
    AddStep {
        job,
        stage: draw.stage(job),
        instruction: draw.words("Renew that too"),
        tools: vec!["hook".into()],
        shared_tools: if draw.rarely(4) { vec![draw.tool()] } else { vec![] },
        cautions: vec![Caution { word: SignalWord::Warning, text: draw.words("Splinters: wear eye protection") }],
        needs,
        follow_up: draw.sometimes("look at it again after a week"),
        safety: safety(draw),
    }
    .into()
}

/// What the step asks of the vehicle, rarely: most of what is added is plain.
fn safety(draw: &mut Draw<'_>) -> StepSafety {
    let some = |draw: &mut Draw<'_>| draw.rarely(12);
    StepSafety {
        needs: if some(draw) { vec![VehicleState::BatteryIsolated] } else { vec![] },
        sets: if some(draw) { vec![VehicleState::BonnetOpen] } else { vec![] },
        hold: some(draw).then(|| Hold { what: "all of it is there".into(), second: draw.rarely(2), whole: false }),
        hazards: if some(draw) { vec![Hazard::Fuel] } else { vec![] },
        fluids: vec![],
        fill: some(draw).then(|| Fill { fluid: "coolant".into(), reckoned: None }),
        skills: if some(draw) { vec!["engine".into()] } else { vec![] },
        only_here: some(draw),
    }
}

pub fn start(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    StartStage { job, stage: draw.stage(job), override_reason: draw.sometimes("it has to go on") }.into()
}

/// A stage under way, if there is one: on any other little can be done.
fn under_way(draw: &mut Draw<'_>) -> (JobNo, StageKey) {
    let active = draw.state.stages.iter().filter(|row| row.state == StageState::Active);
    let active: Vec<(JobNo, StageKey)> = active.map(|row| (row.job, row.stage.clone())).collect();
    let chosen = if draw.rarely(5) { None } else { draw.one_of(&active) };
    chosen.unwrap_or_else(|| {
        let job = draw.job();
        (job, draw.stage(job))
    })
}

pub fn finish(draw: &mut Draw<'_>) -> Command {
    let (job, stage) = under_way(draw);
    FinishStage { job, stage, as_listed: draw.below(2) == 0 }.into()
}

pub fn skip_stage(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    SkipStage { job, stage: draw.stage(job), reason: draw.words("not needed") }.into()
}

fn step(draw: &mut Draw<'_>) -> StepNo {
    StepNo(draw.between(1, 3).try_into().expect("a small number"))
}

pub fn tick_steps(draw: &mut Draw<'_>) -> Command {
    let (job, stage) = under_way(draw);
    let steps = (0..draw.below(3)).map(|_| step(draw)).collect();
    TickSteps { job, stage, steps, override_reason: draw.sometimes("no other way") }.into()
}

pub fn skip_step(draw: &mut Draw<'_>) -> Command {
    let (job, stage) = under_way(draw);
    SkipStep { job, stage, step: step(draw), reason: draw.words("not needed") }.into()
}

pub fn raise(draw: &mut Draw<'_>) -> Command {
    let (job, stage) = under_way(draw);
    let owner = (draw.below(2) == 0).then(|| draw.person());
    let expected_at = (draw.below(3) == 0).then(|| draw.now.plus_minutes(draw.between(-10, 500)));
    let cause = draw.one_of(Cause::ALL).unwrap_or(Cause::Tool);
    RaiseBlocker { job, stage, cause, owner, expected_at, note: draw.sometimes("the puller is lent") }.into()
}

pub fn clear(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    let open: Vec<BlockerNo> = look::open_blockers(draw.state, job).map(|row| row.blocker).collect();
    let blocker = if draw.rarely(6) { None } else { draw.one_of(&open) };
    ClearBlocker { job, blocker: blocker.unwrap_or(BlockerNo(1)), note: draw.sometimes("it came back") }.into()
}

pub fn own(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    let open: Vec<BlockerNo> = look::open_blockers(draw.state, job).map(|row| row.blocker).collect();
    let blocker = if draw.rarely(6) { None } else { draw.one_of(&open) };
    let owner = (draw.below(2) == 0).then(|| draw.person());
    let expected_at = (draw.below(3) == 0).then(|| draw.now.plus_minutes(draw.between(-10, 500)));
    OwnBlocker { job, blocker: blocker.unwrap_or(BlockerNo(1)), owner, expected_at }.into()
}

pub fn clock_on(draw: &mut Draw<'_>) -> Command {
    let (job, stage) = under_way(draw);
    ClockOn { job, stage, override_reason: draw.sometimes("under supervision") }.into()
}

pub fn clock_off(_: &mut Draw<'_>) -> Command {
    ClockOff {}.into()
}

pub fn record_work(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    let from_at = draw.now.plus_minutes(-draw.between(1, 200));
    let (stage, until_at) = (draw.stage(job), from_at.plus_minutes(draw.between(-5, 90)));
    RecordWork { job, stage, from_at, until_at, override_reason: draw.sometimes("under supervision") }.into()
}
