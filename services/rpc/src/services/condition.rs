//! The condition of a vehicle.

use super::{serve, unfit};
use crate::call::Call;
use crate::convert::{enums, fields, notice::receipt};
use leadhand_app::{App, AppError};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{CallLead, DecideWay, ProposeWay, RecordFluid, ReopenFluid, SetVehicleStates};
use leadhand_proto::v1;
use leadhand_proto::v1::condition_service_server::ConditionService;

/// The service.
pub struct Condition {
    pub(crate) app: App,
}

serve! { ConditionService for Condition {
    set_vehicle_states(SetVehicleStatesRequest) -> SetVehicleStatesResponse;
    record_fluid(RecordFluidRequest) -> RecordFluidResponse;
    reopen_fluid(ReopenFluidRequest) -> ReopenFluidResponse;
    propose_way(ProposeWayRequest) -> ProposeWayResponse;
    decide_way(DecideWayRequest) -> DecideWayResponse;
    call_lead(CallLeadRequest) -> CallLeadResponse;
} also {} }

async fn set_vehicle_states(
    call: &Call,
    asked: v1::SetVehicleStatesRequest,
) -> Result<v1::SetVehicleStatesResponse, AppError> {
    let command = SetVehicleStates {
        job: fields::job(asked.job)?,
        states: enums::each("states", &asked.states, enums::read_vehicle_state)?,
        reason: fields::text_some(asked.reason),
    };
    Ok(v1::SetVehicleStatesResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn record_fluid(call: &Call, asked: v1::RecordFluidRequest) -> Result<v1::RecordFluidResponse, AppError> {
    let command = RecordFluid {
        job: fields::job(asked.job)?,
        fluid: fields::key("fluid", &asked.fluid)?,
        drained_ml: asked.drained_ml,
        filled_ml: asked.filled_ml,
        note: fields::text_some(asked.note),
        unlisted: asked.unlisted,
    };
    Ok(v1::RecordFluidResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn reopen_fluid(call: &Call, asked: v1::ReopenFluidRequest) -> Result<v1::ReopenFluidResponse, AppError> {
    let command =
        ReopenFluid { job: fields::job(asked.job)?, fluid: fields::key("fluid", &asked.fluid)?, reason: asked.reason };
    Ok(v1::ReopenFluidResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn propose_way(call: &Call, asked: v1::ProposeWayRequest) -> Result<v1::ProposeWayResponse, AppError> {
    let command = ProposeWay {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        step: fields::step("step", asked.step)?,
        way: asked.way,
        reason: asked.reason,
    };
    Ok(v1::ProposeWayResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn decide_way(call: &Call, asked: v1::DecideWayRequest) -> Result<v1::DecideWayResponse, AppError> {
    let command = DecideWay {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        step: fields::step("step", asked.step)?,
        approved: asked.approved,
        note: fields::text_some(asked.note),
    };
    Ok(v1::DecideWayResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn call_lead(call: &Call, asked: v1::CallLeadRequest) -> Result<v1::CallLeadResponse, AppError> {
    let command = CallLead {
        job: fields::job_some(asked.job)?,
        stage: fields::key_some("stage", &asked.stage)?,
        note: fields::text_some(asked.note),
    };
    let outcome = call.execute(asked.write, command).await?;
    let Made::Blocker { job, blocker } = outcome.answer.made else { return Err(unfit("a blocker", &outcome)) };
    Ok(v1::CallLeadResponse { receipt: receipt(&outcome), job: job.0, blocker: blocker.0 })
}
