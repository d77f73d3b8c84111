//! Holds a history against the promises. Pure, and it knows nothing of how the server works: a
//! request, its answers, the journal and what subscribers took down have to tell one story.
//!
//! The rules are the project's own (journal, idempotency, resuming); that order in real time must be
//! kept is linearizability as in Herlihy and Wing, "Linearizability" (1990).

mod answers;
mod journals;

#[cfg(test)]
mod tests;

use crate::history::{History, ShopNo};
use std::collections::BTreeSet;
use uuid::Uuid;

/// A broken promise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Violation {
    /// Acknowledged, and not in the journal.
    Missing { shop: ShopNo, request: Uuid, number: i64 },
    /// The facts of one request stand in more than one place.
    Doubled { shop: ShopNo, request: Uuid, ends: Vec<i64> },
    /// The request's facts end at another number than the answer said.
    Elsewhere { shop: ShopNo, request: Uuid, answered: i64, found: i64 },
    /// Two answers to one request differ.
    AnswersDiffer { shop: ShopNo, request: Uuid, first: i64, other: i64 },
    /// More than one answer claims to be the first.
    FirstTwice { shop: ShopNo, request: Uuid },
    /// Nothing was to be recorded, and something is.
    FactsOfNothing { shop: ShopNo, request: Uuid, found: i64 },
    /// Every try was refused, and there are facts.
    RefusedWithFacts { shop: ShopNo, request: Uuid, found: i64 },
    /// Refused by a try that began after another one had been acknowledged.
    RefusedAfterAcknowledged { shop: ShopNo, request: Uuid, why: String },
    /// The last try did not find out either.
    Unresolved { shop: ShopNo, request: Uuid },
    /// A request that began after another one was acknowledged stands before it.
    OutOfOrder { shop: ShopNo, earlier: Uuid, later: Uuid },
    /// The journal lacks a number.
    JournalGap { shop: ShopNo, after: i64, found: i64 },
    /// Two facts of a journal have one id.
    FactIdTwice { shop: ShopNo, number: i64 },
    /// A subscriber's log lacks a number, or has one twice.
    LogGap { subscriber: String, after: i64, found: i64 },
    /// A subscriber has another fact under this number than the journal.
    LogDiffers { subscriber: String, number: i64 },
    /// A subscriber did not get to the end.
    LogStopped { subscriber: String, at: i64, wanted: i64, why: String },
}

impl Violation {
    /// Its name.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Missing { .. } => "missing",
            Self::Doubled { .. } => "doubled",
            Self::Elsewhere { .. } => "elsewhere",
            Self::AnswersDiffer { .. } => "answers differ",
            Self::FirstTwice { .. } => "first twice",
            Self::FactsOfNothing { .. } => "facts of nothing",
            Self::RefusedWithFacts { .. } => "refused with facts",
            Self::RefusedAfterAcknowledged { .. } => "refused after acknowledged",
            Self::Unresolved { .. } => "unresolved",
            Self::OutOfOrder { .. } => "out of order",
            Self::JournalGap { .. } => "journal gap",
            Self::FactIdTwice { .. } => "fact id twice",
            Self::LogGap { .. } => "log gap",
            Self::LogDiffers { .. } => "log differs",
            Self::LogStopped { .. } => "log stopped",
        }
    }
}

/// Every broken promise that the history shows.
pub fn check(history: &History) -> Vec<Violation> {
    let mut found = journals::check(history);
    found.extend(answers::check(history));
    found
}

/// The names of what was found, each once.
pub fn words(found: &[Violation]) -> BTreeSet<&'static str> {
    found.iter().map(Violation::word).collect()
}
