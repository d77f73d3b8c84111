//! What stands against handing a vehicle over: one list over all books, what can hurt first.

mod todo;
mod told;

pub use todo::Todo;
pub use told::{
    BACK_ORDER, LEFT_EMPTY, OFF_ORDER, OFF_UNSAFE, OLD_PART, SPOILT_PART, UNSKILLED, told, told_by_kind, told_first,
};

use crate::condition;
use crate::fill;
use crate::look;
use crate::reading;
use crate::state::State;
use crate::strip::{self, Open};
use crate::telling::amount;
use leadhand_facts::rows::{PositionRow, ReadingRow, StageRow, StepRow};
use leadhand_facts::words::{Cause, Decision, StageState, StepState, Verdict};
use leadhand_facts::{
    BlockerNo, Instant, ItemKey, JobNo, PositionKey, Quantity, ReadingKey, StageKey, TextId, ToolKey, Unit,
};

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
        /// Why.
        cause: Cause,
        /// What is missing or not as it should be, where the blocker stands for that.
        held: Held,
    },
    /// Something of the strip book is open.
    Strip(Open),
    /// The vehicle is not as it has to be.
    Condition(condition::Open),
    /// More new pieces went in than were given out from stock for this job.
    NotTaken {
        /// Of what.
        item: ItemKey,
        /// How many went in.
        renewed: i64,
        /// How many were given out.
        issued: Quantity,
    },
    /// A fill that was set aside is done, and less than it takes was given out from stock for this job.
    NotDrawn {
        /// Of what.
        item: ItemKey,
        /// How much of it the fills take that are done.
        takes: Quantity,
        /// How much of it was given out for the job.
        issued: Quantity,
        /// The item's unit.
        unit: Unit,
    },
    /// A fill that is done was reckoned with another fluid or strength than its item says by now.
    FillOtherwise {
        /// Of what.
        item: ItemKey,
    },
    /// The vehicle came with an earlier job called off while it was apart.
    CameApart {
        /// That job.
        before: JobNo,
    },
    /// It is back, and its sealant cures.
    Cures {
        /// What.
        position: PositionKey,
        /// Whole minutes that are left of it, rounded up.
        minutes: i64,
    },
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

/// What a blocker stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Held {
    /// An item is missing.
    Item(ItemKey),
    /// A reading is out of its limits.
    Reading(ReadingKey),
    /// Another job has a shared tool.
    Tool(ToolKey),
    /// What somebody said.
    Said,
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

impl Remedy {
    /// Who may overrule a line, as it is told behind it.
    fn told(self) -> &'static str {
        match self {
            Self::Nobody => " (nobody overrules this)",
            Self::End => " (this has to be ended)",
            Self::Lead => " (a lead may overrule this)",
        }
    }
}

impl Line {
    /// What kind of line it is, for good.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Stage { .. } => "stage",
            Self::Blocker { .. } => "blocker",
            Self::Strip(Open::StillIn { .. }) => "still-in",
            Self::Strip(Open::Unsaid { .. }) => "unsaid",
            Self::Strip(Open::NotChecked { .. }) => "second-check",
            Self::Strip(Open::Places { .. }) => "places",
            Self::Strip(Open::Pieces { .. }) => "pieces",
            Self::Strip(Open::NotTight { .. }) => "not-tight",
            Self::Strip(Open::Fewer { .. }) => "fewer",
            Self::Cures { .. } => "cures",
            Self::NotTaken { .. } => "not-taken",
            Self::NotDrawn { .. } => "not-drawn",
            Self::FillOtherwise { .. } => "fill-otherwise",
            Self::CameApart { .. } => "came-apart",
            Self::Condition(condition::Open::State { .. }) => "state",
            Self::Condition(condition::Open::Hold { .. }) => "hold",
            Self::Condition(condition::Open::Fluid { .. }) => "fluid",
            Self::Condition(condition::Open::FluidUnsaid { .. }) => "fluid-unsaid",
            Self::Condition(condition::Open::FluidOver { .. }) => "fluid-over",
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
            Self::Cures { position, .. } => position.to_string(),
            Self::NotTaken { item, .. } | Self::NotDrawn { item, .. } | Self::FillOtherwise { item } => {
                item.to_string()
            }
            Self::CameApart { before } => before.to_string(),
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
            Self::Strip(_)
            | Self::Condition(_)
            | Self::NotTaken { .. }
            | Self::NotDrawn { .. }
            | Self::FillOtherwise { .. }
            | Self::Cures { .. }
            | Self::CameApart { .. }
            | Self::ReadingMissing { .. }
            | Self::ReadingOut { .. } => Remedy::Lead,
        }
    }

    /// What is open, without what it is about.
    pub fn open(&self) -> String {
        match self {
            Self::Stage { state, .. } => state.to_string(),
            Self::Blocker { stage, .. } => format!("holds up {stage}: {}", self.held()),
            Self::Strip(open) => open.what(),
            Self::Condition(open) => open.what(),
            Self::CameApart { .. } => "the vehicle's job before was called off with it apart".to_owned(),
            Self::Cures { minutes, .. } => format!("its sealant cures for another {minutes} min"),
            Self::NotTaken { renewed, issued, .. } => format!("{renewed} fitted new, and {issued} taken from stock"),
            Self::NotDrawn { takes, issued, unit, .. } => {
                let of = |quantity: &Quantity| amount(*quantity, Some(*unit));
                format!("its fill is done and takes {}, and {} were taken from stock", of(takes), of(issued))
            }
            Self::FillOtherwise { .. } => {
                "its fill is done and was reckoned with another fluid or strength than it says by now".to_owned()
            }
            Self::ReadingMissing { stage, .. } => format!("not measured at {stage}"),
            Self::ReadingOut { repair: false, .. } => "out of its limits".to_owned(),
            Self::ReadingOut { repair: true, .. } => "not measured since the repair".to_owned(),
        }
    }

    /// What holds up, where it is a blocker.
    fn held(&self) -> String {
        match self {
            Self::Blocker { held: Held::Item(item), .. } => format!("'{item}' is missing"),
            Self::Blocker { held: Held::Reading(reading), .. } => format!("reading '{reading}' is out of its limits"),
            Self::Blocker { held: Held::Tool(tool), .. } => format!("another job has shared tool '{tool}'"),
            Self::Blocker { cause: Cause::Safety, .. } => "somebody saw a danger and called the lead".to_owned(),
            Self::Blocker { cause, .. } => cause.to_string().replace('-', " "),
            _ => String::new(),
        }
    }

    /// Where it stands in the list: what can hurt comes first, what is only missing in a book last.
    fn rank(&self) -> u8 {
        match self {
            Self::Strip(Open::StillIn { .. } | Open::Unsaid { put_in: true, .. }) => 0,
            Self::Blocker { cause: Cause::Safety, .. } | Self::CameApart { .. } => 1,
            Self::Condition(
                condition::Open::State { .. }
                | condition::Open::Fluid { .. }
                | condition::Open::FluidUnsaid { .. }
                | condition::Open::FluidOver { .. },
            )
            | Self::FillOtherwise { .. } => 2,
            Self::Condition(condition::Open::Hold { .. } | condition::Open::Way { .. }) => 3,
            Self::Strip(Open::NotChecked { .. } | Open::Unsaid { .. }) => 4,
            Self::Strip(Open::Places { .. } | Open::Pieces { .. } | Open::NotTight { .. } | Open::Fewer { .. })
            | Self::Cures { .. } => 5,
            Self::ReadingMissing { .. } | Self::ReadingOut { .. } => 6,
            Self::Blocker { .. } => 7,
            Self::Stage { .. } => 8,
            Self::NotTaken { .. } | Self::NotDrawn { .. } => 9,
        }
    }

    /// The position whose places or pieces do not balance: both are one thing to whoever reads.
    fn unbalanced(&self) -> Option<&PositionKey> {
        match self {
            Self::Strip(open @ (Open::Places { .. } | Open::Pieces { .. })) => Some(open.position()),
            _ => None,
        }
    }

    /// What it is about, as a sentence begins with it.
    fn subject(&self) -> String {
        match self {
            Self::Stage { stage, .. } => format!("stage {stage}"),
            Self::CameApart { before } => format!("job {before}"),
            Self::Blocker { blocker, .. } => format!("blocker {blocker}"),
            Self::Condition(condition::Open::Hold { stage, step, .. }) => format!("hold point {step} of {stage}"),
            Self::Condition(condition::Open::Way { stage, step }) => format!("step {step} of {stage}"),
            _ => self.about(),
        }
    }

    /// The same for somebody who knows no key: `name` is what people call what it is about.
    pub fn told_of(&self, name: &str) -> String {
        match self {
            Self::Condition(condition::Open::Hold { step, .. }) => {
                format!("{name}, hold point {step}: {}", self.open())
            }
            Self::Condition(condition::Open::Way { step, .. }) => format!("{name}, step {step}: {}", self.open()),
            Self::Blocker { .. } => format!("{name}: held up, {}", self.held()),
            Self::Stage { state, .. } => format!("{name}: {state}"),
            Self::ReadingMissing { .. } => format!("{name}: not measured"),
            Self::Strip(Open::Unsaid { put_in: true, .. }) => {
                format!("{name}: put in for the work, and nobody said that it is out")
            }
            Self::Strip(Open::Unsaid { put_in: false, .. }) => {
                format!("{name}: nobody said whether it came off, and nobody else looked at it")
            }
            _ => format!("{name}: {}", self.open()),
        }
    }
}

impl std::fmt::Display for Line {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.subject(), self.open())
    }
}

/// What a line is about, as people call it: words of the template or an item, or words that somebody typed; `key` where
/// there are none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Subject {
    /// Words that are no person's.
    pub own: Option<String>,
    /// Words that may be erased.
    pub text: Option<TextId>,
    /// Its key.
    pub key: String,
}

/// What a line of this job is about.
pub fn subject(state: &State, job: JobNo, line: &Line) -> Subject {
    let of_stage = |stage: &StageKey| {
        let row = state.stages.get(&(job, stage.clone()));
        row.map_or((None, None), |row| (row.title.clone(), row.title_text))
    };
    let of_reading = |reading: &ReadingKey| {
        let row = state.readings.get(&(job, reading.clone()));
        row.map_or((None, None), |row| (row.what.clone(), row.what_text))
    };
    let of_position = |position: &PositionKey| {
        let row = state.positions.get(&(job, position.clone()));
        row.map_or((None, None), |row| (row.what.clone(), row.what_text))
    };
    let (own, text) = match line {
        Line::Stage { stage, .. }
        | Line::Blocker { stage, .. }
        | Line::Condition(condition::Open::Hold { stage, .. } | condition::Open::Way { stage, .. }) => of_stage(stage),
        Line::Condition(condition::Open::State { .. }) | Line::CameApart { .. } => (None, None),
        Line::Condition(
            condition::Open::Fluid { fluid, .. }
            | condition::Open::FluidUnsaid { fluid }
            | condition::Open::FluidOver { fluid, .. },
        ) => (state.fluids.get(&(job, fluid.clone())).and_then(|row| row.what.clone()), None),
        Line::Strip(open) => of_position(open.position()),
        Line::Cures { position, .. } => of_position(position),
        Line::NotTaken { item, .. } | Line::NotDrawn { item, .. } | Line::FillOtherwise { item } => {
            (state.items.get(&(item.clone(),)).map(|row| row.name.clone()), None)
        }
        Line::ReadingMissing { reading, .. } | Line::ReadingOut { reading, .. } => of_reading(reading),
    };
    let key = match line {
        Line::CameApart { before } => format!("job {before}"),
        // The features are words of ours.
        Line::Condition(condition::Open::State { .. }) => line.about().replace('-', " "),
        _ => line.about(),
    };
    Subject { own, text, key }
}

/// Everything that stands against handing a job over, by what can hurt: what was put in and is in, how the vehicle is, what
/// nobody looked at, positions, readings, what holds up, stages, and stock at last. `at` is the time of the hand-over: what
/// cures is done by itself.
pub fn lines(state: &State, job: JobNo, at: Instant) -> Vec<Line> {
    let mut all: Vec<Line> = stages(state, job).chain(blockers(state, job)).collect();
    all.extend(strip::unsaid(state, job).into_iter().map(Line::Strip));
    all.extend(strip::open(strip::positions(state, job)).into_iter().map(Line::Strip));
    all.extend(strip::positions(state, job).filter_map(|row| cures(row, at)));
    all.extend(strip::not_taken(state, job).into_iter().map(|(item, (renewed, issued))| Line::NotTaken {
        item,
        renewed,
        issued,
    }));
    all.extend(fill::not_drawn(state, job).into_iter().map(|(item, (takes, issued, unit))| Line::NotDrawn {
        item,
        takes,
        issued,
        unit,
    }));
    all.extend(fill::gainsaid(state, job).into_iter().map(|item| Line::FillOtherwise { item }));
    let before = state.jobs.get(&(job,)).and_then(|row| row.came_apart);
    all.extend(before.map(|before| Line::CameApart { before }));
    all.extend(condition::open(state, job).into_iter().map(Line::Condition));
    all.extend(reading::readings(state, job).filter_map(|row| of_reading(state, row)));
    // Stable: within a rank each book keeps its own order.
    all.sort_by_key(Line::rank);
    all
}

fn cures(row: &PositionRow, at: Instant) -> Option<Line> {
    let minutes = strip::cures_until(row, at)?.minutes_since_up(at);
    Some(Line::Cures { position: row.position.clone(), minutes })
}

fn stages(state: &State, job: JobNo) -> impl Iterator<Item = Line> {
    let left = look::stages_in_order(state, job).into_iter().filter(|stage| !look::is_ended(stage));
    let left = left.filter(|stage| !ends_with_it(state, stage));
    left.map(|stage| Line::Stage { stage: stage.stage.clone(), state: stage.state })
}

/// Whether a stage has nothing left but positions that did not go back: their lines say what is open, and it ends with the
/// hand-over for which a lead overrules them.
pub fn ends_with_it(state: &State, stage: &StageRow) -> bool {
    let job = stage.job;
    stage.state == StageState::Active
        && look::steps(state, job, &stage.stage).all(|step| step.state != StepState::Pending)
        && look::open_blockers(state, job).all(|row| row.stage != stage.stage)
        && strip::positions(state, job).all(|row| row.stage != stage.stage || row.off_n.is_some())
        && strip::positions(state, job).any(|row| row.detail.back.as_ref() == Some(&stage.stage) && strip::is_open(row))
}

fn blockers(state: &State, job: JobNo) -> impl Iterator<Item = Line> {
    look::open_blockers(state, job).map(|row| {
        let item = row.item.clone().map(Held::Item);
        let held = item.or(row.reading.clone().map(Held::Reading)).or(row.tool.clone().map(Held::Tool));
        let (blocker, stage, cause) = (row.blocker, row.stage.clone(), row.cause);
        Line::Blocker { blocker, stage, cause, held: held.unwrap_or(Held::Said) }
    })
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
