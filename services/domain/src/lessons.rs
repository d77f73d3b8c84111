//! What finished jobs teach about their template: what was met that nobody had listed, what was fetched after the start,
//! what was short, found or overruled, and how long it took. One job is looked at after the other, and only what it
//! teaches is kept of it.

mod books;
mod gather;
mod propose;

pub use gather::{JobLessons, gather, texts};
pub use propose::propose;

use crate::toolbox::listed;
use leadhand_facts::template::{Minutes, Template};
use leadhand_facts::{JobNo, StageKey, ToolKey};
use std::collections::{BTreeMap, BTreeSet};

/// Most finished jobs that are looked at, the last ones.
pub const JOBS_MAX: usize = 50;
/// From so many jobs on a middle is told; with fewer only the range is.
const MEDIAN_FROM: usize = 5;

/// What kind of lesson it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A step that was added as the work went.
    Step,
    /// A position that nobody had listed.
    Position,
    /// A tool that was fetched, or waited for, after the stage had begun.
    Tool,
    /// Goods that held the stage up.
    Shortage,
    /// Missing before, damaged or seized.
    Finding,
    /// A lead let something pass.
    Override,
    /// Something would not move, and how it ended.
    Seized,
    /// Something was done in another way than the book's.
    Way,
    /// Another amount of a fluid than was expected.
    Fluid,
}

/// Something that was met.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lesson {
    /// Of which kind.
    pub kind: Kind,
    /// What it was, in words.
    pub what: String,
    /// In how many jobs.
    pub met: usize,
    /// Of how many.
    pub of: usize,
    /// Minutes lost over all these jobs, where that is known.
    pub minutes: i64,
}

/// What a stage teaches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StageLessons {
    /// The stage.
    pub stage: StageKey,
    /// Its title; empty for one that only jobs had.
    pub title: String,
    /// The estimate of the latest revision; none for a stage that only jobs had.
    pub estimate: Option<Minutes>,
    /// Minutes worked, or for a wait passed, job by job, the shortest first.
    pub worked: Vec<i64>,
    /// In how many of the jobs it was done.
    pub jobs: usize,
    /// What was met.
    pub lessons: Vec<Lesson>,
}

/// What a template's finished jobs teach.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lessons {
    /// How many jobs were looked at.
    pub jobs: usize,
    /// How many of which revision.
    pub revisions: BTreeMap<i32, usize>,
    /// Stage by stage, those of the template in its order first.
    pub stages: Vec<StageLessons>,
}

impl StageLessons {
    /// How long it took against the estimate, in words.
    pub fn told(&self) -> String {
        let (Some(least), Some(most)) = (self.worked.first(), self.worked.last()) else {
            return "no time was entered".to_owned();
        };
        let jobs = if self.worked.len() == 1 { "1 job".to_owned() } else { format!("{} jobs", self.worked.len()) };
        let range = if least == most { format!("{least} min") } else { format!("{least} to {most} min") };
        let took = match median(&self.worked).filter(|_| self.worked.len() >= MEDIAN_FROM) {
            Some(middle) => format!("{middle} min in the middle of {jobs}, {range} in all"),
            None => format!("{range} in {jobs}, too few for a middle"),
        };
        match self.estimate {
            Some(Minutes { low, likely, high }) => format!("{took}; estimated {likely}, from {low} to {high}"),
            None => took,
        }
    }
}

/// The middle of sorted figures; halfway between two, rounded up to a whole minute.
fn median(sorted: &[i64]) -> Option<i64> {
    let half = sorted.len() / 2;
    match sorted.len() % 2 {
        1 => sorted.get(half).copied(),
        _ => Some((sorted.get(half.checked_sub(1)?)? + sorted.get(half)? + 1).div_euclid(2)),
    }
}

/// What these jobs teach together. Alike is what is written alike, whatever the case of its letters.
pub fn lessons(latest: &Template, jobs: &[JobLessons]) -> Lessons {
    let mut revisions: BTreeMap<i32, usize> = BTreeMap::new();
    for job in jobs {
        *revisions.entry(job.revision).or_default() += 1;
    }
    let known: Vec<&StageKey> = latest.stages.iter().map(|stage| &stage.key).collect();
    let met: BTreeSet<&StageKey> = jobs.iter().flat_map(|job| job.stages.keys()).collect();
    let extra = met.into_iter().filter(|stage| !known.contains(stage));
    let keys = known.iter().copied().chain(extra);
    let stages = keys.map(|key| of_stage(latest, key, jobs)).filter(|stage| stage.jobs > 0).collect();
    Lessons { jobs: jobs.len(), revisions, stages }
}

fn of_stage(latest: &Template, key: &StageKey, jobs: &[JobLessons]) -> StageLessons {
    let spec = latest.stages.iter().find(|stage| stage.key == *key);
    let had: Vec<(JobNo, &gather::StageJob)> =
        jobs.iter().filter_map(|job| Some((job.job, job.stages.get(key)?))).collect();
    let mut worked: Vec<i64> = had.iter().filter_map(|(_, stage)| stage.worked).collect();
    worked.sort_unstable();
    let mut found: BTreeMap<(Kind, String), (String, BTreeSet<JobNo>, i64)> = BTreeMap::new();
    for (job, stage) in &had {
        for met in stage.met() {
            let entry = found
                .entry((met.kind, met.what.to_lowercase()))
                .or_insert_with(|| (met.what.clone(), BTreeSet::new(), 0));
            entry.1.insert(*job);
            entry.2 += met.minutes;
        }
    }
    let mut lessons: Vec<Lesson> = found
        .into_iter()
        .map(|((kind, _), (what, jobs, minutes))| Lesson { kind, what, met: jobs.len(), of: had.len(), minutes })
        .collect();
    // By kind, what is met most often first.
    lessons.sort_by(|one, other| (one.kind, other.met, &one.what).cmp(&(other.kind, one.met, &other.what)));
    StageLessons {
        stage: key.clone(),
        title: spec.map(|stage| stage.title.clone()).unwrap_or_default(),
        estimate: spec.map(|stage| stage.minutes),
        worked,
        jobs: had.len(),
        lessons,
    }
}

/// `revision 1 (2 jobs) and revision 2 (1 job)`.
pub fn told_revisions(revisions: &BTreeMap<i32, usize>) -> String {
    let all: Vec<String> = revisions
        .iter()
        .map(|(revision, jobs)| format!("revision {revision} ({jobs} {})", if *jobs == 1 { "job" } else { "jobs" }))
        .collect();
    listed(&all.iter().map(String::as_str).collect::<Vec<_>>())
}

/// Whether a tool is named by some step of a stage already.
fn lists_tool(latest: &Template, stage: &StageKey, tool: &ToolKey) -> bool {
    let steps = latest.stages.iter().filter(|spec| spec.key == *stage).flat_map(|spec| &spec.steps);
    steps.into_iter().any(|step| step.shared_tools.contains(tool))
}

#[cfg(test)]
mod tests {
    use super::*;

    // By hand; the middle of an even number of figures is halfway between the two in the middle (common practice).
    #[test]
    fn the_middle_is_told_only_of_enough_jobs() {
        assert_eq!(median(&[]), None);
        assert_eq!(median(&[7]), Some(7));
        assert_eq!(median(&[10, 20]), Some(15));
        assert_eq!(median(&[10, 21]), Some(16));
        assert_eq!(median(&[1, 2, 90]), Some(2));
        let estimate = Some(Minutes { low: 20, likely: 30, high: 60 });
        let stage = |worked: &[i64]| StageLessons {
            stage: "strip".into(),
            title: String::new(),
            estimate,
            worked: worked.to_vec(),
            jobs: worked.len(),
            lessons: vec![],
        };
        assert_eq!(stage(&[]).told(), "no time was entered");
        assert_eq!(stage(&[40]).told(), "40 min in 1 job, too few for a middle; estimated 30, from 20 to 60");
        assert_eq!(
            stage(&[30, 55]).told(),
            "30 to 55 min in 2 jobs, too few for a middle; estimated 30, from 20 to 60"
        );
        assert_eq!(
            stage(&[30, 31, 40, 41, 90]).told(),
            "40 min in the middle of 5 jobs, 30 to 90 min in all; estimated 30, from 20 to 60"
        );
        let revisions = BTreeMap::from([(1, 2), (3, 1)]);
        assert_eq!(told_revisions(&revisions), "revision 1 (2 jobs) and revision 3 (1 job)");
    }
}
