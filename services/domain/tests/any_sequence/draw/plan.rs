//! Commands about plans: accepted ones that follow stage after stage, pins, overtime.

use super::{Draw, progress};
use leadhand_domain::command::*;
use leadhand_domain::look;
use leadhand_facts::plan::{BayVisit, HangsOn, Nowhere, PlannedJob, PlannedStage};
use leadhand_facts::rows::{OvertimeRow, StagePinRow, StageRow};
use leadhand_facts::words::{NoPlace, StageKind};
use leadhand_facts::{BayKey, JobNo, PersonId};

/// Mostly a plan that can be; now and then one with somebody, a bay or a time that can't.
pub fn accept(draw: &mut Draw<'_>) -> Command {
    let (mut stages, mut visits, mut jobs) = (Vec::new(), Vec::new(), Vec::new());
    let mut at = draw.now;
    let count = 1 + draw.below(2);
    let open = progress::open_jobs(draw.state);
    for job in open.into_iter().take(count) {
        let rows: Vec<StageRow> =
            look::stages_in_order(draw.state, job).into_iter().filter(|row| !look::is_ended(row)).cloned().collect();
        let begin = at;
        for row in rows.iter().take(3) {
            let until = at.plus_minutes(draw.between(0, 50));
            let planned = PlannedStage {
                job,
                stage: row.stage.clone(),
                bay: bay(draw, job, row),
                people: people(draw, row),
                tools: Vec::new(),
                from: at,
                until,
            };
            stages.push(planned);
            at = until;
        }
        let in_bay = stages.iter().filter(|row| row.job == job).find_map(|row| row.bay.clone());
        visits.extend(in_bay.map(|bay| BayVisit { job, bay, from: begin, until: at }));
        let likely = (draw.below(4) != 3).then_some(at);
        // One that stands behind the planned ones has no place now and then, and rarely one that has a place.
        let from = if draw.rarely(12) { 0 } else { 3 };
        let left = if draw.below(2) == 1 { rows.get(from) } else { None };
        let nowhere: Vec<Nowhere> =
            left.map(|row| Nowhere { stage: row.stage.clone(), why: NoPlace::NoTime }).into_iter().collect();
        let ready = stages.iter().any(|row| row.job == job && nowhere.is_empty()).then_some(at);
        let held = rows.first().filter(|_| draw.rarely(4));
        let hangs_on = held.map(|row| HangsOn { job, stage: row.stage.clone() }).into_iter().collect();
        let safe = likely.map(|likely| likely.plus_minutes(30));
        jobs.push(PlannedJob { job, ready, likely, safe, nowhere, hangs_on });
    }
    if draw.rarely(12) {
        visits.clear();
    }
    let made_n = draw.state.head - draw.between(0, 3);
    AcceptPlan { made_n, made_at: draw.now, stages, visits, jobs, even_if_outdated: draw.below(2) == 1 }.into()
}

fn bay(draw: &mut Draw<'_>, job: JobNo, row: &StageRow) -> Option<BayKey> {
    if row.bays.is_empty() {
        return None;
    }
    let vehicle = draw.state.jobs.get(&(job,)).map(|row| row.vehicle)?;
    let stands = look::stay_of(draw.state, vehicle).map(|stay| stay.bay.clone());
    let fits = draw.state.bays.iter().find(|bay| row.bays.contains(&bay.kind)).map(|bay| bay.bay.clone());
    if draw.rarely(10) { Some(draw.bay()) } else { stands.or(fits) }
}

fn people(draw: &mut Draw<'_>, row: &StageRow) -> Vec<PersonId> {
    if row.kind == StageKind::Wait {
        return Vec::new();
    }
    let on: Vec<PersonId> = look::clockings_on(draw.state, row.job, &row.stage).map(|row| row.person).collect();
    if !on.is_empty() && !draw.rarely(10) {
        return on;
    }
    let pinned = draw.state.stage_pins.get(&(row.job, row.stage.clone())).map(|pin| pin.people.clone());
    if let Some(people) = pinned.filter(|people| !people.is_empty()) {
        return people;
    }
    let able = |skills: &[String]| row.skills.iter().all(|skill| skills.contains(skill));
    let all = draw.state.persons.iter().filter(|one| !one.forgotten && able(&one.skills)).map(|one| one.person);
    let hands = usize::try_from(row.hands).unwrap_or(1).max(1);
    let mut found: Vec<PersonId> = all.take(hands).collect();
    if draw.rarely(12) {
        found.push(draw.person());
    }
    found
}

pub fn pin(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    let stage = draw.stage(job);
    let bay = (draw.below(3) == 1).then(|| draw.bay());
    let people = if draw.below(2) == 0 { vec![draw.person()] } else { Vec::new() };
    let minutes = draw.between(-60, 600);
    let from_at = (draw.below(3) == 1).then(|| draw.now.plus_minutes(minutes));
    PinStage { job, stage, bay, people, from_at }.into()
}

pub fn unpin(draw: &mut Draw<'_>) -> Command {
    let all: Vec<StagePinRow> = draw.state.stage_pins.iter().cloned().collect();
    let Some(row) = draw.one_of(&all) else { return pin(draw) };
    UnpinStage { job: row.job, stage: row.stage }.into()
}

pub fn open_overtime(draw: &mut Draw<'_>) -> Command {
    let from_at = draw.now.plus_minutes(draw.between(-30, 900));
    let until_at = from_at.plus_minutes(draw.between(0, 300));
    OpenOvertime { person: draw.person(), from_at, until_at }.into()
}

pub fn close_overtime(draw: &mut Draw<'_>) -> Command {
    let all: Vec<OvertimeRow> = draw.state.overtime.iter().cloned().collect();
    let Some(row) = draw.one_of(&all) else { return open_overtime(draw) };
    CloseOvertime { person: row.person, at: row.from_at.plus_minutes(draw.between(0, 120)) }.into()
}
