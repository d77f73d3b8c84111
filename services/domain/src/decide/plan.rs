//! Plans that a lead accepts, and what the lead decides for every plan: where, by whom and when a stage is done, and
//! overtime.

mod judge;

use crate::answer::{Made, Notice};
use crate::command::{AcceptPlan, CloseOvertime, Command, OpenOvertime, PinStage, UnpinStage};
use crate::context::Context;
use crate::decide::bays;
use crate::look;
use crate::need::Need;
use crate::plan::input::minute_of;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::plan::{BayVisit, PlannedStage};
use leadhand_facts::rows::OvertimeRow;
use leadhand_facts::{Fact, Instant, JobNo, PersonId, StageKey, Window};
use std::collections::BTreeSet;

/// Most people at a stage.
const PEOPLE_MAX: usize = 8;
/// Longest overtime at a stretch, in minutes.
const OVERTIME_MAX: i64 = 24 * 60;

/// What these commands need to see.
pub(super) fn needs(command: &Command, context: &Context) -> Vec<Need> {
    match command {
        Command::AcceptPlan(c) => {
            let stages = c.stages.iter().map(|row| row.job);
            let jobs = stages.chain(c.visits.iter().map(|row| row.job)).chain(c.jobs.iter().map(|row| row.job));
            let jobs: BTreeSet<JobNo> = jobs.collect();
            jobs.into_iter().map(Need::Job).chain([Need::Plan]).collect()
        }
        Command::PinStage(c) => vec![Need::Job(c.job)],
        Command::UnpinStage(c) => vec![Need::Job(c.job)],
        Command::OpenOvertime(_) | Command::CloseOvertime(_) => {
            vec![Need::Overtime(super::needs::since(context.happened_at))]
        }
        _ => Vec::new(),
    }
}

/// Decides what is about plans; nothing else.
pub(super) fn decide(session: &mut Session, command: &Command) -> Option<Result<Made, Refusal>> {
    Some(match command {
        Command::AcceptPlan(c) => accept(session, c),
        Command::PinStage(c) => pin(session, c),
        Command::UnpinStage(c) => unpin(session, c),
        Command::OpenOvertime(c) => open_overtime(session, c),
        Command::CloseOvertime(c) => close_overtime(session, c),
        _ => return None,
    })
}

/// Refuses a plan for its form alone, and for what it names that is not there.
pub fn plan_form(state: &State, asked: &AcceptPlan, now: Instant) -> Result<(), Refusal> {
    judge::form(asked, state.head, (now, now))?;
    judge::over(state, asked).map(|_| ())
}

fn accept(session: &mut Session, asked: &AcceptPlan) -> Result<Made, Refusal> {
    judge::form(asked, session.state.head, (session.at(), session.context.now))?;
    if plan_stands(session.state, asked) {
        // It is the accepted one already: said twice, it is true once.
        return Ok(Made::Nothing);
    }
    let over = judge::over(session.state, asked)?;
    let stages: Vec<_> = asked.stages.iter().filter(|row| !over.contains(&(row.job, row.stage.clone()))).collect();
    let open = |job: JobNo| look::job(session.state, job).is_ok_and(|row| row.closed_at.is_none());
    let (stages, visits): (Vec<_>, Vec<_>) =
        (stages.into_iter().cloned().collect(), asked.visits.iter().filter(|row| open(row.job)).cloned().collect());
    judge::stands(session.state, &stages, &visits)?;
    let mut jobs: Vec<_> = asked.jobs.iter().filter(|row| open(row.job)).cloned().collect();
    for row in &mut jobs {
        row.nowhere.retain(|one| !over.contains(&(row.job, one.stage.clone())));
        row.hangs_on.retain(|one| !over.contains(&(one.job, one.stage.clone())));
    }
    for (job, stage) in over {
        session.notice(Notice::PlanLeftOut { job, stage });
    }
    session.emit(Fact::PlanAccepted { made_n: asked.made_n, made_at: asked.made_at, stages, visits, jobs })?;
    Ok(Made::Nothing)
}

/// Whether a plan is the accepted one, apart from jobs that are over; and where it is wanted though it is outdated, apart from
/// stages that are.
pub fn plan_stands(state: &State, asked: &AcceptPlan) -> bool {
    let made = state.plan.get(&()).is_some_and(|row| (row.made_n, row.made_at) == (asked.made_n, asked.made_at));
    let over = |job: JobNo| look::job(state, job).is_ok_and(|row| row.closed_at.is_some());
    let stage = |row: &PlannedStage| {
        let kept = state.plan_stages.get(&(row.job, row.stage.clone()));
        let said = (&row.bay, &row.people, row.from, row.until);
        kept.is_some_and(|kept| (&kept.bay, &kept.people, kept.from_at, kept.until_at) == said)
    };
    let visit = |row: &BayVisit| {
        let kept = state.plan_visits.get(&(row.job, row.from));
        kept.is_some_and(|kept| (&kept.bay, kept.until_at) == (&row.bay, row.until))
    };
    let ended = |job: JobNo, stage: &StageKey| {
        over(job) || asked.even_if_outdated && look::stage(state, job, stage).is_ok_and(look::is_ended)
    };
    let stages = || asked.stages.iter().filter(|row| !ended(row.job, &row.stage));
    let kept = state.plan_stages.iter().filter(|row| !ended(row.job, &row.stage));
    let visits = || asked.visits.iter().filter(|row| !over(row.job));
    let many = (stages().count(), visits().count()) == (kept.count(), state.plan_visits.len());
    made && many && stages().all(stage) && visits().all(visit)
}

fn pin(session: &mut Session, asked: &PinStage) -> Result<Made, Refusal> {
    if asked.bay.is_none() && asked.people.is_empty() && asked.from_at.is_none() {
        return Err(Refusal::invalid("bay", "nothing is pinned; give a bay, people or a time"));
    }
    judge::distinct("people", &asked.people)?;
    if asked.from_at.is_some_and(|from| from < minute_of(session.at())) {
        let why = "it is in the past; give a later time, or leave it out for as soon as can be";
        return Err(Refusal::invalid("from_at", why));
    }
    let job = look::open_job(session.state, session.context, asked.job)?.clone();
    let row = look::stage(session.state, job.job, &asked.stage)?.clone();
    if look::is_ended(&row) {
        let (state, todo) = (row.state, "there is nothing left to plan of it");
        return Err(Refusal::StageIs { job: job.job, stage: row.stage, state, attempted: "pinned", todo });
    }
    if let Some(key) = &asked.bay {
        let bay = look::bay(session.state, key)?;
        if row.bays.is_empty() {
            return Err(Refusal::PlanNoBay { job: job.job, stage: row.stage });
        }
        if !bays::fits(&row, bay.kind) {
            let asked = bays::kinds(&row.bays);
            return Err(Refusal::UnfitBay { bay: bay.bay.clone(), kind: bay.kind.to_string(), asked });
        }
        judge::bears(session.state, bay, &job)?;
    }
    for person in &asked.people {
        look::person(session.state, *person)?;
        judge::skilled(session.state, &row, *person)?;
    }
    let (bay, people, from_at) = (asked.bay.clone(), asked.people.clone(), asked.from_at);
    session.emit(Fact::StagePinned { job: job.job, stage: asked.stage.clone(), bay, people, from_at })?;
    Ok(Made::Nothing)
}

fn unpin(session: &mut Session, asked: &UnpinStage) -> Result<Made, Refusal> {
    let job = look::open_job(session.state, session.context, asked.job)?.job;
    let stage = look::stage(session.state, job, &asked.stage)?.stage.clone();
    if session.state.stage_pins.get(&(job, stage.clone())).is_none() {
        return Err(Refusal::NothingToDo { what: format!("unpin: nothing of stage '{stage}' of job {job} is pinned") });
    }
    session.emit(Fact::StageUnpinned { job, stage })?;
    Ok(Made::Nothing)
}

fn open_overtime(session: &mut Session, asked: &OpenOvertime) -> Result<Made, Refusal> {
    let OpenOvertime { person, from_at, until_at } = *asked;
    let window = Window { from: from_at, until: until_at };
    if from_at < session.at() {
        return Err(Refusal::invalid("from_at", "it has begun already; overtime is opened before it begins"));
    }
    if window.length_us() == 0 {
        return Err(Refusal::invalid("until_at", "it is not later than from_at; give a later time"));
    }
    if window.length_us() > OVERTIME_MAX * MINUTE_US {
        return Err(Refusal::invalid("until_at", "it is more than a day later than from_at; open each day by itself"));
    }
    look::person(session.state, person)?;
    let meets = |row: &&OvertimeRow| Window { from: row.from_at, until: row.until_at }.meets(window);
    if let Some(row) = windows(session, person).find(meets) {
        return Err(Refusal::OvertimeOpen { from_at: row.from_at, until_at: row.until_at });
    }
    session.emit(Fact::OvertimeOpened { person, from_at, until_at })?;
    Ok(Made::Nothing)
}

fn close_overtime(session: &mut Session, asked: &CloseOvertime) -> Result<Made, Refusal> {
    look::any_person(session.state, asked.person)?;
    let at = session.at();
    let holds = |row: &&OvertimeRow| row.from_at <= asked.at && asked.at < row.until_at && at < row.until_at;
    let Some(row) = windows(session, asked.person).find(holds) else {
        let what = "close: no overtime of this person is open then, or it is over".to_owned();
        return Err(Refusal::NothingToDo { what });
    };
    let (person, from_at) = (row.person, row.from_at);
    session.emit(Fact::OvertimeClosed { person, from_at })?;
    Ok(Made::Nothing)
}

fn windows<'a>(session: &'a Session, person: PersonId) -> impl Iterator<Item = &'a OvertimeRow> {
    session.state.overtime.iter().filter(move |row| row.person == person)
}
