//! The stays of a plan as what stages wait for: whoever had a bay before, and the moving of the vehicle.

use super::model::Model;
use super::moves::Moving;
use super::place::{NOWHERE, Visit};
use super::search::Found;

/// What a stage in a bay waits for: ends of stays with the moves after them, and when it can be there at all.
type Behind = (Vec<(usize, Moving)>, i32);

/// What has to be over before a vehicle leaves a stay, and the move after it.
pub(super) struct Leaving {
    pub stages: Vec<usize>,
    pub moving: Moving,
}

pub(super) struct Stays<'a, 'i> {
    model: &'a Model<'i>,
    found: &'a Found,
    /// The stays of each bay and of each job, by number, in order.
    of_bay: Vec<Vec<usize>>,
    of_job: Vec<Vec<usize>>,
}

impl<'a, 'i> Stays<'a, 'i> {
    pub fn of(model: &'a Model<'i>, found: &'a Found) -> Self {
        let mut stays = Self {
            model,
            found,
            of_bay: vec![Vec::new(); model.bays_closed.len()],
            of_job: vec![Vec::new(); model.jobs.len()],
        };
        let mut order: Vec<usize> = (0..found.visits.len()).collect();
        order.sort_by_key(|&v| (found.visits[v].from, found.visits[v].until));
        for v in order {
            stays.of_bay[found.visits[v].bay as usize].push(v);
            stays.of_job[found.visits[v].job as usize].push(v);
        }
        stays
    }

    /// What a stage waits for that is in a bay; nothing for others.
    pub fn before(&self, i: usize) -> Behind {
        let (stage, place) = (&self.model.stages[i], &self.found.places[i]);
        let holds = |v: &usize| {
            let visit = &self.found.visits[*v];
            Some(visit.bay) == place.bay && visit.from <= place.from && place.until <= visit.until
        };
        let own = &self.of_job[stage.job];
        let Some(at) = own.iter().position(holds) else { return (Vec::new(), 0) };
        let (mut behind, moving) = (Vec::new(), self.model.jobs[stage.job].moving);
        let comes = at > 0 || self.model.jobs[stage.job].outside;
        let moved = self.model.as_planned(self.found.visits[own[at]].from, if comes { moving } else { 0 });
        let bay = &self.of_bay[self.found.visits[own[at]].bay as usize];
        let others = bay.iter().take_while(|&&v| v != own[at]).last();
        if let Some(&before) = others.filter(|&&v| self.found.visits[v].job as usize != stage.job) {
            behind.push((before, moved));
        }
        if at > 0 {
            behind.push((own[at - 1], moved));
        }
        (behind, self.model.moved(0, moved))
    }

    /// What has to be over before vehicles leave, stay by stay.
    pub fn leaving(&self) -> Vec<Leaving> {
        (0..self.found.visits.len()).map(|v| self.leaves(v)).collect()
    }

    fn leaves(&self, v: usize) -> Leaving {
        let visit: &Visit = &self.found.visits[v];
        let j = visit.job as usize;
        let (job, own) = (&self.model.jobs[j], &self.of_job[j]);
        let next = own.iter().position(|&one| one == v).and_then(|at| own.get(at + 1));
        let rolled = next.is_some_and(|&next| self.found.visits[next].from > visit.until);
        let minutes = if rolled { job.moving } else { 0 };
        let gone = visit.until.saturating_sub(minutes);
        let moving = self.model.as_planned(gone, minutes);
        // A wait keeps a vehicle only in its last bay, where it leaves because every stage is over.
        let over = |i: &&u32| {
            let place = &self.found.places[**i as usize];
            let keeps = next.is_none() || self.model.stages[**i as usize].hands > 0;
            keeps && place.from != NOWHERE && place.until <= gone
        };
        Leaving { stages: job.stages.iter().filter(over).map(|&i| i as usize).collect(), moving }
    }
}
