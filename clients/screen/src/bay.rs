//! The page of a bay: the stage now with its cautions first, steps with sizes and counts, and what a hand does next.

use crate::bring::is_old;
use crate::decided::{self, Decided};
use crate::desk;
use crate::form::answered;
use crate::hub::zone_of;
use crate::late::{self, Moment};
use crate::pages::{Screen, as_of, html, said, script_words};
use crate::part::Choice;
use crate::ready::{self, StepNeeds};
use crate::sessions::Visitor;
use crate::sign_in::keep;
use crate::stage::{Books, FillTold, StageNow, Warning, cautions, fills};
use crate::strip::{self, Unfinished};
use crate::texts::Texts;
use crate::undo::{Touched, Undo};
use crate::view::{JobView, Look, ends, key};
use askama::Template;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::Response;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{
    AskedCorrection, BoardBay, BoardJob, Cause, GetBoardRequest, GetJobRequest, GetJobResponse, GetReadingsRequest,
    GetReadyListRequest, GetReadyListResponse, GetShopRequest, GetStripRequest, GetStripResponse, Reading, Role, Stage,
    StageKind, StageState,
};
use leadhand_sdk::{Client, Code, SdkError, moment, new_write};
use std::hash::{DefaultHasher, Hash, Hasher};

/// Causes that a hand at a bay meets, in the order of their tiles. A danger stands before and apart from them.
const CAUSES: [Cause; 8] = [
    Cause::Part,
    Cause::Tool,
    Cause::Person,
    Cause::SeizedOrDamaged,
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
    /// Whether that person leads.
    leads: bool,
    /// What a lead says of a danger that is over.
    safe: Vec<String>,
    /// Other pages for this person.
    doors: Vec<Choice>,
    proof: String,
    notes: Vec<String>,
    /// What was typed into a form that was refused, for the script.
    typed: String,
    /// Whether a lead may overrule that.
    overrule: bool,
    undo: Option<Undo>,
    job: Option<JobView>,
    stages: Vec<StageNow>,
    ready: Vec<Coming>,
    blockers: Vec<Held>,
    causes: Vec<Tile>,
    /// What a lead decided about time that this person asked to have corrected.
    decided: Vec<Decided>,
    /// What waits for somebody else's look.
    to_check: Vec<Unfinished>,
    /// What soaks before its turn.
    soaking: Vec<String>,
    /// Dangers of which a lead said within some hours that they are over.
    safe_again: Vec<String>,
    /// When the shop closed since whoever is signed in clocked on here, when that was on an earlier day.
    forgotten: Vec<Moment>,
    /// Stages under way in other bays, where a hand may be lent.
    elsewhere: Vec<Elsewhere>,
    /// Where whoever is signed in is clocked on in another bay.
    lent: Option<Elsewhere>,
}

impl Page<'_> {
    /// The id under which one form takes effect once.
    #[expect(clippy::unused_self, reason = "templates call methods of their page")]
    fn request(&self) -> String {
        new_write().request_id
    }
}

/// A stage under way in another bay.
struct Elsewhere {
    bay: String,
    job: i64,
    stage: String,
    title: String,
}

/// A cause's tile.
struct Tile {
    cause: &'static str,
    words: String,
}

struct Held {
    blocker: i32,
    /// How it ends.
    ends: &'static str,
    cause: String,
    text: String,
    since: i64,
}

/// A stage that may start.
struct Coming {
    stage: String,
    title: String,
    cautions: Vec<Warning>,
    /// What of each fluid that goes in there came out, and what is still in.
    fills: Vec<FillTold>,
    /// What it needs in hand, by the step that needs it first.
    needs: Vec<StepNeeds>,
    /// Whether anything of it is missing.
    lacks: bool,
    /// Whether it may start now.
    may: bool,
    /// When, by whom and where the accepted plan has it; empty when no plan has.
    planned: String,
    /// Times at which it may have been started.
    earlier: Vec<Moment>,
}

/// What was touched just now.
#[derive(serde::Deserialize)]
pub struct Asked {
    /// What it was, a point, and what it was about.
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
        Err(error) => said(&screen, StatusCode::BAD_GATEWAY, answered(&error, &screen.texts)),
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
    books: JobBooks,
    decided: Vec<AskedCorrection>,
    /// Ends of the shop's hours since this person clocked on here, when that was on an earlier day.
    closings: Vec<leadhand_sdk::WireTimestamp>,
    /// The other bays.
    others: Vec<BoardBay>,
    number: i64,
    now: jiff::Timestamp,
    zone: TimeZone,
}

/// What is known of the job in the bay besides its stages.
#[derive(Debug, Default)]
struct JobBooks {
    strip: GetStripResponse,
    readings: Vec<Reading>,
    /// Ready lists of stages that may start.
    ready: Vec<(String, GetReadyListResponse)>,
}

impl Loaded {
    /// Another one when the page of this person shows anything else.
    fn mark(&self, who: Option<&str>) -> String {
        let mut hasher = DefaultHasher::new();
        let job =
            self.job.as_ref().map(|(on_board, whole)| format!("{on_board:?} {:?} {:?}", whole.stages, whole.fluids));
        let strip = format!("{:?} {:?}", self.books.strip.positions, self.books.strip.refit);
        let readings = format!("{:?}", self.books.readings);
        // When a list was made is no difference.
        let ready = |(stage, list): &(String, GetReadyListResponse)| {
            let same = GetReadyListResponse { number: 0, at: None, ..list.clone() };
            format!("{stage} {same:?}")
        };
        let ready: Vec<String> = self.books.ready.iter().map(ready).collect();
        let others: Vec<(String, i64, Vec<&str>)> = self
            .others
            .iter()
            .filter_map(|bay| bay.job.as_ref().map(|job| (key(bay).to_owned(), job)))
            .map(|(bay, job)| (bay, job.job, job.active.iter().map(|stage| stage.title.as_str()).collect()))
            .collect();
        let decided = format!("{:?}", self.decided);
        let lent = self.lent(who).map(|lent| lent.bay);
        (&self.name, who, job, strip, readings, ready, others, lent, decided).hash(&mut hasher);
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
    let (mut own, others): (Vec<BoardBay>, Vec<BoardBay>) = board.bays.into_iter().partition(|found| key(found) == bay);
    let Some(found) = own.pop() else { return Ok(None) };
    let name = found.bay.map(|bay| bay.name).unwrap_or_default();
    let (job, books) = match found.job {
        Some(on_board) => {
            let whole = client.get_job(GetJobRequest { job: on_board.job }).await?;
            let books = load_books(client, &whole, on_board.job).await?;
            (Some((on_board, whole)), books)
        }
        None => (None, JobBooks::default()),
    };
    let decided = decided::load(visitor.signed.as_ref(), now).await?;
    let since = visitor.signed.as_ref().and_then(|signed| on_since(job.as_ref()?, &signed.name));
    let closings = match since {
        Some(since) => late::closings(client, since, now, &zone).await?,
        None => Vec::new(),
    };
    Ok(Some(Loaded { name, job, books, decided, closings, others, number, now, zone }))
}

/// Since when somebody is on the clock at a job.
fn on_since((_, whole): &(BoardJob, GetJobResponse), who: &str) -> Option<jiff::Timestamp> {
    let mut persons = whole.stages.iter().flat_map(|stage| &stage.persons);
    persons.find(|person| person.name == who)?.since.as_ref().and_then(moment::from_wire)
}

/// Ready lists that are asked for at a time: whoever goes on starts one of these.
const READY_MAX: usize = 2;

async fn load_books(client: &Client, whole: &GetJobResponse, job: i64) -> Result<JobBooks, SdkError> {
    let strip = client.get_strip(GetStripRequest { job, ..GetStripRequest::default() }).await?;
    let readings = client.get_readings(GetReadingsRequest { job }).await?.readings;
    let mut ready = Vec::new();
    for stage in coming(&whole.stages).take(READY_MAX) {
        let (stage, asked) = (stage.stage.clone(), stage.stage.clone());
        let asked = GetReadyListRequest { job, stage: asked, ..GetReadyListRequest::default() };
        match client.get_ready_list(asked).await {
            Ok(list) => ready.push((stage, list)),
            Err(error) if is_old(error.code) => {}
            Err(error) => return Err(error),
        }
    }
    Ok(JobBooks { strip, readings, ready })
}

/// Stages that may start; while one is under way and none may, the one that comes after it.
fn coming(stages: &[Stage]) -> impl Iterator<Item = &Stage> {
    let is = |stage: &Stage, state: StageState| stage.state == i32::from(state);
    let any = stages.iter().any(|stage| is(stage, StageState::Ready));
    let next = stages.iter().filter(move |stage| !any && is(stage, StageState::NotYet)).take(1);
    stages.iter().filter(move |stage| is(stage, StageState::Ready)).chain(next)
}

fn show(screen: &Screen, visitor: &Visitor, bay: &str, asked: &Asked, notes: Vec<String>, loaded: &Loaded) -> Response {
    let proof = screen.sessions.proof(visitor);
    let page = compose(&screen.texts, &screen.edition, visitor, bay, asked, loaded);
    // A page that the script asks for shows nothing once: that waits for a person.
    let refused = screen.sessions.refused(visitor).filter(|refused| !asked.anew && !refused.shown);
    let overrule = refused.as_ref().is_some_and(|refused| refused.may);
    let typed = refused.and_then(|_| screen.sessions.typed(visitor)).map(|fields| fields.for_script());
    let typed = typed.unwrap_or_default();
    let look = Look { texts: &screen.texts, zone: &loaded.zone, now: loaded.now };
    let decided = decided::told(&loaded.decided, &screen.sessions.seen(visitor), look);
    keep(html(&Page { proof, notes, typed, overrule, decided, ..page }, loaded.now), screen, visitor)
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
    let fluids = loaded.job.as_ref().map(|(_, whole)| whole.fluids.as_slice()).unwrap_or_default();
    let books = Books { strip: &loaded.books.strip, readings: &loaded.books.readings, fluids };
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
        leads: signed.is_some_and(|signed| signed.role == Role::Lead),
        safe: desk::safe(t),
        doors: signed.map(|signed| desk::doors(signed.role, t)).unwrap_or_default(),
        proof: String::new(),
        notes: Vec::new(),
        typed: String::new(),
        overrule: false,
        undo: asked.undo.as_deref().and_then(|what| loaded.touched(who)?.undo(what, t)),
        job: loaded.job.as_ref().map(|(on_board, _)| JobView::of(on_board, look)),
        stages: stages(StageState::Active).map(|stage| StageNow::of(stage, total, who, books, look)).collect(),
        ready: loaded
            .job
            .iter()
            .flat_map(|(_, whole)| coming(&whole.stages))
            .map(|stage| next(stage, loaded, look))
            .collect(),
        decided: Vec::new(),
        to_check: strip::to_check(books.strip),
        soaking: loaded.job.iter().flat_map(|(_, whole)| soaking(whole, look)).collect(),
        safe_again: loaded.job.iter().flat_map(|(_, whole)| safe_again(whole, look)).collect(),
        forgotten: late::tiles(&loaded.closings, look),
        elsewhere: loaded.elsewhere().collect(),
        lent: loaded.lent(who),
        blockers: loaded.job.as_ref().map(|(on_board, _)| held(on_board, books.readings, look)).unwrap_or_default(),
        causes: CAUSES.iter().map(|cause| tile(*cause, t)).collect(),
    }
}

fn tile(cause: Cause, t: &Texts) -> Tile {
    Tile { cause: cause.as_str_name(), words: t.word(cause.as_str_name()) }
}

impl Loaded {
    fn touched<'a>(&'a self, who: Option<&'a str>) -> Option<Touched<'a>> {
        let (_, job) = self.job.as_ref()?;
        Some(Touched { job, strip: &self.books.strip, who: who? })
    }

    fn elsewhere(&self) -> impl Iterator<Item = Elsewhere> {
        let jobs = self.others.iter().filter_map(|bay| bay.job.as_ref().map(|job| (key(bay), job)));
        jobs.flat_map(|(bay, job)| {
            // A wait wants nobody's hands. An older server does not say what a stage is.
            let work = job.active.iter().filter(|stage| stage.kind() != StageKind::Wait);
            work.map(|stage| Elsewhere {
                bay: bay.to_owned(),
                job: job.job,
                stage: stage.stage.clone(),
                title: stage.title.clone(),
            })
        })
    }

    /// Where this person is clocked on in another bay.
    fn lent(&self, who: Option<&str>) -> Option<Elsewhere> {
        let who = who?;
        let on = |bay: &&BoardBay| {
            let stages = bay.job.iter().flat_map(|job| &job.active);
            stages.flat_map(|stage| &stage.persons).any(|person| person.name == who)
        };
        let bay = self.others.iter().find(on)?;
        let job = bay.job.as_ref()?;
        let stage = job.active.iter().find(|stage| stage.persons.iter().any(|person| person.name == who))?;
        let (bay, title) = (key(bay).to_owned(), stage.title.clone());
        Some(Elsewhere { bay, job: job.job, stage: stage.stage.clone(), title })
    }
}

fn next(stage: &Stage, loaded: &Loaded, look: Look<'_>) -> Coming {
    let list = loaded.books.ready.iter().find(|(known, _)| *known == stage.stage);
    let needs = list.map(|(_, list)| ready::by_step(list, look.texts)).unwrap_or_default();
    let may = stage.state == i32::from(StageState::Ready);
    Coming {
        stage: stage.stage.clone(),
        title: stage.title.clone(),
        cautions: cautions(stage, look.texts),
        fills: fills(stage, loaded.job.as_ref().map_or(&[][..], |(_, whole)| &whole.fluids), look.texts),
        lacks: needs.iter().flat_map(|step| &step.lines).any(|line| line.missing),
        needs,
        may,
        planned: planned(stage, look),
        earlier: if may { late::back_to(stage.ready_at.as_ref(), look) } else { Vec::new() },
    }
}

fn planned(stage: &Stage, look: Look<'_>) -> String {
    let Some(planned) = &stage.planned else { return String::new() };
    let when = look.near(planned.from_at.as_ref());
    let parts = [when, planned.people.join(", "), planned.bay.clone()];
    let parts: Vec<String> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    look.texts.fill("planned", "what", &parts.join(" · "))
}

/// For so many hours it is told that a danger is over: who kept away reads it when they come back.
const SAFE_TOLD_FOR: i64 = 8;

fn safe_again(whole: &GetJobResponse, look: Look<'_>) -> Vec<String> {
    let told = whole.blockers.iter().filter(|one| one.cause() == Cause::Safety);
    let told = told.filter_map(|one| {
        let at = one.cleared_at.as_ref().and_then(moment::from_wire)?;
        let fresh = look.now.duration_since(at).as_hours() < SAFE_TOLD_FOR;
        let words = [("when", look.near(one.cleared_at.as_ref()).into()), ("what", one.note.as_str().into())];
        fresh.then(|| look.texts.with("safe-since", &words))
    });
    told.collect()
}

fn soaking(whole: &GetJobResponse, look: Look<'_>) -> Vec<String> {
    let lines = whole.soaking.iter().map(|one| {
        let until = look.near(one.until.as_ref());
        let state =
            if one.ready { look.texts.say("has-soaked") } else { look.texts.fill("soaks-until", "when", &until) };
        format!("{}: {state}", one.what)
    });
    lines.collect()
}

fn held(job: &BoardJob, readings: &[Reading], look: Look<'_>) -> Vec<Held> {
    let reasons = JobView::of(job, look).reasons;
    let both = job.blockers.iter().zip(reasons);
    both.map(|(blocker, reason)| Held {
        blocker: blocker.blocker,
        ends: ends(blocker, readings),
        cause: reason.cause,
        text: reason.text,
        since: reason.since,
    })
    .collect()
}

#[cfg(test)]
#[path = "bay_tests.rs"]
mod tests;
