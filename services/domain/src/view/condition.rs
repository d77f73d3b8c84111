//! The condition of a job's vehicle, as it is shown.

use super::parts::{Index, note};
use crate::condition;
use leadhand_facts::rows::{FluidRow, VehicleStateRow, WayRow};
use leadhand_facts::{JobNo, TextId};
use std::collections::BTreeSet;

/// The condition of a vehicle.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ConditionView {
    /// States of which something was said, with who did.
    pub states: Vec<(VehicleStateRow, Option<TextId>)>,
    /// Fluids, with who said something last.
    pub fluids: Vec<(FluidRow, Option<TextId>)>,
    /// Ways that are not the book's, with who proposed and who decided.
    pub ways: Vec<(WayRow, Option<TextId>, Option<TextId>)>,
}

impl ConditionView {
    pub(super) fn of(index: &Index<'_>, job: JobNo) -> Self {
        let name = |person: Option<_>| person.and_then(|person| index.name(person));
        let states = condition::states(index.state, job).map(|row| (row.clone(), name(row.person)));
        let fluids = condition::fluids(index.state, job).map(|row| (row.clone(), name(row.person)));
        let ways = condition::ways(index.state, job).map(|row| (row.clone(), name(row.person), name(row.decided_by)));
        Self { states: states.collect(), fluids: fluids.collect(), ways: ways.collect() }
    }

    pub(super) fn note_texts(&self, texts: &mut BTreeSet<TextId>) {
        note(texts, self.states.iter().flat_map(|(row, name)| [row.reason, *name]));
        note(texts, self.fluids.iter().flat_map(|(row, name)| [row.note, *name]));
        for (row, proposed, decided) in &self.ways {
            note(texts, [Some(row.note), Some(row.reason), row.decided_note, *proposed, *decided]);
        }
    }
}
