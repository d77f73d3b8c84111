//! Corrections of time that were asked for.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::refusal::Refusal;
use leadhand_facts::rows::{AskedRow, ClockingRow};
use leadhand_facts::words::Role;
use leadhand_facts::{Instant, JobNo, PersonId, TextId};
use std::collections::BTreeMap;

/// A correction that was asked for.
#[derive(Debug, Clone)]
pub struct AskedLine {
    /// What was asked for, and what was decided.
    pub row: AskedRow,
    /// The entry as it is; none when it is gone.
    pub entry: Option<ClockingRow>,
}

/// Corrections in the order in which they were asked for.
#[derive(Debug, Clone)]
pub struct AskedPage {
    /// Line by line.
    pub lines: Vec<AskedLine>,
    /// The persons' names.
    pub names: BTreeMap<PersonId, TextId>,
    /// The words they refer to.
    pub words: Words,
    /// The journal number of the question after which more may follow.
    pub next: Option<i64>,
}

impl App {
    /// Corrections that were asked for after this one: of one job all, else what waits in every job and what was decided
    /// since then of the caller's own. A lead sees everybody's, any other person the own ones alone.
    pub async fn asked(
        &self,
        who: &Principal,
        job: Option<JobNo>,
        decided_from: Option<Instant>,
        after: i64,
        size: usize,
    ) -> Result<AskedPage, AppError> {
        let own = if who.role == Role::Lead {
            None
        } else {
            Some(who.person.ok_or(Refusal::NoPerson { what: "show what a person asked for" })?)
        };
        let mut reading = Reading::begin(self, who.shop).await?;
        let told = who.person.zip(decided_from);
        let jobs = if let Some(job) = job { vec![job] } else { reading.snapshot.jobs_asked_about(told).await? };
        let mut needs: Vec<Need> = jobs.into_iter().map(Need::Job).collect();
        needs.push(Need::Shop);
        reading.load(&needs).await?;
        if let Some(job) = job {
            look::job(&reading.state, job)?;
        }
        let state = &reading.state;
        let is_told = |row: &AskedRow| {
            told.is_some_and(|(own, since)| own == row.person && row.decided_at.is_some_and(|at| at >= since))
        };
        let wanted = |row: &&AskedRow| {
            row.asked_n > after
                && own.is_none_or(|own| own == row.person)
                && (job == Some(row.job) || job.is_none() && (row.decided_n.is_none() || is_told(row)))
        };
        let mut rows: Vec<AskedRow> = state.asked.iter().filter(wanted).cloned().collect();
        rows.sort_by_key(|row| row.asked_n);
        rows.truncate(size);
        let next = (rows.len() == size).then(|| rows.last().map(|row| row.asked_n)).flatten();
        let entry = |row: &AskedRow| state.clockings.get(&(row.clocking,)).cloned();
        let lines: Vec<AskedLine> = rows.into_iter().map(|row| AskedLine { entry: entry(&row), row }).collect();
        let names: BTreeMap<PersonId, TextId> = state.persons.iter().map(|row| (row.person, row.name)).collect();
        let said = lines.iter().flat_map(|line| [Some(line.row.reason), line.row.answer]).flatten();
        let texts: Vec<TextId> = names.values().copied().chain(said).collect();
        let words = reading.words(texts).await?;
        Ok(AskedPage { lines, names, words, next })
    }
}
