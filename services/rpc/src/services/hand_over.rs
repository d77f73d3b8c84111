//! The hand-over: what stands against it, the sheet, remarks for it; and the end of a shift.

use super::{serve, unfit};
use crate::call::Call;
use crate::convert::{enums, fields, hand_over as convert, invalid, notice::receipt};
use leadhand_app::{App, AppError};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{MakeRemark, WithdrawRemark};
use leadhand_facts::RemarkNo;
use leadhand_proto::v1;
use leadhand_proto::v1::hand_over_service_server::HandOverService;

/// The service.
pub struct HandOvers {
    pub(crate) app: App,
}

serve! { HandOverService for HandOvers {
    check_hand_over(CheckHandOverRequest) -> CheckHandOverResponse;
    get_hand_over_sheet(GetHandOverSheetRequest) -> GetHandOverSheetResponse;
    make_remark(MakeRemarkRequest) -> MakeRemarkResponse;
    withdraw_remark(WithdrawRemarkRequest) -> WithdrawRemarkResponse;
    get_loose_ends(GetLooseEndsRequest) -> GetLooseEndsResponse;
} also {} }

async fn check_hand_over(call: &Call, asked: v1::CheckHandOverRequest) -> Result<v1::CheckHandOverResponse, AppError> {
    Ok(convert::list(&call.app.hand_over(&call.who, fields::job(asked.job)?).await?))
}

async fn get_hand_over_sheet(
    call: &Call,
    asked: v1::GetHandOverSheetRequest,
) -> Result<v1::GetHandOverSheetResponse, AppError> {
    Ok(convert::sheet(&Box::pin(call.app.sheet(&call.who, fields::job(asked.job)?)).await?))
}

async fn make_remark(call: &Call, asked: v1::MakeRemarkRequest) -> Result<v1::MakeRemarkResponse, AppError> {
    let command = MakeRemark {
        job: fields::job(asked.job)?,
        what: enums::read_remark_kind("what", asked.what)?,
        words: asked.words,
    };
    let outcome = call.execute(asked.write, command).await?;
    let Made::Remark { remark, .. } = outcome.answer.made else { return Err(unfit("a remark", &outcome)) };
    Ok(v1::MakeRemarkResponse { receipt: receipt(&outcome), remark: remark.0 })
}

async fn withdraw_remark(
    call: &Call,
    asked: v1::WithdrawRemarkRequest,
) -> Result<v1::WithdrawRemarkResponse, AppError> {
    let remark = fields::positive_some("remark", asked.remark)?;
    let remark = RemarkNo(remark.ok_or_else(|| invalid("remark", "it is not said; give its number"))?);
    let command = WithdrawRemark { job: fields::job(asked.job)?, remark, reason: asked.reason };
    Ok(v1::WithdrawRemarkResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn get_loose_ends(call: &Call, asked: v1::GetLooseEndsRequest) -> Result<v1::GetLooseEndsResponse, AppError> {
    let job = fields::job_some(asked.job)?;
    Ok(convert::loose_ends(&Box::pin(call.app.loose_ends(&call.who, job)).await?))
}
