//! Vehicles outside in a plan, and who keeps a bay because there is no place for one more.

use super::calendar::Span;
use super::model::Model;
use super::moves::Moving;
use super::place::{NOWHERE, Visit};
use super::search::Found;

/// When vehicles stand on places outside.
pub(super) struct Yard {
    outside: Vec<Span>,
    places: usize,
}

impl Yard {
    pub fn of(model: &Model<'_>, found: &Found) -> Self {
        let places = usize::try_from(model.input.places_outside).unwrap_or(0);
        let mut yard = Self { outside: Vec::new(), places };
        let mut visits: Vec<Vec<&Visit>> = vec![Vec::new(); model.jobs.len()];
        found.visits.iter().for_each(|visit| visits[visit.job as usize].push(visit));
        for (j, mut own) in visits.into_iter().enumerate() {
            own.sort_by_key(|visit| visit.from);
            let (job, over) = (&model.jobs[j], over(model, found, j));
            // Before its first stay, between two, and behind the last until all is over.
            let here = (job.outside || own.is_empty() && job.in_bay.is_some()).then_some(0);
            let from = here.into_iter().chain(own.iter().map(|visit| visit.until));
            let mut until = own.iter().map(|visit| visit.from).chain([over]).skip(usize::from(here.is_none()));
            for from in from {
                let span = Span { from, until: until.next().unwrap_or(over) };
                yard.outside.extend(Some(span).filter(|span| span.from < span.until));
            }
        }
        yard
    }

    fn is_full(&self, at: i32) -> bool {
        self.outside.iter().filter(|span| span.from <= at && at < span.until).count() >= self.places
    }

    /// Whether a vehicle could have left its bay in a stay, for as long as moving it there and back takes at least, after
    /// somebody else could have used the bay, and found no place outside.
    pub fn keeps(&self, model: &Model<'_>, found: &Found, stay: &Visit, ready: i32) -> bool {
        let (j, job) = (stay.job as usize, &model.jobs[stay.job as usize]);
        let in_it = |i: &&u32| {
            let place = &found.places[**i as usize];
            place.bay == Some(stay.bay) && place.from >= stay.from && place.until <= stay.until
        };
        let own: Vec<Span> = job.stages.iter().filter(in_it).map(|&i| span(found, i)).collect();
        let placed = job.stages.iter().map(|&i| span(found, i)).filter(|span| span.from != NOWHERE);
        let ends = placed.map(|span| span.until).chain([stay.from]).filter(|&at| stay.from <= at && at < stay.until);
        let mut could = ends.filter(|&at| !own.iter().any(|span| span.from < at && at < span.until));
        could.any(|at| {
            let back = own.iter().map(|span| span.from).filter(|&from| from >= at).min();
            let until = back.unwrap_or(stay.until);
            let moving = model.moving(j, true);
            let goes = model.move_from(at, if back.is_some() { moving } else { Moving { minutes: 0, ..moving } });
            let long = back.is_none() || model.move_by(until, moving) > goes.until;
            long && ready < until && may_leave(model, found, j, goes.from) && self.is_full(goes.until)
        })
    }
}

fn span(found: &Found, i: u32) -> Span {
    let place = &found.places[i as usize];
    Span { from: place.from, until: place.until }
}

/// When all of a job is over; the end of the calendars where some of it has no place.
fn over(model: &Model<'_>, found: &Found, j: usize) -> i32 {
    let job = &model.jobs[j];
    let last = job.stages.iter().map(|&i| found.places[i as usize].until).fold(job.ended, i32::max);
    if job.broken { model.clock.end } else { last.min(model.clock.end) }
}

/// Whether a job's vehicle may leave its bay at a moment of the plan: no work of it is under way, and what was finished last
/// lets it go, or all is over.
fn may_leave(model: &Model<'_>, found: &Found, j: usize, at: i32) -> bool {
    let job = &model.jobs[j];
    let work = || job.stages.iter().map(|&i| (&model.stages[i as usize], span(found, i))).filter(|(s, _)| s.hands > 0);
    let under_way = |(stage, span): (&super::model::Stage, Span)| (stage.begun || span.from < at) && at < span.until;
    if work().any(under_way) {
        return false;
    }
    let last = work().filter(|(_, span)| span.until <= at).max_by_key(|(stage, span)| (span.until, stage.may_leave));
    over(model, found, j) <= at || last.map_or(job.may_leave, |(stage, _)| stage.may_leave)
}
