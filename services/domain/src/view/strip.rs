//! The strip book of a job, as it is shown.

use crate::condition;
use crate::look;
use crate::state::State;
use crate::strip::{self, Open, Refit};
use leadhand_facts::rows::{PositionRow, StageRow};
use leadhand_facts::{JobNo, PersonId, TextId};

/// A strip book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StripView {
    /// Every position, in the order of the stages and steps that take it off.
    pub positions: Vec<PositionRow>,
    /// The refit in its order.
    pub refit: Vec<Refit>,
    /// What stands against handing the vehicle over.
    pub open: Vec<Open>,
    /// What else does, of the vehicle's condition.
    pub condition: Vec<condition::Open>,
    /// The journal number at which it is true.
    pub number: i64,
}

impl StripView {
    /// Every text that it refers to, the names of persons aside.
    pub fn text_ids(&self) -> impl Iterator<Item = TextId> {
        self.positions.iter().flat_map(|row| [row.what_text, row.kept_at, row.note, row.reason]).flatten()
    }

    /// Everybody who is named in it.
    pub fn persons(&self) -> impl Iterator<Item = PersonId> {
        self.positions.iter().flat_map(|row| [row.off_by, row.back_by, row.checked_by]).flatten()
    }
}

/// The strip book of a job that is loaded.
pub fn strip_view(state: &State, job: JobNo) -> StripView {
    let stages: Vec<&StageRow> = look::stages_in_order(state, job);
    let place = |row: &PositionRow| stages.iter().position(|stage| stage.stage == row.stage);
    let mut rows: Vec<&PositionRow> = strip::positions(state, job).collect();
    rows.sort_by_key(|row| (place(row), row.step.is_none(), row.step, row.added_n, row.position.clone()));
    let refit = strip::refit(&rows, &stages);
    let open = strip::open(rows.iter().copied());
    let condition = condition::open(state, job);
    StripView { positions: rows.into_iter().cloned().collect(), refit, open, condition, number: state.head }
}
