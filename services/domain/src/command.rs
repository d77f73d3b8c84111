//! What can be asked of a shop. Words typed by hand are plain here; they are sealed when a fact
//! is made.

use leadhand_facts::calendar::{DayHours, Week};
use leadhand_facts::fact::JobAfter;
use leadhand_facts::plan::{BayVisit, PlannedJob, PlannedStage};
use leadhand_facts::reading::ReadingDetail;
use leadhand_facts::safety::StepSafety;
use leadhand_facts::strip::Tighten;
use leadhand_facts::supplier::Round;
use leadhand_facts::template::{Caution, Minutes, Need};
use leadhand_facts::words::{
    BayKind, Cause, Decision, Keep, Manner, Outcome, PositionKind, ProofKind, Reach, RemarkKind, Renew, Role,
    StageKind, Tightness, VehicleState,
};
use leadhand_facts::{
    AskNo, BayKey, BlockerNo, CustomerId, FluidKey, Instant, ItemFluid, ItemKey, JobNo, LadderKey, Measure, Mixture,
    OptionKey, PersonId, PlaceKey, PositionKey, PrincipalId, Quantity, ReadingKey, RemarkNo, StageKey, StepNo,
    SupplierKey, TemplateKey, TextId, TokenId, ToldNo, ToolKey, Unit, VehicleId,
};
use serde::Serialize;

/// What came later and was not said is left out of what a request is recognised by, so that one which an older program
/// accepted is still the same request.
#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn is_false(said: &bool) -> bool {
    !said
}

macro_rules! commands {
    ($($(#[$doc:meta])* $name:ident { $($(#[$fdoc:meta])* $field:ident: $ty:ty),* $(,)? })+) => {
        $(
            $(#[$doc])*
            #[derive(Debug, Clone, PartialEq, Eq, Serialize)]
            #[allow(missing_docs, reason = "fields are named by their types")]
            pub struct $name { $($(#[$fdoc])* pub $field: $ty,)* }

            impl From<$name> for Command {
                fn from(command: $name) -> Self { Self::$name(command) }
            }
        )+

        /// A command.
        #[derive(Debug, Clone, PartialEq, Eq, Serialize)]
        #[allow(missing_docs, reason = "one variant a command, named like it")]
        pub enum Command { $($name($name),)+ }

        impl Command {
            /// Its name, for logs and metrics.
            pub fn name(&self) -> &'static str {
                match self { $(Self::$name(_) => stringify!($name),)+ }
            }
        }
    };
}

/// The vehicle of a new job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum WhichVehicle {
    /// One that the shop knows.
    Known(VehicleId),
    /// A new one.
    New {
        /// What people call it; erasable.
        label: String,
        /// Its weight in kilograms, as far as known.
        weight_kg: Option<i32>,
        /// Its plate; erasable.
        plate: Option<String>,
        /// Whose it is.
        customer: Option<CustomerId>,
    },
}

/// How something that nobody had listed is turned, reached and put back: what a template would say of it.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Fitting {
    /// Form and size of the head, as the tool has it.
    pub head: Option<String>,
    /// Where to reach it from.
    pub reach: Option<Reach>,
    /// The stages of tightening, in order.
    pub tighten: Vec<Tighten>,
    /// How it goes back.
    pub how: Vec<String>,
    /// Whether somebody else looks at it when it is back.
    pub second_check: bool,
    /// The check that decides whether it may go back.
    pub check: Option<String>,
    /// Minutes that have to pass after it is back.
    pub cure_minutes: Option<i32>,
    /// The ladder of the job's template to go by when it will not move.
    pub ladder: Option<LadderKey>,
}

impl Fitting {
    /// Whether nothing is said.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// What came off of one position. What is not said is as listed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OffLine {
    /// Which.
    pub position: PositionKey,
    /// Pieces that were there.
    pub found: Option<i32>,
    /// Places that were empty before anybody began.
    pub missing: Option<i32>,
    /// Pieces that are damaged or broke.
    pub damaged: i32,
    /// How it is kept.
    pub keep: Option<Keep>,
    /// Where, in words.
    pub kept_at: Option<String>,
    /// What was different, in words.
    pub note: Option<String>,
    /// An earlier repair that was found on it.
    pub repair: Option<String>,
    /// Studs that came out with their nuts.
    pub studs: i32,
}

impl OffLine {
    /// As listed.
    pub fn listed(position: PositionKey) -> Self {
        let (found, missing, keep, kept_at, note, repair) = (None, None, None, None, None, None);
        Self { position, found, missing, damaged: 0, keep, kept_at, note, repair, studs: 0 }
    }
}

/// What went back of one position. With neither count said, all of it is as listed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BackLine {
    /// Which.
    pub position: PositionKey,
    /// Places with a piece that came off; what was put in and is out.
    pub refitted: Option<i32>,
    /// Places with a new piece.
    pub renewed: Option<i32>,
    /// Places left empty.
    pub left_out: i32,
    /// Pieces thrown away.
    pub scrapped: Option<i32>,
    /// Pieces kept otherwise.
    pub kept: i32,
    /// How tight it is.
    pub tightness: Option<Tightness>,
    /// Why a place is left empty, or what else is to be said.
    pub reason: Option<String>,
}

impl BackLine {
    /// As listed.
    pub fn listed(position: PositionKey) -> Self {
        let (refitted, renewed, scrapped) = (None, None, None);
        Self { position, refitted, renewed, left_out: 0, scrapped, kept: 0, tightness: None, reason: None }
    }
}

/// A line of the hand-over list that a lead overrules.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Override {
    /// The line, by its key in the list.
    pub line: String,
    /// Why; nothing, where the lead gives one reason for all that are named without.
    pub reason: Option<String>,
}

/// What becomes of something that may be there.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub enum Change<T> {
    /// It stays as it is.
    Keep,
    /// It goes.
    Clear,
    /// It is this from now on.
    Set(T),
}

commands! {
    /// Begins a shop's books.
    OpenShop { name: String, zone: String }
    /// Sets weekly shop hours from a local day on.
    SetHours { from_day: String, week: Week }
    /// Sets the hours of one local day; none for a holiday.
    SetDay { day: String, hours: Vec<DayHours>, reason: Option<String> }
    /// Sets a person's weekly shift from a local day on.
    SetShift { person: PersonId, from_day: String, week: Week }
    /// Adds a bay; 0 kg for a floor or a pit without a rating of its own.
    AddBay { bay: BayKey, name: String, kind: BayKind, rated_kg: i32 }
    /// Adds a person.
    AddPerson { name: String, skills: Vec<String> }
    /// Says a person's name anew that was mistyped; the one before is erased.
    RenamePerson { person: PersonId, name: String, reason: String }
    /// Says anew what a bay is and bears, when that was said wrongly; 0 kg where it has no rating of its own.
    SetBay { bay: BayKey, kind: Option<BayKind>, rated_kg: Option<i32>, reason: String }
    /// Says how many vehicles may stand outside between stages, and how many minutes it takes to move one; what is not said stays
    /// as it was.
    SetYard { places_outside: Option<i32>, moving_minutes: Option<i32> }
    /// Sets a person's skills anew.
    SetSkills { person: PersonId, skills: Vec<String> }
    /// Forgets a person: name and these typed words go, the random id stays. Which words those are is
    /// looked up when the command's turn comes; whoever asks leaves them out.
    ForgetPerson { person: PersonId, texts: Vec<TextId> }
    /// Issues a token whose secret only the caller knows; `hash` is its SHA-256 in hexadecimal.
    IssueToken {
        token: TokenId, principal: PrincipalId, person: Option<PersonId>, label: Option<String>, role: Role,
        prefix: String, hash: String, expires_at: Option<Instant>,
    }
    /// Revokes a token.
    RevokeToken { token: TokenId }

    /// Puts another token in the place of one: the same principal, person, role and label, another secret.
    /// The old one, and whichever else the principal has, ends when the overlap is over. `expires_at` is for
    /// a lead; without one the new token ends when the newest of the principal would have.
    RotateToken {
        token: TokenId, new: TokenId, prefix: String, hash: String, overlap_minutes: i64, expires_at: Option<Instant>,
    }
    /// Issues a lead's token for a person, and revokes that person's others when asked: for an operator.
    ReplaceLead {
        person: PersonId, token: TokenId, principal: PrincipalId, prefix: String, hash: String, revoke_others: bool,
    }
    /// Sets a person's badge code, of which only the caller knows more than the SHA-256.
    SetBadge { person: PersonId, role: Role, hash: String }
    /// Sets a person's PIN; `secret` is its slow hash, and the PIN itself was checked before.
    SetPin { person: PersonId, role: Role, secret: String }
    /// Withdraws a person's badge code or PIN.
    WithdrawProof { person: PersonId, proof: ProofKind }
    /// Begins the session of a person at a device. The caller has compared what the person showed with the
    /// proof that was set by the fact `proof_n`.
    SignIn {
        session: TokenId, device: TokenId, person: PersonId, proof: ProofKind, proof_n: i64, prefix: String,
        hash: String, minutes: i64,
    }
    /// Ends a session.
    SignOut { session: TokenId }

    /// Publishes the next revision of a template from its file.
    PublishTemplate { source: String }

    /// Adds a customer.
    AddCustomer { name: String, contact: Option<String>, note: Option<String> }
    /// Says anew what is known of a customer; the words that were there before are erased.
    EditCustomer { customer: CustomerId, name: Option<String>, contact: Change<String>, note: Change<String> }
    /// Forgets a customer: these words go, the random id and the figures stay. Which words those are is
    /// looked up when the command's turn comes; whoever asks leaves them out.
    ForgetCustomer { customer: CustomerId, texts: Vec<TextId> }
    /// Says anew what is known of a vehicle, and whose it is; the words that were there before are erased.
    /// A job that is open goes along with its vehicle to another customer; jobs that were closed do so
    /// when there was no customer, or when `earlier_jobs` says that the one who was named was wrong.
    EditVehicle {
        vehicle: VehicleId, label: Option<String>, plate: Change<String>, weight_kg: Change<i32>,
        customer: Change<CustomerId>, earlier_jobs: bool,
    }

    /// Opens a job, from a template or blank.
    OpenJob {
        template: Option<TemplateKey>, revision: Option<i32>, title: Option<String>, vehicle: WhichVehicle,
        priority: i32, promised_at: Option<Instant>, with: Vec<OptionKey>, without: Vec<OptionKey>,
    }
    /// Says anew what was promised and how urgent the job is; `None` leaves as it is.
    PromiseJob { job: JobNo, priority: Option<i32>, promised_at: Option<Instant>, withdraw_promise: bool }
    /// Brings the job's vehicle into a bay, from outside or from another bay.
    AssignJob { job: JobNo, bay: BayKey, override_reason: Option<String> }
    /// Takes the job's vehicle outside.
    RollOut { job: JobNo, override_reason: Option<String> }
    /// Hands the job over. `overrides` names every line that a lead overrules; `override_reason` is for those that are named
    /// there without a reason of their own, and overrules nothing that is not named.
    CompleteJob { job: JobNo, override_reason: Option<String>, overrides: Vec<Override> }
    /// Calls the job off; `as_it_is` where the vehicle goes apart, or not as it should be.
    CancelJob { job: JobNo, reason: String, as_it_is: bool }
    /// Takes up again a job that was handed over or called off by mistake.
    ReopenJob { job: JobNo, reason: String }

    /// Adds a stage as the work goes. `after` empty with `after_last` set: after every stage
    /// that no other comes after.
    AddStage {
        job: JobNo, stage: Option<StageKey>, title: String, kind: StageKind, minutes: Minutes, bays: Vec<BayKind>,
        skills: Vec<String>, hands: i32, tools: Vec<String>, after: Vec<JobAfter>, after_last: bool,
        before: Vec<StageKey>, may_leave: bool, in_one_go: bool, steps: Vec<String>,
    }
    /// Adds a step as the work goes.
    AddStep {
        job: JobNo, stage: StageKey, instruction: String, tools: Vec<String>, shared_tools: Vec<ToolKey>,
        cautions: Vec<Caution>, needs: Vec<Need>,
        #[serde(skip_serializing_if = "Option::is_none")]
        follow_up: Option<String>,
        #[serde(skip_serializing_if = "StepSafety::is_empty")]
        safety: StepSafety,
    }
    /// Starts a stage and clocks on who starts it.
    StartStage { job: JobNo, stage: StageKey, override_reason: Option<String> }
    /// Finishes a stage and clocks off who is on it; `as_listed` ticks the steps that are left.
    FinishStage { job: JobNo, stage: StageKey, as_listed: bool }
    /// Leaves a stage out.
    SkipStage { job: JobNo, stage: StageKey, reason: String }
    /// Ticks steps; none named: all that are left, as listed. A hold point is passed only when it is named.
    TickSteps { job: JobNo, stage: StageKey, steps: Vec<StepNo>, override_reason: Option<String> }
    /// Leaves a step out.
    SkipStep { job: JobNo, stage: StageKey, step: StepNo, reason: String }
    /// Says what holds a stage up.
    RaiseBlocker {
        job: JobNo, stage: StageKey, cause: Cause, owner: Option<PersonId>, expected_at: Option<Instant>,
        note: Option<String>,
    }
    /// Says that it does no longer.
    ClearBlocker { job: JobNo, blocker: BlockerNo, note: Option<String> }
    /// Says who sees to it, and until when it is expected to last.
    OwnBlocker { job: JobNo, blocker: BlockerNo, owner: Option<PersonId>, expected_at: Option<Instant> }

    /// Clocks the acting person on; off whatever else that person is on.
    ClockOn { job: JobNo, stage: StageKey, override_reason: Option<String> }
    /// Clocks the acting person off.
    ClockOff { }
    /// Enters work late, with both ends; starts the stage at the first if nobody has.
    RecordWork {
        job: JobNo, stage: StageKey, from_at: Instant, until_at: Instant, override_reason: Option<String>,
    }

    /// Withdraws an entry of time, named by the fact that began it, and enters in its place what is said
    /// here; what is not said stays as it was.
    CorrectClocking {
        entry: i64, from_at: Option<Instant>, until_at: Option<Instant>, job: Option<JobNo>, stage: Option<StageKey>,
        reason: String, override_reason: Option<String>,
    }
    /// Withdraws an entry of time that should not be there at all.
    WithdrawClocking { entry: i64, reason: String }
    /// Takes back that a step was done or left out.
    ReopenStep { job: JobNo, stage: StageKey, step: StepNo, reason: String }
    /// Takes up again a stage that was finished or left out by mistake.
    ReopenStage { job: JobNo, stage: StageKey, reason: String }

    /// Takes off, moves aside or puts in; with `as_listed` all that is listed for the stage, or for one step of
    /// it, and was not said yet.
    TakeOff {
        job: JobNo, stage: StageKey, step: Option<StepNo>, lines: Vec<OffLine>, as_listed: bool,
        override_reason: Option<String>,
    }
    /// Adds a position that nobody had listed. `behind` unanswered: behind everything that came off in the stage so
    /// far. It is off at once, unless it is only noted for later.
    AddPosition {
        job: JobNo, stage: StageKey, position: Option<PositionKey>, what: String, kind: Option<PositionKind>,
        manner: Manner, count: i32, size: Option<String>, location: Option<String>, behind: Option<Vec<PositionKey>>,
        attached_to: Option<PositionKey>, keep: Option<Keep>, renew: Option<Renew>, back: Option<StageKey>,
        note: Option<String>, later: bool, tags: bool, item: Option<ItemKey>,
        #[serde(skip_serializing_if = "Fitting::is_empty")]
        fitting: Fitting,
    }
    /// Puts back, or takes out what was put in; with `as_listed` all that goes back in the stage.
    PutBack {
        job: JobNo, stage: StageKey, lines: Vec<BackLine>, as_listed: bool, override_reason: Option<String>,
    }
    /// Says that what is back is tighter now.
    TightenPositions { job: JobNo, positions: Vec<PositionKey>, tightness: Tightness }
    /// Looks at what somebody else put back.
    ConfirmPositions { job: JobNo, positions: Vec<PositionKey> }
    /// Takes back what was said last of a position: that it is back, else that it is off.
    ReopenPosition { job: JobNo, position: PositionKey, reason: String }
    /// Makes a position of its own of some places that are not alike the others: two longer bolts, a bent stud.
    SplitPosition {
        job: JobNo, position: PositionKey, part: Option<PositionKey>, what: Option<String>, count: i32,
        size: Option<String>, head: Option<String>, location: Option<String>,
    }
    /// Lets something soak before its turn, for so many minutes; 0 when it no longer does.
    SoakPosition { job: JobNo, position: PositionKey, minutes: i32 }
    /// Says what came of an attempt at something that will not move. No rung: the next of its ladder; no pieces: all
    /// that have not moved. From the last safe try on it needs a new one on the shelf (`item`, where the position names
    /// none) and a `plan` to get out what breaks. `blocked`: it holds its stage up.
    RecordAttempt {
        job: JobNo, position: PositionKey, rung: Option<i32>, outcome: Outcome, pieces: Option<i32>,
        item: Option<ItemKey>, plan: Option<String>, note: Option<String>, blocked: bool,
        override_reason: Option<String>,
    }

    /// Adds a reading that nobody had listed; with figures it is taken at once.
    AddReading {
        job: JobNo, stage: StageKey, step: Option<StepNo>, reading: Option<ReadingKey>, what: String,
        detail: ReadingDetail, figures: Vec<Measure>, instrument: Option<String>, note: Option<String>,
        #[serde(skip_serializing_if = "is_false")]
        sure: bool,
    }
    /// Takes a reading, in place of an earlier one if there was one. `sure`: a figure far from its limits is meant.
    RecordReading {
        job: JobNo, reading: ReadingKey, figures: Vec<Measure>, instrument: Option<String>, note: Option<String>,
        #[serde(skip_serializing_if = "is_false")]
        sure: bool,
    }
    /// Decides about a reading that is out of its limits.
    DecideReading { job: JobNo, reading: ReadingKey, decision: Decision, reason: String }
    /// Says something that is to stand on the job's hand-over sheet.
    MakeRemark { job: JobNo, what: RemarkKind, words: String }
    /// Withdraws a remark that was made by mistake.
    WithdrawRemark { job: JobNo, remark: RemarkNo, reason: String }

    /// Says in which states a vehicle is.
    SetVehicleStates { job: JobNo, states: Vec<VehicleState>, reason: Option<String> }
    /// Says how much of a fluid came out or went in, in millilitres; `unlisted` of one that the job does not list.
    RecordFluid { job: JobNo, fluid: FluidKey, drained_ml: i64, filled_ml: i64, note: Option<String>, unlisted: bool }
    /// Takes back what was said of a fluid: what went in, else what came out.
    ReopenFluid { job: JobNo, fluid: FluidKey, reason: String }
    /// Wants to do a step in another way than the book's, which is not safe here.
    ProposeWay { job: JobNo, stage: StageKey, step: StepNo, way: String, reason: String }
    /// Approves of another way, or does not.
    DecideWay { job: JobNo, stage: StageKey, step: StepNo, approved: bool, note: Option<String> }
    /// Calls the lead to a stage, which waits; without one to the stage that the person is clocked on to.
    CallLead { job: Option<JobNo>, stage: Option<StageKey>, note: Option<String> }
    /// Says where a vehicle was during a stay, and when, when that was said wrongly. The stay is named by the
    /// fact that began it; the job's last one without.
    CorrectStay {
        job: JobNo, stay: Option<i64>, bay: Option<BayKey>, from_at: Option<Instant>, until_at: Option<Instant>,
        reason: String,
    }

    /// Lists a shared tool; `calibration_due` is the last local day on which its calibration counts.
    AddTool { tool: ToolKey, name: String, what: Option<String>, calibration_due: Option<String> }
    /// Says anew what a shared tool is, and until when its calibration counts; a retired one is in use again.
    DescribeTool { tool: ToolKey, name: Option<String>, what: Change<String>, calibration_due: Change<String> }
    /// Takes a shared tool out of use.
    RetireTool { tool: ToolKey, reason: String }
    /// Lends a shared tool: to a job, perhaps to one of its stages, to the job whose vehicle is in a bay, or to a
    /// person. With `hand_on` whoever has it gives it away; without, it must be free.
    LendTool {
        tool: ToolKey, job: Option<JobNo>, stage: Option<StageKey>, bay: Option<BayKey>, person: Option<PersonId>,
        hand_on: bool,
    }
    /// Says that a shared tool came back.
    ReturnTool { tool: ToolKey }
    /// Takes back what was said last of a shared tool: that it came back, else that it was lent.
    ReopenLoan { tool: ToolKey, reason: String }

    /// Lists an item.
    AddItem { item: ItemKey, name: String, unit: Unit, #[serde(skip_serializing_if = "Option::is_none")] fluid: Option<ItemFluid> }
    /// Says which fluid an item is; none: it is none, or nobody says which.
    SetItemFluid { item: ItemKey, fluid: Option<ItemFluid> }
    /// Lists a bin.
    AddPlace { place: PlaceKey, name: String }
    /// Takes over an opening stock from CSV: every row or none.
    ImportStock { csv: String }
    /// Books a delivery into a bin.
    ReceiveStock { item: ItemKey, place: PlaceKey, quantity: Quantity, expires_on: Option<String> }
    /// Reserves all that a job, or one of its stages, still needs.
    ReserveStock { job: JobNo, stage: Option<StageKey> }
    /// Sets a fill aside for a job, out of an item: one step says what goes in. `drawn_ml` is how much is drawn where that
    /// goes by packs, `stage` where a step is added when none of the job fills the fluid.
    SetFillAside {
        job: JobNo, stage: Option<StageKey>, fluid: FluidKey, item: ItemKey, recipe: String, millilitres: i64,
        mixture: Option<Mixture>, drawn_ml: Option<i64>, cautions: Vec<Caution>, asked: String,
    }
    /// Gives reserved goods to a job; with a quantity, exactly that much of the item.
    IssueStock { job: JobNo, stage: Option<StageKey>, item: Option<ItemKey>, quantity: Option<Quantity> }
    /// Takes goods back from a job into a bin.
    ReturnStock { job: JobNo, item: ItemKey, quantity: Quantity, place: PlaceKey }
    /// Gives up reservations and shortages of a job.
    ReleaseStock { job: JobNo, stage: Option<StageKey>, item: Option<ItemKey> }
    /// Says what was counted at a place.
    CountStock { item: ItemKey, place: PlaceKey, counted: Quantity, reason: String }
    /// Throws stock away.
    ScrapStock { item: ItemKey, place: PlaceKey, quantity: Quantity, reason: String }
    /// Lists a supplier, or says it anew: what is said here holds from now on.
    SetSupplier { supplier: SupplierKey, name: String, rounds: Vec<Round> }
    /// Says from which supplier an item comes; none: from nobody in particular.
    SetItemSupplier { item: ItemKey, supplier: Option<SupplierKey> }
    /// Takes down what somebody was told about a job, and what was promised with it. Nobody named: its customer.
    RecordTold { job: JobNo, whom: Option<String>, words: String, promised_at: Option<Instant> }
    /// Withdraws what was taken down by mistake.
    WithdrawTold { job: JobNo, told: ToldNo, reason: String }

    /// Asks a lead to correct an entry of one's own time that is no longer one's own to correct; with `withdraw` the entry
    /// is to go altogether. What is not said stays as entered.
    AskCorrection {
        entry: i64, from_at: Option<Instant>, until_at: Option<Instant>, job: Option<JobNo>, stage: Option<StageKey>,
        withdraw: bool, reason: String,
    }
    /// Decides about a correction that was asked for: takes it, under the rules of a lead's own, or leaves the entry as it
    /// is. Whoever asked may take the question back.
    DecideCorrection { job: JobNo, ask: AskNo, take: bool, reason: String, override_reason: Option<String> }

    /// Accepts a plan that was made at the journal's number `made_n`, of the moment `made_at`. `even_if_outdated`: what has
    /// moved since does not matter, as far as it can still be done; stages that are over are left out.
    AcceptPlan {
        made_n: i64, made_at: Instant, stages: Vec<PlannedStage>, visits: Vec<BayVisit>, jobs: Vec<PlannedJob>,
        even_if_outdated: bool,
    }
    /// Decides for every plan where, by whom, and from when on a stage is done; in place of what was decided before.
    PinStage { job: JobNo, stage: StageKey, bay: Option<BayKey>, people: Vec<PersonId>, from_at: Option<Instant> }
    /// Leaves all of a stage to the plan again.
    UnpinStage { job: JobNo, stage: StageKey }
    /// Lets a person be planned for in that time, whether the shop is open or not.
    OpenOvertime { person: PersonId, from_at: Instant, until_at: Instant }
    /// Ends a person's overtime that is open at that time, or takes it back where it has not begun.
    CloseOvertime { person: PersonId, at: Instant }

    /// What has become true by time alone; sent by the timer.
    Tick { }
}
