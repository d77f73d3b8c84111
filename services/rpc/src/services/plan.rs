//! The plan.

use super::serve;
use crate::call::Call;
use crate::convert::{fields, invalid, notice::receipt, plan as convert, plan_change, time};
use leadhand_app::{App, AppError, Search};
use leadhand_domain::command::{CloseOvertime, OpenOvertime, PinStage, UnpinStage};
use leadhand_proto::v1;
use leadhand_proto::v1::plan_service_server::PlanService;
use std::time::Duration;

/// The service.
pub struct Plans {
    pub(crate) app: App,
}

/// Schedules that a search is given when nobody said, and at most.
const SCHEDULES: u64 = 3_000;
const SCHEDULES_MAX: u64 = 100_000;
/// Milliseconds that a search is given when nobody said, and at most.
const LIMIT_MS: u64 = 3_000;
const LIMIT_MS_MAX: u64 = 10_000;

serve! { PlanService for Plans {
    propose_plan(ProposePlanRequest) -> ProposePlanResponse;
    accept_plan(AcceptPlanRequest) -> AcceptPlanResponse;
    get_plan(GetPlanRequest) -> GetPlanResponse;
    explain_job(ExplainJobRequest) -> ExplainJobResponse;
    forecast_job(ForecastJobRequest) -> ForecastJobResponse;
    pin_stage(PinStageRequest) -> PinStageResponse;
    unpin_stage(UnpinStageRequest) -> UnpinStageResponse;
    open_overtime(OpenOvertimeRequest) -> OpenOvertimeResponse;
    close_overtime(CloseOvertimeRequest) -> CloseOvertimeResponse;
} also {} }

async fn propose_plan(call: &Call, asked: v1::ProposePlanRequest) -> Result<v1::ProposePlanResponse, AppError> {
    let within = up_to("limit_ms", i64::from(asked.limit_ms), LIMIT_MS, LIMIT_MS_MAX)?;
    let search = Search {
        schedules: up_to("schedules", asked.schedules, SCHEDULES, SCHEDULES_MAX)?,
        within: Duration::from_millis(within),
        seed: u64::try_from(asked.seed).map_err(|_| invalid("seed", "it is below 0; give 0 or more"))?,
        deadline: call.deadline(),
    };
    let changes = plan_change::changes(call, &asked.changes).await?;
    Ok(convert::proposal(&call.app.propose_plan(&call.who, search, &changes).await?))
}

/// A number that was said, within its bounds; the usual one for 0.
fn up_to(field: &str, said: i64, usual: u64, most: u64) -> Result<u64, AppError> {
    match u64::try_from(said) {
        Ok(0) => Ok(usual),
        Ok(said) if said <= most => Ok(said),
        _ => Err(invalid(field, format!("{said} is not from 0 (the usual {usual}) to {most}"))),
    }
}

async fn accept_plan(call: &Call, asked: v1::AcceptPlanRequest) -> Result<v1::AcceptPlanResponse, AppError> {
    let plan = convert::read(asked.plan, asked.even_if_outdated)?;
    let write = call.write(asked.write).await?;
    Ok(v1::AcceptPlanResponse { receipt: receipt(&call.app.accept_plan(&call.who, write, plan).await?) })
}

async fn get_plan(call: &Call, _: v1::GetPlanRequest) -> Result<v1::GetPlanResponse, AppError> {
    Ok(convert::accepted(call.app.accepted_plan(&call.who).await?))
}

async fn explain_job(call: &Call, asked: v1::ExplainJobRequest) -> Result<v1::ExplainJobResponse, AppError> {
    let job = fields::job(asked.job)?;
    Ok(convert::explained(call.app.job_outlook(&call.who, job, call.deadline()).await?))
}

async fn forecast_job(call: &Call, asked: v1::ForecastJobRequest) -> Result<v1::ForecastJobResponse, AppError> {
    let job = fields::job(asked.job)?;
    Ok(convert::forecast(&call.app.job_outlook(&call.who, job, call.deadline()).await?))
}

async fn pin_stage(call: &Call, asked: v1::PinStageRequest) -> Result<v1::PinStageResponse, AppError> {
    if asked.people.len() > PEOPLE_MAX {
        return Err(invalid("people", format!("{} are named; give at most {PEOPLE_MAX}", asked.people.len())));
    }
    let mut people = Vec::with_capacity(asked.people.len());
    for (at, name) in asked.people.iter().enumerate() {
        people.push(call.person(&format!("people[{at}]"), name).await?);
    }
    let command = PinStage {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        bay: fields::key_some("bay", &asked.bay)?,
        people,
        from_at: time::instant_some("from_at", asked.from_at)?,
    };
    Ok(v1::PinStageResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

/// Most people at a stage.
const PEOPLE_MAX: usize = 8;

async fn unpin_stage(call: &Call, asked: v1::UnpinStageRequest) -> Result<v1::UnpinStageResponse, AppError> {
    let command = UnpinStage { job: fields::job(asked.job)?, stage: fields::key("stage", &asked.stage)? };
    Ok(v1::UnpinStageResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn open_overtime(call: &Call, asked: v1::OpenOvertimeRequest) -> Result<v1::OpenOvertimeResponse, AppError> {
    let command = OpenOvertime {
        person: call.person("person", &asked.person).await?,
        from_at: time::instant_needed("from_at", asked.from_at)?,
        until_at: time::instant_needed("until_at", asked.until_at)?,
    };
    Ok(v1::OpenOvertimeResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn close_overtime(call: &Call, asked: v1::CloseOvertimeRequest) -> Result<v1::CloseOvertimeResponse, AppError> {
    let command = CloseOvertime {
        person: call.person("person", &asked.person).await?,
        at: time::instant_needed("at", asked.at)?,
    };
    Ok(v1::CloseOvertimeResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}
