//! Shared tools, and who has them.

use super::astray;
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::rows::{BayRow, JobRow, LoanRow, PersonRow, StageRow, ToolRow};
use leadhand_facts::words::JobState;
use leadhand_facts::{Fact, LoanId, ToolKey};

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::ToolAdded { tool, name, what, calibration_due } => {
            let (name, what, calibration_due) = (name.clone(), what.clone(), calibration_due.clone());
            let row = ToolRow {
                tool: tool.clone(),
                name,
                what,
                calibration_due,
                added_n: at.n,
                retired_n: None,
                reason: None,
            };
            tables.add(at, row)
        }
        Fact::ToolDescribed { tool, name, what, calibration_due } => {
            let row = tables.change::<ToolRow>(at, &(tool.clone(),))?;
            row.name.clone_from(name);
            row.what.clone_from(what);
            row.calibration_due.clone_from(calibration_due);
            (row.retired_n, row.reason) = (None, None);
            Ok(())
        }
        Fact::ToolRetired { tool, reason } => {
            let lent = tables.rows::<LoanRow>().any(|row| row.tool == *tool && row.until_at.is_none());
            let row = in_use(tables, at, tool)?;
            at.demand(!lent, "shared_tool", || format!("tool '{tool}' is lent and can't be retired"))?;
            (row.retired_n, row.reason) = (Some(at.n), Some(reason.id));
            Ok(())
        }
        Fact::ToolLent { .. } => lent(tables, at, fact),
        Fact::ToolReturned { loan, tool } => {
            let row = loan_of(tables, at, *loan, tool)?;
            let lasts = row.until_at.is_none() && row.from_at < at.happened;
            at.demand(lasts, "tool_loan", || format!("loan {loan} ended before, or does not end after it began"))?;
            (row.until_at, row.until_n) = (Some(at.happened), Some(at.n));
            Ok(())
        }
        Fact::LoanReopened { loan, tool, .. } => {
            in_use(tables, at, tool)?;
            let from = loan_of(tables, at, *loan, tool)?.from_at;
            let later = tables.rows::<LoanRow>().any(|row| row.tool == *tool && row.from_at > from);
            at.demand(!later, "tool_loan", || format!("loan {loan} is not the last one of tool '{tool}'"))?;
            let row = loan_of(tables, at, *loan, tool)?;
            if row.until_at.is_none() {
                tables.remove::<LoanRow>(&(*loan,));
            } else {
                (row.until_at, row.until_n) = (None, None);
            }
            Ok(())
        }
        _ => Err(astray(at)),
    }
}

fn in_use<'a>(tables: &'a mut Tables, at: At, tool: &ToolKey) -> Result<&'a mut ToolRow, Fault> {
    let row = tables.change::<ToolRow>(at, &(tool.clone(),))?;
    at.demand(row.retired_n.is_none(), "shared_tool", || format!("tool '{tool}' is retired"))?;
    Ok(row)
}

fn loan_of<'a>(tables: &'a mut Tables, at: At, loan: LoanId, tool: &ToolKey) -> Result<&'a mut LoanRow, Fault> {
    let row = tables.change::<LoanRow>(at, &(loan,))?;
    at.demand(row.tool == *tool, "tool_loan", || format!("loan {loan} is of tool '{}'", row.tool))?;
    Ok(row)
}

fn lent(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::ToolLent { loan, tool, job, stage, bay, person } = fact else { return Err(astray(at)) };
    in_use(tables, at, tool)?;
    at.demand(job.is_some() != person.is_some(), "tool_loan", || format!("loan {loan} is not to a job or a person"))?;
    let bare = job.is_some() || (stage.is_none() && bay.is_none());
    at.demand(bare, "tool_loan", || format!("loan {loan} names a stage or a bay without a job"))?;
    if let Some(job) = job {
        let open = tables.known::<JobRow>(at, &(*job,))?.state == JobState::Open;
        at.demand(open, "tool_loan", || format!("loan {loan} is to job {job}, which is closed"))?;
        if let Some(stage) = stage {
            tables.known::<StageRow>(at, &(*job, stage.clone()))?;
        }
    }
    if let Some(bay) = bay {
        tables.known::<BayRow>(at, &(bay.clone(),))?;
    }
    if let Some(person) = person {
        tables.known::<PersonRow>(at, &(*person,))?;
    }
    let elsewhere = |row: &LoanRow| row.tool == *tool && row.until_at.is_none_or(|until| until > at.happened);
    let free = !tables.rows::<LoanRow>().any(elsewhere);
    at.demand(free, "tool_loan", || format!("tool '{tool}' was lent to somebody else then"))?;
    let (loan, tool, job, stage) = (*loan, tool.clone(), *job, stage.clone());
    let (bay, person, from_at, from_n) = (bay.clone(), *person, at.happened, at.n);
    tables.add(at, LoanRow { loan, tool, job, stage, bay, person, from_at, until_at: None, from_n, until_n: None })
}
