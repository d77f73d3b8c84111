//! The shop's plan: everything that binds a workshop, placed by the same search as any project.

mod alone;
mod calendar;
mod crew;
mod fits;
mod forecast;
mod genes;
mod hangs;
mod help;
#[cfg(test)]
#[path = "../../tests/kit/mod.rs"]
mod kit;
mod model;
mod moves;
mod near;
mod place;
mod search;
mod stays;
mod told;
mod vehicle;
mod waits;
mod why;
mod yard;

use crate::budget::{Budget, Ended, Meter};
use crate::engine::population::{Ways, evolve};
use crate::rng::Rng;
use leadhand_facts::Instant;
use leadhand_facts::plan::{
    BayVisit, Plan, PlanBlocker, PlanEnd, PlanInput, PlanJob, PlanReport, PlanStage, PlannedStage, StageNow, Unplaced,
};
use leadhand_facts::words::NoPlace;
use model::{Model, Never};
use place::{Failure, NOWHERE};
use search::{Found, Planner};

/// Runs of the forecast for each job's likely and safe time, at most.
const RUNS: usize = 400;
/// Most stages drawn for it, in all runs together, and fewest runs.
const DRAWN: usize = 150_000;
const FEWEST: usize = 40;

/// Per cent of the schedules that are set aside to look near the accepted plan.
const SET_ASIDE: u64 = 33;

/// Most vehicles that are named for keeping a bay.
const HOLDERS: usize = 4;

/// Makes a plan and says why it is so. The same input, seed and number of schedules give the same plan, unless the
/// watcher of the budget stopped the search, and the report says which. Any other input is a what-if: nothing is
/// touched.
pub fn propose(input: &PlanInput, seed: u64, budget: &mut Budget<'_>) -> (Plan, PlanReport) {
    let model = Model::new(input);
    let mut rng = Rng::new(seed);
    let forecast_rng = Rng::new(rng.bits());
    let mut meter = Meter::new(budget, 1);
    let (found, ended) = search(&model, [rng, Rng::new(!seed)], &mut meter);
    let schedules = meter.used;
    let runs = (DRAWN / model.stages.len().max(1)).clamp(FEWEST, RUNS);
    let plan = plan(&model, &found);
    let chances = forecast::finishes(&model, &found, runs, forecast_rng);
    let unplaced = unplaced(&model, &found);
    let report = PlanReport {
        objective: found.score.0,
        schedules,
        ended: match ended {
            Ended::Proved => PlanEnd::Proved,
            Ended::Spent => PlanEnd::Spent,
            Ended::Stopped => PlanEnd::Stopped,
        },
        jobs: why::outlooks(&model, &found, &chances, &unplaced),
        unplaced,
        helps: help::helps(&model, &found),
    };
    (plan, report)
}

fn search(model: &Model<'_>, [rng, near]: [Rng; 2], meter: &mut Meter<'_, '_>) -> (Found, Ended) {
    let mut planner = Planner::new(model);
    if model.stages.is_empty() {
        let draft = crate::engine::population::Draft::default();
        let score = planner.judge(&draft);
        return (planner.best.take().unwrap_or_else(|| Found::nothing(score)), Ended::Proved);
    }
    let ways = Ways { size: 16, patience: 40, moves: 1 };
    let again = model.stages.iter().any(|stage| stage.accepted.as_ref().is_some_and(|accepted| accepted.counts));
    meter.set_aside(if again { SET_ASIDE } else { 0 });
    let ended = evolve(&mut planner, rng, ways, meter);
    meter.set_aside(0);
    planner.keep_near(near, meter);
    // It may have been stopped only now.
    let ended = if matches!(ended, Ended::Proved) { ended } else { meter.ended() };
    planner.settle_delays();
    planner.settle_waits();
    let nothing = Found::nothing(Default::default());
    (planner.best.take().unwrap_or(nothing), ended)
}

fn plan(model: &Model<'_>, found: &Found) -> Plan {
    let input = model.input;
    let placed = found.places.iter().enumerate().filter(|(_, p)| p.from != NOWHERE);
    let stage = |(i, place): (usize, &place::Place)| {
        let row = model.row(i);
        PlannedStage {
            job: input.jobs[model.stages[i].job].job,
            stage: row.stage.clone(),
            bay: place.bay.map(|b| input.bays[b as usize].bay.clone()),
            people: place.people.iter().map(|&p| input.technicians[p as usize].person).collect(),
            tools: row.tools.clone(),
            from: model.clock.instant(place.from),
            until: model.clock.instant(place.until),
        }
    };
    let mut stages: Vec<PlannedStage> = placed.map(stage).collect();
    stages.sort_by(|a, b| (a.from, a.until, a.job, &a.stage).cmp(&(b.from, b.until, b.job, &b.stage)));
    let visit = |v: &place::Visit| BayVisit {
        job: input.jobs[v.job as usize].job,
        bay: input.bays[v.bay as usize].bay.clone(),
        from: model.clock.instant(v.from),
        // What nobody ends lasts as long as the plan, which may reach further than its minutes are counted.
        until: if v.until == NOWHERE || v.until >= model.clock.end {
            input.until
        } else {
            model.clock.instant(v.until)
        },
    };
    let mut visits: Vec<BayVisit> = found.visits.iter().map(visit).collect();
    visits.sort_by(|a, b| (a.from, &a.bay, a.job).cmp(&(b.from, &b.bay, b.job)));
    Plan { number: input.number, stages, visits }
}

/// Why nobody has the time for a stage.
fn no_time(input: &PlanInput, job: &PlanJob, row: &PlanStage) -> String {
    if let Some((what, at)) = beyond(input, job, row) {
        let until = input.until;
        return format!(
            "the plan reaches until {until}, and {what} {at} lies behind that; it is planned once the plan reaches so far"
        );
    }
    let once = if row.may_pause { "" } else { " at a stretch" };
    format!("nobody who can do it has so much time{once} before the calendars end; open time for it")
}

/// What a stage waits for that lies behind all that is planned, and when that is.
fn beyond(input: &PlanInput, job: &PlanJob, row: &PlanStage) -> Option<(String, Instant)> {
    let begun = row.begun || matches!(row.now, StageNow::Started { .. });
    let held = row.blocker.as_ref().and_then(PlanBlocker::known).map(|(cause, at)| (format!("the end of {cause}"), at));
    let bounds = [
        row.pin.from.filter(|_| !begun).map(|at| ("the start that the lead said,".to_owned(), at)),
        held.map(|(what, at)| (format!("{what},"), at)),
        row.parts_from.map(|at| ("the coming of its parts,".to_owned(), at)),
        Some(("the coming of the vehicle,".to_owned(), job.here_from)),
    ];
    bounds.into_iter().flatten().filter(|(_, at)| *at >= input.until).max_by_key(|(_, at)| *at)
}

/// Who has the bays that a stage could be done in, and does not leave them.
fn kept(model: &Model<'_>, found: &Found, stage: &model::Stage) -> String {
    let holds = |v: &&place::Visit| v.until == NOWHERE && v.job as usize != stage.job && stage.bays.contains(&v.bay);
    let named = |v: &place::Visit| {
        let (bay, job) = (&model.input.bays[v.bay as usize].bay, &model.input.jobs[v.job as usize]);
        format!("{bay} by {}", job.name)
    };
    let all: Vec<String> = found.visits.iter().filter(holds).map(named).collect();
    if all.is_empty() {
        return "vehicles in bays wait for each other's; roll one of them out".to_owned();
    }
    let (few, more) = (&all[..all.len().min(HOLDERS)], if all.len() > HOLDERS { " and more" } else { "" });
    format!(
        "the bays that fit it are kept ({}{more}) by vehicles that wait for each other's or may not leave; roll one of them out",
        few.join(", ")
    )
}

fn unplaced(model: &Model<'_>, found: &Found) -> Vec<Unplaced> {
    let input = model.input;
    let one = |j: usize, row: usize, (why, reason): Never| Unplaced {
        job: input.jobs[j].job,
        stage: input.jobs[j].stages[row].stage.clone(),
        why,
        reason: format!("{} of {} has no place: {reason}.", input.jobs[j].stages[row].title, input.jobs[j].name),
    };
    let never = model.never.iter().map(|(j, row, reason)| one(*j, *row, reason.clone()));
    let failed = found.places.iter().zip(&model.stages).filter_map(|(place, stage)| {
        let reason = match place.failed? {
            Failure::NoTime => {
                let job = &input.jobs[stage.job];
                (NoPlace::NoTime, no_time(input, job, &job.stages[stage.row]))
            }
            Failure::Before(p) => {
                (NoPlace::Behind, format!("it comes after {}, which has no place", model.row(p as usize).title))
            }
            Failure::CannotMove => {
                let sentence = "it needs another bay, and the vehicle may not leave the one that it is in";
                (NoPlace::CannotMove, sentence.to_owned())
            }
            Failure::Deadlock => (NoPlace::BaysWait, kept(model, found, stage)),
        };
        Some(one(stage.job, stage.row, reason))
    });
    never.chain(failed).collect()
}
