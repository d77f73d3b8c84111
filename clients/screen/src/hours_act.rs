//! An entry of one's own time that is wrong: corrected at once where that is one's own to do, else asked of a lead.

use crate::decided;
use crate::form::{Done, Fault, Fields, Writes, begin, finish};
use crate::late;
use crate::pages::Screen;
use crate::texts::Texts;
use axum::extract::{Form, State};
use axum::http::HeaderMap;
use axum::response::Response;
use leadhand_sdk::v1::{AskCorrectionRequest, CorrectClockingRequest, Receipt, WithdrawClockingRequest, WriteContext};
use leadhand_sdk::{Client, SdkError, WireTimestamp};

/// Does it, and shows the page again.
pub async fn act(
    State(screen): State<Screen>,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let fields = Fields(fields);
    let mut begun = match begin(&screen, &headers, &fields, "/time") {
        Ok(begun) => begun,
        Err(answer) => return *answer,
    };
    if fields.text("act") == "seen" {
        let done = decided::see(&screen, &begun.visitor, &fields);
        return finish(&screen, &begun.visitor, &fields, "/time", "", done).await;
    }
    let done = carry_out(&begun.signed.client, &fields, &screen.texts, &mut begun.writes).await;
    finish(&screen, &begun.visitor, &fields, "/time", "", done).await
}

/// What a form says of an entry.
struct Wrong {
    entry: i64,
    from_at: Option<WireTimestamp>,
    until_at: Option<WireTimestamp>,
    withdraw: bool,
    reason: String,
}

async fn carry_out(client: &Client, fields: &Fields, t: &Texts, writes: &mut Writes) -> Result<Done, Fault> {
    let wrong = Wrong {
        entry: fields.number("entry")?,
        from_at: late::said(fields.text("began"))?,
        until_at: late::said(fields.text("ended"))?,
        withdraw: fields.text("act") == "entry-gone",
        reason: fields.said(),
    };
    match correct(client, &wrong, writes.one()).await {
        Ok(receipt) => Ok(Done::told(receipt).note(t.say("entry-corrected"))),
        // It is no longer one's own to correct.
        Err(error) if error.reason == "LEAD_ONLY" => {
            let receipt = ask(client, &wrong, writes.one()).await?;
            Ok(Done::told(receipt).note(t.say("entry-asked")))
        }
        Err(error) => Err(error.into()),
    }
}

async fn correct(client: &Client, wrong: &Wrong, write: WriteContext) -> Result<Option<Receipt>, SdkError> {
    let (entry, reason, write) = (wrong.entry, wrong.reason.clone(), Some(write));
    if wrong.withdraw {
        return Ok(client.withdraw_clocking(WithdrawClockingRequest { write, entry, reason }).await?.receipt);
    }
    let (from_at, until_at) = (wrong.from_at, wrong.until_at);
    let asked = CorrectClockingRequest { write, entry, from_at, until_at, reason, ..CorrectClockingRequest::default() };
    Ok(client.correct_clocking(asked).await?.receipt)
}

async fn ask(client: &Client, wrong: &Wrong, write: WriteContext) -> Result<Option<Receipt>, SdkError> {
    let asked = AskCorrectionRequest {
        write: Some(write),
        entry: wrong.entry,
        from_at: wrong.from_at,
        until_at: wrong.until_at,
        withdraw: wrong.withdraw,
        reason: wrong.reason.clone(),
        ..AskCorrectionRequest::default()
    };
    Ok(client.ask_correction(asked).await?.receipt)
}
