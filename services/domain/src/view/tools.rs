//! Shared tools, and who has each.

use crate::decide::loan_of;
use crate::state::State;
use leadhand_facts::rows::{LoanRow, ToolRow};
use leadhand_facts::words::JobState;
use leadhand_facts::{Instant, JobNo, TextId};
use std::collections::BTreeSet;

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
    /// Whether a job has it that was handed over or called off, as far as that job is loaded.
    pub overdue: bool,
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
        overdue: loan.and_then(|loan| loan.job).is_some_and(|job| is_closed(state, job)),
    }
}

fn is_closed(state: &State, job: JobNo) -> bool {
    state.jobs.get(&(job,)).is_some_and(|row| row.state != JobState::Open)
}

/// The jobs that have a shared tool: what has to be loaded to tell whether one is overdue.
pub fn jobs_with_tools(state: &State) -> BTreeSet<JobNo> {
    state.loans.iter().filter(|row| row.until_at.is_none()).filter_map(|row| row.job).collect()
}

/// Every shared tool by key; those out of use only when asked for.
pub fn tool_lines(state: &State, with_retired: bool, now: Instant) -> Vec<ToolLine> {
    let shown = state.tools.iter().filter(|row| with_retired || row.retired_n.is_none());
    shown.map(|row| tool_line(state, row, now)).collect()
}
