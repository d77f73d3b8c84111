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
    let stays = matches!(fields.text("act"), "receive" | "count" | "wrong") && is_key;
    let again = if stays { format!("/parts?item={item}") } else { "/parts".to_owned() };
    let signed = &begun.signed;
    let done = match fields.text("act") {
        "wrong" => came_wrong(&signed.client, &signed.name, &fields, &screen.texts, &mut begun.writes).await,
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

/// What came was not what was ordered: nothing comes in, and whatever it holds up says who sees to that and until when. The
/// lead and the hands at the bays read it there. Whoever sees to it already goes on doing so.
async fn came_wrong(
    client: &Client,
    who: &str,
    fields: &Fields,
    t: &Texts,
    writes: &mut Writes,
) -> Result<Done, Fault> {
    let said_at = late::said(fields.text("at"))?;
    let board = client.get_board(GetBoardRequest {}).await?;
    let jobs = || board.bays.iter().filter_map(|bay| bay.job.as_ref()).chain(&board.outside);
    let mut done = Done::default().note(t.fill("came-wrong-said", "item", fields.text("name")));
    let mut kept = 0;
    // As the page showed them, so that a second touch says the same of the same.
    for (job, number) in fields.text("holds").split(',').filter_map(|one| one.split_once(':')) {
        let write = Some(writes.one());
        let (Ok(job), Ok(number)) = (job.parse::<i64>(), number.parse::<i32>()) else { continue };
        let open = jobs().filter(|one| one.job == job).flat_map(|one| &one.blockers).find(|one| one.blocker == number);
        let Some(open) = open.filter(|open| open.owner.is_empty() || open.owner == who) else { continue };
        // A time that is known from elsewhere stands, as long as nobody says another one.
        let expected_at = said_at.or(open.expected_at);
        let asked = OwnBlockerRequest { write, job, blocker: number, owner: who.to_owned(), expected_at };
        let told = t.with("now-owned", &[("job", job.to_string().into()), ("who", who.into())]);
        match client.own_blocker(asked).await {
            Ok(answer) => {
                done.hear(answer.receipt);
                done.notes.push(told);
                kept += 1;
            }
            Err(error) if error.reason == "NOTHING_TO_DO" => {
                done.notes.push(told);
                kept += 1;
            }
            // What was short is there by now.
            Err(error) if error.reason == "BLOCKER_CLEARED" => {}
            Err(error) => done.notes.extend(Fault::from(error).words(t)),
        }
    }
    Ok(if kept == 0 { done.note(t.say("came-wrong-nobodys")) } else { done })
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
