//! Where the hours went: the labels of the time book added up, beside labour, bay time and the
//! minutes that were written down before. Whole microseconds throughout.

use super::parts::{Index, Title, note};
use crate::labels::{LabelTotals, Life, Segment, labels, labour};
use crate::state::State;
use leadhand_facts::rows::{JobRow, StageRow};
use leadhand_facts::words::{Cause, Label, StageState};
use leadhand_facts::{Instant, JobNo, PersonId, StageKey, TemplateKey, TextId, Window};
use std::collections::{BTreeMap, BTreeSet};

/// What a line of the report stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum By {
    /// A job.
    Job,
    /// A stage of a job, with its segments.
    Stage,
    /// A template, all its revisions; blank jobs together.
    Template,
    /// A template's revision; blank jobs together.
    Revision,
    /// A stage of a template, all its revisions; made from [`super::lives`].
    TemplateStage,
    /// What held stages up.
    Cause,
}

/// Which one a line stands for.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs, reason = "fields are named by their types")]
pub enum Subject {
    /// A job.
    Job(JobNo),
    /// A stage of a job; `place` is where it stands in the written order, from 1.
    Stage { job: JobNo, place: usize, stage: StageKey },
    /// A template, or one revision of it; of none for blank jobs.
    Template { template: Option<TemplateKey>, revision: Option<i32> },
    /// A stage of a template; `place` is the first at which it stands in a written order.
    TemplateStage { template: Option<TemplateKey>, place: i32, stage: StageKey },
    /// A cause.
    Cause(Cause),
    /// A cause within a stretch of time; made by [`super::lost`].
    Lost { window: Window, cause: Cause },
}

/// Minutes as written down before, added up over stages that were not left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Planned {
    /// If all goes well.
    pub low: i64,
    /// Most likely.
    pub likely: i64,
    /// If it goes badly.
    pub high: i64,
}

impl Planned {
    fn add(&mut self, stage: &StageRow) {
        self.add_minutes(stage.low, stage.likely, stage.high);
    }

    pub(super) fn add_minutes(&mut self, low: i32, likely: i32, high: i32) {
        self.low += i64::from(low);
        self.likely += i64::from(likely);
        self.high += i64::from(high);
    }
}

/// How many of what a line adds up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Jobs.
    pub jobs: i64,
    /// Stages that were not left out; of a cause, those it held up.
    pub stages: i64,
    /// Stages finished.
    pub finished: i64,
    /// Stages left out.
    pub skipped: i64,
    /// Blockers, cleared or not.
    pub blockers: i64,
}

/// A line of the report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditLine {
    /// Which one it stands for.
    pub subject: Subject,
    /// The title of a job or stage; of a template as it was last published among these.
    pub title: Title,
    /// The labels; of a cause, only how long it was the earliest that held a stage up.
    pub totals: LabelTotals,
    /// Each person's time in full, late entries outside of a stage's life included. None for a
    /// cause.
    pub labour_us: BTreeMap<PersonId, i64>,
    /// How long the vehicles stood in bays; of jobs and templates.
    pub occupied_us: Option<i64>,
    /// What was written down before; none for a cause.
    pub planned: Option<Planned>,
    /// How many.
    pub counts: Counts,
    /// The life of a stage that has one.
    pub life: Option<Life>,
    /// The segments of a stage's life.
    pub segments: Vec<Segment>,
    /// Numbers of the facts behind it, in order.
    pub facts: BTreeSet<i64>,
}

impl AuditLine {
    pub(super) fn of(subject: Subject, title: Title) -> Self {
        Self {
            subject,
            title,
            totals: LabelTotals::default(),
            labour_us: BTreeMap::new(),
            occupied_us: None,
            planned: Some(Planned::default()),
            counts: Counts::default(),
            life: None,
            segments: Vec::new(),
            facts: BTreeSet::new(),
        }
    }

    /// All persons together.
    pub fn all_labour_us(&self) -> i64 {
        self.labour_us.values().sum()
    }

    fn add(&mut self, other: &Self) {
        self.totals.add(&other.totals);
        for (person, us) in &other.labour_us {
            *self.labour_us.entry(*person).or_default() += us;
        }
        if let (Some(sum), Some(more)) = (&mut self.planned, other.planned) {
            sum.low += more.low;
            sum.likely += more.likely;
            sum.high += more.high;
        }
        if let Some(us) = other.occupied_us {
            *self.occupied_us.get_or_insert(0) += us;
        }
        self.counts.jobs += other.counts.jobs;
        self.counts.stages += other.counts.stages;
        self.counts.finished += other.counts.finished;
        self.counts.skipped += other.counts.skipped;
        self.counts.blockers += other.counts.blockers;
        self.facts.extend(&other.facts);
    }
}

/// The report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditReport {
    /// The journal number at which it is true.
    pub number: i64,
    /// Until when living stages were counted.
    pub at: Instant,
    /// What a line stands for.
    pub by: By,
    /// The lines, in the order of their subjects.
    pub lines: Vec<AuditLine>,
    /// Names of the persons who worked.
    pub names: BTreeMap<PersonId, TextId>,
}

impl AuditReport {
    /// Every text that it refers to.
    pub fn text_ids(&self) -> BTreeSet<TextId> {
        let mut texts: BTreeSet<TextId> = self.names.values().copied().collect();
        note(&mut texts, self.lines.iter().map(|line| line.title.text));
        texts
    }
}

/// Adds up the jobs that are loaded.
pub fn audit(state: &State, now: Instant, by: By) -> AuditReport {
    let index = Index::of(state);
    let mut lines: BTreeMap<Subject, AuditLine> = BTreeMap::new();
    for job in state.jobs.iter() {
        let stages = stage_lines(&index, job, now);
        match by {
            // Those are read otherwise; by stage it is the same time.
            By::Stage | By::TemplateStage => lines.extend(stages.into_iter().map(|line| (line.subject.clone(), line))),
            By::Job => {
                let line = job_line(&index, job, &stages, now);
                lines.insert(line.subject.clone(), line);
            }
            By::Template | By::Revision => {
                let revision = job.revision.filter(|_| by == By::Revision);
                let subject = Subject::Template { template: job.template.clone(), revision };
                let words = Title { words: template_title(state, job, revision), text: None };
                let line = lines.entry(subject.clone()).or_insert_with(|| AuditLine::of(subject, words));
                line.add(&job_line(&index, job, &stages, now));
            }
            By::Cause => add_causes(&index, job, &stages, &mut lines),
        }
    }
    let lines: Vec<AuditLine> = lines.into_values().collect();
    let persons: BTreeSet<PersonId> = lines.iter().flat_map(|line| line.labour_us.keys().copied()).collect();
    let names = persons.into_iter().filter_map(|person| Some((person, index.name(person)?))).collect();
    AuditReport { number: state.head, at: now, by, lines, names }
}

/// The title of a revision, or of the last one among these jobs.
fn template_title(state: &State, job: &JobRow, revision: Option<i32>) -> Option<String> {
    let template = job.template.as_ref()?;
    let own = state.templates.iter().filter(|row| row.template == *template);
    let told = own.filter(|row| revision.is_none_or(|revision| row.revision == revision));
    told.max_by_key(|row| row.revision).map(|row| row.title.clone())
}

fn job_line(index: &Index<'_>, job: &JobRow, stages: &[AuditLine], now: Instant) -> AuditLine {
    let mut line = AuditLine::of(Subject::Job(job.job), Title::of_job(job));
    for stage in stages {
        line.add(stage);
    }
    line.counts.jobs = 1;
    let mut occupied = 0;
    for stay in index.stays(job.job) {
        occupied += Window { from: stay.from_at, until: stay.until_at.unwrap_or(now) }.length_us();
        line.facts.insert(stay.from_n);
        line.facts.extend(stay.until_n);
    }
    line.occupied_us = Some(occupied);
    line
}

pub(super) fn stage_lines(index: &Index<'_>, job: &JobRow, now: Instant) -> Vec<AuditLine> {
    let stages = index.stages(job.job).iter().enumerate();
    stages.map(|(at, stage)| stage_line(index, stage, at + 1, now)).collect()
}

fn stage_line(index: &Index<'_>, stage: &StageRow, place: usize, now: Instant) -> AuditLine {
    let subject = Subject::Stage { job: stage.job, place, stage: stage.stage.clone() };
    let mut line = AuditLine::of(subject, Title::of_stage(stage));
    let times = index.times(stage, now);
    line.life = times.as_ref().map(|times| times.life);
    line.segments = times.as_ref().map(labels).unwrap_or_default();
    line.totals = LabelTotals::of(&line.segments);
    let work = index.work(stage);
    line.labour_us = labour(&work, now);
    let blockers = index.blockers(stage);
    let skipped = stage.state == StageState::Skipped;
    line.counts = Counts {
        jobs: 0,
        stages: i64::from(!skipped),
        finished: i64::from(stage.state == StageState::Finished),
        skipped: i64::from(skipped),
        blockers: i64::try_from(blockers.len()).unwrap_or(i64::MAX),
    };
    if !skipped {
        line.planned.get_or_insert_default().add(stage);
    }
    line.facts.extend(line.segments.iter().flat_map(|segment| &segment.facts));
    line.facts.extend([stage.ready_n, stage.started_n, stage.ended_n].into_iter().flatten());
    line.facts.extend(work.iter().flat_map(|work| std::iter::once(work.on_n).chain(work.off_n)));
    line.facts.extend(blockers.iter().flat_map(|row| std::iter::once(row.raised_n).chain(row.cleared_n)));
    line
}

/// Adds how long each cause was the earliest that held a stage of this job up. A blocker that
/// never was, because of work, closed doors or an earlier one, counts without time.
fn add_causes(index: &Index<'_>, job: &JobRow, stages: &[AuditLine], lines: &mut BTreeMap<Subject, AuditLine>) {
    let mut held: BTreeSet<Cause> = BTreeSet::new();
    for (stage, line) in index.stages(job.job).iter().zip(stages) {
        let mut here: BTreeSet<Cause> = BTreeSet::new();
        for blocker in index.blockers(stage) {
            let sum = cause_line(lines, blocker.cause);
            sum.counts.blockers += 1;
            sum.facts.insert(blocker.raised_n);
            sum.facts.extend(blocker.cleared_n);
            here.insert(blocker.cause);
        }
        for segment in line.segments.iter().filter(|segment| segment.label == Label::Blocked) {
            let Some(cause) = segment.cause else { continue };
            let sum = cause_line(lines, cause);
            *sum.totals.blocked_us.entry(cause).or_default() += segment.length_us();
            sum.facts.extend(&segment.facts);
        }
        for cause in here {
            cause_line(lines, cause).counts.stages += 1;
            held.insert(cause);
        }
    }
    for cause in held {
        cause_line(lines, cause).counts.jobs += 1;
    }
}

fn cause_line(lines: &mut BTreeMap<Subject, AuditLine>, cause: Cause) -> &mut AuditLine {
    line_of(lines, Subject::Cause(cause))
}

/// The line that sums up what was lost there.
pub(super) fn line_of(lines: &mut BTreeMap<Subject, AuditLine>, subject: Subject) -> &mut AuditLine {
    lines
        .entry(subject.clone())
        .or_insert_with(|| AuditLine { planned: None, ..AuditLine::of(subject, Title::default()) })
}
