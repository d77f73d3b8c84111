//! What was met and nobody had listed: what it is and behind what it lies, by tiles; and steps that nobody had listed.

use crate::pages::Screen;
use crate::part::Choice;
use crate::sheet::{Sheet, caller, failed, sheet, show};
use crate::strip;
use crate::texts::Texts;
use askama::Template;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use leadhand_sdk::v1::{GetStripRequest, GetStripResponse, Keep, PositionKind, PositionStanding};

/// Kinds in the order of their tiles.
const KINDS: [PositionKind; 9] = [
    PositionKind::Fastener,
    PositionKind::Connector,
    PositionKind::Hose,
    PositionKind::Clip,
    PositionKind::Cable,
    PositionKind::Earth,
    PositionKind::Bracket,
    PositionKind::Part,
    PositionKind::Aid,
];
/// Ways of keeping it, in the order of their tiles.
const KEEPS: [Keep; 5] = [Keep::OwnHole, Keep::Tray, Keep::Bag, Keep::Bench, Keep::Outside];
/// Most pieces that are touched; more are typed.
const COUNTS: [i32; 8] = [1, 2, 3, 4, 5, 6, 8, 10];
/// What a step that nobody listed usually is, in the order of its tiles.
const STEPS: [&str; 6] =
    ["step-clean", "step-repair-thread", "step-free-up", "step-replace", "step-look-closer", "step-make-room"];

#[derive(Template)]
#[template(path = "met.html")]
struct Page {
    sheet: Sheet,
    job: i64,
    stage: String,
    kinds: Vec<Choice>,
    counts: Vec<Choice>,
    behind: Vec<Choice>,
    keeps: Vec<Choice>,
    steps: Vec<String>,
}

/// The page.
pub async fn page(
    State(screen): State<Screen>,
    Path((bay, job, stage)): Path<(String, i64, String)>,
    headers: HeaderMap,
) -> Response {
    let own = format!("/bay/{bay}/job/{job}/met/{stage}");
    let caller = match caller(&screen, &headers, &own).await {
        Ok(caller) => caller,
        Err(answer) => return *answer,
    };
    let t = &screen.texts;
    match caller.client().get_strip(GetStripRequest { job, ..GetStripRequest::default() }).await {
        Ok(book) => {
            let sheet = sheet(&screen, &caller, t.say("not-listed"), own, format!("/bay/{bay}"));
            show(&screen, &caller, &compose(sheet, job, stage, &book, t))
        }
        Err(error) => failed(&screen, caller.visitor, &error, &own),
    }
}

fn compose(sheet: Sheet, job: i64, stage: String, book: &GetStripResponse, t: &Texts) -> Page {
    let word = |name: &str, chosen| Choice { value: name.to_owned(), words: t.word(name), chosen };
    let count = |n: &i32| Choice { value: n.to_string(), words: n.to_string(), chosen: *n == 1 };
    // What is off or on here may lie in front of it; what is back does not.
    let there = book.positions.iter().filter(|one| strip::standing(one) != PositionStanding::Settled);
    let near = there.filter(|one| one.stage == stage);
    let behind = near.map(|one| Choice { value: one.position.clone(), words: one.what.clone(), chosen: false });
    Page {
        sheet,
        job,
        kinds: KINDS.iter().map(|kind| word(kind.as_str_name(), *kind == PositionKind::Fastener)).collect(),
        counts: COUNTS.iter().map(count).collect(),
        behind: behind.collect(),
        keeps: KEEPS.iter().map(|keep| word(keep.as_str_name(), false)).collect(),
        steps: STEPS.iter().map(|key| t.say(key)).collect(),
        stage,
    }
}
