//! Where the time went.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::view::audit::{AuditReport, By, audit};
use leadhand_facts::{Instant, JobNo, TemplateKey};
use leadhand_store::JobFilter;

/// Jobs of one audit at most: more are asked for with a narrower filter.
const JOBS_MAX: usize = 2_000;

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

impl App {
    /// Where the time of these jobs went. Of one template alone, its revisions are told apart.
    pub async fn audit(&self, who: &Principal, by: By, filter: AuditFilter) -> Result<(AuditReport, Words), AppError> {
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
        if jobs.len() > JOBS_MAX {
            return Err(AppError::OutOfRange(format!(
                "{} jobs fit and at most {JOBS_MAX} are audited at a time; narrow it with from_at, until_at or template",
                jobs.len()
            )));
        }
        let mut needs: Vec<Need> = jobs.iter().map(|job| Need::Job(*job)).collect();
        needs.push(Need::Shop);
        reading.load(&needs).await?;
        if let Some(job) = filter.job {
            look::job(&reading.state, job)?;
        }
        if let (Some(key), true) = (&known, jobs.is_empty()) {
            reading.load(&[Need::LatestTemplate(key.clone())]).await?;
            look::template(&reading.state, key)?;
        }
        let rows = reading.state.jobs.iter();
        let mut more: Vec<Need> =
            rows.filter_map(|row| Some(Need::Template(row.template.clone()?, row.revision?))).collect();
        more.sort();
        more.dedup();
        // Labels need the hours since the earliest job was opened.
        more.extend(reading.state.jobs.iter().map(|row| row.opened_at).min().map(Need::OpenWindows));
        reading.load(&more).await?;
        let report = audit(&reading.state, reading.now(), by);
        let words = reading.words(report.text_ids()).await?;
        Ok((report, words))
    }
}
