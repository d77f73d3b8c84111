//! Shared tools are never in two places.

use super::Found;
use super::time::{apart, not_empty};
use crate::tables::Tables;
use leadhand_facts::ToolKey;
use leadhand_facts::rows::{BlockerRow, JobRow, LoanRow, ToolRow};
use leadhand_facts::words::JobState;
use std::collections::BTreeMap;

pub(super) fn check(tables: &Tables, found: &mut Found) {
    let span = |row: &LoanRow| (row.from_at, row.until_at);
    apart(tables, found, "tool", |row: &LoanRow| row.tool.clone(), span);
    not_empty(tables, found, "tool", span);
    for row in tables.rows::<LoanRow>() {
        found.law("tool", row, row.until_at.is_some() == row.until_n.is_some(), || {
            "its end and the fact that ended it do not agree".to_owned()
        });
        let whose = row.job.is_some() != row.person.is_some();
        let placed = row.job.is_some() || (row.stage.is_none() && row.bay.is_none());
        found
            .law("tool", row, whose && placed, || "it is not to a job, with its stage and bay, or a person".to_owned());
        let retired = tables.get::<ToolRow>(&(row.tool.clone(),)).is_none_or(|tool| tool.retired_n.is_some());
        found.law("tool", row, !(retired && row.until_at.is_none()), || {
            format!("tool '{}' is lent, and is retired or unknown", row.tool)
        });
    }
    for row in tables.rows::<ToolRow>() {
        found.law("tool", row, row.retired_n.is_some() == row.reason.is_some(), || {
            "it is retired without a reason, or has one and is not".to_owned()
        });
    }
    held_up(tables, found);
}

/// A blocker for a tool stands only while another job has it.
fn held_up(tables: &Tables, found: &mut Found) {
    let lent = tables.rows::<LoanRow>().filter(|row| row.until_at.is_none());
    let lent: BTreeMap<&ToolKey, &LoanRow> = lent.map(|row| (&row.tool, row)).collect();
    for row in tables.rows::<BlockerRow>().filter(|row| row.cleared_at.is_none()) {
        let open = tables.get::<JobRow>(&(row.job,)).is_some_and(|job| job.state == JobState::Open);
        let Some(tool) = row.tool.as_ref().filter(|_| open) else { continue };
        let elsewhere = lent.get(tool).is_some_and(|loan| loan.job.is_some_and(|job| job != row.job));
        found.law("tool-blocker", row, elsewhere, || format!("it waits for tool '{tool}', which no other job has"));
    }
}
