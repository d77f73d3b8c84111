//! Proofs over plans: what a plan says against everything that binds the shop, by code that no planner shares.

mod bays;
mod hours;
mod leaving;
mod runs;
mod stages;

use leadhand_facts::plan::{Plan, PlanInput, PlanJob, PlanStage, PlannedStage, StageNow};
use leadhand_facts::{BayKey, Instant, JobNo, PersonId, StageKey, ToolKey, Window};
use std::collections::{BTreeMap, BTreeSet};

/// Something in a plan that can't be done so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanFault {
    /// The rule that it breaks, in a word.
    pub rule: &'static str,
    /// Whose job.
    pub job: JobNo,
    /// Which stage, where it is one.
    pub stage: Option<StageKey>,
    /// What is wrong, in a sentence.
    pub sentence: String,
}

impl PlanFault {
    /// Whether the plan could be done, though not everything begins when it can: so is one that others have gone on from.
    pub fn is_late(&self) -> bool {
        matches!(self.rule, "runs-on" | "clocked-on" | "waits")
    }
}

/// A planned stage beside what was said about it.
struct Row<'a> {
    planned: &'a PlannedStage,
    job: &'a PlanJob,
    said: &'a PlanStage,
}

impl Row<'_> {
    fn started(&self) -> bool {
        matches!(self.said.now, StageNow::Started { .. })
    }
}

/// What was found so far.
#[derive(Default)]
struct Faults(Vec<PlanFault>);

impl Faults {
    fn demand(&mut self, holds: bool, rule: &'static str, row: &Row<'_>, sentence: impl FnOnce() -> String) {
        if !holds {
            let stage = Some(row.planned.stage.clone());
            self.0.push(PlanFault { rule, job: row.job.job, stage, sentence: sentence() });
        }
    }

    fn require(&mut self, holds: bool, rule: &'static str, job: JobNo, sentence: impl FnOnce() -> String) {
        if !holds {
            self.add(rule, job, sentence());
        }
    }

    fn add(&mut self, rule: &'static str, job: JobNo, sentence: String) {
        self.0.push(PlanFault { rule, job, stage: None, sentence });
    }
}

/// Everything that a plan breaks; nothing when it can be done.
pub fn check_plan(input: &PlanInput, plan: &Plan) -> Vec<PlanFault> {
    let mut faults = Faults::default();
    let rows = rows(input, plan, &mut faults);
    for row in &rows {
        stages::times(input, row, &mut faults);
        stages::people(input, row, &mut faults);
        stages::order(row, &rows, &mut faults);
        hours::minutes(input, row, &mut faults);
    }
    one_at_a_time(input, &rows, &mut faults);
    runs::started(input, &rows, &mut faults);
    runs::waits(input, &rows, &mut faults);
    bays::check(input, plan, &rows, &mut faults);
    faults.0
}

/// The planned stages that the input knows, each once.
fn rows<'a>(input: &'a PlanInput, plan: &'a Plan, faults: &mut Faults) -> Vec<Row<'a>> {
    let jobs: BTreeMap<JobNo, &PlanJob> = input.jobs.iter().map(|job| (job.job, job)).collect();
    let mut seen = BTreeSet::new();
    let mut rows = Vec::new();
    for planned in &plan.stages {
        let job = jobs.get(&planned.job);
        let said = job.and_then(|job| job.stages.iter().find(|s| s.stage == planned.stage));
        let (Some(job), Some(said)) = (job, said) else {
            faults.add("known", planned.job, format!("{} is no stage of the job", planned.stage));
            continue;
        };
        let row = Row { planned, job, said };
        let over = said.now.over().is_some();
        faults.demand(!over, "known", &row, || "it is over already".to_owned());
        let first = seen.insert((planned.job, &planned.stage));
        faults.demand(first, "once", &row, || "it is planned twice".to_owned());
        rows.push(row);
    }
    if plan.number != input.number {
        let sentence = format!("the plan is of number {}, and the shop of {}", plan.number, input.number);
        faults.add("number", JobNo(0), sentence);
    }
    rows
}

/// Somebody or something that is at one stage at a time.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Held<'a> {
    Person(PersonId),
    Tool(&'a ToolKey),
}

fn one_at_a_time(input: &PlanInput, rows: &[Row<'_>], faults: &mut Faults) {
    let mut held: BTreeMap<Held<'_>, Vec<&Row<'_>>> = BTreeMap::new();
    for row in rows.iter().filter(|row| row.planned.from < row.planned.until) {
        for person in &row.planned.people {
            held.entry(Held::Person(*person)).or_default().push(row);
        }
        for tool in &row.said.tools {
            held.entry(Held::Tool(tool)).or_default().push(row);
            let span = Window { from: row.planned.from, until: row.planned.until };
            let there = is_there(input, tool, row, span);
            faults.demand(there, "tool", row, || format!("{tool} is not there all the time"));
        }
    }
    for (what, mut rows) in held {
        rows.sort_by_key(|row| (row.planned.from, row.planned.until));
        for pair in rows.windows(2) {
            let apart = pair[0].planned.until <= pair[1].planned.from;
            faults.demand(apart, "one-at-a-time", pair[1], || {
                format!("{what:?} is still at {} of job {}", pair[0].planned.stage, pair[0].job.job)
            });
        }
    }
}

/// Whether a stage has a shared tool all the time: it is not away then, or who has it is on the stage.
fn is_there(input: &PlanInput, tool: &ToolKey, row: &Row<'_>, span: Window) -> bool {
    let Some(found) = input.tools.iter().find(|t| t.tool == *tool) else { return false };
    let with = found.with.is_some_and(|with| row.planned.people.contains(&with));
    with || !found.away.iter().any(|away| away.meets(span))
}

/// The bay of that key in the input.
fn bay_of<'a>(input: &'a PlanInput, bay: &BayKey) -> Option<&'a leadhand_facts::plan::PlanBay> {
    input.bays.iter().find(|b| b.bay == *bay)
}

/// An instant and some minutes.
fn after(at: Instant, minutes: i32) -> Instant {
    at.plus_minutes(i64::from(minutes))
}
