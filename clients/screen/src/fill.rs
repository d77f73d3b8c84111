//! What is poured in after a drain: worked out from the job's books for an item of the stock, and set aside for it.

use crate::form::{Done, Fault, Fields, Writes, begin, finish, plain, words};
use crate::pages::{Screen, said};
use crate::part::Choice;
use crate::sheet::{Caller, Sheet, caller, failed, sheet, show};
use crate::stage::{self, Warning};
use crate::texts::Texts;
use askama::Template;
use axum::extract::{Form, Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::Response;
use leadhand_sdk::v1::{
    Answer, FillShare, FluidKind, FluidLine, GetJobRequest, ItemStock, ListStockRequest, ReckonFillRequest,
    ReserveFillRequest, ReserveFillResponse,
};
use leadhand_sdk::{Client, SdkError, quantity};

/// The most items that one page offers.
const ITEMS: i32 = 1000;

#[derive(Template)]
#[template(path = "fill.html")]
struct Page {
    sheet: Sheet,
    job: i64,
    /// What came out, and what is still in.
    told: String,
    /// Items that say which fluid they are.
    items: Vec<Choice>,
    /// Items that are counted by volume and say nothing.
    others: Vec<Choice>,
    /// Whether one of those was chosen.
    other_chosen: bool,
    asked: Asked,
    answer: Option<Worked>,
    /// Why nothing could be worked out.
    refused: Vec<String>,
}

/// What the page is asked for with.
#[derive(Debug, Default, Clone, serde::Deserialize)]
pub struct Asked {
    /// The item of the stock that is poured in; nothing is worked out without.
    #[serde(default)]
    item: String,
    /// A strength or a freezing point.
    #[serde(default)]
    target: String,
    /// How strong it is what is poured in.
    #[serde(default)]
    poured: String,
    /// How strong it is what is still in.
    #[serde(default)]
    left: String,
    /// What the system holds, where the job's books don't say.
    #[serde(default)]
    capacity: String,
    /// How much is still in, where the job's books don't say.
    #[serde(default)]
    still_in: String,
}

/// An answer on the page.
struct Worked {
    /// What to pour in, first.
    figures: Vec<(String, String)>,
    conclusions: Vec<String>,
    cautions: Vec<Warning>,
    /// Formula and sources.
    from: Vec<String>,
    /// What comes before it.
    deference: String,
}

fn address(bay: &str, job: i64, fluid: &str) -> String {
    format!("/bay/{bay}/job/{job}/fill/{fluid}")
}

/// The page: what came out, what is to be said, and what follows from it.
pub async fn page(
    State(screen): State<Screen>,
    Path((bay, job, fluid)): Path<(String, i64, String)>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Response {
    let own = address(&bay, job, &fluid);
    let caller = match caller(&screen, &headers, &own).await {
        Ok(caller) => caller,
        Err(answer) => return *answer,
    };
    match load(caller.client(), job, &fluid).await {
        Ok(Some((line, items))) => draw(&screen, &caller, (&bay, job), &line, &items, asked).await,
        Ok(None) => said(&screen, StatusCode::NOT_FOUND, screen.texts.say("nothing-here")),
        Err(error) => failed(&screen, caller.visitor, &error, &own),
    }
}

/// The fluid of the job, and the items that are counted by volume.
async fn load(client: &Client, job: i64, fluid: &str) -> Result<Option<(FluidLine, Vec<ItemStock>)>, SdkError> {
    let whole = client.get_job(GetJobRequest { job }).await?;
    let Some(line) = whole.fluids.into_iter().find(|line| line.fluid == fluid) else { return Ok(None) };
    let asked = ListStockRequest { page_size: ITEMS, ..ListStockRequest::default() };
    let items = client.list_stock(asked).await?.items;
    Ok(Some((line, items.into_iter().filter(|item| item.unit == "mL").collect())))
}

async fn draw(
    screen: &Screen,
    caller: &Caller,
    (bay, job): (&str, i64),
    line: &FluidLine,
    items: &[ItemStock],
    asked: Asked,
) -> Response {
    let t = &screen.texts;
    let (answer, refused) = if asked.item.is_empty() {
        (None, Vec::new())
    } else {
        match caller.client().reckon_fill(reckon(&asked, job, &line.fluid)).await {
            Ok(answer) => (answer.answer.map(|answer| worked(&answer, t)), Vec::new()),
            Err(error) => (None, words(&error, t)),
        }
    };
    let own = address(bay, job, &line.fluid);
    let what = if line.what.is_empty() { &line.fluid } else { &line.what };
    let (items, others) = offered(items, &line.fluid, &asked.item, t);
    let page = Page {
        sheet: sheet(screen, caller, t.fill("fill-title", "what", what), own, format!("/bay/{bay}")),
        job,
        told: stage::fill_told(line, t).unwrap_or_default(),
        other_chosen: others.iter().any(|other| other.chosen),
        items,
        others,
        asked,
        answer,
        refused,
    };
    show(screen, caller, &page)
}

/// Items that say which fluid they are, and those that say nothing. What coolant is mixed with, and what is poured in for a
/// while, fills nothing.
///
/// Those whose fluid is called as the job calls its own stand before all others: the server decides which of them it takes.
fn offered(items: &[ItemStock], own: &str, chosen: &str, t: &Texts) -> (Vec<Choice>, Vec<Choice>) {
    let never = [FluidKind::Water, FluidKind::Additive];
    let may = items.iter().filter(|item| item.fluid.as_ref().is_none_or(|fluid| !never.contains(&fluid.kind())));
    let (mut said, unsaid): (Vec<&ItemStock>, Vec<&ItemStock>) = may.partition(|item| item.fluid.is_some());
    said.sort_by_key(|item| item.fluid.as_ref().map(|fluid| fluid.kind));
    let is_own = |item: &&ItemStock| {
        let kind = item.fluid.as_ref().map(leadhand_sdk::v1::ItemFluid::kind).unwrap_or_default().as_str_name();
        own.contains(&kind.trim_start_matches("FLUID_KIND_").to_lowercase().replace('_', "-"))
    };
    let (same, other): (Vec<&ItemStock>, Vec<&ItemStock>) = said.iter().copied().partition(is_own);
    let choices = |all: Vec<&ItemStock>| all.into_iter().map(|item| choice(item, chosen, t)).collect::<Vec<_>>();
    // Where nothing says what it is, there is nothing to put behind.
    match (same.is_empty(), said.is_empty()) {
        (false, _) => (choices(same), choices(other.into_iter().chain(unsaid).collect())),
        (true, false) => (choices(said), choices(unsaid)),
        (true, true) => (choices(unsaid), Vec::new()),
    }
}

fn choice(item: &ItemStock, chosen: &str, t: &Texts) -> Choice {
    let name = if item.name.is_empty() { &item.item } else { &item.name };
    let strength = item.fluid.as_ref().map_or("", |fluid| fluid.strength.as_str());
    let name = format!("{name} {strength}");
    let free = quantity::show(item.free, &item.unit);
    let words = t.with("fill-item", &[("item", name.trim_end().into()), ("free", free.into())]);
    Choice { value: item.item.clone(), words, chosen: item.item == chosen }
}

fn reckon(asked: &Asked, job: i64, fluid: &str) -> ReckonFillRequest {
    let Asked { item, target, poured, left, capacity, still_in } = asked.clone();
    ReckonFillRequest {
        capacity,
        left: still_in,
        job,
        fluid: fluid.to_owned(),
        item,
        target,
        poured_strength: poured,
        left_strength: left,
        margin: String::new(),
    }
}

fn worked(answer: &Answer, t: &Texts) -> Worked {
    let figures = answer.figures.iter().map(|figure| (figure.label.clone(), figure.text.clone()));
    let sources = answer.sources.iter().map(|source| source.name.clone());
    let from = std::iter::once(answer.formula.clone()).chain(sources);
    Worked {
        figures: figures.collect(),
        conclusions: answer.conclusions.iter().map(|one| plain(&one.text)).collect(),
        cautions: stage::warnings(answer.cautions.iter(), t),
        from: from.filter(|one| !one.is_empty()).collect(),
        deference: answer.deference.clone(),
    }
}

/// Sets it aside.
pub async fn reserve(
    State(screen): State<Screen>,
    Path((bay, job, fluid)): Path<(String, i64, String)>,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let (fields, page) = (Fields(fields), address(&bay, job, &fluid));
    let mut begun = match begin(&screen, &headers, &fields, &page) {
        Ok(begun) => begun,
        Err(answer) => return *answer,
    };
    let done = set_aside(&begun.signed.client, &mut begun.writes, job, &fluid, &fields, &screen.texts).await;
    finish(&screen, &begun.visitor, &fields, &format!("/bay/{bay}"), &page, done).await
}

async fn set_aside(
    client: &Client,
    writes: &mut Writes,
    job: i64,
    fluid: &str,
    fields: &Fields,
    t: &Texts,
) -> Result<Done, Fault> {
    let text = |name: &str| fields.text(name).to_owned();
    let request = ReserveFillRequest {
        write: Some(writes.one()),
        job,
        fluid: fluid.to_owned(),
        item: text("item"),
        capacity: text("capacity"),
        left: text("still_in"),
        target: text("target"),
        poured_strength: text("poured"),
        left_strength: text("left"),
        ..ReserveFillRequest::default()
    };
    let answer = client.reserve_fill(request).await?;
    let notes = told(&answer, t);
    let mut done = Done::told(answer.receipt);
    done.notes.extend(notes);
    Ok(done)
}

/// Who takes how much of what from where, and what is short.
fn told(answer: &ReserveFillResponse, t: &Texts) -> Vec<String> {
    if answer.shares.is_empty() {
        return vec![t.say("fill-nothing")];
    }
    answer.shares.iter().map(|share| of_share(share, t)).collect()
}

fn of_share(share: &FillShare, t: &Texts) -> String {
    let shown = |amount: i64| quantity::show(amount, &share.unit);
    let bins: Vec<String> = share.bins.iter().map(|bin| format!("{} {}", bin.bin, shown(bin.quantity))).collect();
    let values = [
        ("item", share.item.as_str().into()),
        ("amount", shown(share.quantity).into()),
        ("stage", share.stage.as_str().into()),
        ("step", share.step.into()),
        ("short", shown(share.short).into()),
        ("bins", bins.join(", ").into()),
    ];
    match (share.short > 0, bins.is_empty()) {
        (true, _) => t.with("fill-short", &values),
        (false, true) => t.with("fill-kept", &values),
        (false, false) => t.with("fill-kept-from", &values),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{BinQuantity, ItemFluid};

    fn share(reserved: i64, short: i64, bins: &[(&str, i64)]) -> FillShare {
        let bins = bins.iter().map(|(bin, quantity)| BinQuantity { bin: (*bin).into(), quantity: *quantity });
        FillShare {
            stage: "fill".into(),
            step: 2,
            item: "conc".into(),
            unit: "mL".into(),
            quantity: reserved + short,
            reserved,
            short,
            bins: bins.collect(),
            ..FillShare::default()
        }
    }

    #[test]
    fn what_fills_nothing_is_not_offered_and_what_says_nothing_stands_behind() {
        let t = Texts::of("en-GB");
        let item = |key: &str, kind: Option<FluidKind>| ItemStock {
            item: key.into(),
            unit: "mL".into(),
            fluid: kind.map(|kind| ItemFluid { kind: kind.into(), ..ItemFluid::default() }),
            ..ItemStock::default()
        };
        let keys = |all: &[ItemStock]| {
            let (items, others) = offered(all, "gearbox", "", &t);
            [items, others].map(|all| all.into_iter().map(|one| one.value).collect::<Vec<_>>())
        };
        let all = [
            item("cleaner", None),
            item("conc", Some(FluidKind::Coolant)),
            item("flush", Some(FluidKind::Additive)),
            item("oil", Some(FluidKind::Oil)),
            item("water", Some(FluidKind::Water)),
        ];
        assert_eq!(keys(&all), [vec!["conc".to_owned(), "oil".to_owned()], vec!["cleaner".to_owned()]]);
        assert_eq!(keys(&all[..1]), [vec!["cleaner".to_owned()], vec![]]);
        let (own, others) = offered(&all, "engine-oil", "", &t);
        let first: Vec<&str> = own.iter().map(|one| one.value.as_str()).collect();
        assert_eq!(
            (first, others.len()),
            (vec!["oil"], 2),
            "what the job's own fluid is called stands before the rest"
        );
    }

    #[test]
    fn what_is_set_aside_is_told_with_its_bins_and_what_is_short() {
        let t = Texts::of("en-GB");
        let of = |share| told(&ReserveFillResponse { shares: vec![share], ..ReserveFillResponse::default() }, &t);
        let kept = of(share(3_200, 0, &[("bin-d1", 3_000), ("bin-d2", 200)])).concat();
        assert!(
            ["3.2 L", "conc", "step 2", "bin-d1 3 L", "bin-d2 200 mL"].iter().all(|part| kept.contains(part)),
            "{kept}"
        );
        let short = of(share(3_000, 200, &[("bin-d1", 3_000)])).concat();
        assert!(short.contains("SHORT") && short.contains("200 mL"), "{short}");
        assert_eq!(told(&ReserveFillResponse::default(), &t), [t.say("fill-nothing")]);
    }
}
