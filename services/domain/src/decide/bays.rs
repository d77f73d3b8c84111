//! Which vehicle stands in which bay.

use crate::answer::{Made, Notice};
use crate::check;
use crate::command::{AssignJob, RollOut};
use crate::decide::{place, skills};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::telling::FreeFrom;
use leadhand_facts::rows::{BayRow, JobRow, StageRow, StayRow};
use leadhand_facts::words::{BayKind, LeaveReason, StageKind, StageState};
use leadhand_facts::{Fact, Instant, JobNo, StageKey, StayId, TextRef};

pub(super) fn assign(session: &mut Session, command: &AssignJob) -> Result<Made, Refusal> {
    check::text_some("override_reason", command.override_reason.as_deref())?;
    let job = look::open_job(session.state, session.context, command.job)?.clone();
    let bay = look::bay(session.state, &command.bay)?.clone();
    let stay = look::stay_of(session.state, job.vehicle).cloned();
    refuse_bay(session.state, &job, &bay, stay.as_ref())?;
    refuse_past(session.state, &job, &bay, stay.as_ref(), session.at())?;
    if let Some(stay) = stay {
        place::refuse_away(session, &job, &stay, Some(bay.kind))?;
        let overridden = may_leave(session, &job, command.override_reason.as_deref())?;
        leave(session, &stay, LeaveReason::Moved, overridden)?;
    }
    let placed = StayId(session.id());
    session.emit(Fact::VehiclePlaced { stay: placed, bay: bay.bay.clone(), vehicle: job.vehicle, job: job.job })?;
    for stage in look::stages_in_order(session.state, job.job) {
        if !look::is_ended(stage) && !fits(stage, bay.kind) {
            session.notices.push(Notice::OtherBayLater { stage: stage.stage.clone() });
        }
    }
    Ok(Made::Nothing)
}

pub(super) fn roll_out(session: &mut Session, command: &RollOut) -> Result<Made, Refusal> {
    check::text_some("override_reason", command.override_reason.as_deref())?;
    let job = look::open_job(session.state, session.context, command.job)?.clone();
    let stay = look::stay_of(session.state, job.vehicle).cloned().ok_or(Refusal::NotInBay { job: job.job })?;
    place::refuse_away(session, &job, &stay, None)?;
    let overridden = may_leave(session, &job, command.override_reason.as_deref())?;
    leave(session, &stay, LeaveReason::RolledOut, overridden)?;
    Ok(Made::Nothing)
}

/// Ends a stay at the command's time; an empty stay is refused.
pub(super) fn leave(
    session: &mut Session,
    stay: &StayRow,
    why: LeaveReason,
    overridden: Option<TextRef>,
) -> Result<(), Refusal> {
    if session.at() <= stay.from_at {
        return Err(look::too_early(format!("leaving bay {}", stay.bay), session.at(), stay.from_at));
    }
    let StayRow { stay, bay, vehicle, job, .. } = stay.clone();
    session.emit(Fact::VehicleLeft { stay, bay, vehicle, job, why, overridden })?;
    Ok(())
}

/// Whether a stage can be done in a bay of this kind.
pub(super) fn fits(stage: &StageRow, kind: BayKind) -> bool {
    stage.bays.is_empty() || stage.bays.contains(&kind)
}

/// Bay kinds as a person reads them: "two-post-lift or pit".
pub(super) fn kinds(kinds: &[BayKind]) -> String {
    kinds.iter().map(|kind| kind.word()).collect::<Vec<_>>().join(" or ")
}

fn refuse_bay(state: &State, job: &JobRow, bay: &BayRow, stay: Option<&StayRow>) -> Result<(), Refusal> {
    if stay.is_some_and(|stay| stay.bay == bay.bay) {
        return Err(Refusal::AlreadyThere { job: job.job, bay: bay.bay.clone() });
    }
    if let Some(other) = look::stay_in(state, &bay.bay) {
        return Err(Refusal::BayTaken { bay: bay.bay.clone(), job: other.job });
    }
    let weight = state.vehicles.get(&(job.vehicle,)).and_then(|vehicle| vehicle.weight_kg);
    if let Some(weight_kg) = weight.filter(|weight| !look::bears(bay, *weight)) {
        return Err(Refusal::TooHeavy { bay: bay.bay.clone(), rated_kg: bay.rated_kg, weight_kg });
    }
    let asked: Vec<&StageRow> =
        look::stages(state, job.job).filter(|stage| !look::is_ended(stage) && !stage.bays.is_empty()).collect();
    if asked.is_empty() || asked.iter().any(|stage| fits(stage, bay.kind)) {
        return Ok(());
    }
    let mut all: Vec<BayKind> = asked.iter().flat_map(|stage| stage.bays.iter().copied()).collect();
    all.sort();
    all.dedup();
    Err(Refusal::UnfitBay { bay: bay.bay.clone(), kind: bay.kind.to_string(), asked: kinds(&all) })
}

/// A stay that begins at a time in the past lasts until now at least: nothing else may lie in it.
fn refuse_past(state: &State, job: &JobRow, bay: &BayRow, stay: Option<&StayRow>, at: Instant) -> Result<(), Refusal> {
    if let Some(stay) = stay.filter(|stay| at <= stay.from_at) {
        return Err(look::too_early(format!("leaving bay {}", stay.bay), at, stay.from_at));
    }
    let over = |row: &StayRow| Some((row.from_at, FreeFrom(row.until_at.filter(|until_at| *until_at > at)?)));
    for row in state.stays.iter() {
        let Some((from_at, until_at)) = over(row) else { continue };
        if row.bay == bay.bay {
            return Err(Refusal::BayTakenThen { bay: bay.bay.clone(), job: row.job, from_at, until_at });
        }
        if row.vehicle == job.vehicle {
            return Err(Refusal::VehicleElsewhereThen { job: job.job, bay: row.bay.clone(), from_at, until_at });
        }
    }
    Ok(())
}

/// Whether the vehicle may leave its bay as the work stands; the lead's sealed reason when that
/// had to be overridden.
fn may_leave(session: &mut Session, job: &JobRow, reason: Option<&str>) -> Result<Option<TextRef>, Refusal> {
    let kept = stage_that_keeps(session.state, job.job);
    let objection = kept.map(|stage| Refusal::CannotLeave { job: job.job, stage });
    skills::overruled(session, objection, reason, "move a vehicle that may not leave its bay yet")
}

/// The stage that keeps a vehicle in its bay: work under way, or else the last finished work
/// after which the template does not let it out.
fn stage_that_keeps(state: &State, job: JobNo) -> Option<StageKey> {
    let work: Vec<&StageRow> = look::stages(state, job).filter(|stage| stage.kind == StageKind::Work).collect();
    if let Some(active) = work.iter().find(|stage| stage.state == StageState::Active) {
        return Some(active.stage.clone());
    }
    if look::stages(state, job).all(look::is_ended) {
        return None;
    }
    let last = work.iter().filter(|stage| stage.state == StageState::Finished).max_by_key(|stage| stage.ended_n)?;
    (!last.may_leave).then(|| last.stage.clone())
}
