//! What would make jobs less late: the same order again with one thing changed, and what that saves.

use super::model::Model;
use super::place::{NOWHERE, Place};
use super::search::{Found, Planner};
use super::told::length;
use super::why::{Held, cause, held_up};
use crate::engine::population::Decoder;
use crate::rng::Rng;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::plan::{Cause, Help, PlanInput, PlanTechnician};
use leadhand_facts::{Instant, JobNo, PersonId, Window};
use std::collections::BTreeSet;

/// Most changes that are tried, and stages that are placed for it in all.
const TRIED: usize = 12;
const PLACED: usize = 40_000;
/// Orders by rule that are tried with each change.
const RULES: usize = 2;
/// Most that are told.
const TOLD: usize = 3;
const DAY_US: i64 = 24 * 60 * MINUTE_US;
const HOUR: i32 = 60;

/// One thing to change, and how it is told.
struct Try {
    sentence: String,
    what: What,
}

enum What {
    /// Parts of a stage, sooner.
    Parts(usize, Sooner),
    /// What holds up a stage, over sooner.
    Blocker(usize, Sooner),
    /// One more hand like somebody, in the shifts up to a moment.
    Hand(PersonId, Instant),
    /// A job's vehicle may be rolled out.
    RollOut(JobNo),
    /// A place outside more.
    Place,
    /// A shared tool that somebody has is handed back, by number.
    Back(u32),
    /// Overtime of somebody, by number, that the lead could open.
    Overtime(u32, Window),
}

/// How much sooner something is there or over.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Sooner {
    Day,
    /// At once: a day sooner it may be a closed one.
    Now,
}

impl Sooner {
    fn of(self, at: Instant, now: Instant) -> Instant {
        match self {
            Self::Day => at.plus_us(-DAY_US),
            Self::Now => now,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Day => "a day sooner",
            Self::Now => "now",
        }
    }
}

/// What would help most, best first.
pub(super) fn helps(model: &Model<'_>, found: &Found) -> Vec<Help> {
    if found.score.0.tardiness == 0 {
        return Vec::new();
    }
    let most = (PLACED / ((2 + RULES) * model.stages.len()).max(1)).clamp(1, TRIED);
    let mut helps: Vec<(What, Help)> = changes(model, found, most)
        .into_iter()
        .filter_map(|Try { sentence, what }| {
            let (weighted, minutes) = lateness(&changed(model, &what), model, found, &what)?;
            let (saves, sooner) = (found.score.0.tardiness - weighted, late_minutes(model, &found.places) - minutes);
            let gain = if sooner > 0 {
                format!("{} less late", length(sooner))
            } else {
                "what is urgent is less late".to_owned()
            };
            (saves > 0).then(|| (what, Help { sentence: format!("{sentence} ({gain})"), saves }))
        })
        .collect();
    helps.sort_by(|(_, a), (_, b)| b.saves.cmp(&a.saves).then_with(|| a.sentence.cmp(&b.sentence)));
    let enough = |what: &What, saves: i64| helps.iter().any(|(other, help)| help.saves == saves && less(other, what));
    let told = helps.iter().filter(|(what, help)| !enough(what, help.saves)).map(|(_, help)| help.clone());
    told.take(TOLD).collect()
}

/// Whether the one is the other a day sooner instead of now.
fn less(one: &What, other: &What) -> bool {
    match (one, other) {
        (What::Parts(i, Sooner::Day), What::Parts(k, Sooner::Now))
        | (What::Blocker(i, Sooner::Day), What::Blocker(k, Sooner::Now)) => i == k,
        _ => false,
    }
}

/// Minutes that jobs are late, each counted once.
fn late_minutes(model: &Model<'_>, places: &[Place]) -> i64 {
    let late = |job: &super::model::Job| {
        let until = job.stages.iter().map(|&i| places[i as usize].until).max().unwrap_or(0).max(job.ended);
        let until = if until == NOWHERE || job.broken { model.clock.end } else { until };
        job.promised.map_or(0, |promised| (i64::from(until) - promised).max(0))
    };
    model.jobs.iter().map(late).sum()
}

/// Lateness with the same order on another input, weighted and in minutes, if it has the same stages.
fn lateness(input: &PlanInput, model: &Model<'_>, found: &Found, what: &What) -> Option<(i64, i64)> {
    let other = Model::new(input);
    if other.stages.len() != model.stages.len() {
        return None;
    }
    let mut planner = Planner::new(&other);
    let mut draft = found.draft.clone();
    let longer = |i: usize| matches!(what, What::Overtime(p, _) if found.places[i].people.contains(p));
    for (_, gene) in draft.genes.iter_mut().enumerate().filter(|(i, _)| longer(*i)) {
        *gene = super::genes::with_overtime(*gene);
    }
    planner.judge(&draft);
    // A shop that is so large that each order takes long is looked at in fewer.
    let orders = (PLACED / model.stages.len().max(1)).clamp(1, 2 + RULES);
    if orders > 1 {
        for gene in &mut draft.genes {
            *gene = super::genes::plain(true, super::genes::overtime(*gene), false);
        }
        planner.judge(&draft);
    }
    // Once more by the usual rules: what came late before need not stand behind the others in their order.
    let mut rng = Rng::new(0);
    for k in 0..orders.saturating_sub(2) {
        planner.draw(k, &mut rng, &mut draft);
        planner.judge(&draft);
    }
    let best = planner.best?;
    Some((best.score.0.tardiness, late_minutes(&other, &best.places)))
}

/// Links of a chain that are looked at: more than any job has stages in a row.
const LINKS: usize = 64;

/// What binds late jobs and can be changed; what binds most weight first.
fn changes(model: &Model<'_>, found: &Found, most: usize) -> Vec<Try> {
    let held = Held::new(model, found);
    let mut late: Vec<(i64, usize)> = Vec::new();
    for (j, job) in model.jobs.iter().enumerate() {
        let until = job.stages.iter().map(|&i| found.places[i as usize].until).max().unwrap_or(0);
        if let Some(promised) = job.promised.filter(|&p| until != NOWHERE && p < i64::from(until)) {
            late.push((-(i64::from(until) - promised) * job.weight, j));
        }
    }
    late.sort_unstable();
    let (mut seen, mut changes) = (BTreeSet::new(), Vec::new());
    for (_, j) in late.into_iter().take(TRIED) {
        let mut at = model.jobs[j].stages.iter().map(|&i| i as usize).max_by_key(|&i| (found.places[i].until, i));
        let mut links = 0;
        while let (Some(i), true) = (at, links < LINKS) {
            let link = cause(model, found, &held, i);
            let known = held_up(model, found, i).map(|held_up| remedies(model, found, i, &held_up.cause));
            let tries = remedies(model, found, i, &link.cause).into_iter().chain(known.into_iter().flatten());
            let tries = tries.chain(longer(model, found, i));
            let tries = tries.chain(handed_back(model, found, i, &link.cause));
            for one in tries.filter(|one| seen.insert(one.sentence.clone())) {
                changes.push(one);
            }
            at = link.next;
            links += 1;
        }
    }
    // What is waited for stands at the far end of a chain, behind all who might work longer, and saves most.
    changes.sort_by_key(|one| !matches!(one.what, What::Blocker(..) | What::Parts(..)));
    changes.truncate(most);
    changes
}

/// What would take a cause away; what is waited for, a day sooner and now.
fn remedies(model: &Model<'_>, found: &Found, i: usize, cause: &Cause) -> Vec<Try> {
    match cause {
        Cause::Parts | Cause::Blocker(_) => {
            [Sooner::Day, Sooner::Now].into_iter().filter_map(|when| sooner(model, i, cause, when)).collect()
        }
        _ => remedy(model, found, i, cause).into_iter().collect(),
    }
}

/// What a stage waits for, there or over sooner.
fn sooner(model: &Model<'_>, i: usize, cause: &Cause, when: Sooner) -> Option<Try> {
    let (row, words) = (model.row(i), when.words());
    let name = &model.input.jobs[model.stages[i].job].name;
    match cause {
        Cause::Parts => {
            let sentence = format!("The parts for {} of {name} {words}", row.title);
            Some(Try { sentence, what: What::Parts(i, when) })
        }
        Cause::Blocker(cause) => {
            row.blocker.as_ref()?;
            let sentence = format!("{cause} at {} of {name} over {words}", row.title);
            Some(Try { sentence, what: What::Blocker(i, when) })
        }
        _ => None,
    }
}

/// What would take another cause away, if that is something that can be changed.
fn remedy(model: &Model<'_>, found: &Found, i: usize, cause: &Cause) -> Option<Try> {
    let input = model.input;
    Some(match cause {
        Cause::Person { person, .. } => {
            let like = input.technicians.iter().find(|t| t.person == *person)?;
            let at = model.clock.instant(found.places[i].from);
            let first = shifts(like, at).first()?.from;
            let since = if first <= input.at { "now on".to_owned() } else { format!("the shift that begins {first}") };
            let sentence = format!("One more hand with what {} can do, from {since}", like.name);
            Try { sentence, what: What::Hand(*person, at) }
        }
        Cause::Bay { bay, job } => {
            let sentence = format!("Rolling {} out of bay {bay} while it waits", name_of(input, *job));
            Try { sentence, what: What::RollOut(*job) }
        }
        Cause::Yard { .. } => Try { sentence: "One more place outside".to_owned(), what: What::Place },
        _ => return None,
    })
}

/// Shared tools that are handed back by whoever has them, where a stage waits for the tool or for that person.
fn handed_back(model: &Model<'_>, found: &Found, i: usize, cause: &Cause) -> Vec<Try> {
    let (place, input) = (&found.places[i], model.input);
    let waits = matches!(cause, Cause::ToolAway { .. } | Cause::Person { .. } | Cause::Away { .. });
    let back = |&t: &u32| {
        let with = model.tools_with[t as usize].filter(|_| waits)?;
        let there = model.tools_away[t as usize].iter().any(|away| away.from <= place.from && place.from < away.until);
        let away = matches!(cause, Cause::ToolAway { tool } if *tool == input.tools[t as usize].tool);
        let name = &input.technicians[with as usize].name;
        let sentence = format!("{} handed back by {name}", input.tools[t as usize].tool);
        (away || there && place.people.contains(&with)).then_some(Try { sentence, what: What::Back(t) })
    };
    model.stages[i].tools.iter().filter_map(back).collect()
}

/// An hour of overtime for each of a stage's people, at the last end of their hours before it is finished, where they have
/// an hour then.
fn longer(model: &Model<'_>, found: &Found, i: usize) -> Vec<Try> {
    let place = &found.places[i];
    let hour = |&p: &u32| {
        let spans = &model.people[p as usize].all;
        let ended = spans.partition_point(|span| span.until < place.until).checked_sub(1)?;
        let from = spans[ended].until;
        let next = spans.get(ended + 1).map_or(model.clock.end, |span| span.from);
        if from.saturating_add(HOUR) > next {
            return None;
        }
        let window = Window { from: model.clock.instant(from), until: model.clock.instant(from + HOUR) };
        let name = &model.input.technicians[p as usize].name;
        let sentence = format!("An hour of overtime for {name}, beginning {}", window.from);
        Some(Try { sentence, what: What::Overtime(p, window) })
    };
    place.people.iter().filter_map(hour).collect()
}

/// The input with the change made.
fn changed(model: &Model<'_>, what: &What) -> PlanInput {
    let mut input = model.input.clone();
    let now = input.at;
    match what {
        What::Parts(i, when) => {
            let stage = &model.stages[*i];
            let row = &mut input.jobs[stage.job].stages[stage.row];
            row.parts_from = row.parts_from.map(|at| when.of(at, now));
        }
        What::Blocker(i, when) => {
            let stage = &model.stages[*i];
            if let Some(blocker) = &mut input.jobs[stage.job].stages[stage.row].blocker {
                blocker.until = blocker.until.map(|at| when.of(at, now));
                blocker.beside.iter_mut().for_each(|held| held.until = when.of(held.until, now));
            }
        }
        What::Hand(person, at) => one_more(&mut input, *person, *at),
        What::RollOut(job) => roll_out(&mut input, *job),
        What::Place => input.places_outside = input.places_outside.saturating_add(1),
        What::Back(t) => (input.tools[*t as usize].away, input.tools[*t as usize].with) = (Vec::new(), None),
        What::Overtime(p, window) => input.technicians[*p as usize].overtime.push(*window),
    }
    input
}

/// Somebody's shifts of the two days up to a moment.
fn shifts(of: &PlanTechnician, at: Instant) -> Vec<Window> {
    of.shifts.iter().copied().filter(|w| w.from <= at && w.until > at.plus_us(-DAY_US)).collect()
}

/// One more hand like somebody, in those shifts.
fn one_more(input: &mut PlanInput, person: PersonId, at: Instant) {
    let Some(like) = input.technicians.iter().find(|t| t.person == person).cloned() else { return };
    let (person, shifts) = (PersonId(uuid_of(input.technicians.len())), shifts(&like, at));
    input.technicians.push(PlanTechnician { person, shifts, overtime: Vec::new(), ..like });
}

/// An id that no person has: those are random.
fn uuid_of(n: usize) -> uuid::Uuid {
    uuid::Uuid::from_u128(n as u128)
}

/// It may be rolled out; there is as much room outside as there is.
fn roll_out(input: &mut PlanInput, job: JobNo) {
    for job in input.jobs.iter_mut().filter(|j| j.job == job) {
        for stage in &mut job.stages {
            stage.may_leave = true;
        }
    }
}

fn name_of(input: &PlanInput, job: JobNo) -> String {
    input.jobs.iter().find(|j| j.job == job).map_or_else(|| format!("job {job}"), |j| j.name.clone())
}
