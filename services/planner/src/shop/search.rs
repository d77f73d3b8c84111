//! The shop in the search: orders of stages with genes, judged by the objective.

use super::genes;
use super::model::{Accepted, Model};
use super::place::{NOWHERE, Place, Placer, Visit};
use crate::budget::Meter;
use crate::engine::population::{Decoder, Draft, Orders, Way, mark};
use crate::rng::Rng;
use leadhand_facts::plan::{ON_TIME_MINUTES, Objective};
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// What is compared: the objective, then how often vehicles are moved, and then that everything is finished early.
pub(crate) type Score = (Objective, usize, i64);

/// A plan that was found.
#[derive(Clone)]
pub(crate) struct Found {
    pub score: Score,
    pub places: Vec<Place>,
    pub visits: Vec<Visit>,
    pub draft: Draft,
}

/// Turns orders into plans, and keeps the best.
pub(crate) struct Planner<'m, 'i> {
    pub(super) placer: Placer<'m, 'i>,
    start: Vec<u32>,
    pub best: Option<Found>,
    /// The order that the members of a population are drawn from.
    pub(super) rank: Vec<i64>,
    waiting: Vec<usize>,
    succs: Vec<Vec<u32>>,
}

impl<'m, 'i> Planner<'m, 'i> {
    pub fn new(model: &'m Model<'i>) -> Self {
        let n = model.stages.len();
        let mut succs = vec![Vec::new(); n];
        for (i, stage) in model.stages.iter().enumerate() {
            for &(p, _) in &stage.preds {
                succs[p as usize].push(u32::try_from(i).unwrap_or(0));
            }
        }
        Self { placer: Placer::new(model), start: vec![0; n], best: None, rank: vec![0; n], waiting: vec![0; n], succs }
    }

    /// Makes a plan from a draft, and keeps it when it is the best.
    pub fn judge(&mut self, draft: &Draft) -> Score {
        self.placer.place_all(&draft.list, &draft.genes);
        let score = score(&self.placer);
        if self.best.as_ref().is_none_or(|best| score < best.score) {
            self.best = Some(Found {
                score,
                places: self.placer.places.clone(),
                visits: self.placer.visits.clone(),
                draft: draft.clone(),
            });
        }
        score
    }

    /// Takes back delays of the best plan that are good for nothing: without them it is judged alike. One order after the other is
    /// read anew, so that whatever comes of it can be done.
    pub fn settle_delays(&mut self) {
        let Some(mut best) = self.best.take() else { return };
        let mut delayed: Vec<usize> =
            (0..best.places.len()).filter(|&i| genes::delay(best.draft.genes[i]) > 0).collect();
        delayed.sort_by_key(|&i| (best.places[i].from, i));
        let most = SETTLED / self.start.len().max(1);
        for i in delayed.into_iter().take(most) {
            let gene = best.draft.genes[i];
            best.draft.genes[i] = genes::at_once(gene);
            self.placer.place_all(&best.draft.list, &best.draft.genes);
            let found = score(&self.placer);
            if (found, starts(&self.placer.places)) <= (best.score, starts(&best.places)) {
                best.score = found;
                best.places.clone_from(&self.placer.places);
                best.visits.clone_from(&self.placer.visits);
            } else {
                best.draft.genes[i] = gene;
            }
        }
        self.best = Some(best);
    }

    /// Lets the waits of the best plan begin when they can. It is done with what was found and not with every plan on the way:
    /// the search finds less where starts don't follow its orders.
    pub fn settle_waits(&mut self) {
        let Some(best) = self.best.as_mut().filter(|_| !self.placer.model.waits.is_empty()) else { return };
        self.placer.place_all(&best.draft.list, &best.draft.genes);
        self.placer.pull_waits();
        best.score = score(&self.placer);
        best.places.clone_from(&self.placer.places);
    }

    /// Ranks stages by one of a few rules; less goes first.
    fn rank(&mut self, k: usize, rng: &mut Rng) {
        let model = self.placer.model;
        let kept = keeps(k);
        for (i, stage) in model.stages.iter().enumerate() {
            let job = &model.jobs[stage.job];
            let promised = job.promised.unwrap_or(i64::from(model.clock.end));
            let slack = promised - stage.tail;
            let accepted = stage.accepted.as_ref().map(|a| i64::from(a.from));
            self.rank[i] = match (k, accepted.filter(|_| kept)) {
                (0, accepted) => accepted.unwrap_or(slack),
                (_, Some(accepted)) => accepted + i64::try_from(rng.below(240)).unwrap_or(0),
                (1, _) => promised,
                (2, _) => slack,
                (3, _) => promised - 480 * job.weight,
                (4, _) => -stage.tail,
                (_, None) => {
                    let noise = rng.below(4_000);
                    slack + i64::try_from(noise).unwrap_or(0) - 240 * job.weight
                }
            };
        }
        if k == 1 {
            // Whole jobs one after the other.
            for (j, job) in model.jobs.iter().enumerate() {
                for &i in &job.stages {
                    self.rank[i as usize] = self.rank[i as usize] * 4_096 + i64::try_from(j % 4_096).unwrap_or(0);
                }
            }
        }
    }
}

/// Most stages that are placed anew to take back delays.
const SETTLED: usize = 40_000;

/// Whether the `k`-th order of a population is near the one of the accepted plan, where there is one: the first, and
/// every other of those that are drawn.
fn keeps(k: usize) -> bool {
    k == 0 || k > 4 && k.is_multiple_of(2)
}

/// Whether a stage is elsewhere, with others, or later or sooner than the accepted plan has it.
pub(super) fn moved(accepted: &Accepted, place: &Place) -> bool {
    let off = i64::from(place.from).abs_diff(i64::from(accepted.from));
    off > ON_TIME_MINUTES.unsigned_abs() || place.bay != accepted.bay || place.people != accepted.people
}

fn score(placer: &Placer<'_, '_>) -> Score {
    let model = placer.model;
    let (mut objective, mut flow) = (Objective::default(), 0);
    for job in &model.jobs {
        let places = || job.stages.iter().map(|&i| &placer.places[i as usize]);
        let missing = places().filter(|p| p.from == NOWHERE).count();
        objective.unplaced += i64::try_from(missing).unwrap_or(0);
        let last = places().filter(|p| p.from != NOWHERE).map(|p| p.until).max().unwrap_or(0).max(job.ended);
        let finish = if missing > 0 || job.broken { model.clock.end } else { last };
        if let Some(promised) = job.promised {
            objective.tardiness += job.weight * (i64::from(finish) - promised).max(0);
        }
        objective.makespan_minutes = objective.makespan_minutes.max(i64::from(last));
        flow += job.weight * i64::from(last);
    }
    for (stage, place) in model.stages.iter().zip(&placer.places) {
        if let Some(accepted) = stage.accepted.as_ref().filter(|a| a.counts) {
            objective.changes += i64::from(moved(accepted, place));
        }
    }
    objective.overtime_minutes = placer.overtime();
    (objective, placer.visits.len(), flow)
}

/// The sum of all starts.
fn starts(places: &[Place]) -> i64 {
    places.iter().map(|place| i64::from(place.from)).sum()
}

/// In how many of a hundred plans the order is read by start, and in how many drafts a job's stages move together:
/// measured on random shops and on job shops with due dates.
const BY_START: u64 = 10;
const TOGETHER: u32 = 40;

impl Planner<'_, '_> {
    fn job_at(&self, list: &[u32], rng: &mut Rng) -> usize {
        self.placer.model.stages[list[rng.below(list.len())] as usize].job
    }

    /// Moves all stages of a job towards the front of an order, or towards its end, by as many eighths of their way.
    fn pull(&mut self, rng: &mut Rng, list: &mut [u32]) {
        let j = self.job_at(list, rng);
        let (forward, eighths) = (rng.percent(67), rng.below(8));
        for (at, &i) in list.iter().enumerate() {
            let key = match (self.placer.model.stages[i as usize].job == j, forward) {
                (false, _) => 8 * at + 1,
                (true, true) => at * eighths,
                (true, false) => 8 * list.len() - (list.len() - at) * eighths,
            };
            self.rank[i as usize] = i64::try_from(key).unwrap_or(i64::MAX);
        }
        list.sort_by_key(|&i| self.rank[i as usize]);
    }

    /// One job's stages take the foremost of the places that it and another have.
    fn let_by(&mut self, rng: &mut Rng, list: &mut [u32]) {
        let (first, second) = (self.job_at(list, rng), self.job_at(list, rng));
        let job = |i: u32| self.placer.model.stages[i as usize].job;
        let places = (0..list.len()).filter(|&k| job(list[k]) == first || job(list[k]) == second);
        let places: Vec<usize> = places.collect();
        let mut stages: Vec<u32> = places.iter().map(|&k| list[k]).collect();
        stages.sort_by_key(|&i| job(i) != first);
        for (k, i) in places.into_iter().zip(stages) {
            list[k] = i;
        }
    }
}

impl Decoder for Planner<'_, '_> {
    type Score = Score;

    fn len(&self) -> usize {
        self.start.len()
    }

    fn both_ways(&self) -> bool {
        false
    }

    fn good_enough(&self, (objective, ..): Score) -> bool {
        objective == Objective::default()
    }

    fn develop(&mut self, draft: &Draft, _way: Way<Score>, out: &mut Orders, meter: &mut Meter<'_, '_>) -> Score {
        let score = self.judge(draft);
        meter.count(1);
        for (start, place) in self.start.iter_mut().zip(&self.placer.places) {
            *start = u32::try_from(place.from).unwrap_or(u32::MAX);
        }
        out.mark = mark(self.start.iter().copied());
        // The order of the draft itself: read by start it would forget which job was taken first. Now and then it may,
        // for stages that would start together stand together then.
        out.forth.copy_from_slice(&draft.list);
        if out.mark % 100 < BY_START {
            out.forth.sort_by_key(|&i| self.start[i as usize]);
        }
        for (k, at) in out.forth_at.iter_mut().enumerate() {
            *at = u32::try_from(k).unwrap_or(0);
        }
        score
    }

    fn draw(&mut self, k: usize, rng: &mut Rng, draft: &mut Draft) {
        self.rank(k, rng);
        draft.list.clear();
        let stages = &self.placer.model.stages;
        for (waiting, stage) in self.waiting.iter_mut().zip(stages) {
            *waiting = stage.preds.len();
        }
        let first = |i: usize| Some(Reverse((self.rank[i], u32::try_from(i).ok()?)));
        let mut heap: BinaryHeap<_> = (0..stages.len()).filter(|&i| self.waiting[i] == 0).filter_map(first).collect();
        while let Some(Reverse((_, i))) = heap.pop() {
            draft.list.push(i);
            for &s in &self.succs[i as usize] {
                self.waiting[s as usize] -= 1;
                if self.waiting[s as usize] == 0 {
                    heap.push(Reverse((self.rank[s as usize], s)));
                }
            }
        }
        let kept = keeps(k);
        let gene = match k {
            0 => genes::plain(true, false, true),
            1 => genes::plain(false, true, false),
            2 => genes::plain(true, true, false),
            _ => genes::plain(rng.percent(50), rng.percent(50), rng.percent(if kept { 80 } else { 30 })),
        };
        draft.genes.clear();
        draft.genes.resize(self.start.len(), gene);
    }

    fn linked(&self, first: u32, second: u32) -> bool {
        self.placer.model.stages[second as usize].preds.iter().any(|&(p, _)| p == first)
    }

    fn work(&self, activity: u32) -> u64 {
        let stage = &self.placer.model.stages[activity as usize];
        u64::try_from(stage.minutes).unwrap_or(0) * (stage.hands as u64 + u64::from(stage.in_bay))
    }

    fn vary(&mut self, rng: &mut Rng, draft: &mut Draft) {
        if rng.percent(TOGETHER) {
            self.pull(rng, &mut draft.list);
        }
        if rng.percent(TOGETHER) {
            self.let_by(rng, &mut draft.list);
        }
        let n = draft.genes.len();
        for _ in 0..rng.below(4) {
            let i = rng.below(n);
            draft.genes[i] = genes::varied(draft.genes[i], rng.bits());
        }
        if rng.percent(20) && n > 0 {
            let i = rng.below(n);
            let flip = genes::of_jobs(rng.bits());
            let on = draft.genes[i] & flip == 0;
            for &k in &self.placer.model.jobs[self.placer.model.stages[i].job].stages {
                let gene = &mut draft.genes[k as usize];
                *gene = if on { *gene | flip } else { *gene & !flip };
            }
        }
    }
}

impl Found {
    /// A plan of nothing.
    pub fn nothing(score: Score) -> Self {
        Self { score, places: Vec::new(), visits: Vec::new(), draft: Draft::default() }
    }
}

#[cfg(test)]
mod tests {
    use super::super::kit::{after, bay, empty, job, stage, technician};
    use super::*;
    use leadhand_facts::words::BayKind;

    /// A cure runs into the night, so that strip may begin behind the other job's hour and cost nothing: a delay that the search
    /// left is taken back.
    #[test]
    fn a_delay_that_is_good_for_nothing_is_taken_back() {
        let mut input = empty(20, 480, 960);
        for n in 1..=2 {
            input.bays.push(bay(n, BayKind::TwoPostLift));
            let shifts = input.shop.clone();
            input.technicians.push(technician(n, &[], shifts));
        }
        let mut refit = stage("refit", 60);
        refit.after = vec![after("strip", 600)];
        input.jobs = vec![job(2, vec![stage("brakes", 60)]), job(1, vec![stage("strip", 60), refit])];
        let model = Model::new(&input);
        let mut planner = Planner::new(&model);
        let mut late = vec![genes::plain(false, false, false); 3];
        late[1] |= 1 << 4;
        planner.judge(&Draft { list: vec![0, 1, 2], genes: late });
        let starts = |planner: &Planner<'_, '_>| {
            planner.best.as_ref().map(|best| best.places.iter().map(|place| place.from).collect::<Vec<_>>())
        };
        assert_eq!(starts(&planner), Some(vec![0, 60, 1_440]), "it lets the other go first");
        planner.settle_delays();
        assert_eq!(starts(&planner), Some(vec![0, 0, 1_440]));
    }
}
