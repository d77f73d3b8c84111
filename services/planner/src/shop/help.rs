//! What would make jobs less late: the same order again with one thing changed, and what that saves.

use super::model::Model;
use super::place::NOWHERE;
use super::search::{Found, Planner};
use super::why::{Held, cause};
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::plan::{Cause, Help, PlanInput, PlanTechnician};
use leadhand_facts::{Instant, JobNo, PersonId, Window};
use std::collections::BTreeSet;

/// Most changes that are tried, and stages that are placed for it in all.
const TRIED: usize = 8;
const PLACED: usize = 20_000;
/// Most that are told.
const TOLD: usize = 3;
const DAY_US: i64 = 24 * 60 * MINUTE_US;

/// What would help most, best first.
pub(super) fn helps(model: &Model<'_>, found: &Found) -> Vec<Help> {
    if found.score.0.tardiness == 0 {
        return Vec::new();
    }
    let most = (PLACED / model.stages.len().max(1)).clamp(1, TRIED);
    let mut helps: Vec<Help> = changes(model, found, most)
        .into_iter()
        .filter_map(|(sentence, i, cause)| {
            let saves = found.score.0.tardiness - tardiness(&changed(model, found, i, &cause), model, found)?;
            (saves > 0).then_some(Help { sentence, saves })
        })
        .collect();
    helps.sort_by(|a, b| b.saves.cmp(&a.saves).then_with(|| a.sentence.cmp(&b.sentence)));
    helps.truncate(TOLD);
    helps
}

/// Lateness with the same order on another input, if it has the same stages.
fn tardiness(input: &PlanInput, model: &Model<'_>, found: &Found) -> Option<i64> {
    let other = Model::new(input);
    if other.stages.len() != model.stages.len() {
        return None;
    }
    let mut planner = Planner::new(&other);
    let mut draft = found.draft.clone();
    let same = planner.judge(&draft).0.tardiness;
    for gene in &mut draft.genes {
        *gene = super::genes::plain(true, super::genes::overtime(*gene), false);
    }
    Some(same.min(planner.judge(&draft).0.tardiness))
}

/// What binds late jobs and can be changed, each with its sentence, stage and cause; those that bind most weight first.
fn changes(model: &Model<'_>, found: &Found, most: usize) -> Vec<(String, usize, Cause)> {
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
        while let (Some(i), true) = (at, links < 12) {
            let link = cause(model, found, &held, i);
            if let Some(sentence) = sentence(model, found, i, &link.cause)
                && seen.insert(sentence.clone())
            {
                changes.push((sentence, i, link.cause));
                if changes.len() == most {
                    return changes;
                }
            }
            at = link.next;
            links += 1;
        }
    }
    changes
}

/// What is changed, if that is something that can be.
fn sentence(model: &Model<'_>, found: &Found, i: usize, cause: &Cause) -> Option<String> {
    let (input, row) = (model.input, model.row(i));
    let name = &input.jobs[model.stages[i].job].name;
    Some(match cause {
        Cause::Parts => format!("The parts for {} of {name} a day sooner", row.title),
        Cause::Blocker(what) => {
            row.blocker.as_ref()?;
            format!("{what} at {} of {name} over a day sooner", row.title)
        }
        Cause::Person { person, .. } => {
            let like = input.technicians.iter().find(|t| t.person == *person)?;
            let first = shifts(like, model.clock.instant(found.places[i].from)).first()?.from;
            format!("One more hand with what {} can do, from the shift that begins at {first}", like.name)
        }
        Cause::Bay { bay, job } => format!("Rolling {} out of bay {bay} while it waits", name_of(input, *job)),
        _ => return None,
    })
}

/// The input with the change made.
fn changed(model: &Model<'_>, found: &Found, i: usize, cause: &Cause) -> PlanInput {
    let mut input = model.input.clone();
    let stage = &model.stages[i];
    let row = &mut input.jobs[stage.job].stages[stage.row];
    match cause {
        Cause::Parts => row.parts_from = row.parts_from.map(|at| at.plus_us(-DAY_US)),
        Cause::Blocker(_) => {
            if let Some(blocker) = &mut row.blocker {
                blocker.until = blocker.until.map(|at| at.plus_us(-DAY_US));
            }
        }
        Cause::Person { person, .. } => one_more(&mut input, *person, model.clock.instant(found.places[i].from)),
        Cause::Bay { job, .. } => roll_out(&mut input, *job),
        _ => {}
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

fn roll_out(input: &mut PlanInput, job: JobNo) {
    input.places_outside += 1;
    for job in input.jobs.iter_mut().filter(|j| j.job == job) {
        for stage in &mut job.stages {
            stage.may_leave = true;
        }
    }
}

fn name_of(input: &PlanInput, job: JobNo) -> String {
    input.jobs.iter().find(|j| j.job == job).map_or_else(|| format!("job {job}"), |j| j.name.clone())
}
