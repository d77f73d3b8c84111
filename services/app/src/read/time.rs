//! Where the time went.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::view::audit::{AuditReport, By, audit};
use leadhand_domain::view::lives::audit_lives;
use leadhand_domain::view::lost::lost;
use leadhand_facts::rows::ClockingRow;
use leadhand_facts::words::{JobState, Role};
use leadhand_facts::{Instant, JobNo, PersonId, TemplateKey, TextId};
use leadhand_store::JobFilter;
use std::collections::BTreeMap;

/// Jobs of one audit at most: more are asked for with a narrower filter.
const JOBS_MAX: usize = 2_000;

/// Lines of an audit by template and stage at most.
const LINES_MAX: usize = 10_000;

/// Which jobs are audited; what is empty does not restrict.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AuditFilter {
    /// Only this job.
    pub job: Option<JobNo>,
    /// Only jobs of this template.
    pub template: Option<TemplateKey>,
    /// Only jobs opened at or after.
    pub opened_from: Option<Instant>,
    /// Only jobs opened before.
    pub opened_until: Option<Instant>,
}

/// Which entries of time are wanted; what is empty does not restrict.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ClockingFilter {
    /// Only this person's.
    pub person: Option<PersonId>,
    /// Only time that ended after this, or goes on.
    pub from_at: Option<Instant>,
    /// Only time that began before this.
    pub until_at: Option<Instant>,
}

/// Entries of time in the order in which they were entered.
#[derive(Debug, Clone)]
pub struct ClockingPage {
    /// The entries.
    pub clockings: Vec<ClockingRow>,
    /// The persons' names.
    pub names: BTreeMap<PersonId, TextId>,
    /// The words they refer to.
    pub words: Words,
    /// The entry after which more may follow.
    pub next: Option<i64>,
}

impl App {
    /// Entries of time after this one. A lead sees everybody's, any other person the own ones alone.
    pub async fn clockings(
        &self,
        who: &Principal,
        filter: ClockingFilter,
        after: i64,
        size: usize,
    ) -> Result<ClockingPage, AppError> {
        let lead = who.role == Role::Lead;
        let person = if lead { filter.person } else { filter.person.or(who.person) };
        if !lead {
            let own = person.ok_or(Refusal::NoPerson { what: "show the time of a person" })?;
            if who.person != Some(own) {
                return Err(Refusal::LeadOnly { what: "see somebody else's time" }.into());
            }
        }
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::Shop]).await?;
        if let Some(person) = person {
            look::any_person(&reading.state, person)?;
        }
        let names: BTreeMap<PersonId, TextId> =
            reading.state.persons.iter().map(|row| (row.person, row.name)).collect();
        let from = filter.from_at.unwrap_or(Instant(0));
        let wanted = names.keys().filter(|known| person.is_none_or(|person| person == **known));
        let needs: Vec<Need> = wanted.map(|person| Need::PersonClockings(*person, from)).collect();
        reading.load(&needs).await?;
        let rows = reading.state.clockings.iter();
        let rows = rows.filter(|row| row.on_n > after && filter.until_at.is_none_or(|until| row.from_at < until));
        let mut clockings: Vec<ClockingRow> = rows.cloned().collect();
        clockings.sort_by_key(|row| row.on_n);
        clockings.truncate(size);
        let next = (clockings.len() == size).then(|| clockings.last().map(|row| row.on_n)).flatten();
        let texts: Vec<TextId> = names.values().copied().collect();
        let words = reading.words(texts).await?;
        Ok(ClockingPage { clockings, names, words, next })
    }

    /// Where the time of these jobs went. Of one template alone, its revisions are told apart.
    pub async fn audit(&self, who: &Principal, by: By, filter: AuditFilter) -> Result<(AuditReport, Words), AppError> {
        if by == By::TemplateStage {
            return self.audit_many(who, filter).await;
        }
        let by = if by == By::Template && filter.template.is_some() { By::Revision } else { by };
        let mut reading = Reading::begin(self, who.shop).await?;
        let known = filter.template.clone();
        let wanted = JobFilter {
            template: filter.template,
            opened_from: filter.opened_from,
            opened_until: filter.opened_until,
            ..JobFilter::default()
        };
        let jobs = if let Some(job) = filter.job { vec![job] } else { reading.snapshot.jobs(&wanted).await? };
        load_jobs(&mut reading, &jobs).await?;
        if let Some(job) = filter.job {
            look::job(&reading.state, job)?;
        }
        if let (Some(key), true) = (&known, jobs.is_empty()) {
            reading.load(&[Need::LatestTemplate(key.clone())]).await?;
            look::template(&reading.state, key)?;
        }
        load_labels(&mut reading).await?;
        let report = audit(&reading.state, reading.now(), by);
        let words = reading.words(report.text_ids()).await?;
        Ok((report, words))
    }

    /// What held up the jobs that were not closed before the first of these instants, between each and the next. `filter`'s
    /// bounds of opening do not count.
    pub async fn lost(
        &self,
        who: &Principal,
        filter: AuditFilter,
        cuts: &[Instant],
    ) -> Result<(AuditReport, Words), AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let wanted = JobFilter { template: filter.template, ..JobFilter::default() };
        let jobs = if let Some(job) = filter.job {
            vec![job]
        } else {
            let open = JobFilter { states: vec![JobState::Open], opened_until: cuts.last().copied(), ..wanted.clone() };
            let mut jobs = reading.snapshot.jobs(&open).await?;
            let closed = JobFilter { closed_from: cuts.first().copied(), ..open };
            jobs.extend(reading.snapshot.jobs(&JobFilter { states: Vec::new(), ..closed }).await?);
            jobs
        };
        load_jobs(&mut reading, &jobs).await?;
        if let Some(job) = filter.job {
            look::job(&reading.state, job)?;
        }
        load_labels(&mut reading).await?;
        let report = lost(&reading.state, reading.now(), cuts);
        let words = reading.words(report.text_ids()).await?;
        Ok((report, words))
    }

    /// By template and stage: over as many jobs as there are, since only the sums are kept.
    async fn audit_many(&self, who: &Principal, filter: AuditFilter) -> Result<(AuditReport, Words), AppError> {
        let AuditFilter { job, template, opened_from, opened_until } = filter;
        let mut reading = Reading::begin(self, who.shop).await?;
        let wanted = JobFilter { template: template.clone(), opened_from, opened_until, ..JobFilter::default() };
        let stages = reading.snapshot.lives(job, &wanted).await?;
        if stages.is_empty() {
            let known = job.map(Need::Job).into_iter().chain(template.clone().map(Need::LatestTemplate));
            reading.load(&known.collect::<Vec<_>>()).await?;
            job.map(|job| look::job(&reading.state, job).map(|_| ())).transpose()?;
            template.map(|key| look::template(&reading.state, &key).map(|_| ())).transpose()?;
        }
        let lives = stages.iter().flat_map(|stage| &stage.lives);
        let begun = lives.filter_map(|lived| lived.ready_at.into_iter().chain(lived.started_at).min()).min();
        let open = match begun {
            Some(begun) => reading.snapshot.openings(begun).await?,
            None => Vec::new(),
        };
        let report = audit_lives(stages, &open, reading.state.head, reading.now());
        if report.lines.len() > LINES_MAX {
            return Err(AppError::OutOfRange(format!(
                "{} lines come of it and at most {LINES_MAX} are answered; narrow it with from_at, until_at or template",
                report.lines.len()
            )));
        }
        let words = reading.words(report.text_ids()).await?;
        Ok((report, words))
    }
}

/// The jobs that are audited, if they are not too many.
async fn load_jobs(reading: &mut Reading, jobs: &[JobNo]) -> Result<(), AppError> {
    if jobs.len() > JOBS_MAX {
        return Err(AppError::OutOfRange(format!(
            "{} jobs fit and at most {JOBS_MAX} are audited at a time; narrow it with from_at, until_at or template",
            jobs.len()
        )));
    }
    let mut needs: Vec<Need> = jobs.iter().map(|job| Need::Job(*job)).collect();
    needs.push(Need::Shop);
    reading.load(&needs).await
}

/// What the labels and titles of the jobs that are loaded depend on beside them.
async fn load_labels(reading: &mut Reading) -> Result<(), AppError> {
    let rows = reading.state.jobs.iter();
    let mut more: Vec<Need> =
        rows.filter_map(|row| Some(Need::Template(row.template.clone()?, row.revision?))).collect();
    more.sort();
    more.dedup();
    // Labels need the hours since the earliest job was opened.
    more.extend(reading.state.jobs.iter().map(|row| row.opened_at).min().map(Need::OpenWindows));
    reading.load(&more).await
}
