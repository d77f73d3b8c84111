//! Shop hours, days and shifts.
//!
//! What is said is local; the windows that follow are resolved at once, up to [`HORIZON_DAYS`]
//! ahead, and stored, so that a later time-zone table changes nothing. The timer resolves the
//! next stretch when less than [`RENEW_DAYS`] are left ([`extend`]).
//!
//! - The newest statement about a week holds from its first day on, also over weeks that were set
//!   earlier for later days. A statement about one day beats every week, whichever came first,
//!   and the newest one about that day holds.
//! - The past stays: a week or a day begins today at the earliest. Only where nothing was said
//!   so far may the first hours begin in the past.
//! - The clocks change: see [`resolve`].

mod resolve;
mod said;

use crate::answer::Made;
use crate::check;
use crate::command::{Command, SetDay, SetHours, SetShift};
use crate::context::Context;
use crate::need::Need;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use jiff::civil::Date;
use jiff::tz::{TimeZone, TimeZoneDatabase};
use jiff::{Span, Unit};
use leadhand_facts::calendar::{CalendarChange, DayHours, Resolved, Week};
use leadhand_facts::{Fact, Instant, PersonId, Window};
use said::Said;

pub(crate) use resolve::{earliest, latest};

/// How many days ahead windows are resolved.
pub const HORIZON_DAYS: i32 = 400;

/// With fewer days than this left, the timer resolves further ahead.
pub const RENEW_DAYS: i32 = 200;

/// How many years from today a day may lie.
const YEARS_MAX: i32 = 10;

/// Most stretches of hours in one day.
const STRETCHES_MAX: usize = 6;

const DAY_MINUTES: i32 = 24 * 60;

/// Decides a command about the calendar; `None` for any other.
pub(super) fn decide(session: &mut Session, command: &Command) -> Option<Result<Made, Refusal>> {
    let set = match command {
        Command::SetHours(asked) => set_hours(session, asked),
        Command::SetDay(asked) => set_day(session, asked),
        Command::SetShift(asked) => set_shift(session, asked),
        _ => return None,
    };
    Some(set.map(|()| Made::Nothing))
}

/// The needs of a command about the calendar; none for any other.
pub(super) fn needs(state: &State, command: &Command, context: &Context) -> Vec<Need> {
    let (day, person) = match command {
        Command::SetHours(asked) => (&asked.from_day, None),
        Command::SetDay(asked) => (&asked.day, None),
        Command::SetShift(asked) => (&asked.from_day, Some(asked.person)),
        _ => return Vec::new(),
    };
    let mut needs = vec![Need::Shop];
    if let (true, Ok(zone), Ok(day)) = (state.has(&Need::Shop), zone(state), check::read_date(day)) {
        let today = today(state, context.now).unwrap_or(day);
        let said = Said::of(state, person);
        let whole = !matches!(command, Command::SetDay(_));
        let first = if whole { said.first_day(&zone, day) } else { day };
        if days_between(day, today).abs() <= (YEARS_MAX + 1) * 366 {
            needs.push(windows_from(person, resolve::start_of(&zone, first)));
        }
    }
    needs
}

/// Windows that end at this moment or later: what ends right there touches what begins there.
fn windows_from(person: Option<PersonId>, from: Instant) -> Need {
    let before = from.plus_us(-1);
    person.map_or(Need::OpenWindows(before), |person| Need::ShiftWindows(person, before))
}

/// The zone's rules from the table that comes with the program.
pub(super) fn zone_named(name: &str) -> Option<TimeZone> {
    TimeZoneDatabase::bundled().get(name).ok()
}

/// The shop's zone.
pub(crate) fn zone(state: &State) -> Result<TimeZone, Refusal> {
    let Some(shop) = state.shop.get(&()) else {
        return Err(Refusal::Defect { why: "the shop is not loaded, or was never opened".to_owned() });
    };
    zone_named(&shop.zone).ok_or_else(|| Refusal::Defect { why: format!("the zone '{}' is not known here", shop.zone) })
}

/// The moment at which a local day begins; nothing of what is no day.
pub(crate) fn day_begins(zone: &TimeZone, day: &str) -> Option<Instant> {
    Some(resolve::start_of(zone, check::read_date(day).ok()?))
}

/// The shop's local day at a moment.
pub(super) fn today(state: &State, now: Instant) -> Result<Date, Refusal> {
    Ok(local_day(&zone(state)?, now))
}

fn local_day(zone: &TimeZone, at: Instant) -> Date {
    at.timestamp().map_or(Date::MIN, |at| zone.to_datetime(at).date())
}

fn plus_days(day: Date, days: i32) -> Date {
    day.saturating_add(Span::new().days(days))
}

fn days_between(one: Date, other: Date) -> i32 {
    one.until((Unit::Day, other)).map_or(i32::MAX, |span| span.get_days())
}

fn set_hours(session: &mut Session, asked: &SetHours) -> Result<(), Refusal> {
    let day = near_date(session, "from_day", &asked.from_day)?;
    let week = check_week(&asked.week)?;
    if week.0.iter().all(Vec::is_empty) {
        return Err(Refusal::invalid("week", "every day is closed; give hours for at least one day"));
    }
    let change = CalendarChange::Hours { from_day: asked.from_day.clone(), week };
    set_week(session, None, day, change)
}

fn set_shift(session: &mut Session, asked: &SetShift) -> Result<(), Refusal> {
    let day = near_date(session, "from_day", &asked.from_day)?;
    let week = check_week(&asked.week)?;
    let Some(person) = session.state.persons.get(&(asked.person,)) else {
        let todo = "add the person first";
        return Err(Refusal::Unknown { what: "person", which: asked.person.to_string(), todo });
    };
    if person.forgotten {
        return Err(Refusal::Forgotten {});
    }
    let change = CalendarChange::Shift { person: asked.person, from_day: asked.from_day.clone(), week };
    set_week(session, Some(asked.person), day, change)
}

fn set_week(session: &mut Session, person: Option<PersonId>, day: Date, change: CalendarChange) -> Result<(), Refusal> {
    let (zone, today) = (zone(session.state)?, today(session.state, session.context.now)?);
    let mut said = Said::of(session.state, person);
    if day < today && said.has_weeks() {
        return Err(Refusal::CalendarPast { day: day.to_string(), today: today.to_string() });
    }
    let first = said.first_day(&zone, day);
    let ahead = plus_days(today.max(day), HORIZON_DAYS);
    let last = said.first_open_day(&zone).map_or(ahead, |known| ahead.max(known));
    said.take(&change);
    record(session, person, change, &said, first, last)
}

fn set_day(session: &mut Session, asked: &SetDay) -> Result<(), Refusal> {
    let day = near_date(session, "day", &asked.day)?;
    let hours = check_day("hours", &asked.hours)?;
    check::text_some("reason", asked.reason.as_deref())?;
    let today = today(session.state, session.context.now)?;
    let mut said = Said::of(session.state, None);
    if day < today && said.has_weeks() {
        return Err(Refusal::CalendarPast { day: day.to_string(), today: today.to_string() });
    }
    let reason = session.seal_some(asked.reason.as_deref());
    let change = CalendarChange::Day { day: asked.day.clone(), hours, reason };
    said.take(&change);
    record(session, None, change, &said, day, plus_days(day, 1))
}

/// Resolves the next stretch for the shop and for every person whose windows end too soon.
pub(super) fn extend(session: &mut Session) -> Result<(), Refusal> {
    for Due { person, first, last } in due(session.state, session.context)? {
        let said = Said::of(session.state, person);
        record(session, person, CalendarChange::Extended { person }, &said, first, last)?;
    }
    Ok(())
}

/// What the timer needs to see for [`extend`].
pub(super) fn needs_of_extend(state: &State, context: &Context) -> Vec<Need> {
    let mut needs = vec![Need::Shop];
    if let (true, Ok(zone), Ok(due)) = (state.has(&Need::Shop), zone(state), due(state, context)) {
        needs.extend(due.iter().map(|due| windows_from(due.person, resolve::start_of(&zone, due.first))));
    }
    needs
}

/// A scope whose windows end too soon.
struct Due {
    person: Option<PersonId>,
    first: Date,
    last: Date,
}

fn due(state: &State, context: &Context) -> Result<Vec<Due>, Refusal> {
    let (zone, today) = (zone(state)?, today(state, context.now)?);
    let persons = state.persons.iter().filter(|row| !row.forgotten).map(|row| Some(row.person));
    let scopes = std::iter::once(None).chain(persons);
    let ends = scopes.filter_map(|person| Some((person, Said::of(state, person).horizon_day(&zone)?)));
    let soon = ends.filter(|(_, end)| *end < plus_days(today, RENEW_DAYS));
    let last = plus_days(today, HORIZON_DAYS);
    Ok(soon.map(|(person, first)| Due { person, first, last }).collect())
}

/// Makes the fact for the days from `first` until before `last`.
fn record(
    session: &mut Session,
    person: Option<PersonId>,
    change: CalendarChange,
    said: &Said,
    first: Date,
    last: Date,
) -> Result<(), Refusal> {
    let zone = zone(session.state)?;
    let windows = resolve::windows(&zone, said, first, last);
    let stretch = Window { from: resolve::start_of(&zone, first), until: resolve::start_of(&zone, last) };
    let resolved = resolve::joined(stretch, windows, &windows_now(session.state, person));
    let revision = session.state.shop.get(&()).map_or(0, |shop| shop.calendar_revision) + 1;
    session.emit(Fact::CalendarSet { revision, change, person, resolved: resolved.into() })?;
    Ok(())
}

/// The loaded windows of a scope.
fn windows_now(state: &State, person: Option<PersonId>) -> Vec<Window> {
    match person {
        None => state.open_windows.iter().map(|row| Window { from: row.from_at, until: row.until_at }).collect(),
        Some(person) => {
            let theirs = state.shift_windows.iter().filter(|row| row.person == person);
            theirs.map(|row| Window { from: row.from_at, until: row.until_at }).collect()
        }
    }
}

impl From<resolve::Joined> for Resolved {
    fn from(joined: resolve::Joined) -> Self {
        Self { from: joined.stretch.from, until: joined.stretch.until, windows: joined.windows }
    }
}

/// A day that is not out of all reason.
fn near_date(session: &Session, field: &str, text: &str) -> Result<Date, Refusal> {
    let day = check::date(field, text)?;
    let today = today(session.state, session.context.now)?;
    let span = Span::new().years(YEARS_MAX);
    if today.saturating_sub(span) <= day && day <= today.saturating_add(span) {
        return Ok(day);
    }
    let why = format!("{day} is more than {YEARS_MAX} years from today ({today}); give a nearer day");
    Err(Refusal::invalid(field, why))
}

fn check_week(week: &Week) -> Result<Week, Refusal> {
    let mut checked = Week::default();
    for (at, hours) in week.0.iter().enumerate() {
        checked.0[at] = check_day(&format!("week[{at}]"), hours)?;
    }
    Ok(checked)
}

/// Hours of a day: in order and apart; those that touch become one.
fn check_day(field: &str, hours: &[DayHours]) -> Result<Vec<DayHours>, Refusal> {
    if hours.len() > STRETCHES_MAX {
        let why = format!("it has {} stretches and at most {STRETCHES_MAX} fit; join some", hours.len());
        return Err(Refusal::invalid(field, why));
    }
    let mut checked: Vec<DayHours> = Vec::new();
    for (at, stretch) in hours.iter().enumerate() {
        let DayHours { from_minute, until_minute } = *stretch;
        if !(0 <= from_minute && from_minute < until_minute && until_minute <= DAY_MINUTES) {
            let why = format!(
                "minutes {from_minute} to {until_minute} are no hours of a day; give a start from 0 and a later end up to {DAY_MINUTES}"
            );
            return Err(Refusal::invalid(format!("{field}[{at}]"), why));
        }
        match checked.last_mut() {
            Some(last) if last.until_minute > from_minute => {
                let why = format!(
                    "it begins at minute {from_minute}, before the one before it ends; put them in order and apart"
                );
                return Err(Refusal::invalid(format!("{field}[{at}]"), why));
            }
            Some(last) if last.until_minute == from_minute => last.until_minute = until_minute,
            _ => checked.push(*stretch),
        }
    }
    Ok(checked)
}
