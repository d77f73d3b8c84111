//! What a fact mentions: erasable texts, and the job it is about.

use leadhand_facts::calendar::CalendarChange;
use leadhand_facts::fact::{JobStage, JobStep, Wording};
use leadhand_facts::reading::Overruled;
use leadhand_facts::{Fact, JobNo, TextRef};

/// Every erasable text that a fact refers to.
#[expect(clippy::too_many_lines, reason = "a table, a line a kind, so that the compiler names one that was forgotten")]
pub fn texts_of(fact: &Fact) -> Vec<&TextRef> {
    match fact {
        Fact::ShopOpened { name: text, .. }
        | Fact::PersonAdded { name: text, .. }
        | Fact::VehicleAdded { label: text, .. }
        | Fact::JobCancelled { reason: text, .. }
        | Fact::StageSkipped { reason: text, .. }
        | Fact::StepSkipped { reason: text, .. }
        | Fact::JobReopened { reason: text, .. }
        | Fact::BayCorrected { reason: text, .. }
        | Fact::StayCorrected { reason: text, .. }
        | Fact::ClockingWithdrawn { reason: text, .. }
        | Fact::StepReopened { reason: text, .. }
        | Fact::StageReopened { reason: text, .. }
        | Fact::ToolRetired { reason: text, .. }
        | Fact::LoanReopened { reason: text, .. }
        | Fact::PositionReopened { reason: text, .. }
        | Fact::PositionRecounted { reason: text, .. }
        | Fact::ReadingDecided { reason: text, .. }
        | Fact::RemarkMade { words: text, .. }
        | Fact::RemarkWithdrawn { reason: text, .. }
        | Fact::FluidReopened { reason: text, .. }
        | Fact::ToldWithdrawn { reason: text, .. }
        | Fact::CorrectionAsked { reason: text, .. }
        | Fact::CorrectionDecided { reason: text, .. } => vec![text],
        Fact::SomebodyTold { whom, words, .. } => [whom.as_ref(), Some(words)].into_iter().flatten().collect(),
        Fact::ReadingAdded { reading, .. } => typed(&reading.what).collect(),
        Fact::ReadingTaken { instrument, note, .. } => some([instrument, note]),
        Fact::JobCompleted { overridden, lines, .. } => {
            overridden.iter().chain(lines.iter().map(|line| &line.reason)).collect()
        }
        Fact::WayProposed { note, reason, .. } => [note, reason].into(),
        Fact::PositionAdded { position, .. } => typed(&position.what).collect(),
        Fact::PositionSplit { part, .. } => typed(&part.what).collect(),
        Fact::PositionOff { kept_at, note, repair, overruled, .. } => {
            [kept_at, note, repair].into_iter().flatten().chain(reasons(overruled)).collect()
        }
        Fact::PositionBack { reason, overruled, .. } => reason.iter().chain(reasons(overruled)).collect(),
        Fact::AttemptRecorded { plan, note, overridden, .. } => some([plan, note, overridden]),
        Fact::PinSet { secret, .. } => vec![secret],
        Fact::PersonRenamed { name, reason, .. } => [name, reason].into(),
        Fact::CustomerAdded { name, contact, about, .. } | Fact::CustomerEdited { name, contact, about, .. } => {
            [Some(name), contact.as_ref(), about.as_ref()].into_iter().flatten().collect()
        }
        Fact::VehicleDescribed { label, plate, .. } => [Some(label), plate.as_ref()].into_iter().flatten().collect(),
        Fact::TokenIssued { label: text, .. }
        | Fact::CalendarSet { change: CalendarChange::Day { reason: text, .. }, .. }
        | Fact::VehicleLeft { overridden: text, .. }
        | Fact::StageStarted { overridden: text, .. }
        | Fact::ClockedOn { overridden: text, .. }
        | Fact::WorkRecorded { overridden: text, .. }
        | Fact::StepDone { overridden: text, .. }
        | Fact::VehicleStateSet { reason: text, .. }
        | Fact::FluidRecorded { note: text, .. }
        | Fact::WayDecided { note: text, .. }
        | Fact::BlockerRaised { note: text, .. }
        | Fact::BlockerCleared { note: text, .. }
        | Fact::Moved { reason: text, .. } => text.iter().collect(),
        Fact::JobOpened { title, stages, .. } => typed(title).chain(stages.iter().flat_map(texts_of_stage)).collect(),
        Fact::StageAdded { stage, .. } => texts_of_stage(stage),
        Fact::StepAdded { step, .. } => texts_of_step(step).collect(),
        _ => Vec::new(),
    }
}

fn some<const N: usize>(texts: [&Option<TextRef>; N]) -> Vec<&TextRef> {
    texts.into_iter().flatten().collect()
}

fn reasons(overruled: &[Overruled]) -> impl Iterator<Item = &TextRef> {
    overruled.iter().map(|one| &one.reason)
}

fn texts_of_stage(stage: &JobStage) -> Vec<&TextRef> {
    let positions = stage.positions.iter().flat_map(|position| typed(&position.what));
    let readings = stage.readings.iter().flat_map(|reading| typed(&reading.what));
    let steps = stage.steps.iter().flat_map(texts_of_step);
    typed(&stage.title).chain(steps).chain(positions).chain(readings).collect()
}

fn texts_of_step(step: &JobStep) -> impl Iterator<Item = &TextRef> {
    typed(&step.instruction)
}

fn typed(wording: &Wording) -> impl Iterator<Item = &TextRef> {
    match wording {
        Wording::Typed(text) => Some(text),
        Wording::Template(_) => None,
    }
    .into_iter()
}

/// The job that a fact is about.
#[expect(clippy::too_many_lines, reason = "a table, a line a kind, so that the compiler names one that was forgotten")]
pub fn job_of(fact: &Fact) -> Option<JobNo> {
    use Fact as F;
    match fact {
        F::JobOpened { job, .. }
        | F::JobPromised { job, .. }
        | F::JobCustomerSet { job, .. }
        | F::JobCompleted { job, .. }
        | F::JobCancelled { job, .. }
        | F::JobReopened { job, .. }
        | F::VehiclePlaced { job, .. }
        | F::VehicleLeft { job, .. }
        | F::StayCorrected { job, .. }
        | F::StageAdded { job, .. }
        | F::StageReady { job, .. }
        | F::StageHeld { job, .. }
        | F::WaitPassed { job, .. }
        | F::StageStarted { job, .. }
        | F::StageFinished { job, .. }
        | F::StageSkipped { job, .. }
        | F::StepDone { job, .. }
        | F::StepSkipped { job, .. }
        | F::StepAdded { job, .. }
        | F::BlockerRaised { job, .. }
        | F::BlockerCleared { job, .. }
        | F::BlockerOwned { job, .. }
        | F::ClockedOn { job, .. }
        | F::ClockedOff { job, .. }
        | F::WorkRecorded { job, .. }
        | F::ClockingWithdrawn { job, .. }
        | F::StepReopened { job, .. }
        | F::StageReopened { job, .. }
        | F::PositionAdded { job, .. }
        | F::PositionOff { job, .. }
        | F::PositionBack { job, .. }
        | F::PositionTightened { job, .. }
        | F::PositionChecked { job, .. }
        | F::PositionReopened { job, .. }
        | F::PositionRecounted { job, .. }
        | F::ReadingAdded { job, .. }
        | F::ReadingTaken { job, .. }
        | F::ReadingDecided { job, .. }
        | F::RemarkMade { job, .. }
        | F::RemarkWithdrawn { job, .. }
        | F::PositionSplit { job, .. }
        | F::PositionSoaked { job, .. }
        | F::AttemptRecorded { job, .. }
        | F::VehicleStateSet { job, .. }
        | F::FluidRecorded { job, .. }
        | F::FillReckoned { job, .. }
        | F::FluidReopened { job, .. }
        | F::WayProposed { job, .. }
        | F::WayDecided { job, .. }
        | F::SomebodyTold { job, .. }
        | F::ToldWithdrawn { job, .. }
        | F::CorrectionAsked { job, .. }
        | F::CorrectionDecided { job, .. }
        | F::StagePinned { job, .. }
        | F::StageUnpinned { job, .. } => Some(*job),
        F::ToolLent { job, .. } => *job,
        F::Moved { wanter, .. } => wanter.as_ref().map(|wanter| wanter.job),
        F::DemandSet { wanter, .. }
        | F::Reserved { wanter, .. }
        | F::ReservationReduced { wanter, .. }
        | F::ShortageOpened { wanter, .. }
        | F::ShortageChanged { wanter, .. } => Some(wanter.job),
        F::ShopOpened { .. }
        | F::CalendarSet { .. }
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
        | F::ToolAdded { .. }
        | F::ToolDescribed { .. }
        | F::ToolRetired { .. }
        | F::ToolReturned { .. }
        | F::LoanReopened { .. }
        | F::BadgeSet { .. }
        | F::PinSet { .. }
        | F::ProofWithdrawn { .. }
        | F::SignedIn { .. }
        | F::SignedOut { .. }
        | F::TemplatePublished { .. }
        | F::VehicleAdded { .. }
        | F::VehicleDescribed { .. }
        | F::CustomerAdded { .. }
        | F::CustomerEdited { .. }
        | F::CustomerForgotten { .. }
        | F::ItemAdded { .. }
        | F::PlaceAdded { .. }
        | F::LotMade { .. }
        | F::LotExpired { .. }
        | F::SupplierSet { .. }
        | F::ItemSupplierSet { .. }
        | F::ItemFluidSet { .. }
        | F::PlanAccepted { .. }
        | F::OvertimeOpened { .. }
        | F::OvertimeClosed { .. } => None,
    }
}
