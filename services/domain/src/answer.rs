//! The answer to an accepted command: what a repeat of the request gets as well. Ids and
//! figures only, never words.

use leadhand_facts::words::{Hazard, Role, SignalWord, Tightness, VehicleState, Verdict};
use leadhand_facts::{
    AskNo, AttemptNo, BlockerNo, ClockingId, CustomerId, FluidKey, Instant, ItemKey, JobNo, LotId, PersonId, PlaceKey,
    PositionKey, Quantity, ReadingKey, RemarkNo, StageKey, StepNo, TemplateKey, TokenId, ToldNo, ToolKey, Unit,
    VehicleId,
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
    /// A reading.
    Reading { job: JobNo, reading: ReadingKey },
    /// A remark.
    Remark { job: JobNo, remark: RemarkNo },
    /// What went back, line by line.
    Back(Vec<WentBack>),
    /// An attempt at something that will not move, and what is to be tried next.
    Attempt { job: JobNo, position: PositionKey, attempt: AttemptNo, next: Option<Next> },
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
    /// A fill that is set aside.
    Fill(FillAside),
    /// What was told to somebody.
    Told { job: JobNo, told: ToldNo },
    /// A correction that was asked for.
    Asked { job: JobNo, ask: AskNo },
}

/// What is to be tried next.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Next {
    /// The rung's number.
    pub rung: i32,
    /// What it says: the template's words, or the usual ones.
    pub measure: String,
    /// Whether who made the attempt may do it.
    pub may: bool,
    /// Everybody who may.
    pub who: Vec<PersonId>,
}

/// What was recorded of a position that went back, or came out again, and what is open of it now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct WentBack {
    /// Which.
    pub position: PositionKey,
    /// Whether it was put in for the work, so that what is refitted is out.
    pub put_in: bool,
    /// Places with a piece that came off.
    pub refitted: i32,
    /// Places with a new piece.
    pub renewed: i32,
    /// Places left empty.
    pub left_out: i32,
    /// Pieces thrown away.
    pub scrapped: i32,
    /// Pieces kept otherwise.
    pub kept: i32,
    /// How tight it is; nothing where nothing was fitted.
    pub tightness: Option<Tightness>,
    /// Whether nobody said how tight, so that the safe guess stands.
    pub unsaid: bool,
    /// Places that are not settled yet.
    pub places_left: i32,
    /// Pieces that are nowhere yet; of what was put in, what is still in.
    pub pieces_left: i32,
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
    /// From which bins, and how much from each, where it comes from several; `place` names none then.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bins: Vec<(PlaceKey, Quantity)>,
    /// How much is short.
    pub short: Quantity,
    /// Who holds the item meanwhile: jobs and how much.
    pub held_by: Vec<(JobNo, Quantity)>,
    /// The item's unit; not said in answers of before it was kept with them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<Unit>,
}

/// A fill as it is set aside for a job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FillAside {
    /// The stage of the step that says what goes in; nothing where other steps take all of it.
    pub stage: Option<StageKey>,
    /// That step.
    pub step: Option<StepNo>,
    /// Whether it says something else now than before.
    pub changed: bool,
    /// What steps take of what is poured in: first that step, then others.
    pub shares: Vec<FillShare>,
    /// How many other steps take some of the item.
    pub elsewhere: i32,
    /// How much more of the item these take than is needed.
    pub more: Quantity,
    /// The item.
    pub item: ItemKey,
    /// Its unit.
    pub unit: Unit,
}

/// What a step takes of what is poured in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FillShare {
    /// The stage.
    pub stage: StageKey,
    /// The step.
    pub step: StepNo,
    /// The item.
    pub item: ItemKey,
    /// Its unit.
    pub unit: Unit,
    /// How much it takes.
    pub wanted: Quantity,
    /// How much of that is set aside.
    pub reserved: Quantity,
    /// How much of it was given out.
    pub issued: Quantity,
    /// How much is short.
    pub short: Quantity,
    /// What is set aside, bin by bin.
    pub bins: Vec<(PlaceKey, Quantity)>,
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
    /// How a reading came out; `said` names the limits that it did not keep.
    Measured { reading: ReadingKey, verdict: Verdict, said: String },
    /// The calibration of a shared tool that was lent counted until this local day.
    OutOfCalibration { tool: ToolKey, due: String },
    /// A step needs a shared tool that another job or, without one, a person has; `next` when it is its turn.
    ToolElsewhere { stage: StageKey, step: StepNo, tool: ToolKey, job: Option<JobNo>, next: bool },
    /// A step needs a shared tool that the shop does not use any more.
    ToolGone { stage: StageKey, step: StepNo, tool: ToolKey },
    /// A shared tool that came back is waited for there.
    ToolWaitedFor { tool: ToolKey, job: JobNo, stage: StageKey, step: StepNo },
    /// A job is over, and still has a shared tool.
    ToolStillOut { tool: ToolKey },
    /// The vehicle goes while this position is open.
    LeftOpen { position: PositionKey },
    /// The vehicle goes, called off, while this is not as it has to be.
    GoesAsItIs { what: String },
    /// A stage that waited for nothing but what a lead overruled ended with the hand-over.
    EndedWithHandOver { stage: StageKey },
    /// The steps of a stage need a state that the vehicle is not in.
    StateWanted { stage: StageKey, step: StepNo, state: VehicleState, is: VehicleState },
    /// So much of a fluid did not come out.
    FluidLeft { fluid: FluidKey, millilitres: i64 },
    /// Nobody said yet that any of this fluid came out.
    FluidUnsaid { fluid: FluidKey, millilitres: i64 },
    /// The vehicle is in this state while these are off, still in, or not tight.
    NotWhole { state: VehicleState, positions: Vec<PositionKey> },
    /// The vehicle is in a state in which what was opened just now can hurt, in this way.
    LiveNow { state: VehicleState, hazard: Hazard },
    /// More of a fluid is in than came out or, unless `out`, than should be in.
    FluidOver { fluid: FluidKey, filled_ml: i64, most_ml: i64, out: bool },
    /// A second person looked at this before it was worked on just now: the hold point is open again, though its stage may
    /// have `ended`.
    LookAgain { stage: StageKey, step: StepNo, position: PositionKey, ended: bool },
    /// Somebody saw a danger at the vehicle and called the lead to another stage.
    CalledElsewhere { job: JobNo, stage: StageKey },
    /// The vehicle's job before was called off with it apart.
    CameApart { job: JobNo },
    /// A lead's one reason let this go, beside other things.
    LetGo { what: String },
    /// So many went back, are new or are thrown away that nobody counted.
    Counted { position: PositionKey, refitted: i32, renewed: i32, scrapped: i32 },
    /// It is back and cures, for so many minutes more.
    StillCures { position: PositionKey, minutes: i64 },
    /// It was tried while it still soaks, for so many minutes more.
    StillSoaks { position: PositionKey, minutes: i64 },
    /// It was tried by a rung that lets it soak for so many minutes, and nobody said that it does.
    NotSoaked { position: PositionKey, minutes: i32 },
    /// A step is ticked of whose need this much was neither given out nor set aside.
    TickedWithout { stage: StageKey, step: StepNo, item: ItemKey, quantity: Quantity, unit: Unit },
    /// A fill goes by what an item said of itself, which says something else now; or, unless `otherwise`, nobody can tell whether
    /// it does. It may be `done` already.
    FillGoesBy { job: JobNo, stage: StageKey, step: StepNo, item: ItemKey, otherwise: bool, done: bool },
    /// What came out or went in of a fluid was said before, and comes to so much in all.
    FluidInAll { fluid: FluidKey, millilitres: i64, out: bool },
    /// More is set aside for a fill than goes in, because the item is kept in whole litres.
    WholeLitres { item: ItemKey, millilitres: i64, litres: Quantity },
    /// It soaks although its stage has not begun: that is meant so.
    SoaksEarly { position: PositionKey, stage: StageKey },
    /// What was ruined by an attempt stays with the position; the part that is split off is whole.
    SplitWhole { position: PositionKey, part: PositionKey },
    /// What somebody had added by hand was not there after all: it is settled with 0 found.
    NeverThere { position: PositionKey },
    /// It is not as tight as it was; a second check counts no longer.
    LoosenedAgain { position: PositionKey, checked: bool },
    /// What can hurt in a stage that starts, with the step that says so first. The words are a template's or a catalogue's.
    Mind { word: SignalWord, step: StepNo, text: String },
    /// A stage is left out while these are off, or still in, and were to go back or come out in it; or came off in it.
    LeftOutOpen { stage: StageKey, back: bool, positions: Vec<PositionKey> },
    /// More new pieces are in the vehicle than were given out for the job.
    NotTaken { item: ItemKey, renewed: i64, issued: Quantity },
    /// A step that fits new pieces of a position is still to be done, though nothing is said of the position any more.
    FitNewStays { stage: StageKey, step: StepNo, position: PositionKey },
    /// New pieces of a position are no longer in it, so the step that fits them is to be done again.
    FitNewAgain { stage: StageKey, step: StepNo, position: PositionKey },
    /// Something was done in another way than the book's.
    OtherWay { stage: StageKey, step: StepNo },
    /// A stage of an outdated plan is over already, and was left out of it.
    PlanLeftOut { job: JobNo, stage: StageKey },
    /// Fewer hands are on the stage than it asks for.
    MoreHands { stage: StageKey, hands: i32, on: i32 },
}
