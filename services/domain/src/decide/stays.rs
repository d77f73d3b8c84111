//! Where a vehicle stood was said wrongly: the stay is corrected, and work that leans on it forbids
//! what would leave it without a place.

use crate::answer::{Made, Notice};
use crate::check;
use crate::command::{CorrectStay, SetBay};
use crate::decide::{bays, place, shop};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::telling::FreeFrom;
use leadhand_facts::rows::{BayRow, ClockingRow, JobRow, StayRow};
use leadhand_facts::{Fact, Instant, JobNo, Window};
use std::collections::BTreeSet;

pub(super) fn correct(session: &mut Session, command: &CorrectStay) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    let job = look::job_as_seen(session.state, session.context, command.job)?.clone();
    let row = stay(session.state, command)?.clone();
    let bay = look::bay(session.state, command.bay.as_ref().unwrap_or(&row.bay))?.clone();
    let (from, until) = times(session, &job, &row, command)?;
    if (&bay.bay, from, until) == (&row.bay, row.from_at, row.until_at) {
        return Err(Refusal::NothingToDo { what: "correct: that is what was entered".to_owned() });
    }
    refuse_weight(session.state, &job, &bay)?;
    let span = Window { from, until: until.unwrap_or(Instant(i64::MAX)) };
    refuse_taken(session, &row, &bay, span)?;
    let reason = session.seal(&command.reason);
    let StayRow { stay, vehicle, job, .. } = row;
    session.emit(Fact::StayCorrected { stay, bay: bay.bay, vehicle, job, from_at: from, until_at: until, reason })?;
    refuse_homeless(session, job)?;
    Ok(Made::Nothing)
}

/// What a bay is and bears was said wrongly. Work that was done in it must have been possible there, or the
/// bay is another one; a vehicle that stands in it stays, and the stages that can't be done there are told.
pub(super) fn set_bay(session: &mut Session, command: &SetBay) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    let row = look::bay(session.state, &command.bay)?.clone();
    let bay = BayRow {
        kind: command.kind.unwrap_or(row.kind),
        rated_kg: command.rated_kg.unwrap_or(row.rated_kg),
        ..row.clone()
    };
    shop::check_rated("rated_kg", bay.kind, bay.rated_kg)?;
    if bay == row {
        return Err(Refusal::NothingToDo { what: "correct: that is what was entered".to_owned() });
    }
    let stay = look::stay_in(session.state, &bay.bay).cloned();
    if let Some(stay) = &stay {
        let job = look::job(session.state, stay.job)?.clone();
        refuse_weight(session.state, &job, &bay)?;
    }
    let reason = session.seal(&command.reason);
    let (kind, rated_kg) = (bay.kind, bay.rated_kg);
    session.emit(Fact::BayCorrected { bay: bay.bay.clone(), bay_kind: kind, rated_kg, reason })?;
    let jobs: BTreeSet<JobNo> =
        session.state.stays.iter().filter(|stay| stay.bay == bay.bay).map(|stay| stay.job).collect();
    jobs.into_iter().try_for_each(|job| refuse_homeless(session, job))?;
    for stage in stay.map(|stay| look::stages_in_order(session.state, stay.job)).unwrap_or_default() {
        if !look::is_ended(stage) && !bays::fits(stage, kind) {
            session.notices.push(Notice::OtherBayLater { stage: stage.stage.clone() });
        }
    }
    Ok(Made::Nothing)
}

/// The stay that is named by the fact that began it, or the job's last one.
fn stay<'a>(state: &'a State, command: &CorrectStay) -> Result<&'a StayRow, Refusal> {
    let own = state.stays.iter().filter(|row| row.job == command.job);
    let found = match command.stay {
        Some(number) => own.into_iter().find(|row| row.from_n == number),
        None => own.max_by_key(|row| row.from_at),
    };
    found.ok_or_else(|| Refusal::Unknown {
        what: "stay in a bay",
        which: command.stay.map_or_else(|| format!("of job {}", command.job), |number| number.to_string()),
        todo: "`leadhand journal read` shows when the vehicle came into one",
    })
}

fn times(
    session: &Session,
    job: &JobRow,
    row: &StayRow,
    command: &CorrectStay,
) -> Result<(Instant, Option<Instant>), Refusal> {
    let context = session.context;
    if context.happened_at != context.now {
        let why = "from_at and until_at say when the vehicle was there; leave it out";
        return Err(Refusal::invalid("write.happened_at", why));
    }
    let (from, until) = (command.from_at.unwrap_or(row.from_at), command.until_at.or(row.until_at));
    if row.until_at.is_none() && until.is_some() {
        return Err(Refusal::invalid("until_at", "the vehicle is still there; roll it out, or assign another bay"));
    }
    if from > context.now {
        return Err(Refusal::invalid("from_at", "it has not come yet; give a time that has passed"));
    }
    if from < job.opened_at {
        return Err(look::too_early("the stay", from, job.opened_at));
    }
    let last = job.closed_at.unwrap_or(context.now);
    if let Some(at) = until.filter(|until| *until > last) {
        return Err(Refusal::TooLate { what: format!("leaving bay {}", row.bay), at, latest: last });
    }
    if until.is_some_and(|until| until <= from) {
        let field = if command.until_at.is_some() { "until_at" } else { "from_at" };
        return Err(Refusal::invalid(field, "the stay would end before it begins; give both ends"));
    }
    Ok((from, until))
}

fn refuse_weight(state: &State, job: &JobRow, bay: &BayRow) -> Result<(), Refusal> {
    let weight = state.vehicles.get(&(job.vehicle,)).and_then(|vehicle| vehicle.weight_kg);
    match weight.filter(|weight| !look::bears(bay, *weight)) {
        Some(weight_kg) => Err(Refusal::TooHeavy { bay: bay.bay.clone(), rated_kg: bay.rated_kg, weight_kg }),
        None => Ok(()),
    }
}

/// Another vehicle was there, or this one elsewhere.
fn refuse_taken(session: &Session, row: &StayRow, bay: &BayRow, span: Window) -> Result<(), Refusal> {
    let meets = |other: &&StayRow| {
        let taken = Window { from: other.from_at, until: other.until_at.unwrap_or(Instant(i64::MAX)) };
        other.stay != row.stay && taken.meets(span)
    };
    for other in session.state.stays.iter().filter(meets) {
        let (from_at, until_at) = (other.from_at, FreeFrom(other.until_at.unwrap_or(session.context.now)));
        if other.bay == bay.bay && other.until_at.is_none() {
            return Err(Refusal::BayTaken { bay: bay.bay.clone(), job: other.job });
        }
        if other.bay == bay.bay {
            return Err(Refusal::BayTakenThen { bay: bay.bay.clone(), job: other.job, from_at, until_at });
        }
        if other.vehicle == row.vehicle {
            return Err(Refusal::VehicleElsewhereThen { job: row.job, bay: other.bay.clone(), from_at, until_at });
        }
    }
    Ok(())
}

/// Work that was done has a fitting bay afterwards as before. Looks at the stays as corrected.
fn refuse_homeless(session: &Session, job: JobNo) -> Result<(), Refusal> {
    let (state, now) = (&*session.state, session.context.now);
    let own = state.clockings.iter().filter(|row| row.job == job);
    for ClockingRow { job, stage, from_at, until_at, .. } in own {
        let row = look::stage(state, *job, stage)?;
        if until_at.is_none() && !row.bays.is_empty() {
            let vehicle = look::job(state, *job)?.vehicle;
            let stay = look::stay_of(state, vehicle).ok_or(Refusal::NotInBay { job: *job })?;
            if !bays::fits(row, look::bay(state, &stay.bay)?.kind) {
                let (bay, asked) = (stay.bay.clone(), bays::kinds(&row.bays));
                return Err(Refusal::WrongBay { job: *job, stage: stage.clone(), bay, asked });
            }
        }
        place::refuse_absent(state, row, Window { from: *from_at, until: until_at.unwrap_or(now) })?;
    }
    Ok(())
}
