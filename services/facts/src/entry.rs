//! A fact with where it stands in its shop's journal.

use crate::fact::Fact;
use crate::ids::{FactId, PersonId, PrincipalId, RequestId};
use crate::instant::Instant;
use serde::{Deserialize, Serialize};

/// A numbered fact.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry {
    /// Its number in the shop, dense from 1.
    pub number: i64,
    /// Its random id; together with the number it names one history.
    pub fact_id: FactId,
    /// When the writer wrote it, never before the entry before it.
    pub recorded_at: Instant,
    /// When it happened, at or before `recorded_at`.
    pub happened_at: Instant,
    /// Whose token was used; nobody for the timer.
    pub principal: Option<PrincipalId>,
    /// Who acted: the token's person, or the one for whom a lead recorded.
    pub person: Option<PersonId>,
    /// The person whose own token or sign-in was used, and who answers for it by name, when that is
    /// another than `person`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub proved: Option<PersonId>,
    /// The request that caused it.
    pub request: RequestId,
    /// What happened.
    #[serde(flatten)]
    pub fact: Fact,
}

/// A fact as it lies in the journal, before it is brought up to the present version.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Stored {
    /// Its kind.
    pub kind: String,
    /// The version of the kind under which it was written.
    pub version: i32,
    /// Its fields.
    pub body: serde_json::Value,
}
