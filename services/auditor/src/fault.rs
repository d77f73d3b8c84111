//! A fact that can't be: where it stands, which table refuses it, and why.

use leadhand_facts::{Entry, Instant, PersonId};
use thiserror::Error;

/// Why a journal can't be folded.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("fact {number} does not fit '{table}': {sentence}; keep this database as it is and restore or report it")]
pub struct Fault {
    /// The number of the fact.
    pub number: i64,
    /// The table that refuses it, or `journal`.
    pub table: &'static str,
    /// What is wrong with it.
    pub sentence: String,
}

/// Where and when a fact stands.
#[derive(Debug, Clone, Copy)]
pub(crate) struct At {
    /// Its number.
    pub n: i64,
    /// When it was written.
    pub recorded: Instant,
    /// When it happened.
    pub happened: Instant,
    /// On whose word: who proved to be somebody, else who acts.
    pub word: Option<PersonId>,
}

impl At {
    /// Of an entry.
    pub fn of(entry: &Entry) -> Self {
        Self {
            n: entry.number,
            recorded: entry.recorded_at,
            happened: entry.happened_at,
            word: entry.proved.or(entry.person),
        }
    }

    /// A fault at this fact.
    pub fn fault(self, table: &'static str, sentence: impl Into<String>) -> Fault {
        Fault { number: self.n, table, sentence: sentence.into() }
    }

    /// Faults unless `holds`.
    pub fn demand(self, holds: bool, table: &'static str, sentence: impl FnOnce() -> String) -> Result<(), Fault> {
        if holds { Ok(()) } else { Err(self.fault(table, sentence())) }
    }
}
