//! Whether a plan can be done as things stand. The auditor proves more, and from outside: this holds at the moment of the
//! write, whatever came between.

use super::PEOPLE_MAX;
use crate::command::AcceptPlan;
use crate::decide::{bays, skills};
use crate::look;
use crate::refusal::Refusal;
use crate::state::State;
use leadhand_facts::plan::{BayVisit, Nowhere, PlannedStage};
use leadhand_facts::rows::{BayRow, JobRow, StagePinRow, StageRow};
use leadhand_facts::words::{StageKind, StageState};
use leadhand_facts::{BayKey, Instant, JobNo, PersonId, StageKey, Window};
use std::collections::{BTreeMap, BTreeSet};

/// Most stages, and stays, of a plan.
const PLANNED_MAX: usize = 5_000;

/// The request's own form, when it is accepted at that time.
pub(super) fn form(asked: &AcceptPlan, head: i64, (at, now): (Instant, Instant)) -> Result<(), Refusal> {
    if asked.made_n < 1 || asked.made_n > head {
        let why = format!(
            "{} is no number at which a plan of this shop was made; accept one that was proposed",
            asked.made_n
        );
        return Err(Refusal::invalid("plan.number", why));
    }
    if asked.made_at > now {
        let why = "it is later than when it was accepted; accept a plan as it was proposed";
        return Err(Refusal::invalid("plan.made_at", why));
    }
    if asked.made_at > at {
        return Err(look::too_early("accepting a plan", at, asked.made_at));
    }
    for (field, many) in [("stages", asked.stages.len()), ("stays", asked.visits.len()), ("jobs", asked.jobs.len())] {
        if many > PLANNED_MAX {
            return Err(Refusal::invalid(
                format!("plan.{field}"),
                format!("it has {many} entries; give at most {PLANNED_MAX}"),
            ));
        }
    }
    let backwards = "it is earlier than from_at; accept a plan as it was proposed";
    let (mut seen, mut ends) = (BTreeSet::new(), BTreeMap::new());
    for (at, row) in asked.stages.iter().enumerate() {
        let field = |name: &str| format!("plan.stages[{at}].{name}");
        if row.until < row.from {
            return Err(Refusal::invalid(field("until_at"), backwards));
        }
        distinct(&field("people"), &row.people)?;
        if !seen.insert((row.job, &row.stage)) {
            let why = format!("stage '{}' of job {} is planned twice", row.stage, row.job);
            return Err(Refusal::invalid(field("stage"), why));
        }
        let end = ends.entry(row.job).or_insert(row.until);
        *end = row.until.max(*end);
    }
    let mut entered = BTreeSet::new();
    for (at, row) in asked.visits.iter().enumerate() {
        if row.until < row.from {
            return Err(Refusal::invalid(format!("plan.stays[{at}].until_at"), backwards));
        }
        if !entered.insert((row.job, row.from)) {
            let why = format!("job {} enters two bays at once", row.job);
            return Err(Refusal::invalid(format!("plan.stays[{at}].from_at"), why));
        }
    }
    outlooks(asked, &ends)
}

/// When jobs are said to be ready.
fn outlooks(asked: &AcceptPlan, ends: &BTreeMap<JobNo, Instant>) -> Result<(), Refusal> {
    let mut seen = BTreeSet::new();
    for (at, row) in asked.jobs.iter().enumerate() {
        let wrong = |name: &str, why: &str| Err(Refusal::invalid(format!("plan.jobs[{at}].{name}"), why));
        if !seen.insert(row.job) {
            return wrong("job", "it is said twice when this job is ready");
        }
        if ends.get(&row.job).zip(row.ready).is_some_and(|(end, ready)| *end != ready) {
            return wrong(
                "ready_at",
                "it is not when the last stage of the job ends; accept a plan as it was proposed",
            );
        }
        if row.ready.is_some() && !row.nowhere.is_empty() {
            return wrong(
                "ready_at",
                "a stage of the job has no place, so it is never ready; accept a plan as it was proposed",
            );
        }
        let placed = |one: &&Nowhere| asked.stages.iter().any(|s| s.job == row.job && s.stage == one.stage);
        let named: BTreeSet<&StageKey> = row.nowhere.iter().map(|one| &one.stage).collect();
        if named.len() < row.nowhere.len() || row.nowhere.iter().any(|one| placed(&one)) {
            return wrong(
                "nowhere",
                "a stage is named twice, or has a place as well; accept a plan as it was proposed",
            );
        }
        if row.hangs_on.iter().enumerate().any(|(k, one)| row.hangs_on[..k].contains(one)) {
            return wrong("hangs_on", "a stage is named twice; accept a plan as it was proposed");
        }
        if row.likely.is_some_and(|likely| likely < asked.made_at) {
            return wrong("likely_at", "it is earlier than the plan; accept a plan as it was proposed");
        }
        if row.likely.is_some() != row.safe.is_some() || row.likely.zip(row.safe).is_some_and(|(l, s)| s < l) {
            return wrong("safe_at", "it goes with likely_at and is no earlier; accept a plan as it was proposed");
        }
    }
    Ok(())
}

/// Refuses more people than there can be, and one who is named twice.
pub(super) fn distinct(field: &str, people: &[PersonId]) -> Result<(), Refusal> {
    if people.len() > PEOPLE_MAX {
        return Err(Refusal::invalid(field, format!("{} people are named; give at most {PEOPLE_MAX}", people.len())));
    }
    let all: BTreeSet<&PersonId> = people.iter().collect();
    if all.len() == people.len() { Ok(()) } else { Err(Refusal::invalid(field, "somebody is named twice")) }
}

/// Stages that are over by now. They are refused, unless an outdated plan is to be taken as far as it goes.
pub(super) fn over(state: &State, asked: &AcceptPlan) -> Result<BTreeSet<(JobNo, StageKey)>, Refusal> {
    let mut over = BTreeSet::new();
    let planned = asked.stages.iter().map(|row| (row.job, &row.stage));
    let nowhere = asked.jobs.iter().flat_map(|row| row.nowhere.iter().map(|one| (row.job, &one.stage)));
    let hangs = asked.jobs.iter().flat_map(|row| row.hangs_on.iter().map(|one| (one.job, &one.stage)));
    for (job, stage) in planned.chain(nowhere).chain(hangs) {
        let row = look::stage(state, job, stage)?;
        if look::job(state, job)?.closed_at.is_none() && !look::is_ended(row) {
            continue;
        }
        let stage = stage.clone();
        if !asked.even_if_outdated {
            return Err(Refusal::PlanStageOver { job, stage });
        }
        over.insert((job, stage));
    }
    for job in asked.visits.iter().map(|row| row.job).chain(asked.jobs.iter().map(|row| row.job)) {
        let row = look::job(state, job)?;
        if row.closed_at.is_some() && !asked.even_if_outdated {
            return Err(Refusal::JobClosed { job, state: row.state });
        }
    }
    Ok(over)
}

/// Everything that the rows can tell about it.
pub(super) fn stands(state: &State, stages: &[PlannedStage], visits: &[BayVisit]) -> Result<(), Refusal> {
    for visit in visits {
        look::bay(state, &visit.bay)?;
    }
    for planned in stages {
        let job = look::job(state, planned.job)?;
        let row = look::stage(state, planned.job, &planned.stage)?;
        place(state, planned, job, row, visits)?;
        people(state, planned, row)?;
        pinned(state, planned)?;
    }
    persons_apart(stages)?;
    vehicles_apart(visits)
}

fn place(
    state: &State,
    planned: &PlannedStage,
    job: &JobRow,
    row: &StageRow,
    visits: &[BayVisit],
) -> Result<(), Refusal> {
    let (number, stage) = (planned.job, planned.stage.clone());
    let Some(key) = &planned.bay else {
        if row.bays.is_empty() {
            return Ok(());
        }
        return Err(Refusal::WrongPlace { job: number, stage, asked: bays::kinds(&row.bays) });
    };
    let bay = look::bay(state, key)?;
    let held = |visit: &BayVisit| {
        let within = visit.from <= planned.from && planned.until <= visit.until;
        visit.job == number && visit.bay == *key && within
    };
    if !visits.iter().any(held) {
        return Err(Refusal::PlanNotHeld { job: number, stage, bay: key.clone() });
    }
    if row.state == StageState::Active {
        let stands = look::stay_of(state, job.vehicle).map(|stay| &stay.bay);
        let what = format!("it was started in another place than bay {key}");
        return if stands == Some(key) { Ok(()) } else { Err(Refusal::PlanStarted { job: number, stage, what }) };
    }
    if row.bays.is_empty() {
        return Err(Refusal::PlanNoBay { job: number, stage });
    }
    if !bays::fits(row, bay.kind) {
        let asked = bays::kinds(&row.bays);
        return Err(Refusal::WrongBay { job: number, stage, bay: key.clone(), asked });
    }
    bears(state, bay, job)
}

/// Refuses a bay that does not bear the job's vehicle.
pub(super) fn bears(state: &State, bay: &BayRow, job: &JobRow) -> Result<(), Refusal> {
    let weight = state.vehicles.get(&(job.vehicle,)).and_then(|vehicle| vehicle.weight_kg);
    match weight.filter(|weight| !look::bears(bay, *weight)) {
        Some(weight_kg) => Err(Refusal::TooHeavy { bay: bay.bay.clone(), rated_kg: bay.rated_kg, weight_kg }),
        None => Ok(()),
    }
}

fn people(state: &State, planned: &PlannedStage, row: &StageRow) -> Result<(), Refusal> {
    let (job, stage) = (planned.job, planned.stage.clone());
    if row.kind == StageKind::Wait {
        let none = planned.people.is_empty();
        return if none { Ok(()) } else { Err(Refusal::PlanHands { job, stage, hands: 0, people: count(planned) }) };
    }
    for person in &planned.people {
        look::person(state, *person)?;
    }
    if row.state == StageState::Active {
        let missing = look::clockings_on(state, job, &row.stage).any(|on| !planned.people.contains(&on.person));
        let what = "somebody is clocked on to it who is not planned for it".to_owned();
        return if missing { Err(Refusal::PlanStarted { job, stage, what }) } else { Ok(()) };
    }
    let pin = pin_of(state, planned);
    if pin.is_some_and(|pin| !pin.people.is_empty()) {
        return Ok(());
    }
    let hands = row.hands.max(1);
    if count(planned) != hands {
        return Err(Refusal::PlanHands { job, stage, hands, people: count(planned) });
    }
    for person in &planned.people {
        skilled(state, row, *person)?;
    }
    Ok(())
}

/// Refuses somebody without the skills of a stage. A lead's reason belongs to the work, and a plan has none.
pub(super) fn skilled(state: &State, row: &StageRow, person: PersonId) -> Result<(), Refusal> {
    match skills::objection(state, row, Some(person))? {
        Some(Refusal::SkillMissing { stage, skills }) => {
            Err(Refusal::PlanSkill { who: person.to_string(), job: row.job, stage, skills })
        }
        Some(other) => Err(other),
        None => Ok(()),
    }
}

fn count(planned: &PlannedStage) -> i32 {
    i32::try_from(planned.people.len()).unwrap_or(i32::MAX)
}

fn pin_of<'a>(state: &'a State, planned: &PlannedStage) -> Option<&'a StagePinRow> {
    state.stage_pins.get(&(planned.job, planned.stage.clone()))
}

/// What the lead pinned is kept; of a stage that was started it no longer counts.
fn pinned(state: &State, planned: &PlannedStage) -> Result<(), Refusal> {
    let row = look::stage(state, planned.job, &planned.stage)?;
    let Some(pin) = pin_of(state, planned).filter(|_| row.state != StageState::Active) else { return Ok(()) };
    let of = |people: &[PersonId]| people.iter().copied().collect::<BTreeSet<_>>();
    let forgotten = pin.people.iter().any(|person| look::person(state, *person).is_err());
    let what = if pin.bay.as_ref().is_some_and(|bay| planned.bay.as_ref() != Some(bay)) {
        "another bay"
    } else if !forgotten && !pin.people.is_empty() && of(&pin.people) != of(&planned.people) {
        "other people"
    } else if pin.from_at.is_some_and(|from| planned.from < from) {
        "an earlier time"
    } else {
        return Ok(());
    };
    Err(Refusal::PlanPinned { job: planned.job, stage: planned.stage.clone(), what })
}

fn persons_apart(stages: &[PlannedStage]) -> Result<(), Refusal> {
    let mut held: BTreeMap<PersonId, Vec<&PlannedStage>> = BTreeMap::new();
    for planned in stages.iter().filter(|planned| planned.from < planned.until) {
        for person in &planned.people {
            held.entry(*person).or_default().push(planned);
        }
    }
    for (person, mut rows) in held {
        rows.sort_by_key(|row| (row.from, row.until));
        if let Some(pair) = rows.windows(2).find(|pair| pair[1].from < pair[0].until) {
            let (job, stage) = (pair[0].job, pair[0].stage.clone());
            let (other_job, other_stage) = (pair[1].job, pair[1].stage.clone());
            return Err(Refusal::PlanPersonTwice { who: person.to_string(), job, stage, other_job, other_stage });
        }
    }
    Ok(())
}

fn vehicles_apart(visits: &[BayVisit]) -> Result<(), Refusal> {
    let span = |visit: &BayVisit| Window { from: visit.from, until: visit.until };
    let (mut by_bay, mut by_job): (BTreeMap<&BayKey, Vec<_>>, BTreeMap<JobNo, Vec<_>>) = Default::default();
    for visit in visits {
        by_bay.entry(&visit.bay).or_default().push(visit);
        by_job.entry(visit.job).or_default().push(visit);
    }
    let clash = |rows: &mut Vec<&BayVisit>| {
        rows.sort_by_key(|visit| (visit.from, visit.until));
        rows.windows(2).find(|pair| span(pair[0]).meets(span(pair[1]))).map(|pair| (pair[0].clone(), pair[1].clone()))
    };
    for rows in by_bay.values_mut() {
        if let Some((one, other)) = clash(rows) {
            return Err(Refusal::PlanBayTaken { bay: one.bay, job: one.job, other: other.job });
        }
    }
    for rows in by_job.values_mut() {
        if let Some((one, other)) = clash(rows) {
            return Err(Refusal::PlanTwoPlaces { job: one.job, bay: one.bay, other: other.bay });
        }
    }
    Ok(())
}
