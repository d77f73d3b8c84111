//! The rows that facts add up to, one struct a table, columns by name.
//!
//! The shop is not a field: it leads every key in the database and comes from the transaction.
//! `n` columns hold journal numbers, so that every figure can be traced to its facts.

use crate::calendar::CalendarChange;
use crate::fluid::ItemFluid;
use crate::ids::{
    AskNo, AttemptNo, BayKey, BlockerNo, ClockingId, CustomerId, FluidKey, ItemKey, JobNo, LoanId, LotId, OptionKey,
    PersonId, PlaceKey, PositionKey, PrincipalId, ReadingKey, RemarkNo, ReservationId, ShortageId, StageKey, StayId,
    StepNo, SupplierKey, TemplateKey, TextId, TokenId, ToldNo, ToolKey, VehicleId,
};
use crate::instant::Instant;
use crate::plan::{HangsOn, Nowhere};
use crate::quantity::{Quantity, Unit};
use crate::reading::{Measure, OffLimit, OverruledLine, ReadingDetail};
use crate::safety::StepSafety;
use crate::strip::PositionDetail;
use crate::supplier::Round;
use crate::template::{Caution, Need, Template};
use crate::words::{
    BayKind, Cause, Decision, Feature, JobState, Keep, LeaveReason, MoveReason, Outcome, PlaceKind, ProofKind,
    RemarkKind, Role, StageKind, StageState, StepState, Tightness, VehicleState, Verdict,
};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

/// A row of a derived table.
pub trait Row: Clone + PartialEq + std::fmt::Debug + Serialize + DeserializeOwned {
    /// The table's name.
    const TABLE: &'static str;
    /// The key within the shop.
    type Key: Clone + Ord + std::fmt::Debug + Serialize + DeserializeOwned;
    /// This row's key.
    fn key(&self) -> Self::Key;
}

macro_rules! rows {
    ($($(#[$doc:meta])* $name:ident in $table:literal by ($($key:ident: $kty:ty),*) {
        $($field:ident: $ty:ty),+ $(,)?
    })+) => {
        $(
            $(#[$doc])*
            #[allow(missing_docs, reason = "columns are named by their types and the facts that set them")]
            #[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
            pub struct $name { $(pub $field: $ty,)+ }

            impl Row for $name {
                const TABLE: &'static str = $table;
                type Key = ($($kty,)*);
                #[allow(clippy::unused_unit, reason = "the shop's own row has no key within the shop")]
                fn key(&self) -> Self::Key { ($(self.$key.clone(),)*) }
            }
        )+

        /// Calls a macro with every row type, so that no table is forgotten:
        /// `each_row!(m)` gives `m! { ShopRow, ... }`.
        #[macro_export]
        macro_rules! each_row {
            ($then:ident) => { $then! { $($name),+ } };
        }

        /// Every derived table.
        pub const TABLES: &[&str] = &[$($table,)+];
    };
}

rows! {
    /// The shop itself; one row.
    ShopRow in "shop" by () {
        name: TextId, zone: String, calendar_revision: i32, last_job: i64, opened_at: Instant, opened_n: i64,
        places_outside: i32, moving_minutes: i32,
    }
    /// A text that facts refer to; its words lie elsewhere.
    TextRow in "text_ref" by (text: TextId) {
        text: TextId, hash: String, erased_n: Option<i64>,
    }
    /// What was said about the calendar.
    CalendarRow in "calendar" by (revision: i32) {
        revision: i32, change: CalendarChange, person: Option<PersonId>, from_at: Instant, until_at: Instant, set_n: i64,
    }
    /// The shop is open.
    OpenWindowRow in "open_window" by (from_at: Instant) {
        from_at: Instant, until_at: Instant, set_n: i64,
    }
    /// A person is on shift.
    ShiftWindowRow in "shift_window" by (person: PersonId, from_at: Instant) {
        person: PersonId, from_at: Instant, until_at: Instant, set_n: i64,
    }
    /// A bay.
    BayRow in "bay" by (bay: BayKey) {
        bay: BayKey, name: String, kind: BayKind, rated_kg: i32, added_n: i64,
    }
    /// A person.
    PersonRow in "person" by (person: PersonId) {
        person: PersonId, name: TextId, skills: Vec<String>, forgotten: bool, added_n: i64,
    }
    /// A token.
    TokenRow in "token" by (token: TokenId) {
        token: TokenId, principal: PrincipalId, person: Option<PersonId>, label: Option<TextId>, role: Role,
        prefix: String, hash: String, issued_at: Instant, expires_at: Option<Instant>, revoked_at: Option<Instant>,
        issued_n: i64,
    }
    /// What shows who a person is at a device: a badge code by its hash, a PIN by an erasable text. Counts
    /// while `withdrawn_at` is empty; `set_n` names the one that was set last.
    ProofRow in "proof" by (person: PersonId, proof: ProofKind) {
        person: PersonId, proof: ProofKind, role: Role, hash: Option<String>, secret: Option<TextId>,
        set_at: Instant, set_n: i64, withdrawn_at: Option<Instant>,
    }
    /// A person's session at a device. `proof_n` is the `set_n` of what the person showed: when that is
    /// replaced or withdrawn, the session is over.
    SignInRow in "sign_in" by (session: TokenId) {
        session: TokenId, device: TokenId, principal: PrincipalId, person: PersonId, role: Role, proof: ProofKind,
        proof_n: i64, prefix: String, hash: String, begun_at: Instant, expires_at: Instant,
        ended_at: Option<Instant>, begun_n: i64,
    }
    /// A published revision of a template.
    TemplateRow in "template_revision" by (template: TemplateKey, revision: i32) {
        template: TemplateKey, revision: i32, title: String, doc: Template, published_at: Instant, published_n: i64,
    }
    /// A vehicle.
    VehicleRow in "vehicle" by (vehicle: VehicleId) {
        vehicle: VehicleId, label: TextId, plate: Option<TextId>, weight_kg: Option<i32>,
        customer: Option<CustomerId>, added_n: i64,
    }
    /// A customer.
    CustomerRow in "customer" by (customer: CustomerId) {
        customer: CustomerId, name: TextId, contact: Option<TextId>, about: Option<TextId>, forgotten: bool,
        added_n: i64,
    }
    /// A job. `version` is the journal number of the last fact about it.
    JobRow in "job" by (job: JobNo) {
        job: JobNo, template: Option<TemplateKey>, revision: Option<i32>, title: Option<String>,
        title_text: Option<TextId>, vehicle: VehicleId, customer: Option<CustomerId>, priority: i32,
        promised_at: Option<Instant>, state: JobState,
        options: Vec<OptionKey>, opened_at: Instant, closed_at: Option<Instant>, reason: Option<TextId>,
        last_blocker: i32, last_stage: i32, overridden: Option<TextId>, overruled: Vec<OverruledLine>, version: i64,
        apart: bool, came_apart: Option<JobNo>,
    }
    /// A vehicle's stay in a bay; open while `until_at` is empty.
    StayRow in "stay" by (stay: StayId) {
        stay: StayId, bay: BayKey, vehicle: VehicleId, job: JobNo, from_at: Instant, until_at: Option<Instant>,
        why_left: Option<LeaveReason>, from_n: i64, until_n: Option<i64>,
    }
    /// A stage of a job. It lives from `ready_at` to `ended_at`.
    StageRow in "stage" by (job: JobNo, stage: StageKey) {
        job: JobNo, stage: StageKey, ordinal: i32, title: Option<String>, title_text: Option<TextId>, kind: StageKind,
        low: i32, likely: i32, high: i32, bays: Vec<BayKind>, skills: Vec<String>, hands: i32, tools: Vec<String>,
        may_leave: bool, in_one_go: bool, unplanned: bool, state: StageState, ready_at: Option<Instant>, ready_n: Option<i64>,
        waiting: bool, started_at: Option<Instant>, started_n: Option<i64>, ended_at: Option<Instant>,
        ended_n: Option<i64>, reason: Option<TextId>, last_step: i32,
    }
    /// A predecessor of a stage.
    AfterRow in "stage_after" by (job: JobNo, stage: StageKey, after: StageKey) {
        job: JobNo, stage: StageKey, after: StageKey, wait_minutes: i32,
    }
    /// A step of a stage.
    StepRow in "step" by (job: JobNo, stage: StageKey, step: StepNo) {
        job: JobNo, stage: StageKey, step: StepNo, instruction: Option<String>, instruction_text: Option<TextId>,
tools: Vec<String>, shared_tools: Vec<ToolKey>, cautions: Vec<Caution>, needs: Vec<Need>, follow_up: Option<String>, safety: StepSafety, unplanned: bool,
        fits: Option<PositionKey>, state: StepState,
        done_at: Option<Instant>, done_by: Option<PersonId>, done_n: Option<i64>, reason: Option<TextId>,
        overridden: Option<TextId>,
    }
    /// The state of a vehicle during a job, of each feature of which something was said. `stage` and `step` name the step
    /// that brought it about; `before` is what it was.
    VehicleStateRow in "vehicle_state" by (job: JobNo, feature: Feature) {
        job: JobNo, feature: Feature, state: VehicleState, before: VehicleState, person: Option<PersonId>,
        stage: Option<StageKey>, step: Option<StepNo>, reason: Option<TextId>, set_at: Instant, set_n: i64,
    }
    /// A fluid of a vehicle: what should come out, what did, and what went in. Of one that nobody listed only the amounts
    /// are known.
    FluidRow in "fluid" by (job: JobNo, fluid: FluidKey) {
        job: JobNo, fluid: FluidKey, stage: Option<StageKey>, step: Option<StepNo>, what: Option<String>,
        expected_ml: Option<i64>, back: Option<StageKey>, drained_ml: i64, filled_ml: i64, person: Option<PersonId>,
        said_at: Option<Instant>, said_n: Option<i64>, note: Option<TextId>, added_n: i64,
    }
    /// Another way of doing a step than the book's, and what a lead said to it; undecided while `approved` is empty.
    WayRow in "own_way" by (job: JobNo, stage: StageKey, step: StepNo) {
        job: JobNo, stage: StageKey, step: StepNo, note: TextId, reason: TextId, person: Option<PersonId>,
        proposed_at: Instant, proposed_n: i64, approved: Option<bool>, decided_by: Option<PersonId>,
        decided_at: Option<Instant>, decided_n: Option<i64>, decided_note: Option<TextId>,
    }
    /// What comes off a vehicle or is put in, and where that stands. `found` pieces were there and `missing`
    /// places were empty; of the places `refitted`, `renewed` or `left_out` are settled, of the pieces `scrapped`
    /// or `kept` besides those refitted.
    PositionRow in "strip_position" by (job: JobNo, position: PositionKey) {
        job: JobNo, position: PositionKey, stage: StageKey, step: Option<StepNo>, what: Option<String>,
        what_text: Option<TextId>, detail: PositionDetail, unplanned: bool, added_n: i64,
        off_at: Option<Instant>, off_by: Option<PersonId>, off_n: Option<i64>, found: i32, missing: i32, damaged: i32,
        keep: Option<Keep>, kept_at: Option<TextId>, note: Option<TextId>,
        back_at: Option<Instant>, back_by: Option<PersonId>, back_n: Option<i64>, refitted: i32, renewed: i32,
        left_out: i32, scrapped: i32, kept: i32, tightness: Option<Tightness>, reason: Option<TextId>,
        checked_at: Option<Instant>, checked_by: Option<PersonId>, checked_n: Option<i64>,
        repair: Option<TextId>, soak_until: Option<Instant>, soak_n: Option<i64>, hands: Vec<PersonId>, unnamed: bool,
        off_overruled: Vec<OverruledLine>, back_overruled: Vec<OverruledLine>, taken_back: bool,
    }
    /// An attempt at something that would not move, by a rung of its ladder.
    AttemptRow in "strip_attempt" by (job: JobNo, position: PositionKey, attempt: AttemptNo) {
        job: JobNo, position: PositionKey, attempt: AttemptNo, rung: i32, measure: String, last_safe: bool,
        outcome: Outcome, pieces: i32, person: Option<PersonId>, at: Instant, n: i64, plan: Option<TextId>,
        note: Option<TextId>, overridden: Option<TextId>,
    }
    /// What is measured, as it was taken last. `verdict` and `off_limits` are how it came out; `decision` is a lead's
    /// about this taking and about none before it.
    ReadingRow in "reading" by (job: JobNo, reading: ReadingKey) {
        job: JobNo, reading: ReadingKey, stage: StageKey, step: Option<StepNo>, what: Option<String>,
        what_text: Option<TextId>, detail: ReadingDetail, unplanned: bool, added_n: i64,
        taken_at: Option<Instant>, taken_by: Option<PersonId>, taken_n: Option<i64>, figures: Vec<Measure>,
        verdict: Option<Verdict>, off_limits: Vec<OffLimit>, instrument: Option<TextId>, note: Option<TextId>,
        decided_at: Option<Instant>, decided_by: Option<PersonId>, decided_n: Option<i64>, decision: Option<Decision>,
        decided_reason: Option<TextId>,
    }
    /// What was said of a job for its hand-over sheet; counts while `withdrawn_n` is empty.
    RemarkRow in "job_remark" by (job: JobNo, remark: RemarkNo) {
        job: JobNo, remark: RemarkNo, what: RemarkKind, words: TextId, said_at: Instant, said_by: Option<PersonId>,
        said_n: i64, withdrawn_n: Option<i64>, withdrawn_reason: Option<TextId>,
    }
    /// What holds a stage up; open while `cleared_at` is empty.
    BlockerRow in "blocker" by (job: JobNo, blocker: BlockerNo) {
        job: JobNo, blocker: BlockerNo, stage: StageKey, cause: Cause, owner: Option<PersonId>,
        expected_at: Option<Instant>, note: Option<TextId>, step: Option<StepNo>, item: Option<ItemKey>,
reading: Option<ReadingKey>, tool: Option<ToolKey>, since: Instant, raised_n: i64, cleared_at: Option<Instant>, cleared_n: Option<i64>, cleared_note: Option<TextId>,
    }
    /// A person's time on a stage; open while `until_at` is empty. `overridden` is the lead's reason
    /// when the person lacks a skill that the stage asks for.
    ClockingRow in "clocking" by (clocking: ClockingId) {
        clocking: ClockingId, person: PersonId, job: JobNo, stage: StageKey, from_at: Instant,
        until_at: Option<Instant>, on_n: i64, off_n: Option<i64>, overridden: Option<TextId>,
    }
    /// A shared tool; in use while `retired_n` is empty.
    ToolRow in "shared_tool" by (tool: ToolKey) {
        tool: ToolKey, name: String, what: Option<String>, calibration_due: Option<String>, added_n: i64,
        retired_n: Option<i64>, reason: Option<TextId>,
    }
    /// A stretch in which a shared tool was lent, to a job or to a person; open while `until_at` is empty.
    LoanRow in "tool_loan" by (loan: LoanId) {
        loan: LoanId, tool: ToolKey, job: Option<JobNo>, stage: Option<StageKey>, bay: Option<BayKey>,
        person: Option<PersonId>, from_at: Instant, until_at: Option<Instant>, from_n: i64, until_n: Option<i64>,
    }
    /// An item.
    ItemRow in "item" by (item: ItemKey) {
        item: ItemKey, name: String, unit: Unit, added_n: i64, supplier: Option<SupplierKey>, fluid: Option<ItemFluid>,
    }
    /// A place that holds stock or stands for the world outside.
    PlaceRow in "place" by (place: PlaceKey) {
        place: PlaceKey, kind: PlaceKind, name: String, job: Option<JobNo>, added_n: i64,
    }
    /// A lot.
    LotRow in "lot" by (lot: LotId) {
        lot: LotId, item: ItemKey, received_at: Instant, expires_on: Option<String>, expired: bool, made_n: i64,
    }
    /// What a place holds of a lot. Contra places go below zero.
    BalanceRow in "balance" by (item: ItemKey, lot: LotId, place: PlaceKey) {
        item: ItemKey, lot: LotId, place: PlaceKey, quantity: Quantity, held: bool,
    }
    /// What a held place has of an item: all of it, the expired part, and what is set aside.
    HoldRow in "hold" by (item: ItemKey, place: PlaceKey) {
        item: ItemKey, place: PlaceKey, on_hand: Quantity, expired: Quantity, reserved: Quantity,
    }
    /// One movement; `n` is its fact. Written once, never changed.
    MoveRow in "stock_move" by (n: i64) {
        n: i64, item: ItemKey, lot: LotId, from_place: PlaceKey, to_place: PlaceKey, quantity: Quantity,
        why: MoveReason, job: Option<JobNo>, stage: Option<StageKey>, step: Option<StepNo>, at: Instant,
        reason: Option<TextId>,
    }
    /// What a step wants of an item, once it was put on the list, and where that stands.
    DemandRow in "demand" by (job: JobNo, stage: StageKey, step: StepNo, item: ItemKey) {
        job: JobNo, stage: StageKey, step: StepNo, item: ItemKey, wanted: Quantity, reserved: Quantity,
        issued: Quantity, short: Quantity,
    }
    /// A quantity set aside; over at 0.
    ReservationRow in "reservation" by (reservation: ReservationId) {
        reservation: ReservationId, job: JobNo, stage: StageKey, step: StepNo, item: ItemKey, place: PlaceKey,
        quantity: Quantity, made_n: i64,
    }
    /// A shortage; over at 0.
    ShortageRow in "shortage" by (shortage: ShortageId) {
        shortage: ShortageId, job: JobNo, stage: StageKey, step: StepNo, item: ItemKey, quantity: Quantity,
        since: Instant, opened_n: i64, closed_n: Option<i64>,
    }
    /// A supplier, with the rounds on which it delivers.
    SupplierRow in "supplier" by (supplier: SupplierKey) {
        supplier: SupplierKey, name: String, rounds: Vec<Round>, set_n: i64,
    }
    /// What somebody was told about a job; counts while `withdrawn_n` is empty.
    ToldRow in "job_told" by (job: JobNo, told: ToldNo) {
        job: JobNo, told: ToldNo, customer: Option<CustomerId>, whom: Option<TextId>, words: TextId,
        promised_at: Option<Instant>, told_at: Instant, told_by: Option<PersonId>, told_n: i64,
        withdrawn_n: Option<i64>, withdrawn_reason: Option<TextId>,
    }
    /// A correction of time that a person asked for; it waits while `decided_n` is empty. Without `to_stage` the entry is
    /// to go.
    AskedRow in "asked_correction" by (job: JobNo, ask: AskNo) {
        job: JobNo, ask: AskNo, clocking: ClockingId, entry: i64, person: PersonId, to_job: Option<JobNo>,
        to_stage: Option<StageKey>, from_at: Option<Instant>, until_at: Option<Instant>, reason: TextId,
        asked_at: Instant, asked_n: i64, taken: Option<bool>, decided_by: Option<PersonId>,
        decided_at: Option<Instant>, decided_n: Option<i64>, answer: Option<TextId>,
    }
    /// The plan that a lead accepted last; one row, none before the first.
    PlanRow in "plan" by () {
        made_n: i64, made_at: Instant, accepted_at: Instant, accepted_n: i64,
    }
    /// A stage in the accepted plan.
    PlanStageRow in "plan_stage" by (job: JobNo, stage: StageKey) {
        job: JobNo, stage: StageKey, bay: Option<BayKey>, people: Vec<PersonId>, from_at: Instant, until_at: Instant,
    }
    /// A stay of a vehicle in a bay in the accepted plan.
    PlanVisitRow in "plan_visit" by (job: JobNo, from_at: Instant) {
        job: JobNo, from_at: Instant, bay: BayKey, until_at: Instant,
    }
    /// When the accepted plan has a job ready.
    PlanJobRow in "plan_job" by (job: JobNo) {
        job: JobNo, ready_at: Option<Instant>, likely_at: Option<Instant>, safe_at: Option<Instant>, nowhere: Vec<Nowhere>,
        hangs_on: Vec<HangsOn>,
    }
    /// What a lead decided about a stage, for every plan.
    StagePinRow in "stage_pin" by (job: JobNo, stage: StageKey) {
        job: JobNo, stage: StageKey, bay: Option<BayKey>, people: Vec<PersonId>, from_at: Option<Instant>, pinned_n: i64,
    }
    /// Overtime that a lead opened for a person.
    OvertimeRow in "overtime_window" by (person: PersonId, from_at: Instant) {
        person: PersonId, from_at: Instant, until_at: Instant, opened_n: i64,
    }
}
