//! Where a vehicle has to stand while somebody works on it. Nobody overrides that.

use crate::decide::bays;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::{ClockingRow, JobRow, StageRow, StayRow};
use leadhand_facts::words::BayKind;
use leadhand_facts::{Instant, Window};

/// Refuses work that begins now, or began then and goes on, unless the vehicle has been standing
/// in a bay that fits.
pub(super) fn refuse_present(session: &Session, row: &StageRow) -> Result<(), Refusal> {
    if row.bays.is_empty() {
        return Ok(());
    }
    let vehicle = look::job(session.state, row.job)?.vehicle;
    let stay = look::stay_of(session.state, vehicle).ok_or(Refusal::NotInBay { job: row.job })?;
    if bays::fits(row, look::bay(session.state, &stay.bay)?.kind) {
        // It may have come from another bay that fits as well.
        let before = Window { from: session.at(), until: stay.from_at };
        return if before.from < before.until { refuse_absent(session.state, row, before) } else { Ok(()) };
    }
    let (job, stage, bay) = (row.job, row.stage.clone(), stay.bay.clone());
    Err(Refusal::WrongBay { job, stage, bay, asked: bays::kinds(&row.bays) })
}

/// Refuses work that is over, unless the vehicle stood in bays that fit all the time.
pub(super) fn refuse_absent(state: &State, row: &StageRow, times: Window) -> Result<(), Refusal> {
    if row.bays.is_empty() {
        return Ok(());
    }
    let vehicle = look::job(state, row.job)?.vehicle;
    let fitting = |stay: &&StayRow| {
        stay.vehicle == vehicle && state.bays.get(&(stay.bay.clone(),)).is_some_and(|bay| bays::fits(row, bay.kind))
    };
    let mut stays: Vec<&StayRow> = state.stays.iter().filter(fitting).collect();
    stays.sort_by_key(|stay| stay.from_at);
    let mut reached = times.from;
    for stay in stays {
        if stay.from_at <= reached {
            reached = reached.max(stay.until_at.unwrap_or(Instant(i64::MAX)));
        }
    }
    if times.until <= reached {
        return Ok(());
    }
    let (job, stage, asked) = (row.job, row.stage.clone(), bays::kinds(&row.bays));
    Err(Refusal::NotInBayThen { job, stage, asked, from_at: times.from, until_at: times.until })
}

/// Refuses what is looked at on the vehicle at the command's time, unless it stood in a bay that fits then.
pub(super) fn refuse_elsewhere(session: &Session, row: &StageRow) -> Result<(), Refusal> {
    if row.bays.is_empty() {
        return Ok(());
    }
    let at = session.at();
    let then =
        |stay: &&StayRow| stay.job == row.job && stay.from_at <= at && stay.until_at.is_none_or(|until| at <= until);
    let mut stays: Vec<&StayRow> = session.state.stays.iter().filter(then).collect();
    stays.sort_by_key(|stay| stay.from_at);
    let Some(last) = stays.last() else { return Err(Refusal::NotInBay { job: row.job }) };
    let kind = |stay: &StayRow| look::bay(session.state, &stay.bay).map(|bay| bay.kind);
    for stay in &stays {
        if bays::fits(row, kind(stay)?) {
            return Ok(());
        }
    }
    let (job, stage, bay) = (row.job, row.stage.clone(), last.bay.clone());
    Err(Refusal::WrongBay { job, stage, bay, asked: bays::kinds(&row.bays) })
}

/// Refuses to take a vehicle away from under somebody who works on it, or did so after that time.
/// `to` is the kind of the bay that it goes to; none for outside.
pub(super) fn refuse_away(session: &Session, job: &JobRow, stay: &StayRow, to: Option<BayKind>) -> Result<(), Refusal> {
    let (state, at) = (&*session.state, session.at());
    let goes_on = |row: &&ClockingRow| {
        row.job == job.job
            && row.until_at.is_none_or(|until| until > at)
            && state.stages.get(&(row.job, row.stage.clone())).is_some_and(|stage| ties(stage, to))
    };
    let rows: Vec<&ClockingRow> = state.clockings.iter().filter(goes_on).collect();
    if let Some(until) = rows.iter().filter_map(|row| row.until_at).max() {
        return Err(look::too_early(format!("leaving bay {}", stay.bay), at, until));
    }
    let Some(first) = rows.first() else { return Ok(()) };
    let there = rows.iter().filter(|row| row.stage == first.stage).map(|row| row.person.to_string());
    let who = there.collect::<Vec<_>>().join(", ");
    Err(Refusal::AtWork { job: job.job, stage: first.stage.clone(), who })
}

/// Whether a stage can't be worked on there.
fn ties(stage: &StageRow, to: Option<BayKind>) -> bool {
    !stage.bays.is_empty() && to.is_none_or(|kind| !bays::fits(stage, kind))
}
