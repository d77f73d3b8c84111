//! The lead's desk: what waits for a lead's word, what holds up, and every open job by its urgency.

use crate::measure;
use crate::pages::{Screen, not_for};
use crate::part::Choice;
use crate::sheet::{Caller, Sheet, caller, failed, sheet, show};
use crate::sign_in;
use crate::strip;
use crate::texts::Texts;
use crate::view::{JobView, Look, all_done, ends, key, reason_at, standing_name};
use askama::Template;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use futures::future::try_join_all;
use jiff::Timestamp;
use leadhand_sdk::v1::{
    AskedCorrection, Blocker, BoardJob, Clocking, Decision, GetBoardRequest, GetBoardResponse, GetCalendarRequest,
    GetCalendarResponse, GetJobRequest, GetJobResponse, GetReadingsRequest, GetStripRequest, GetStripResponse,
    ListAskedCorrectionsRequest, OtherWay, Reading, Role, StageState, StepState, Verdict,
};
use leadhand_sdk::{Client, SdkError, Standing, moment};

/// Ends of open hours that are offered for a promise.
const PROMISES: usize = 12;
/// Urgencies, most urgent first.
const URGENCIES: std::ops::RangeInclusive<i32> = 1..=5;
/// The urgency that nobody has to be told.
const USUAL: i32 = 3;

#[derive(Template)]
#[template(path = "desk.html")]
struct Page {
    sheet: Sheet,
    number: i64,
    ways: Vec<Way>,
    readings: Vec<Out>,
    looks: Vec<ToLook>,
    corrections: Vec<Correction>,
    held: Vec<Held>,
    /// How many vehicles stand how.
    counts: Vec<Count>,
    groups: Vec<Group>,
    bays: Vec<Bay>,
    /// Whoever may see to what holds up.
    persons: Vec<String>,
    reasons: Vec<String>,
    /// What is told mostly.
    tellings: Vec<String>,
    /// What is said of a danger that is over.
    safe: Vec<String>,
    /// Why somebody's time stays as it was entered.
    declines: Vec<String>,
}

impl Page {
    /// How many decisions wait for the lead.
    fn waiting(&self) -> usize {
        self.ways.len() + self.readings.len() + self.looks.len() + self.corrections.len()
    }
}

/// A way that is not the book's and waits for a word.
struct Way {
    /// The part of the wall that tells when its job changes.
    part: String,
    job: i64,
    stage: String,
    step: i32,
    place: String,
    proposed: String,
    reason: String,
    by: String,
}

/// A reading out of its limits that nobody decided about.
struct Out {
    /// The part of the wall that tells when its job changes.
    part: String,
    job: i64,
    reading: String,
    place: String,
    tile: measure::Tile,
    off: Vec<String>,
}

/// What waits for a second person.
struct ToLook {
    /// The page on which it is done.
    to: String,
    part: String,
    place: String,
    what: String,
}

/// A correction of somebody's time that waits for a word.
struct Correction {
    job: i64,
    ask: i32,
    name: String,
    place: String,
    entered: String,
    wanted: String,
    reason: String,
    /// Whether the entry is still there, so that it can be made as asked.
    stands: bool,
}

struct Held {
    part: String,
    job: i64,
    blocker: i32,
    place: String,
    cause: String,
    text: String,
    since: i64,
    /// The item that is short, when that is why.
    item: String,
    /// How it ends.
    ends: &'static str,
    /// Who sees to it, by name.
    owner: String,
    /// Until when it is expected to last, as a form holds it; empty when that is not known or over.
    until: String,
}

/// How many vehicles stand so.
struct Count {
    class: &'static str,
    words: String,
}

/// Jobs in the bays, or outside.
struct Group {
    /// Its place on the page.
    id: &'static str,
    words: String,
    jobs: Vec<Row>,
}

struct Row {
    view: JobView,
    /// The bay it is in; empty outside.
    bay: String,
    /// How urgent it is; empty as usual.
    urgency: String,
    /// Its urgency one step up and down; 0 where there is none.
    sooner: i32,
    later: i32,
    promised: bool,
    /// Whether every stage is done.
    done: bool,
    /// When it is done if it goes badly, when it is likely, and then the ends of open hours; what is promised decides the lead.
    promises: Vec<Choice>,
    /// What was told to whom about it, newest first.
    told: Vec<Told>,
    /// Its customer's name; empty when nobody is its customer, and then whoever is told is named.
    customer: String,
}

/// What somebody was told.
struct Told {
    number: i32,
    /// When, and by whom.
    when: String,
    whom: String,
    words: String,
    withdrawn: bool,
}

struct Bay {
    bay: String,
    /// What is in it; empty when it is free.
    vehicle: String,
}

/// Whether this person leads.
pub fn leads(caller: &Caller) -> bool {
    caller.signed.role == Role::Lead
}

/// The page.
pub async fn page(State(screen): State<Screen>, headers: HeaderMap) -> Response {
    let caller = match caller(&screen, &headers, "/desk").await {
        Ok(caller) => caller,
        Err(answer) => return *answer,
    };
    if !leads(&caller) {
        return not_for(&screen, "for-the-lead", "/desk");
    }
    match load(caller.client()).await {
        Ok(loaded) => {
            let head = sheet(&screen, &caller, screen.texts.say("leads-desk"), "/desk".into(), "/".into());
            let look = Look { texts: &screen.texts, zone: &caller.zone, now: caller.now };
            show(&screen, &caller, &compose(head, &loaded, look))
        }
        Err(error) => failed(&screen, caller.visitor, &error, "/desk"),
    }
}

struct Loaded {
    board: GetBoardResponse,
    jobs: Vec<OneJob>,
    calendar: GetCalendarResponse,
    persons: Vec<String>,
    corrections: Vec<AskedCorrection>,
}

/// A job with its books.
struct OneJob {
    on_board: BoardJob,
    /// The bay it is in; empty outside.
    bay: String,
    whole: GetJobResponse,
    strip: GetStripResponse,
    readings: Vec<Reading>,
}

async fn load(client: &Client) -> Result<Loaded, SdkError> {
    let board = client.get_board(GetBoardRequest {}).await?;
    let inside = board.bays.iter().filter_map(|bay| bay.job.clone().map(|job| (key(bay).to_owned(), job)));
    let outside = board.outside.iter().map(|job| (String::new(), job.clone()));
    let jobs = inside.chain(outside).map(|(bay, on_board)| async move {
        let job = on_board.job;
        let whole = client.get_job(GetJobRequest { job }).await?;
        let strip = client.get_strip(GetStripRequest { job, ..GetStripRequest::default() }).await?;
        let readings = client.get_readings(GetReadingsRequest { job }).await?.readings;
        Ok::<_, SdkError>(OneJob { on_board, bay, whole, strip, readings })
    });
    let jobs = try_join_all(jobs).await?;
    let calendar = client.get_calendar(GetCalendarRequest::default()).await?;
    let persons = sign_in::names(client).await?.into_iter().map(|one| one.name).collect();
    let corrections = client.list_asked_corrections(ListAskedCorrectionsRequest::default()).await?.corrections;
    Ok(Loaded { board, jobs, calendar, persons, corrections })
}

impl OneJob {
    /// Where something of it is: bay, vehicle and stage.
    fn place(&self, stage: &str, look: Look<'_>) -> String {
        let bay = if self.bay.is_empty() { look.texts.say("outside") } else { self.bay.clone() };
        let title = self.whole.stages.iter().find(|one| one.stage == stage).map_or("", |one| one.title.as_str());
        let vehicle = JobView::of(&self.on_board, look).vehicle;
        [bay.as_str(), &vehicle, title].into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" · ")
    }

    /// The part of the wall that tells when it changes.
    fn part(&self) -> String {
        if self.bay.is_empty() { "outside".to_owned() } else { format!("bay-{}", self.bay) }
    }

    fn ways(&self, look: Look<'_>) -> Vec<Way> {
        let open = self.whole.ways.iter().filter(|way| way.decided_at.is_none());
        let way = |one: &OtherWay| Way {
            part: self.part(),
            job: self.on_board.job,
            stage: one.stage.clone(),
            step: one.step,
            place: self.place(&one.stage, look),
            proposed: one.way.clone(),
            reason: one.reason.clone(),
            by: one.proposed_by.clone(),
        };
        open.map(way).collect()
    }

    fn out(&self, look: Look<'_>) -> Vec<Out> {
        let out =
            |one: &&Reading| one.verdict == i32::from(Verdict::Out) && one.decision == i32::from(Decision::Unspecified);
        let shown = self.readings.iter().filter(out).map(|one| Out {
            part: self.part(),
            job: self.on_board.job,
            reading: one.reading.clone(),
            place: self.place(&one.stage, look),
            tile: measure::tile(one, look.texts),
            off: one.off.clone(),
        });
        shown.collect()
    }

    /// Hold points that are next and ask for a second pair of eyes, and positions that do.
    fn looks(&self, look: Look<'_>) -> Vec<ToLook> {
        let job = self.on_board.job;
        let to = |what: String| format!("/bay/{}/job/{job}/look/{what}", self.bay);
        let active = self.whole.stages.iter().filter(|stage| stage.state == i32::from(StageState::Active));
        let steps = active.filter_map(|stage| {
            let next = stage.steps.iter().find(|step| step.state == i32::from(StepState::Pending))?;
            next.hold_second.then(|| ToLook {
                to: to(format!("{}:{}", stage.stage, next.step)),
                part: self.part(),
                place: self.place(&stage.stage, look),
                what: next.instruction.clone(),
            })
        });
        let positions = strip::to_check(&self.strip).into_iter().map(|one| ToLook {
            to: to(one.position),
            part: self.part(),
            place: self.place("", look),
            what: one.what,
        });
        // Outside there is no bay at whose page somebody signs.
        if self.bay.is_empty() { Vec::new() } else { steps.chain(positions).collect() }
    }

    fn held(&self, look: Look<'_>) -> Vec<Held> {
        let title = |stage: &str| self.whole.stages.iter().find(|one| one.stage == stage).map_or("", |one| &one.title);
        let reason = |blocker: &Blocker| reason_at(title(&blocker.stage), blocker, &self.on_board, look);
        let both = self.on_board.blockers.iter().map(|blocker| (blocker, reason(blocker)));
        let shown = both.map(|(blocker, reason)| Held {
            part: self.part(),
            job: self.on_board.job,
            blocker: blocker.blocker,
            place: self.place("", look),
            cause: reason.cause,
            text: reason.text,
            since: reason.since,
            item: blocker.item.clone(),
            ends: ends(blocker, &self.readings),
            owner: blocker.owner.clone(),
            until: blocker
                .expected_at
                .as_ref()
                .and_then(moment::from_wire)
                .filter(|until| *until > look.now)
                .map(|until| until.to_string())
                .unwrap_or_default(),
        });
        shown.collect()
    }

    fn row(&self, promises: &[Choice], look: Look<'_>) -> Row {
        let within = |urgency: i32| if URGENCIES.contains(&urgency) { urgency } else { 0 };
        Row {
            view: JobView::of(&self.on_board, look),
            bay: self.bay.clone(),
            urgency: match self.on_board.priority {
                USUAL => String::new(),
                urgency => look.texts.say(&format!("urgency-{}", urgency.clamp(*URGENCIES.start(), *URGENCIES.end()))),
            },
            sooner: within(self.on_board.priority - 1),
            later: within(self.on_board.priority + 1),
            done: all_done(&self.on_board),
            promises: reckoned_first(&self.on_board, promises, look),
            promised: self.on_board.promised_at.is_some(),
            told: self.told(look),
            customer: self.whole.job.as_ref().map(|job| job.customer_name.clone()).unwrap_or_default(),
        }
    }

    fn told(&self, look: Look<'_>) -> Vec<Told> {
        let t = look.texts;
        let when = |at| look.near(at);
        let all = self.whole.told.iter().rev().map(|one| {
            let promised = one.promised_at.as_ref().map(|at| t.fill("told-promised", "when", &when(Some(at))));
            Told {
                number: one.told,
                when: t.with(
                    "step-done",
                    &[("who", one.told_by.as_str().into()), ("when", when(one.told_at.as_ref()).into())],
                ),
                whom: if one.to_customer { t.say("told-customer") } else { one.whom.clone() },
                words: [one.words.clone()].into_iter().chain(promised).collect::<Vec<_>>().join(" · "),
                withdrawn: one.withdrawn,
            }
        });
        all.collect()
    }
}

fn compose(sheet: Sheet, loaded: &Loaded, look: Look<'_>) -> Page {
    let t = look.texts;
    let jobs = || loaded.jobs.iter();
    let mut held: Vec<Held> = jobs().flat_map(|job| job.held(look)).collect();
    // A danger before all else, then what has waited longest.
    held.sort_by_key(|held| (held.ends != "lead", held.since));
    let bays = loaded.board.bays.iter().map(|bay| Bay {
        bay: key(bay).to_owned(),
        vehicle: bay.job.as_ref().map(|job| JobView::of(job, look).vehicle).unwrap_or_default(),
    });
    let mut bays: Vec<Bay> = bays.collect();
    bays.sort_by_key(|bay| !bay.vehicle.is_empty());
    let promises = promises(&loaded.calendar, look);
    let groups = [("in-bays", false), ("outside", true)].map(|(id, outside)| Group {
        id,
        words: t.count(&format!("count-{id}"), jobs().filter(|job| job.bay.is_empty() == outside).count()),
        jobs: in_order(jobs().filter(|job| job.bay.is_empty() == outside), outside)
            .into_iter()
            .map(|job| job.row(&promises, look))
            .collect(),
    });
    Page {
        sheet,
        number: loaded.board.number,
        ways: jobs().flat_map(|job| job.ways(look)).collect(),
        readings: jobs().flat_map(|job| job.out(look)).collect(),
        looks: jobs().flat_map(|job| job.looks(look)).collect(),
        corrections: loaded.corrections.iter().map(|one| correction(one, look)).collect(),
        held,
        counts: counts(&loaded.jobs, t),
        groups: groups.into_iter().filter(|group| !group.jobs.is_empty()).collect(),
        bays,
        persons: loaded.persons.clone(),
        reasons: reasons(t),
        tellings: ["tell-longer", "tell-found", "tell-ready", "tell-not-reached"].map(|key| t.say(key)).into(),
        safe: safe(t),
        declines: ["decline-as-seen", "decline-break", "decline-ask-me"].map(|key| t.say(key)).into(),
    }
}

/// In the bays what presses most stands first, outside what is most urgent.
fn in_order<'a>(jobs: impl Iterator<Item = &'a OneJob>, outside: bool) -> Vec<&'a OneJob> {
    let mut jobs: Vec<&OneJob> = jobs.collect();
    jobs.sort_by_key(|job| {
        let (standing, urgency) = (Standing::of(&job.on_board), job.on_board.priority);
        let first = if outside { urgency } else { 0 };
        (first, standing, urgency, job.on_board.job)
    });
    jobs
}

/// How many vehicles stand how, most pressing first. A promise counts also where something holds its vehicle up.
fn counts(jobs: &[OneJob], t: &Texts) -> Vec<Count> {
    let count = |standing: Standing| {
        let n = jobs.iter().filter(|job| standing.is_said_of(&job.on_board)).count();
        let class = standing_name(standing);
        (n > 0).then(|| Count { class, words: t.count(&format!("count-{class}"), n) })
    };
    let all = Standing::ALL.into_iter().filter(|standing| !matches!(standing, Standing::Free | Standing::HeldUp));
    all.filter_map(count).collect()
}

fn correction(one: &AskedCorrection, look: Look<'_>) -> Correction {
    let t = look.texts;
    let time = |entry: &Clocking| {
        let when = |at| look.near(at);
        let until = entry.until_at.as_ref().map_or_else(|| t.say("goes-on-still"), |at| when(Some(at)));
        let stage = format!("{} · {}", t.fill("job", "job", &entry.job.to_string()), entry.stage);
        format!("{stage} · {} – {until}", when(entry.from_at.as_ref()))
    };
    Correction {
        job: one.job,
        ask: one.ask,
        name: one.name.clone(),
        place: t.fill("job", "job", &one.job.to_string()),
        entered: one.as_entered.as_ref().map_or_else(|| t.say("entry-gone"), time),
        wanted: one.wanted.as_ref().map_or_else(|| t.say("entry-to-go"), time),
        reason: one.reason.clone(),
        stands: one.as_entered.is_some(),
    }
}

/// Reasons that a lead gives for a decision about a reading.
pub fn reasons(t: &Texts) -> Vec<String> {
    ["reason-within-wear", "reason-gauge", "reason-part-renewed", "reason-customer-told"].map(|key| t.say(key)).into()
}

/// What a lead found where somebody saw a danger; more is typed beside it.
pub fn safe(t: &Texts) -> Vec<String> {
    ["safe-looked", "safe-mended", "safe-guarded"].map(|key| t.say(key)).into()
}

/// The pages beside wall and bays that a person of this role may see: where each is, and what it is called.
pub fn doors(role: Role, t: &Texts) -> Vec<Choice> {
    const TIME: (&str, &str) = ("/time", "time-page");
    const DESK: (&str, &str) = ("/desk", "leads-desk");
    const PARTS: (&str, &str) = ("/parts", "parts-desk");
    let known = match role {
        Role::Lead => vec![TIME, DESK, PARTS],
        Role::Parts => vec![TIME, PARTS],
        Role::Technician => vec![TIME],
        _ => Vec::new(),
    };
    let door = |(to, key): (&str, &str)| Choice { value: to.to_owned(), words: t.say(key), chosen: false };
    known.into_iter().map(door).collect()
}

/// What is reckoned stands first: when it is done if it goes badly, and when it is likely. A promise before that is a hope.
fn reckoned_first(job: &BoardJob, ends: &[Choice], look: Look<'_>) -> Vec<Choice> {
    let reckoned = [("if-badly", job.if_badly_at.as_ref()), ("likely", job.expected_at.as_ref())].into_iter();
    let first = reckoned.filter_map(|(key, at)| {
        let moment = at.and_then(moment::from_wire).filter(|at| *at > look.now)?;
        let words = look.texts.fill(key, "when", &look.near(at));
        Some(Choice { value: moment.to_string(), words, chosen: false })
    });
    first.chain(ends.iter().cloned()).collect()
}

/// When a vehicle is promised: at the ends of the open hours to come.
pub fn promises(calendar: &GetCalendarResponse, look: Look<'_>) -> Vec<Choice> {
    let end =
        |at: Timestamp| Choice { value: at.to_string(), words: look.near(Some(&moment::to_wire(at))), chosen: false };
    let ends = calendar.windows.iter().filter_map(|window| window.until_at.as_ref().and_then(moment::from_wire));
    ends.filter(|at| *at > look.now).take(PROMISES).map(end).collect()
}

#[cfg(test)]
#[path = "desk_tests.rs"]
mod tests;
