//! What a touch at the parts desk does.

use crate::form::{Done, Fault, Fields, Writes, begin, decimal, finish};
use crate::late;
use crate::pages::Screen;
use crate::texts::Texts;
use axum::extract::{Form, State};
use axum::http::HeaderMap;
use axum::response::Response;
use leadhand_sdk::v1::{
    CountStockRequest, GetBoardRequest, IssueStockRequest, ListShortagesRequest, ListStockRequest, OwnBlockerRequest,
    ReceiveStockRequest, ReturnStockRequest,
};
use leadhand_sdk::{Client, quantity};

/// Does it, and shows the desk again.
pub async fn act(
    State(screen): State<Screen>,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let fields = Fields(fields);
    let mut begun = match begin(&screen, &headers, &fields, "/parts") {
        Ok(begun) => begun,
        Err(answer) => return *answer,
    };
    let item = fields.text("item");
    let is_key = item.bytes().all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_'));
    let stays = matches!(fields.text("act"), "receive" | "count") && is_key;
    let again = if stays { format!("/parts?item={item}") } else { "/parts".to_owned() };
    let signed = &begun.signed;
    let done = match fields.text("act") {
        "wrong" => came_wrong(&screen, &signed.client, &signed.name, &fields, &mut begun.writes).await,
        _ => carry_out(&signed.client, &fields, &screen.texts, &mut begun.writes).await,
    };
    finish(&screen, &begun.visitor, &fields, "/parts", &again, done).await
}

async fn carry_out(client: &Client, fields: &Fields, t: &Texts, writes: &mut Writes) -> Result<Done, Fault> {
    let (write, job, item) = (Some(writes.one()), fields.number("job")?, fields.text("item").to_owned());
    let place = fields.text("place").to_owned();
    match fields.text("act") {
        "issue" => {
            // What is set aside for that stage of it, and no more.
            let stage = fields.text("stage").to_owned();
            let asked = IssueStockRequest { write, job, stage, item, quantity: 0 };
            Ok(Done::told(client.issue_stock(asked).await?.receipt).note(t.fill(
                "now-brought",
                "item",
                fields.text("item"),
            )))
        }
        "return" => {
            let (quantity, unit) = amount(client, &item, fields.text("quantity"), t).await?;
            let back = t.fill("now-back", "what", &format!("{} {item} → {place}", quantity::show(quantity, &unit)));
            let asked = ReturnStockRequest { write, job, item, quantity, place };
            Ok(Done::told(client.return_stock(asked).await?.receipt).note(back))
        }
        "receive" => {
            let (quantity, unit) = amount(client, &item, fields.text("quantity"), t).await?;
            let expires_on = fields.text("expires").to_owned();
            let asked = ReceiveStockRequest { write, item: item.clone(), place, quantity, expires_on };
            let done = Done::told(client.receive_stock(asked).await?.receipt);
            let came = t.with("came-in", &[("what", format!("{} {item}", quantity::show(quantity, &unit)).into())]);
            // Less than was wanted is told at once, while whoever brought it is still there.
            let left = client.list_shortages(ListShortagesRequest { job: 0 }).await?.shortages;
            let left: i64 = left.iter().filter(|short| short.item == item).map(|short| short.quantity).sum();
            let done = done.note(came);
            Ok(if left > 0 { done.note(t.fill("still-short", "what", &quantity::show(left, &unit))) } else { done })
        }
        "count" => {
            let (counted, _) = amount(client, &item, fields.text("quantity"), t).await?;
            let reason = fields.text("reason").to_owned();
            let asked = CountStockRequest { write, item, place, counted, reason };
            Ok(Done::told(client.count_stock(asked).await?.receipt).note(t.say("is-counted")))
        }
        // No page of ours has such a form.
        _ => Ok(Done::default()),
    }
}

/// What came was not what was ordered: nothing comes in, and whatever waits for it says who sees to that and until when. The
/// lead and the hands at the bays read it there.
async fn came_wrong(
    screen: &Screen,
    client: &Client,
    who: &str,
    fields: &Fields,
    writes: &mut Writes,
) -> Result<Done, Fault> {
    let (t, item) = (&screen.texts, fields.text("item"));
    let expected_at = late::said(fields.text("at"))?;
    let board = client.get_board(GetBoardRequest {}).await?;
    let jobs = board.bays.into_iter().filter_map(|bay| bay.job).chain(board.outside);
    let held: Vec<(i64, i32)> = jobs
        .flat_map(|job| job.blockers.into_iter().map(move |blocker| (job.job, blocker)))
        .filter(|(_, blocker)| blocker.item == item)
        .map(|(job, blocker)| (job, blocker.blocker))
        .collect();
    let mut done = Done::default().note(t.fill("came-wrong-said", "item", item));
    for (job, blocker) in held {
        let (write, owner) = (Some(writes.one()), who.to_owned());
        match client.own_blocker(OwnBlockerRequest { write, job, blocker, owner, expected_at }).await {
            Ok(answer) => {
                done.hear(answer.receipt);
                done = done.note(t.with("now-owned", &[("job", job.to_string().into()), ("who", who.into())]));
            }
            // It is said already, or what was short is there by now.
            Err(error) if matches!(error.reason.as_str(), "NOTHING_TO_DO" | "BLOCKER_CLEARED") => {}
            Err(error) => return Err(error.into()),
        }
    }
    Ok(done)
}

/// A typed quantity in the item's unit, and that unit. What is not counted in pieces is said with its unit: 6 beside "5.5 L"
/// is no 6 mL.
async fn amount(client: &Client, item: &str, typed: &str, t: &Texts) -> Result<(i64, String), Fault> {
    let typed = decimal(typed, t)?;
    let asked = ListStockRequest { item: item.to_owned(), ..ListStockRequest::default() };
    let unit = client.list_stock(asked).await?.items.into_iter().next().map(|stock| stock.unit).unwrap_or_default();
    if !unit.is_empty() && unit != "1" && typed.ends_with(|last: char| last.is_ascii_digit() || last == '.') {
        return Err(Fault::Words(t.with("say-the-unit", &[("typed", typed.into()), ("unit", unit.into())])));
    }
    let read = quantity::parse(&typed).and_then(|typed| typed.in_unit(&unit)).map_err(Fault::Words)?;
    Ok((read, unit))
}
