//! The page of a bay: the stage now with its cautions first, steps with sizes and counts, and what a hand does next.

use crate::hub::zone_of;
use crate::pages::{Screen, as_of, html, said, script_words};
use crate::sessions::Visitor;
use crate::sign_in::keep;
use crate::texts::Texts;
use crate::view::{JobView, Look, key};
use askama::Template;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::Response;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{
    BoardJob, Cause, Caution, GetBoardRequest, GetJobRequest, GetJobResponse, GetShopRequest, SignalWord, Stage,
    StageState, Step, StepState,
};
use leadhand_sdk::{Client, Code, SdkError, moment, new_write, quantity};
use std::hash::{DefaultHasher, Hash, Hasher};

/// Causes that a hand at a bay meets, in the order of their tiles.
const CAUSES: [Cause; 9] = [
    Cause::Part,
    Cause::Tool,
    Cause::Person,
    Cause::SeizedOrDamaged,
    Cause::Safety,
    Cause::Information,
    Cause::Customer,
    Cause::SentOut,
    Cause::Bay,
];

#[derive(Template)]
#[template(path = "bay.html")]
struct Page<'a> {
    t: &'a Texts,
    edition: &'a str,
    bay: &'a str,
    name: &'a str,
    /// The journal number at which the page is true.
    number: i64,
    /// That moment, in milliseconds for the script and in words for whom there is none.
    now: i64,
    as_of: String,
    /// What tells whether the page shows anything else than another one did.
    mark: String,
    words: String,
    /// Who is signed in here.
    who: Option<&'a str>,
    /// Whether that person works on vehicles.
    hands: bool,
    proof: String,
    notes: Vec<String>,
    undo: Option<Undo>,
    job: Option<JobView>,
    stages: Vec<StageNow>,
    ready: Vec<Coming>,
    blockers: Vec<Held>,
    causes: Vec<Tile>,
}

impl Page<'_> {
    /// The id under which one form takes effect once.
    #[expect(clippy::unused_self, reason = "templates call methods of their page")]
    fn request(&self) -> String {
        new_write().request_id
    }
}

struct Undo {
    stage: String,
    step: i32,
}

/// A cause's tile.
struct Tile {
    cause: &'static str,
    words: String,
}

struct Held {
    blocker: i32,
    cause: String,
    text: String,
    since: i64,
}

/// A stage under way.
struct StageNow {
    stage: String,
    title: String,
    place: String,
    who: String,
    /// Whether whoever is signed in is clocked on to it.
    on_it: bool,
    cautions: Vec<Warning>,
    steps: Vec<StepLine>,
    /// The words for all steps that are left; nothing when none is.
    all: String,
}

struct Warning {
    class: String,
    word: String,
    text: String,
}

struct StepLine {
    step: i32,
    class: &'static str,
    text: String,
    hold: String,
    details: Vec<String>,
    done: String,
}

/// A stage that may start.
struct Coming {
    stage: String,
    title: String,
    cautions: Vec<Warning>,
}

/// What was ticked just now.
#[derive(serde::Deserialize)]
pub struct Asked {
    /// `STEP.STAGE`
    undo: Option<String>,
    /// Whether the page's script asks, to put it in place of what is shown. What is said once waits for a person.
    #[serde(default)]
    anew: bool,
}

/// The page.
pub async fn page(
    State(screen): State<Screen>,
    Path(bay): Path<String>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Response {
    let mut visitor = screen.sessions.visitor(&headers, moment::now());
    let mut loaded = load(&screen, &visitor, &bay).await;
    let mut notes = Vec::new();
    if loaded.as_ref().is_err_and(|error| is_over(error, &visitor)) {
        notes = screen.sessions.notes(&visitor);
        notes.push(screen.texts.say("session-over"));
        screen.sessions.lapse(&mut visitor);
        loaded = load(&screen, &visitor, &bay).await;
    } else if !asked.anew {
        notes = screen.sessions.notes(&visitor);
    }
    match loaded {
        Ok(Some(loaded)) => show(&screen, &visitor, &bay, &asked, notes, &loaded),
        Ok(None) => said(&screen, StatusCode::NOT_FOUND, screen.texts.fill("no-such-bay", "bay", &bay)),
        Err(error) => said(&screen, StatusCode::BAD_GATEWAY, error.message),
    }
}

/// Whether the server knows the person's session no more, before it was to end.
fn is_over(error: &SdkError, visitor: &Visitor) -> bool {
    visitor.signed.is_some() && error.code == Code::Unauthenticated
}

/// What the page is made of.
struct Loaded {
    name: String,
    job: Option<(BoardJob, GetJobResponse)>,
    number: i64,
    now: jiff::Timestamp,
    zone: TimeZone,
}

impl Loaded {
    /// Another one when the page of this person shows anything else.
    fn mark(&self, who: Option<&str>) -> String {
        let mut hasher = DefaultHasher::new();
        let job = self.job.as_ref().map(|(on_board, whole)| format!("{on_board:?} {:?}", whole.stages));
        (&self.name, who, job).hash(&mut hasher);
        format!("{:x}", hasher.finish())
    }
}

/// The shop's zone. A page that is asked for before the wall knows it asks for itself: no time is told in another.
async fn zone(screen: &Screen, client: &Client) -> Result<TimeZone, SdkError> {
    if let Some(zone) = screen.hub.frame().zone.clone() {
        return Ok(zone);
    }
    Ok(zone_of(&client.get_shop(GetShopRequest {}).await?))
}

async fn load(screen: &Screen, visitor: &Visitor, bay: &str) -> Result<Option<Loaded>, SdkError> {
    let client: &Client = visitor.signed.as_ref().map_or(&screen.client, |signed| &signed.client);
    let board = client.get_board(GetBoardRequest {}).await?;
    let (number, zone) = (board.number, zone(screen, client).await?);
    let now = board.as_of.as_ref().and_then(moment::from_wire).unwrap_or_else(moment::now);
    let Some(found) = board.bays.into_iter().find(|found| key(found) == bay) else { return Ok(None) };
    let name = found.bay.map(|bay| bay.name).unwrap_or_default();
    let job = match found.job {
        Some(on_board) => {
            let whole = client.get_job(GetJobRequest { job: on_board.job }).await?;
            Some((on_board, whole))
        }
        None => None,
    };
    Ok(Some(Loaded { name, job, number, now, zone }))
}

fn show(screen: &Screen, visitor: &Visitor, bay: &str, asked: &Asked, notes: Vec<String>, loaded: &Loaded) -> Response {
    let proof = screen.sessions.proof(visitor);
    let page = compose(&screen.texts, &screen.edition, visitor, bay, asked, loaded);
    keep(html(&Page { proof, notes, ..page }, loaded.now), screen, visitor)
}

/// The page, but for what the visitor's session adds to it.
fn compose<'a>(
    t: &'a Texts,
    edition: &'a str,
    visitor: &'a Visitor,
    bay: &'a str,
    asked: &Asked,
    loaded: &'a Loaded,
) -> Page<'a> {
    let look = Look { texts: t, zone: &loaded.zone, now: loaded.now };
    let signed = visitor.signed.as_ref();
    let who = signed.map(|signed| signed.name.as_str());
    let stages = |state: StageState| {
        let all = loaded.job.iter().flat_map(|(_, whole)| &whole.stages);
        all.filter(move |stage| stage.state == i32::from(state))
    };
    let total = loaded.job.as_ref().map_or(0, |(_, whole)| whole.stages.len());
    let undo = asked.undo.as_deref().and_then(|undo| undo.split_once('.'));
    let undo = undo.and_then(|(step, stage)| Some(Undo { step: step.parse().ok()?, stage: stage.to_owned() }));
    Page {
        t,
        edition,
        bay,
        name: &loaded.name,
        number: loaded.number,
        now: loaded.now.as_millisecond(),
        as_of: as_of(t, loaded.now, &loaded.zone),
        mark: loaded.mark(who),
        words: script_words(t),
        who,
        hands: signed.is_some_and(crate::sessions::Signed::has_hands),
        proof: String::new(),
        notes: Vec::new(),
        undo: undo.filter(|undo| is_done(loaded, undo)),
        job: loaded.job.as_ref().map(|(on_board, _)| JobView::of(on_board, look)),
        stages: stages(StageState::Active).map(|stage| stage_now(stage, total, who, look)).collect(),
        ready: stages(StageState::Ready)
            .map(|stage| Coming {
                stage: stage.stage.clone(),
                title: stage.title.clone(),
                cautions: cautions(stage, t),
            })
            .collect(),
        blockers: loaded.job.as_ref().map(|(on_board, _)| held(on_board, look)).unwrap_or_default(),
        causes: CAUSES.iter().map(|cause| tile(*cause, t)).collect(),
    }
}

fn tile(cause: Cause, t: &Texts) -> Tile {
    Tile { cause: cause.as_str_name(), words: t.word(cause.as_str_name()) }
}

/// Whether the step that may be taken back still counts as done.
fn is_done(loaded: &Loaded, undo: &Undo) -> bool {
    let mut stages = loaded.job.iter().flat_map(|(_, whole)| &whole.stages);
    let stage = stages.find(|stage| stage.stage == undo.stage && stage.state == i32::from(StageState::Active));
    stage.is_some_and(|stage| {
        stage.steps.iter().any(|step| step.step == undo.step && step.state == i32::from(StepState::Done))
    })
}

fn held(job: &BoardJob, look: Look<'_>) -> Vec<Held> {
    let reasons = JobView::of(job, look).reasons;
    let both = job.blockers.iter().zip(reasons);
    both.map(|(blocker, reason)| Held {
        blocker: blocker.blocker,
        cause: reason.cause,
        text: reason.text,
        since: reason.since,
    })
    .collect()
}

fn stage_now(stage: &Stage, total: usize, who: Option<&str>, look: Look<'_>) -> StageNow {
    let t = look.texts;
    let names: Vec<&str> = stage.persons.iter().map(|person| person.name.as_str()).collect();
    let left = stage.steps.iter().filter(|step| step.state == i32::from(StepState::Pending)).count();
    StageNow {
        stage: stage.stage.clone(),
        title: stage.title.clone(),
        place: t.with("stage-of", &[("stage", stage.ordinal.into()), ("total", total.into())]),
        who: if names.is_empty() { t.say("nobody-on-it") } else { names.join(", ") },
        on_it: who.is_some_and(|who| names.contains(&who)),
        cautions: cautions(stage, t),
        steps: stage.steps.iter().map(|step| step_line(step, look)).collect(),
        all: if left == 0 { String::new() } else { t.count("all-as-listed", left) },
    }
}

/// What can hurt in the steps that are left, gravest first, each once.
fn cautions(stage: &Stage, t: &Texts) -> Vec<Warning> {
    let left = stage.steps.iter().filter(|step| step.state == i32::from(StepState::Pending));
    let mut found: Vec<&Caution> = left.flat_map(|step| &step.cautions).collect();
    found.sort_by_key(|caution| caution.word);
    let mut seen = std::collections::HashSet::new();
    found.retain(|caution| seen.insert((caution.word, caution.text.as_str())));
    let shown = found.into_iter().map(|caution| {
        let word = SignalWord::try_from(caution.word).unwrap_or_default().as_str_name();
        Warning { class: word.to_lowercase().replace('_', "-"), word: t.word(word), text: caution.text.clone() }
    });
    shown.collect()
}

fn step_line(step: &Step, look: Look<'_>) -> StepLine {
    let t = look.texts;
    let mut details = step.tools.clone();
    details.extend(step.shared_tools.iter().map(|tool| t.fill("shared-tool", "tool", tool)));
    details.extend(step.needs.iter().map(|need| {
        let line = format!("{} {}", quantity::show(need.quantity, &need.unit), need.item);
        if need.issued >= need.quantity { line } else { t.fill("not-here-yet", "what", &line) }
    }));
    let (class, done) = match StepState::try_from(step.state) {
        Ok(StepState::Done) => {
            let when = moment::show_near(step.done_at.as_ref(), look.zone, look.now);
            ("done", t.with("step-done", &[("who", step.done_by.as_str().into()), ("when", when.into())]))
        }
        Ok(StepState::Skipped) => ("skipped", t.fill("step-left-out", "reason", &step.reason)),
        _ => ("left", String::new()),
    };
    StepLine {
        step: step.step,
        class,
        text: step.instruction.clone(),
        hold: if step.hold.is_empty() { String::new() } else { t.fill("stop-and-check", "what", &step.hold) },
        details,
        done,
    }
}

#[cfg(test)]
#[path = "bay_tests.rs"]
mod tests;
