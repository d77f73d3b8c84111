//! Where the hours went, in pictures; and people's own time, which they and the lead see.

use crate::decided::{self, Decided};
use crate::desk::leads;
use crate::hours_drawn::{self, Drawing};
use crate::pages::{Screen, not_for};
use crate::part::Choice;
use crate::sheet::{Caller, Sheet, caller, came_from, failed, sheet, show};
use crate::view::Look;
use askama::Template;
use axum::extract::{Query, State};
use axum::http::HeaderMap;
use axum::response::Response;
use jiff::{Timestamp, ToSpan};
use leadhand_sdk::v1::{
    AskedCorrection, Clocking, GetBoardRequest, GetCalendarRequest, GetJobRequest, Job, JobState,
    ListAskedCorrectionsRequest, ListClockingsRequest, ListJobsRequest, ListTemplatesRequest,
};
use leadhand_sdk::{Client, SdkError, moment};
use std::collections::{BTreeMap, BTreeSet};

/// Days of one's own time that are shown.
const DAYS: i64 = 7;
/// Days after which a job that was handed over has no tile any more, and so many of them have one.
const CLOSED_DAYS: i64 = 28;
const CLOSED: usize = 24;
/// Entries that are asked for at a time.
const ENTRIES: i32 = 1000;
/// So many of one's own entries can be corrected here.
const OWN: usize = 20;
/// Minutes by which an entry's ends are moved.
const SHIFTS: [i64; 11] = [-120, -60, -30, -15, -5, 0, 5, 15, 30, 60, 120];
/// A whole bar, in the drawing's own units.
const WIDTH: i64 = 1000;

#[derive(Template)]
#[template(path = "hours.html")]
struct Page {
    sheet: Sheet,
    jobs: Vec<Choice>,
    closed: Vec<Choice>,
    templates: Vec<Choice>,
    drawings: Vec<Drawing>,
    persons: Vec<PersonTime>,
    everybody: bool,
    entries: Vec<OwnEntry>,
    reasons: Vec<String>,
    /// What a lead decided about time that this person asked to have corrected.
    decided: Vec<Decided>,
}

impl Page {
    fn closed_chosen(&self) -> bool {
        self.closed.iter().any(|one| one.chosen)
    }

    fn template_chosen(&self) -> bool {
        self.templates.iter().any(|one| one.chosen)
    }
}

/// A person's days.
struct PersonTime {
    name: String,
    days: Vec<DayTime>,
    total: String,
}

/// An entry of one's own, with what it may be changed to.
struct OwnEntry {
    entry: i64,
    words: String,
    began: Vec<Choice>,
    ended: Vec<Choice>,
    /// A lead was asked to correct it, and has not answered.
    asked: bool,
}

struct DayTime {
    day: String,
    length: String,
    /// Its share of the longest day, for the bar.
    width: i64,
}

/// What the page is asked for with.
#[derive(serde::Deserialize, Default)]
pub struct Asked {
    #[serde(default)]
    job: i64,
    #[serde(default)]
    template: String,
}

/// The page.
pub async fn page(State(screen): State<Screen>, Query(asked): Query<Asked>, headers: HeaderMap) -> Response {
    let caller = match caller(&screen, &headers, "/time").await {
        Ok(caller) => caller,
        Err(answer) => return *answer,
    };
    if !caller.signed.has_hands() {
        return not_for(&screen, "for-hands", "/time");
    }
    match load(&caller, &asked).await {
        Ok(loaded) => {
            let home = came_from(&screen, &caller, &headers, "/time");
            let head = sheet(&screen, &caller, screen.texts.say("time-page"), "/time".into(), home);
            let look = Look { texts: &screen.texts, zone: &caller.zone, now: caller.now };
            let decided = decided::told(&loaded.decided, &screen.sessions.seen(&caller.visitor), look);
            let page = compose(head, &loaded, &asked, (&caller.signed.name, leads(&caller)), look);
            show(&screen, &caller, &Page { decided, ..page })
        }
        Err(error) => failed(&screen, caller.visitor, &error, "/time"),
    }
}

struct Loaded {
    jobs: Vec<(i64, String)>,
    closed: Vec<(i64, String)>,
    templates: Vec<(String, String)>,
    pictures: hours_drawn::Loaded,
    clockings: Vec<Clocking>,
    /// Entries of which a lead was asked for a correction.
    asked: Vec<i64>,
    /// What was decided in the last day of what this person asked for.
    decided: Vec<AskedCorrection>,
    /// Ends of the shop's hours in these days.
    closings: Vec<Timestamp>,
    /// What stages are called, by job and key.
    titles: BTreeMap<(i64, String), String>,
}

async fn load(caller: &Caller, asked: &Asked) -> Result<Loaded, SdkError> {
    let client = caller.client();
    let board = client.get_board(GetBoardRequest {}).await?;
    let jobs = board.bays.into_iter().filter_map(|bay| bay.job).chain(board.outside);
    let jobs: Vec<(i64, String)> = jobs.map(|job| (job.job, format!("{} {}", job.vehicle_label, job.title))).collect();
    let templates = client.list_templates(ListTemplatesRequest::default()).await?.templates;
    let pictures = hours_drawn::load(caller, asked.job, &asked.template).await?;
    let closed = closed(caller).await?;
    let since = caller.now.checked_sub((DAYS * 24).hours()).unwrap_or(caller.now);
    let corrections = client.list_asked_corrections(ListAskedCorrectionsRequest::default()).await?.corrections;
    let asked_at = GetCalendarRequest {
        from_at: Some(moment::to_wire(since)),
        until_at: Some(moment::to_wire(caller.now)),
        ..GetCalendarRequest::default()
    };
    let windows = client.get_calendar(asked_at).await?.windows;
    let clockings = clockings(client, since).await?;
    let own: BTreeSet<i64> = own_entries(&clockings, &caller.signed.name).map(|entry| entry.job).collect();
    let mut titles = BTreeMap::new();
    for job in own {
        let whole = client.get_job(GetJobRequest { job }).await?;
        titles.extend(whole.stages.into_iter().map(|stage| ((job, stage.stage), stage.title)));
    }
    Ok(Loaded {
        closings: windows.iter().filter_map(|window| moment::from_wire(window.until_at.as_ref()?)).collect(),
        titles,
        jobs,
        closed,
        templates: templates.into_iter().map(|one| (one.template, one.title)).collect(),
        pictures,
        clockings,
        asked: corrections.into_iter().map(|one| one.entry).collect(),
        decided: decided::load(Some(&caller.signed), caller.now).await?,
    })
}

/// Jobs that were closed in the last days, latest first.
async fn closed(caller: &Caller) -> Result<Vec<(i64, String)>, SdkError> {
    let since = caller.now.checked_sub((CLOSED_DAYS * 24).hours()).unwrap_or(caller.now);
    let mut all = Vec::new();
    let mut page_token = String::new();
    loop {
        let closed_from_at = Some(moment::to_wire(since));
        let asked = ListJobsRequest { closed_from_at, page_size: ENTRIES, page_token, ..ListJobsRequest::default() };
        let answer = caller.client().list_jobs(asked).await?;
        all.extend(answer.jobs.into_iter().filter(|job| job.state() == JobState::Completed));
        page_token = answer.next_page_token;
        if page_token.is_empty() {
            break;
        }
    }
    all.sort_by_key(|job| std::cmp::Reverse(job.closed_at.as_ref().map(|at| (at.seconds, at.nanos))));
    let words = |job: Job| (job.job, format!("{} {}", job.vehicle_label, job.title));
    Ok(all.into_iter().take(CLOSED).map(words).collect())
}

/// One's own entries; for a lead everybody's.
async fn clockings(client: &Client, since: Timestamp) -> Result<Vec<Clocking>, SdkError> {
    let mut all = Vec::new();
    let mut page_token = String::new();
    loop {
        let from_at = Some(moment::to_wire(since));
        let asked = ListClockingsRequest { from_at, page_size: ENTRIES, page_token, ..ListClockingsRequest::default() };
        let answer = client.list_clockings(asked).await?;
        all.extend(answer.clockings);
        page_token = answer.next_page_token;
        if page_token.is_empty() {
            return Ok(all);
        }
    }
}

fn compose(sheet: Sheet, loaded: &Loaded, asked: &Asked, (own, everybody): (&str, bool), look: Look<'_>) -> Page {
    let t = look.texts;
    let of_job = |(number, words): &(i64, String)| Choice {
        value: number.to_string(),
        words: format!("{} · {words}", t.fill("job", "job", &number.to_string())),
        chosen: *number == asked.job,
    };
    let of_template = |(key, title): &(String, String)| Choice {
        value: key.clone(),
        words: title.clone(),
        chosen: *key == asked.template,
    };
    Page {
        sheet,
        jobs: loaded.jobs.iter().map(of_job).collect(),
        closed: loaded.closed.iter().map(of_job).collect(),
        templates: loaded.templates.iter().map(of_template).collect(),
        drawings: loaded.pictures.drawings(look),
        persons: persons(&loaded.clockings, look),
        everybody,
        entries: entries(loaded, own, look),
        reasons: ["forgot-to-clock-off", "forgot-to-clock-on", "wrong-minute"].map(|key| t.say(key)).into(),
        decided: Vec::new(),
    }
}

/// One's own entries that are over, latest first.
fn own_entries<'a>(all: &'a [Clocking], own: &'a str) -> impl Iterator<Item = &'a Clocking> {
    all.iter().rev().filter(move |entry| entry.name == own && entry.until_at.is_some()).take(OWN)
}

fn entries(loaded: &Loaded, own: &str, look: Look<'_>) -> Vec<OwnEntry> {
    let t = look.texts;
    let entry = |one: &Clocking| {
        let when = |at: Option<&leadhand_sdk::WireTimestamp>| look.near(at);
        let (from, until) = (one.from_at.as_ref(), one.until_at.as_ref());
        let title = loaded.titles.get(&(one.job, one.stage.clone())).unwrap_or(&one.stage);
        let what = format!("{} · {title}", t.fill("job", "job", &one.job.to_string()));
        OwnEntry {
            entry: one.entry,
            words: format!("{what} · {} – {}", when(from), when(until)),
            began: shifted(from, look),
            ended: [closed_within(&loaded.closings, one, look), shifted(until, look)].concat(),
            asked: loaded.asked.contains(&one.entry),
        }
    };
    own_entries(&loaded.clockings, own).map(entry).collect()
}

/// Where the shop closed while an entry went on: who forgot to clock off left then, mostly.
fn closed_within(closings: &[Timestamp], entry: &Clocking, look: Look<'_>) -> Vec<Choice> {
    let edge = |at: Option<&leadhand_sdk::WireTimestamp>| at.and_then(moment::from_wire);
    let (Some(from), Some(until)) = (edge(entry.from_at.as_ref()), edge(entry.until_at.as_ref())) else {
        return Vec::new();
    };
    let within = closings.iter().filter(|at| **at > from && **at < until);
    within
        .map(|at| Choice { value: at.to_string(), words: look.near(Some(&moment::to_wire(*at))), chosen: false })
        .collect()
}

/// The time as it is entered, and times around it that have passed.
fn shifted(at: Option<&leadhand_sdk::WireTimestamp>, look: Look<'_>) -> Vec<Choice> {
    let Some(at) = at.and_then(moment::from_wire) else { return Vec::new() };
    let around = SHIFTS.into_iter().filter_map(|minutes| Some((minutes, at.checked_add(minutes.minutes()).ok()?)));
    let choice = |(minutes, at): (i64, Timestamp)| Choice {
        value: if minutes == 0 { String::new() } else { at.to_string() },
        words: look.near(Some(&moment::to_wire(at))),
        chosen: minutes == 0,
    };
    around.filter(|(_, at)| *at <= look.now).map(choice).collect()
}

fn part(seconds: i64, whole: i64) -> i64 {
    if whole <= 0 { 0 } else { seconds.saturating_mul(WIDTH) / whole }
}

/// Everybody's days, by name; an entry that runs over midnight counts on each day with what lies in it.
fn persons(clockings: &[Clocking], look: Look<'_>) -> Vec<PersonTime> {
    let mut found: BTreeMap<&str, BTreeMap<jiff::civil::Date, i64>> = BTreeMap::new();
    for clocking in clockings {
        let Some(from) = clocking.from_at.as_ref().and_then(moment::from_wire) else { continue };
        let until = clocking.until_at.as_ref().and_then(moment::from_wire).unwrap_or(look.now);
        let days = found.entry(&clocking.name).or_default();
        for (day, seconds) in by_day(from, until, look) {
            *days.entry(day).or_default() += seconds;
        }
    }
    let longest = found.values().flat_map(BTreeMap::values).copied().max().unwrap_or_default();
    let person = |(name, days): (&str, BTreeMap<jiff::civil::Date, i64>)| PersonTime {
        name: name.to_owned(),
        total: moment::show_length(days.values().sum()),
        days: days
            .into_iter()
            .map(|(day, length)| DayTime {
                day: look.texts.day(day, true),
                length: moment::show_length(length),
                width: part(length, longest),
            })
            .collect(),
    };
    found.into_iter().map(person).collect()
}

/// The days of the shop's zone that a time lies in, each with how many seconds of it.
fn by_day(from: Timestamp, until: Timestamp, look: Look<'_>) -> Vec<(jiff::civil::Date, i64)> {
    let (mut at, mut days) = (from, Vec::new());
    while at < until {
        let here = at.to_zoned_datetime(look.zone.clone());
        let next = here.tomorrow().and_then(|next| next.start_of_day()).map_or(until, |next| next.timestamp());
        let end = if next > at { next.min(until) } else { until };
        days.push((here.date(), end.as_second() - at.as_second()));
        at = end;
    }
    days
}

#[cfg(test)]
#[path = "hours_tests.rs"]
mod tests;
