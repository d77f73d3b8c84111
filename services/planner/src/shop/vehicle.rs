//! Where vehicles stand while stages are placed, and when they may leave.
//!
//! A vehicle leaves a bay as the shop's rules let it: not while work of its job is under way, in a bay or not; else when the
//! work that was finished last lets it go, or every stage is over. Work that is placed after a vehicle left begins after
//! that, so that what let it go stays true.

use super::calendar::Span;
use super::genes;
use super::model::Stage;
use super::moves::Moving;
use super::place::{Failure, NOWHERE, Placer, Tried, Visit};

/// Where a job's vehicle is while its stages are placed.
#[derive(Debug, Clone, Copy)]
pub(super) enum Vehicle {
    /// Not in work yet.
    Away,
    /// In a bay: the visit, from when on it can be worked on there, and the latest finish in it.
    In { visit: usize, ready: i32, last: i32 },
    /// Outside since, on a place.
    Out { since: i32, place: usize },
    /// Out of its last bay, on a place outside until every stage is over.
    Parked { place: usize },
    /// Not in the shop any more.
    Gone,
}

/// Work that is placed: when, and whether the vehicle may leave once it is finished.
#[derive(Debug, Clone, Copy)]
pub(super) struct Worked {
    from: i32,
    until: i32,
    may_leave: bool,
}

impl Placer<'_, '_> {
    /// Where a job's vehicle is to begin with.
    pub(super) fn begin(&mut self, j: usize, genes: &[u16]) {
        let job = &self.model.jobs[j];
        let in_bay = || job.stages.iter().filter(|&&i| self.model.stages[i as usize].in_bay);
        self.left[j] = u32::try_from(in_bay().count()).unwrap_or(0);
        self.unended[j] = u32::try_from(job.stages.len()).unwrap_or(0) + u32::from(job.broken);
        self.unended_begun[j] = job.begun;
        self.work[j].clear();
        (self.over[j], self.gone[j]) = (job.ended, 0);
        self.vehicles[j] = Vehicle::Away;
        let first = in_bay().next().copied();
        if let Some(bay) = job.in_bay {
            if first.is_none() && self.may_leave(j, 0) && self.stand_outside(j, 0) {
                return;
            }
            let visit = self.visits.len();
            self.vehicles[j] = Vehicle::In { visit, ready: 0, last: 0 };
            self.visits.push(Visit { job: u32::try_from(j).unwrap_or(0), bay, from: 0, until: NOWHERE });
            self.bay_free[bay as usize] = NOWHERE;
            let rolls = first.is_some_and(|first| genes::rolls_out_now(genes[first as usize]));
            // A wait that is under way in the bay goes on there.
            let runs = in_bay().any(|&i| self.model.stages[i as usize].started);
            if let (true, true, Some(place)) = (job.may_leave && !runs, rolls, self.free_place(0)) {
                let moving = self.model.moving(j, first.is_some_and(|first| genes::overtime(genes[first as usize])));
                let Span { from, until: since } = self.model.move_from(0, moving);
                if since != NOWHERE {
                    self.count(from, moving);
                    self.outside_free[place] = NOWHERE;
                    self.gone[j] = from;
                    self.close(visit, since);
                    self.vehicles[j] = Vehicle::Out { since, place };
                }
            }
        } else if job.outside && self.unended[j] > 0 {
            let free = self.outside_free.iter().position(|&free| free == 0);
            let place = free.unwrap_or_else(|| {
                self.outside_free.push(0);
                self.outside_free.len() - 1
            });
            self.outside_free[place] = NOWHERE;
            let needs_bay = first.is_some();
            self.vehicles[j] = if needs_bay { Vehicle::Out { since: 0, place } } else { Vehicle::Parked { place } };
        }
    }

    /// Where vehicles stand that are outside beyond the shop's places: so many have to be back before one more goes out.
    fn beyond(&self) -> usize {
        self.outside_free.len() - usize::try_from(self.model.input.places_outside).unwrap_or(0)
    }

    /// The place outside that is free at a moment and was taken until the latest: earlier ones are left for who comes sooner.
    /// None while as many are outside as the shop has places, or more.
    fn free_place(&self, at: i32) -> Option<usize> {
        let free = || (0..self.outside_free.len()).filter(|&place| self.outside_free[place] <= at);
        let latest = || free().max_by_key(|&place| (self.outside_free[place], std::cmp::Reverse(place)));
        if free().count() > self.beyond() { latest() } else { None }
    }

    /// When a place outside is free at the earliest, as far as is known.
    fn place_free_from(&self) -> Option<i32> {
        let mut all = self.outside_free.clone();
        all.sort_unstable();
        all.get(self.beyond()).copied().filter(|&free| free != NOWHERE)
    }

    /// Takes a vehicle that needs no bay any more out of the shop when all is over, else to a place outside, where it stands
    /// until then; says whether there is one.
    fn stand_outside(&mut self, j: usize, at: i32) -> bool {
        let over = self.unended[j] == 0;
        if over && self.over[j] <= at {
            self.vehicles[j] = Vehicle::Gone;
            return true;
        }
        let Some(place) = self.free_place(at) else { return false };
        self.outside_free[place] = if over { self.over[j] } else { NOWHERE };
        self.vehicles[j] = if over { Vehicle::Gone } else { Vehicle::Parked { place } };
        true
    }

    /// When a vehicle that needs no bay any more leaves its last one, from a moment on: as soon as it may and there is a place
    /// for it outside, or once all is over. Where work is still to be placed it stays rather than wait for a place.
    fn leave_last(&mut self, j: usize, from: i32) -> Option<i32> {
        let at = self.lets_go_from(j, from)?;
        if self.stand_outside(j, at) {
            return Some(at);
        }
        if self.unended[j] > 0 {
            return None;
        }
        let later = self.place_free_from().and_then(|free| self.lets_go_from(j, from.max(free))).unwrap_or(NOWHERE);
        let at = later.min(self.over[j].max(from));
        self.stand_outside(j, at).then_some(at)
    }

    /// Whether a job's vehicle may leave its bay at a moment, as far as its stages are placed.
    fn may_leave(&self, j: usize, at: i32) -> bool {
        let job = &self.model.jobs[j];
        if self.unended_begun[j] > 0 {
            return false;
        }
        let mut last: Option<(i32, bool)> = None;
        for work in &self.work[j] {
            if work.from < at && at < work.until {
                return false;
            }
            if work.until <= at && last.is_none_or(|last| last <= (work.until, work.may_leave)) {
                last = Some((work.until, work.may_leave));
            }
        }
        let over = self.unended[j] == 0 && self.over[j] <= at;
        over || last.map_or(job.may_leave, |(_, may_leave)| may_leave)
    }

    /// The first moment, from one on, at which a job's vehicle may leave its bay.
    pub(super) fn lets_go_from(&self, j: usize, mut at: i32) -> Option<i32> {
        while !self.may_leave(j, at) {
            let ends = self.work[j].iter().map(|work| work.until).chain([self.over[j]]);
            at = ends.filter(|&end| end > at).min()?;
        }
        Some(at)
    }

    /// The first moment, from one on, at which a job's vehicle may leave its bay and there is time to move it; `NOWHERE` where
    /// the known hours have none.
    fn moves_from(&self, j: usize, mut at: i32, moving: Moving) -> Option<i32> {
        loop {
            at = self.lets_go_from(j, at)?;
            let Span { from, .. } = self.model.move_from(at, moving);
            if from == at || from == NOWHERE {
                return Some(from);
            }
            at = from;
        }
    }

    /// Whether a vehicle leaves a bay that would do for another that is free.
    pub(super) fn goes_on(&self, stage: &Stage, gene: u16) -> bool {
        let free = |bay: &u32| self.bay_free[*bay as usize];
        let can = |bay: &u32| free(bay) != NOWHERE && self.there_from(stage.job, 0, free(bay), gene).is_some();
        genes::changes(gene) && stage.visit_bays.iter().any(can)
    }

    /// When a vehicle could be at a bay at the earliest, if it can come to it at all; `NOWHERE` if the known hours have no time
    /// for it.
    fn there_from(&self, j: usize, ready: i32, free: i32, gene: u16) -> Option<i32> {
        let moving = self.model.moving(j, genes::overtime(gene));
        Some(match self.vehicles[j] {
            Vehicle::In { last, .. } => {
                ready.max(self.moves_from(j, last.max(free), moving)?.saturating_add(moving.minutes))
            }
            Vehicle::Out { since, .. } => ready.max(self.model.move_from(since.max(free), moving).until),
            Vehicle::Away | Vehicle::Parked { .. } | Vehicle::Gone => ready.max(free),
        })
    }

    /// Chooses a bay for a vehicle that comes into one, and places the stage there.
    pub(super) fn enter(&mut self, i: u32, gene: u16, ready: i32) -> Tried {
        let stage = &self.model.stages[i as usize];
        if let Vehicle::In { last, .. } = self.vehicles[stage.job]
            && self.lets_go_from(stage.job, last).is_none()
        {
            return Tried::Failed(Failure::CannotMove);
        }
        let mut bays = std::mem::take(&mut self.choices);
        bays.clear();
        let mut taken = false;
        for &bay in stage.visit_bays.iter() {
            let free = self.bay_free[bay as usize];
            if free == NOWHERE {
                taken = true;
            } else if let Some(at) = self.there_from(stage.job, ready, free, gene) {
                bays.push((self.open_from(stage, bay, at), self.model.wanted[bay as usize], bay));
            }
        }
        bays.sort_unstable_by_key(|&(at, wanted, bay)| (at, wanted, -self.bay_free[bay as usize], bay));
        let kept = stage.accepted.as_ref().filter(|_| genes::sticks(gene)).and_then(|a| a.bay);
        let kept = bays.iter().find(|(_, _, bay)| Some(*bay) == kept);
        let choice = kept.or_else(|| bays.get(genes::bay(gene).min(bays.len().saturating_sub(1)))).copied();
        self.choices = bays;
        match choice {
            Some((at, _, bay)) => self.settle(i, gene, at, Some(bay)),
            None if taken => Tried::Park,
            // It may leave only before the other bay is free: then by way of the yard.
            None if self.waits_outside(stage.job, gene) => self.enter(i, gene, ready),
            None => Tried::Failed(Failure::CannotMove),
        }
    }

    /// Rolls a vehicle out as soon as it may leave, if there is a place.
    fn waits_outside(&mut self, j: usize, gene: u16) -> bool {
        let Vehicle::In { visit, last, .. } = self.vehicles[j] else { return false };
        self.lets_go_from(j, last).is_some_and(|at| self.roll_out(j, visit, at, gene))
    }

    /// When a stage would find a bay open for long enough.
    fn open_from(&self, stage: &Stage, bay: u32, mut at: i32) -> i32 {
        for closed in &self.model.bays_closed[bay as usize] {
            if closed.from < at.saturating_add(stage.minutes) && at < closed.until {
                at = closed.until;
            }
        }
        at
    }

    /// Notes where the vehicle stands once a stage in a bay is placed.
    pub(super) fn stand(&mut self, i: u32, gene: u16, span: Span, bay: u32) {
        let j = self.model.stages[i as usize].job;
        let moving = self.model.moving(j, genes::overtime(gene));
        self.left[j] -= 1;
        let (visit, ready, last) = match self.vehicles[j] {
            Vehicle::In { visit, ready, last } if self.visits[visit].bay == bay => (visit, ready, last),
            before => {
                let from = match before {
                    Vehicle::Away | Vehicle::Parked { .. } | Vehicle::Gone => span.from,
                    // It may be brought in the evening before.
                    Vehicle::Out { .. } => self.model.move_by(span.from, moving),
                    Vehicle::In { last, .. } => {
                        let latest = self.model.move_by(span.from, moving);
                        let soonest = self.moves_from(j, last.max(self.bay_free[bay as usize]), moving);
                        // Who goes on though there was no need makes room at once.
                        let late = !genes::changes(gene) && self.may_leave(j, latest);
                        if late { latest } else { soonest.unwrap_or(latest) }
                    }
                };
                match before {
                    Vehicle::In { visit, .. } => {
                        self.count(from, moving);
                        self.close(visit, from);
                        self.gone[j] = self.gone[j].max(from);
                    }
                    Vehicle::Out { place, .. } => {
                        self.count(from, moving);
                        self.outside_free[place] = from;
                    }
                    Vehicle::Away | Vehicle::Parked { .. } | Vehicle::Gone => {}
                }
                self.visits.push(Visit { job: u32::try_from(j).unwrap_or(0), bay, from, until: NOWHERE });
                self.bay_free[bay as usize] = NOWHERE;
                (self.visits.len() - 1, span.from, i32::MIN)
            }
        };
        self.vehicles[j] = Vehicle::In { visit, ready, last: last.max(span.until) };
    }

    /// Notes that a stage is placed, and lets the vehicle leave its bay where it may and should.
    pub(super) fn note(&mut self, i: u32, gene: u16, span: Span) {
        let stage = &self.model.stages[i as usize];
        let j = stage.job;
        self.unended[j] -= 1;
        self.over[j] = self.over[j].max(span.until);
        if stage.hands > 0 {
            self.unended_begun[j] -= u32::from(stage.begun);
            let from = if stage.begun { i32::MIN } else { span.from };
            self.work[j].push(Worked { from, until: span.until, may_leave: stage.may_leave });
        }
        if self.left[j] == 0 {
            self.close_if_last(j);
        } else if let (true, true, Vehicle::In { visit, last, .. }) =
            (stage.hands > 0, genes::rolls_out(gene), self.vehicles[j])
        {
            let at = if stage.in_bay { last } else { last.max(span.until) };
            if (stage.in_bay || stage.may_leave) && self.may_leave(j, at) {
                self.roll_out(j, visit, at, gene);
            }
        }
    }

    /// Rolls a vehicle out as soon as it may leave and there is time to move it, from a moment on; if there is a place for it.
    fn roll_out(&mut self, j: usize, visit: usize, at: i32, gene: u16) -> bool {
        let moving = self.model.moving(j, genes::overtime(gene));
        let Some(at) = self.moves_from(j, at, moving).filter(|&at| at != NOWHERE) else { return false };
        let since = at + moving.minutes;
        let Some(place) = self.free_place(since) else { return false };
        self.count(at, moving);
        self.outside_free[place] = NOWHERE;
        self.gone[j] = self.gone[j].max(at);
        self.close(visit, since);
        self.vehicles[j] = Vehicle::Out { since, place };
        true
    }

    /// Lets a vehicle out of its last bay as soon as it may leave: what nobody has a place for may keep it there. Outside it
    /// has its place until all is over.
    pub(super) fn close_if_last(&mut self, j: usize) {
        if self.left[j] > 0 {
            return;
        }
        match self.vehicles[j] {
            Vehicle::In { visit, last, .. } => {
                if let Some(at) = self.leave_last(j, last.max(self.visits[visit].from)) {
                    self.gone[j] = self.gone[j].max(at);
                    self.close(visit, at);
                }
            }
            Vehicle::Out { place, .. } | Vehicle::Parked { place } => {
                self.vehicles[j] = Vehicle::Parked { place };
                if self.unended[j] == 0 {
                    self.outside_free[place] = self.over[j];
                    self.vehicles[j] = Vehicle::Gone;
                }
            }
            Vehicle::Away | Vehicle::Gone => {}
        }
    }

    /// Counts what a move takes of overtime.
    fn count(&mut self, from: i32, moving: Moving) {
        if moving.overtime {
            self.moved_over += self.model.beyond(from, moving.minutes);
        }
    }

    fn close(&mut self, visit: usize, until: i32) {
        let Visit { bay, .. } = self.visits[visit];
        self.visits[visit].until = until;
        self.bay_free[bay as usize] = until;
        self.closed = true;
    }
}
