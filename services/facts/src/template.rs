//! How a kind of job is done: the checked form of a template, as published and as kept in facts.

use crate::ids::{ItemKey, OptionKey, StageKey, TemplateKey, ToolKey};
use crate::quantity::{Quantity, Unit};
use crate::reading::ReadingSpec;
use crate::safety::StepSafety;
use crate::strip::{Ladder, PositionSpec};
use crate::words::{BayKind, SignalWord, StageKind};
use serde::{Deserialize, Serialize};

/// A template.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Template {
    /// Its key.
    pub key: TemplateKey,
    /// Its title.
    pub title: String,
    /// Options that switch stages and steps.
    pub options: Vec<TemplateOption>,
    /// Stages, in the order written.
    pub stages: Vec<StageSpec>,
    /// Ladders of measures against what will not move.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ladders: Vec<Ladder>,
}

/// An option of a template.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TemplateOption {
    /// Its key.
    pub key: OptionKey,
    /// What it means.
    pub title: String,
    /// Whether a job has it unless told otherwise.
    pub default: bool,
}

/// When a stage or step belongs to a job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Condition {
    /// The option asked for.
    pub option: OptionKey,
    /// Whether the option has to be on, or off.
    pub on: bool,
}

/// Minutes as three points: if all goes well, most likely, if it goes badly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Minutes {
    /// If all goes well.
    pub low: i32,
    /// Most likely.
    pub likely: i32,
    /// If it goes badly.
    pub high: i32,
}

/// A stage as a template describes it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StageSpec {
    /// Its key, unique in the template.
    pub key: StageKey,
    /// Its title.
    pub title: String,
    /// Work or wait.
    pub kind: StageKind,
    /// Three-point minutes.
    pub minutes: Minutes,
    /// Bay kinds in which it can be done; empty for any.
    pub bays: Vec<BayKind>,
    /// Skills that it asks of a person.
    pub skills: Vec<String>,
    /// Persons needed at a time; 0 for a wait.
    pub hands: i32,
    /// Tools beyond those of the steps.
    pub tools: Vec<String>,
    /// What comes before it.
    pub after: Vec<AfterSpec>,
    /// Whether the vehicle may be rolled out of the bay after it.
    pub may_leave: bool,
    /// Whether it is done in one go: what was begun is left neither over a break nor overnight.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub in_one_go: bool,
    /// When it belongs to a job; always without one.
    pub when: Option<Condition>,
    /// Its steps, in order.
    pub steps: Vec<StepSpec>,
}

/// A predecessor of a stage.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AfterSpec {
    /// The stage that comes before.
    pub stage: StageKey,
    /// Minutes to wait after its finish.
    pub wait_minutes: i32,
}

/// A step as a template describes it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StepSpec {
    /// What the hand does.
    pub instruction: String,
    /// Tools by size.
    pub tools: Vec<String>,
    /// Shared tools of the shop, by their keys.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shared_tools: Vec<ToolKey>,
    /// Cautions, gravest first.
    pub cautions: Vec<Caution>,
    /// What it takes from stock.
    pub needs: Vec<Need>,
    /// What makes it safe.
    #[serde(default, skip_serializing_if = "StepSafety::is_empty")]
    pub safety: StepSafety,
    /// What it takes off, moves aside or puts in.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub positions: Vec<PositionSpec>,
    /// What it measures.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<ReadingSpec>,
    /// What is still to be watched once it is done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub follow_up: Option<String>,
    /// When it belongs to a job; always without one.
    pub when: Option<Condition>,
}

/// A caution with its signal word.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Caution {
    /// How grave.
    pub word: SignalWord,
    /// What to mind, and the usual measure.
    pub text: String,
}

/// What a step takes from stock.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Need {
    /// The item.
    pub item: ItemKey,
    /// How much, in `unit`.
    pub quantity: Quantity,
    /// The item's unit as the template understands it.
    pub unit: Unit,
}
