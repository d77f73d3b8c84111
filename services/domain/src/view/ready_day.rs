//! Which stages a bay or a person comes to in what is left of a day, if all takes as long as is likely.

use crate::look;
use crate::refusal::Refusal;
use crate::state::State;
use jiff::tz::TimeZone;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::rows::{JobRow, StageRow};
use leadhand_facts::words::{BayKind, JobState};
use leadhand_facts::{BayKey, Instant, JobNo, PersonId, StageKey};
use std::collections::BTreeSet;

/// Of what a ready list is made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Of {
    /// One stage of a job.
    Stage(JobNo, StageKey),
    /// All that is left of a job.
    Job(JobNo),
    /// The rest of the day in a bay.
    Bay(BayKey),
    /// The rest of a person's shift.
    Person(PersonId),
}

/// The stages meant, in the order in which they come.
pub fn stages_of(state: &State, of: &Of, now: Instant) -> Result<Vec<(JobNo, StageKey)>, Refusal> {
    match of {
        Of::Stage(job, stage) => {
            look::job(state, *job)?;
            look::stage(state, *job, stage)?;
            Ok(vec![(*job, stage.clone())])
        }
        Of::Job(job) => {
            look::job(state, *job)?;
            Ok(left_of(state, *job).map(|row| (row.job, row.stage.clone())).collect())
        }
        Of::Bay(bay) => {
            let row = look::bay(state, bay)?;
            let Some(stay) = look::stay_in(state, bay) else { return Ok(Vec::new()) };
            let open = state.open_windows.iter().map(|window| (window.from_at, window.until_at));
            let minutes = minutes_left_today(state, open, now);
            Ok(within(state, stay.job, Some(row.kind), minutes))
        }
        Of::Person(person) => {
            look::person(state, *person)?;
            let own = state.shift_windows.iter().filter(|window| window.person == *person);
            let minutes = minutes_left_today(state, own.map(|window| (window.from_at, window.until_at)), now);
            let on = look::clocking_of(state, *person).map(|row| row.job);
            Ok(on.map(|job| within(state, job, bay_kind(state, job), minutes)).unwrap_or_default())
        }
    }
}

fn left_of(state: &State, job: JobNo) -> impl Iterator<Item = &StageRow> {
    look::stages_in_order(state, job).into_iter().filter(|row| !look::is_ended(row))
}

fn bay_kind(state: &State, job: JobNo) -> Option<BayKind> {
    let row: &JobRow = state.jobs.get(&(job,)).filter(|row| row.state == JobState::Open)?;
    let stay = look::stay_of(state, row.vehicle)?;
    state.bays.get(&(stay.bay.clone(),)).map(|bay| bay.kind)
}

/// Stages in their written order until the time is used up; the first one always, and none that asks for another kind
/// of bay or comes after one that does.
fn within(state: &State, job: JobNo, kind: Option<BayKind>, minutes: i64) -> Vec<(JobNo, StageKey)> {
    let (mut used, mut found, mut elsewhere) = (0_i64, Vec::new(), BTreeSet::new());
    for row in left_of(state, job) {
        let fits = row.bays.is_empty() || kind.is_none_or(|kind| row.bays.contains(&kind));
        let waits = look::afters(state, job, &row.stage).any(|after| elsewhere.contains(&after.after));
        if !fits || waits {
            elsewhere.insert(row.stage.clone());
            continue;
        }
        if !found.is_empty() && used >= minutes {
            break;
        }
        used += i64::from(row.likely);
        found.push((job, row.stage.clone()));
    }
    found
}

/// Whole minutes of these windows from now to the end of the local day.
fn minutes_left_today(state: &State, windows: impl Iterator<Item = (Instant, Instant)>, now: Instant) -> i64 {
    let zone = state.shop.get(&()).and_then(|shop| TimeZone::get(&shop.zone).ok()).unwrap_or(TimeZone::UTC);
    let midnight = now.timestamp().and_then(|at| at.to_zoned_datetime(zone).tomorrow().ok()?.start_of_day().ok());
    let Some(midnight) = midnight.map(|at| Instant(at.timestamp().as_microsecond())) else { return 0 };
    let left = windows.map(|(from, until)| until.min(midnight).since_us(from.max(now)).max(0));
    left.sum::<i64>() / MINUTE_US
}
