//! Folding a fact into the rows. No rule refuses here: a fact that does not fit is a defect.

use crate::state::{State, Table};
use leadhand_facts::rows::{JobRow, Row};
use leadhand_facts::{Entry, Fact, JobNo};
use thiserror::Error;

mod asked;
mod calendar;
mod condition;
mod customers;
mod jobs;
mod plan;
mod proofs;
mod readings;
mod shop;
mod stages;
mod stock;
mod strip;
mod suppliers;
mod texts;

pub use texts::{shown_texts_of, texts_of};
mod time;
mod told;
mod tools;
mod wants;

/// A fact that does not fit the rows.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("fact {number} does not fit: {why}")]
pub struct Broken {
    /// The fact's number.
    pub number: i64,
    /// What does not fit.
    pub why: String,
}

impl Broken {
    /// A fact that does not fit because of `why`.
    pub(crate) fn new(entry: &Entry, why: impl Into<String>) -> Self {
        Self { number: entry.number, why: why.into() }
    }
}

/// What folding a fact gives.
type Folded = Result<(), Broken>;

/// Folds one entry into the state. A fact that does not fit may leave part of itself behind;
/// [`State::roll_back`] takes that away.
pub fn apply(state: &mut State, entry: &Entry) -> Result<(), Broken> {
    if entry.number != state.head + 1 {
        return Err(Broken::new(entry, format!("it should be number {}", state.head + 1)));
    }
    apply_fact(state, entry)?;
    state.head = entry.number;
    Ok(())
}

fn apply_fact(state: &mut State, entry: &Entry) -> Folded {
    texts::note(state, entry)?;
    if let Some(job) = job_of(&entry.fact) {
        change(entry, &mut state.jobs, &(job,), |row: &mut JobRow| row.version = entry.number)?;
    }
    fold(state, entry)
}

/// Every kind has its place here, so that the compiler names one that was forgotten.
#[expect(clippy::too_many_lines, reason = "a table, a line a kind, so that the compiler names one that was forgotten")]
fn fold(state: &mut State, entry: &Entry) -> Folded {
    match &entry.fact {
        Fact::CalendarSet { .. } => calendar::apply(state, entry),
        Fact::ShopOpened { .. }
        | Fact::BayAdded { .. }
        | Fact::PersonAdded { .. }
        | Fact::PersonRenamed { .. }
        | Fact::BayCorrected { .. }
        | Fact::SkillsSet { .. }
        | Fact::YardSet { .. }
        | Fact::PersonForgotten { .. }
        | Fact::TokenIssued { .. }
        | Fact::TokenRevoked { .. }
        | Fact::TokenLimited { .. }
        | Fact::TemplatePublished { .. } => shop::apply(state, entry),
        Fact::BadgeSet { .. }
        | Fact::PinSet { .. }
        | Fact::ProofWithdrawn { .. }
        | Fact::SignedIn { .. }
        | Fact::SignedOut { .. } => proofs::apply(state, entry),
        Fact::CustomerAdded { .. }
        | Fact::CustomerEdited { .. }
        | Fact::CustomerForgotten { .. }
        | Fact::VehicleDescribed { .. }
        | Fact::JobCustomerSet { .. } => customers::apply(state, entry),
        Fact::VehicleAdded { .. }
        | Fact::JobOpened { .. }
        | Fact::JobPromised { .. }
        | Fact::VehiclePlaced { .. }
        | Fact::VehicleLeft { .. }
        | Fact::StayCorrected { .. }
        | Fact::JobCompleted { .. }
        | Fact::JobCancelled { .. }
        | Fact::JobReopened { .. } => jobs::apply(state, entry),
        Fact::StageAdded { .. }
        | Fact::StageReady { .. }
        | Fact::StageHeld { .. }
        | Fact::WaitPassed { .. }
        | Fact::StageStarted { .. }
        | Fact::StageFinished { .. }
        | Fact::StageSkipped { .. }
        | Fact::StepDone { .. }
        | Fact::StepSkipped { .. }
        | Fact::StepAdded { .. }
        | Fact::StepReopened { .. }
        | Fact::StageReopened { .. } => stages::apply(state, entry),
        Fact::PositionAdded { .. }
        | Fact::PositionOff { .. }
        | Fact::PositionBack { .. }
        | Fact::PositionTightened { .. }
        | Fact::PositionChecked { .. }
        | Fact::PositionReopened { .. }
        | Fact::PositionRecounted { .. }
        | Fact::PositionSplit { .. }
        | Fact::PositionSoaked { .. }
        | Fact::AttemptRecorded { .. } => strip::apply(state, entry),
        Fact::ReadingAdded { .. }
        | Fact::ReadingTaken { .. }
        | Fact::ReadingDecided { .. }
        | Fact::RemarkMade { .. }
        | Fact::RemarkWithdrawn { .. } => readings::apply(state, entry),
        Fact::ToolAdded { .. }
        | Fact::ToolDescribed { .. }
        | Fact::ToolRetired { .. }
        | Fact::ToolLent { .. }
        | Fact::ToolReturned { .. }
        | Fact::LoanReopened { .. } => tools::apply(state, entry),
        Fact::VehicleStateSet { .. }
        | Fact::FluidRecorded { .. }
        | Fact::FillReckoned { .. }
        | Fact::FluidReopened { .. }
        | Fact::WayProposed { .. }
        | Fact::WayDecided { .. } => condition::apply(state, entry),
        Fact::BlockerRaised { .. }
        | Fact::BlockerCleared { .. }
        | Fact::BlockerOwned { .. }
        | Fact::ClockedOn { .. }
        | Fact::ClockedOff { .. }
        | Fact::WorkRecorded { .. }
        | Fact::ClockingWithdrawn { .. } => time::apply(state, entry),
        Fact::ItemAdded { .. }
        | Fact::PlaceAdded { .. }
        | Fact::LotMade { .. }
        | Fact::LotExpired { .. }
        | Fact::Moved { .. } => stock::apply(state, entry),
        Fact::DemandSet { .. }
        | Fact::Reserved { .. }
        | Fact::ReservationReduced { .. }
        | Fact::ShortageOpened { .. }
        | Fact::ShortageChanged { .. } => wants::apply(state, entry),
        Fact::SupplierSet { .. } | Fact::ItemSupplierSet { .. } | Fact::ItemFluidSet { .. } => {
            suppliers::apply(state, entry)
        }
        Fact::SomebodyTold { .. } | Fact::ToldWithdrawn { .. } => told::apply(state, entry),
        Fact::CorrectionAsked { .. } | Fact::CorrectionDecided { .. } => asked::apply(state, entry),
        Fact::PlanAccepted { .. }
        | Fact::StagePinned { .. }
        | Fact::StageUnpinned { .. }
        | Fact::OvertimeOpened { .. }
        | Fact::OvertimeClosed { .. } => plan::apply(state, entry),
    }
}

/// The job that a fact is about; nobody's for the fact that makes it.
#[expect(clippy::too_many_lines, reason = "a table, a line a kind, so that the compiler names one that was forgotten")]
pub(crate) fn job_of(fact: &Fact) -> Option<JobNo> {
    match fact {
        Fact::JobPromised { job, .. }
        | Fact::JobCustomerSet { job, .. }
        | Fact::VehiclePlaced { job, .. }
        | Fact::VehicleLeft { job, .. }
        | Fact::StayCorrected { job, .. }
        | Fact::JobCompleted { job, .. }
        | Fact::JobCancelled { job, .. }
        | Fact::JobReopened { job, .. }
        | Fact::StageAdded { job, .. }
        | Fact::StageReady { job, .. }
        | Fact::StageHeld { job, .. }
        | Fact::WaitPassed { job, .. }
        | Fact::StageStarted { job, .. }
        | Fact::StageFinished { job, .. }
        | Fact::StageSkipped { job, .. }
        | Fact::StepDone { job, .. }
        | Fact::StepSkipped { job, .. }
        | Fact::StepAdded { job, .. }
        | Fact::BlockerRaised { job, .. }
        | Fact::BlockerCleared { job, .. }
        | Fact::BlockerOwned { job, .. }
        | Fact::ClockedOn { job, .. }
        | Fact::ClockedOff { job, .. }
        | Fact::WorkRecorded { job, .. }
        | Fact::ClockingWithdrawn { job, .. }
        | Fact::StepReopened { job, .. }
        | Fact::StageReopened { job, .. }
        | Fact::PositionAdded { job, .. }
        | Fact::PositionOff { job, .. }
        | Fact::PositionBack { job, .. }
        | Fact::PositionTightened { job, .. }
        | Fact::PositionChecked { job, .. }
        | Fact::PositionReopened { job, .. }
        | Fact::PositionRecounted { job, .. }
        | Fact::ReadingAdded { job, .. }
        | Fact::ReadingTaken { job, .. }
        | Fact::ReadingDecided { job, .. }
        | Fact::RemarkMade { job, .. }
        | Fact::RemarkWithdrawn { job, .. }
        | Fact::PositionSplit { job, .. }
        | Fact::PositionSoaked { job, .. }
        | Fact::AttemptRecorded { job, .. }
        | Fact::VehicleStateSet { job, .. }
        | Fact::FluidRecorded { job, .. }
        | Fact::FillReckoned { job, .. }
        | Fact::FluidReopened { job, .. }
        | Fact::WayProposed { job, .. }
        | Fact::WayDecided { job, .. }
        | Fact::SomebodyTold { job, .. }
        | Fact::ToldWithdrawn { job, .. }
        | Fact::CorrectionAsked { job, .. }
        | Fact::CorrectionDecided { job, .. }
        | Fact::StagePinned { job, .. }
        | Fact::StageUnpinned { job, .. } => Some(*job),
        Fact::ToolLent { job, .. } => *job,
        Fact::Moved { wanter, .. } => wanter.as_ref().map(|wanter| wanter.job),
        Fact::DemandSet { wanter, .. }
        | Fact::Reserved { wanter, .. }
        | Fact::ReservationReduced { wanter, .. }
        | Fact::ShortageOpened { wanter, .. }
        | Fact::ShortageChanged { wanter, .. } => Some(wanter.job),
        Fact::ShopOpened { .. }
        | Fact::CalendarSet { .. }
        | Fact::BayAdded { .. }
        | Fact::PersonAdded { .. }
        | Fact::PersonRenamed { .. }
        | Fact::BayCorrected { .. }
        | Fact::SkillsSet { .. }
        | Fact::YardSet { .. }
        | Fact::PersonForgotten { .. }
        | Fact::TokenIssued { .. }
        | Fact::TokenRevoked { .. }
        | Fact::TokenLimited { .. }
        | Fact::BadgeSet { .. }
        | Fact::PinSet { .. }
        | Fact::ProofWithdrawn { .. }
        | Fact::SignedIn { .. }
        | Fact::SignedOut { .. }
        | Fact::TemplatePublished { .. }
        | Fact::VehicleAdded { .. }
        | Fact::VehicleDescribed { .. }
        | Fact::CustomerAdded { .. }
        | Fact::CustomerEdited { .. }
        | Fact::CustomerForgotten { .. }
        | Fact::JobOpened { .. }
        | Fact::ToolAdded { .. }
        | Fact::ToolDescribed { .. }
        | Fact::ToolRetired { .. }
        | Fact::ToolReturned { .. }
        | Fact::LoanReopened { .. }
        | Fact::ItemAdded { .. }
        | Fact::PlaceAdded { .. }
        | Fact::LotMade { .. }
        | Fact::LotExpired { .. }
        | Fact::SupplierSet { .. }
        | Fact::ItemSupplierSet { .. }
        | Fact::ItemFluidSet { .. }
        | Fact::PlanAccepted { .. }
        | Fact::OvertimeOpened { .. }
        | Fact::OvertimeClosed { .. } => None,
    }
}

/// A fact that came to a module which does not fold its kind.
fn strayed(entry: &Entry) -> Folded {
    Err(Broken::new(entry, "its kind is not folded where it was sent"))
}

/// A row that must be there.
fn known<'t, R: Row>(entry: &Entry, table: &'t Table<R>, key: &R::Key) -> Result<&'t R, Broken> {
    table.get(key).ok_or_else(|| missing::<R>(entry, key))
}

/// Changes a row that must be there.
fn change<R: Row>(entry: &Entry, table: &mut Table<R>, key: &R::Key, with: impl FnOnce(&mut R)) -> Folded {
    if table.change(key, with) { Ok(()) } else { Err(missing::<R>(entry, key)) }
}

/// Adds a row that must not be there yet.
fn add<R: Row>(entry: &Entry, table: &mut Table<R>, row: R) -> Folded {
    let key = row.key();
    if table.get(&key).is_some() {
        return Err(Broken::new(entry, format!("table '{}' has the row {key:?} already", R::TABLE)));
    }
    table.put(row);
    Ok(())
}

fn missing<R: Row>(entry: &Entry, key: &R::Key) -> Broken {
    Broken::new(entry, format!("table '{}' has no row {key:?}, or it is not loaded", R::TABLE))
}
