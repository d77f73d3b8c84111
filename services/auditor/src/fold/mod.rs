//! Folds a journal into rows.
//!
//! # RULES
//!
//! What each fact means where its fields alone do not say it. The code that writes the tables
//! follows the same rules; this fold shares none of its code.
//!
//! *Everywhere.* Journal: see [`crate::journal`]. A fact that names a row which is not there, or
//! adds one that is, is a fault. Ended things end once, and not before they began. Texts of a
//! fact become rows of `text_ref`; an id that comes again has the same hash. Every fact that
//! carries a job, or a wanter of one, sets `job.version`. A person whose token or sign-in was used
//! for another is known by then. After a fault the books are unfit.
//!
//! *Shop.* Opening makes the contra places supplier, used, scrap, waste, count (name = key).
//! Forgetting a person happens once, erases the named texts once each and leaves the skills. A
//! template's revisions rise. A person of a token is known; a token is revoked once.
//!
//! *Doors.* A token is limited to an earlier end than it had, and not after it was revoked. A proof
//! is of a person who was not forgotten. A PIN has one living text: setting one erases the text of
//! the one that counted before, withdrawing erases it, and neither names any other. A withdrawn badge
//! keeps its hash. A session begins at a known token of a device, as the device's principal, for a
//! person whose proof counts and with that proof's role, and ends by its time; it is ended once.
//!
//! *Time.* Calendar revisions are dense from 1. `resolved` is a real stretch; its windows lie in
//! it, are not empty, in order and do not touch. Hours and days are the shop's, a shift is its
//! person's. What lay in the stretch goes; what reaches out of it keeps its ends: the left part
//! its `from_at`, the right part begins at `until`, both keep `set_n`. Clockings, stays and
//! recorded work end after they begin (never at the same microsecond); recorded work ends by
//! `recorded_at`, and both its numbers are its fact's. Time that is withdrawn was there, was that
//! person's on that stage, and goes; what replaces it is another entry of the same person, made by
//! a later fact of the same command.
//!
//! *Jobs.* Numbers are dense. `last_stage` is the highest ordinal, `last_step` the highest step
//! number, 0 for none. Predecessors are stages of the same job, never the stage itself. A
//! vehicle comes into a bay for its own job. A stay that is corrected keeps its vehicle and job,
//! and goes on or is over as before. A job closes once, at `happened_at`, which is not
//! before it opened; facts about a closed job are not refused here (hand-over uses up stock).
//!
//! *Stages.* pending → active → finished; pending or active → skipped. Only a pending stage
//! becomes ready (when it is not), is held (when it is ready), or has a wait that passes (when
//! `waiting`). `waits` needs a `ready_at` after `happened_at`. Starting never changes `ready_at`;
//! a stage that ends before it is ready has `ready_at` brought forward to its end. Stages in front
//! of which one is added are pending; the new predecessor has no wait. An override of a start is
//! kept beside the tables as evidence; one of a clocking stands in its row.
//!
//! A stage is taken up again when it has ended and nothing that comes right after it has started or
//! ended; it is active if it had been started, else pending. It is ready as the fact says: never
//! where it was not before, never earlier than it was, and an active one does not lose it.
//!
//! *Steps and blockers.* A step is taken back when it has ended and its stage has not, or goes on
//! by the same command. A step is done or skipped once, from pending; `done_by` of a skipped
//! step is nobody. Skipping a stage leaves its steps as they are. Blockers are dense within the
//! job; one is cleared once, at `happened_at` or at `since`, whichever is later.
//!
//! *Strip.* A position is of a stage of its job, and its step of that stage. It goes off once, from nowhere; pieces and
//! empty places are not negative, no more are damaged than were found. What goes back is off; places settled are never more than
//! there are, and pieces settled never more than were found; what is put in only comes out, and is never renewed
//! or thrown away instead. Tightening needs something that is back and goes one way. A check is of what is back, by
//! another than who put it there. Taking back undoes what was said last: back, else off. A position that is not off is
//! split: at least one place stays and at least one goes, and what lies behind it lies behind both. Only what is not off
//! soaks. Attempts at a position are dense from 1 and in the order of time, at pieces that it has.
//!
//! *Readings.* A reading is of a stage of its job, and its step of that stage. It is taken while its stage is under way,
//! and never before the one that it replaces; what was decided before goes with the figures it was about. A decision is
//! of a person, about what is out of its limits. Remarks are dense within the job, and one is withdrawn once. None of it
//! happens to a closed job. What a lead overruled at a hand-over stands on the word of who proved to be somebody, else of
//! who acts, and goes when the job is taken up again; so does what was overruled when something came off or went back,
//! which goes when that is taken back.
//!
//! *Tools.* A shared tool that is lent or retired is neither retired nor lent. It is lent to an open job, with the stage and the
//! bay that are named, or to a person, never both; and from when it was lent on to nobody else. It comes back once, after
//! it was lent. Taking back undoes what was said last of its last loan: that it came back, else the loan, which goes.
//!
//! *Condition.* A state follows on the one that the vehicle was in: how vehicles come, where nothing was said. One that a
//! step brought about is one that it sets, and the step is done. A fluid of a step comes with it; of one that nobody listed
//! a row is made at first touch. Amounts add up; taking back undoes what went in, else what came out. Another way is of a
//! step that is pending; proposing again forgets the decision.
//!
//! *Stock.* A movement is of a positive quantity of a lot of that item, between two places. A
//! balance row is made at first touch and stays at 0; a hold row at first movement or
//! reservation. Held balances are never negative, not even between the facts of a command.
//! Expiry happens once to a lot. An issue or return with a wanter counts in a demand that is
//! there; returns never take `issued` below 0. A reservation or shortage needs its demand. A
//! reservation that is there grows, even from 0, when all it names is the same. A reduction makes
//! it smaller. A shortage may change either way until it is over. Reserved stock is at held places.
//!
//! *Suppliers.* What is said of a supplier replaces what was said before. A round has weekdays in order, none twice, and
//! minutes of a day; it arrives after its cut-off, 14 days later at most; no two rounds share a cut-off. An item and the
//! supplier that it names are listed.
//!
//! *Told.* What was told is dense within the job, and withdrawn once. It was told to a customer or to whom it says, never
//! both, about an open job, and what was promised with it lies ahead of it.
//!
//! *Asked.* Corrections that were asked for are dense within the job of the entry, which is there and the person's own.
//! What is wanted is of a stage that is there and ends after it begins. Each is decided once; what was taken has replaced
//! or withdrawn the entry before.
//!
//! *Plan.* A plan is made before it is accepted, and takes the place of the one before, whole. It plans stages that are not over, of open
//! jobs. What is planned and pinned of a job goes when the job is over. Overtime of one person never meets; closed, it ends at
//! `happened_at`, or goes where it had not begun.

mod asked;
mod condition;
mod customers;
mod doors;
mod jobs;
mod mentions;
mod plan;
mod readings;
mod seized;
mod shop;
mod stages;
mod stock;
mod strip;
mod suppliers;
mod time;
mod told;
mod tools;

use crate::fault::{At, Fault};
use crate::journal::Order;
use crate::tables::{Kept, Tables};
use leadhand_facts::rows::{JobRow, PersonRow, TextRow};
use leadhand_facts::{Entry, Fact, JobNo, StageKey, TextRef};
use std::collections::{BTreeSet, VecDeque};

pub use mentions::{job_of, texts_of};

/// Stages that were started on a lead's word, against what stood before them. No table keeps
/// this, so the laws take it from the facts.
pub type Overrides = BTreeSet<(JobNo, StageKey)>;

/// Facts after which the steps of a job that is over are packed: what its end brings about has been told by then.
const PACKED_AFTER: i64 = 2_000;

/// What a journal adds up to so far.
#[derive(Debug, Clone, Default)]
pub struct Books {
    order: Order,
    tables: Tables,
    overrides: Overrides,
    over: Option<Over>,
}

/// Jobs that are over with the number of the fact that ended them, and after how many more their steps are packed.
#[derive(Debug, Clone, Default)]
struct Over {
    jobs: VecDeque<(JobNo, i64)>,
    after: i64,
}

impl Books {
    /// Books without a fact.
    pub fn new() -> Self {
        Self::default()
    }

    /// Books for a long journal: steps of jobs that are over are packed, and stand in no table until they are asked for.
    /// The laws know them, and so does [`Comparing`](crate::Comparing).
    pub fn thrifty() -> Self {
        Self::packing_after(PACKED_AFTER)
    }

    /// The same with steps packed when so many facts have followed the end of their job.
    pub fn packing_after(after: i64) -> Self {
        Self { over: Some(Over { jobs: VecDeque::new(), after }), ..Self::default() }
    }

    /// Takes the next entry of the journal. After a fault the books are unfit for use.
    pub fn take(&mut self, entry: &Entry) -> Result<(), Fault> {
        let at = At::of(entry);
        self.order.take(entry)?;
        self.pack(entry);
        if let Some(proved) = entry.proved {
            self.tables.known::<PersonRow>(at, &(proved,))?;
        }
        for text in texts_of(&entry.fact) {
            self.mention(at, text)?;
        }
        match chapter(&entry.fact) {
            Chapter::Shop => shop::take(&mut self.tables, at, &entry.fact),
            Chapter::Customers => customers::take(&mut self.tables, at, &entry.fact),
            Chapter::Doors => doors::take(&mut self.tables, at, &entry.fact),
            Chapter::Time => time::take(&mut self.tables, at, &entry.fact),
            Chapter::Jobs => jobs::take(&mut self.tables, at, &entry.fact),
            Chapter::Stages => stages::take(&mut self.tables, at, &entry.fact),
            Chapter::Strip => strip::take(&mut self.tables, at, &entry.fact),
            Chapter::Readings => readings::take(&mut self.tables, at, &entry.fact),
            Chapter::Tools => tools::take(&mut self.tables, at, &entry.fact),
            Chapter::Condition => condition::take(&mut self.tables, at, &entry.fact),
            Chapter::Stock => stock::take(&mut self.tables, at, &entry.fact),
            Chapter::Suppliers => suppliers::take(&mut self.tables, at, &entry.fact),
            Chapter::Told => told::take(&mut self.tables, at, &entry.fact),
            Chapter::Asked => asked::take(&mut self.tables, at, &entry.fact),
            Chapter::Plan => plan::take(&mut self.tables, at, &entry.fact),
        }?;
        if let Fact::StageStarted { job, stage, overridden: Some(_), .. } = &entry.fact {
            self.overrides.insert((*job, stage.clone()));
        }
        if let Some(job) = job_of(&entry.fact) {
            self.tables.change::<JobRow>(at, &(job,))?.version = at.n;
        }
        Ok(())
    }

    /// Unpacks what a fact may touch, and packs what nothing touched for a while.
    fn pack(&mut self, entry: &Entry) {
        let Some(over) = &mut self.over else { return };
        if let Some(job) = job_of(&entry.fact) {
            self.tables.unpack_steps(job);
        }
        if let Fact::JobCompleted { job, .. } | Fact::JobCancelled { job, .. } = &entry.fact {
            over.jobs.push_back((*job, entry.number));
        }
        while let Some((job, _)) = over.jobs.front().copied().filter(|(_, ended)| entry.number - ended > over.after) {
            over.jobs.pop_front();
            self.tables.pack_steps(job);
        }
    }

    /// The tables themselves, for whoever takes them apart.
    pub fn into_tables(self) -> Tables {
        self.tables
    }

    /// The books of a whole journal.
    pub fn of<'a>(entries: impl IntoIterator<Item = &'a Entry>) -> Result<Self, Fault> {
        let mut books = Self::new();
        for entry in entries {
            books.take(entry)?;
        }
        Ok(books)
    }

    /// The tables.
    pub fn tables(&self) -> &Tables {
        &self.tables
    }

    /// The tables, to be changed: for tests of what compares or proves them.
    pub fn tables_mut(&mut self) -> &mut Tables {
        &mut self.tables
    }

    /// The rows of one table in the order of their keys.
    pub fn rows<R: Kept>(&self) -> impl Iterator<Item = &R> {
        self.tables.rows::<R>()
    }

    /// The stages that were started on a lead's word.
    pub fn overrides(&self) -> &Overrides {
        &self.overrides
    }

    fn mention(&mut self, at: At, text: &TextRef) -> Result<(), Fault> {
        if let Some(row) = self.tables.get::<TextRow>(&(text.id,)) {
            return at.demand(row.hash == text.hash, "text_ref", || {
                format!("text {} had the hash {} before and has {} now", text.id, row.hash, text.hash)
            });
        }
        self.tables.add(at, TextRow { text: text.id, hash: text.hash.clone(), erased_n: None })
    }
}

/// The part of the fold that knows a kind of fact.
enum Chapter {
    Shop,
    Customers,
    Doors,
    Time,
    Jobs,
    Stages,
    Strip,
    Readings,
    Tools,
    Condition,
    Stock,
    Suppliers,
    Told,
    Asked,
    Plan,
}

/// Names every kind, so that a new one can't be left out.
#[expect(clippy::too_many_lines, reason = "a table over every kind is read as one")]
fn chapter(fact: &Fact) -> Chapter {
    use Fact as F;
    match fact {
        F::ShopOpened { .. }
        | F::BayAdded { .. }
        | F::PersonAdded { .. }
        | F::PersonRenamed { .. }
        | F::BayCorrected { .. }
        | F::SkillsSet { .. }
        | F::YardSet { .. }
        | F::PersonForgotten { .. }
        | F::TokenIssued { .. }
        | F::TokenRevoked { .. }
        | F::TokenLimited { .. }
        | F::TemplatePublished { .. }
        | F::VehicleAdded { .. } => Chapter::Shop,
        F::CustomerAdded { .. }
        | F::CustomerEdited { .. }
        | F::CustomerForgotten { .. }
        | F::VehicleDescribed { .. }
        | F::JobCustomerSet { .. } => Chapter::Customers,
        F::BadgeSet { .. } | F::PinSet { .. } | F::ProofWithdrawn { .. } | F::SignedIn { .. } | F::SignedOut { .. } => {
            Chapter::Doors
        }
        F::CalendarSet { .. }
        | F::ClockedOn { .. }
        | F::ClockedOff { .. }
        | F::WorkRecorded { .. }
        | F::ClockingWithdrawn { .. } => Chapter::Time,
        F::JobOpened { .. }
        | F::JobPromised { .. }
        | F::VehiclePlaced { .. }
        | F::VehicleLeft { .. }
        | F::StayCorrected { .. }
        | F::JobCompleted { .. }
        | F::JobCancelled { .. }
        | F::JobReopened { .. } => Chapter::Jobs,
        F::StageAdded { .. }
        | F::StageReady { .. }
        | F::StageHeld { .. }
        | F::WaitPassed { .. }
        | F::StageStarted { .. }
        | F::StageFinished { .. }
        | F::StageSkipped { .. }
        | F::StepDone { .. }
        | F::StepSkipped { .. }
        | F::StepAdded { .. }
        | F::StepReopened { .. }
        | F::StageReopened { .. }
        | F::BlockerRaised { .. }
        | F::BlockerOwned { .. }
        | F::BlockerCleared { .. } => Chapter::Stages,
        F::PositionAdded { .. }
        | F::PositionOff { .. }
        | F::PositionBack { .. }
        | F::PositionTightened { .. }
        | F::PositionChecked { .. }
        | F::PositionReopened { .. }
        | F::PositionRecounted { .. }
        | F::PositionSplit { .. }
        | F::PositionSoaked { .. }
        | F::AttemptRecorded { .. } => Chapter::Strip,
        F::ReadingAdded { .. }
        | F::ReadingTaken { .. }
        | F::ReadingDecided { .. }
        | F::RemarkMade { .. }
        | F::RemarkWithdrawn { .. } => Chapter::Readings,
        F::ToolAdded { .. }
        | F::ToolDescribed { .. }
        | F::ToolRetired { .. }
        | F::ToolLent { .. }
        | F::ToolReturned { .. }
        | F::LoanReopened { .. } => Chapter::Tools,
        F::VehicleStateSet { .. }
        | F::FluidRecorded { .. }
        | F::FillReckoned { .. }
        | F::FluidReopened { .. }
        | F::WayProposed { .. }
        | F::WayDecided { .. } => Chapter::Condition,
        F::ItemAdded { .. }
        | F::PlaceAdded { .. }
        | F::LotMade { .. }
        | F::LotExpired { .. }
        | F::Moved { .. }
        | F::DemandSet { .. }
        | F::Reserved { .. }
        | F::ReservationReduced { .. }
        | F::ShortageOpened { .. }
        | F::ShortageChanged { .. } => Chapter::Stock,
        F::SupplierSet { .. } | F::ItemSupplierSet { .. } | F::ItemFluidSet { .. } => Chapter::Suppliers,
        F::SomebodyTold { .. } | F::ToldWithdrawn { .. } => Chapter::Told,
        F::CorrectionAsked { .. } | F::CorrectionDecided { .. } => Chapter::Asked,
        F::PlanAccepted { .. }
        | F::StagePinned { .. }
        | F::StageUnpinned { .. }
        | F::OvertimeOpened { .. }
        | F::OvertimeClosed { .. } => Chapter::Plan,
    }
}

/// A fact came to a chapter that does not know it: a slip in [`chapter`].
fn astray(at: At) -> Fault {
    at.fault("journal", "the auditor has no rule for this kind of fact")
}
