//! The answer to an accepted command: what a repeat of the request gets as well. Ids and
//! figures only, never words.

use leadhand_facts::words::{Role, VehicleState};
use leadhand_facts::{
    BlockerNo, ClockingId, CustomerId, FluidKey, Instant, ItemKey, JobNo, LotId, PersonId, PlaceKey, PositionKey,
    Quantity, StageKey, StepNo, TemplateKey, TokenId, Unit, VehicleId,
};
use serde::{Deserialize, Serialize};

/// What an accepted command answers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, Default)]
pub struct Answer {
    /// Number of its last fact; of the last fact before it, when it made none.
    pub number: i64,
    /// When it was recorded; absent when it made no fact.
    pub recorded_at: Option<Instant>,
    /// What came to be.
    pub made: Made,
    /// What the person should know, none of which stopped anything.
    pub notices: Vec<Notice>,
}

/// What came to be.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, Default)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs, reason = "fields are named by their types")]
pub enum Made {
    /// Nothing with a name of its own.
    #[default]
    Nothing,
    /// A person.
    Person(PersonId),
    /// A customer.
    Customer(CustomerId),
    /// A token.
    Token(TokenId),
    /// A session of a person at a device.
    Session { session: TokenId, person: PersonId, role: Role, expires_at: Instant },
    /// A revision of a template.
    Template { template: TemplateKey, revision: i32 },
    /// A job.
    Job { job: JobNo, vehicle: VehicleId },
    /// A stage.
    Stage { job: JobNo, stage: StageKey },
    /// A step.
    Step { job: JobNo, stage: StageKey, step: StepNo },
    /// A position.
    Position { job: JobNo, position: PositionKey },
    /// A blocker.
    Blocker { job: JobNo, blocker: BlockerNo },
    /// A stretch of time.
    Clocking(ClockingId),
    /// A lot.
    Lot(LotId),
    /// An opening stock.
    Imported { rows: i64, items: i64, places: i64 },
    /// What was reserved, issued, returned or released, line by line.
    Stock(Vec<StockLine>),
}

/// What happened to one item for one step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StockLine {
    /// The stage that wants it, when a step does.
    pub stage: Option<StageKey>,
    /// The step that wants it.
    pub step: Option<StepNo>,
    /// The item.
    pub item: ItemKey,
    /// How much was reserved, issued, returned, released or displaced, in the item's unit.
    pub quantity: Quantity,
    /// The place it came from or went to.
    pub place: Option<PlaceKey>,
    /// How much is short.
    pub short: Quantity,
    /// Who holds the item meanwhile: jobs and how much.
    pub held_by: Vec<(JobNo, Quantity)>,
}

/// What the person should know.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs, reason = "fields are named by their types")]
pub enum Notice {
    /// The person was clocked on elsewhere and moved over.
    MovedOver { person: PersonId, from_job: JobNo, from_stage: StageKey },
    /// Nobody was clocked on, because the token stands for no person.
    NobodyClockedOn,
    /// The person was on something else after this late start, and was not clocked on to it.
    ElsewhereLater { job: JobNo, stage: StageKey, on_job: JobNo, on_stage: StageKey },
    /// Work was entered on a stage that nobody had started; it was started where the work began.
    StartedWithWork { stage: StageKey },
    /// A later step needs what is not there; it will hold up when it is next.
    MissingLater {
        stage: StageKey,
        step: StepNo,
        item: ItemKey,
        missing: Quantity,
        #[serde(default)]
        unit: Unit,
    },
    /// The step that is next needs what is not there.
    MissingNow {
        stage: StageKey,
        step: StepNo,
        item: ItemKey,
        missing: Quantity,
        #[serde(default)]
        unit: Unit,
    },
    /// A step's need was never reserved.
    NotReserved {
        stage: StageKey,
        step: StepNo,
        item: ItemKey,
        quantity: Quantity,
        #[serde(default)]
        unit: Unit,
    },
    /// A stage can't be done in this bay.
    OtherBayLater { stage: StageKey },
    /// A reservation was displaced.
    Displaced {
        job: JobNo,
        stage: StageKey,
        step: StepNo,
        item: ItemKey,
        quantity: Quantity,
        #[serde(default)]
        unit: Unit,
    },
    /// A shortage ended.
    Covered {
        job: JobNo,
        stage: StageKey,
        step: StepNo,
        item: ItemKey,
        quantity: Quantity,
        #[serde(default)]
        unit: Unit,
    },
    /// Goods at the job were written to used.
    WrittenToUsed {
        item: ItemKey,
        quantity: Quantity,
        #[serde(default)]
        unit: Unit,
    },
    /// A stage goes on, and whoever works on it has to clock on again.
    ClockOnAgain { stage: StageKey },
    /// A step is to be done again, and what was given to the job for it stays given.
    StaysIssued { stage: StageKey, step: StepNo, item: ItemKey, quantity: Quantity, unit: Unit },
    /// A step is to be done again, and this much of what it needs is no longer set aside.
    ReserveAgain { stage: StageKey, step: StepNo, item: ItemKey, quantity: Quantity, unit: Unit },
    /// So many pieces of a position are missing or damaged, and new ones will be needed.
    NewPieces { position: PositionKey, pieces: i32 },
    /// The vehicle goes while this position is open.
    LeftOpen { position: PositionKey },
    /// The steps of a stage need a state that the vehicle is not in.
    StateWanted { stage: StageKey, step: StepNo, state: VehicleState, is: VehicleState },
    /// So much of a fluid did not come out.
    FluidLeft { fluid: FluidKey, millilitres: i64 },
    /// Something was done in another way than the book's.
    OtherWay { stage: StageKey, step: StepNo },
    /// Fewer hands are on the stage than it asks for.
    MoreHands { stage: StageKey, hands: i32, on: i32 },
}
