//! From an order of stages to places in time: one stage after the other, each as early as everything that binds allows.
//!
//! A bay is reserved open-ended when a job's vehicle enters it, and closed when the vehicle may leave it (`vehicle`): when
//! its last stage in it is placed, or it is rolled out. A stage for which every bay is open parks its job until a bay
//! closes. Jobs that hold bays and wait for each other's are taken one after the other when it is tried again.

use super::calendar::{Span, inside};
use super::genes;
use super::model::Model;
use super::vehicle::{Vehicle, Worked};

/// No place yet, or none at all.
pub(crate) const NOWHERE: i32 = i32::MAX;

/// Where a stage is placed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Place {
    /// `NOWHERE` until it is placed.
    pub from: i32,
    pub until: i32,
    pub bay: Option<u32>,
    pub people: Vec<u32>,
    /// Why it has no place, once that is certain.
    pub failed: Option<Failure>,
}

/// Why a stage that could be placed was not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Failure {
    /// Not before the calendars end.
    NoTime,
    /// What comes before it has no place.
    Before(u32),
    /// The vehicle would have to change bays where it may not leave.
    CannotMove,
    /// Vehicles that are in bays wait for each other's.
    Deadlock,
}

/// A stay of a vehicle in a bay.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Visit {
    pub job: u32,
    pub bay: u32,
    pub from: i32,
    /// `NOWHERE` while it is open.
    pub until: i32,
}

/// What became of a try.
#[derive(PartialEq, Eq)]
pub(super) enum Tried {
    Placed,
    Park,
    Failed(Failure),
}

/// Places stages; kept between orders so that nothing is allocated anew.
pub(crate) struct Placer<'m, 'i> {
    pub model: &'m Model<'i>,
    pub places: Vec<Place>,
    pub visits: Vec<Visit>,
    /// Bookings of people, then tools, then closings of bays; each in order.
    pub(super) booked: Vec<Vec<Span>>,
    blank: Vec<Vec<Span>>,
    /// From when on a bay is free; `NOWHERE` while a vehicle holds it open.
    pub(super) bay_free: Vec<i32>,
    pub(super) outside_free: Vec<i32>,
    pub(super) vehicles: Vec<Vehicle>,
    /// Stages in bays that are still to be placed, by job.
    pub(super) left: Vec<u32>,
    /// Stages that have no place yet, or none at all, and those of them that were begun; by job.
    pub(super) unended: Vec<u32>,
    pub(super) unended_begun: Vec<u32>,
    /// Work that is placed, the last finish of all stages, and when the vehicle was last let go; by job.
    pub(super) work: Vec<Vec<Worked>>,
    pub(super) over: Vec<i32>,
    pub(super) gone: Vec<i32>,
    /// Minutes of overtime in which vehicles are moved.
    pub(super) moved_over: i64,
    parked: Vec<u32>,
    queues: Vec<Vec<u32>>,
    is_parked: Vec<bool>,
    /// Jobs that wait until all others are placed.
    last: Vec<bool>,
    pub(super) closed: bool,
    pub(super) choices: Vec<(i32, usize, u32)>,
    pub(super) team: Vec<u32>,
    earlier: Vec<u32>,
    pub(super) waits: Vec<u32>,
}

/// Most tries to place jobs that wait for each other, and those in which one job at a time is taken last.
const REPAIRS: usize = 24;
const GENTLE: usize = 12;

impl<'m, 'i> Placer<'m, 'i> {
    pub fn new(model: &'m Model<'i>) -> Self {
        let people = std::iter::repeat_n(Vec::new(), model.people.len());
        // Whether a tool that somebody has is there depends on who asks for it.
        let away = model.tools_away.iter().zip(&model.tools_with);
        let tools = away.map(|(away, with)| if with.is_none() { away.clone() } else { Vec::new() });
        let blank: Vec<Vec<Span>> = people.chain(tools).chain(model.bays_closed.iter().cloned()).collect();
        let jobs = model.jobs.len();
        Self {
            model,
            places: vec![Place::default(); model.stages.len()],
            visits: Vec::new(),
            booked: blank.clone(),
            blank,
            bay_free: vec![0; model.bays_closed.len()],
            outside_free: Vec::new(),
            vehicles: vec![Vehicle::Away; jobs],
            left: vec![0; jobs],
            unended: vec![0; jobs],
            unended_begun: vec![0; jobs],
            work: vec![Vec::new(); jobs],
            over: vec![0; jobs],
            gone: vec![0; jobs],
            moved_over: 0,
            parked: Vec::new(),
            queues: vec![Vec::new(); jobs],
            is_parked: vec![false; jobs],
            last: vec![false; jobs],
            closed: false,
            choices: Vec::new(),
            team: Vec::new(),
            earlier: Vec::new(),
            waits: Vec::new(),
        }
    }

    pub(super) fn tool(&self, tool: u32) -> usize {
        self.model.people.len() + tool as usize
    }

    pub(super) fn bay(&self, bay: u32) -> usize {
        self.model.people.len() + self.model.tools_away.len() + bay as usize
    }

    /// Places every stage of a list that keeps precedence.
    pub fn place_all(&mut self, list: &[u32], genes: &[u16]) {
        self.last.fill(false);
        for round in 0..REPAIRS {
            self.clear(genes);
            self.pass(list, genes);
            if !self.repair(round) {
                break;
            }
        }
        for k in 0..self.parked.len() {
            for i in std::mem::take(&mut self.queues[self.parked[k] as usize]) {
                self.fail(i, Failure::Deadlock);
            }
        }
    }

    fn clear(&mut self, genes: &[u16]) {
        for place in &mut self.places {
            place.from = NOWHERE;
            place.until = NOWHERE;
            place.bay = None;
            place.people.clear();
            place.failed = None;
        }
        for (booked, blank) in self.booked.iter_mut().zip(&self.blank) {
            booked.clone_from(blank);
        }
        self.visits.clear();
        self.moved_over = 0;
        self.parked.clear();
        self.bay_free.fill(0);
        self.outside_free.clear();
        self.outside_free.resize(usize::try_from(self.model.input.places_outside).unwrap_or(0), 0);
        self.queues.iter_mut().for_each(Vec::clear);
        self.is_parked.fill(false);
        // Who is outside already has a place there before anybody else is rolled out.
        for outside in [true, false] {
            for j in 0..self.model.jobs.len() {
                if self.model.jobs[j].outside == outside {
                    self.begin(j, genes);
                }
            }
        }
        self.closed = false;
    }

    /// Started stages first, of them those that somebody is clocked on to, then the list; jobs that are taken last in its order at the end, one by one.
    fn pass(&mut self, list: &[u32], genes: &[u16]) {
        let stages = &self.model.stages;
        let late = |p: &Self, i: u32| p.last[stages[i as usize].job];
        for turn in 0..3 {
            for &i in list.iter().filter(|&&i| stages[i as usize].turn() == Some(turn)) {
                self.take(i, genes);
            }
        }
        for &i in list {
            if !stages[i as usize].started && !late(self, i) {
                self.take(i, genes);
            }
        }
        for j in 0..self.last.len() {
            if self.last[j] {
                for &i in list.iter().filter(|&&i| stages[i as usize].job == j && !stages[i as usize].started) {
                    self.take(i, genes);
                }
            }
        }
    }

    /// Places a stage, or parks it behind what of its job is parked already; then what was parked, when a bay closed.
    fn take(&mut self, i: u32, genes: &[u16]) {
        let j = self.model.stages[i as usize].job;
        if self.is_parked[j] {
            self.queues[j].push(i);
            return;
        }
        if !self.try_stage(i, genes) {
            self.is_parked[j] = true;
            self.parked.push(u32::try_from(j).unwrap_or(0));
            self.queues[j].push(i);
        }
        while std::mem::take(&mut self.closed) {
            self.unpark(genes);
        }
    }

    fn unpark(&mut self, genes: &[u16]) {
        let parked = std::mem::take(&mut self.parked);
        for &j in &parked {
            let queue = std::mem::take(&mut self.queues[j as usize]);
            let done = queue.iter().position(|&i| !self.try_stage(i, genes)).unwrap_or(queue.len());
            self.queues[j as usize].extend_from_slice(&queue[done..]);
            self.is_parked[j as usize] = done < queue.len();
        }
        self.parked.extend(parked.into_iter().filter(|&j| self.is_parked[j as usize]));
    }

    /// False when it has to be tried again after a bay closed.
    fn try_stage(&mut self, i: u32, genes: &[u16]) -> bool {
        match self.place(i, genes[i as usize]) {
            Tried::Placed => true,
            Tried::Park => false,
            Tried::Failed(why) => {
                self.fail(i, why);
                true
            }
        }
    }

    fn fail(&mut self, i: u32, why: Failure) {
        self.places[i as usize].failed = Some(why);
        let stage = &self.model.stages[i as usize];
        if stage.in_bay {
            self.left[stage.job] -= 1;
        }
        self.close_if_last(stage.job);
    }

    /// Chooses a job that will be taken last, when jobs wait for each other, and after a few rounds all of them; says
    /// whether there was one.
    fn repair(&mut self, round: usize) -> bool {
        if self.parked.is_empty() {
            return false;
        }
        let may = |j: &u32| !self.last[*j as usize] && self.model.jobs[*j as usize].in_bay.is_none();
        let holds = |j: &u32| matches!(self.vehicles[*j as usize], Vehicle::In { .. });
        let parked = || self.parked.iter().rev().copied().filter(may);
        // Whoever keeps a bay for good, since a stage of it has no place, goes last before anybody else.
        let jobs = u32::try_from(self.vehicles.len()).unwrap_or(0);
        let kept = (0..jobs).filter(|j| self.left[*j as usize] == 0 && holds(j)).find(may);
        let one = kept.or_else(|| parked().find(holds)).or_else(|| parked().next());
        let chosen: Vec<u32> =
            if round < GENTLE || kept.is_some() { one.into_iter().collect() } else { parked().collect() };
        for &j in &chosen {
            self.last[j as usize] = true;
        }
        !chosen.is_empty()
    }

    fn place(&mut self, i: u32, gene: u16) -> Tried {
        let model = self.model;
        let stage = &model.stages[i as usize];
        let mut ready = stage.release.max(if stage.started { 0 } else { model.jobs[stage.job].ended });
        for &(p, lag) in &stage.preds {
            if self.places[p as usize].from == NOWHERE {
                let parked = self.places[p as usize].failed.is_none();
                return if parked { Tried::Park } else { Tried::Failed(Failure::Before(p)) };
            }
            ready = ready.max(self.places[p as usize].until.saturating_add(lag));
        }
        // What has begun goes on as soon as it can, whenever it was to begin.
        let sticks = genes::sticks(gene) && !stage.started && !stage.begun && !stage.idle;
        if let (true, Some(accepted)) = (sticks, &stage.accepted) {
            ready = ready.max(accepted.from);
        }
        if stage.hands > 0 {
            // A vehicle that left did so at the end of what was placed by then.
            ready = ready.max(self.gone[stage.job]);
        }
        if !stage.in_bay {
            return self.settle(i, gene, ready, None);
        }
        match self.vehicles[stage.job] {
            Vehicle::In { visit, ready: there, .. }
                if stage.bays.contains(&self.visits[visit].bay) && !self.goes_on(stage, gene) =>
            {
                self.settle(i, gene, ready.max(there), Some(self.visits[visit].bay))
            }
            Vehicle::In { .. } | Vehicle::Out { .. } | Vehicle::Away => self.enter(i, gene, ready),
            Vehicle::Parked { .. } | Vehicle::Gone => Tried::Failed(Failure::CannotMove),
        }
    }

    /// Places a stage whose bay is known, not before `ready`.
    pub(super) fn settle(&mut self, i: u32, gene: u16, ready: i32, bay: Option<u32>) -> Tried {
        let Some(mut span) = self.crew_up(i, gene, ready, bay) else { return Tried::Failed(Failure::NoTime) };
        let stage = &self.model.stages[i as usize];
        let delay = if stage.started || stage.idle { 0 } else { genes::delay(gene) };
        for _ in 0..delay {
            let later = self.places.iter().map(|p| p.until).filter(|&t| t > span.from && t != NOWHERE).min();
            let Some(later) = later else { break };
            self.earlier.clone_from(&self.team);
            let Some(delayed) = self.crew_up(i, gene, later, bay) else {
                // There is no later time for it: it stays when it was, with those whose time that is.
                std::mem::swap(&mut self.team, &mut self.earlier);
                break;
            };
            span = delayed;
        }
        if span.until > self.model.clock.end {
            return Tried::Failed(Failure::NoTime);
        }
        self.book(i, span, bay);
        if let Some(bay) = bay {
            self.stand(i, gene, span, bay);
        }
        self.note(i, gene, span);
        Tried::Placed
    }

    fn book(&mut self, i: u32, span: Span, bay: Option<u32>) {
        let stage = &self.model.stages[i as usize];
        let place = &mut self.places[i as usize];
        (place.from, place.until, place.bay) = (span.from, span.until, bay);
        place.people.clear();
        place.people.extend_from_slice(&self.team);
        if span.from == span.until {
            return;
        }
        let tools = self.model.people.len();
        let at_it = stage.on && self.waits_for_hours(stage, span.from);
        let held = self.team.iter().map(|&p| p as usize).chain(stage.tools.iter().map(|&t| tools + t as usize));
        for r in held {
            let at = self.booked[r].partition_point(|b| b.from < span.from);
            // Who is clocked on is at it until it goes on.
            let from = if at_it && r < tools && at == 0 { 0 } else { span.from };
            self.booked[r].insert(at, Span { from, ..span });
        }
    }

    /// Minutes of persons in overtime: at stages, and one person for each vehicle that is moved.
    pub fn overtime(&self) -> i64 {
        let placed = self.places.iter().zip(&self.model.stages).filter(|(p, s)| p.from != NOWHERE && s.hands > 0);
        let worked = placed.map(|(place, stage)| {
            let span = Span { from: place.from, until: place.until };
            let normal = place.people.iter().map(|&p| inside(&self.model.people[p as usize].normal, span));
            let each = normal.map(|normal| (i64::from(stage.minutes) - normal).max(0));
            each.sum::<i64>()
        });
        worked.sum::<i64>() + self.moved_over
    }
}
