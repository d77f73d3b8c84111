//! Plans on the wire.

use super::time::{instant_needed, instant_some, stamp, timestamp};
use super::{enums, fields, invalid};
use leadhand_app::{Accepted, AppError, Outlook, Proposal, StageNote};
use leadhand_domain::command::AcceptPlan;
use leadhand_facts::plan::{self, BayVisit, HangsOn, Nowhere, PlanEnd};
use leadhand_facts::rows::{OvertimeRow, PlanJobRow, StagePinRow};
use leadhand_facts::words::NoPlace;
use leadhand_facts::{PersonId, StageKey};
use leadhand_proto::v1;
use std::collections::BTreeMap;

/// A proposed plan.
pub fn proposal(found: &Proposal) -> v1::ProposePlanResponse {
    let report = &found.report;
    let jobs = report.jobs.iter().map(|job| v1::PlannedJob {
        job: job.job.0,
        ready_at: stamp(job.ready),
        likely_at: stamp(job.likely),
        safe_at: stamp(job.safe),
        nowhere: report
            .unplaced
            .iter()
            .filter(|one| one.job == job.job)
            .map(|one| nowhere(&one.stage, one.why))
            .collect(),
        hangs_on: job.hangs_on.iter().map(|one| hang(&one.on)).collect(),
    });
    let plan = v1::Plan {
        number: found.plan.number,
        made_at: Some(timestamp(found.made_at)),
        stages: found.plan.stages.iter().map(planned).collect(),
        stays: found.plan.visits.iter().map(stay).collect(),
        jobs: jobs.collect(),
    };
    v1::ProposePlanResponse {
        plan: Some(plan),
        notes: found.notes.iter().map(note).collect(),
        persons: persons(&found.names),
        outlooks: report.jobs.iter().zip(&found.words).map(|(job, words)| outlook(job, words)).collect(),
        unplaced: report.unplaced.iter().map(unplaced).collect(),
        helps: report.helps.iter().map(help).collect(),
        ended: match report.ended {
            PlanEnd::Proved => v1::PlanEnd::Proved,
            PlanEnd::Spent => v1::PlanEnd::Spent,
            PlanEnd::Stopped => v1::PlanEnd::Stopped,
        }
        .into(),
        schedules: i64::try_from(report.schedules).unwrap_or(i64::MAX),
        lateness: report.objective.tardiness,
        changed: report.objective.changes,
        overtime_minutes: report.objective.overtime_minutes,
    }
}

/// The accepted plan.
pub fn accepted(found: Accepted) -> v1::GetPlanResponse {
    let plan = found.view.as_ref().map(|view| v1::Plan {
        number: view.row.made_n,
        made_at: Some(timestamp(view.row.made_at)),
        stages: view.stages.iter().map(|line| planned_row(&line.row)).collect(),
        stays: view.visits.iter().map(stay_row).collect(),
        jobs: view.jobs.iter().map(job_row).collect(),
    });
    let row = found.view.as_ref().map(|view| &view.row);
    v1::GetPlanResponse {
        plan,
        accepted_at: stamp(row.map(|row| row.accepted_at)),
        accepted_number: row.map(|row| row.accepted_n).unwrap_or_default(),
        notes: found.notes.iter().map(note).collect(),
        persons: persons(&found.names),
        moved: found.moved,
        pins: found.pins.iter().map(pin).collect(),
        overtime: found.overtime.iter().map(overtime).collect(),
        number: found.number,
        unplaced: found.unplaced.iter().map(unplaced).collect(),
        late: found.late.iter().map(|job| job.0).collect(),
        likely_late: found.likely_late.iter().map(|job| job.0).collect(),
        at_risk: found.at_risk.iter().map(|job| job.0).collect(),
        hangs_on: found.hangs_on.into_iter().map(|(job, one)| v1::PlanHang { job: job.0, words: one.words }).collect(),
    }
}

/// Why a job is ready when it is.
pub fn explained(found: Outlook) -> v1::ExplainJobResponse {
    let job = found.outlook.job;
    let link = |one: &plan::Because| v1::PlanLink {
        job: one.job.0,
        stage: one.stage.to_string(),
        from_at: Some(timestamp(one.from)),
    };
    v1::ExplainJobResponse {
        outlook: Some(outlook(&found.outlook, &found.words)),
        links: found.outlook.because.iter().map(link).collect(),
        unplaced: found.whole.report.unplaced.iter().filter(|one| one.job == job).map(unplaced).collect(),
        helps: found.helps().iter().map(help).collect(),
        planned: found.planned.as_ref().map(job_row),
        moved: found.moved,
    }
}

/// When a job is ready.
pub fn forecast(found: &Outlook) -> v1::ForecastJobResponse {
    let planned = found.planned.as_ref().map(job_row);
    v1::ForecastJobResponse { outlook: Some(outlook(&found.outlook, &found.words)), planned }
}

fn planned(row: &plan::PlannedStage) -> v1::PlannedStage {
    v1::PlannedStage {
        job: row.job.0,
        stage: row.stage.to_string(),
        bay: row.bay.as_ref().map(ToString::to_string).unwrap_or_default(),
        people: row.people.iter().map(ToString::to_string).collect(),
        from_at: Some(timestamp(row.from)),
        until_at: Some(timestamp(row.until)),
    }
}

fn planned_row(row: &leadhand_facts::rows::PlanStageRow) -> v1::PlannedStage {
    v1::PlannedStage {
        job: row.job.0,
        stage: row.stage.to_string(),
        bay: row.bay.as_ref().map(ToString::to_string).unwrap_or_default(),
        people: row.people.iter().map(ToString::to_string).collect(),
        from_at: Some(timestamp(row.from_at)),
        until_at: Some(timestamp(row.until_at)),
    }
}

fn stay(visit: &BayVisit) -> v1::PlannedStay {
    let (from_at, until_at) = (Some(timestamp(visit.from)), Some(timestamp(visit.until)));
    v1::PlannedStay { job: visit.job.0, bay: visit.bay.to_string(), from_at, until_at }
}

fn stay_row(row: &leadhand_facts::rows::PlanVisitRow) -> v1::PlannedStay {
    let (from_at, until_at) = (Some(timestamp(row.from_at)), Some(timestamp(row.until_at)));
    v1::PlannedStay { job: row.job.0, bay: row.bay.to_string(), from_at, until_at }
}

fn job_row(row: &PlanJobRow) -> v1::PlannedJob {
    v1::PlannedJob {
        job: row.job.0,
        ready_at: stamp(row.ready_at),
        likely_at: stamp(row.likely_at),
        safe_at: stamp(row.safe_at),
        nowhere: row.nowhere.iter().map(|one| nowhere(&one.stage, one.why)).collect(),
        hangs_on: row.hangs_on.iter().map(hang).collect(),
    }
}

fn hang(one: &HangsOn) -> v1::PlannedHang {
    v1::PlannedHang { job: one.job.0, stage: one.stage.to_string() }
}

fn nowhere(stage: &StageKey, why: NoPlace) -> v1::PlannedNowhere {
    v1::PlannedNowhere { stage: stage.to_string(), why: enums::no_place(why) }
}

fn note(note: &StageNote) -> v1::PlanNote {
    v1::PlanNote {
        job: note.job.0,
        stage: note.stage.to_string(),
        title: note.title.clone(),
        started: note.started,
        pinned: note.pinned,
    }
}

fn persons(names: &BTreeMap<PersonId, String>) -> Vec<v1::PlanPerson> {
    let person =
        |(person, name): (&PersonId, &String)| v1::PlanPerson { person: person.to_string(), name: name.clone() };
    let mut all: Vec<v1::PlanPerson> = names.iter().map(person).collect();
    // Ids are random, and their order says nothing.
    all.sort_by(|one, other| one.name.cmp(&other.name));
    all
}

fn outlook(job: &plan::JobOutlook, words: &str) -> v1::JobOutlook {
    v1::JobOutlook {
        job: job.job.0,
        ready_at: stamp(job.ready),
        promised_at: stamp(job.promised),
        late_minutes: job.late_minutes,
        likely_at: stamp(job.likely),
        safe_at: stamp(job.safe),
        words: words.to_owned(),
        hangs_on: job.hangs_on.iter().map(|one| one.words.clone()).collect(),
        sentence: job.sentence.clone(),
        likely_late: job.is_likely_late(),
        at_risk: job.is_at_risk(),
    }
}

fn unplaced(one: &plan::Unplaced) -> v1::UnplacedStage {
    v1::UnplacedStage { job: one.job.0, stage: one.stage.to_string(), reason: one.reason.clone() }
}

fn help(help: &plan::Help) -> v1::PlanHelp {
    v1::PlanHelp { sentence: help.sentence.clone(), saves: help.saves }
}

fn pin(row: &StagePinRow) -> v1::StagePin {
    v1::StagePin {
        job: row.job.0,
        stage: row.stage.to_string(),
        bay: row.bay.as_ref().map(ToString::to_string).unwrap_or_default(),
        people: row.people.iter().map(ToString::to_string).collect(),
        from_at: stamp(row.from_at),
    }
}

fn overtime(row: &OvertimeRow) -> v1::Overtime {
    let (from_at, until_at) = (Some(timestamp(row.from_at)), Some(timestamp(row.until_at)));
    v1::Overtime { person: row.person.to_string(), from_at, until_at }
}

/// Most entries of each list of a plan.
const PLANNED_MAX: usize = 5_000;

/// A plan that is to be accepted.
pub fn read(said: Option<v1::Plan>, even_if_outdated: bool) -> Result<AcceptPlan, AppError> {
    let said = said.ok_or_else(|| invalid("plan", "it is missing; give a plan as it was proposed"))?;
    if said.number < 1 {
        let why = "it is not the number of a plan of the shop as it is; what was made with something taken for otherwise can't be accepted";
        return Err(invalid("plan.number", why));
    }
    let lists = [("plan.stages", said.stages.len()), ("plan.stays", said.stays.len()), ("plan.jobs", said.jobs.len())];
    if let Some((field, many)) = lists.into_iter().find(|(_, many)| *many > PLANNED_MAX) {
        return Err(invalid(field, format!("it has {many} entries; give at most {PLANNED_MAX}")));
    }
    Ok(AcceptPlan {
        made_n: said.number,
        made_at: instant_needed("plan.made_at", said.made_at)?,
        stages: said.stages.iter().enumerate().map(|(at, row)| read_stage(at, row)).collect::<Result<_, _>>()?,
        visits: said.stays.iter().enumerate().map(|(at, row)| read_stay(at, row)).collect::<Result<_, _>>()?,
        jobs: said.jobs.iter().enumerate().map(|(at, row)| read_job(at, row)).collect::<Result<_, _>>()?,
        even_if_outdated,
    })
}

fn number(field: &str, job: i64) -> Result<leadhand_facts::JobNo, AppError> {
    fields::job(job).map_err(|_| invalid(field, "it is not a job's number; give 1 or more"))
}

fn read_stage(at: usize, row: &v1::PlannedStage) -> Result<plan::PlannedStage, AppError> {
    let field = |name: &str| format!("plan.stages[{at}].{name}");
    fields::bounded(&field("people"), &row.people)?;
    let person = |(k, id): (usize, &String)| fields::id(&format!("plan.stages[{at}].people[{k}]"), id).map(PersonId);
    Ok(plan::PlannedStage {
        job: number(&field("job"), row.job)?,
        stage: fields::key(&field("stage"), &row.stage)?,
        bay: fields::key_some(&field("bay"), &row.bay)?,
        people: row.people.iter().enumerate().map(person).collect::<Result<_, _>>()?,
        tools: Vec::new(),
        from: instant_needed(&field("from_at"), row.from_at)?,
        until: instant_needed(&field("until_at"), row.until_at)?,
    })
}

fn read_stay(at: usize, row: &v1::PlannedStay) -> Result<BayVisit, AppError> {
    let field = |name: &str| format!("plan.stays[{at}].{name}");
    Ok(BayVisit {
        job: number(&field("job"), row.job)?,
        bay: fields::key(&field("bay"), &row.bay)?,
        from: instant_needed(&field("from_at"), row.from_at)?,
        until: instant_needed(&field("until_at"), row.until_at)?,
    })
}

fn read_nowhere(field: &str, one: &v1::PlannedNowhere) -> Result<Nowhere, AppError> {
    let stage = fields::key(&format!("{field}.stage"), &one.stage)?;
    Ok(Nowhere { stage, why: enums::read_no_place(&format!("{field}.why"), one.why)? })
}

fn read_hang(field: &str, one: &v1::PlannedHang) -> Result<HangsOn, AppError> {
    let job = number(&format!("{field}.job"), one.job)?;
    Ok(HangsOn { job, stage: fields::key(&format!("{field}.stage"), &one.stage)? })
}

fn read_job(at: usize, row: &v1::PlannedJob) -> Result<plan::PlannedJob, AppError> {
    let field = |name: &str| format!("plan.jobs[{at}].{name}");
    fields::bounded(&field("nowhere"), &row.nowhere)?;
    fields::bounded(&field("hangs_on"), &row.hangs_on)?;
    let hangs = row.hangs_on.iter().enumerate();
    Ok(plan::PlannedJob {
        job: number(&field("job"), row.job)?,
        ready: instant_some(&field("ready_at"), row.ready_at)?,
        likely: instant_some(&field("likely_at"), row.likely_at)?,
        safe: instant_some(&field("safe_at"), row.safe_at)?,
        nowhere: row
            .nowhere
            .iter()
            .enumerate()
            .map(|(k, one)| read_nowhere(&field(&format!("nowhere[{k}]")), one))
            .collect::<Result<_, _>>()?,
        hangs_on: hangs.map(|(k, one)| read_hang(&field(&format!("hangs_on[{k}]")), one)).collect::<Result<_, _>>()?,
    })
}
