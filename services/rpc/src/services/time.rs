//! The time book.

use super::asked::{ask_correction, decide_correction, list_asked_corrections};
use super::serve;
use crate::call::Call;
use crate::convert::time::{instant, instant_needed, instant_some, stamp, timestamp};
use crate::convert::{audit, enums, fields, invalid, notice::receipt, page};
use leadhand_app::{App, AppError, AuditFilter, ClockingFilter};
use leadhand_domain::command::{ClockOff, ClockOn, CorrectClocking, RecordWork, WithdrawClocking};
use leadhand_domain::view::audit::By;
use leadhand_facts::Instant;
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
    correct_clocking(CorrectClockingRequest) -> CorrectClockingResponse;
    withdraw_clocking(WithdrawClockingRequest) -> WithdrawClockingResponse;
    ask_correction(AskCorrectionRequest) -> AskCorrectionResponse;
    decide_correction(DecideCorrectionRequest) -> DecideCorrectionResponse;
    list_asked_corrections(ListAskedCorrectionsRequest) -> ListAskedCorrectionsResponse;
    list_clockings(ListClockingsRequest) -> ListClockingsResponse;
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

async fn correct_clocking(
    call: &Call,
    asked: v1::CorrectClockingRequest,
) -> Result<v1::CorrectClockingResponse, AppError> {
    let command = CorrectClocking {
        entry: fields::entry(asked.entry)?,
        from_at: instant_some("from_at", asked.from_at)?,
        until_at: instant_some("until_at", asked.until_at)?,
        job: fields::job_some(asked.job)?,
        stage: fields::key_some("stage", &asked.stage)?,
        reason: asked.reason,
        override_reason: fields::text_some(asked.override_reason),
    };
    Ok(v1::CorrectClockingResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn withdraw_clocking(
    call: &Call,
    asked: v1::WithdrawClockingRequest,
) -> Result<v1::WithdrawClockingResponse, AppError> {
    let command = WithdrawClocking { entry: fields::entry(asked.entry)?, reason: asked.reason };
    Ok(v1::WithdrawClockingResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn list_clockings(call: &Call, asked: v1::ListClockingsRequest) -> Result<v1::ListClockingsResponse, AppError> {
    const LIST: &str = "clockings";
    let size = page::size(asked.page_size)?;
    let after = page::read(LIST, &asked.page_token, page::number)?.unwrap_or(0);
    let filter = ClockingFilter {
        person: call.person_known("person", &asked.person).await?,
        from_at: instant_some("from_at", asked.from_at)?,
        until_at: instant_some("until_at", asked.until_at)?,
    };
    let found = call.app.clockings(&call.who, filter, after, size).await?;
    let line = |row: &leadhand_facts::rows::ClockingRow| v1::Clocking {
        entry: row.on_n,
        person: row.person.to_string(),
        name: found.words.get(found.names.get(&row.person).copied()).to_owned(),
        job: row.job.0,
        stage: row.stage.to_string(),
        from_at: Some(timestamp(row.from_at)),
        until_at: stamp(row.until_at),
    };
    let clockings = found.clockings.iter().map(line).collect();
    Ok(v1::ListClockingsResponse { clockings, next_page_token: page::token(LIST, found.next) })
}

async fn audit_time(call: &Call, asked: v1::AuditTimeRequest) -> Result<v1::AuditTimeResponse, AppError> {
    let by = enums::read_audit_by("by", asked.by)?;
    let filter = AuditFilter {
        job: fields::job_some(asked.job)?,
        template: fields::key_some("template", &asked.template)?,
        opened_from: instant_some("from_at", asked.from_at)?,
        opened_until: instant_some("until_at", asked.until_at)?,
    };
    let cuts = cuts(by, &asked)?;
    let (report, words) = if cuts.is_empty() {
        call.app.audit(&call.who, by, filter).await?
    } else {
        call.app.lost(&call.who, filter, &cuts).await?
    };
    Ok(audit::report(&report, &words, asked.with_segments))
}

/// Instants at which time is cut at most.
const CUTS_MAX: usize = 120;

/// Where time is to be cut; nowhere unless it is asked for.
fn cuts(by: By, asked: &v1::AuditTimeRequest) -> Result<Vec<Instant>, AppError> {
    let read = asked.cut_at.iter().enumerate().map(|(at, cut)| instant(&format!("cut_at[{at}]"), *cut));
    let cuts = read.collect::<Result<Vec<_>, _>>()?;
    let wrong = match cuts.as_slice() {
        [] => return Ok(cuts),
        _ if by != By::Cause => "time is cut by cause alone; ask by cause, or leave it empty",
        _ if asked.from_at.is_some() || asked.until_at.is_some() => {
            "it takes the place of from_at and until_at; leave these empty"
        }
        [_] => "one instant cuts nothing; give at least two",
        cuts if cuts.len() > CUTS_MAX => "it has more than 120 instants; give at most 120",
        cuts if cuts.windows(2).any(|pair| pair[0] >= pair[1]) => {
            "each instant has to be later than the one before; put them in order"
        }
        _ => return Ok(cuts),
    };
    Err(invalid("cut_at", wrong))
}
