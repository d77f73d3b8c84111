//! Vehicles, jobs and stays in bays.

use super::{Broken, Folded, add, change, known, stages, strayed};
use crate::state::State;
use leadhand_facts::fact::Wording;
use leadhand_facts::reading::OverruledLine;
use leadhand_facts::rows::{JobRow, PlaceRow, StayRow, VehicleRow};
use leadhand_facts::words::{JobState, LeaveReason, PlaceKind};
use leadhand_facts::{Entry, Fact, JobNo, PlaceKey, StayId, TextId};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    let n = entry.number;
    match &entry.fact {
        Fact::VehicleAdded { vehicle, label, weight_kg } => {
            let row = VehicleRow {
                vehicle: *vehicle,
                label: label.id,
                plate: None,
                weight_kg: *weight_kg,
                customer: None,
                added_n: n,
            };
            add(entry, &mut state.vehicles, row)
        }
        Fact::JobOpened { .. } => opened(state, entry),
        Fact::JobPromised { job, priority, promised_at } => change(entry, &mut state.jobs, &(*job,), |row| {
            row.priority = *priority;
            row.promised_at = *promised_at;
        }),
        Fact::VehiclePlaced { stay, bay, vehicle, job } => {
            let row = StayRow {
                stay: *stay,
                bay: bay.clone(),
                vehicle: *vehicle,
                job: *job,
                from_at: entry.happened_at,
                until_at: None,
                why_left: None,
                from_n: n,
                until_n: None,
            };
            add(entry, &mut state.stays, row)
        }
        Fact::VehicleLeft { stay, why, .. } => left(state, entry, *stay, *why),
        Fact::StayCorrected { stay, bay, from_at, until_at, .. } => change(entry, &mut state.stays, &(*stay,), |row| {
            row.bay = bay.clone();
            row.from_at = *from_at;
            row.until_at = *until_at;
        }),
        Fact::JobCompleted { job, overridden, lines } => {
            closed(state, entry, *job, JobState::Completed, None)?;
            let overridden = overridden.as_ref().map(|text| text.id);
            let by = entry.proved.or(entry.person);
            let overruled =
                lines.iter().map(|one| OverruledLine { line: one.line.clone(), reason: one.reason.id, by }).collect();
            change(entry, &mut state.jobs, &(*job,), |row| {
                row.overridden = overridden;
                row.overruled = overruled;
            })
        }
        Fact::JobCancelled { job, reason, apart } => {
            closed(state, entry, *job, JobState::Cancelled, Some(reason.id))?;
            change(entry, &mut state.jobs, &(*job,), |row| row.apart = *apart)
        }
        Fact::JobReopened { job, .. } => reopened(state, entry, *job),
        _ => strayed(entry),
    }
}

fn opened(state: &mut State, entry: &Entry) -> Folded {
    let Fact::JobOpened { job, template, revision, title, vehicle, priority, promised_at, options, stages, came_apart } =
        &entry.fact
    else {
        return strayed(entry);
    };
    let (title, title_text) = worded(title);
    let row = JobRow {
        job: *job,
        template: template.clone(),
        revision: *revision,
        title,
        title_text,
        vehicle: *vehicle,
        customer: None,
        priority: *priority,
        promised_at: *promised_at,
        state: JobState::Open,
        options: options.clone(),
        opened_at: entry.happened_at,
        closed_at: None,
        reason: None,
        last_blocker: 0,
        last_stage: stages.iter().map(|stage| stage.ordinal).max().unwrap_or(0),
        overridden: None,
        overruled: Vec::new(),
        version: entry.number,
        apart: false,
        came_apart: *came_apart,
    };
    add(entry, &mut state.jobs, row)?;
    change(entry, &mut state.shop, &(), |shop| shop.last_job = job.0)?;
    let (place, name) = (PlaceKey::of_job(*job), format!("Job {job}"));
    let place = PlaceRow { place, kind: PlaceKind::Job, name, job: Some(*job), added_n: entry.number };
    add(entry, &mut state.places, place)?;
    stages.iter().try_for_each(|stage| stages::add_stage(state, entry, *job, stage))
}

fn left(state: &mut State, entry: &Entry, stay: StayId, why: LeaveReason) -> Folded {
    if known(entry, &state.stays, &(stay,))?.until_at.is_some() {
        return Err(Broken::new(entry, format!("stay {stay} is over already")));
    }
    change(entry, &mut state.stays, &(stay,), |row| {
        row.until_at = Some(entry.happened_at);
        row.why_left = Some(why);
        row.until_n = Some(entry.number);
    })
}

fn closed(state: &mut State, entry: &Entry, job: JobNo, as_what: JobState, reason: Option<TextId>) -> Folded {
    if known(entry, &state.jobs, &(job,))?.state != JobState::Open {
        return Err(Broken::new(entry, format!("job {job} is closed already")));
    }
    super::plan::leave(state, job);
    change(entry, &mut state.jobs, &(job,), |row| {
        row.state = as_what;
        row.closed_at = Some(entry.happened_at);
        row.reason = reason;
    })
}

fn reopened(state: &mut State, entry: &Entry, job: JobNo) -> Folded {
    if known(entry, &state.jobs, &(job,))?.state == JobState::Open {
        return Err(Broken::new(entry, format!("job {job} is open already")));
    }
    change(entry, &mut state.jobs, &(job,), |row| {
        row.state = JobState::Open;
        row.closed_at = None;
        row.reason = None;
        row.overridden = None;
        row.overruled = Vec::new();
        row.apart = false;
    })
}

/// A wording as a row has it: the template's words, or the id of the typed ones.
pub(super) fn worded(wording: &Wording) -> (Option<String>, Option<TextId>) {
    match wording {
        Wording::Template(words) => (Some(words.clone()), None),
        Wording::Typed(text) => (None, Some(text.id)),
    }
}
