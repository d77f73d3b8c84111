//! The time book.

use super::serve;
use crate::call::Call;
use crate::convert::time::{instant_needed, instant_some};
use crate::convert::{audit, enums, fields, notice::receipt};
use leadhand_app::{App, AppError, AuditFilter};
use leadhand_domain::command::{ClockOff, ClockOn, RecordWork};
use leadhand_proto::v1;
use leadhand_proto::v1::time_service_server::TimeService;

/// The service.
pub struct Time {
    pub(crate) app: App,
}

serve! { TimeService for Time {
    clock_on(ClockOnRequest) -> ClockOnResponse;
    clock_off(ClockOffRequest) -> ClockOffResponse;
    record_work(RecordWorkRequest) -> RecordWorkResponse;
    audit_time(AuditTimeRequest) -> AuditTimeResponse;
} also {} }

async fn clock_on(call: &Call, asked: v1::ClockOnRequest) -> Result<v1::ClockOnResponse, AppError> {
    let command = ClockOn {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        override_reason: fields::text_some(asked.override_reason),
    };
    Ok(v1::ClockOnResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn clock_off(call: &Call, asked: v1::ClockOffRequest) -> Result<v1::ClockOffResponse, AppError> {
    Ok(v1::ClockOffResponse { receipt: receipt(&call.execute(asked.write, ClockOff {}).await?) })
}

async fn record_work(call: &Call, asked: v1::RecordWorkRequest) -> Result<v1::RecordWorkResponse, AppError> {
    let command = RecordWork {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        from_at: instant_needed("from_at", asked.from_at)?,
        until_at: instant_needed("until_at", asked.until_at)?,
        override_reason: fields::text_some(asked.override_reason),
    };
    Ok(v1::RecordWorkResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn audit_time(call: &Call, asked: v1::AuditTimeRequest) -> Result<v1::AuditTimeResponse, AppError> {
    let by = enums::read_audit_by("by", asked.by)?;
    let filter = AuditFilter {
        job: fields::job_some(asked.job)?,
        template: fields::key_some("template", &asked.template)?,
        opened_from: instant_some("from_at", asked.from_at)?,
        opened_until: instant_some("until_at", asked.until_at)?,
    };
    let (report, words) = call.app.audit(&call.who, by, filter).await?;
    Ok(audit::report(&report, &words, asked.with_segments))
}
