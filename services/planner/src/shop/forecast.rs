//! When jobs are ready in half of all cases, and in four out of five: the plan's order with minutes drawn anew.
//!
//! With the planned minutes the simulation comes to the plan's own times: what binds a stage there binds it here, and what
//! the plan begins later than anything that binds it is not begun sooner.

use super::calendar::{Span, inside, work_from};
use super::model::Model;
use super::moves::Moving;
use super::place::NOWHERE;
use super::search::Found;
use super::stays::{Leaving, Stays};
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
    /// Stays that end before its own, and the moves after them.
    stays: Vec<(usize, Moving)>,
    release: i32,
    beta: Option<Beta>,
    /// In what order people use overtime is as in the plan.
    overtime: bool,
}

/// What was drawn so far in a run.
struct Drawn {
    until: Vec<i32>,
    /// When vehicles left, once that was asked.
    left: Vec<Option<i32>>,
}

impl Drawn {
    /// When a vehicle leaves a stay.
    fn left(&mut self, model: &Model<'_>, leaving: &[Leaving], v: usize) -> i32 {
        let ends = || leaving[v].stages.iter().map(|&i| self.until[i]);
        let at = self.left[v].unwrap_or_else(|| model.moved(ends().max().unwrap_or(0), leaving[v].moving));
        self.left[v] = Some(at);
        at
    }
}

/// Simulates the plan's order `runs` times; nothing for a job with a stage that has no place.
pub(crate) fn finishes(model: &Model<'_>, found: &Found, runs: usize, mut rng: Rng) -> Vec<Option<Chance>> {
    let stays = Stays::of(model, found);
    let leaving = stays.leaving();
    let mut drawn = Drawn { until: vec![0; model.stages.len()], left: vec![None; leaving.len()] };
    let steps = steps(model, found, &stays, &leaving, &mut drawn);
    let mut samples: Vec<Vec<i32>> = vec![Vec::with_capacity(runs); model.jobs.len()];
    for _ in 0..runs {
        drawn.left.fill(None);
        for step in &steps {
            let minutes = step.beta.map_or(model.stages[step.stage].minutes, |beta| beta.minutes(&mut rng));
            let at = ready(model, step, &leaving, &mut drawn);
            drawn.until[step.stage] = span(model, found, step, minutes, at).until;
        }
        for (job, samples) in model.jobs.iter().zip(&mut samples) {
            samples.push(job.stages.iter().map(|&i| drawn.until[i as usize]).max().unwrap_or(0).max(job.ended));
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

/// When what comes before a stage is over.
fn ready(model: &Model<'_>, step: &Step, leaving: &[Leaving], drawn: &mut Drawn) -> i32 {
    let mut at = step.release;
    for &(p, lag) in &step.preds {
        at = at.max(drawn.until[p].saturating_add(lag));
    }
    for &(v, moving) in &step.stays {
        at = at.max(model.moved(drawn.left(model, leaving, v), moving));
    }
    at
}

/// When a stage is done that takes so many minutes, from a minute on.
fn span(model: &Model<'_>, found: &Found, step: &Step, minutes: i32, mut at: i32) -> Span {
    let (stage, place) = (&model.stages[step.stage], &found.places[step.stage]);
    if stage.hands == 0 {
        return Span { from: at, until: at.saturating_add(minutes) };
    }
    let calendars: Vec<&[Span]> = place
        .people
        .iter()
        .map(|&p| &model.people[p as usize])
        .map(|p| if step.overtime { p.all.as_slice() } else { p.normal.as_slice() })
        .collect();
    let clash = |span: Span| {
        let meets = |spans: &[Span]| {
            let next = spans.get(spans.partition_point(|away| away.until <= span.from))?;
            next.meets(span).then_some(next.until)
        };
        let away = stage.tools.iter().map(|&t| model.tool_away(t, &place.people));
        away.chain(place.bay.map(|b| model.bays_closed[b as usize].as_slice())).filter_map(meets).max()
    };
    let never = Span { from: model.clock.end.max(at), until: model.clock.end.max(at.saturating_add(minutes)) };
    loop {
        // What is done in one go and drawn longer than any stretch of hours goes on the next day all the same.
        let work = |pause: bool| work_from(&calendars, at, minutes.max(1), pause);
        let Some(span) = work(stage.may_pause).or_else(|| work(true)) else { return never };
        match clash(span) {
            Some(later) => at = later,
            None => return span,
        }
    }
}

/// The plan's stages by start, each behind whatever holds its people, bay and tools before it.
fn steps(model: &Model<'_>, found: &Found, stays: &Stays<'_, '_>, leaving: &[Leaving], drawn: &mut Drawn) -> Vec<Step> {
    let mut order: Vec<usize> = (0..model.stages.len()).filter(|&i| found.places[i].from != NOWHERE).collect();
    order.sort_by_key(|&i| (found.places[i].from, found.places[i].until, i));
    let mut last_of_person = vec![None; model.people.len()];
    let mut last_with_tool = vec![None; model.tools_away.len()];
    let mut steps: Vec<Step> = Vec::with_capacity(order.len());
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
        let (stays, there) = stays.before(i);
        preds.sort_unstable();
        preds.dedup();
        let planned = Span { from: place.from, until: place.until };
        let normal = |&p: &u32| inside(&model.people[p as usize].normal, planned);
        let overtime = place.people.iter().any(|p| normal(p) < i64::from(stage.minutes));
        let release = if stage.started { 0 } else { stage.release.max(model.jobs[stage.job].ended) };
        let beta = beta(model.row(i).minutes);
        let mut step = Step { stage: i, preds, stays, release: release.max(there), beta, overtime };
        // What begins later than anything that binds it does so because the plan says so.
        let at = ready(model, &step, leaving, drawn);
        if span(model, found, &step, stage.minutes, at).from < place.from {
            step.release = place.from;
        }
        drawn.until[i] = place.until;
        steps.push(step);
    }
    steps
}

fn beta(minutes: Minutes) -> Option<Beta> {
    Beta::pert(f64::from(minutes.low), f64::from(minutes.likely), f64::from(minutes.high))
}
