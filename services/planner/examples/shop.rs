//! How long the first plan of a made-up shop takes, and all with forecasts and helps, what it is worth, and how much memory it took.
//!
//! `cargo run --release -p leadhand-planner --example shop -- BAYS TECHNICIANS JOBS STAGES [SCHEDULES]`

use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::job::JobAfter;
use leadhand_facts::plan::{PlanBay, PlanInput, PlanJob, PlanPin, PlanStage, PlanTechnician, StageNow, VehicleNow};
use leadhand_facts::template::Minutes;
use leadhand_facts::words::{BayKind, StageKind};
use leadhand_facts::{BayKey, Instant, JobNo, PersonId, StageKey, Window};
use leadhand_planner::rng::Rng;
use leadhand_planner::{Budget, propose};
use std::process::ExitCode;
use std::time::Instant as Clock;

const DAY: i64 = 24 * 60;

fn main() -> ExitCode {
    let numbers: Vec<usize> = std::env::args().skip(1).filter_map(|word| word.parse().ok()).collect();
    let [bays, people, jobs, stages, ref rest @ ..] = numbers[..] else {
        eprintln!("say how many: shop BAYS TECHNICIANS JOBS STAGES [SCHEDULES]");
        return ExitCode::FAILURE;
    };
    let input = shop(bays, people, jobs, stages);
    println!(
        "schedules,first_plan_seconds,seconds,unplaced,tardiness,changes,overtime_minutes,makespan_minutes,peak_kb"
    );
    for schedules in [1, rest.first().copied().unwrap_or(20) as u64] {
        let begun = Clock::now();
        // The watcher is asked once there is a plan.
        let mut first = None;
        let mut stop = || {
            first.get_or_insert_with(|| begun.elapsed());
            false
        };
        let (_, report) = propose(&input, 1, &mut Budget { schedules, stop: &mut stop });
        let seconds = begun.elapsed().as_secs_f64();
        let o = report.objective;
        let (unplaced, changes, overtime) = (o.unplaced, o.changes, o.overtime_minutes);
        let (late, last, peak) = (o.tardiness, o.makespan_minutes, peak_kb());
        let first = first.unwrap_or_default().as_secs_f64();
        println!("{schedules},{first:.4},{seconds:.4},{unplaced},{late},{changes},{overtime},{last},{peak}");
    }
    ExitCode::SUCCESS
}

/// Most memory that the process had at a time, where Linux says so; 0 elsewhere.
fn peak_kb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|rest| rest.split_whitespace().next()).and_then(|n| n.parse().ok()).unwrap_or(0)
}

fn at(minute: i64) -> Instant {
    Instant(1_800_000_000 * 1_000_000).plus_us(minute * MINUTE_US)
}

fn shop(bays: usize, people: usize, jobs: usize, stages: usize) -> PlanInput {
    let mut rng = Rng::new(1);
    let per_hand = (jobs * stages * 40).div_ceil(people.max(1) * 480);
    let days = i64::try_from(per_hand * 4 + 20).unwrap_or(20);
    let hours: Vec<Window> = (0..days).map(|d| Window { from: at(d * DAY), until: at(d * DAY + 540) }).collect();
    let skills = ["engine", "electric", "chassis"];
    let technician = |n: usize| PlanTechnician {
        person: PersonId(uuid::Uuid::from_u128(n as u128)),
        name: format!("hand {n}"),
        skills: skills.iter().skip(n % 3).map(|s| (*s).to_owned()).chain(["engine".to_owned()]).collect(),
        shifts: hours.clone(),
        overtime: Vec::new(),
    };
    let bay = |n: usize| PlanBay {
        bay: BayKey(format!("bay-{n}")),
        kind: if n.is_multiple_of(3) { BayKind::Floor } else { BayKind::TwoPostLift },
        rated_kg: 3_000,
        closed: Vec::new(),
    };
    PlanInput {
        number: 1,
        at: at(0),
        until: at(days * DAY),
        shop: hours.clone(),
        shift_end: at(540),
        places_outside: i32::try_from(bays / 2).unwrap_or(0),
        bays: (0..bays).map(bay).collect(),
        technicians: (0..people).map(technician).collect(),
        tools: Vec::new(),
        jobs: (1..=jobs).map(|n| job(n, stages, &skills, days, &mut rng)).collect(),
        accepted: Vec::new(),
    }
}

fn job(n: usize, stages: usize, skills: &[&str], days: i64, rng: &mut Rng) -> PlanJob {
    let minutes = |rng: &mut Rng| {
        let likely = i32::try_from(rng.between(10, 60)).unwrap_or(10);
        Minutes { low: likely / 2, likely, high: likely * 2 }
    };
    let stage = |k: usize, rng: &mut Rng| {
        let waits = k > 0 && rng.percent(8);
        PlanStage {
            stage: StageKey(format!("s{k}")),
            title: format!("stage {k}"),
            kind: if waits { StageKind::Wait } else { StageKind::Work },
            minutes: minutes(rng),
            in_bay: !waits && rng.percent(85),
            bays: Vec::new(),
            skills: if rng.percent(40) { vec![skills[rng.below(3)].to_owned()] } else { Vec::new() },
            hands: i32::from(!waits),
            tools: Vec::new(),
            after: (k > 0)
                .then(|| JobAfter { stage: StageKey(format!("s{}", k - rng.between(1, k.min(3)))), wait_minutes: 0 })
                .into_iter()
                .collect(),
            may_leave: rng.percent(20),
            may_pause: true,
            parts_from: None,
            blocker: None,
            now: StageNow::Open,
            begun: false,
            on: false,
            pin: PlanPin::default(),
        }
    };
    let promised = i64::try_from(rng.below(usize::try_from(days).unwrap_or(1))).unwrap_or(0) * DAY / 3 + 540;
    PlanJob {
        job: JobNo(i64::try_from(n).unwrap_or(0)),
        name: format!("job {n}"),
        promised: Some(at(promised)),
        weight: 1 + i32::try_from(rng.below(3)).unwrap_or(0),
        here_from: at(0),
        vehicle: VehicleNow::Away,
        kg: 1_400,
        moving_minutes: 10,
        stages: (0..stages).map(|k| stage(k, rng)).collect(),
    }
}
