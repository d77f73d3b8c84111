//! What comes off a vehicle, is moved aside, or is put in for the work: as a template lists it, and as it stands
//! on a job. Each line is a *position*: one or several places of the vehicle that are alike.

use crate::fact::Wording;
use crate::ids::{ItemKey, LadderKey, PositionKey, StageKey, StepNo};
use crate::template::Caution;
use crate::words::{Keep, Manner, PositionKind, Reach, Renew};
use serde::{Deserialize, Serialize};

/// What is known of a position beyond its name; all of it but the count may be left open.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct PositionDetail {
    /// What it is.
    pub kind: PositionKind,
    /// What is done with it.
    pub manner: Manner,
    /// How many places it has, from 1.
    pub count: i32,
    /// Thread and length, or size: `M8 x 1.25 x 35`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size: Option<String>,
    /// Form and size of the head, as the tool has it: `13 mm hexagon`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub head: Option<String>,
    /// Where on the vehicle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub location: Option<String>,
    /// The position that it holds or hangs on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub attached_to: Option<PositionKey>,
    /// What must come off before it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub behind: Vec<PositionKey>,
    /// Where to reach it from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reach: Option<Reach>,
    /// Where it is usually kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep: Option<Keep>,
    /// Whether it may go back.
    pub renew: Renew,
    /// The check that decides, where one does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check: Option<String>,
    /// The stage in which it goes back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub back: Option<StageKey>,
    /// The stages of tightening, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tighten: Vec<Tighten>,
    /// How it goes back: sequence, lubrication, sealant with its cure.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub how: Vec<String>,
    /// Whether somebody else looks at it when it is back.
    pub second_check: bool,
    /// The item of stock that a new piece of it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub item: Option<ItemKey>,
    /// Minutes that have to pass after it is back, before it may be put to use: a sealant cures.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cure_minutes: Option<i32>,
    /// The ladder of its template to go by when it will not move; the usual one without.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ladder: Option<LadderKey>,
    /// Whether each of its places gets a pair of numbered tags, one for either end.
    #[serde(default, skip_serializing_if = "is_false")]
    pub tags: bool,
    /// The number of the first pair of tags, on a job: as many follow it as it has places.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tag: Option<i32>,
    /// What it came out with, though it should have stayed: a stud with its nut.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub came_with: Option<PositionKey>,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference")]
fn is_false(flag: &bool) -> bool {
    !*flag
}

/// Measures against what will not move, gentle ones first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Ladder {
    /// Its key, unique in the template.
    pub key: LadderKey,
    /// The rungs, in order; they are numbered from 1.
    pub rungs: Vec<Rung>,
}

/// One measure of a ladder.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Rung {
    /// What the hand does.
    pub measure: String,
    /// Tools by size.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tools: Vec<String>,
    /// Cautions, gravest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<Caution>,
    /// Skills that it asks of whoever does it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub skills: Vec<String>,
    /// Minutes to let it soak, where it does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub soak_minutes: Option<i32>,
    /// Whether this is the last safe try: from here on it may break, so a new one has to be there first.
    #[serde(default, skip_serializing_if = "is_false")]
    pub last_safe: bool,
}

/// One stage of tightening.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Tighten {
    /// To a torque in thousandths of a newton metre.
    TorqueMilli(i64),
    /// On by an angle in degrees.
    AngleDegrees(i32),
}

/// A position as a template lists it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PositionSpec {
    /// Its key, unique in the template.
    pub key: PositionKey,
    /// What it is called.
    pub what: String,
    /// What is known of it.
    #[serde(flatten)]
    pub detail: PositionDetail,
}

/// A position as it stands on a job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobPosition {
    /// Its key, unique in the job.
    pub position: PositionKey,
    /// The step that takes it off; none for what was met on the way.
    pub step: Option<StepNo>,
    /// What it is called.
    pub what: Wording,
    /// What is known of it.
    pub detail: PositionDetail,
    /// Whether it was added as the work went.
    pub unplanned: bool,
}

impl PositionDetail {
    /// One plain place of which nothing else is known.
    pub fn plain(kind: PositionKind, manner: Manner, count: i32) -> Self {
        Self {
            kind,
            manner,
            count,
            size: None,
            head: None,
            location: None,
            attached_to: None,
            behind: Vec::new(),
            reach: None,
            keep: None,
            renew: Renew::Reuse,
            check: None,
            back: None,
            tighten: Vec::new(),
            how: Vec::new(),
            second_check: false,
            item: None,
            cure_minutes: None,
            ladder: None,
            tags: false,
            tag: None,
            came_with: None,
        }
    }
}
