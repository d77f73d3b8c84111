//! What was told to whom about a job: part of the service of jobs.

use super::unfit;
use crate::call::Call;
use crate::convert::time::instant_some;
use crate::convert::{fields, invalid, notice::receipt};
use leadhand_app::AppError;
use leadhand_domain::answer::Made;
use leadhand_domain::command::{RecordTold, WithdrawTold};
use leadhand_facts::ToldNo;
use leadhand_proto::v1;

pub(super) async fn record_told(call: &Call, asked: v1::RecordToldRequest) -> Result<v1::RecordToldResponse, AppError> {
    let command = RecordTold {
        job: fields::job(asked.job)?,
        whom: fields::text_some(asked.whom),
        words: asked.words,
        promised_at: instant_some("promised_at", asked.promised_at)?,
    };
    let outcome = call.execute(asked.write, command).await?;
    let Made::Told { told, .. } = outcome.answer.made else { return Err(unfit("what was told", &outcome)) };
    Ok(v1::RecordToldResponse { receipt: receipt(&outcome), told: told.0 })
}

pub(super) async fn withdraw_told(
    call: &Call,
    asked: v1::WithdrawToldRequest,
) -> Result<v1::WithdrawToldResponse, AppError> {
    let told = fields::positive_some("told", asked.told)?;
    let told = ToldNo(told.ok_or_else(|| invalid("told", "it is not said; give its number"))?);
    let command = WithdrawTold { job: fields::job(asked.job)?, told, reason: asked.reason };
    Ok(v1::WithdrawToldResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}
