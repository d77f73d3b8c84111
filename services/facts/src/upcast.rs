//! Reading facts of every version that was ever written.
//!
//! When a kind changes, its version goes up in [`version_of`] and a step is added to `raise`
//! that turns the older body into the newer one. Committed journals of each version stay
//! readable for ever.

use crate::entry::Stored;
use crate::fact::Fact;
use thiserror::Error;

/// Why a stored fact can't be read here.
#[derive(Debug, Error)]
pub enum UpcastError {
    /// This program is older than the journal.
    #[error("fact kind '{kind}' version {version} is unknown here; a newer leadhandd wrote it, so upgrade this one")]
    Unknown {
        /// The kind.
        kind: String,
        /// Its version.
        version: i32,
    },
    /// The body does not have the fields of its kind.
    #[error("fact kind '{kind}' version {version} does not have the fields it must have: {source}")]
    Malformed {
        /// The kind.
        kind: String,
        /// Its version.
        version: i32,
        /// What is wrong.
        source: serde_json::Error,
    },
}

/// The version under which a kind is written now; `None` for a kind that is unknown here.
pub fn version_of(kind: &str) -> Option<i32> {
    KINDS.contains(&kind).then_some(match kind {
        "clocked_on" | "work_recorded" | "template_published" | "job_opened" | "job_completed" | "stage_added" => 2,
        _ => 1,
    })
}

/// The newest format that is written and read here. A release that adds a kind, or a version of one,
/// goes up by one and names it in `LATER`.
pub const FORMAT: i32 = 1;

/// Kinds and versions that came after the first release: kind, version, format. What is not named
/// here has format 1.
const LATER: [(&str, i32, i32); 0] = [];

/// The format of a kind in a version: a program that knows a lower one only can't read it.
pub fn format_of(kind: &str, version: i32) -> i32 {
    let later = LATER.iter().find(|(later, since, _)| *later == kind && *since == version);
    later.map_or(1, |(_, _, format)| *format)
}

/// Every kind, in the order of the enum.
pub const KINDS: [&str; 100] = [
    "shop_opened",
    "calendar_set",
    "bay_added",
    "person_added",
    "person_renamed",
    "bay_corrected",
    "skills_set",
    "yard_set",
    "person_forgotten",
    "token_issued",
    "token_revoked",
    "token_limited",
    "badge_set",
    "pin_set",
    "proof_withdrawn",
    "signed_in",
    "signed_out",
    "template_published",
    "vehicle_added",
    "vehicle_described",
    "customer_added",
    "customer_edited",
    "customer_forgotten",
    "job_customer_set",
    "job_opened",
    "job_promised",
    "vehicle_placed",
    "vehicle_left",
    "stay_corrected",
    "job_completed",
    "job_cancelled",
    "job_reopened",
    "stage_added",
    "stage_ready",
    "stage_held",
    "wait_passed",
    "stage_started",
    "stage_finished",
    "stage_skipped",
    "step_done",
    "step_skipped",
    "step_added",
    "blocker_raised",
    "blocker_cleared",
    "blocker_owned",
    "clocked_on",
    "clocked_off",
    "work_recorded",
    "clocking_withdrawn",
    "step_reopened",
    "stage_reopened",
    "position_added",
    "position_off",
    "position_back",
    "position_tightened",
    "position_checked",
    "position_reopened",
    "position_recounted",
    "reading_added",
    "reading_taken",
    "reading_decided",
    "remark_made",
    "remark_withdrawn",
    "position_split",
    "position_soaked",
    "attempt_recorded",
    "tool_added",
    "tool_described",
    "tool_retired",
    "tool_lent",
    "tool_returned",
    "loan_reopened",
    "vehicle_state_set",
    "fluid_recorded",
    "fill_reckoned",
    "fluid_reopened",
    "way_proposed",
    "way_decided",
    "item_added",
    "place_added",
    "lot_made",
    "lot_expired",
    "moved",
    "demand_set",
    "reserved",
    "reservation_reduced",
    "shortage_opened",
    "shortage_changed",
    "supplier_set",
    "item_supplier_set",
    "item_fluid_set",
    "somebody_told",
    "told_withdrawn",
    "correction_asked",
    "correction_decided",
    "plan_accepted",
    "stage_pinned",
    "stage_unpinned",
    "overtime_opened",
    "overtime_closed",
];

/// What a release has published, a line each: kind, version, format. Whatever is written now and was
/// not published has to have a format above them all, or an older replica would not notice it.
pub fn unnoticed(published: &str) -> Vec<String> {
    let mut wrong = Vec::new();
    let (mut known, mut newest) = (Vec::new(), 0);
    for line in published.lines() {
        let mut words = line.split(' ');
        let (Some(kind), Some(Ok(version)), Some(Ok(format)), None) =
            (words.next(), words.next().map(str::parse), words.next().map(str::parse), words.next())
        else {
            wrong.push(format!("'{line}' is not a kind, a version and a format"));
            continue;
        };
        if format_of(kind, version) != format {
            wrong.push(format!("'{kind}' version {version} was published with format {format} and keeps it"));
        }
        known.push((kind, version));
        newest = newest.max(format);
    }
    let now = KINDS.iter().filter_map(|kind| Some((*kind, version_of(kind)?)));
    let fresh = now.filter(|(kind, version)| !known.contains(&(kind, *version)) && format_of(kind, *version) <= newest);
    wrong.extend(fresh.map(|(kind, version)| format!("'{kind}' version {version} needs a format above {newest}")));
    wrong
}

/// A fact in the form in which it is stored now.
pub fn store(fact: &Fact) -> Result<Stored, serde_json::Error> {
    let mut value = serde_json::to_value(fact)?;
    let kind = value["kind"].as_str().unwrap_or_default().to_owned();
    let version = version_of(&kind).unwrap_or(1);
    Ok(Stored { kind, version, body: value["body"].take() })
}

/// A stored fact of any version in its present form.
pub fn read(stored: Stored) -> Result<Fact, UpcastError> {
    let Stored { kind, version, body } = raise(stored);
    if version_of(&kind) != Some(version) {
        return Err(UpcastError::Unknown { kind, version });
    }
    serde_json::from_value(serde_json::json!({ "kind": kind, "body": body })).map_err(|source| UpcastError::Malformed {
        kind,
        version,
        source,
    })
}

/// Raises an older body step by step.
fn raise(mut stored: Stored) -> Stored {
    // Version 1 let anybody work on any stage and had no strip book, so nothing was overridden.
    if matches!(stored.kind.as_str(), "clocked_on" | "work_recorded" | "job_completed") && stored.version == 1 {
        if let Some(body) = stored.body.as_object_mut() {
            body.insert("overridden".to_owned(), serde_json::Value::Null);
        }
        stored.version = 2;
    }
    // Version 1 listed nothing that comes off, which is what an absent list means.
    if matches!(stored.kind.as_str(), "template_published" | "job_opened" | "stage_added") && stored.version == 1 {
        stored.version = 2;
    }
    stored
}

#[cfg(test)]
mod tests {
    use super::*;

    fn published(format: i32) -> String {
        let lines: Vec<String> =
            KINDS.iter().map(|kind| format!("{kind} {} {format}", version_of(kind).unwrap())).collect();
        lines.join("\n")
    }

    #[test]
    fn later_formats_are_known_and_none_is_left_out() {
        assert!(LATER.iter().all(|(kind, version, _)| KINDS.contains(kind) && version_of(kind) >= Some(*version)));
        let formats: std::collections::BTreeSet<i32> = LATER.iter().map(|(_, _, format)| *format).chain([1]).collect();
        assert!(formats.into_iter().eq(1..=FORMAT));
    }

    #[test]
    fn what_an_older_replica_would_not_notice_is_named() {
        assert_eq!(unnoticed(""), Vec::<String>::new());
        assert_eq!(unnoticed(&published(1)), Vec::<String>::new());
        let all = published(1);
        let (_, but_one) = all.split_once('\n').unwrap();
        assert_eq!(unnoticed(but_one), ["'shop_opened' version 1 needs a format above 1"]);
        assert_eq!(unnoticed(&published(2)).len(), KINDS.len(), "all have another format");
        assert_eq!(unnoticed("moved one").len(), 1, "and nothing was published");
    }
}
