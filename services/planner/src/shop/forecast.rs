//! When jobs are ready in half of all cases, and in four out of five: the plan's order with minutes drawn anew.

use super::calendar::{Span, work_from};
use super::model::Model;
use super::place::NOWHERE;
use super::search::Found;
use crate::beta::Beta;
use crate::rng::Rng;
use leadhand_facts::template::Minutes;

/// A job's finish in half of the runs, and in four out of five.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Chance {
    pub likely: i32,
    pub safe: i32,
}

/// What a stage waits for in the plan's order.
struct Step {
    stage: usize,
    preds: Vec<(usize, i32)>,
    release: i32,
    beta: Option<Beta>,
    /// In what order people use overtime is as in the plan.
    overtime: bool,
}

/// Simulates the plan's order `runs` times; nothing for a job with a stage that has no place.
pub(crate) fn finishes(model: &Model<'_>, found: &Found, runs: usize, mut rng: Rng) -> Vec<Option<Chance>> {
    let steps = steps(model, found);
    let mut until = vec![0; model.stages.len()];
    let mut samples: Vec<Vec<i32>> = vec![Vec::with_capacity(runs); model.jobs.len()];
    for _ in 0..runs {
        run(model, found, &steps, &mut rng, &mut until);
        for (job, samples) in model.jobs.iter().zip(&mut samples) {
            samples.push(job.stages.iter().map(|&i| until[i as usize]).max().unwrap_or(0).max(job.ended));
        }
    }
    let whole = |j: usize| {
        let job = &model.jobs[j];
        !model.input.jobs[j].stages.is_empty()
            && !job.broken
            && job.stages.iter().all(|&i| found.places[i as usize].from != NOWHERE)
    };
    let chances = samples.into_iter().enumerate().map(|(j, mut all)| {
        all.sort_unstable();
        (whole(j) && !all.is_empty()).then(|| Chance { likely: quantile(&all, 50), safe: quantile(&all, 80) })
    });
    chances.collect()
}

/// The least value that so many of a hundred do not exceed.
fn quantile(sorted: &[i32], percent: usize) -> i32 {
    sorted[(sorted.len() * percent).div_ceil(100).clamp(1, sorted.len()) - 1]
}

fn run(model: &Model<'_>, found: &Found, steps: &[Step], rng: &mut Rng, until: &mut [i32]) {
    for step in steps {
        let stage = &model.stages[step.stage];
        let mut at = step.release;
        for &(p, lag) in &step.preds {
            at = at.max(until[p].saturating_add(lag));
        }
        let minutes = step.beta.map_or(stage.minutes, |beta| beta.minutes(rng));
        let people = &found.places[step.stage].people;
        let calendars: Vec<&[Span]> = people
            .iter()
            .map(|&p| &model.people[p as usize])
            .map(|p| if step.overtime { p.all.as_slice() } else { p.normal.as_slice() })
            .collect();
        // What is done in one go and drawn longer than any stretch of hours goes on the next day all the same.
        let work = |pause: bool| work_from(&calendars, at, minutes.max(1), pause);
        let nobody = stage.hands == 0 || people.is_empty();
        let worked = if nobody { None } else { work(stage.may_pause).or_else(|| work(true)) };
        until[step.stage] = worked.map_or(at.saturating_add(minutes), |span| span.until);
    }
}

/// The plan's stages by start, each behind whatever holds its people, bay and tools before it.
fn steps(model: &Model<'_>, found: &Found) -> Vec<Step> {
    let mut order: Vec<usize> = (0..model.stages.len()).filter(|&i| found.places[i].from != NOWHERE).collect();
    order.sort_by_key(|&i| (found.places[i].from, found.places[i].until, i));
    let mut last_of_person = vec![None; model.people.len()];
    let mut last_with_tool = vec![None; model.tools_away.len()];
    let mut last_in_bay: Vec<Vec<usize>> = vec![Vec::new(); model.bays_closed.len()];
    let mut steps = Vec::with_capacity(order.len());
    for i in order {
        let (stage, place) = (&model.stages[i], &found.places[i]);
        let mut preds: Vec<(usize, i32)> = stage.preds.iter().map(|&(p, lag)| (p as usize, lag)).collect();
        for &p in &place.people {
            preds.extend(last_of_person[p as usize].map(|before| (before, 0)));
            last_of_person[p as usize] = Some(i);
        }
        for &t in &stage.tools {
            preds.extend(last_with_tool[t as usize].map(|before| (before, 0)));
            last_with_tool[t as usize] = Some(i);
        }
        if let Some(bay) = place.bay {
            let others = last_in_bay[bay as usize].iter().filter(|&&b| model.stages[b].job != stage.job);
            preds.extend(others.map(|&b| (b, 0)));
            last_in_bay[bay as usize].retain(|&b| model.stages[b].job == stage.job);
            last_in_bay[bay as usize].push(i);
        }
        preds.sort_unstable();
        preds.dedup();
        let span = Span { from: place.from, until: place.until };
        let normal = |&p: &u32| super::calendar::inside(&model.people[p as usize].normal, span);
        let overtime = place.people.iter().any(|p| normal(p) < i64::from(stage.minutes));
        steps.push(Step { stage: i, preds, release: stage.release, beta: beta(model.row(i).minutes), overtime });
    }
    steps
}

fn beta(minutes: Minutes) -> Option<Beta> {
    Beta::pert(f64::from(minutes.low), f64::from(minutes.likely), f64::from(minutes.high))
}
