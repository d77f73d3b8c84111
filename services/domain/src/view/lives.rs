//! The time of very many stages added up by template and stage, from no more than what their labels depend on. A year's
//! audit is a few megabytes so, and does not pass through rows and tables.

use super::Title;
use super::audit::{AuditLine, AuditReport, By, Subject};
use crate::labels::{Held, Life, Opening, StageTimes, Work, labour, totals};
use leadhand_facts::words::{StageKind, StageState};
use leadhand_facts::{Instant, JobNo, StageKey, TemplateKey, TextId};
use std::collections::{BTreeMap, HashMap};

/// What a stage's time depends on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lived {
    /// The job.
    pub job: JobNo,
    /// Its template; none for blank jobs.
    pub template: Option<TemplateKey>,
    /// The stage.
    pub stage: StageKey,
    /// Its place in the written order.
    pub place: i32,
    /// The template's title.
    pub title: Option<String>,
    /// A typed title.
    pub title_text: Option<TextId>,
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
pub fn audit_lives(lives: Vec<Lived>, open: &[Opening], number: i64, now: Instant) -> AuditReport {
    let mut sums: HashMap<(Option<TemplateKey>, StageKey), (i32, AuditLine)> = HashMap::new();
    for lived in lives {
        let key = (lived.template.clone(), lived.stage.clone());
        let (place, line) = sums.entry(key).or_insert_with(|| {
            let (template, stage) = (lived.template.clone(), lived.stage.clone());
            let subject = Subject::TemplateStage { template, place: lived.place, stage };
            (lived.place, AuditLine::of(subject, Title { words: lived.title.clone(), text: lived.title_text }))
        });
        *place = lived.place.min(*place);
        add(line, lived, open, now);
    }
    let mut lines: BTreeMap<Subject, AuditLine> = BTreeMap::new();
    for ((template, stage), (place, line)) in sums {
        let subject = Subject::TemplateStage { template, place, stage };
        lines.insert(subject.clone(), AuditLine { subject, ..line });
    }
    let (lines, names) = (lines.into_values().collect(), BTreeMap::new());
    AuditReport { number, at: now, by: By::TemplateStage, lines, names }
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
