//! What a touch at the lead's desk does.

use crate::form::{Done, Fault, Fields, Writes, begin, finish};
use crate::late;
use crate::pages::Screen;
use crate::texts::Texts;
use crate::view::Look;
use axum::extract::{Form, State};
use axum::http::HeaderMap;
use axum::response::Response;
use leadhand_sdk::Client;
use leadhand_sdk::v1::{
    AssignJobRequest, ClearBlockerRequest, DecideCorrectionRequest, DecideReadingRequest, DecideWayRequest, Decision,
    OwnBlockerRequest, PromiseJobRequest, RecordToldRequest, RollOutJobRequest, WithdrawToldRequest,
};
use tokio::time::Instant;

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
    let done = done.map(|mut done| {
        done.notes.extend(promised(&screen, &fields));
        done
    });
    finish(&screen, &begun.visitor, &fields, "/desk", "", done).await
}

/// What is promised now, on the shop's clock. Nothing is told in another zone.
fn promised(screen: &Screen, fields: &Fields) -> Option<String> {
    let at = late::said(fields.text("at")).ok().flatten().filter(|_| fields.text("act") == "promise")?;
    let frame = screen.hub.frame();
    let look = Look { texts: &screen.texts, zone: frame.zone.as_ref()?, now: frame.now(Instant::now()) };
    let when = look.near(Some(&at));
    Some(screen.texts.with("now-promised", &[("job", fields.text("job").into()), ("when", when.into())]))
}

/// What was done, in a word: the page that follows may show it folded, or on another part of it.
fn word(fields: &Fields, t: &Texts) -> Option<String> {
    let is = |name: &str| !fields.text(name).is_empty();
    let urgency = match fields.text("urgency") {
        "" => String::new(),
        urgency => t.say(&format!("urgency-{urgency}")),
    };
    let key = match fields.text("act") {
        "assign" => "now-in-bay",
        "roll-out" => "now-outside",
        "urgency" => "now-urgency",
        "promise" if !is("at") => "now-no-promise",
        "clear" => "now-goes-on",
        "own" if !is("owner") => "now-nobodys",
        "own" => "now-owned",
        "reading" | "way" => "now-decided",
        "told" => "now-kept",
        "not-told" => "now-not-told",
        "correction" if fields.text("take") == "yes" => "now-corrected",
        "correction" => "now-left",
        _ => return None,
    };
    let said = [
        ("job", fields.text("job").into()),
        ("bay", fields.text("bay").into()),
        ("who", fields.text("owner").into()),
        ("what", urgency.into()),
    ];
    Some(t.with(key, &said))
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
            let said = fields.said();
            let usual = t.say(if take { "corrected-as-asked" } else { "left-as-entered" });
            let words = if said.is_empty() { usual } else { said };
            let asked = DecideCorrectionRequest { write, job, ask, take, reason: words, override_reason: reason };
            client.decide_correction(asked).await?.receipt
        }
        // No page of ours has such a form.
        _ => None,
    };
    let mut done = Done::told(receipt);
    done.notes.extend(word(fields, t));
    Ok(done)
}

/// What was told to whom. What was told as a promise is what the shop goes by.
async fn told(client: &Client, fields: &Fields, job: i64, t: &Texts, writes: &mut Writes) -> Result<Done, Fault> {
    let (words, whom) = (fields.said(), fields.text("whom").to_owned());
    let promised_at = late::said(fields.text("at"))?;
    let write = Some(writes.one());
    let asked = RecordToldRequest { write, job, whom, words, promised_at };
    let mut done = Done::told(client.record_told(asked).await?.receipt);
    done.notes.extend(word(fields, t));
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
