//! Random shops, small enough to be looked at whole or large enough to be crowded.
#![allow(dead_code, reason = "each test binary uses its part")]

use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::job::JobAfter;
use leadhand_facts::plan::{
    PlanBay, PlanBlocker, PlanInput, PlanJob, PlanPin, PlanStage, PlanTechnician, PlanTool, StageNow, VehicleNow,
};
use leadhand_facts::template::Minutes;
use leadhand_facts::words::{BayKind, StageKind};
use leadhand_facts::{BayKey, Instant, JobNo, PersonId, StageKey, ToolKey, Window};
use leadhand_planner::rng::Rng;
use uuid::Uuid;

/// How large a random shop is.
#[derive(Clone, Copy)]
pub struct Size {
    pub jobs: usize,
    pub stages: usize,
    pub bays: usize,
    pub people: usize,
    pub days: usize,
    /// Minutes of which everything is a multiple.
    pub grain: i64,
}

pub const EPOCH: Instant = Instant(1_800_000_000 * 1_000_000);

pub fn at(minute: i64) -> Instant {
    EPOCH.plus_minutes(minute)
}

pub fn minute(at: Instant) -> i64 {
    at.since_us(EPOCH) / MINUTE_US
}

pub fn window(from: i64, until: i64) -> Window {
    Window { from: at(from), until: at(until) }
}

fn small(n: usize) -> i64 {
    i64::try_from(n).expect("small")
}

pub fn person(n: usize) -> PersonId {
    PersonId(Uuid::from_u128(0x1000 + n as u128))
}

pub fn three(minutes: i64) -> Minutes {
    let m = i32::try_from(minutes).expect("small");
    Minutes { low: m, likely: m, high: m }
}

pub fn stage(key: &str, minutes: i64) -> PlanStage {
    PlanStage {
        stage: StageKey::from(key),
        title: key.to_owned(),
        kind: StageKind::Work,
        minutes: three(minutes),
        in_bay: true,
        bays: Vec::new(),
        skills: Vec::new(),
        hands: 1,
        tools: Vec::new(),
        after: Vec::new(),
        may_leave: false,
        may_pause: true,
        parts_from: None,
        blocker: None,
        now: StageNow::Open,
        begun: false,
        on: false,
        pin: PlanPin::default(),
    }
}

pub fn job(number: usize, stages: Vec<PlanStage>) -> PlanJob {
    PlanJob {
        job: JobNo(small(number)),
        name: format!("job {number}"),
        promised: None,
        weight: 1,
        here_from: at(0),
        vehicle: VehicleNow::Away,
        kg: 1_200,
        moving_minutes: 0,
        stages,
    }
}

pub fn technician(n: usize, skills: &[&str], shifts: Vec<Window>) -> PlanTechnician {
    let skills = skills.iter().map(|s| (*s).to_owned()).collect();
    PlanTechnician { person: person(n), name: format!("hand {n}"), skills, shifts, overtime: Vec::new() }
}

pub fn bay(n: usize, kind: BayKind) -> PlanBay {
    PlanBay { bay: BayKey(format!("bay-{n}")), kind, rated_kg: 3_000, closed: Vec::new() }
}

pub fn after(stage: &str, wait_minutes: i64) -> JobAfter {
    JobAfter { stage: StageKey::from(stage), wait_minutes: i32::try_from(wait_minutes).expect("small") }
}

/// A shop of one long day after the other, with nobody and nothing in it.
pub fn empty(days: usize, day: i64, night: i64) -> PlanInput {
    let shop: Vec<Window> = (0..small(days)).map(|d| window(d * (day + night), d * (day + night) + day)).collect();
    PlanInput {
        number: 7,
        at: at(0),
        until: at(small(days) * (day + night)),
        shop,
        shift_end: at(day),
        places_outside: 1,
        bays: Vec::new(),
        technicians: Vec::new(),
        tools: Vec::new(),
        jobs: Vec::new(),
        accepted: Vec::new(),
    }
}

/// The shop of 20 to 60 stages for which `tests/reference/shops.py` found the bounds of a row of
/// `tests/vectors/shop_bounds.csv`.
pub fn case(seed: u64) -> PlanInput {
    let (jobs, stages) = (4 + usize::try_from(seed % 7).expect("small"), 5 + usize::from(seed % 2 == 1));
    random(Size { jobs, stages, bays: 3, people: 4, days: 20, grain: 30 }, 10_000 + seed)
}

/// The shop of at most seven stages that is looked at whole, and whose optimum `tests/reference/shops.py` proved in a row
/// of `tests/vectors/tiny_optima.csv`.
pub fn tiny(seed: u64) -> PlanInput {
    let (jobs, stages) = if seed.is_multiple_of(4) { (3, 2) } else { (2, 3) };
    random(Size { jobs, stages, bays: 2, people: 2, days: 4, grain: 30 }, seed)
}

/// Tells when a shop is no longer the one that a row of a table is about: FNV-1a, 64 bits, over its JSON.
pub fn digest(input: &PlanInput) -> String {
    let text = serde_json::to_string(input).expect("json");
    let step = |h: u64, byte: u8| (h ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    format!("{:016x}", text.bytes().fold(0xcbf2_9ce4_8422_2325, step))
}

/// A shop with every feature here and there.
pub fn random(size: Size, seed: u64) -> PlanInput {
    let mut rng = Rng::new(seed);
    let g = size.grain;
    let mut input = empty(size.days, 8 * g, 4 * g);
    input.places_outside = i32::try_from(rng.below(3)).expect("small");
    for n in 0..size.bays {
        let mut made = bay(n, if rng.percent(70) { BayKind::TwoPostLift } else { BayKind::Floor });
        if rng.percent(10) {
            made.closed.push(window(2 * g, 4 * g));
        }
        input.bays.push(made);
    }
    input.bays[0].kind = BayKind::TwoPostLift;
    for n in 0..size.people {
        let skills: &[&str] = if n == 0 || rng.percent(40) { &["engine"] } else { &[] };
        let shifts =
            input.shop.iter().map(|w| Window { from: w.from, until: w.until.plus_minutes(-g * small(rng.below(3))) });
        let mut made = technician(n, skills, shifts.collect());
        if rng.percent(30) {
            made.overtime.push(Window { from: input.shop[0].until, until: input.shop[0].until.plus_minutes(2 * g) });
        }
        input.technicians.push(made);
    }
    input.tools.push(PlanTool { tool: ToolKey::from("cam-lock"), away: Vec::new(), with: None });
    for n in 1..=size.jobs {
        let stages = random_stages(&mut rng, size, n);
        let mut made = job(n, stages);
        made.moving_minutes = if rng.percent(50) { i32::try_from(g).expect("small") } else { 0 };
        made.weight = 1 + i32::try_from(rng.below(3)).expect("small");
        let work = small(size.stages) * 3 * g;
        made.promised =
            rng.percent(70).then(|| at(g * small(rng.below(usize::try_from(2 * work / g).expect("small") + 1))));
        made.here_from = if rng.percent(20) { at(g * small(rng.below(4))) } else { at(0) };
        input.jobs.push(made);
    }
    if rng.percent(40) {
        let first = input.jobs[0].stages[0].clone();
        if first.in_bay && first.bays.is_empty() {
            input.jobs[0].vehicle = VehicleNow::Bay(input.bays[0].bay.clone());
            input.jobs[0].here_from = at(0);
        }
    }
    input
}

fn random_stages(rng: &mut Rng, size: Size, n: usize) -> Vec<PlanStage> {
    let g = size.grain;
    let mut stages: Vec<PlanStage> = Vec::new();
    for k in 0..size.stages {
        let mut made = stage(&format!("s{n}-{k}"), g * (1 + small(rng.below(4))));
        if k > 0 && rng.percent(15) {
            made.kind = StageKind::Wait;
            made.hands = 0;
            made.in_bay = false;
        } else {
            made.in_bay = rng.percent(80);
            made.may_leave = rng.percent(50);
            made.may_pause = rng.percent(70);
            if rng.percent(25) {
                made.skills.push("engine".to_owned());
            }
            if rng.percent(15) {
                made.tools.push(ToolKey::from("cam-lock"));
            }
            if rng.percent(10) && size.people > 1 {
                made.hands = 2;
                made.skills.clear();
            }
            if made.in_bay && rng.percent(15) {
                made.bays.push(BayKind::TwoPostLift);
            }
        }
        for before in 0..k {
            if rng.percent(if before + 1 == k { 75 } else { 15 }) {
                let wait = if rng.percent(25) { g * small(rng.below(4)) } else { 0 };
                made.after.push(after(&format!("s{n}-{before}"), wait));
            }
        }
        if rng.percent(10) {
            made.parts_from = Some(at(g * small(rng.below(8))));
        }
        if rng.percent(6) {
            let until = rng.percent(50).then(|| at(g * small(rng.below(8))));
            made.blocker = Some(PlanBlocker { cause: "a seized bolt".to_owned(), until, beside: None });
        }
        stages.push(made);
    }
    stages
}
