//! Near the accepted plan: a few stages that belong together are let loose, and all others keep to it.

use super::genes;
use super::place::Place;
use super::search::{Planner, Score, moved};
use crate::budget::Meter;
use crate::engine::population::{Decoder, Draft};
use crate::rng::Rng;

/// Stages that start within this many minutes of one that moved may be let loose with it.
const ABOUT: i64 = 360;

/// A plan that was come to, and where the search stands.
struct Near {
    score: Score,
    draft: Draft,
    places: Vec<Place>,
}

impl Planner<'_, '_> {
    /// Looks near the accepted plan for one that changes less, from the one that keeps to all of it; what is no worse is gone on from.
    /// A population seldom comes there, for it takes several choices at once.
    pub fn keep_near(&mut self, mut rng: Rng, meter: &mut Meter<'_, '_>) {
        if self.best.as_ref().is_none_or(|best| best.score.0.changes == 0) || !meter.more() {
            return;
        }
        let mut draft = Draft::default();
        self.draw(0, &mut rng, &mut draft);
        meter.count(1);
        let mut near = Near { score: self.judge(&draft), draft, places: self.placer.places.clone() };
        while near.score.0.changes > 0 && meter.more() {
            let draft = self.loosened(&mut rng, &near);
            meter.count(1);
            let score = self.judge(&draft);
            if score <= near.score {
                (near.score, near.draft) = (score, draft);
                near.places.clone_from(&self.placer.places);
            }
        }
    }

    /// The draft with one stage that moved, and a few that start about when it does, let loose or kept anew.
    fn loosened(&mut self, rng: &mut Rng, near: &Near) -> Draft {
        let mut draft = near.draft.clone();
        let stages = 0..draft.genes.len();
        let accepted = |i: usize| self.placer.model.stages[i].accepted.as_ref();
        let has_moved = |i: usize| accepted(i).is_some_and(|accepted| moved(accepted, &near.places[i]));
        let moved: Vec<usize> = stages.clone().filter(|&i| has_moved(i)).collect();
        if moved.is_empty() {
            return draft;
        }
        let first = moved[rng.below(moved.len())];
        let from = |i: usize| i64::from(near.places[i].from);
        let about: Vec<usize> = stages.filter(|&i| (from(i) - from(first)).abs() <= ABOUT).collect();
        let mut chosen = vec![first];
        chosen.extend((0..=rng.below(3)).map(|_| about[rng.below(about.len())]));
        for (at, &i) in draft.list.iter().enumerate() {
            self.rank[i as usize] = 16 * i64::try_from(at).unwrap_or(0);
        }
        for i in chosen {
            let kept = genes::plain(true, false, true);
            draft.genes[i] = if rng.percent(25) { kept } else { loose(rng) };
            if rng.percent(50) {
                self.rank[i] += i64::try_from(rng.below(16 * 12)).unwrap_or(0) - 16 * 8;
            }
        }
        self.in_order(&mut draft.list);
        draft
    }

    /// Puts a list that keeps precedence in the order of the ranks, and each stage behind what it comes after.
    fn in_order(&mut self, list: &mut [u32]) {
        let stages = &self.placer.model.stages;
        for &i in list.iter() {
            let before = stages[i as usize].preds.iter().map(|&(p, _)| self.rank[p as usize]).max();
            self.rank[i as usize] = self.rank[i as usize].max(before.unwrap_or(i64::MIN));
        }
        list.sort_by_key(|&i| self.rank[i as usize]);
    }
}

/// A gene that seldom keeps to the accepted plan.
fn loose(rng: &mut Rng) -> u16 {
    let plain = genes::plain(rng.percent(50), rng.percent(50), rng.percent(25));
    genes::varied(genes::varied(plain, rng.bits()), rng.bits())
}
