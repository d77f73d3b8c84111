//! The ready reckoner: questions that the request says whole, and those that a job's books answer.

use super::serve;
use crate::call::Call;
use crate::convert::reckon::{self, Question};
use leadhand_app::{App, AppError};
use leadhand_proto::v1;
use leadhand_proto::v1::reckoner_service_server::ReckonerService;
use leadhand_reckoner::answer::DEFERENCE;

/// The service.
pub struct Reckoner {
    pub(crate) app: App,
}

serve! { ReckonerService for Reckoner {
    reckon_conversion(ReckonConversionRequest) -> ReckonConversionResponse;
    reckon_thread(ReckonThreadRequest) -> ReckonThreadResponse;
    reckon_strength(ReckonStrengthRequest) -> ReckonStrengthResponse;
    reckon_torque(ReckonTorqueRequest) -> ReckonTorqueResponse;
    reckon_preload(ReckonPreloadRequest) -> ReckonPreloadResponse;
    reckon_short_form(ReckonShortFormRequest) -> ReckonShortFormResponse;
    reckon_adapter(ReckonAdapterRequest) -> ReckonAdapterResponse;
    reckon_spanner(ReckonSpannerRequest) -> ReckonSpannerResponse;
    reckon_torque_then_angle(ReckonTorqueThenAngleRequest) -> ReckonTorqueThenAngleResponse;
    reckon_sequence(ReckonSequenceRequest) -> ReckonSequenceResponse;
    reckon_across_flats(ReckonAcrossFlatsRequest) -> ReckonAcrossFlatsResponse;
    reckon_threads_of_head(ReckonThreadsOfHeadRequest) -> ReckonThreadsOfHeadResponse;
    reckon_freezing_point(ReckonFreezingPointRequest) -> ReckonFreezingPointResponse;
    reckon_fill(ReckonFillRequest) -> ReckonFillResponse;
    reckon_drain_and_refill(ReckonDrainAndRefillRequest) -> ReckonDrainAndRefillResponse;
    reckon_swap(ReckonSwapRequest) -> ReckonSwapResponse;
    reckon_expansion(ReckonExpansionRequest) -> ReckonExpansionResponse;
    reckon_packs(ReckonPacksRequest) -> ReckonPacksResponse;
    reckon_compression(ReckonCompressionRequest) -> ReckonCompressionResponse;
    reckon_leak_down(ReckonLeakDownRequest) -> ReckonLeakDownResponse;
    reckon_flatness(ReckonFlatnessRequest) -> ReckonFlatnessResponse;
    reckon_skim(ReckonSkimRequest) -> ReckonSkimResponse;
    reckon_compression_change(ReckonCompressionChangeRequest) -> ReckonCompressionChangeResponse;
    reckon_lift(ReckonLiftRequest) -> ReckonLiftResponse;
    reckon_star(ReckonStarRequest) -> ReckonStarResponse;
    reckon_recheck(ReckonRecheckRequest) -> ReckonRecheckResponse;
    reckon_run_out(ReckonRunOutRequest) -> ReckonRunOutResponse;
    reckon_pert(ReckonPertRequest) -> ReckonPertResponse;
    reckon_durations(ReckonDurationsRequest) -> ReckonDurationsResponse;
    reckon_reorder_point(ReckonReorderPointRequest) -> ReckonReorderPointResponse;
    reckon_order_quantity(ReckonOrderQuantityRequest) -> ReckonOrderQuantityResponse;
    reckon_earned_value(ReckonEarnedValueRequest) -> ReckonEarnedValueResponse;
    reckon_blade_fuse(ReckonBladeFuseRequest) -> ReckonBladeFuseResponse;
    reckon_rounded_head(ReckonRoundedHeadRequest) -> ReckonRoundedHeadResponse;
    reckon_battery_leads(ReckonBatteryLeadsRequest) -> ReckonBatteryLeadsResponse;
    reckon_tightenings(ReckonTighteningsRequest) -> ReckonTighteningsResponse;
    reckon_readings(ReckonReadingsRequest) -> ReckonReadingsResponse;
} also {} }

/// Questions that need nothing but what the request says.
macro_rules! reckoned {
    ($($name:ident($request:ident) -> $answer:ident;)+) => {$(
        async fn $name(_: &Call, asked: v1::$request) -> Result<v1::$answer, AppError> {
            Ok(v1::$answer { answer: Some(reckon::answer(&asked.reckon()?)) })
        }
    )+};
}

reckoned! {
    reckon_conversion(ReckonConversionRequest) -> ReckonConversionResponse;
    reckon_thread(ReckonThreadRequest) -> ReckonThreadResponse;
    reckon_strength(ReckonStrengthRequest) -> ReckonStrengthResponse;
    reckon_torque(ReckonTorqueRequest) -> ReckonTorqueResponse;
    reckon_preload(ReckonPreloadRequest) -> ReckonPreloadResponse;
    reckon_short_form(ReckonShortFormRequest) -> ReckonShortFormResponse;
    reckon_adapter(ReckonAdapterRequest) -> ReckonAdapterResponse;
    reckon_spanner(ReckonSpannerRequest) -> ReckonSpannerResponse;
    reckon_torque_then_angle(ReckonTorqueThenAngleRequest) -> ReckonTorqueThenAngleResponse;
    reckon_sequence(ReckonSequenceRequest) -> ReckonSequenceResponse;
    reckon_across_flats(ReckonAcrossFlatsRequest) -> ReckonAcrossFlatsResponse;
    reckon_threads_of_head(ReckonThreadsOfHeadRequest) -> ReckonThreadsOfHeadResponse;
    reckon_freezing_point(ReckonFreezingPointRequest) -> ReckonFreezingPointResponse;
    reckon_drain_and_refill(ReckonDrainAndRefillRequest) -> ReckonDrainAndRefillResponse;
    reckon_swap(ReckonSwapRequest) -> ReckonSwapResponse;
    reckon_expansion(ReckonExpansionRequest) -> ReckonExpansionResponse;
    reckon_compression(ReckonCompressionRequest) -> ReckonCompressionResponse;
    reckon_leak_down(ReckonLeakDownRequest) -> ReckonLeakDownResponse;
    reckon_skim(ReckonSkimRequest) -> ReckonSkimResponse;
    reckon_compression_change(ReckonCompressionChangeRequest) -> ReckonCompressionChangeResponse;
    reckon_lift(ReckonLiftRequest) -> ReckonLiftResponse;
    reckon_star(ReckonStarRequest) -> ReckonStarResponse;
    reckon_recheck(ReckonRecheckRequest) -> ReckonRecheckResponse;
    reckon_run_out(ReckonRunOutRequest) -> ReckonRunOutResponse;
    reckon_pert(ReckonPertRequest) -> ReckonPertResponse;
    reckon_durations(ReckonDurationsRequest) -> ReckonDurationsResponse;
    reckon_reorder_point(ReckonReorderPointRequest) -> ReckonReorderPointResponse;
    reckon_order_quantity(ReckonOrderQuantityRequest) -> ReckonOrderQuantityResponse;
    reckon_earned_value(ReckonEarnedValueRequest) -> ReckonEarnedValueResponse;
    reckon_blade_fuse(ReckonBladeFuseRequest) -> ReckonBladeFuseResponse;
    reckon_rounded_head(ReckonRoundedHeadRequest) -> ReckonRoundedHeadResponse;
    reckon_battery_leads(ReckonBatteryLeadsRequest) -> ReckonBatteryLeadsResponse;
}

/// It may look at many sums of packs, so it does not hold up the calls beside it.
async fn reckon_packs(_: &Call, asked: v1::ReckonPacksRequest) -> Result<v1::ReckonPacksResponse, AppError> {
    let answer = aside(move || asked.reckon()).await??;
    Ok(v1::ReckonPacksResponse { answer: Some(reckon::answer(&answer)) })
}

/// Of two thousand points the exact zone takes a while.
async fn reckon_flatness(_: &Call, asked: v1::ReckonFlatnessRequest) -> Result<v1::ReckonFlatnessResponse, AppError> {
    let (answer, picture) = aside(move || reckon::flatness(&asked)).await??;
    Ok(v1::ReckonFlatnessResponse { answer: Some(reckon::answer(&answer)), picture: picture.unwrap_or_default() })
}

pub(super) async fn aside<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, AppError> {
    let broken = |error: tokio::task::JoinError| AppError::Internal(format!("a calculation broke off: {error}"));
    tokio::task::spawn_blocking(work).await.map_err(broken)
}

async fn reckon_fill(call: &Call, asked: v1::ReckonFillRequest) -> Result<v1::ReckonFillResponse, AppError> {
    let (answer, fluid) = match reckon::fill_from(&asked)? {
        Some((job, item)) => {
            let books = Box::pin(call.app.fill_books(&call.who, job, item)).await?;
            reckon::fill_of_job(asked, &books)?
        }
        None => (asked.reckon()?, String::new()),
    };
    Ok(v1::ReckonFillResponse { answer: Some(reckon::answer(&answer)), fluid })
}

async fn reckon_tightenings(
    call: &Call,
    asked: v1::ReckonTighteningsRequest,
) -> Result<v1::ReckonTighteningsResponse, AppError> {
    let (job, asked) = reckon::tightenings_asked(&asked)?;
    let book = call.app.strip(&call.who, job, None, None).await?;
    let tightenings = reckon::tightenings(&book, job, &asked)?;
    Ok(v1::ReckonTighteningsResponse { tightenings, deference: DEFERENCE.to_owned(), number: book.view.number })
}

async fn reckon_readings(
    call: &Call,
    asked: v1::ReckonReadingsRequest,
) -> Result<v1::ReckonReadingsResponse, AppError> {
    let (job, asked) = reckon::readings_asked(&asked)?;
    let told = Box::pin(call.app.readings(&call.who, job)).await?;
    let number = told.number;
    let readings = aside(move || reckon::readings(&told.view.readings, &told.words, job, &asked)).await??;
    Ok(v1::ReckonReadingsResponse { readings, number })
}
