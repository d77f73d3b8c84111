//! The strip book.

use super::{serve, unfit};
use crate::call::Call;
use crate::convert::{enums, fields, notice::receipt, strip as convert};
use leadhand_app::{App, AppError};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{AddPosition, ConfirmPositions, PutBack, ReopenPosition, TakeOff, TightenPositions};
use leadhand_facts::StepNo;
use leadhand_facts::words::Manner;
use leadhand_proto::v1;
use leadhand_proto::v1::strip_service_server::StripService;

/// The service.
pub struct Strip {
    pub(crate) app: App,
}

serve! { StripService for Strip {
    take_off(TakeOffRequest) -> TakeOffResponse;
    add_position(AddPositionRequest) -> AddPositionResponse;
    put_back(PutBackRequest) -> PutBackResponse;
    tighten_positions(TightenPositionsRequest) -> TightenPositionsResponse;
    confirm_positions(ConfirmPositionsRequest) -> ConfirmPositionsResponse;
    reopen_position(ReopenPositionRequest) -> ReopenPositionResponse;
    get_strip(GetStripRequest) -> GetStripResponse;
} also {} }

async fn take_off(call: &Call, asked: v1::TakeOffRequest) -> Result<v1::TakeOffResponse, AppError> {
    let command = TakeOff {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        step: fields::positive_some("step", asked.step)?.map(StepNo),
        lines: convert::off_lines(asked.lines)?,
        as_listed: asked.as_listed,
        override_reason: fields::text_some(asked.override_reason),
    };
    Ok(v1::TakeOffResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn add_position(call: &Call, asked: v1::AddPositionRequest) -> Result<v1::AddPositionResponse, AppError> {
    let behind = fields::keys("behind", &asked.behind)?;
    let unanswered = behind.is_empty() && !asked.behind_nothing;
    if asked.behind_nothing && !behind.is_empty() {
        return Err(crate::convert::invalid("behind_nothing", "behind names something as well; say one or the other"));
    }
    let command = AddPosition {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        position: fields::key_some("position", &asked.position)?,
        what: asked.what,
        kind: enums::read_position_kind_some("kind", asked.kind)?,
        manner: enums::read_manner_some("manner", asked.manner)?.unwrap_or(Manner::Off),
        count: fields::positive_some("count", asked.count)?.unwrap_or(1),
        size: fields::text_some(asked.size),
        location: fields::text_some(asked.location),
        behind: (!unanswered).then_some(behind),
        attached_to: fields::key_some("attached_to", &asked.attached_to)?,
        keep: enums::read_keep_some("keep", asked.keep)?,
        renew: enums::read_renew_some("renew", asked.renew)?,
        back: fields::key_some("back", &asked.back)?,
        note: fields::text_some(asked.note),
        later: asked.later,
    };
    let outcome = call.execute(asked.write, command).await?;
    let Made::Position { position, .. } = &outcome.answer.made else { return Err(unfit("a position", &outcome)) };
    Ok(v1::AddPositionResponse { receipt: receipt(&outcome), position: position.to_string() })
}

async fn put_back(call: &Call, asked: v1::PutBackRequest) -> Result<v1::PutBackResponse, AppError> {
    let command = PutBack {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        lines: convert::back_lines(asked.lines)?,
        as_listed: asked.as_listed,
        override_reason: fields::text_some(asked.override_reason),
    };
    Ok(v1::PutBackResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn tighten_positions(
    call: &Call,
    asked: v1::TightenPositionsRequest,
) -> Result<v1::TightenPositionsResponse, AppError> {
    let command = TightenPositions {
        job: fields::job(asked.job)?,
        positions: fields::keys("positions", &asked.positions)?,
        tightness: enums::read_tightness("tightness", asked.tightness)?,
    };
    Ok(v1::TightenPositionsResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn confirm_positions(
    call: &Call,
    asked: v1::ConfirmPositionsRequest,
) -> Result<v1::ConfirmPositionsResponse, AppError> {
    let command =
        ConfirmPositions { job: fields::job(asked.job)?, positions: fields::keys("positions", &asked.positions)? };
    Ok(v1::ConfirmPositionsResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn reopen_position(
    call: &Call,
    asked: v1::ReopenPositionRequest,
) -> Result<v1::ReopenPositionResponse, AppError> {
    let command = ReopenPosition {
        job: fields::job(asked.job)?,
        position: fields::key("position", &asked.position)?,
        reason: asked.reason,
    };
    Ok(v1::ReopenPositionResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn get_strip(call: &Call, asked: v1::GetStripRequest) -> Result<v1::GetStripResponse, AppError> {
    let book = call.app.strip(&call.who, fields::job(asked.job)?).await?;
    Ok(convert::book(&book))
}
