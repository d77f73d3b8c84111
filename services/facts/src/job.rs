//! Stages and steps as they stand on a job, in facts.

use crate::ids::{JobNo, PositionKey, StageKey, StepNo, ToolKey};
use crate::instant::Instant;
use crate::reading::JobReading;
use crate::safety::StepSafety;
use crate::strip::JobPosition;
use crate::template::{Caution, Minutes, Need};
use crate::text::TextRef;
use crate::words::{BayKind, StageKind};
use serde::{Deserialize, Serialize};

/// Words that stand on a job: the template's own, or erasable ones typed by hand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Wording {
    /// From a template.
    Template(String),
    /// Typed for this job.
    Typed(TextRef),
}

/// A step as it stands on a job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobStep {
    /// Its number in the stage.
    pub step: StepNo,
    /// What the hand does.
    pub instruction: Wording,
    /// Tools by size.
    pub tools: Vec<String>,
    /// Shared tools of the shop, by their keys.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shared_tools: Vec<ToolKey>,
    /// Cautions, gravest first.
    pub cautions: Vec<Caution>,
    /// What it takes from stock.
    pub needs: Vec<Need>,
    /// What is still to be watched once it is done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub follow_up: Option<String>,
    /// What makes it safe.
    #[serde(default, skip_serializing_if = "StepSafety::is_empty")]
    pub safety: StepSafety,
    /// Whether it was added as the work went.
    pub unplanned: bool,
    /// The position of which it fits new pieces, where it was added for that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fits: Option<PositionKey>,
}

impl JobStep {
    /// A step of which nothing is known but what the hand does.
    pub fn plain(step: StepNo, instruction: Wording) -> Self {
        Self {
            step,
            instruction,
            tools: Vec::new(),
            shared_tools: Vec::new(),
            cautions: Vec::new(),
            needs: Vec::new(),
            follow_up: None,
            safety: StepSafety::default(),
            unplanned: false,
            fits: None,
        }
    }
}

/// A predecessor of a stage on a job.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct JobAfter {
    /// The stage that comes before.
    pub stage: StageKey,
    /// Minutes to wait after its finish.
    pub wait_minutes: i32,
}

/// A stage as it stands on a job, with the options already applied.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobStage {
    /// Its key.
    pub stage: StageKey,
    /// Where it stands in the written order, from 1.
    pub ordinal: i32,
    /// Its title.
    pub title: Wording,
    /// Work or wait.
    pub kind: StageKind,
    /// Three-point minutes.
    pub minutes: Minutes,
    /// Bay kinds in which it can be done; empty for any.
    pub bays: Vec<BayKind>,
    /// Skills asked for.
    pub skills: Vec<String>,
    /// Persons needed at a time.
    pub hands: i32,
    /// Tools beyond those of the steps.
    pub tools: Vec<String>,
    /// What comes before it.
    pub after: Vec<JobAfter>,
    /// Whether the vehicle may be rolled out after it.
    pub may_leave: bool,
    /// Whether it is done in one go: what was begun is left neither over a break nor overnight.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub in_one_go: bool,
    /// Whether it was added as the work went.
    pub unplanned: bool,
    /// Its steps.
    pub steps: Vec<JobStep>,
    /// What comes off or is put in.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub positions: Vec<JobPosition>,
    /// What is measured.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<JobReading>,
}

/// The step of a job that wants an item.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Wanter {
    /// The job.
    pub job: JobNo,
    /// Its stage.
    pub stage: StageKey,
    /// The step.
    pub step: StepNo,
}

/// What an entry of time should say.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct WantedTime {
    /// The job.
    pub job: JobNo,
    /// The stage.
    pub stage: StageKey,
    /// When the work began.
    pub from_at: Instant,
    /// When it ended; nothing while it goes on.
    #[serde(default)]
    pub until_at: Option<Instant>,
}
