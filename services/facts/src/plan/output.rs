//! A plan, and why it is so.

use crate::ids::{BayKey, JobNo, PersonId, StageKey, ToolKey};
use crate::instant::Instant;
use crate::words::NoPlace;
use serde::{Deserialize, Serialize};

/// Which stage, in which bay, by whom, when. A proposal until the lead accepts it.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Plan {
    /// The journal's number at which it was made.
    pub number: i64,
    /// Stages, by start.
    pub stages: Vec<PlannedStage>,
    /// Stays of vehicles in bays, by start.
    pub visits: Vec<BayVisit>,
}

/// A stage in a plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlannedStage {
    /// Whose.
    pub job: JobNo,
    /// Which.
    pub stage: StageKey,
    /// Where the vehicle stands, for a stage that needs a bay.
    pub bay: Option<BayKey>,
    /// By whom.
    pub people: Vec<PersonId>,
    /// Shared tools that it holds.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tools: Vec<ToolKey>,
    /// When it starts, or goes on.
    pub from: Instant,
    /// When it is finished.
    pub until: Instant,
}

/// A stay of a vehicle in a bay.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BayVisit {
    /// Whose vehicle.
    pub job: JobNo,
    /// Where.
    pub bay: BayKey,
    /// From when on the bay is taken.
    pub from: Instant,
    /// When it is free again.
    pub until: Instant,
}

/// When an accepted plan has a job ready.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlannedJob {
    /// Which.
    pub job: JobNo,
    /// When the plan has it ready; nothing when a stage has no place.
    pub ready: Option<Instant>,
    /// When it is ready in half of all cases.
    pub likely: Option<Instant>,
    /// When it is ready in four cases out of five.
    pub safe: Option<Instant>,
    /// Its stages that have no place.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub nowhere: Vec<Nowhere>,
    /// Stages that were held up when the plan was made, and nobody had said until when: its times hold only if that ends at once.
    /// Its own first, then those of jobs that it waits behind.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hangs_on: Vec<HangsOn>,
}

/// A stage that is held up, and nobody said until when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct HangsOn {
    /// Whose.
    pub job: JobNo,
    /// Which.
    pub stage: StageKey,
}

/// A stage that has no place in an accepted plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Nowhere {
    /// Which.
    pub stage: StageKey,
    /// Why.
    pub why: NoPlace,
}

/// What a plan is judged by, the first that differs deciding; less is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Serialize, Deserialize)]
pub struct Objective {
    /// Stages that have no place.
    pub unplaced: i64,
    /// Minutes of lateness, each times the job's weight.
    pub tardiness: i64,
    /// Stages that the accepted plan starts within the shift and this one elsewhere, by others, or more than
    /// [`ON_TIME_MINUTES`](crate::plan::ON_TIME_MINUTES) sooner or later.
    pub changes: i64,
    /// Minutes of persons in overtime.
    pub overtime_minutes: i64,
    /// Minutes until everything is finished.
    pub makespan_minutes: i64,
}

/// How a search for a plan ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PlanEnd {
    /// Nothing better is possible.
    Proved,
    /// The schedules were spent; the same input gives the same plan again.
    Spent,
    /// A time limit ended it; another run may give another plan.
    Stopped,
}

/// What goes with a plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanReport {
    /// How the plan is judged.
    pub objective: Objective,
    /// Schedules that were made.
    pub schedules: u64,
    /// How the search ended.
    pub ended: PlanEnd,
    /// What becomes of each job, in the input's order.
    pub jobs: Vec<JobOutlook>,
    /// Stages that have no place, and why.
    pub unplaced: Vec<Unplaced>,
    /// What would help most, best first; empty when nothing is late.
    pub helps: Vec<Help>,
}

/// A blocker of which nobody said when it ends.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hang {
    /// What it holds up.
    pub on: HangsOn,
    /// The stage, whose it is where it is another job's, and the cause.
    pub words: String,
}

impl Hang {
    /// What to say of a stage that is held up: `of` names its job where that is another's.
    pub fn new(on: HangsOn, title: &str, of: Option<&str>, cause: &str) -> Self {
        let of = of.map(|name| format!(" of {name}")).unwrap_or_default();
        Self { on, words: format!("{title}{of}: {cause}") }
    }
}

/// What becomes of a job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobOutlook {
    /// Which.
    pub job: JobNo,
    /// When the plan has it ready; nothing when a stage has no place, or there is none.
    pub ready: Option<Instant>,
    /// When it was promised.
    pub promised: Option<Instant>,
    /// Minutes after the promise.
    pub late_minutes: i64,
    /// When it is ready in half of all cases.
    pub likely: Option<Instant>,
    /// When it is ready in four cases out of five.
    pub safe: Option<Instant>,
    /// Blockers of which nobody said when they end, its own and those of jobs that it waits behind: the times hold only if they
    /// end at once.
    pub hangs_on: Vec<Hang>,
    /// For a late job, what binds, from its last stage back.
    pub because: Vec<Because>,
    /// The same in one sentence, or that nothing can be said of a job without stages; and that work
    /// under way has fewer hands than it takes. Else empty.
    pub sentence: String,
}

impl JobOutlook {
    /// Whether half of all cases end after the promise.
    pub fn is_likely_late(&self) -> bool {
        self.likely.zip(self.promised).is_some_and(|(likely, promised)| promised < likely)
    }

    /// Whether more than one in five of all cases end after the promise.
    pub fn is_at_risk(&self) -> bool {
        self.safe.zip(self.promised).is_some_and(|(safe, promised)| promised < safe)
    }
}

/// A link of the chain that makes a job late.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Because {
    /// The stage that could not start sooner.
    pub job: JobNo,
    /// Its key.
    pub stage: StageKey,
    /// When it starts.
    pub from: Instant,
    /// What it waited for.
    pub cause: Cause,
}

/// What a stage waits for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// Nothing: it starts as soon as planning does.
    Start,
    /// The vehicle is not here.
    Arrival,
    /// Parts, or work elsewhere.
    Parts,
    /// A blocker.
    Blocker(String),
    /// A stage of the same job, and the wait behind it.
    Stage {
        /// Which.
        stage: StageKey,
        /// Minutes to wait after it.
        wait_minutes: i32,
    },
    /// A bay that another job has.
    Bay {
        /// Which.
        bay: BayKey,
        /// Whose vehicle is in it.
        job: JobNo,
    },
    /// A bay that another job's vehicle keeps, though it might leave, since no place outside is free.
    Yard {
        /// Which.
        bay: BayKey,
        /// Whose vehicle is in it.
        job: JobNo,
    },
    /// The moving of its own vehicle into the bay.
    Moved {
        /// Out of which bay it goes straight there; nothing where it comes from outside.
        from: Option<BayKey>,
        /// Into which.
        bay: BayKey,
    },
    /// A person who is at something else.
    Person {
        /// Who.
        person: PersonId,
        /// At whose job.
        job: JobNo,
        /// At what.
        stage: StageKey,
    },
    /// A shared tool that another stage holds.
    Tool {
        /// Which.
        tool: ToolKey,
        /// Of whose job.
        job: JobNo,
        /// Which stage.
        stage: StageKey,
    },
    /// What the lead decided.
    Pin,
    /// The hours of the shop.
    Hours,
    /// A person who is not there while the shop is open.
    Away {
        /// Who.
        person: PersonId,
    },
    /// A bay that can't be used.
    Closed {
        /// Which.
        bay: BayKey,
    },
    /// A shared tool that is not there.
    ToolAway {
        /// Which.
        tool: ToolKey,
    },
    /// The order of the plan.
    Order,
}

/// A stage that has no place in the plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Unplaced {
    /// Whose.
    pub job: JobNo,
    /// Which.
    pub stage: StageKey,
    /// Why, in a word.
    pub why: NoPlace,
    /// Why, and what to do, in a sentence.
    pub reason: String,
}

/// Something that would make jobs less late.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Help {
    /// What, in a sentence.
    pub sentence: String,
    /// Weighted minutes of lateness that it saves.
    pub saves: i64,
}
