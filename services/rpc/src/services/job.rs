//! Jobs: opened, promised, moved, handed over. What happens to their stages is in [`super::work`].

use super::told::{record_told, withdraw_told};
use super::work::{
    add_stage, add_step, clear_blocker, finish_stage, own_blocker, raise_blocker, reopen_stage, reopen_step,
    skip_stage, skip_step, start_stage, tick_steps,
};
use super::{serve, unfit};
use crate::call::Call;
use crate::convert::time::instant_some;
use crate::convert::{enums, fields, hand_over, invalid, job as convert, notice::receipt, page, ready};
use leadhand_app::{App, AppError};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{
    AssignJob, CancelJob, CompleteJob, CorrectStay, OpenJob, PromiseJob, ReopenJob, RollOut, WhichVehicle,
};
use leadhand_domain::view::ready_day::Of;
use leadhand_facts::{JobNo, VehicleId};
use leadhand_proto::v1;
use leadhand_proto::v1::job_service_server::JobService;

/// The urgency of a job about which nothing was said.
const USUAL_PRIORITY: i32 = 3;

/// The service.
pub struct Job {
    pub(crate) app: App,
}

serve! { JobService for Job {
    open_job(OpenJobRequest) -> OpenJobResponse;
    get_job(GetJobRequest) -> GetJobResponse;
    get_ready_list(GetReadyListRequest) -> GetReadyListResponse;
    list_jobs(ListJobsRequest) -> ListJobsResponse;
    promise_job(PromiseJobRequest) -> PromiseJobResponse;
    assign_job(AssignJobRequest) -> AssignJobResponse;
    roll_out_job(RollOutJobRequest) -> RollOutJobResponse;
    correct_stay(CorrectStayRequest) -> CorrectStayResponse;
    complete_job(CompleteJobRequest) -> CompleteJobResponse;
    cancel_job(CancelJobRequest) -> CancelJobResponse;
    reopen_job(ReopenJobRequest) -> ReopenJobResponse;
    add_stage(AddStageRequest) -> AddStageResponse;
    add_step(AddStepRequest) -> AddStepResponse;
    start_stage(StartStageRequest) -> StartStageResponse;
    finish_stage(FinishStageRequest) -> FinishStageResponse;
    skip_stage(SkipStageRequest) -> SkipStageResponse;
    tick_steps(TickStepsRequest) -> TickStepsResponse;
    skip_step(SkipStepRequest) -> SkipStepResponse;
    reopen_step(ReopenStepRequest) -> ReopenStepResponse;
    reopen_stage(ReopenStageRequest) -> ReopenStageResponse;
    raise_blocker(RaiseBlockerRequest) -> RaiseBlockerResponse;
    clear_blocker(ClearBlockerRequest) -> ClearBlockerResponse;
    own_blocker(OwnBlockerRequest) -> OwnBlockerResponse;
    record_told(RecordToldRequest) -> RecordToldResponse;
    withdraw_told(WithdrawToldRequest) -> WithdrawToldResponse;
} also {} }

async fn open_job(call: &Call, mut asked: v1::OpenJobRequest) -> Result<v1::OpenJobResponse, AppError> {
    let vehicle = vehicle(call, &mut asked).await?;
    let command = OpenJob {
        template: fields::key_some("template", &asked.template)?,
        revision: fields::positive_some("revision", asked.revision)?,
        title: fields::text_some(asked.title),
        vehicle,
        priority: fields::positive_some("priority", asked.priority)?.unwrap_or(USUAL_PRIORITY),
        promised_at: instant_some("promised_at", asked.promised_at)?,
        with: fields::keys("with", &asked.with)?,
        without: fields::keys("without", &asked.without)?,
    };
    let outcome = call.execute(asked.write, command).await?;
    let Made::Job { job, vehicle } = outcome.answer.made else { return Err(unfit("a job", &outcome)) };
    Ok(v1::OpenJobResponse { receipt: receipt(&outcome), job: job.0, vehicle: vehicle.to_string() })
}

async fn vehicle(call: &Call, asked: &mut v1::OpenJobRequest) -> Result<WhichVehicle, AppError> {
    let label = std::mem::take(&mut asked.vehicle_label);
    let plate = fields::text_some(std::mem::take(&mut asked.vehicle_plate));
    let Some(known) = fields::id_some("vehicle", &asked.vehicle)? else {
        let weight_kg = fields::positive_some("vehicle_weight_kg", asked.vehicle_weight_kg)?;
        let customer = call.customer_some("customer", &asked.customer).await?;
        return Ok(WhichVehicle::New { label, weight_kg, plate, customer });
    };
    if label.is_empty() && asked.vehicle_weight_kg == 0 && plate.is_none() && asked.customer.is_empty() {
        return Ok(WhichVehicle::Known(VehicleId(known)));
    }
    let why =
        "a vehicle that the shop knows has its label, plate, weight and customer already; give either it or a label";
    Err(invalid("vehicle", why))
}

async fn get_job(call: &Call, asked: v1::GetJobRequest) -> Result<v1::GetJobResponse, AppError> {
    let whole = call.app.job(&call.who, fields::job(asked.job)?).await?;
    Ok(convert::whole(&whole))
}

async fn get_ready_list(call: &Call, asked: v1::GetReadyListRequest) -> Result<v1::GetReadyListResponse, AppError> {
    let (job, bay) = (fields::job_some(asked.job)?, fields::key_some("bay", &asked.bay)?);
    let stage = fields::key_some("stage", &asked.stage)?;
    let person = call.person_known("person", &asked.person).await?;
    let of = match (job, bay, person, stage) {
        (Some(job), None, None, Some(stage)) => Of::Stage(job, stage),
        (Some(job), None, None, None) => Of::Job(job),
        (None, Some(bay), None, None) => Of::Bay(bay),
        (None, None, Some(person), None) => Of::Person(person),
        (None, _, _, Some(_)) => return Err(invalid("job", "a stage needs its job; give both")),
        _ => return Err(invalid("job", "a list is of one: give either a job, a bay or a person")),
    };
    let (list, words) = call.app.ready(&call.who, of).await?;
    Ok(ready::list(&list, &words))
}

async fn list_jobs(call: &Call, asked: v1::ListJobsRequest) -> Result<v1::ListJobsResponse, AppError> {
    let states = enums::each("states", &asked.states, enums::read_job_state)?;
    let after = page::read("jobs", &asked.page_token, page::number)?.map(JobNo);
    let closed_from = instant_some("closed_from_at", asked.closed_from_at)?;
    let found = call.app.jobs(&call.who, states, closed_from, (after, page::size(asked.page_size)?)).await?;
    let jobs = found.jobs.iter().map(|line| convert::job_line(line, &found.words));
    Ok(v1::ListJobsResponse { jobs: jobs.collect(), next_page_token: page::token("jobs", found.next) })
}

async fn promise_job(call: &Call, asked: v1::PromiseJobRequest) -> Result<v1::PromiseJobResponse, AppError> {
    let command = PromiseJob {
        job: fields::job(asked.job)?,
        priority: fields::positive_some("priority", asked.priority)?,
        promised_at: instant_some("promised_at", asked.promised_at)?,
        withdraw_promise: asked.withdraw_promise,
    };
    Ok(v1::PromiseJobResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn assign_job(call: &Call, asked: v1::AssignJobRequest) -> Result<v1::AssignJobResponse, AppError> {
    let command = AssignJob {
        job: fields::job(asked.job)?,
        bay: fields::key("bay", &asked.bay)?,
        override_reason: fields::text_some(asked.override_reason),
    };
    Ok(v1::AssignJobResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn correct_stay(call: &Call, asked: v1::CorrectStayRequest) -> Result<v1::CorrectStayResponse, AppError> {
    let command = CorrectStay {
        job: fields::job(asked.job)?,
        stay: fields::stay_some(asked.stay)?,
        bay: fields::key_some("bay", &asked.bay)?,
        from_at: instant_some("from_at", asked.from_at)?,
        until_at: instant_some("until_at", asked.until_at)?,
        reason: asked.reason,
    };
    Ok(v1::CorrectStayResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn roll_out_job(call: &Call, asked: v1::RollOutJobRequest) -> Result<v1::RollOutJobResponse, AppError> {
    let override_reason = fields::text_some(asked.override_reason);
    let command = RollOut { job: fields::job(asked.job)?, override_reason };
    Ok(v1::RollOutJobResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn complete_job(call: &Call, asked: v1::CompleteJobRequest) -> Result<v1::CompleteJobResponse, AppError> {
    let command = CompleteJob {
        job: fields::job(asked.job)?,
        override_reason: fields::text_some(asked.override_reason),
        overrides: hand_over::overrides(asked.overrides)?,
    };
    Ok(v1::CompleteJobResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn cancel_job(call: &Call, asked: v1::CancelJobRequest) -> Result<v1::CancelJobResponse, AppError> {
    let command = CancelJob { job: fields::job(asked.job)?, reason: asked.reason, as_it_is: asked.as_it_is };
    Ok(v1::CancelJobResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn reopen_job(call: &Call, asked: v1::ReopenJobRequest) -> Result<v1::ReopenJobResponse, AppError> {
    let command = ReopenJob { job: fields::job(asked.job)?, reason: asked.reason };
    Ok(v1::ReopenJobResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}
