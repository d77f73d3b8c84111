//! Readings at a bay: what a step measures, and the page on which it is said by number pad.

use crate::form::{Done, Fault, Fields, Writes, begin, finish};
use crate::pages::{Screen, said};
use crate::sheet::{Caller, Sheet, caller, failed, sheet, show};
use crate::texts::Texts;
use askama::Template;
use axum::extract::{Form, Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::Response;
use leadhand_sdk::v1::{Decision, GetReadingsRequest, Reading, ReadingKind, RecordReadingRequest, Verdict};
use leadhand_sdk::{Client, moment};

/// A reading on the page of a bay.
pub struct Tile {
    /// Its key.
    pub reading: String,
    /// What it is, and its limits.
    pub what: String,
    /// What was measured, and how it came out.
    pub result: String,
    /// The style's and the mark's name.
    pub class: &'static str,
    /// Whether nothing is left to be measured.
    pub taken: bool,
}

/// Whether it was taken, and need not be taken again.
pub fn is_taken(reading: &Reading) -> bool {
    let again = [Decision::Again, Decision::Repair].map(i32::from).contains(&reading.decision);
    reading.taken_at.is_some() && !again
}

fn verdict(reading: &Reading) -> &'static str {
    match Verdict::try_from(reading.verdict) {
        Ok(Verdict::In) => "within",
        Ok(Verdict::Out) if reading.decision == i32::from(Decision::Accept) => "accepted",
        Ok(Verdict::Out) => "out",
        Ok(Verdict::Free) => "free",
        _ => "left",
    }
}

/// How a unit is shown; a bare count has none.
fn unit(reading: &Reading) -> String {
    let unit = reading.detail.as_ref().map_or("", |detail| detail.unit.as_str());
    match unit {
        "1" => String::new(),
        "Cel" => "°C".to_owned(),
        unit => unit.replace('.', "·"),
    }
}

/// What a step measures.
pub fn of_step(readings: &[Reading], stage: &str, step: i32, t: &Texts) -> Vec<Tile> {
    let own = readings.iter().filter(|reading| reading.stage == stage && reading.step == step);
    own.map(|reading| tile(reading, t)).collect()
}

/// A reading as a tile.
pub fn tile(reading: &Reading, t: &Texts) -> Tile {
    let class = verdict(reading);
    let what =
        if reading.limits.is_empty() { reading.what.clone() } else { format!("{}: {}", reading.what, reading.limits) };
    let figures = reading.figures.join(" · ");
    let result = if class == "left" {
        String::new()
    } else {
        format!("{figures} {} {}", unit(reading), t.say(&format!("verdict-{class}")))
            .replace("  ", " ")
            .trim()
            .to_owned()
    };
    Tile { reading: reading.reading.clone(), what, result, class, taken: is_taken(reading) }
}

#[derive(Template)]
#[template(path = "reading.html")]
struct Page {
    sheet: Sheet,
    job: i64,
    reading: String,
    what: String,
    limits: String,
    method: String,
    unit: String,
    instrument: String,
    slots: Vec<Slot>,
    tile: Tile,
    off: Vec<String>,
    derived: Vec<String>,
    by: String,
    /// Whether what was typed is meant.
    asked: bool,
}

/// A figure to be typed.
struct Slot {
    /// The field's id on the page.
    id: String,
    label: String,
    /// What was measured before.
    before: String,
    /// What was typed and asked about.
    typed: String,
}

/// Figures that were typed and lie so far off that the server asked about them, with commas between them.
#[derive(Debug, Default, serde::Deserialize)]
pub struct Asked {
    #[serde(default)]
    far: String,
}

/// The page of one reading.
pub async fn page(
    State(screen): State<Screen>,
    Path((bay, job, reading)): Path<(String, i64, String)>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Response {
    let own = address(&bay, job, &reading);
    let caller = match caller(&screen, &headers, &own).await {
        Ok(caller) => caller,
        Err(answer) => return *answer,
    };
    match load(caller.client(), job, &reading).await {
        Ok(Some(found)) => draw(&screen, &caller, &bay, job, &found, &asked),
        Ok(None) => said(&screen, StatusCode::NOT_FOUND, screen.texts.say("nothing-here")),
        Err(error) => failed(&screen, caller.visitor, &error, &own),
    }
}

fn address(bay: &str, job: i64, reading: &str) -> String {
    format!("/bay/{bay}/job/{job}/reading/{reading}")
}

async fn load(client: &Client, job: i64, key: &str) -> Result<Option<Reading>, leadhand_sdk::SdkError> {
    let all = client.get_readings(GetReadingsRequest { job }).await?.readings;
    Ok(all.into_iter().find(|reading| reading.reading == key))
}

fn draw(screen: &Screen, caller: &Caller, bay: &str, job: i64, reading: &Reading, asked: &Asked) -> Response {
    let t = &screen.texts;
    let detail = reading.detail.clone().unwrap_or_default();
    let slots = reading.slots.iter().enumerate().map(|(at, label)| Slot {
        id: format!("figure-{at}"),
        label: if label.is_empty() { reading.what.clone() } else { label.clone() },
        before: reading.figures.get(at).cloned().unwrap_or_default(),
        typed: asked.far.split(',').nth(at).unwrap_or_default().to_owned(),
    });
    let slots = slots.collect();
    let by = if reading.taken_by.is_empty() {
        String::new()
    } else {
        let when = moment::show_near(reading.taken_at.as_ref(), &caller.zone, caller.now);
        t.with("step-done", &[("who", reading.taken_by.as_str().into()), ("when", when.into())])
    };
    let kind = ReadingKind::try_from(detail.kind).unwrap_or_default();
    let own = address(bay, job, &reading.reading);
    let page = Page {
        sheet: sheet(screen, caller, reading.what.clone(), own, format!("/bay/{bay}")),
        job,
        reading: reading.reading.clone(),
        what: t.word(kind.as_str_name()),
        limits: reading.limits.clone(),
        method: detail.method.clone(),
        unit: unit(reading),
        instrument: if reading.instrument.is_empty() { detail.instrument } else { reading.instrument.clone() },
        slots,
        tile: tile(reading, t),
        off: reading.off.clone(),
        derived: reading.derived.clone(),
        by,
        asked: !asked.far.is_empty(),
    };
    show(screen, caller, &page)
}

/// Takes it.
pub async fn record(
    State(screen): State<Screen>,
    Path((bay, job, reading)): Path<(String, i64, String)>,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let (fields, page) = (Fields(fields), address(&bay, job, &reading));
    let mut begun = match begin(&screen, &headers, &fields, &page) {
        Ok(begun) => begun,
        Err(answer) => return *answer,
    };
    let done = take(&begun.signed.client, &mut begun.writes, job, reading, &fields).await;
    let asks = matches!(&done, Err(Fault::Refused(error)) if error.reason == "FIGURE_FAR_OFF");
    // Only figures: they stand in an address.
    let plain = |figure: &String| figure.chars().all(|one| one.is_ascii_digit() || matches!(one, '.' | '-'));
    let typed = figures(&fields);
    let from = if asks && typed.iter().all(plain) { format!("{page}?far={}", typed.join(",")) } else { String::new() };
    finish(&screen, &begun.visitor, &page, &from, done)
}

/// A comma is what a pad in many countries has in the place of a point.
fn figures(fields: &Fields) -> Vec<String> {
    fields.all("figure").into_iter().map(|figure| figure.replace(',', ".")).collect()
}

async fn take(client: &Client, writes: &mut Writes, job: i64, reading: String, fields: &Fields) -> Result<Done, Fault> {
    let (figures, sure) = (figures(fields), !fields.text("sure").is_empty());
    let (instrument, note) = (fields.text("instrument").to_owned(), fields.text("note").to_owned());
    let write = Some(writes.one());
    let request = RecordReadingRequest { write, job, reading, figures, instrument, note, sure };
    Ok(Done::told(client.record_reading(request).await?.receipt))
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::ReadingDetail;

    fn reading(verdict: Verdict, decision: Decision) -> Reading {
        Reading {
            what: "Gap".into(),
            limits: "at most 0.05 mm".into(),
            detail: Some(ReadingDetail { unit: "mm".into(), ..ReadingDetail::default() }),
            figures: vec!["0.07".into()],
            taken_at: (verdict != Verdict::Unspecified).then(Default::default),
            verdict: verdict.into(),
            decision: decision.into(),
            ..Reading::default()
        }
    }

    #[test]
    fn a_reading_says_its_limits_what_was_measured_and_how_it_came_out() {
        let t = Texts::of("en-GB");
        let left = tile(&Reading { figures: vec![], ..reading(Verdict::Unspecified, Decision::Unspecified) }, &t);
        assert_eq!((left.what.as_str(), left.result.as_str(), left.taken), ("Gap: at most 0.05 mm", "", false));
        let out = tile(&reading(Verdict::Out, Decision::Unspecified), &t);
        assert!(out.class == "out" && out.taken && out.result.starts_with("0.07 mm OUT"), "{}", out.result);
        assert_eq!(tile(&reading(Verdict::Out, Decision::Accept), &t).class, "accepted");
        assert!(!tile(&reading(Verdict::Out, Decision::Again), &t).taken, "a lead wants it again");
        assert_eq!(tile(&reading(Verdict::In, Decision::Unspecified), &t).class, "within");
    }
}
