//! What a touch at the parts desk does.

use crate::form::{Done, Fault, Fields, Writes, begin, decimal, finish};
use crate::late;
use crate::pages::Screen;
use crate::texts::Texts;
use axum::extract::{Form, State};
use axum::http::HeaderMap;
use axum::response::Response;
use leadhand_sdk::v1::{
    Blocker, CountStockRequest, GetBoardRequest, IssueStockRequest, ListShortagesRequest, ListStockRequest,
    OwnBlockerRequest, ReceiveStockRequest, ReturnStockRequest,
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
        "wrong" => came_wrong(&signed.client, &signed.name, &fields, &screen.texts, &begun.writes).await,
        _ => carry_out(&signed.client, &fields, &screen.texts, &mut begun.writes).await,
    };
    finish(&screen, &begun.visitor, &fields, "/parts", &again, done).await
}

async fn carry_out(client: &Client, fields: &Fields, t: &Texts, writes: &mut Writes) -> Result<Done, Fault> {
    let (write, job, item) = (Some(writes.one()), fields.number("job")?, fields.text("item").to_owned());
    let (place, name) = (fields.text("place").to_owned(), fields.text("name"));
    match fields.text("act") {
        "issue" => {
            // What is set aside for that stage of it, and no more.
            let stage = fields.text("stage").to_owned();
            let asked = IssueStockRequest { write, job, stage, item, quantity: 0 };
            let brought = t.fill("now-brought", "item", name);
            Ok(Done::told(client.issue_stock(asked).await?.receipt).first(brought))
        }
        "return" => {
            let (quantity, unit) = amount(client, &item, fields.text("quantity"), t).await?;
            let back = t.fill("now-back", "what", &format!("{} {name} → {place}", quantity::show(quantity, &unit)));
            let asked = ReturnStockRequest { write, job, item, quantity, place };
            Ok(Done::told(client.return_stock(asked).await?.receipt).first(back))
        }
        "receive" => {
            let (quantity, unit) = amount(client, &item, fields.text("quantity"), t).await?;
            let expires_on = fields.text("expires").to_owned();
            let asked = ReceiveStockRequest { write, item: item.clone(), place, quantity, expires_on };
            let done = Done::told(client.receive_stock(asked).await?.receipt);
            let came = t.fill("came-in", "what", &format!("{} {name}", quantity::show(quantity, &unit)));
            // Less than was wanted is told at once, while whoever brought it is still there.
            let left = client.list_shortages(ListShortagesRequest { job: 0 }).await?.shortages;
            let left: i64 = left.iter().filter(|short| short.item == item).map(|short| short.quantity).sum();
            let done = done.first(came);
            Ok(if left > 0 { done.note(t.fill("still-short", "what", &quantity::show(left, &unit))) } else { done })
        }
        "count" => {
            let (counted, _) = amount(client, &item, fields.text("quantity"), t).await?;
            let reason = fields.text("reason").to_owned();
            let asked = CountStockRequest { write, item, place, counted, reason };
            Ok(Done::told(client.count_stock(asked).await?.receipt).first(t.say("is-counted")))
        }
        // No page of ours has such a form.
        _ => Ok(Done::default()),
    }
}

/// What came was not what was ordered: nothing comes in, and whatever it holds up says who sees to that and until when. The
/// lead and the hands at the bays read it there. Whoever sees to it already goes on doing so.
async fn came_wrong(client: &Client, who: &str, fields: &Fields, t: &Texts, writes: &Writes) -> Result<Done, Fault> {
    let (item, said_at) = (fields.text("item"), late::said(fields.text("at"))?);
    let board = client.get_board(GetBoardRequest {}).await?;
    let jobs = board.bays.iter().filter_map(|bay| bay.job.as_ref()).chain(&board.outside);
    let held = jobs.flat_map(|job| job.blockers.iter().map(move |blocker| (job.job, blocker)));
    let own = held.filter(|(_, one)| one.item == item && (one.owner.is_empty() || one.owner == who));
    let own: Vec<(i64, Blocker)> = own.map(|(job, one)| (job, one.clone())).collect();
    let mut done = Done::default().note(t.fill("came-wrong-said", "item", fields.text("name")));
    let mut kept = 0;
    for (job, open) in own {
        let (write, blocker) = (Some(writes.about(&format!("{job}:{}", open.blocker))), open.blocker);
        // A time that is known from elsewhere stands, as long as nobody says another one.
        let expected_at = said_at.or(open.expected_at);
        let asked = OwnBlockerRequest { write, job, blocker, owner: who.to_owned(), expected_at };
        match client.own_blocker(asked).await {
            Ok(answer) => done.hear(answer.receipt),
            Err(error) if error.reason == "NOTHING_TO_DO" => {}
            // What was short is there by now.
            Err(error) if error.reason == "BLOCKER_CLEARED" => continue,
            Err(error) => {
                done.notes.extend(Fault::from(error).words(t));
                continue;
            }
        }
        done.notes.push(t.with("now-owned", &[("job", job.to_string().into()), ("who", who.into())]));
        kept += 1;
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
