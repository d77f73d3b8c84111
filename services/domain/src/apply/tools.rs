//! Shared tools: listed, retired, lent and back.

use super::{Broken, Folded, add, change, known, strayed};
use crate::state::State;
use leadhand_facts::rows::{LoanRow, ToolRow};
use leadhand_facts::{Entry, Fact};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    let n = entry.number;
    match &entry.fact {
        Fact::ToolAdded { tool, name, what, calibration_due } => {
            let row = ToolRow {
                tool: tool.clone(),
                name: name.clone(),
                what: what.clone(),
                calibration_due: calibration_due.clone(),
                added_n: n,
                retired_n: None,
                reason: None,
            };
            add(entry, &mut state.tools, row)
        }
        Fact::ToolDescribed { tool, name, what, calibration_due } => {
            change(entry, &mut state.tools, &(tool.clone(),), |row| {
                row.name.clone_from(name);
                row.what.clone_from(what);
                row.calibration_due.clone_from(calibration_due);
                (row.retired_n, row.reason) = (None, None);
            })
        }
        Fact::ToolRetired { tool, reason } => change(entry, &mut state.tools, &(tool.clone(),), |row| {
            (row.retired_n, row.reason) = (Some(n), Some(reason.id));
        }),
        Fact::ToolLent { loan, tool, job, stage, bay, person } => {
            known(entry, &state.tools, &(tool.clone(),))?;
            let row = LoanRow {
                loan: *loan,
                tool: tool.clone(),
                job: *job,
                stage: stage.clone(),
                bay: bay.clone(),
                person: *person,
                from_at: entry.happened_at,
                until_at: None,
                from_n: n,
                until_n: None,
            };
            add(entry, &mut state.loans, row)
        }
        Fact::ToolReturned { loan, .. } => {
            if known(entry, &state.loans, &(*loan,))?.until_at.is_some() {
                return Err(Broken::new(entry, format!("loan {loan} is over already")));
            }
            change(entry, &mut state.loans, &(*loan,), |row| {
                row.until_at = Some(entry.happened_at);
                row.until_n = Some(n);
            })
        }
        Fact::LoanReopened { loan, .. } => {
            if known(entry, &state.loans, &(*loan,))?.until_at.is_none() {
                state.loans.remove(&(*loan,));
                return Ok(());
            }
            change(entry, &mut state.loans, &(*loan,), |row| (row.until_at, row.until_n) = (None, None))
        }
        _ => strayed(entry),
    }
}
