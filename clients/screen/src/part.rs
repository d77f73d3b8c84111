//! The page of one position of the strip book: what was not as listed, by tiles; what will not move, by its ladder; what
//! goes back otherwise than listed.

use crate::pages::{Screen, said};
use crate::sheet::{Caller, Sheet, caller, failed, sheet, show};
use crate::stage::{Warning, warnings};
use crate::strip;
use crate::texts::Texts;
use crate::view::Look;
use askama::Template;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::Response;
use leadhand_sdk::v1::{
    AttemptOutcome, GetStripRequest, GetStripResponse, Keep, Manner, Position, PositionKind, PositionStanding, Renew,
    Rung,
};

/// Up to so many a count is touched; beyond, it is typed on the pad.
const TILES_MAX: i32 = 12;
/// Ways of keeping what came off, in the order of their tiles.
const KEEPS: [Keep; 6] = [Keep::OwnHole, Keep::Tray, Keep::Bag, Keep::Bench, Keep::Outside, Keep::MachineShop];
/// What may come of an attempt, in the order of their tiles.
const OUTCOMES: [AttemptOutcome; 5] = [
    AttemptOutcome::Moved,
    AttemptOutcome::NotMoved,
    AttemptOutcome::Rounded,
    AttemptOutcome::Broken,
    AttemptOutcome::ThreadGone,
];

/// What may be chosen.
#[derive(Clone)]
pub struct Choice {
    pub value: String,
    pub words: String,
    pub chosen: bool,
}

/// A row of tiles of which one is chosen.
struct Row {
    name: &'static str,
    words: String,
    /// The numbers; none when there are too many, and then one is typed.
    tiles: Vec<Choice>,
    /// What stands in the field before anybody types.
    usual: i32,
}

#[derive(Template)]
#[template(path = "part.html")]
struct Page {
    sheet: Sheet,
    job: i64,
    stage: String,
    position: String,
    class: &'static str,
    what: String,
    details: Vec<String>,
    state: String,
    attached: String,
    /// What lies in front of it and was not said: names for the button, keys for the form.
    in_front: String,
    in_front_keys: String,
    off: Option<Off>,
    seized: Option<Seized>,
    tried: Vec<String>,
    back: Option<Back>,
    /// Whether what was said last may be taken back.
    said: bool,
}

/// The form for what was not as listed.
struct Off {
    /// Whether it is put in, and comes not off.
    put_in: bool,
    rows: Vec<Row>,
    keeps: Vec<Choice>,
    listed: i32,
}

/// The form for what will not move.
struct Seized {
    rung: i32,
    /// Every rung, once something was tried.
    rungs: Vec<Choice>,
    measure: String,
    tools: Vec<String>,
    cautions: Vec<Warning>,
    who: String,
    last_safe: bool,
    soak: i32,
    /// Whether it soaks now.
    soaking: bool,
    pieces: Vec<Choice>,
    outcomes: Vec<Choice>,
    plans: Vec<String>,
    item: String,
}

/// The form for what goes back otherwise than listed.
struct Back {
    stage: String,
    put_in: bool,
    rows: Vec<Row>,
    reasons: Vec<String>,
    how: Vec<String>,
    always: bool,
}

/// What the page is asked for with.
#[derive(serde::Deserialize, Default)]
pub struct Asked {
    /// Another rung than the one that comes next; 0 for that.
    #[serde(default)]
    rung: i32,
}

/// The page.
pub async fn page(
    State(screen): State<Screen>,
    Path((bay, job, position)): Path<(String, i64, String)>,
    Query(wanted): Query<Asked>,
    headers: HeaderMap,
) -> Response {
    let own = format!("/bay/{bay}/job/{job}/part/{position}");
    let caller = match caller(&screen, &headers, &own).await {
        Ok(caller) => caller,
        Err(answer) => return *answer,
    };
    let asked = GetStripRequest { job, ladder_of: position.clone(), ..GetStripRequest::default() };
    match caller.client().get_strip(asked).await {
        Ok(book) => match book.positions.iter().find(|one| one.position == position) {
            Some(found) => {
                let mut page = compose(&screen, &caller, own, &bay, job, &book, found);
                page.seized = seized(found, &book.ladder, wanted.rung, &screen.texts);
                show(&screen, &caller, &page)
            }
            None => said(&screen, StatusCode::NOT_FOUND, screen.texts.say("nothing-here")),
        },
        Err(error) => failed(&screen, caller.visitor, &error, &own),
    }
}

fn compose(
    screen: &Screen,
    caller: &Caller,
    own: String,
    bay: &str,
    job: i64,
    book: &GetStripResponse,
    found: &Position,
) -> Page {
    let t = &screen.texts;
    let look = Look { texts: t, zone: &caller.zone, now: caller.now };
    let line = strip::line(found, book, look);
    let front = strip::in_front(book, found);
    let unsaid = strip::is_unsaid(found);
    let names: Vec<&str> = front.iter().map(|one| one.what.as_str()).collect();
    let keys: Vec<&str> = front.iter().map(|one| one.position.as_str()).collect();
    let tried = found.attempts.iter().map(|attempt| {
        let outcome = AttemptOutcome::try_from(attempt.outcome).unwrap_or_default();
        let when = t.near(attempt.at.as_ref(), &caller.zone, caller.now);
        format!(
            "{} · {} × {} · {} {when}",
            attempt.measure,
            attempt.pieces,
            t.word(outcome.as_str_name()),
            attempt.person
        )
    });
    let tried = tried.collect();
    Page {
        sheet: sheet(screen, caller, found.what.clone(), own, format!("/bay/{bay}")),
        job,
        stage: found.stage.clone(),
        position: found.position.clone(),
        class: line.class,
        what: line.what,
        details: line.details,
        state: line.state,
        attached: line.attached,
        in_front: if names.is_empty() || !unsaid { String::new() } else { names.join(", ") },
        in_front_keys: keys.join(","),
        off: unsaid.then(|| off(found, t)),
        seized: None,
        tried,
        back: back(found, book, t),
        said: !unsaid,
    }
}

/// Tiles from nothing up to `most`, with the usual one chosen; a field where there are too many.
fn row(name: &'static str, most: i32, usual: i32, t: &Texts) -> Row {
    let tiles = (0..=most).filter(|_| most <= TILES_MAX);
    let tile = |n: i32| Choice { value: n.to_string(), words: n.to_string(), chosen: n == usual };
    Row { name, words: t.say(&format!("ask-{name}")), tiles: tiles.map(tile).collect(), usual }
}

fn off(found: &Position, t: &Texts) -> Off {
    let put_in = found.manner == i32::from(Manner::In);
    let mut rows = Vec::new();
    if !put_in {
        rows.push(row("missing", found.count, 0, t));
        rows.push(row("damaged", found.count, 0, t));
        if found.kind == i32::from(PositionKind::Fastener) {
            rows.push(row("studs", found.count, 0, t));
        }
    }
    let keeps = KEEPS.iter().filter(|_| !put_in).map(|keep| Choice {
        value: keep.as_str_name().to_owned(),
        words: t.word(keep.as_str_name()),
        chosen: found.keep == i32::from(*keep),
    });
    Off { put_in, rows, keeps: keeps.collect(), listed: found.count }
}

/// What is to be tried next; nothing when it moved, was put in, or when no rung is left.
///
/// One piece may be broken and another stuck: what is next for the first is not for the second, so that another rung may
/// be wanted.
fn seized(found: &Position, ladder: &[Rung], wanted: i32, t: &Texts) -> Option<Seized> {
    let broken = found.damaged > 0 && strip::standing(found) != PositionStanding::Settled;
    let put_in = found.manner == i32::from(Manner::In);
    if put_in || !(strip::is_unsaid(found) || broken) {
        return None;
    }
    let number = match &found.next {
        Some(next) => next.rung,
        None if found.attempts.is_empty() => ladder.first()?.rung,
        None => return None,
    };
    let number = if ladder.iter().any(|rung| rung.rung == wanted) { wanted } else { number };
    let rung = ladder.iter().find(|rung| rung.rung == number)?;
    let other = |rung: &Rung| Choice {
        value: rung.rung.to_string(),
        words: format!("{} · {}", rung.rung, rung.measure),
        chosen: rung.rung == number,
    };
    // Before anything was tried there is one way to begin.
    let rungs = ladder.iter().filter(|_| !found.attempts.is_empty()).map(other).collect();
    let who = found.next.as_ref().filter(|next| !next.yours).map(|next| next.who.join(", "));
    let may_break = ladder.iter().any(|other| other.last_safe && other.rung <= number);
    Some(Seized {
        rung: number,
        rungs,
        measure: rung.measure.clone(),
        tools: rung.tools.clone(),
        cautions: warnings(rung.cautions.iter(), t),
        who: who.map(|who| t.fill("rung-is-for", "who", &who)).unwrap_or_default(),
        last_safe: rung.last_safe,
        soak: soak(found, ladder, rung),
        soaking: found.soak_until.is_some() && !found.soaked,
        pieces: (1..=found.count.min(TILES_MAX)).map(|n| piece(n, t)).collect(),
        outcomes: OUTCOMES.iter().map(|one| outcome(*one, t)).collect(),
        plans: if may_break {
            ["plan-split", "plan-extractor", "plan-drill", "plan-machine-shop"].map(|key| t.say(key)).into()
        } else {
            Vec::new()
        },
        item: found.item.clone(),
    })
}

/// For how long it may soak: as this rung says, or while nobody let it soak the last one before it that says so. The answer to
/// a try that did not move it asks for that.
fn soak(found: &Position, ladder: &[Rung], rung: &Rung) -> i32 {
    let soaks = found.soaked || found.soak_until.is_some();
    let before = ladder.iter().filter(|one| !soaks && one.rung < rung.rung && one.soak_minutes > 0);
    let last = before.max_by_key(|one| one.rung).map_or(0, |one| one.soak_minutes);
    if rung.soak_minutes > 0 { rung.soak_minutes } else { last }
}

fn piece(n: i32, t: &Texts) -> Choice {
    Choice { value: n.to_string(), words: t.count("pieces", usize::try_from(n).unwrap_or_default()), chosen: n == 1 }
}

fn outcome(outcome: AttemptOutcome, t: &Texts) -> Choice {
    let name = outcome.as_str_name();
    Choice { value: name.to_owned(), words: t.word(name), chosen: false }
}

fn back(found: &Position, book: &GetStripResponse, t: &Texts) -> Option<Back> {
    let refit = book.refit.iter().find(|line| line.position == found.position && !line.done)?;
    let put_in = found.manner == i32::from(Manner::In);
    let settled = found.refitted + found.renewed + found.left_out;
    let places = (found.found + found.missing - settled).max(0);
    let pieces = (found.found - found.refitted - found.scrapped - found.kept).max(0);
    let always = found.renew == i32::from(Renew::Always);
    let renewed = if always { places } else { (places - pieces + found.damaged).clamp(0, places) };
    let mut rows = if put_in {
        vec![row("came-out", pieces, pieces, t)]
    } else {
        vec![
            row("refitted", places.min(pieces), (places - renewed).min(pieces), t),
            row("renewed", places, renewed, t),
            row("left-out", places, 0, t),
        ]
    };
    // Of what is always renewed the old ones are thrown away by themselves.
    let spoilt = (found.damaged - found.scrapped - found.kept).min(pieces);
    if spoilt > 0 && !always {
        rows.push(row("scrapped", pieces, spoilt, t));
    }
    Some(Back {
        stage: refit.stage.clone(),
        put_in,
        rows,
        reasons: ["reason-not-needed", "reason-lost", "reason-to-follow"].map(|key| t.say(key)).into(),
        how: found.how.iter().cloned().chain(strip::tightening(found)).collect(),
        always,
    })
}

#[cfg(test)]
#[path = "part_tests.rs"]
mod tests;
