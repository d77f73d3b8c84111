//! What one finished job teaches.

use super::Kind;
use crate::look;
use crate::state::State;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::rows::{BlockerRow, PositionRow, StageRow, StepRow};
use leadhand_facts::strip::PositionDetail;
use leadhand_facts::words::{Cause, StageKind, StageState, StepState};
use leadhand_facts::{Fact, JobNo, PositionKey, StageKey, TextId, ToolKey};
use std::collections::{BTreeMap, BTreeSet};

/// Said where words were erased.
pub(super) const ERASED: &str = "words that were erased";

/// What one job teaches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobLessons {
    /// The job.
    pub job: JobNo,
    /// The revision that it went by.
    pub revision: i32,
    /// Stages that were done, with what they teach.
    pub stages: BTreeMap<StageKey, StageJob>,
}

/// What a stage of one job teaches.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct StageJob {
    /// Minutes of hands, or for a wait the minutes that passed.
    pub worked: Option<i64>,
    /// Steps that were added and done: words, tools, shared tools.
    pub steps: Vec<ExtraStep>,
    /// Positions that were met.
    pub positions: Vec<ExtraPosition>,
    /// Shared tools that were lent after the stage had begun.
    pub lent: BTreeSet<ToolKey>,
    /// What else was met.
    pub others: Vec<Met>,
}

/// A step that was added.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExtraStep {
    /// What the hand did.
    pub words: String,
    /// Tools.
    pub tools: Vec<String>,
    /// Shared tools.
    pub shared_tools: Vec<ToolKey>,
}

/// A position that was met.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExtraPosition {
    /// Its key in the job.
    pub key: PositionKey,
    /// What it is called.
    pub what: String,
    /// What is known of it.
    pub detail: PositionDetail,
}

/// Something that was met.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Met {
    /// Of which kind.
    pub kind: Kind,
    /// What.
    pub what: String,
    /// Minutes lost.
    pub minutes: i64,
}

impl StageJob {
    /// All that was met, in one form.
    pub(super) fn met(&self) -> Vec<Met> {
        let met = |kind, what: &str| Met { kind, what: what.to_owned(), minutes: 0 };
        let steps = self.steps.iter().map(|step| met(Kind::Step, &step.words));
        let positions = self.positions.iter().map(|position| met(Kind::Position, &position.what));
        steps.chain(positions).chain(self.others.iter().cloned()).collect()
    }
}

/// The words that a job's lessons need.
pub fn texts(state: &State, job: JobNo, overruled: &[Fact]) -> BTreeSet<TextId> {
    let steps = state.steps.iter().filter(|row| row.job == job && row.unplanned).filter_map(|row| row.instruction_text);
    let positions =
        state.positions.iter().filter(|row| row.job == job && row.unplanned).filter_map(|row| row.what_text);
    let notes = state.blockers.iter().filter(|row| row.job == job).filter_map(|row| row.note);
    let clockings = state.clockings.iter().filter(|row| row.job == job).filter_map(|row| row.overridden);
    let starts = overruled.iter().filter_map(|fact| started(fact).map(|(_, text)| text));
    let books = super::books::texts(state, job);
    steps.chain(positions).chain(notes).chain(clockings).chain(starts).chain(books).collect()
}

/// The stage of a start that a lead let pass, with the reason.
fn started(fact: &Fact) -> Option<(&StageKey, TextId)> {
    match fact {
        Fact::StageStarted { stage, overridden: Some(reason), .. } => Some((stage, reason.id)),
        _ => None,
    }
}

/// What a finished job that is loaded teaches. `starts` are the facts that started its stages.
pub fn gather(state: &State, job: JobNo, starts: &[Fact], words: &dyn Fn(TextId) -> String) -> Option<JobLessons> {
    let row = state.jobs.get(&(job,))?;
    let said = |own: Option<&String>, text: Option<TextId>| {
        let typed = || text.map(words).filter(|words| !words.trim().is_empty());
        own.cloned().or_else(typed).unwrap_or_else(|| ERASED.to_owned())
    };
    let done = look::stages(state, job).filter(|stage| stage.state == StageState::Finished);
    let stages = done.map(|stage| {
        let mut found = StageJob { worked: worked(state, stage), ..StageJob::default() };
        // What was fitted new for something missing or broken is told as what was found, and is no standing work.
        let added = |step: &&StepRow| step.unplanned && !step.safety.only_here && !crate::strip::fits_new(step);
        let steps = look::steps(state, job, &stage.stage).filter(added).filter(|step| step.state == StepState::Done);
        found.steps =
            steps.map(|step| extra_step(step, said(step.instruction.as_ref(), step.instruction_text))).collect();
        let positions = state.positions.iter().filter(|position| position.job == job && position.stage == stage.stage);
        for position in positions {
            let what = said(position.what.as_ref(), position.what_text);
            found.others.extend(findings(position, &what));
            if position.unplanned && position.off_n.is_some() && !crate::strip::never_there(position) {
                let (key, detail) = (position.position.clone(), position.detail.clone());
                found.positions.push(ExtraPosition { key, what, detail });
            }
        }
        for loan in state.loans.iter().filter(|loan| loan.job == Some(job) && loan.stage.as_ref() == Some(&stage.stage))
        {
            if stage.started_at.is_some_and(|started_at| loan.from_at > started_at) {
                found.lent.insert(loan.tool.clone());
                let what = format!("shared tool '{}' fetched after the start", loan.tool);
                found.others.push(Met { kind: Kind::Tool, what, minutes: 0 });
            }
        }
        let blockers = state.blockers.iter().filter(|blocker| blocker.job == job && blocker.stage == stage.stage);
        found.others.extend(blockers.filter_map(|blocker| held_up(blocker, words)));
        let clockings = state.clockings.iter().filter(|row| row.job == job && row.stage == stage.stage);
        let reasons = clockings.filter_map(|row| row.overridden);
        let starts = starts.iter().filter_map(started).filter(|(of, _)| **of == stage.stage).map(|(_, reason)| reason);
        let overrides: BTreeSet<TextId> = reasons.chain(starts).collect();
        let over = |reason: TextId| Met { kind: Kind::Override, what: said(None, Some(reason)), minutes: 0 };
        found.others.extend(overrides.into_iter().map(over));
        found.others.extend(super::books::of_stage(state, stage, &said));
        (stage.stage.clone(), found)
    });
    Some(JobLessons { job, revision: row.revision.unwrap_or_default(), stages: stages.collect() })
}

fn extra_step(row: &StepRow, words: String) -> ExtraStep {
    ExtraStep { words, tools: row.tools.clone(), shared_tools: row.shared_tools.clone() }
}

fn worked(state: &State, stage: &StageRow) -> Option<i64> {
    let us: i64 = match stage.kind {
        StageKind::Work => {
            let own = state.clockings.iter().filter(|row| row.job == stage.job && row.stage == stage.stage);
            own.filter_map(|row| Some(row.until_at?.since_us(row.from_at))).sum()
        }
        StageKind::Wait => stage.ended_at?.since_us(stage.started_at?),
    };
    // Half a minute and more counts as one.
    (us > 0).then(|| (us + MINUTE_US / 2) / MINUTE_US)
}

fn findings(row: &PositionRow, what: &str) -> Vec<Met> {
    let counts = [(row.missing, "missing before we began"), (row.damaged, "damaged or broken")];
    let found = counts.into_iter().filter(|(count, _)| *count > 0);
    let there = row.found + row.missing;
    let other = (row.off_n.is_some() && !row.unplanned && there != row.detail.count)
        .then(|| format!("{what}: {there} where {} are listed", row.detail.count));
    let found = found.map(|(_, how)| format!("{what}: {how}")).chain(other);
    found.map(|what| Met { kind: Kind::Finding, what, minutes: 0 }).collect()
}

fn held_up(row: &BlockerRow, words: &dyn Fn(TextId) -> String) -> Option<Met> {
    let minutes = row.cleared_at.map_or(0, |end| end.since_us(row.since) / MINUTE_US);
    let note = row.note.map(words).filter(|words| !words.trim().is_empty());
    let (kind, what) = match (row.cause, &row.item, &row.tool) {
        (Cause::Part, Some(item), _) => (Kind::Shortage, format!("'{item}'")),
        (Cause::Part, None, _) => (Kind::Shortage, note.unwrap_or_else(|| "something from the parts room".to_owned())),
        (Cause::Tool, _, Some(tool)) => (Kind::Tool, format!("waited for shared tool '{tool}'")),
        (Cause::Tool, _, None) => (Kind::Tool, note.unwrap_or_else(|| "a tool that was not at hand".to_owned())),
        (Cause::Seized, ..) => {
            let what = note.map_or_else(|| "seized or damaged".to_owned(), |note| format!("seized or damaged: {note}"));
            (Kind::Finding, what)
        }
        _ => return None,
    };
    Some(Met { kind, what, minutes })
}
