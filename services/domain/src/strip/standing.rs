//! Where a position stands, in one word; what is still attached to it; what it needs anew.

use super::{pieces_left, places_left, positions};
use crate::state::State;
use leadhand_facts::rows::{PositionRow, StageRow, StepRow};
use leadhand_facts::words::{Keep, Manner, Renew, StageState};
use leadhand_facts::{ItemKey, JobNo, PositionKey, Quantity, StageKey, StepNo};

/// Where a position stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Nothing was said of it yet.
    NotYet,
    /// It is off.
    Off,
    /// It is off, and put loosely into its own hole: it looks refitted, and is not.
    OwnHole,
    /// It is moved aside.
    Aside,
    /// It is put in for the time of the work.
    In,
    /// Some of it is back.
    PartlyBack,
    /// All of it is settled: refitted, renewed, left out, or out again.
    Settled,
}

impl Standing {
    /// Of a row.
    pub fn of(row: &PositionRow) -> Self {
        if row.off_n.is_none() {
            return Self::NotYet;
        }
        let put_in = row.detail.manner == Manner::In;
        let left = if put_in { pieces_left(row) } else { places_left(row) };
        let settled = row.refitted + row.renewed + row.left_out;
        match (left > 0, settled > 0, row.detail.manner) {
            (false, ..) => Self::Settled,
            (true, _, Manner::In) => Self::In,
            (true, true, _) => Self::PartlyBack,
            (true, false, Manner::Aside) => Self::Aside,
            (true, false, _) if row.keep == Some(Keep::OwnHole) && row.found > 0 => Self::OwnHole,
            (true, false, _) => Self::Off,
        }
    }
}

/// What has to be off, and is not, before a position is lifted away.
pub fn attached(state: &State, job: JobNo, position: &PositionKey) -> Vec<PositionKey> {
    let on = |row: &&PositionRow| {
        let skipped = |stage: &StageRow| stage.state == StageState::Skipped;
        let skipped = state.stages.get(&(job, row.stage.clone())).is_some_and(skipped);
        (row.off_n.is_none() && row.detail.manner != Manner::In && !skipped) || super::fewer(row)
    };
    let hangs = positions(state, job).filter(|row| row.detail.attached_to.as_ref() == Some(position));
    hangs.filter(on).map(|row| row.position.clone()).collect()
}

/// New pieces that a position takes, and how far they are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewPart {
    /// The item of the stock; nobody named one for what a template does not keep there.
    pub item: Option<ItemKey>,
    /// How many pieces the position takes.
    pub pieces: i32,
    /// The stage and step that ask for it, when one does.
    pub asked_by: Option<(StageKey, StepNo)>,
    /// Set aside for all that these ask for.
    pub reserved: Quantity,
    /// Given to the job for it.
    pub issued: Quantity,
    /// Promised by nobody.
    pub short: Quantity,
    /// Whether it was ever put on the list.
    pub listed: bool,
}

/// New pieces of a position; nothing when none will be needed.
pub fn new_part(state: &State, row: &PositionRow) -> Option<NewPart> {
    let there = if row.off_n.is_some() { row.found + row.missing } else { row.detail.count };
    let pieces = if row.detail.renew == Renew::Always { there } else { row.missing + row.damaged };
    if pieces == 0 {
        return None;
    }
    let Some(item) = row.detail.item.clone() else {
        let (asked_by, none) = (None, Quantity::ZERO);
        return Some(NewPart {
            item: None,
            pieces,
            asked_by,
            reserved: none,
            issued: none,
            short: none,
            listed: false,
        });
    };
    let asks = |step: &&StepRow| step.needs.iter().any(|need| need.item == item);
    let stages = crate::look::stages_in_order(state, row.job);
    let mut steps: Vec<&StepRow> =
        stages.iter().flat_map(|stage| crate::look::steps(state, row.job, &stage.stage)).filter(asks).collect();
    // The stage in which it goes back, where that asks; else any that has it on its list.
    let back = row.detail.back.as_ref();
    if steps.iter().any(|step| Some(&step.stage) == back) {
        steps.retain(|step| Some(&step.stage) == back);
    }
    let demand = |step: &&StepRow| state.demands.get(&(step.job, step.stage.clone(), step.step, item.clone()));
    let demands: Vec<_> = steps.iter().filter_map(demand).collect();
    let sum = |of: &dyn Fn(&leadhand_facts::rows::DemandRow) -> Quantity| {
        Quantity(demands.iter().fold(0, |sum, row| sum + of(row).0))
    };
    Some(NewPart {
        pieces,
        asked_by: steps.first().map(|step| (step.stage.clone(), step.step)),
        reserved: sum(&|row| row.reserved),
        issued: sum(&|row| row.issued),
        short: sum(&|row| row.short),
        listed: !demands.is_empty(),
        item: Some(item),
    })
}
