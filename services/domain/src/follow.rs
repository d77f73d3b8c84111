//! Keeping up with facts that somebody else made: what is loaded of a shop is brought from one
//! journal number to a later one without loading it again.
//!
//! What is loaded is part of the shop, so a fact may touch rows that are not there. Two things hold
//! before and after: every loaded row is as it lies in the database, and every row that a noted need
//! names is loaded. Three things may be done with a fact, therefore:
//!
//! - *fold it*, when all it reads is loaded. Rows that [`apply`] changes or
//!   looks up must be there, or it says so; rows that it would make from nothing (balances, holds,
//!   demand, reservations) are known to be all there by the need that names them;
//! - *pass over it*, when nothing of what it touches is loaded, and no noted need names it;
//! - *give up*, when some of it is loaded and some is not. Then everything is loaded anew.

use crate::apply::apply;
use crate::need::Need;
use crate::state::State;
use leadhand_facts::fact::Wanter;
use leadhand_facts::{
    BayKey, Entry, Fact, Instant, ItemKey, JobNo, LotId, PersonId, PositionKey, ReadingKey, RemarkNo, StageKey, StepNo,
    ToldNo, VehicleId,
};

/// What is loaded can't be brought forward; load it anew.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("fact {number} can't be followed with what is loaded: {why}")]
pub struct Lost {
    /// The first fact that can't be followed.
    pub number: i64,
    /// Why.
    pub why: String,
}

/// What is to be done with a fact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    Fold,
    PassOver,
}

type Found = Result<Way, &'static str>;

/// Brings what is loaded forward by these facts, the ones right after [`State::head`]. An error
/// leaves the state of no use.
pub fn follow(state: &mut State, entries: &[Entry]) -> Result<(), Lost> {
    for entry in entries {
        let lost = |why: String| Lost { number: entry.number, why };
        match way(state, &entry.fact).map_err(|why| lost(why.to_owned()))? {
            Way::Fold => apply(state, entry).map_err(|broken| lost(broken.why))?,
            Way::PassOver => pass_over(state, entry).map_err(|why| lost(why.to_owned()))?,
        }
        note_whole(state, entry);
    }
    // They are in the database already.
    state.take_changes();
    Ok(())
}

/// Notes what is wholly loaded because it began with this fact, which is in the state.
pub fn note_whole(state: &mut State, entry: &Entry) {
    let Fact::JobOpened { job, vehicle, .. } = &entry.fact else { return };
    let whole = Need::Job(*job);
    if state.vehicles.get(&(*vehicle,)).is_some() {
        state.note_loaded(whole);
    } else {
        // Somebody may have looked for the job before it was there.
        state.forget_needs(|need| *need == whole);
    }
}

fn pass_over(state: &mut State, entry: &Entry) -> Result<(), &'static str> {
    if entry.number != state.head + 1 {
        return Err("it is not the next one");
    }
    state.head = entry.number;
    // These name rows by what is in them or by who wrote them, and may name more from now on.
    state.forget_needs(|need| {
        matches!(
            need,
            Need::WaitsOver(_)
                | Need::LotsExpired(_)
                | Need::PersonTexts(_)
                | Need::OpenJobs
                | Need::Clocking(_)
                | Need::CustomerBooks(_)
                | Need::CustomerTexts(_)
                | Need::ToolWanted(_)
                | Need::FillsFrom(_)
                | Need::BayMisfits(..)
        )
    });
    Ok(())
}

fn way(state: &State, fact: &Fact) -> Found {
    match fact {
        Fact::BayAdded { .. }
        | Fact::PersonAdded { .. }
        | Fact::SkillsSet { .. }
        | Fact::TokenIssued { .. }
        | Fact::TemplatePublished { .. }
        | Fact::VehicleAdded { .. }
        | Fact::JobOpened { .. }
        | Fact::ItemAdded { .. }
        | Fact::PlaceAdded { .. }
        | Fact::SupplierSet { .. } => Ok(Way::Fold),
        Fact::ItemSupplierSet { item, .. } | Fact::ItemFluidSet { item, .. } => {
            pass_unless(state.items.get(&(item.clone(),)).is_none(), Ok(Way::Fold))
        }
        Fact::TokenRevoked { token } | Fact::TokenLimited { token, .. } => {
            pass_unless(state.tokens.get(&(*token,)).is_none(), Ok(Way::Fold))
        }
        Fact::LotMade { item, .. } => pass_unless(!state.has(&Need::Stock(item.clone())), Ok(Way::Fold)),
        Fact::LotExpired { lot, item } | Fact::Moved { item, lot, wanter: None, .. } => of_stock(state, item, *lot),
        Fact::Moved { item, lot, wanter: Some(wanter), .. } => of_issue(state, wanter, item, *lot),
        Fact::DemandSet { wanter, item, .. } => {
            let whole = state.has(&Need::Job(wanter.job));
            of_want(state, wanter, item, false, whole)
        }
        Fact::Reserved { reservation, wanter, item, place, .. } => {
            let there = state.reservations.get(&(*reservation,)).is_some();
            let whole = there || state.has(&Need::Job(wanter.job));
            let touched = there || state.holds.get(&(item.clone(), place.clone())).is_some();
            of_want(state, wanter, item, touched, whole && state.has(&Need::Stock(item.clone())))
        }
        Fact::ReservationReduced { reservation, wanter, item, place, .. } => {
            let there = state.reservations.get(&(*reservation,)).is_some();
            let touched = there || state.holds.get(&(item.clone(), place.clone())).is_some();
            of_want(state, wanter, item, touched, state.has(&Need::Stock(item.clone())))
        }
        // The shop's own row is what every load has.
        Fact::YardSet { .. } => pass_unless(state.shop.get(&()).is_none(), Ok(Way::Fold)),
        // A plan is about all jobs at once.
        Fact::PlanAccepted { .. } => {
            let untouched = state.jobs.is_empty() && !state.has(&Need::Plan);
            pass_unless(untouched, Err("a plan was accepted, and part of one is loaded"))
        }
        Fact::OvertimeOpened { .. } | Fact::OvertimeClosed { .. } => {
            pass_unless(!names_overtime(state), Err("overtime changed, and some is loaded"))
        }
        Fact::ShortageOpened { wanter, item, .. } => of_want(state, wanter, item, false, true),
        Fact::ShortageChanged { shortage, wanter, item, .. } => {
            of_want(state, wanter, item, state.shortages.get(&(*shortage,)).is_some(), true)
        }
        other => of_job(state, other),
    }
}

fn pass_unless(untouched: bool, otherwise: Found) -> Found {
    if untouched { Ok(Way::PassOver) } else { otherwise }
}

/// Whether a job's row is there; if it is, every fact about the job touches it.
fn knows(state: &State, job: JobNo) -> bool {
    state.jobs.get(&(job,)).is_some()
}

/// Facts about jobs, stages and the time of persons. Where the job is not loaded, the rest of what
/// they touch is looked for.
fn of_job(state: &State, fact: &Fact) -> Found {
    let (job, touched) = match fact {
        Fact::JobPromised { job, .. }
        | Fact::JobCustomerSet { job, .. }
        | Fact::BlockerRaised { job, .. }
        | Fact::BlockerOwned { job, .. }
        | Fact::BlockerCleared { job, .. } => (*job, false),
        // What was planned of it goes, and the plan is loaded without its jobs.
        Fact::JobCompleted { job, .. } | Fact::JobCancelled { job, .. } => (*job, state.has(&Need::Plan)),
        Fact::StagePinned { job, stage, .. } | Fact::StageUnpinned { job, stage } => {
            (*job, state.stage_pins.get(&(*job, stage.clone())).is_some())
        }
        Fact::VehiclePlaced { job, bay, vehicle, .. } => (*job, names_stay(state, bay, *vehicle)),
        Fact::VehicleLeft { job, stay, .. } => (*job, state.stays.get(&(*stay,)).is_some()),
        Fact::StayCorrected { job, stay, bay, vehicle, .. } => {
            (*job, state.stays.get(&(*stay,)).is_some() || names_stay(state, bay, *vehicle))
        }
        Fact::StageAdded { job, stage, .. } => (*job, has_stage(state, *job, &stage.stage)),
        Fact::StageReady { job, stage, .. }
        | Fact::StageHeld { job, stage }
        | Fact::WaitPassed { job, stage }
        | Fact::StageStarted { job, stage, .. }
        | Fact::StageFinished { job, stage, .. }
        | Fact::StageSkipped { job, stage, .. }
        | Fact::StageReopened { job, stage, .. }
        | Fact::StepAdded { job, stage, .. } => (*job, has_stage(state, *job, stage)),
        Fact::StepDone { job, stage, step, .. }
        | Fact::StepSkipped { job, stage, step, .. }
        | Fact::FillReckoned { job, stage, step, .. }
        | Fact::StepReopened { job, stage, step, .. } => (*job, has_step(state, *job, stage, *step)),
        Fact::ClockedOn { job, person, .. } | Fact::WorkRecorded { job, person, .. } => {
            (*job, names_clocking(state, *person))
        }
        Fact::ClockedOff { job, clocking, .. } | Fact::ClockingWithdrawn { job, clocking, .. } => {
            (*job, state.clockings.get(&(*clocking,)).is_some())
        }
        // Calendars, shared tools and whoever is forgotten: seldom, and they touch rows far and wide. Nor is any kind
        // followed that nobody has thought about here.
        _ => match of_book(state, fact) {
            Some(found) => found,
            None => return Err("facts of its kind are not followed"),
        },
    };
    match (knows(state, job), touched) {
        (true, _) => Ok(Way::Fold),
        (false, false) => Ok(Way::PassOver),
        (false, true) => Err("part of a job is loaded without the job"),
    }
}

/// Facts about what came off a job's vehicle, what was measured and said, and in which condition it is.
fn of_book(state: &State, fact: &Fact) -> Option<(JobNo, bool)> {
    Some(match fact {
        Fact::PositionAdded { job, position, .. } => (*job, has_position(state, *job, &position.position)),
        Fact::PositionOff { job, position, .. }
        | Fact::PositionBack { job, position, .. }
        | Fact::PositionTightened { job, position, .. }
        | Fact::PositionChecked { job, position, .. }
        | Fact::PositionReopened { job, position, .. }
        | Fact::PositionRecounted { job, position, .. }
        | Fact::PositionSplit { job, position, .. }
        | Fact::PositionSoaked { job, position, .. }
        | Fact::AttemptRecorded { job, position, .. } => (*job, has_position(state, *job, position)),
        Fact::ReadingAdded { job, reading, .. } => (*job, has_reading(state, *job, &reading.reading)),
        Fact::ReadingTaken { job, reading, .. } | Fact::ReadingDecided { job, reading, .. } => {
            (*job, has_reading(state, *job, reading))
        }
        Fact::RemarkMade { job, remark, .. } | Fact::RemarkWithdrawn { job, remark, .. } => {
            (*job, has_remark(state, *job, *remark))
        }
        Fact::SomebodyTold { job, told, .. } | Fact::ToldWithdrawn { job, told, .. } => {
            (*job, has_told(state, *job, *told))
        }
        Fact::CorrectionAsked { job, ask, .. } | Fact::CorrectionDecided { job, ask, .. } => {
            (*job, state.asked.get(&(*job, *ask)).is_some())
        }
        Fact::VehicleStateSet { job, state: now, .. } => {
            (*job, state.vehicle_states.get(&(*job, now.feature())).is_some())
        }
        Fact::FluidRecorded { job, fluid, .. } | Fact::FluidReopened { job, fluid, .. } => {
            (*job, state.fluids.get(&(*job, fluid.clone())).is_some())
        }
        Fact::WayProposed { job, stage, step, .. } | Fact::WayDecided { job, stage, step, .. } => {
            (*job, state.ways.get(&(*job, stage.clone(), *step)).is_some())
        }
        _ => return None,
    })
}

/// A movement or an end that concerns no job.
fn of_stock(state: &State, item: &ItemKey, lot: LotId) -> Found {
    if state.has(&Need::Stock(item.clone())) {
        return Ok(Way::Fold);
    }
    pass_unless(state.lots.get(&(lot,)).is_none(), Err("a lot is loaded without its balances"))
}

/// A movement for a step.
fn of_issue(state: &State, wanter: &Wanter, item: &ItemKey, lot: LotId) -> Found {
    let touched = state.lots.get(&(lot,)).is_some();
    of_want(state, wanter, item, touched, state.has(&Need::Stock(item.clone())))
}

/// What a step wants of an item: `touched` when another row of it is loaded, `whole` when all it
/// would make from nothing is known.
fn of_want(state: &State, wanter: &Wanter, item: &ItemKey, touched: bool, whole: bool) -> Found {
    if knows(state, wanter.job) {
        return if whole { Ok(Way::Fold) } else { Err("a job is loaded without the stock that it wants") };
    }
    let demand = (wanter.job, wanter.stage.clone(), wanter.step, item.clone());
    let touched = touched || state.has(&Need::Stock(item.clone())) || state.demands.get(&demand).is_some();
    pass_unless(!touched, Err("stock is loaded without the job that wants it"))
}

fn has_stage(state: &State, job: JobNo, stage: &StageKey) -> bool {
    state.stages.get(&(job, stage.clone())).is_some()
}

fn has_step(state: &State, job: JobNo, stage: &StageKey, step: StepNo) -> bool {
    state.steps.get(&(job, stage.clone(), step)).is_some()
}

fn has_position(state: &State, job: JobNo, position: &PositionKey) -> bool {
    state.positions.get(&(job, position.clone())).is_some()
}

fn has_reading(state: &State, job: JobNo, reading: &ReadingKey) -> bool {
    state.readings.get(&(job, reading.clone())).is_some()
}

fn has_remark(state: &State, job: JobNo, remark: RemarkNo) -> bool {
    state.remarks.get(&(job, remark)).is_some()
}

fn has_told(state: &State, job: JobNo, told: ToldNo) -> bool {
    state.told.get(&(job, told)).is_some()
}

const EVER: Instant = Instant(i64::MIN);

fn names_stay(state: &State, bay: &BayKey, vehicle: VehicleId) -> bool {
    let in_bay = state.next_need(&Need::BayStays(bay.clone(), EVER));
    let of_vehicle = state.next_need(&Need::VehicleStays(vehicle, EVER));
    matches!(in_bay, Some(Need::BayStays(named, _)) if named == bay)
        || matches!(of_vehicle, Some(Need::VehicleStays(named, _)) if *named == vehicle)
}

fn names_overtime(state: &State) -> bool {
    matches!(state.next_need(&Need::Overtime(EVER)), Some(Need::Overtime(_)))
}

fn names_clocking(state: &State, person: PersonId) -> bool {
    let of_person = state.next_need(&Need::PersonClockings(person, EVER));
    matches!(of_person, Some(Need::PersonClockings(named, _)) if *named == person)
}
