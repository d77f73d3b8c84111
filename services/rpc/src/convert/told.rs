//! What was told to whom.

use super::time::{stamp, timestamp};
use leadhand_app::Words;
use leadhand_domain::view::job::ToldLine;
use leadhand_proto::v1;

/// What somebody was told.
pub fn line(line: &ToldLine, words: &Words) -> v1::ToldLine {
    let row = &line.row;
    v1::ToldLine {
        told: row.told.0,
        told_at: Some(timestamp(row.told_at)),
        told_by: words.get(line.by).to_owned(),
        to_customer: line.to_customer,
        customer: row.customer.map(|customer| customer.to_string()).unwrap_or_default(),
        whom: words.get(row.whom).to_owned(),
        words: words.get(Some(row.words)).to_owned(),
        promised_at: stamp(row.promised_at),
        withdrawn: row.withdrawn_n.is_some(),
        withdrawn_reason: words.get(row.withdrawn_reason).to_owned(),
    }
}
