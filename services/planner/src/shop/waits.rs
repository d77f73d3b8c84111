//! Waits that hold a shared tool begin when they can: putting them off is good for nothing, but which of two has the tool
//! first is the order's.

use super::calendar::Span;
use super::place::{NOWHERE, Placer};

impl Placer<'_, '_> {
    /// Puts every wait outside of bays to the earliest time at which what comes before it is over and its tools are free, as
    /// everything else is placed; again while that lets others begin sooner.
    pub(super) fn pull_waits(&mut self) {
        let model = self.model;
        let placed = |p: &Self, i: u32| p.places[i as usize].from != NOWHERE;
        let mut waits = std::mem::take(&mut self.waits);
        loop {
            waits.clear();
            waits.extend(model.waits.iter().copied().filter(|&i| placed(self, i)));
            waits.sort_unstable_by_key(|&i| (self.places[i as usize].from, i));
            let mut moved = false;
            for &i in &waits {
                moved |= self.pull(i);
            }
            if !moved {
                break;
            }
        }
        self.waits = waits;
    }

    /// Puts one sooner, where it can be; says whether.
    fn pull(&mut self, i: u32) -> bool {
        let (stage, from) = (&self.model.stages[i as usize], self.places[i as usize].from);
        let mut ready = stage.release.max(self.model.jobs[stage.job].ended);
        for &(p, lag) in &stage.preds {
            ready = ready.max(self.places[p as usize].until.saturating_add(lag));
        }
        if ready >= from {
            return false;
        }
        self.unbook(i);
        let sooner = self.fit(stage, &[], (ready, NOWHERE), false, None).map_or(from, |span| span.from.min(from));
        self.rebook(i, Span { from: sooner, until: sooner + stage.minutes });
        sooner < from
    }

    fn unbook(&mut self, i: u32) {
        let own = Span { from: self.places[i as usize].from, until: self.places[i as usize].until };
        for &t in &self.model.stages[i as usize].tools {
            let tool = self.tool(t);
            self.booked[tool].retain(|booked| *booked != own);
        }
    }

    fn rebook(&mut self, i: u32, span: Span) {
        let place = &mut self.places[i as usize];
        (place.from, place.until) = (span.from, span.until);
        if span.from == span.until {
            return;
        }
        for &t in &self.model.stages[i as usize].tools {
            let tool = self.tool(t);
            let at = self.booked[tool].partition_point(|booked| booked.from < span.from);
            self.booked[tool].insert(at, span);
        }
    }
}
