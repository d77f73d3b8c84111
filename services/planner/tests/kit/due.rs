//! A job shop with due dates as the planner's input: machines are shared tools, operations are waits that hold them.
#![allow(dead_code, reason = "each binary uses its part")]

use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::job::JobAfter;
use leadhand_facts::plan::{Plan, PlanInput, PlanJob, PlanPin, PlanStage, PlanTool, StageNow, VehicleNow};
use leadhand_facts::template::Minutes;
use leadhand_facts::words::StageKind;
use leadhand_facts::{Instant, JobNo, StageKey, ToolKey};

const EPOCH: Instant = Instant(1_800_000_000 * 1_000_000);

fn at(minute: i64) -> Instant {
    EPOCH.plus_us(minute * MINUTE_US)
}

pub fn minute(at: Instant) -> i64 {
    at.since_us(EPOCH) / MINUTE_US
}

/// `1.3` as 13.
pub fn tenths(factor: &str) -> Option<i64> {
    let (whole, tenth) = factor.split_once('.').unwrap_or((factor, "0"));
    (tenth.len() == 1).then(|| Some(whole.parse::<i64>().ok()? * 10 + tenth.parse::<i64>().ok()?))?
}

/// The job shop of a text: a line a job of machine and duration in turn. A job is due at the whole part of the factor
/// times its processing time; of the jobs in the text's order the first fifth weigh 4, the next three fifths 2, the
/// rest 1.
pub fn shop(text: &str, tenths: i64) -> Option<PlanInput> {
    let lines = text.lines().filter(|line| !line.trim_start().starts_with('#') && !line.trim().is_empty());
    let rows: Option<Vec<Vec<i64>>> =
        lines.map(|line| line.split_whitespace().map(|word| word.parse().ok()).collect()).collect();
    let rows = rows?;
    let (head, rows) = rows.split_first()?;
    let [jobs, machines] = head[..] else { return None };
    let all: i64 = rows.iter().flat_map(|row| row.iter().skip(1).step_by(2)).sum();
    let job = |(n, row): (usize, &Vec<i64>)| job(n, i64::try_from(n).ok()? * 10 / jobs, row, tenths);
    Some(PlanInput {
        number: 1,
        at: at(0),
        until: at(all),
        shop: Vec::new(),
        shift_end: at(0),
        places_outside: 0,
        bays: Vec::new(),
        technicians: Vec::new(),
        tools: (0..machines).map(|m| PlanTool { tool: machine(m), away: Vec::new(), with: None }).collect(),
        jobs: rows.iter().enumerate().map(job).collect::<Option<_>>()?,
        accepted: Vec::new(),
    })
}

fn machine(m: i64) -> ToolKey {
    ToolKey(format!("machine-{m}"))
}

fn job(n: usize, tenth: i64, row: &[i64], tenths: i64) -> Option<PlanJob> {
    let key = |k: usize| StageKey(format!("s{k}"));
    let stage = |(k, step): (usize, &[i64])| {
        let minutes = i32::try_from(step[1]).ok()?;
        Some(PlanStage {
            stage: key(k),
            title: format!("operation {k}"),
            kind: StageKind::Wait,
            minutes: Minutes { low: minutes, likely: minutes, high: minutes },
            in_bay: false,
            bays: Vec::new(),
            skills: Vec::new(),
            hands: 0,
            tools: vec![machine(step[0])],
            after: k.checked_sub(1).map(|k| JobAfter { stage: key(k), wait_minutes: 0 }).into_iter().collect(),
            may_leave: false,
            may_pause: false,
            parts_from: None,
            blocker: None,
            now: StageNow::Open,
            begun: false,
            on: false,
            pin: PlanPin::default(),
        })
    };
    let work: i64 = row.iter().skip(1).step_by(2).sum();
    Some(PlanJob {
        job: JobNo(i64::try_from(n).ok()? + 1),
        name: format!("job {n}"),
        promised: Some(at(work * tenths / 10)),
        weight: match tenth {
            0 | 1 => 4,
            2..=7 => 2,
            _ => 1,
        },
        here_from: at(0),
        vehicle: VehicleNow::Away,
        kg: 0,
        moving_minutes: 0,
        stages: row.chunks_exact(2).enumerate().map(stage).collect::<Option<_>>()?,
    })
}

/// When each operation starts, in the order of the text.
pub fn starts(input: &PlanInput, plan: &Plan) -> Vec<i64> {
    let found = |job: &PlanJob, stage: &PlanStage| {
        let row = plan.stages.iter().find(|p| p.job == job.job && p.stage == stage.stage)?;
        Some(minute(row.from))
    };
    let stages = input.jobs.iter().flat_map(|job| job.stages.iter().map(move |stage| (job, stage)));
    stages.map(|(job, stage)| found(job, stage).unwrap_or(-1)).collect()
}
