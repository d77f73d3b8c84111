//! Everything that a plan is made from, frozen into one value.

use crate::ids::{BayKey, JobNo, PersonId, StageKey, ToolKey};
use crate::instant::{Instant, Window};
use crate::job::JobAfter;
use crate::plan::PlannedStage;
use crate::template::Minutes;
use crate::words::{BayKind, StageKind};
use serde::{Deserialize, Serialize};

/// Minutes to roll a vehicle out or to bring it into a bay, until a shop says its own: common practice.
pub const MOVING_MINUTES: i32 = 10;
/// Vehicles that may stand outside between stages, until a shop says its own: common practice for a small yard.
pub const PLACES_OUTSIDE: i32 = 4;

/// So many minutes sooner or later than planned is as planned: common practice.
pub const ON_TIME_MINUTES: i64 = 15;

/// What binds a shop, at one moment. Times are planned in whole minutes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanInput {
    /// The journal's number at which this was read.
    pub number: i64,
    /// The moment from which on is planned.
    pub at: Instant,
    /// How far the calendars are known; nothing is planned beyond.
    pub until: Instant,
    /// The shop's hours, in order; holidays are gaps.
    pub shop: Vec<Window>,
    /// Until when a change to the accepted plan counts: the end of the shift.
    pub shift_end: Instant,
    /// Free places outside for vehicles that are rolled out between stages.
    pub places_outside: i32,
    /// The bays.
    pub bays: Vec<PlanBay>,
    /// The technicians.
    pub technicians: Vec<PlanTechnician>,
    /// Shared tools.
    pub tools: Vec<PlanTool>,
    /// Open jobs.
    pub jobs: Vec<PlanJob>,
    /// What the accepted plan said of stages that are still open.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub accepted: Vec<PlannedStage>,
}

/// A bay: a place for one vehicle.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanBay {
    /// Its key.
    pub bay: BayKey,
    /// What it is.
    pub kind: BayKind,
    /// What it bears, in kilograms; 0 when it has no rating of its own.
    pub rated_kg: i32,
    /// When it can't be used; a vehicle that is in it stays in it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub closed: Vec<Window>,
}

/// A technician.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanTechnician {
    /// Who.
    pub person: PersonId,
    /// What sentences call them.
    pub name: String,
    /// What they can do.
    pub skills: Vec<String>,
    /// Their shifts, in order; they work in them while the shop is open.
    pub shifts: Vec<Window>,
    /// Overtime that the lead opened for them, whether the shop is open or not.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub overtime: Vec<Window>,
}

/// A shared tool; there is one of each.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanTool {
    /// Its key.
    pub tool: ToolKey,
    /// When it is away, or somebody has it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub away: Vec<Window>,
    /// Who has it then: a stage that they are on may use it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub with: Option<PersonId>,
}

/// Where a vehicle is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VehicleNow {
    /// Not yet at work; it takes no place outside that counts.
    Away,
    /// In this bay.
    Bay(BayKey),
    /// Rolled out between stages.
    Outside,
}

/// An open job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanJob {
    /// Its number.
    pub job: JobNo,
    /// What sentences call it.
    pub name: String,
    /// When it was promised.
    #[serde(default)]
    pub promised: Option<Instant>,
    /// What a minute of lateness weighs, from 1.
    pub weight: i32,
    /// When the vehicle is here at the earliest.
    pub here_from: Instant,
    /// Where the vehicle is.
    pub vehicle: VehicleNow,
    /// What the vehicle weighs, in kilograms; 0 when nobody said.
    pub kg: i32,
    /// Minutes to roll it out, and to bring it into a bay again; in one go, in the shop's hours or in anybody's overtime.
    pub moving_minutes: i32,
    /// Its stages: all that are open, and ended ones that an open one comes after.
    pub stages: Vec<PlanStage>,
}

/// A stage.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[allow(clippy::struct_excessive_bools, reason = "each is a word of the template, or of the work")]
pub struct PlanStage {
    /// Its key.
    pub stage: StageKey,
    /// What sentences call it.
    pub title: String,
    /// Work takes hands and the minutes of their shifts; a wait takes minutes of the clock.
    pub kind: StageKind,
    /// Three-point minutes that are still to come.
    pub minutes: Minutes,
    /// Whether the vehicle has to be in a bay for it.
    pub in_bay: bool,
    /// Kinds of bay that fit; empty for any.
    pub bays: Vec<BayKind>,
    /// What everybody on it has to know.
    pub skills: Vec<String>,
    /// Persons at a time; 0 for a wait.
    pub hands: i32,
    /// Shared tools that it holds from start to finish.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tools: Vec<ToolKey>,
    /// What comes before it.
    pub after: Vec<JobAfter>,
    /// Whether the vehicle may leave its bay after it. What counts is the work that was finished last, also work that needs
    /// no bay; once every stage is over it may leave anyway.
    pub may_leave: bool,
    /// Whether it may pause outside hours and go on the next day.
    pub may_pause: bool,
    /// When its parts can be promised, or what it waits for comes back.
    #[serde(default)]
    pub parts_from: Option<Instant>,
    /// What holds it up.
    #[serde(default)]
    pub blocker: Option<PlanBlocker>,
    /// How it stands.
    pub now: StageNow,
    /// Whether it was started and goes on once what holds it up is over: until it is finished its vehicle stays where it is.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub begun: bool,
    /// Whether somebody is clocked on to it now.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub on: bool,
    /// What the lead decided by hand.
    #[serde(default, skip_serializing_if = "PlanPin::is_empty")]
    pub pin: PlanPin,
}

/// What holds a stage up.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanBlocker {
    /// What it is, for sentences.
    pub cause: String,
    /// When it is expected to end; unknown when nobody said.
    pub until: Option<Instant>,
    /// Something else that holds it up, of which the end is known: the stage waits for it, and hangs on this one all the same.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beside: Option<PlanHeld>,
}

impl PlanBlocker {
    /// What is known to hold it up, and until when.
    pub fn known(&self) -> Option<(&str, Instant)> {
        let own = self.until.map(|until| (self.cause.as_str(), until));
        own.or_else(|| self.beside.as_ref().map(|held| (held.cause.as_str(), held.until)))
    }
}

/// What holds a stage up until a known time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanHeld {
    /// What it is, for sentences.
    pub cause: String,
    /// When it is expected to end.
    pub until: Instant,
}

/// How a stage stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StageNow {
    /// Not started.
    Open,
    /// Started; it stays with its people, and in its bay.
    Started {
        /// Who is on it.
        people: Vec<PersonId>,
    },
    /// Over.
    Ended {
        /// Since when.
        at: Instant,
    },
    /// Left out: nothing was done, so nothing of it keeps a vehicle anywhere.
    LeftOut {
        /// Since when.
        at: Instant,
    },
}

impl StageNow {
    /// Since when it is over, done or left out.
    pub fn over(&self) -> Option<Instant> {
        match self {
            Self::Ended { at } | Self::LeftOut { at } => Some(*at),
            Self::Open | Self::Started { .. } => None,
        }
    }
}

/// What the lead decided by hand about a stage.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct PlanPin {
    /// In this bay.
    #[serde(default)]
    pub bay: Option<BayKey>,
    /// By these people; empty when that is left to the plan.
    #[serde(default)]
    pub people: Vec<PersonId>,
    /// Not before this moment.
    #[serde(default)]
    pub from: Option<Instant>,
}

impl PlanPin {
    /// Whether nothing was decided.
    pub fn is_empty(&self) -> bool {
        self.bay.is_none() && self.people.is_empty() && self.from.is_none()
    }
}
