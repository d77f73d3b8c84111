//! Shared tools, and who has each.

use crate::decide::loan_of;
use crate::state::State;
use leadhand_facts::rows::{LoanRow, ToolRow};
use leadhand_facts::{Instant, TextId};

/// A shared tool in a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToolLine {
    /// The tool.
    pub row: ToolRow,
    /// Who has it; nobody without.
    pub loan: Option<LoanRow>,
    /// The text with the name of the person who has it.
    pub person: Option<TextId>,
    /// Whether its calibration counted until an earlier day than today.
    pub out_of_calibration: bool,
}

impl ToolLine {
    /// Every text that it refers to.
    pub fn text_ids(&self) -> impl Iterator<Item = TextId> {
        [self.row.reason, self.person].into_iter().flatten()
    }
}

/// A shared tool that is loaded, as it is now.
pub fn tool_line(state: &State, row: &ToolRow, now: Instant) -> ToolLine {
    let loan = loan_of(state, &row.tool);
    let person = loan.and_then(|loan| loan.person).and_then(|person| state.persons.get(&(person,)));
    ToolLine {
        row: row.clone(),
        loan: loan.cloned(),
        person: person.map(|person| person.name),
        out_of_calibration: crate::decide::out_of_calibration(state, row, now),
    }
}

/// Every shared tool by key; those out of use only when asked for.
pub fn tool_lines(state: &State, with_retired: bool, now: Instant) -> Vec<ToolLine> {
    let shown = state.tools.iter().filter(|row| with_retired || row.retired_n.is_none());
    shown.map(|row| tool_line(state, row, now)).collect()
}
