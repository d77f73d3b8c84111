//! Which stages a bay or a person comes to in what is left of a day: as the accepted plan has them, else in their written
//! order, if all takes as long as is likely.

use crate::look;
use crate::refusal::Refusal;
use crate::state::State;
use jiff::tz::TimeZone;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::rows::{JobRow, PlanStageRow, PlanVisitRow, StageRow};
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
            let planned = planned(state, of, now);
            let stands = look::stay_in(state, bay);
            // A vehicle of which the plan knows nothing comes first: it is there.
            let known = |job: JobNo| planned.iter().any(|(planned, _)| *planned == job);
            let Some(stay) = stands.filter(|stay| !known(stay.job)) else { return Ok(planned) };
            let open = state.open_windows.iter().map(|window| (window.from_at, window.until_at));
            let minutes = minutes_left_today(state, open, now);
            Ok(within(state, stay.job, Some(row.kind), minutes).into_iter().chain(planned).collect())
        }
        Of::Person(person) => {
            look::person(state, *person)?;
            let planned = planned(state, of, now);
            if !planned.is_empty() {
                let on = look::clocking_of(state, *person).map(|row| (row.job, row.stage.clone()));
                let others = planned.into_iter().filter(|one| Some(one) != on.as_ref());
                return Ok(on.iter().cloned().chain(others).collect());
            }
            let own = state.shift_windows.iter().filter(|window| window.person == *person);
            let minutes = minutes_left_today(state, own.map(|window| (window.from_at, window.until_at)), now);
            let on = look::clocking_of(state, *person).map(|row| row.job);
            Ok(on.map(|job| within(state, job, bay_kind(state, job), minutes)).unwrap_or_default())
        }
    }
}

/// What the accepted plan has a bay or a person do until the end of the day, in its order, without what is over: in the bay,
/// or anywhere while the vehicle stands there.
pub fn planned(state: &State, of: &Of, now: Instant) -> Vec<(JobNo, StageKey)> {
    let Some(midnight) = midnight(state, now) else { return Vec::new() };
    let stands = |row: &PlanStageRow, bay: &BayKey| {
        let holds = |visit: &PlanVisitRow| {
            visit.job == row.job && visit.bay == *bay && visit.from_at <= row.from_at && row.until_at <= visit.until_at
        };
        row.bay.as_ref() == Some(bay) || row.bay.is_none() && state.plan_visits.iter().any(holds)
    };
    let meant = |row: &&PlanStageRow| match of {
        Of::Bay(bay) => stands(row, bay),
        Of::Person(person) => row.people.contains(person),
        Of::Stage(..) | Of::Job(_) => false,
    };
    let over = |row: &&PlanStageRow| {
        let ended = state.stages.get(&(row.job, row.stage.clone())).is_some_and(look::is_ended);
        ended || state.jobs.get(&(row.job,)).is_some_and(|job| job.state != JobState::Open)
    };
    let rows = state.plan_stages.iter().filter(|row| row.from_at < midnight).filter(meant);
    let mut rows: Vec<&PlanStageRow> = rows.filter(|row| !over(row)).collect();
    rows.sort_by_key(|row| (row.from_at, row.until_at, row.job, row.stage.clone()));
    rows.into_iter().map(|row| (row.job, row.stage.clone())).collect()
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
    let Some(midnight) = midnight(state, now) else { return 0 };
    let left = windows.map(|(from, until)| until.min(midnight).since_us(from.max(now)).max(0));
    left.sum::<i64>() / MINUTE_US
}

/// The end of the local day.
fn midnight(state: &State, now: Instant) -> Option<Instant> {
    let zone = state.shop.get(&()).and_then(|shop| TimeZone::get(&shop.zone).ok()).unwrap_or(TimeZone::UTC);
    let next = now.timestamp()?.to_zoned_datetime(zone).tomorrow().ok()?.start_of_day().ok()?;
    Some(Instant(next.timestamp().as_microsecond()))
}
