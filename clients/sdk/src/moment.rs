//! Times as people write and read them, in the shop's zone.

use jiff::civil::{Date, DateTime, Time};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};

/// The client's clock.
#[expect(clippy::disallowed_methods, reason = "a client reads its own clock, here and nowhere else")]
pub fn now() -> Timestamp {
    Timestamp::now()
}

/// A time as it was typed: RFC 3339, `YYYY-MM-DD HH:MM`, or `HH:MM` of today; the last two in
/// the shop's zone.
pub fn parse(text: &str, zone: &TimeZone, now: Timestamp) -> Result<Timestamp, String> {
    let text = text.trim();
    if let Ok(exact) = text.parse::<Timestamp>() {
        return Ok(exact);
    }
    let local = if let Ok(time) = Time::strptime("%H:%M", text) {
        now.to_zoned_datetime(zone.clone()).date().to_datetime(time)
    } else {
        local_moment(text).ok_or_else(|| {
            format!("'{text}' is not a time; write HH:MM for today, YYYY-MM-DD HH:MM, or RFC 3339 such as 2031-03-03T14:30:00Z")
        })?
    };
    let exact = zone.to_ambiguous_timestamp(local).unambiguous().map_err(|_| {
        format!(
            "on {} the clocks change, and {} comes twice or never; write it in RFC 3339 with an offset",
            local.date(),
            short_time(local)
        )
    })?;
    Ok(exact)
}

fn local_moment(text: &str) -> Option<DateTime> {
    ["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S"]
        .iter()
        .find_map(|format| DateTime::strptime(format, text).ok())
}

/// A day as it was typed, for clap.
pub fn parse_day(text: &str) -> Result<String, String> {
    match Date::strptime("%Y-%m-%d", text) {
        Ok(day) => Ok(day.to_string()),
        Err(_) => Err("not a day; write YYYY-MM-DD".to_owned()),
    }
}

/// The day after one that was typed.
pub fn day_after(day: &str) -> Result<String, String> {
    let next = Date::strptime("%Y-%m-%d", day).and_then(Date::tomorrow);
    next.map(|day| day.to_string()).map_err(|_| format!("{day} has no day after it that can be written"))
}

/// On the wire.
pub fn to_wire(at: Timestamp) -> prost_types::Timestamp {
    // jiff keeps the sign of the fraction equal to that of the seconds; the wire wants it positive.
    let (seconds, nanos) = (at.as_second(), at.subsec_nanosecond());
    if nanos < 0 {
        prost_types::Timestamp { seconds: seconds - 1, nanos: nanos + 1_000_000_000 }
    } else {
        prost_types::Timestamp { seconds, nanos }
    }
}

/// From the wire; `None` when it is out of all bounds.
pub fn from_wire(at: &prost_types::Timestamp) -> Option<Timestamp> {
    Timestamp::new(at.seconds, at.nanos).ok()
}

/// Day and minute in the shop's zone; empty when there is none.
pub fn show(at: Option<&prost_types::Timestamp>, zone: &TimeZone) -> String {
    at.and_then(from_wire)
        .map(|at| at.to_zoned_datetime(zone.clone()).strftime("%Y-%m-%d %H:%M").to_string())
        .unwrap_or_default()
}

/// Days in which a month says which year is meant.
const NEAR_DAYS: i64 = 180;

/// In which order a date is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DateOrder {
    /// Wed 11 Jun, and 2031-06-11 from afar.
    DayFirst,
    /// Wed, Jun 11, and Jun 11, 2031 from afar.
    MonthFirst,
}

/// As short as it can be understood now: the minute today, weekday and day of the month within
/// some months, else the whole date.
pub fn show_near(at: Option<&prost_types::Timestamp>, zone: &TimeZone, now: Timestamp) -> String {
    show_near_in(at, zone, now, DateOrder::DayFirst)
}

/// The same with its date in this order.
pub fn show_near_in(at: Option<&prost_types::Timestamp>, zone: &TimeZone, now: Timestamp, order: DateOrder) -> String {
    let Some(at) = at.and_then(from_wire) else { return String::new() };
    let (at, today) = (at.to_zoned_datetime(zone.clone()), now.to_zoned_datetime(zone.clone()).date());
    let near = at.date() > today - NEAR_DAYS.days() && at.date() < today + NEAR_DAYS.days();
    let format = match (at.date() == today, near, order) {
        (true, ..) => "%H:%M",
        (false, true, DateOrder::DayFirst) => "%a %-d %b %H:%M",
        (false, true, DateOrder::MonthFirst) => "%a, %b %-d, %H:%M",
        (false, false, DateOrder::DayFirst) => "%Y-%m-%d %H:%M",
        (false, false, DateOrder::MonthFirst) => "%b %-d, %Y, %H:%M",
    };
    at.strftime(format).to_string()
}

fn short_time(local: DateTime) -> String {
    local.time().strftime("%H:%M").to_string()
}

/// How long, as people say it: "2 h 05 min", "45 min", "12 s".
pub fn show_length(seconds: i64) -> String {
    let (sign, seconds) = (if seconds < 0 { "-" } else { "" }, seconds.unsigned_abs());
    let (hours, minutes) = (seconds / 3600, seconds % 3600 / 60);
    match (hours, minutes) {
        (0, 0) if seconds > 0 => format!("{sign}{seconds} s"),
        (0, _) => format!("{sign}{minutes} min"),
        _ => format!("{sign}{hours} h {minutes:02} min"),
    }
}

/// How long a wire duration is, as people say it; nothing for none.
pub fn show_duration(length: Option<&prost_types::Duration>) -> String {
    length.map(|length| show_length(length.seconds)).unwrap_or_default()
}

/// How long it is from then to now, as people say it.
pub fn show_since(since: Option<&prost_types::Timestamp>, now: Timestamp) -> String {
    since.and_then(from_wire).map(|since| show_length((now.as_second() - since.as_second()).max(0))).unwrap_or_default()
}

/// Minutes as people say them.
pub fn show_minutes(minutes: f64) -> String {
    let seconds = (minutes * 60.0).round();
    if seconds.abs() < 9e15 {
        #[expect(clippy::cast_possible_truncation, reason = "bounded by the line above")]
        let seconds = seconds as i64;
        show_length(seconds)
    } else {
        "very long".to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn zone() -> TimeZone {
        TimeZone::get("Europe/London").unwrap()
    }

    fn read(text: &str) -> Result<String, String> {
        let now = "2031-06-10T12:00:00Z".parse().unwrap();
        parse(text, &zone(), now).map(|at| at.to_string())
    }

    /// British Summer Time is UTC+1 (IANA time zone database, Europe/London).
    #[test]
    fn times_are_read_in_the_shops_zone() {
        assert_eq!(read("09:40"), Ok("2031-06-10T08:40:00Z".to_owned()));
        assert_eq!(read("2031-01-07 09:40"), Ok("2031-01-07T09:40:00Z".to_owned()));
        assert_eq!(read("2031-06-07T09:40"), Ok("2031-06-07T08:40:00Z".to_owned()));
        assert_eq!(read("2031-06-07T09:40:00+02:00"), Ok("2031-06-07T07:40:00Z".to_owned()));
        assert_eq!(read("2031-06-07T09:40:00Z"), Ok("2031-06-07T09:40:00Z".to_owned()));
        for wrong in ["", "noon", "25:00", "2031-06-07", "2031-13-01 09:00", "9.40"] {
            assert!(read(wrong).is_err(), "'{wrong}' was taken");
        }
    }

    /// Clocks went forward on the last Sunday of March and back on that of October (IANA).
    #[test]
    fn a_minute_that_comes_twice_or_never_is_refused() {
        assert!(read("2031-03-30 01:30").unwrap_err().contains("clocks change"));
        assert!(read("2031-10-26 01:30").unwrap_err().contains("clocks change"));
        assert_eq!(read("2031-10-26T01:30:00+01:00"), Ok("2031-10-26T00:30:00Z".to_owned()));
    }

    #[test]
    fn times_are_shown_as_short_as_they_can_be_understood() {
        let now: Timestamp = "2031-06-10T12:00:00Z".parse().unwrap();
        let american =
            |text: &str| show_near_in(Some(&to_wire(text.parse().unwrap())), &zone(), now, DateOrder::MonthFirst);
        let shown = |text: &str| show_near(Some(&to_wire(text.parse().unwrap())), &zone(), now);
        assert_eq!(shown("2031-06-10T08:40:00Z"), "09:40");
        assert_eq!(shown("2031-06-12T08:40:00Z"), "Thu 12 Jun 09:40");
        assert_eq!(shown("2031-01-12T08:40:00Z"), "Sun 12 Jan 08:40");
        assert_eq!(shown("2032-06-12T08:40:00Z"), "2032-06-12 09:40");
        // The month before the day, as in the CLDR's patterns for en-US (MMMEd, yMMMd).
        assert_eq!(american("2031-06-10T08:40:00Z"), "09:40");
        assert_eq!(american("2031-06-12T08:40:00Z"), "Thu, Jun 12, 09:40");
        assert_eq!(american("2032-06-12T08:40:00Z"), "Jun 12, 2032, 09:40");
        assert_eq!(show(Some(&to_wire("1969-12-31T23:59:59.5Z".parse().unwrap())), &TimeZone::UTC), "1969-12-31 23:59");
    }

    #[test]
    fn lengths_are_said_in_hours_and_minutes() {
        assert_eq!(show_length(0), "0 min");
        assert_eq!(show_length(12), "12 s");
        assert_eq!(show_length(7500), "2 h 05 min");
        assert_eq!(show_length(-90), "-1 min");
        assert_eq!(show_minutes(90.0), "1 h 30 min");
        assert_eq!(parse_day("2031-03-03"), Ok("2031-03-03".to_owned()));
        assert!(parse_day("3 March").is_err());
    }

    /// google.protobuf.Timestamp: nanos are always counted forward.
    #[test]
    fn moments_before_1970_have_a_forward_fraction_on_the_wire() {
        let wire = to_wire("1969-12-31T23:59:59.5Z".parse().unwrap());
        assert_eq!((wire.seconds, wire.nanos), (-1, 500_000_000));
        assert_eq!(from_wire(&wire).unwrap().to_string(), "1969-12-31T23:59:59.5Z");
    }
}
