//! Readings at a bay: what a step measures, and the page on which it is said by number pad.

use crate::form::{Done, Fault, Fields, Writes, begin, decimal, finish, plain};
use crate::pages::{Screen, said};
use crate::sheet::{Caller, Sheet, caller, failed, sheet, show};
use crate::texts::Texts;
use askama::Template;
use axum::extract::{Form, Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::Response;
use leadhand_sdk::v1::{Decision, GetReadingsRequest, Reading, ReadingKind, RecordReadingRequest, Sureness, Verdict};
use leadhand_sdk::{Client, quantity};

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
    /// What follows from the figures, likely or certain; nothing of what is only one of several causes.
    pub judged: Vec<String>,
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
    quantity::shown_unit(unit).replace('.', "·")
}

/// What a step measures.
pub fn of_step(readings: &[Reading], stage: &str, step: i32, t: &Texts) -> Vec<Tile> {
    let own = readings.iter().filter(|reading| reading.stage == stage && reading.step == step);
    own.map(|reading| tile(reading, t)).collect()
}

/// What the reckoner concludes, with how sure it is where that is short of certain.
fn judged(reading: &Reading, t: &Texts) -> Vec<String> {
    let sure = reading.conclusions.iter().filter_map(|one| match one.sureness() {
        Sureness::Certain => Some(one.text.clone()),
        Sureness::Likely => Some(t.fill("judged-likely", "what", &one.text)),
        Sureness::Possible | Sureness::Unspecified => None,
    });
    sure.collect()
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
    Tile { reading: reading.reading.clone(), what, result, class, judged: judged(reading, t), taken: is_taken(reading) }
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
    /// Figures that were typed and refused, with tildes between them.
    #[serde(default)]
    typed: String,
}

impl Asked {
    /// What was typed for one slot.
    fn figure(&self, at: usize) -> String {
        let (all, between) = if self.far.is_empty() { (&self.typed, '~') } else { (&self.far, ',') };
        all.split(between).nth(at).unwrap_or_default().to_owned()
    }
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
        typed: asked.figure(at),
    });
    let slots = slots.collect();
    let by = if reading.taken_by.is_empty() {
        String::new()
    } else {
        let when = t.near(reading.taken_at.as_ref(), &caller.zone, caller.now);
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
    let (client, t) = (&begun.signed.client, &screen.texts);
    let done = take(client, &mut begun.writes, job, &reading, &fields, t).await;
    let from = again(&page, &fields, &done, t);
    let done = match done {
        Err(fault) => Err(by_label(client, job, &reading, fault, t).await),
        done => done,
    };
    finish(&screen, &begun.visitor, &fields, &page, &from, done).await
}

/// Where what was refused is shown, with what was typed still in its place.
fn again(page: &str, fields: &Fields, done: &Result<Done, Fault>, t: &Texts) -> String {
    let Err(fault) = done else { return String::new() };
    let typed: Vec<String> = if matches!(fault, Fault::Refused(error) if error.reason == "FIGURE_FAR_OFF") {
        figures(fields, t).unwrap_or_default()
    } else {
        fields.0.iter().filter(|(name, _)| name == "figure").map(|(_, value)| value.trim().to_owned()).collect()
    };
    // Only figures: they stand in an address.
    let figure = |typed: &String| typed.chars().all(|one| one.is_ascii_digit() || matches!(one, '.' | ',' | '-'));
    match fault {
        _ if !typed.iter().all(figure) => String::new(),
        Fault::Refused(error) if error.reason == "FIGURE_FAR_OFF" => format!("{page}?far={}", typed.join(",")),
        _ => format!("{page}?typed={}", typed.join("~")),
    }
}

/// What is said of a figure, by what its field is called on the page.
async fn by_label(client: &Client, job: i64, reading: &str, fault: Fault, t: &Texts) -> Fault {
    let Fault::Refused(error) = &fault else { return fault };
    if !error.message.contains(FIGURE) {
        return fault;
    }
    let found = load(client, job, reading).await.ok().flatten().unwrap_or_default();
    Fault::Words(plain(&labelled(&error.message, &found.slots, t)))
}

/// What the server calls a figure, before its place.
const FIGURE: &str = "figures[";

fn labelled(words: &str, slots: &[String], t: &Texts) -> String {
    let parts = words.split_once(FIGURE).and_then(|(before, rest)| Some((before, rest.split_once(']')?)));
    let Some((before, (at, after))) = parts else { return words.to_owned() };
    let Ok(at) = at.parse::<usize>() else { return words.to_owned() };
    let label = slots.get(at).filter(|label| !label.is_empty()).cloned();
    format!("{before}{}{after}", label.unwrap_or_else(|| t.count("figure-n", at + 1)))
}

fn figures(fields: &Fields, t: &Texts) -> Result<Vec<String>, Fault> {
    fields.all("figure").iter().map(|figure| decimal(figure, t)).collect()
}

async fn take(
    client: &Client,
    writes: &mut Writes,
    job: i64,
    reading: &str,
    fields: &Fields,
    t: &Texts,
) -> Result<Done, Fault> {
    let (figures, sure) = (figures(fields, t)?, !fields.text("sure").is_empty());
    let reading = reading.to_owned();
    let (instrument, note) = (fields.text("instrument").to_owned(), fields.text("note").to_owned());
    let write = Some(writes.one());
    let request = RecordReadingRequest { write, job, reading, figures, instrument, note, sure };
    Ok(Done::told(client.record_reading(request).await?.receipt))
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{Conclusion, ReadingDetail};

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
    fn a_figure_is_called_what_the_page_calls_it() {
        let t = Texts::of("en-GB");
        let slots = ["cylinder 1".to_owned(), "cylinder 2".to_owned()];
        assert_eq!(labelled("figures[1]: it is below 0", &slots, &t), "cylinder 2: it is below 0");
        assert_eq!(labelled("figures[0]: it is below 0", &[String::new()], &t), "figure 1: it is below 0");
        assert_eq!(labelled("3 figures are given", &slots, &t), "3 figures are given");
    }

    #[test]
    fn what_was_refused_is_still_typed_in_its_place() {
        let t = Texts::of("en-GB");
        let fields =
            |second: &str| Fields(["12.4", second].map(|figure| ("figure".to_owned(), figure.to_owned())).to_vec());
        let refused = || Err(Fault::Words("no".into()));
        let at = again("/p", &fields("1,000"), &refused(), &t);
        assert_eq!(at, "/p?typed=12.4~1,000");
        let asked = Asked { typed: "12.4~1,000".into(), far: String::new() };
        assert_eq!([0, 1, 2].map(|at| asked.figure(at)), ["12.4", "1,000", ""]);
        assert_eq!(again("/p", &fields("&sure=yes"), &refused(), &t), "", "only figures stand in an address");
        assert_eq!(again("/p", &fields("1"), &Ok(Done::default()), &t), "");
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

    #[test]
    fn what_follows_from_a_reading_is_told_as_far_as_it_is_likely() {
        let t = Texts::of("en-GB");
        let said = |sureness: Sureness| Conclusion {
            text: format!("{sureness:?}"),
            sureness: sureness.into(),
            tells_more: String::new(),
        };
        let conclusions = [Sureness::Certain, Sureness::Likely, Sureness::Possible].map(said).into();
        let told = tile(&Reading { conclusions, ..reading(Verdict::Out, Decision::Unspecified) }, &t).judged;
        assert_eq!(told, ["Certain", "likely: Likely"], "what is one of several causes is for the command line");
    }
}
