//! One job, and jobs by number.

use super::Reading;
use super::stock::{Short, short_of};
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::state::State;
use leadhand_domain::view::job::{JobView, ToldLine, job_view};
use leadhand_facts::rows::JobRow;
use leadhand_facts::words::{JobState, Role};
use leadhand_facts::{BayKey, Instant, JobNo, TextId};
use leadhand_store::JobFilter;
use std::collections::BTreeSet;

/// A job of a list, with what the one who asks may see of it.
#[derive(Debug, Clone)]
pub struct JobLine {
    /// The job.
    pub row: JobRow,
    /// The bay that the vehicle is in.
    pub bay: Option<BayKey>,
    /// What people call the vehicle.
    pub label: Option<TextId>,
    /// The vehicle's plate.
    pub plate: Option<TextId>,
    /// The name of whose job it is.
    pub customer: Option<TextId>,
}

impl JobLine {
    /// Every text that it refers to.
    pub fn text_ids(&self) -> impl Iterator<Item = TextId> {
        [self.row.title_text, self.row.reason, self.label, self.plate, self.customer].into_iter().flatten()
    }
}

/// One job with everything about it.
#[derive(Debug, Clone)]
pub struct WholeJob {
    /// Everything about it.
    pub view: JobView,
    /// Its line as a list has it.
    pub line: JobLine,
    /// What is short for it, with from whom to order it.
    pub short: Vec<Short>,
    /// The words they refer to.
    pub words: Words,
}

/// Jobs by number.
#[derive(Debug, Clone)]
pub struct JobPage {
    /// The jobs.
    pub jobs: Vec<JobLine>,
    /// The words they refer to.
    pub words: Words,
    /// The last number of a full page: more may follow.
    pub next: Option<JobNo>,
}

/// Customers are seen by the lead. Plates tell vehicles apart in the yard; a screen that only looks hangs
/// where visitors see it, and shows none.
fn sees_customer(role: Role) -> bool {
    role == Role::Lead
}

fn sees_plate(role: Role) -> bool {
    role != Role::Viewer
}

/// What was told, as this role sees it: a screen hangs where visitors see it, and whose customer it was is the lead's.
fn told_to(role: Role, told: Vec<ToldLine>) -> Vec<ToldLine> {
    let own = |mut line: ToldLine| {
        line.row.customer = line.row.customer.filter(|_| sees_customer(role));
        line
    };
    if role == Role::Viewer { Vec::new() } else { told.into_iter().map(own).collect() }
}

/// A job as this role sees it.
pub(super) fn line_of(state: &State, mut row: JobRow, role: Role) -> JobLine {
    let stay = look::stay_of(state, row.vehicle).filter(|stay| stay.job == row.job);
    let vehicle = state.vehicles.get(&(row.vehicle,));
    if !sees_customer(role) {
        row.customer = None;
    }
    let customer = row.customer.and_then(|customer| state.customers.get(&(customer,)));
    JobLine {
        bay: stay.map(|stay| stay.bay.clone()),
        label: vehicle.map(|vehicle| vehicle.label),
        plate: vehicle.and_then(|vehicle| vehicle.plate).filter(|_| sees_plate(role)),
        customer: customer.map(|customer| customer.name),
        row,
    }
}

/// The customers of the jobs that are loaded, for a role that sees them.
fn customers_of(state: &State, role: Role) -> Vec<Need> {
    let customers = state.jobs.iter().filter(|_| sees_customer(role)).filter_map(|job| job.customer);
    customers.collect::<BTreeSet<_>>().into_iter().map(Need::Customer).collect()
}

impl App {
    /// One job with everything about it.
    pub async fn job(&self, who: &Principal, job: JobNo) -> Result<WholeJob, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let now = reading.now();
        reading.load(&[Need::Shop, Need::Job(job), Need::OpenWindows(now), Need::Plan]).await?;
        let row = look::job(&reading.state, job)?.clone();
        let view = job_view(&reading.state, job, now);
        let items = view.iter().flat_map(JobView::items).collect();
        reading.load(&[Need::Items(items)]).await?;
        reading.load(&customers_of(&reading.state, who.role)).await?;
        let mut view = job_view(&reading.state, job, now)
            .ok_or_else(|| AppError::Internal(format!("job {job} has no vehicle")))?;
        view.told = told_to(who.role, view.told);
        let line = line_of(&reading.state, row, who.role);
        let short = view.shortages.iter().map(|line| short_of(&reading.state, line.clone(), now)).collect();
        let words = reading.words(view.text_ids().into_iter().chain(line.text_ids())).await?;
        Ok(WholeJob { view, line, short, words })
    }

    /// Jobs in these states (none: any), by number, after this one.
    pub async fn jobs(
        &self,
        who: &Principal,
        states: Vec<JobState>,
        closed_from: Option<Instant>,
        (after, size): (Option<JobNo>, usize),
    ) -> Result<JobPage, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let limit = i64::try_from(size).unwrap_or(i64::MAX);
        let filter = JobFilter { states, closed_from, after, limit: Some(limit), ..JobFilter::default() };
        let numbers = reading.snapshot.jobs(&filter).await?;
        let next = (numbers.len() == size).then(|| numbers.last().copied()).flatten();
        let needs: Vec<Need> = numbers.iter().map(|job| Need::Job(*job)).collect();
        reading.load(&needs).await?;
        reading.load(&customers_of(&reading.state, who.role)).await?;
        let state = &reading.state;
        let rows = numbers.iter().filter_map(|job| state.jobs.get(&(*job,)).cloned());
        let jobs: Vec<JobLine> = rows.map(|row| line_of(state, row, who.role)).collect();
        let texts: Vec<TextId> = jobs.iter().flat_map(JobLine::text_ids).collect();
        let words = reading.words(texts).await?;
        Ok(JobPage { jobs, words, next })
    }
}
