//! The strip book.

use super::{serve, unfit};
use crate::call::Call;
use crate::convert::{enums, fields, notice::receipt, strip as convert};
use leadhand_app::{App, AppError};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{
    AddPosition, ConfirmPositions, PutBack, RecordAttempt, ReopenPosition, SoakPosition, SplitPosition, TakeOff,
    TightenPositions,
};
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
    split_position(SplitPositionRequest) -> SplitPositionResponse;
    soak_position(SoakPositionRequest) -> SoakPositionResponse;
    record_attempt(RecordAttemptRequest) -> RecordAttemptResponse;
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
    let fitting = convert::fitting(&asked)?;
    let command = AddPosition {
        fitting,
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
        tags: asked.tags,
        item: fields::key_some("item", &asked.item)?,
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
    let outcome = call.execute(asked.write, command).await?;
    // An answer that an older server kept says nothing of the lines.
    let lines = if let Made::Back(lines) = &outcome.answer.made { lines.as_slice() } else { &[] };
    Ok(v1::PutBackResponse { receipt: receipt(&outcome), lines: lines.iter().map(convert::went_back).collect() })
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

async fn split_position(call: &Call, asked: v1::SplitPositionRequest) -> Result<v1::SplitPositionResponse, AppError> {
    let command = SplitPosition {
        job: fields::job(asked.job)?,
        position: fields::key("position", &asked.position)?,
        part: fields::key_some("part", &asked.part)?,
        what: fields::text_some(asked.what),
        count: asked.count,
        size: fields::text_some(asked.size),
        head: fields::text_some(asked.head),
        location: fields::text_some(asked.location),
    };
    let outcome = call.execute(asked.write, command).await?;
    let Made::Position { position, .. } = &outcome.answer.made else { return Err(unfit("a position", &outcome)) };
    Ok(v1::SplitPositionResponse { receipt: receipt(&outcome), position: position.to_string() })
}

async fn soak_position(call: &Call, asked: v1::SoakPositionRequest) -> Result<v1::SoakPositionResponse, AppError> {
    let command = SoakPosition {
        job: fields::job(asked.job)?,
        position: fields::key("position", &asked.position)?,
        minutes: asked.minutes,
    };
    Ok(v1::SoakPositionResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn record_attempt(call: &Call, asked: v1::RecordAttemptRequest) -> Result<v1::RecordAttemptResponse, AppError> {
    let command = RecordAttempt {
        job: fields::job(asked.job)?,
        position: fields::key("position", &asked.position)?,
        rung: fields::positive_some("rung", asked.rung)?,
        outcome: enums::read_outcome("outcome", asked.outcome)?,
        pieces: fields::positive_some("pieces", asked.pieces)?,
        item: fields::key_some("item", &asked.item)?,
        plan: fields::text_some(asked.plan),
        note: fields::text_some(asked.note),
        blocked: asked.blocked,
        override_reason: fields::text_some(asked.override_reason),
    };
    let outcome = call.execute(asked.write, command).await?;
    let Made::Attempt { attempt, next, .. } = &outcome.answer.made else { return Err(unfit("an attempt", &outcome)) };
    let who = next.iter().flat_map(|next| next.who.iter().copied());
    let names = call.app.names_of(&call.who, who.collect()).await?;
    let next = next.as_ref().map(|next| v1::NextRung {
        rung: next.rung,
        measure: next.measure.clone(),
        yours: next.may,
        who: next.who.iter().filter_map(|person| names.get(person)).cloned().collect(),
    });
    Ok(v1::RecordAttemptResponse { receipt: receipt(&outcome), attempt: attempt.0, next })
}

async fn get_strip(call: &Call, asked: v1::GetStripRequest) -> Result<v1::GetStripResponse, AppError> {
    let ladder_of = fields::key_some("ladder_of", &asked.ladder_of)?;
    let since = match asked.since {
        0 => None,
        since @ 1.. => Some(since),
        _ => return Err(crate::convert::invalid("since", "it is negative; give a journal number, or 0 for nothing")),
    };
    let book = call.app.strip(&call.who, fields::job(asked.job)?, since, ladder_of.as_ref()).await?;
    Ok(convert::book(&book, call.who.person))
}
