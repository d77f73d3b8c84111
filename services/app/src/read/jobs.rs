//! One job, and jobs by number.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::view::job::{JobView, job_view};
use leadhand_facts::rows::JobRow;
use leadhand_facts::words::JobState;
use leadhand_facts::{BayKey, JobNo, TextId};
use leadhand_store::JobFilter;

/// Jobs by number.
#[derive(Debug, Clone)]
pub struct JobPage {
    /// The jobs with the bay that each one's vehicle is in and the vehicle's label.
    pub jobs: Vec<(JobRow, Option<BayKey>, Option<TextId>)>,
    /// The words they refer to.
    pub words: Words,
    /// The last number of a full page: more may follow.
    pub next: Option<JobNo>,
}

impl App {
    /// One job with everything about it.
    pub async fn job(&self, who: &Principal, job: JobNo) -> Result<(JobView, Words), AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let now = reading.now();
        reading.load(&[Need::Shop, Need::Job(job), Need::OpenWindows(now)]).await?;
        look::job(&reading.state, job)?;
        let view = job_view(&reading.state, job, now);
        let items = view.iter().flat_map(JobView::items).collect();
        reading.load(&[Need::Items(items)]).await?;
        let view = job_view(&reading.state, job, now)
            .ok_or_else(|| AppError::Internal(format!("job {job} has no vehicle")))?;
        let words = reading.words(view.text_ids()).await?;
        Ok((view, words))
    }

    /// Jobs in these states (none: any), by number, after this one.
    pub async fn jobs(
        &self,
        who: &Principal,
        states: Vec<JobState>,
        after: Option<JobNo>,
        size: usize,
    ) -> Result<JobPage, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let limit = i64::try_from(size).unwrap_or(i64::MAX);
        let filter = JobFilter { states, after, limit: Some(limit), ..JobFilter::default() };
        let numbers = reading.snapshot.jobs(&filter).await?;
        let next = (numbers.len() == size).then(|| numbers.last().copied()).flatten();
        let needs: Vec<Need> = numbers.iter().map(|job| Need::Job(*job)).collect();
        reading.load(&needs).await?;
        let jobs: Vec<_> = numbers
            .iter()
            .filter_map(|job| {
                let row = reading.state.jobs.get(&(*job,))?.clone();
                let bay = look::stay_of(&reading.state, row.vehicle).filter(|stay| stay.job == *job);
                let label = reading.state.vehicles.get(&(row.vehicle,)).map(|vehicle| vehicle.label);
                Some((row, bay.map(|stay| stay.bay.clone()), label))
            })
            .collect();
        let texts: Vec<TextId> =
            jobs.iter().flat_map(|(row, _, label)| [row.title_text, row.reason, *label]).flatten().collect();
        let words = reading.words(texts).await?;
        Ok(JobPage { jobs, words, next })
    }
}
