//! Where a bay or a vehicle stands, as a lead looks: what is held up first.

use leadhand_proto::v1::{Blocker, BoardJob, PromiseState};

/// Where a bay or vehicle stands, most pressing first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// Something holds it up.
    HeldUp,
    /// What was promised has passed, or won't be kept by what is known: the job says which.
    Late,
    /// What was promised is at risk.
    AtRisk,
    /// Somebody works on it.
    UnderWay,
    /// Nobody works on it, though nothing holds it up.
    Unattended,
    /// No vehicle.
    Free,
}

impl Standing {
    /// Every one, most pressing first.
    pub const ALL: [Self; 6] = [Self::HeldUp, Self::Late, Self::AtRisk, Self::UnderWay, Self::Unattended, Self::Free];

    /// Of a job.
    pub fn of(job: &BoardJob) -> Self {
        if !job.blockers.is_empty() {
            return Self::HeldUp;
        }
        match Self::by_promise(job) {
            Some(standing) => standing,
            _ if job.active.iter().any(|stage| !stage.persons.is_empty()) => Self::UnderWay,
            _ => Self::Unattended,
        }
    }

    /// Whether a job stands so, or its promise does beside what holds it up.
    pub fn is_said_of(self, job: &BoardJob) -> bool {
        Self::of(job) == self || Self::by_promise(job) == Some(self)
    }

    /// By its promise alone, whatever holds it up; nothing where the promise presses nobody.
    pub fn by_promise(job: &BoardJob) -> Option<Self> {
        match PromiseState::try_from(job.promise) {
            Ok(PromiseState::Late) => Some(Self::Late),
            Ok(PromiseState::AtRisk | PromiseState::NoPlace) => Some(Self::AtRisk),
            _ => None,
        }
    }
}

/// What a stage that is held up is called; its key where the server is too old to say, or its title was erased.
pub fn held_stage(blocker: &Blocker) -> &str {
    if blocker.stage_title.is_empty() { &blocker.stage } else { &blocker.stage_title }
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_proto::v1::{Blocker, BoardStage, OnStage};

    #[test]
    fn what_holds_up_outweighs_the_promise_and_the_promise_who_is_on_it() {
        let manned = BoardStage { persons: vec![OnStage::default()], ..Default::default() };
        let mut job = BoardJob { active: vec![BoardStage::default()], ..Default::default() };
        assert_eq!(Standing::of(&job), Standing::Unattended);
        job.active.push(manned);
        assert_eq!(Standing::of(&job), Standing::UnderWay);
        job.promise = PromiseState::Holds.into();
        assert_eq!(Standing::of(&job), Standing::UnderWay);
        job.promise = PromiseState::AtRisk.into();
        assert_eq!(Standing::of(&job), Standing::AtRisk);
        job.promise = PromiseState::Late.into();
        assert_eq!(Standing::of(&job), Standing::Late);
        job.blockers.push(Blocker::default());
        assert_eq!(Standing::of(&job), Standing::HeldUp);
    }

    #[test]
    fn the_most_pressing_stands_first() {
        use Standing::{AtRisk, Free, HeldUp, Late, Unattended, UnderWay};
        let mut all = [Free, UnderWay, Late, Unattended, HeldUp, AtRisk];
        all.sort();
        assert_eq!(all, [HeldUp, Late, AtRisk, UnderWay, Unattended, Free]);
    }
}
