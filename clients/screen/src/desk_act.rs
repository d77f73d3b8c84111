//! What a touch at the lead's desk does.

use crate::form::{Done, Fault, Fields, Writes, begin, finish};
use crate::late;
use crate::pages::Screen;
use crate::texts::Texts;
use axum::extract::{Form, State};
use axum::http::HeaderMap;
use axum::response::Response;
use leadhand_sdk::Client;
use leadhand_sdk::v1::{
    AssignJobRequest, ClearBlockerRequest, DecideCorrectionRequest, DecideReadingRequest, DecideWayRequest, Decision,
    OwnBlockerRequest, PromiseJobRequest, RecordToldRequest, RollOutJobRequest, WithdrawToldRequest,
};

/// Does it, and shows the desk again.
pub async fn act(
    State(screen): State<Screen>,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let fields = Fields(fields);
    let mut begun = match begin(&screen, &headers, &fields, "/desk") {
        Ok(begun) => begun,
        Err(answer) => return *answer,
    };
    let done = carry_out(&begun.signed.client, &fields, &screen.texts, &mut begun.writes).await;
    finish(&screen, &begun.visitor, &fields, "/desk", "", done)
}

/// What the form asks for.
pub async fn carry_out(client: &Client, fields: &Fields, t: &Texts, writes: &mut Writes) -> Result<Done, Fault> {
    let (write, job, reason) = (Some(writes.one()), fields.number("job")?, fields.text("reason").to_owned());
    let receipt = match fields.text("act") {
        "assign" => {
            let bay = fields.text("bay").to_owned();
            client.assign_job(AssignJobRequest { write, job, bay, override_reason: reason }).await?.receipt
        }
        "roll-out" => client.roll_out_job(RollOutJobRequest { write, job, override_reason: reason }).await?.receipt,
        "urgency" => {
            let priority = fields.number("urgency")?;
            client.promise_job(PromiseJobRequest { write, job, priority, ..Default::default() }).await?.receipt
        }
        "promise" => {
            let promised_at = late::said(fields.text("at"))?;
            let withdraw_promise = promised_at.is_none();
            let asked = PromiseJobRequest { write, job, promised_at, withdraw_promise, ..Default::default() };
            client.promise_job(asked).await?.receipt
        }
        "clear" => {
            let (blocker, note) = (fields.number("blocker")?, fields.said());
            client.clear_blocker(ClearBlockerRequest { write, job, blocker, note }).await?.receipt
        }
        "own" => {
            let (blocker, owner) = (fields.number("blocker")?, fields.text("owner").to_owned());
            let expected_at = late::said(fields.text("at"))?;
            client.own_blocker(OwnBlockerRequest { write, job, blocker, owner, expected_at }).await?.receipt
        }
        "reading" => {
            let (reading, decision) = (fields.text("reading").to_owned(), fields.text("decision"));
            let decision = Decision::from_str_name(decision).unwrap_or_default().into();
            client.decide_reading(DecideReadingRequest { write, job, reading, decision, reason }).await?.receipt
        }
        "way" => {
            let (stage, step) = (fields.text("stage").to_owned(), fields.number("step")?);
            let approved = fields.text("approved") == "yes";
            let asked = DecideWayRequest { write, job, stage, step, approved, note: reason };
            client.decide_way(asked).await?.receipt
        }
        "told" => return told(client, fields, job, t, writes).await,
        "not-told" => {
            let (told, reason) = (fields.number("told")?, t.say("said-by-mistake"));
            client.withdraw_told(WithdrawToldRequest { write, job, told, reason }).await?.receipt
        }
        "correction" => {
            let (ask, take) = (fields.number("ask")?, fields.text("take") == "yes");
            let words = t.say(if take { "corrected-as-asked" } else { "left-as-entered" });
            let asked = DecideCorrectionRequest { write, job, ask, take, reason: words, override_reason: reason };
            client.decide_correction(asked).await?.receipt
        }
        // No page of ours has such a form.
        _ => None,
    };
    Ok(Done::told(receipt))
}

/// What was told to whom. What was told as a promise is what the shop goes by.
async fn told(client: &Client, fields: &Fields, job: i64, t: &Texts, writes: &mut Writes) -> Result<Done, Fault> {
    let (words, whom) = (fields.said(), fields.text("whom").to_owned());
    let promised_at = late::said(fields.text("at"))?;
    let write = Some(writes.one());
    let mut done =
        Done::told(client.record_told(RecordToldRequest { write, job, whom, words, promised_at }).await?.receipt);
    if promised_at.is_none() {
        return Ok(done);
    }
    let promise = PromiseJobRequest { write: Some(writes.one()), job, promised_at, ..Default::default() };
    match client.promise_job(promise).await {
        Ok(answer) => done.hear(answer.receipt),
        Err(error) if error.reason == "NOTHING_TO_DO" => {}
        Err(error) => done.notes.extend(Fault::from(error).words(t)),
    }
    Ok(done)
}
