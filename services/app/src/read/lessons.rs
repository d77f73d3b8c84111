//! What finished jobs teach about their template.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::lessons::{self, JOBS_MAX, JobLessons, Lessons, propose};
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::state::State;
use leadhand_facts::rows::TemplateRow;
use leadhand_facts::{Fact, JobNo, TemplateKey};

/// What a template's finished jobs teach.
#[derive(Debug, Clone)]
pub struct Taught {
    /// The latest revision.
    pub latest: TemplateRow,
    /// The lessons.
    pub lessons: Lessons,
    /// The proposed file, where it was asked for.
    pub proposal: Option<String>,
    /// The journal number at which it is true.
    pub number: i64,
}

impl App {
    /// What the jobs of a template that were finished last teach, one job loaded after the other.
    pub async fn lessons(&self, who: &Principal, key: &TemplateKey, with_proposal: bool) -> Result<Taught, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::LatestTemplate(key.clone())]).await?;
        let latest = look::template(&reading.state, key)?.clone();
        let most = i64::try_from(JOBS_MAX).unwrap_or(i64::MAX);
        let numbers = reading.snapshot.finished_jobs(key, most).await?;
        let mut jobs = Vec::new();
        for job in numbers {
            jobs.extend(of_job(&mut reading, job).await?);
        }
        let number = reading.snapshot.head.number;
        reading.snapshot.end().await?;
        if with_proposal && jobs.is_empty() {
            let what =
                format!("propose: no job of template '{key}' is finished yet, and a revision comes from finished jobs");
            return Err(Refusal::NothingToDo { what }.into());
        }
        let proposal = with_proposal.then(|| propose(&latest.doc, &jobs));
        Ok(Taught { lessons: lessons::lessons(&latest.doc, &jobs), latest, proposal, number })
    }
}

async fn of_job(reading: &mut Reading, job: JobNo) -> Result<Option<JobLessons>, AppError> {
    // A state of its own, so that one job at a time is held.
    let mut state = State::at(reading.snapshot.head.number);
    for row in reading.snapshot.load(&[Need::Job(job)]).await? {
        state.load(row);
    }
    let numbers: Vec<i64> = look::stages(&state, job).filter_map(|stage| stage.started_n).collect();
    let starts: Vec<Fact> = reading.snapshot.facts(&numbers).await?.into_iter().map(|entry| entry.fact).collect();
    let words = Words::load(&mut reading.snapshot, lessons::texts(&state, job, &starts)).await?;
    Ok(lessons::gather(&state, job, &starts, &|text| words.get(Some(text)).to_owned()))
}
