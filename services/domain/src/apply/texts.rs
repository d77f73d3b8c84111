//! Every text that a fact refers to gets a row, whatever the fact is.

use super::{Broken, Folded};
use crate::state::State;
use leadhand_facts::calendar::CalendarChange;
use leadhand_facts::fact::{JobStage, JobStep, Wording};
use leadhand_facts::rows::TextRow;
use leadhand_facts::{Entry, Fact, TextRef};

/// Notes the texts of a fact. The same text may stand in several facts of one command.
pub(super) fn note(state: &mut State, entry: &Entry) -> Folded {
    for text in texts_of(&entry.fact) {
        match state.texts.get(&(text.id,)) {
            None => state.texts.put(TextRow { text: text.id, hash: text.hash.clone(), erased_n: None }),
            Some(row) if row.hash == text.hash => {}
            Some(_) => return Err(Broken::new(entry, format!("text {} has another hash already", text.id))),
        }
    }
    Ok(())
}

/// Every text that a fact refers to.
#[expect(clippy::too_many_lines, reason = "a table, a line a kind, so that the compiler names one that was forgotten")]
pub fn texts_of(fact: &Fact) -> Vec<&TextRef> {
    match fact {
        Fact::ShopOpened { name, .. } | Fact::PersonAdded { name, .. } => vec![name],
        Fact::CalendarSet { change: CalendarChange::Day { reason, .. }, .. } | Fact::Moved { reason, .. } => {
            reason.iter().collect()
        }
        Fact::TokenIssued { label, .. } => label.iter().collect(),
        Fact::PinSet { secret, .. } => vec![secret],
        Fact::PersonRenamed { name, reason, .. } => vec![name, reason],
        Fact::VehicleAdded { label, .. } => vec![label],
        Fact::VehicleDescribed { label, plate, .. } => std::iter::once(label).chain(plate).collect(),
        Fact::CustomerAdded { name, contact, about, .. } | Fact::CustomerEdited { name, contact, about, .. } => {
            std::iter::once(name).chain(contact).chain(about).collect()
        }
        Fact::JobOpened { title, stages, .. } => typed(title).chain(stages.iter().flat_map(of_stage)).collect(),
        Fact::VehicleLeft { overridden, .. }
        | Fact::StageStarted { overridden, .. }
        | Fact::ClockedOn { overridden, .. }
        | Fact::WorkRecorded { overridden, .. }
        | Fact::StepDone { overridden, .. } => overridden.iter().collect(),
        Fact::JobCompleted { overridden, lines, .. } => {
            overridden.iter().chain(lines.iter().map(|line| &line.reason)).collect()
        }
        Fact::JobCancelled { reason, .. }
        | Fact::StageSkipped { reason, .. }
        | Fact::StepSkipped { reason, .. }
        | Fact::JobReopened { reason, .. }
        | Fact::BayCorrected { reason, .. }
        | Fact::StayCorrected { reason, .. }
        | Fact::ClockingWithdrawn { reason, .. }
        | Fact::StepReopened { reason, .. }
        | Fact::StageReopened { reason, .. }
        | Fact::ToolRetired { reason, .. }
        | Fact::LoanReopened { reason, .. }
        | Fact::PositionReopened { reason, .. }
        | Fact::PositionRecounted { reason, .. }
        | Fact::ReadingDecided { reason, .. }
        | Fact::RemarkWithdrawn { reason, .. }
        | Fact::FluidReopened { reason, .. }
        | Fact::ToldWithdrawn { reason, .. }
        | Fact::CorrectionAsked { reason, .. }
        | Fact::CorrectionDecided { reason, .. } => vec![reason],
        Fact::ReadingAdded { reading, .. } => typed(&reading.what).collect(),
        Fact::ReadingTaken { instrument, note, .. } => instrument.iter().chain(note).collect(),
        Fact::RemarkMade { words, .. } => vec![words],
        Fact::SomebodyTold { whom, words, .. } => whom.iter().chain([words]).collect(),
        Fact::WayProposed { note, reason, .. } => vec![note, reason],
        Fact::PositionAdded { position, .. } => typed(&position.what).collect(),
        Fact::PositionSplit { part, .. } => typed(&part.what).collect(),
        Fact::PositionOff { kept_at, note, repair, overruled, .. } => {
            let reasons = overruled.iter().map(|one| &one.reason);
            kept_at.iter().chain(note).chain(repair).chain(reasons).collect()
        }
        Fact::PositionBack { reason, overruled, .. } => {
            reason.iter().chain(overruled.iter().map(|one| &one.reason)).collect()
        }
        Fact::AttemptRecorded { plan, note, overridden, .. } => plan.iter().chain(note).chain(overridden).collect(),
        Fact::VehicleStateSet { reason, .. } => reason.iter().collect(),
        Fact::StageAdded { stage, .. } => of_stage(stage).collect(),
        Fact::StepAdded { step, .. } => of_step(step).collect(),
        Fact::BlockerRaised { note, .. }
        | Fact::BlockerCleared { note, .. }
        | Fact::FluidRecorded { note, .. }
        | Fact::WayDecided { note, .. } => note.iter().collect(),
        Fact::CalendarSet { .. }
        | Fact::BayAdded { .. }
        | Fact::SkillsSet { .. }
        | Fact::YardSet { .. }
        | Fact::PersonForgotten { .. }
        | Fact::CustomerForgotten { .. }
        | Fact::JobCustomerSet { .. }
        | Fact::TokenRevoked { .. }
        | Fact::TokenLimited { .. }
        | Fact::BadgeSet { .. }
        | Fact::ProofWithdrawn { .. }
        | Fact::SignedIn { .. }
        | Fact::SignedOut { .. }
        | Fact::TemplatePublished { .. }
        | Fact::JobPromised { .. }
        | Fact::VehiclePlaced { .. }
        | Fact::FillReckoned { .. }
        | Fact::StageReady { .. }
        | Fact::StageHeld { .. }
        | Fact::WaitPassed { .. }
        | Fact::StageFinished { .. }
        | Fact::PositionTightened { .. }
        | Fact::PositionSoaked { .. }
        | Fact::PositionChecked { .. }
        | Fact::ClockedOff { .. }
        | Fact::ToolAdded { .. }
        | Fact::ToolDescribed { .. }
        | Fact::ToolLent { .. }
        | Fact::ToolReturned { .. }
        | Fact::ItemAdded { .. }
        | Fact::PlaceAdded { .. }
        | Fact::LotMade { .. }
        | Fact::LotExpired { .. }
        | Fact::DemandSet { .. }
        | Fact::Reserved { .. }
        | Fact::ReservationReduced { .. }
        | Fact::ShortageOpened { .. }
        | Fact::ShortageChanged { .. }
        | Fact::SupplierSet { .. }
        | Fact::BlockerOwned { .. }
        | Fact::ItemSupplierSet { .. }
        | Fact::ItemFluidSet { .. }
        | Fact::PlanAccepted { .. }
        | Fact::StagePinned { .. }
        | Fact::StageUnpinned { .. }
        | Fact::OvertimeOpened { .. }
        | Fact::OvertimeClosed { .. } => Vec::new(),
    }
}

/// The texts of a fact that may be shown: not what lets somebody in.
pub fn shown_texts_of(fact: &Fact) -> Vec<&TextRef> {
    match fact {
        Fact::PinSet { .. } => Vec::new(),
        other => texts_of(other),
    }
}

fn of_stage(stage: &JobStage) -> impl Iterator<Item = &TextRef> {
    let positions = stage.positions.iter().flat_map(|position| typed(&position.what));
    let readings = stage.readings.iter().flat_map(|reading| typed(&reading.what));
    typed(&stage.title).chain(stage.steps.iter().flat_map(of_step)).chain(positions).chain(readings)
}

fn of_step(step: &JobStep) -> impl Iterator<Item = &TextRef> {
    typed(&step.instruction)
}

fn typed(wording: &Wording) -> impl Iterator<Item = &TextRef> {
    match wording {
        Wording::Typed(text) => Some(text),
        Wording::Template(_) => None,
    }
    .into_iter()
}
