//! What stands against handing a vehicle over: one list over all books, gravest first.

use crate::condition;
use crate::look;
use crate::reading;
use crate::state::State;
use crate::strip::{self, Open};
use leadhand_facts::rows::{ReadingRow, StepRow};
use leadhand_facts::words::{Decision, StageState, StepState, Verdict};
use leadhand_facts::{BlockerNo, JobNo, ReadingKey, StageKey};

/// A line of the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Line {
    /// A stage has not ended.
    Stage {
        /// Which.
        stage: StageKey,
        /// Where it stands.
        state: StageState,
    },
    /// A blocker is open.
    Blocker {
        /// Which.
        blocker: BlockerNo,
        /// What it holds up.
        stage: StageKey,
    },
    /// Something of the strip book is open.
    Strip(Open),
    /// The vehicle is not as it has to be.
    Condition(condition::Open),
    /// A reading was not taken.
    ReadingMissing {
        /// Which.
        reading: ReadingKey,
        /// At which stage.
        stage: StageKey,
    },
    /// A reading is out of its limits, and no lead let it be.
    ReadingOut {
        /// Which.
        reading: ReadingKey,
        /// Whether a lead had it repaired, and it was not measured since.
        repair: bool,
    },
}

/// What becomes of a line; gravest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Remedy {
    /// Nobody may overrule it.
    Nobody,
    /// It has to be ended, and can be.
    End,
    /// A lead may overrule it, with a reason.
    Lead,
}

impl Line {
    /// What kind of line it is, for good.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Stage { .. } => "stage",
            Self::Blocker { .. } => "blocker",
            Self::Strip(Open::StillIn { .. }) => "still-in",
            Self::Strip(Open::NotChecked { .. }) => "second-check",
            Self::Strip(Open::Places { .. }) => "places",
            Self::Strip(Open::Pieces { .. }) => "pieces",
            Self::Strip(Open::NotTight { .. }) => "not-tight",
            Self::Condition(condition::Open::State { .. }) => "state",
            Self::Condition(condition::Open::Hold { .. }) => "hold",
            Self::Condition(condition::Open::Fluid { .. }) => "fluid",
            Self::Condition(condition::Open::Way { .. }) => "way",
            Self::ReadingMissing { .. } => "reading-missing",
            Self::ReadingOut { .. } => "reading-out",
        }
    }

    /// What it is about.
    pub fn about(&self) -> String {
        match self {
            Self::Stage { stage, .. } => stage.to_string(),
            Self::Blocker { blocker, .. } => blocker.to_string(),
            Self::Strip(open) => open.position().to_string(),
            Self::Condition(open) => open.about(),
            Self::ReadingMissing { reading, .. } | Self::ReadingOut { reading, .. } => reading.to_string(),
        }
    }

    /// Under what it is named when it is overruled: `places:airbox`.
    pub fn key(&self) -> String {
        format!("{}:{}", self.kind(), self.about())
    }

    /// What becomes of it.
    pub fn remedy(&self) -> Remedy {
        match self {
            Self::Stage { .. } | Self::Blocker { .. } => Remedy::End,
            Self::Strip(open) if open.is_final() => Remedy::Nobody,
            Self::Strip(_) | Self::Condition(_) | Self::ReadingMissing { .. } | Self::ReadingOut { .. } => Remedy::Lead,
        }
    }
}

impl std::fmt::Display for Line {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Stage { stage, state } => write!(f, "stage {stage}: {state}; finish or skip it"),
            Self::Blocker { blocker, stage } => write!(f, "blocker {blocker}: holds up {stage}; clear it"),
            Self::Strip(open) => open.fmt(f),
            Self::Condition(open) => open.fmt(f),
            Self::ReadingMissing { reading, stage } => write!(f, "{reading}: not measured at {stage}"),
            Self::ReadingOut { reading, repair: false } => write!(f, "{reading}: out of its limits"),
            Self::ReadingOut { reading, repair: true } => write!(f, "{reading}: not measured since the repair"),
        }
    }
}

/// Lines as one sentence tells them.
pub fn told(lines: &[Line]) -> String {
    lines.iter().map(Line::to_string).collect::<Vec<_>>().join("; ")
}

/// Everything that stands against handing a job over, gravest first.
pub fn lines(state: &State, job: JobNo) -> Vec<Line> {
    let mut all: Vec<Line> = stages(state, job).chain(blockers(state, job)).collect();
    all.extend(strip::open(strip::positions(state, job)).into_iter().map(Line::Strip));
    all.extend(condition::open(state, job).into_iter().map(Line::Condition));
    all.extend(reading::readings(state, job).filter_map(|row| of_reading(state, row)));
    // Stable: within a remedy each book keeps its own order.
    all.sort_by_key(Line::remedy);
    all
}

fn stages(state: &State, job: JobNo) -> impl Iterator<Item = Line> {
    let left = look::stages_in_order(state, job).into_iter().filter(|stage| !look::is_ended(stage));
    left.map(|stage| Line::Stage { stage: stage.stage.clone(), state: stage.state })
}

fn blockers(state: &State, job: JobNo) -> impl Iterator<Item = Line> {
    look::open_blockers(state, job).map(|row| Line::Blocker { blocker: row.blocker, stage: row.stage.clone() })
}

/// A stage that was left out took its readings with it; a step that was left out did not.
fn of_reading(state: &State, row: &ReadingRow) -> Option<Line> {
    let stage = state.stages.get(&(row.job, row.stage.clone()))?;
    let (reading, at) = (row.reading.clone(), row.stage.clone());
    if reading::is_missing(row) {
        return (stage.state != StageState::Skipped).then_some(Line::ReadingMissing { reading, stage: at });
    }
    let out = row.verdict == Some(Verdict::Out) && row.decision != Some(Decision::Accept);
    out.then_some(Line::ReadingOut { reading, repair: row.decision == Some(Decision::Repair) })
}

/// What steps that were done leave to be watched, in the order of the stages.
pub fn follow_ups(state: &State, job: JobNo) -> Vec<&StepRow> {
    let stages = look::stages_in_order(state, job).into_iter();
    let steps = stages.flat_map(|stage| look::steps(state, job, &stage.stage).collect::<Vec<_>>());
    steps.filter(|step| step.state == StepState::Done && step.follow_up.is_some()).collect()
}
