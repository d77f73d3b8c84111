//! Shared tools on the wire.

use super::time::timestamp;
use leadhand_app::Words;
use leadhand_domain::view::tools::ToolLine;
use leadhand_facts::rows::{LoanRow, ToolRow};
use leadhand_proto::v1;

/// A shared tool in a list.
pub fn line(line: &ToolLine, words: &Words) -> v1::ToolLine {
    v1::ToolLine {
        tool: Some(tool(&line.row)),
        loan: line.loan.as_ref().map(|row| loan(row, words.get(line.person))),
        out_of_calibration: line.out_of_calibration,
        retired: line.row.retired_n.is_some(),
        reason: words.get(line.row.reason).to_owned(),
        overdue: line.overdue,
    }
}

/// What a shared tool is.
pub fn tool(row: &ToolRow) -> v1::Tool {
    v1::Tool {
        tool: row.tool.to_string(),
        name: row.name.clone(),
        what: row.what.clone().unwrap_or_default(),
        calibration_due: row.calibration_due.clone().unwrap_or_default(),
    }
}

/// Who has it; `person` is the name, which is empty when it was forgotten.
pub fn loan(row: &LoanRow, person: &str) -> v1::Loan {
    v1::Loan {
        job: row.job.map(|job| job.0).unwrap_or_default(),
        stage: row.stage.as_ref().map(ToString::to_string).unwrap_or_default(),
        bay: row.bay.as_ref().map(ToString::to_string).unwrap_or_default(),
        person: person.to_owned(),
        since: Some(timestamp(row.from_at)),
    }
}
