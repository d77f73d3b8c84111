//! The time of very many stages added up by template and stage, from no more than what their labels depend on. A year's
//! audit is a few megabytes so, and does not pass through rows and tables.

use super::Title;
use super::audit::{AuditLine, AuditReport, By, Subject};
use crate::labels::{Held, Life, Opening, StageTimes, Work, labour, totals};
use leadhand_facts::words::{StageKind, StageState};
use leadhand_facts::{Instant, JobNo, StageKey, TemplateKey, TextId};
use std::collections::BTreeMap;

/// A stage of a template with all of its lives, a job at a time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LivedStage {
    /// The template; none for blank jobs.
    pub template: Option<TemplateKey>,
    /// The stage.
    pub stage: StageKey,
    /// The first place at which it stands in a written order.
    pub place: i32,
    /// The template's title, as in one of these jobs.
    pub title: Option<String>,
    /// A typed title.
    pub title_text: Option<TextId>,
    /// One for each job, by number.
    pub lives: Vec<Lived>,
}

/// What a stage's time depends on in one job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lived {
    /// The job.
    pub job: JobNo,
    /// Work or wait.
    pub kind: StageKind,
    /// Where it stands.
    pub state: StageState,
    /// Since when it was ready.
    pub ready_at: Option<Instant>,
    /// Since when it was under way.
    pub started_at: Option<Instant>,
    /// When it ended.
    pub ended_at: Option<Instant>,
    /// Minutes as written down before: low, likely, high.
    pub minutes: [i32; 3],
    /// Persons' time on it.
    pub work: Vec<Work>,
    /// What held it up.
    pub blockers: Vec<Held>,
}

/// Lines by template and stage, templates in order and their stages as they are written.
pub fn audit_lives(stages: Vec<LivedStage>, open: &[Opening], number: i64, now: Instant) -> AuditReport {
    let line = |lived: LivedStage| {
        let LivedStage { template, stage, place, title, title_text, lives } = lived;
        let subject = Subject::TemplateStage { template, place, stage };
        let mut line = AuditLine::of(subject, Title { words: title, text: title_text });
        for life in lives {
            add(&mut line, life, open, now);
        }
        line
    };
    let mut lines: Vec<AuditLine> = stages.into_iter().map(line).collect();
    lines.sort_by(|one, other| one.subject.cmp(&other.subject));
    AuditReport { number, at: now, by: By::TemplateStage, lines, names: BTreeMap::new() }
}

fn add(line: &mut AuditLine, lived: Lived, open: &[Opening], now: Instant) {
    for (person, us) in labour(&lived.work, now) {
        *line.labour_us.entry(person).or_default() += us;
    }
    let skipped = lived.state == StageState::Skipped;
    line.counts.stages += i64::from(!skipped);
    line.counts.finished += i64::from(lived.state == StageState::Finished);
    line.counts.skipped += i64::from(skipped);
    line.counts.blockers += i64::try_from(lived.blockers.len()).unwrap_or(i64::MAX);
    if !skipped {
        let [low, likely, high] = lived.minutes;
        line.planned.get_or_insert_default().add_minutes(low, likely, high);
    }
    let Some(life) = Life::of(lived.ready_at, lived.started_at, lived.ended_at, now) else { return };
    line.totals.add(&totals(&StageTimes {
        life,
        kind: lived.kind,
        started_at: lived.started_at,
        high_minutes: lived.minutes[2],
        work: lived.work,
        blockers: lived.blockers,
        open,
        marks: Vec::new(),
    }));
}
