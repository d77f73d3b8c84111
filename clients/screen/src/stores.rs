//! The parts desk: what to bring to which bay, what is short and whom it hurts, and an item by its code.

use crate::bring::{self, ToBring};
use crate::pages::{Screen, not_for};
use crate::part::Choice;
use crate::sheet::{Sheet, caller, came_from, failed, sheet, show};
use crate::texts::Texts;
use crate::view::{JobView, Look, key};
use askama::Template;
use axum::extract::{Query, State};
use axum::http::HeaderMap;
use axum::response::Response;
use leadhand_sdk::v1::{
    BoardJob, GetReadyListRequest, ItemStock, ListShortagesRequest, ListStockRequest, ReadyItem, Role, Shortage,
    SupplierOrder,
};
use leadhand_sdk::{Board, Client, Code, SdkError, WireTimestamp, quantity};
use std::collections::BTreeMap;

#[derive(Template)]
#[template(path = "stores.html")]
struct Page {
    sheet: Sheet,
    number: i64,
    bring: Vec<ToBring>,
    short: Vec<Short>,
    there: Vec<There>,
    item: Option<ItemCard>,
    /// The code or the words that were asked for.
    asked: String,
    /// Items of which the words are part of the name or the code, where they are no code.
    found: Vec<Choice>,
    /// Whether more are called so than are shown.
    more: bool,
}

/// An item that is short, and whom that hurts.
struct Short {
    item: String,
    name: String,
    total: String,
    /// From whom to order it, and until when; empty where the item names no supplier.
    order: String,
    hurts: Vec<Hurt>,
}

/// A job that waits for it.
struct Hurt {
    place: String,
    amount: String,
    since: Option<i64>,
    /// Whether it holds the stage up now.
    now: bool,
    held_by: String,
}

/// What a job has got and has not used.
struct There {
    job: i64,
    bay: String,
    item: String,
    name: String,
    what: String,
    /// With its unit.
    quantity: String,
    bins: Vec<String>,
}

/// An item that was scanned or typed.
struct ItemCard {
    item: String,
    name: String,
    unit: String,
    free: String,
    reserved: String,
    at_jobs: String,
    expired: String,
    /// How much is short, in words and in the item's unit.
    short: String,
    wanted: i64,
    bins: Vec<Bin>,
    hurts: Vec<Hurt>,
    /// Why a count may differ, each a button of its own.
    reasons: Vec<String>,
    /// When it would be here, if it is ordered again now; without a value where nobody can say.
    again: Choice,
}

struct Bin {
    place: String,
    on_hand: String,
    reserved: String,
}

/// What the page is asked for with.
#[derive(serde::Deserialize, Default)]
pub struct Asked {
    /// An item's code.
    #[serde(default)]
    item: String,
}

/// The page.
pub async fn page(State(screen): State<Screen>, Query(asked): Query<Asked>, headers: HeaderMap) -> Response {
    let caller = match caller(&screen, &headers, "/parts").await {
        Ok(caller) => caller,
        Err(answer) => return *answer,
    };
    if !matches!(caller.signed.role, Role::Lead | Role::Parts) {
        return not_for(&screen, "for-the-parts-room", "/parts");
    }
    let code = code_of(&asked.item);
    match load(&screen, caller.client(), &code).await {
        Ok(loaded) => {
            let home = came_from(&screen, &caller, &headers, "/parts");
            let head = sheet(&screen, &caller, screen.texts.say("parts-desk"), "/parts".into(), home);
            let look = Look { texts: &screen.texts, zone: &caller.zone, now: caller.now };
            show(&screen, &caller, &compose(head, loaded, code, look))
        }
        Err(error) => failed(&screen, caller.visitor, &error, "/parts"),
    }
}

/// A code as it is kept: scanners put blanks around it, and hands capitals into it.
fn code_of(typed: &str) -> String {
    typed.trim().to_lowercase()
}

struct Loaded {
    board: std::sync::Arc<Board>,
    bring: Vec<ToBring>,
    shortages: Vec<Shortage>,
    there: Vec<There>,
    item: Option<ItemStock>,
    found: Vec<ItemStock>,
}

/// Items that are asked for at a time.
const ITEMS: i32 = 1000;
/// So many that are called so have a tile; more words tell them apart.
const FOUND_MAX: usize = 24;

async fn load(screen: &Screen, client: &Client, code: &str) -> Result<Loaded, SdkError> {
    let board = screen.hub.frame().board.clone();
    let bring = bring::ask(client, &board).await?;
    let shortages = client.list_shortages(ListShortagesRequest { job: 0 }).await?.shortages;
    let mut there = Vec::new();
    for bay in &board.bays {
        let Some(job) = &bay.job else { continue };
        let asked = GetReadyListRequest { job: job.job, ..GetReadyListRequest::default() };
        match client.get_ready_list(asked).await {
            Ok(list) => there.extend(list.items.iter().filter_map(|item| got(item, job.job, key(bay)))),
            Err(error) if bring::is_old(error.code) => {}
            Err(error) => return Err(error),
        }
    }
    let mut bins: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for line in &mut there {
        if !bins.contains_key(&line.item) {
            let stock = stock(client, &line.item).await?;
            let places = stock.map(|stock| stock.places.into_iter().map(|place| place.place).collect());
            bins.insert(line.item.clone(), places.unwrap_or_default());
        }
        line.bins = bins.get(&line.item).cloned().unwrap_or_default();
    }
    let item = if code.is_empty() { None } else { stock(client, code).await? };
    let found = if code.is_empty() || item.is_some() { Vec::new() } else { called(client, code).await? };
    Ok(Loaded { board, bring, shortages, there, item, found })
}

/// Items in whose name or code every one of these words stands.
async fn called(client: &Client, words: &str) -> Result<Vec<ItemStock>, SdkError> {
    let (mut found, mut page_token) = (Vec::new(), String::new());
    loop {
        let asked = ListStockRequest { page_size: ITEMS, page_token, ..ListStockRequest::default() };
        let answer = client.list_stock(asked).await?;
        found.extend(answer.items.into_iter().filter(|item| is_called(item, words)));
        page_token = answer.next_page_token;
        if page_token.is_empty() || found.len() > FOUND_MAX {
            return Ok(found);
        }
    }
}

fn is_called(item: &ItemStock, words: &str) -> bool {
    let known = format!("{} {}", item.item, item.name).to_lowercase();
    words.split_whitespace().all(|word| known.contains(word))
}

async fn stock(client: &Client, item: &str) -> Result<Option<ItemStock>, SdkError> {
    let asked = ListStockRequest { item: item.to_owned(), ..ListStockRequest::default() };
    match client.list_stock(asked).await {
        Ok(answer) => Ok(answer.items.into_iter().next()),
        // What can't be a code is the code of nothing.
        Err(error) if bring::is_old(error.code) || error.code == Code::InvalidArgument => Ok(None),
        Err(error) => Err(error),
    }
}

fn name_of<'a>(name: &'a str, key: &'a str) -> &'a str {
    if name.is_empty() { key } else { name }
}

fn got(item: &ReadyItem, job: i64, bay: &str) -> Option<There> {
    (item.issued > 0).then(|| There {
        job,
        bay: bay.to_owned(),
        item: item.item.clone(),
        name: name_of(&item.name, &item.item).to_owned(),
        what: format!("{} {}", quantity::show(item.issued, &item.unit), name_of(&item.name, &item.item)),
        quantity: quantity::show(item.issued, &item.unit),
        bins: Vec::new(),
    })
}

fn compose(sheet: Sheet, loaded: Loaded, asked: String, look: Look<'_>) -> Page {
    let item = loaded.item.as_ref().map(|stock| card(stock, &loaded, look));
    Page {
        sheet,
        number: loaded.board.number,
        short: short(&loaded.shortages, &loaded.board, look),
        bring: loaded.bring,
        there: loaded.there,
        item,
        asked,
        found: loaded.found.iter().take(FOUND_MAX).map(tile).collect(),
        more: loaded.found.len() > FOUND_MAX,
    }
}

fn tile(item: &ItemStock) -> Choice {
    let words = format!("{} · {}", name_of(&item.name, &item.item), item.item);
    Choice { value: item.item.clone(), words, chosen: false }
}

fn card(stock: &ItemStock, loaded: &Loaded, look: Look<'_>) -> ItemCard {
    let own = || loaded.shortages.iter().filter(|short| short.item == stock.item);
    let wanted: i64 = own().map(|short| short.quantity).sum();
    let show = |amount: i64| if amount == 0 { String::new() } else { quantity::show(amount, &stock.unit) };
    let bins = stock.places.iter().map(|place| Bin {
        place: place.place.clone(),
        on_hand: quantity::show(place.on_hand, &stock.unit),
        reserved: show(place.reserved),
    });
    ItemCard {
        item: stock.item.clone(),
        name: name_of(&stock.name, &stock.item).to_owned(),
        unit: if stock.unit == "1" { String::new() } else { stock.unit.clone() },
        free: quantity::show(stock.free, &stock.unit),
        reserved: show(stock.reserved),
        at_jobs: show(stock.at_jobs),
        expired: show(stock.expired),
        short: show(wanted),
        wanted,
        bins: bins.collect(),
        reasons: ["count-round", "count-before-wrong", "count-not-booked"].map(|key| look.texts.say(key)).into(),
        hurts: own().map(|short| hurt(short, &loaded.board, look)).collect(),
        again: again(own().find_map(|short| short.order.as_ref()), look),
    }
}

/// What comes when it is ordered again now.
fn again(order: Option<&SupplierOrder>, look: Look<'_>) -> Choice {
    let here = order.and_then(|order| order.here_at.as_ref());
    let at = here.and_then(leadhand_sdk::moment::from_wire).map(|at| at.to_string()).unwrap_or_default();
    let name = order.map_or("", |order| order.name.as_str());
    let words = [("name", name.into()), ("when", look.near(here).into())];
    Choice { value: at, words: look.texts.with("came-wrong-ordered", &words), chosen: false }
}

/// What is short, item by item: first what holds somebody up now, then as a delivery would cover it.
fn short(all: &[Shortage], board: &Board, look: Look<'_>) -> Vec<Short> {
    let mut found: Vec<Short> = Vec::new();
    let mut totals: Vec<(i64, bool)> = Vec::new();
    for shortage in all {
        let at = found.iter().position(|one| one.item == shortage.item).unwrap_or_else(|| {
            let name = name_of(&shortage.name, &shortage.item).to_owned();
            let order = shortage.order.as_ref().map(|order| ordered(order, look)).unwrap_or_default();
            let item = shortage.item.clone();
            found.push(Short { item, name, total: String::new(), order, hurts: Vec::new() });
            totals.push((0, false));
            found.len() - 1
        });
        totals[at] = (totals[at].0 + shortage.quantity, totals[at].1 || shortage.holds_up);
        found[at].total = quantity::show(totals[at].0, &shortage.unit);
        found[at].hurts.push(hurt(shortage, board, look));
    }
    let mut both: Vec<(bool, Short)> = totals.into_iter().map(|(_, now)| !now).zip(found).collect();
    both.sort_by_key(|(later, _)| *later);
    both.into_iter().map(|(_, short)| short).collect()
}

/// From whom to order, until when, and when it would be here.
fn ordered(order: &SupplierOrder, look: Look<'_>) -> String {
    let t = look.texts;
    let near = |at: Option<&WireTimestamp>| look.near(at);
    let (by, here) = (near(order.order_by.as_ref()), near(order.here_at.as_ref()));
    if by.is_empty() {
        return t.fill("order-from", "name", &order.name);
    }
    let left = leadhand_sdk::moment::show_length(order.minutes_left.saturating_mul(60));
    let said = [("name", order.name.as_str().into()), ("by", by.into()), ("here", here.into()), ("left", left.into())];
    let key = match (order.today, order.passed_today) {
        (true, _) => "order-today",
        (false, true) => "order-passed",
        (false, false) => "order-later",
    };
    t.with(key, &said)
}

fn find(board: &Board, job: i64) -> (String, Option<&BoardJob>) {
    let inside = board.bays.iter().find(|bay| bay.job.as_ref().is_some_and(|one| one.job == job));
    let bay = inside.map(|bay| key(bay).to_owned()).unwrap_or_default();
    let outside = board.outside.iter().find(|one| one.job == job);
    (bay, inside.and_then(|bay| bay.job.as_ref()).or(outside))
}

fn hurt(short: &Shortage, board: &Board, look: Look<'_>) -> Hurt {
    let t = look.texts;
    let (bay, job) = find(board, short.job);
    let vehicle =
        job.map_or_else(|| t.fill("job", "job", &short.job.to_string()), |job| JobView::of(job, look).vehicle);
    let bay = if bay.is_empty() { t.say("outside") } else { bay };
    let stage = t.with("for-step", &[("stage", short.stage.as_str().into()), ("step", short.step.into())]);
    let held = short.held_by.iter().map(|holder| t.fill("job", "job", &holder.job.to_string()));
    Hurt {
        place: format!("{bay} · {vehicle} · {stage}"),
        amount: quantity::show(short.quantity, &short.unit),
        since: short.since.as_ref().and_then(leadhand_sdk::moment::from_wire).map(jiff::Timestamp::as_millisecond),
        now: short.holds_up,
        held_by: held_by(&held.collect::<Vec<_>>(), t),
    }
}

fn held_by(holders: &[String], t: &Texts) -> String {
    if holders.is_empty() { String::new() } else { t.fill("is-with", "who", &holders.join(", ")) }
}

#[cfg(test)]
#[path = "stores_tests.rs"]
mod tests;
