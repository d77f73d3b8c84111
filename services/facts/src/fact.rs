//! What happened. A fact carries outcomes (the lot chosen, the windows resolved), never inputs
//! to be decided again, so that an old journal keeps meaning the same.

use crate::calendar::{CalendarChange, Resolved};
use crate::fluid::ItemFluid;
use crate::ids::{
    AskNo, AttemptNo, BayKey, BlockerNo, ClockingId, CustomerId, FluidKey, ItemKey, JobNo, LoanId, LotId, OptionKey,
    PersonId, PlaceKey, PositionKey, PrincipalId, ReadingKey, RemarkNo, ReservationId, ShortageId, StageKey, StayId,
    StepNo, SupplierKey, TemplateKey, TextId, TokenId, ToldNo, ToolKey, VehicleId,
};
use crate::instant::Instant;
pub use crate::job::{JobAfter, JobStage, JobStep, WantedTime, Wanter, Wording};
use crate::plan::{BayVisit, PlannedJob, PlannedStage};
use crate::quantity::{Quantity, Unit};
use crate::reading::{JobReading, Measure, OffLimit, Overruled};
use crate::safety::Fill;
use crate::strip::JobPosition;
use crate::supplier::Round;
use crate::template::{Caution, Need, Template};
use crate::text::TextRef;
use crate::words::{
    BayKind, Cause, Decision, Keep, LeaveReason, MoveReason, Outcome, PlaceKind, ProofKind, RemarkKind,
    ReservationChange, Role, Tightness, VehicleState, Verdict,
};
use serde::{Deserialize, Serialize};

/// One fact. Fields are named by their types; what is not is said above the kind.
#[allow(missing_docs, reason = "fields are named by their types")]
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", content = "body", rename_all = "snake_case")]
pub enum Fact {
    /// The shop began to keep its books here. Makes the contra places.
    ShopOpened { name: TextRef, zone: String },
    /// Hours, a day or a shift was set; the windows were resolved. `person` is nobody for the
    /// shop's own hours.
    CalendarSet { revision: i32, change: CalendarChange, person: Option<PersonId>, resolved: Resolved },
    /// A bay was added.
    BayAdded { bay: BayKey, name: String, bay_kind: BayKind, rated_kg: i32 },
    /// A person was added.
    PersonAdded { person: PersonId, name: TextRef, skills: Vec<String> },
    /// A person's name was mistyped; it is this, and the one before, `erased`, is gone.
    PersonRenamed { person: PersonId, name: TextRef, erased: Vec<TextId>, reason: TextRef },
    /// What a bay is and bears was said wrongly; it is this, and was all along.
    BayCorrected { bay: BayKey, bay_kind: BayKind, rated_kg: i32, reason: TextRef },
    /// A person's skills were set anew.
    SkillsSet { person: PersonId, skills: Vec<String> },
    /// A lead said how many vehicles may stand outside between stages, and how long it takes to roll one out or to bring it
    /// into a bay.
    YardSet { places_outside: i32, moving_minutes: i32 },
    /// A person was forgotten: these texts are gone.
    PersonForgotten { person: PersonId, texts: Vec<TextId> },
    /// A token was issued; `hash` is the SHA-256 of the secret in hexadecimal.
    TokenIssued {
        token: TokenId,
        principal: PrincipalId,
        person: Option<PersonId>,
        label: Option<TextRef>,
        role: Role,
        prefix: String,
        hash: String,
        expires_at: Option<Instant>,
    },
    /// A token was revoked.
    TokenRevoked { token: TokenId },
    /// A token was replaced by another of the same principal, and ends earlier than it would have.
    TokenLimited { token: TokenId, expires_at: Instant },
    /// A badge code was made for a person; `hash` is the SHA-256 of the code in hexadecimal. `role` is
    /// what the person may do when signed in with it.
    BadgeSet { person: PersonId, role: Role, hash: String },
    /// A PIN was set for a person. A PIN can be guessed, so its slow hash is an erasable text; the one of
    /// the PIN before, `erased`, is gone.
    PinSet { person: PersonId, role: Role, secret: TextRef, erased: Option<TextId> },
    /// A badge code or PIN counts no longer; `erased` is the text of a PIN.
    ProofWithdrawn { person: PersonId, proof: ProofKind, erased: Option<TextId> },
    /// A person signed in at a device, whose token is `device` and whose principal acts from here on.
    /// `hash` is the SHA-256 of the session's secret in hexadecimal.
    SignedIn {
        session: TokenId,
        device: TokenId,
        principal: PrincipalId,
        person: PersonId,
        role: Role,
        proof: ProofKind,
        prefix: String,
        hash: String,
        expires_at: Instant,
    },
    /// A session was ended before its time.
    SignedOut { session: TokenId },

    /// A template's revision was published; it never changes afterwards.
    TemplatePublished { revision: i32, template: Template },

    /// A vehicle became known to the shop.
    VehicleAdded { vehicle: VehicleId, label: TextRef, weight_kg: Option<i32> },
    /// A vehicle's label, plate, weight and customer are as said here; the words that were there before,
    /// `erased`, are gone.
    VehicleDescribed {
        vehicle: VehicleId,
        label: TextRef,
        plate: Option<TextRef>,
        weight_kg: Option<i32>,
        customer: Option<CustomerId>,
        erased: Vec<TextId>,
    },
    /// A customer was added. `about` is the note; it is not called so because it belongs to the customer
    /// and not to whoever typed it.
    CustomerAdded { customer: CustomerId, name: TextRef, contact: Option<TextRef>, about: Option<TextRef> },
    /// A customer's words are as said here; those that were there before, `erased`, are gone.
    CustomerEdited {
        customer: CustomerId,
        name: TextRef,
        contact: Option<TextRef>,
        about: Option<TextRef>,
        erased: Vec<TextId>,
    },
    /// A customer was forgotten: these texts are gone, and the vehicles are nobody's.
    CustomerForgotten { customer: CustomerId, texts: Vec<TextId> },
    /// Whose job it is.
    JobCustomerSet { job: JobNo, customer: Option<CustomerId> },
    /// A job was opened with its stages as the options leave them. Makes the job's place.
    JobOpened {
        job: JobNo,
        template: Option<TemplateKey>,
        revision: Option<i32>,
        title: Wording,
        vehicle: VehicleId,
        priority: i32,
        promised_at: Option<Instant>,
        options: Vec<OptionKey>,
        stages: Vec<JobStage>,
        /// The job before of the vehicle, where that was called off with the vehicle apart.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        came_apart: Option<JobNo>,
    },
    /// What was promised, or how urgent the job is, changed.
    JobPromised { job: JobNo, priority: i32, promised_at: Option<Instant> },
    /// A vehicle came into a bay.
    VehiclePlaced { stay: StayId, bay: BayKey, vehicle: VehicleId, job: JobNo },
    /// A vehicle left a bay; `overridden` is the lead's reason when the template did not let it.
    VehicleLeft {
        stay: StayId,
        bay: BayKey,
        vehicle: VehicleId,
        job: JobNo,
        why: LeaveReason,
        overridden: Option<TextRef>,
    },
    /// A vehicle's stay was in that bay and at that time; what was said about it before was wrong.
    StayCorrected {
        stay: StayId,
        bay: BayKey,
        vehicle: VehicleId,
        job: JobNo,
        from_at: Instant,
        until_at: Option<Instant>,
        reason: TextRef,
    },
    /// A job was handed over; `lines` names all that was open and a lead overruled, each with the reason that it went
    /// with. `overridden` is one reason for all of it, as it could be given once.
    JobCompleted {
        job: JobNo,
        overridden: Option<TextRef>,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        lines: Vec<Overruled>,
    },
    /// A job was called off; `apart` where its vehicle went apart, or not as it has to be, on a lead's word.
    JobCancelled {
        job: JobNo,
        reason: TextRef,
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        apart: bool,
    },
    /// A job that was handed over or called off by mistake goes on.
    JobReopened { job: JobNo, reason: TextRef },

    /// A stage was added as the work went, perhaps in front of others that had not started.
    StageAdded { job: JobNo, stage: JobStage, before: Vec<StageKey> },
    /// Everything that comes before a stage is finished; it may start at `ready_at`, which is
    /// later than now when a planned wait has to pass.
    StageReady { job: JobNo, stage: StageKey, ready_at: Instant, waits: bool },
    /// A stage that was ready got a predecessor again.
    StageHeld { job: JobNo, stage: StageKey },
    /// A planned wait in front of a stage is over.
    WaitPassed { job: JobNo, stage: StageKey },
    /// A stage was started; `overridden` is the lead's reason when something stood against it.
    StageStarted { job: JobNo, stage: StageKey, person: Option<PersonId>, overridden: Option<TextRef> },
    /// A stage was finished.
    StageFinished { job: JobNo, stage: StageKey, person: Option<PersonId> },
    /// A stage was left out.
    StageSkipped { job: JobNo, stage: StageKey, reason: TextRef },
    /// A step was done; a hold point was passed, by this person. `overridden` is the lead's reason when the vehicle was not
    /// in a state that it needs, or a hold point before it was not passed.
    StepDone {
        job: JobNo,
        stage: StageKey,
        step: StepNo,
        person: Option<PersonId>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        overridden: Option<TextRef>,
    },
    /// A step was left out.
    StepSkipped { job: JobNo, stage: StageKey, step: StepNo, reason: TextRef },
    /// A step was added as the work went.
    StepAdded { job: JobNo, stage: StageKey, step: JobStep },
    /// Something holds a stage up. `step` and `item` are set when a shortage raised it, `reading` when one that is out
    /// of its limits did, `step` and `tool` when a shared tool that is elsewhere did.
    BlockerRaised {
        job: JobNo,
        blocker: BlockerNo,
        stage: StageKey,
        cause: Cause,
        owner: Option<PersonId>,
        expected_at: Option<Instant>,
        note: Option<TextRef>,
        step: Option<StepNo>,
        item: Option<ItemKey>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reading: Option<ReadingKey>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tool: Option<ToolKey>,
    },
    /// What held a stage up is gone.
    BlockerCleared { job: JobNo, blocker: BlockerNo, note: Option<TextRef> },
    /// Somebody sees to what holds a stage up from now on, or nobody; and until when it is expected to last.
    BlockerOwned { job: JobNo, blocker: BlockerNo, owner: Option<PersonId>, expected_at: Option<Instant> },

    /// A person began to work on a stage; `overridden` is the lead's reason when the person lacks a
    /// skill that the stage asks for.
    ClockedOn { clocking: ClockingId, person: PersonId, job: JobNo, stage: StageKey, overridden: Option<TextRef> },
    /// A person stopped working on a stage.
    ClockedOff { clocking: ClockingId, person: PersonId, job: JobNo, stage: StageKey },
    /// Work entered late with both ends; `overridden` as for clocking on.
    WorkRecorded {
        clocking: ClockingId,
        person: PersonId,
        job: JobNo,
        stage: StageKey,
        from_at: Instant,
        until_at: Instant,
        overridden: Option<TextRef>,
    },

    /// A person's time was entered wrongly: it counts no longer. `replaced_by` is what was entered in its
    /// place.
    ClockingWithdrawn {
        clocking: ClockingId,
        person: PersonId,
        job: JobNo,
        stage: StageKey,
        reason: TextRef,
        replaced_by: Option<ClockingId>,
    },
    /// A step that was done or left out is to be done after all.
    StepReopened { job: JobNo, stage: StageKey, step: StepNo, reason: TextRef },
    /// A stage goes on that was finished or left out by mistake: under way again if it had been started,
    /// else still to be started. `ready_at` is from when it counts as ready; nothing, when that has yet to
    /// be said.
    StageReopened { job: JobNo, stage: StageKey, ready_at: Option<Instant>, reason: TextRef },

    /// A position was met that nobody had listed.
    PositionAdded { job: JobNo, stage: StageKey, position: JobPosition },
    /// A position came off, was moved aside or was put in: so many pieces were there, so many places were empty
    /// before anybody began, so many pieces were damaged or broke.
    PositionOff {
        job: JobNo,
        position: PositionKey,
        person: Option<PersonId>,
        found: i32,
        missing: i32,
        damaged: i32,
        keep: Option<Keep>,
        kept_at: Option<TextRef>,
        note: Option<TextRef>,
        /// An earlier repair that was found on it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        repair: Option<TextRef>,
        /// What stood against it and a lead overruled, each with the reason.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        overruled: Vec<Overruled>,
    },
    /// So many places of a position are as they have to be again: with the piece that came off, with a new one, or
    /// left empty; and so many pieces that came off were thrown away or kept. What was put in came out.
    PositionBack {
        job: JobNo,
        position: PositionKey,
        person: Option<PersonId>,
        refitted: i32,
        renewed: i32,
        left_out: i32,
        scrapped: i32,
        kept: i32,
        tightness: Tightness,
        reason: Option<TextRef>,
        /// What stood against it and a lead overruled, each with the reason.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        overruled: Vec<Overruled>,
    },
    /// What is back was tightened further.
    PositionTightened { job: JobNo, position: PositionKey, person: Option<PersonId>, tightness: Tightness },
    /// Somebody else looked at what is back and found it right.
    PositionChecked { job: JobNo, position: PositionKey, person: PersonId },
    /// What was said of a position was wrong: that it is back, or, where nothing is back, that it is off.
    PositionReopened { job: JobNo, position: PositionKey, reason: TextRef },
    /// What came off was counted wrongly; all else that was said of it stays.
    PositionRecounted {
        job: JobNo,
        position: PositionKey,
        person: Option<PersonId>,
        found: i32,
        missing: i32,
        damaged: i32,
        reason: TextRef,
    },
    /// Some places of a position are not alike the others: `part` is a position of its own from here on, with so
    /// many places fewer in the first. Whatever lies behind the first lies behind both.
    PositionSplit { job: JobNo, position: PositionKey, part: JobPosition },
    /// Something soaks until then; no time when it no longer does.
    PositionSoaked { job: JobNo, position: PositionKey, person: Option<PersonId>, until_at: Option<Instant> },
    /// Somebody tried to get something out that will not move, by a rung of its ladder: so many pieces, and what came
    /// of it. `plan` says how it is got out should it break; `overridden` is the lead's reason when something stood
    /// against the attempt.
    AttemptRecorded {
        job: JobNo,
        position: PositionKey,
        attempt: AttemptNo,
        person: Option<PersonId>,
        rung: i32,
        measure: String,
        last_safe: bool,
        outcome: Outcome,
        pieces: i32,
        plan: Option<TextRef>,
        note: Option<TextRef>,
        overridden: Option<TextRef>,
    },

    /// A reading was added that nobody had listed.
    ReadingAdded { job: JobNo, stage: StageKey, reading: JobReading },
    /// A reading was taken, in place of an earlier one if there was one; how it came out by its limits, and which of
    /// them it did not keep.
    ReadingTaken {
        job: JobNo,
        reading: ReadingKey,
        person: Option<PersonId>,
        figures: Vec<Measure>,
        verdict: Verdict,
        off_limits: Vec<OffLimit>,
        instrument: Option<TextRef>,
        note: Option<TextRef>,
    },
    /// A lead decided about a reading that is out of its limits.
    ReadingDecided { job: JobNo, reading: ReadingKey, person: PersonId, decision: Decision, reason: TextRef },
    /// Something was said of a job that stands on its hand-over sheet.
    RemarkMade { job: JobNo, remark: RemarkNo, person: Option<PersonId>, what: RemarkKind, words: TextRef },
    /// A remark was made by mistake.
    RemarkWithdrawn { job: JobNo, remark: RemarkNo, reason: TextRef },

    /// A shared tool was listed; `calibration_due` is the last local day on which its calibration counts.
    ToolAdded { tool: ToolKey, name: String, what: Option<String>, calibration_due: Option<String> },
    /// A shared tool is as said here; one that was retired is in use again.
    ToolDescribed { tool: ToolKey, name: String, what: Option<String>, calibration_due: Option<String> },
    /// A shared tool is used no longer.
    ToolRetired { tool: ToolKey, reason: TextRef },
    /// A shared tool was lent: to a stage of a job or the whole of it, in the bay where its vehicle stood, or to a
    /// person.
    ToolLent {
        loan: LoanId,
        tool: ToolKey,
        job: Option<JobNo>,
        stage: Option<StageKey>,
        bay: Option<BayKey>,
        person: Option<PersonId>,
    },
    /// A shared tool came back.
    ToolReturned { loan: LoanId, tool: ToolKey },
    /// What was said last of a shared tool was wrong: that it came back, or, where it had not, that it was lent.
    LoanReopened { loan: LoanId, tool: ToolKey, reason: TextRef },

    /// A vehicle is in a state now, and was in another before; by a step that was ticked or taken back, or by word of
    /// mouth.
    VehicleStateSet {
        job: JobNo,
        state: VehicleState,
        before: VehicleState,
        person: Option<PersonId>,
        stage: Option<StageKey>,
        step: Option<StepNo>,
        reason: Option<TextRef>,
    },
    /// So much of a fluid came out, or went in.
    FluidRecorded {
        job: JobNo,
        fluid: FluidKey,
        person: Option<PersonId>,
        drained_ml: i64,
        filled_ml: i64,
        note: Option<TextRef>,
    },
    /// What goes in of a fluid was reckoned: the step that fills it says and takes that in the place of what it took.
    FillReckoned { job: JobNo, stage: StageKey, step: StepNo, fill: Fill, needs: Vec<Need>, cautions: Vec<Caution> },
    /// What was said of a fluid was wrong: what went in, or, where nothing did, what came out.
    FluidReopened { job: JobNo, fluid: FluidKey, reason: TextRef },
    /// Somebody wants to do a step in another way than the book's, which is not safe here; `note` is the other way,
    /// `reason` why.
    WayProposed { job: JobNo, stage: StageKey, step: StepNo, person: Option<PersonId>, note: TextRef, reason: TextRef },
    /// A lead approved of another way, or did not.
    WayDecided { job: JobNo, stage: StageKey, step: StepNo, person: PersonId, approved: bool, note: Option<TextRef> },

    /// An item was listed.
    ItemAdded { item: ItemKey, name: String, unit: Unit },
    /// A place for stock was listed.
    PlaceAdded { place: PlaceKey, place_kind: PlaceKind, name: String },
    /// A lot came to be.
    LotMade { lot: LotId, item: ItemKey, expires_on: Option<String> },
    /// A lot's expiry passed: what is left of it counts no longer as usable.
    LotExpired { lot: LotId, item: ItemKey },
    /// Stock moved from one place to another.
    Moved {
        item: ItemKey,
        lot: LotId,
        from_place: PlaceKey,
        to_place: PlaceKey,
        quantity: Quantity,
        why: MoveReason,
        wanter: Option<Wanter>,
        reason: Option<TextRef>,
    },
    /// A step's need was put on the list: `wanted` in all.
    DemandSet { wanter: Wanter, item: ItemKey, wanted: Quantity },
    /// A quantity at a place was set aside for a step.
    Reserved { reservation: ReservationId, wanter: Wanter, item: ItemKey, place: PlaceKey, quantity: Quantity },
    /// A reservation shrank to `left`; at 0 it is over.
    ReservationReduced {
        reservation: ReservationId,
        wanter: Wanter,
        item: ItemKey,
        place: PlaceKey,
        left: Quantity,
        why: ReservationChange,
    },
    /// A step needs what nobody has promised.
    ShortageOpened { shortage: ShortageId, wanter: Wanter, item: ItemKey, quantity: Quantity },
    /// A shortage changed to `left`; at 0 it is over.
    ShortageChanged { shortage: ShortageId, wanter: Wanter, item: ItemKey, left: Quantity },

    /// A supplier is as said here: listed now, or said anew.
    SupplierSet { supplier: SupplierKey, name: String, rounds: Vec<Round> },
    /// An item comes from that supplier from here on; no supplier: from nobody in particular.
    ItemSupplierSet { item: ItemKey, supplier: Option<SupplierKey> },
    /// An item is that fluid from here on; none: it is no fluid, or nobody says which.
    ItemFluidSet { item: ItemKey, fluid: Option<ItemFluid> },

    /// Somebody was told something about a job: its customer, or whoever `whom` says. `promised_at` is the time that
    /// was promised with it.
    SomebodyTold {
        job: JobNo,
        told: ToldNo,
        person: Option<PersonId>,
        customer: Option<CustomerId>,
        whom: Option<TextRef>,
        words: TextRef,
        promised_at: Option<Instant>,
    },
    /// It was not told so.
    ToldWithdrawn { job: JobNo, told: ToldNo, reason: TextRef },

    /// A person asked a lead to correct an entry of their time: as `wanted` says, or gone altogether.
    CorrectionAsked {
        job: JobNo,
        ask: AskNo,
        clocking: ClockingId,
        entry: i64,
        person: PersonId,
        wanted: Option<WantedTime>,
        reason: TextRef,
    },
    /// Somebody decided about it: it was corrected as asked, or it stays as it is.
    CorrectionDecided { job: JobNo, ask: AskNo, by: Option<PersonId>, taken: bool, reason: TextRef },

    /// A lead accepted a plan that was made at the journal's number `made_n`, of the moment `made_at`. It takes the place
    /// of the one before.
    PlanAccepted {
        made_n: i64,
        made_at: Instant,
        stages: Vec<PlannedStage>,
        visits: Vec<BayVisit>,
        jobs: Vec<PlannedJob>,
    },
    /// A lead decided where, by whom, and from when on a stage is done. It takes the place of what was decided before;
    /// what is left out is for the plan to say.
    StagePinned { job: JobNo, stage: StageKey, bay: Option<BayKey>, people: Vec<PersonId>, from_at: Option<Instant> },
    /// All of a stage is for the plan to say again.
    StageUnpinned { job: JobNo, stage: StageKey },
    /// A person may be planned for in that time, whether the shop is open or not.
    OvertimeOpened { person: PersonId, from_at: Instant, until_at: Instant },
    /// The overtime that began, or was to begin, at that time ends now; what had not begun is gone.
    OvertimeClosed { person: PersonId, from_at: Instant },
}
