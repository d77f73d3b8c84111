//! What a touch on a bay's page does. Each form carries a request id of its own, so that a double touch counts once.

use crate::pages::{Screen, said};
use crate::sessions::Signed;
use crate::sign_in::back;
use axum::extract::{Form, Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use leadhand_sdk::v1::{
    Cause, ClearBlockerRequest, ClockOffRequest, ClockOnRequest, FinishStageRequest, RaiseBlockerRequest, Receipt,
    ReopenStepRequest, StartStageRequest, TickStepsRequest, WriteContext,
};
use leadhand_sdk::{SdkError, moment, write_with_id};

/// What a form holds.
#[derive(serde::Deserialize, Default)]
pub struct Touch {
    #[serde(default)]
    proof: String,
    /// The request id.
    #[serde(default)]
    request: String,
    /// What to do.
    #[serde(default)]
    act: String,
    #[serde(default)]
    job: i64,
    #[serde(default)]
    stage: String,
    #[serde(default)]
    step: i32,
    #[serde(default)]
    blocker: i32,
    /// A cause by its name in the contract.
    #[serde(default)]
    cause: String,
}

/// Does it, and shows the page again.
pub async fn act(
    State(screen): State<Screen>,
    Path(bay): Path<String>,
    headers: HeaderMap,
    Form(touch): Form<Touch>,
) -> Response {
    let visitor = screen.sessions.visitor(&headers, moment::now());
    if !screen.sessions.proves(&visitor, &touch.proof) {
        return said(&screen, StatusCode::FORBIDDEN, screen.texts.say("refused-old-form"));
    }
    let page = back(&format!("/bay/{bay}")).to_owned();
    let Some(signed) = &visitor.signed else {
        return Redirect::to(&format!("/sign-in?to={page}")).into_response();
    };
    let Ok(id) = touch.request.parse() else {
        return said(&screen, StatusCode::BAD_REQUEST, screen.texts.say("refused-old-form"));
    };
    let done = carry_out(signed, &touch, write_with_id(id), &screen.texts.say("ticked-by-mistake")).await;
    match done {
        Ok(receipt) => {
            let notices = receipt.unwrap_or_default().notices;
            screen.sessions.note(&visitor, notices.into_iter().map(|notice| notice.text));
            let undo =
                if touch.act == "tick" { format!("?undo={}.{}", touch.step, touch.stage) } else { String::new() };
            Redirect::to(&format!("{page}{undo}")).into_response()
        }
        Err(error) => {
            screen.sessions.note(&visitor, words(&error));
            Redirect::to(&page).into_response()
        }
    }
}

/// A refusal in words: one sentence, and what stands against it one by one.
fn words(error: &SdkError) -> Vec<String> {
    let each = error.fields.iter().map(|fault| fault.message.clone()).filter(|each| !error.message.contains(each));
    std::iter::once(error.message.clone()).chain(each).collect()
}

async fn carry_out(
    signed: &Signed,
    touch: &Touch,
    write: WriteContext,
    mistake: &str,
) -> Result<Option<Receipt>, SdkError> {
    let (client, write) = (&signed.client, Some(write));
    let (job, stage, step) = (touch.job, touch.stage.clone(), touch.step);
    let receipt = match touch.act.as_str() {
        "tick" => {
            let steps = vec![step];
            client.tick_steps(TickStepsRequest { write, job, stage, steps, ..Default::default() }).await?.receipt
        }
        "tick-all" => client.tick_steps(TickStepsRequest { write, job, stage, ..Default::default() }).await?.receipt,
        "reopen" => {
            let reason = mistake.to_owned();
            client.reopen_step(ReopenStepRequest { write, job, stage, step, reason }).await?.receipt
        }
        "start" => client.start_stage(StartStageRequest { write, job, stage, ..Default::default() }).await?.receipt,
        "finish" => client.finish_stage(FinishStageRequest { write, job, stage, as_listed: false }).await?.receipt,
        "on" => client.clock_on(ClockOnRequest { write, job, stage, ..Default::default() }).await?.receipt,
        "off" => client.clock_off(ClockOffRequest { write }).await?.receipt,
        "held-up" => {
            let cause = Cause::from_str_name(&touch.cause).unwrap_or_default().into();
            client.raise_blocker(RaiseBlockerRequest { write, job, stage, cause, ..Default::default() }).await?.receipt
        }
        "clear" => {
            let (blocker, note) = (touch.blocker, String::new());
            client.clear_blocker(ClearBlockerRequest { write, job, blocker, note }).await?.receipt
        }
        // No page of ours has such a form.
        _ => None,
    };
    Ok(receipt)
}
