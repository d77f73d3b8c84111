//! From the shop's rows to what a plan is made from.
//!
//! The rows may be later than the moment that is planned from: an older plan is then judged by what is known now, and
//! what was worked since does not count.

use super::steps::Stages;
use super::{hours, parts};
use crate::look;
use crate::need::Need;
use crate::state::State;
use crate::supplier;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::plan::{
    MOVING_MINUTES, PLACES_OUTSIDE, PlanBay, PlanInput, PlanJob, PlanTechnician, PlanTool, PlannedStage, VehicleNow,
};
use leadhand_facts::rows::{JobRow, PersonRow, StayRow};
use leadhand_facts::words::JobState;
use leadhand_facts::{Instant, ItemKey, JobNo, StageKey, TextId, Window};
use std::collections::BTreeSet;

/// So many days are planned ahead, as far as the calendars are known.
pub const DAYS: i64 = 90;
/// The least urgent priority: a minute of its lateness weighs 1, and with each step up twice as much.
const LEAST_URGENT: i32 = 5;

const DAY_MINUTES: i64 = 24 * 60;

/// The beginning of the minute in which a moment lies: plans are made in whole minutes.
pub fn minute_of(at: Instant) -> Instant {
    Instant(at.0.div_euclid(MINUTE_US).saturating_mul(MINUTE_US))
}

/// What is to be loaded first.
pub fn needs_at(at: Instant) -> Vec<Need> {
    vec![Need::Shop, Need::OpenJobs, Need::Plan, Need::OpenWindows(at), Need::Overtime(at)]
}

/// What follows from that: everybody's shifts, what is short, and the stock of what has still to be set aside.
pub fn needs_of(state: &State, at: Instant) -> Vec<Need> {
    let shifts = state.persons.iter().filter(|row| !row.forgotten).map(|row| Need::ShiftWindows(row.person, at));
    let short: BTreeSet<ItemKey> = state.shortages.iter().map(|row| row.item.clone()).collect();
    let wanted = parts::wanted(state).into_iter().map(Need::Stock);
    shifts.chain([Need::Items(short.into_iter().collect())]).chain(wanted).collect()
}

/// The texts that sentences about a plan take their words from.
pub fn text_ids(state: &State) -> Vec<TextId> {
    let persons = state.persons.iter().filter(|row| !row.forgotten).map(|row| row.name);
    let jobs = state.jobs.iter().filter_map(|row| row.title_text);
    persons.chain(jobs).chain(state.stages.iter().filter_map(|row| row.title_text)).collect()
}

/// What binds the shop, from a moment on. `words` gives the words of a text, which may be gone.
pub fn plan_input(state: &State, at: Instant, words: &dyn Fn(TextId) -> String) -> PlanInput {
    let at = minute_of(at);
    let windows = state.open_windows.iter().map(|row| Window { from: row.from_at, until: row.until_at });
    let end = at.plus_minutes(DAYS * DAY_MINUTES);
    let shop: Vec<Window> = windows.filter(|window| at < window.until && window.from < end).collect();
    let known = shop.iter().map(|window| window.until).max();
    // Of a shop that never said its hours nothing is known but waits.
    let until = minute_of(known.unwrap_or(end).max(overtime_end(state, at)).min(end));
    let shift_end = shift_end(state, &shop, at);
    let technicians: Vec<PlanTechnician> = state
        .persons
        .iter()
        .filter(|row| hours::works_on_vehicles(state, row))
        .map(|row| technician(state, row, &shop, at, words))
        .collect();
    let stages = Stages::of(state, at, &technicians, words);
    let jobs = state.jobs.iter().filter(|row| row.state == JobState::Open);
    PlanInput {
        number: state.head,
        at,
        until,
        shift_end,
        places_outside: state.shop.get(&()).map_or(PLACES_OUTSIDE, |row| row.places_outside),
        bays: state.bays.iter().map(bay).collect(),
        tools: tools(state, Window { from: at, until: shift_end }),
        jobs: jobs.map(|row| job(state, row, &stages, at)).collect(),
        accepted: accepted(state),
        technicians,
        shop,
    }
}

/// How a job is called in sentences.
pub fn job_name(job: JobNo) -> String {
    format!("job {job}")
}

/// What a minute of lateness weighs.
pub fn weight(priority: i32) -> i32 {
    1 << (LEAST_URGENT - priority).clamp(0, LEAST_URGENT)
}

fn overtime_end(state: &State, at: Instant) -> Instant {
    state.overtime.iter().map(|row| row.until_at).max().unwrap_or(at)
}

/// The end of the shop's hours on the day of the first ones that are not over.
fn shift_end(state: &State, shop: &[Window], at: Instant) -> Instant {
    let zone = crate::decide::zone(state).ok();
    let day = |at: Instant| Some(zone.as_ref()?.to_datetime(at.timestamp()?).date());
    let Some(first) = shop.first() else { return at };
    let same = shop.iter().filter(|window| day(window.from) == day(first.from));
    same.map(|window| window.until).max().unwrap_or(first.until)
}

fn bay(row: &leadhand_facts::rows::BayRow) -> PlanBay {
    PlanBay { bay: row.bay.clone(), kind: row.kind, rated_kg: row.rated_kg, closed: Vec::new() }
}

/// Somebody's hours: the shop's where nobody ever said a shift.
fn technician(
    state: &State,
    row: &PersonRow,
    shop: &[Window],
    at: Instant,
    words: &dyn Fn(TextId) -> String,
) -> PlanTechnician {
    let overtime = state.overtime.iter().filter(|window| window.person == row.person && at < window.until_at);
    PlanTechnician {
        person: row.person,
        name: words(row.name),
        skills: row.skills.clone(),
        shifts: hours::own_hours(state, row.person, shop).unwrap_or_else(|| shop.to_vec()),
        overtime: overtime.map(|window| Window { from: window.from_at, until: window.until_at }).collect(),
    }
}

/// Shared tools in use. One that a person has is with that person, and taken for back by the end of the shift; a job's is
/// handed on.
fn tools(state: &State, shift: Window) -> Vec<PlanTool> {
    let tool = |row: &leadhand_facts::rows::ToolRow| {
        let lent = state.loans.iter().find(|loan| loan.tool == row.tool && loan.until_at.is_none());
        let with = lent.and_then(|loan| loan.person).filter(|_| shift.from < shift.until);
        PlanTool { tool: row.tool.clone(), away: with.map(|_| shift).into_iter().collect(), with }
    };
    state.tools.iter().filter(|row| row.retired_n.is_none()).map(tool).collect()
}

fn job(state: &State, row: &JobRow, stages: &Stages<'_>, at: Instant) -> PlanJob {
    let vehicle = state.vehicles.get(&(row.vehicle,));
    PlanJob {
        job: row.job,
        name: job_name(row.job),
        promised: row.promised_at,
        weight: weight(row.priority),
        here_from: at,
        vehicle: vehicle_now(state, row),
        kg: vehicle.and_then(|vehicle| vehicle.weight_kg).unwrap_or(0),
        moving_minutes: state.shop.get(&()).map_or(MOVING_MINUTES, |row| row.moving_minutes),
        stages: stages.of_job(row.job),
    }
}

/// Where a vehicle is: away until it first came into a bay for the job.
fn vehicle_now(state: &State, row: &JobRow) -> VehicleNow {
    let of_job = |stay: &&StayRow| stay.job == row.job;
    match look::stay_of(state, row.vehicle).filter(of_job) {
        Some(stay) => VehicleNow::Bay(stay.bay.clone()),
        None if state.stays.iter().any(|stay| of_job(&stay)) => VehicleNow::Outside,
        None => VehicleNow::Away,
    }
}

/// What the accepted plan says of stages that are still open.
fn accepted(state: &State) -> Vec<PlannedStage> {
    let open =
        |job: JobNo, stage: &StageKey| state.stages.get(&(job, stage.clone())).is_some_and(|row| !look::is_ended(row));
    let rows = state.plan_stages.iter().filter(|row| open(row.job, &row.stage));
    let planned = rows.map(|row| PlannedStage {
        job: row.job,
        stage: row.stage.clone(),
        bay: row.bay.clone(),
        people: row.people.clone(),
        tools: Vec::new(),
        from: row.from_at,
        until: row.until_at,
    });
    planned.collect()
}

/// When what is short for a stage arrives at the latest, if all of it is ordered in time; nothing when it is not known of
/// something, with that.
pub(super) fn arrival(state: &State, items: &BTreeSet<ItemKey>, now: Instant) -> Result<Option<Instant>, ItemKey> {
    let mut latest = None;
    for item in items {
        let next = supplier::order_of(state, item, now).and_then(|order| order.next);
        latest = latest.max(Some(next.ok_or_else(|| item.clone())?.here_at));
    }
    Ok(latest)
}
