//! Readings.

use super::{serve, unfit};
use crate::call::Call;
use crate::convert::{enums, fields, notice::receipt, reading as convert};
use leadhand_app::{App, AppError};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{AddReading, DecideReading, RecordReading};
use leadhand_facts::StepNo;
use leadhand_proto::v1;
use leadhand_proto::v1::reading_service_server::ReadingService;

/// The service.
pub struct Readings {
    pub(crate) app: App,
}

serve! { ReadingService for Readings {
    add_reading(AddReadingRequest) -> AddReadingResponse;
    record_reading(RecordReadingRequest) -> RecordReadingResponse;
    decide_reading(DecideReadingRequest) -> DecideReadingResponse;
    get_readings(GetReadingsRequest) -> GetReadingsResponse;
} also {} }

async fn add_reading(call: &Call, asked: v1::AddReadingRequest) -> Result<v1::AddReadingResponse, AppError> {
    let command = AddReading {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        step: fields::positive_some("step", asked.step)?.map(StepNo),
        reading: fields::key_some("reading", &asked.reading)?,
        what: asked.what,
        detail: convert::detail(asked.detail)?,
        figures: convert::figures(&asked.figures)?,
        instrument: fields::text_some(asked.instrument),
        note: fields::text_some(asked.note),
        sure: asked.sure,
    };
    let outcome = call.execute(asked.write, command).await?;
    let Made::Reading { reading, .. } = &outcome.answer.made else { return Err(unfit("a reading", &outcome)) };
    Ok(v1::AddReadingResponse { receipt: receipt(&outcome), reading: reading.to_string() })
}

async fn record_reading(call: &Call, asked: v1::RecordReadingRequest) -> Result<v1::RecordReadingResponse, AppError> {
    let command = RecordReading {
        job: fields::job(asked.job)?,
        reading: fields::key("reading", &asked.reading)?,
        figures: convert::figures(&asked.figures)?,
        instrument: fields::text_some(asked.instrument),
        note: fields::text_some(asked.note),
        sure: asked.sure,
    };
    Ok(v1::RecordReadingResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn decide_reading(call: &Call, asked: v1::DecideReadingRequest) -> Result<v1::DecideReadingResponse, AppError> {
    let command = DecideReading {
        job: fields::job(asked.job)?,
        reading: fields::key("reading", &asked.reading)?,
        decision: enums::read_decision("decision", asked.decision)?,
        reason: asked.reason,
    };
    Ok(v1::DecideReadingResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn get_readings(call: &Call, asked: v1::GetReadingsRequest) -> Result<v1::GetReadingsResponse, AppError> {
    let told = Box::pin(call.app.readings(&call.who, fields::job(asked.job)?)).await?;
    let all = &told.view.readings;
    let readings = all.iter().map(|row| convert::reading(row, all, &told.words, &told.names)).collect();
    Ok(v1::GetReadingsResponse { readings, number: told.number })
}
