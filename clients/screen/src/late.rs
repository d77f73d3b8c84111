//! What is said late: a few times going back, so that nobody has to type one.

use crate::form::Fault;
use crate::view::Look;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use leadhand_sdk::v1::{GetCalendarRequest, Window};
use leadhand_sdk::{Client, SdkError, WireTimestamp, moment};

/// How many minutes back the tiles go.
const BACK: [i64; 10] = [5, 10, 15, 20, 30, 45, 60, 90, 120, 180];
/// Times are told to these minutes: nobody looked at the second.
const STEP: i64 = 5;

/// A time that may be touched.
pub struct Moment {
    /// As a form holds it.
    pub value: String,
    /// As people read it.
    pub words: String,
}

/// Times of the last hours, newest first, none before `since`.
pub fn back_to(since: Option<&WireTimestamp>, look: Look<'_>) -> Vec<Moment> {
    let since = since.and_then(moment::from_wire).unwrap_or(Timestamp::MIN);
    let mut seen = None;
    let mut all = Vec::new();
    for back in BACK {
        let Ok(at) = look.now.checked_sub(back.minutes()) else { continue };
        // What is said happened then or before: rounded down.
        let second = at.as_second() - at.as_second().rem_euclid(STEP * 60);
        let Ok(at) = Timestamp::from_second(second) else { continue };
        if at >= since && seen != Some(at) {
            seen = Some(at);
            let words = look.near(Some(&moment::to_wire(at)));
            all.push(Moment { value: at.to_string(), words });
        }
    }
    all
}

/// So many ends of the shop's hours are offered, latest first.
const CLOSINGS: usize = 4;

/// Ends of the shop's hours since somebody clocked on. Whoever is on the clock since an earlier day forgot to clock off,
/// mostly; on the same day the shop closed for a break at most.
pub async fn closings(
    client: &Client,
    since: Timestamp,
    now: Timestamp,
    zone: &TimeZone,
) -> Result<Vec<WireTimestamp>, SdkError> {
    if is_same_day(since, now, zone) {
        return Ok(Vec::new());
    }
    let (from_at, until_at) = (Some(moment::to_wire(since)), Some(moment::to_wire(now)));
    let asked = GetCalendarRequest { from_at, until_at, ..GetCalendarRequest::default() };
    Ok(closed_between(&client.get_calendar(asked).await?.windows, since, now))
}

fn is_same_day(first: Timestamp, then: Timestamp, zone: &TimeZone) -> bool {
    let day = |at: Timestamp| at.to_zoned_datetime(zone.clone()).date();
    day(first) == day(then)
}

fn closed_between(windows: &[Window], since: Timestamp, now: Timestamp) -> Vec<WireTimestamp> {
    let ends = windows.iter().filter_map(|window| moment::from_wire(window.until_at.as_ref()?));
    let mut ends: Vec<Timestamp> = ends.filter(|end| *end > since && *end < now).collect();
    ends.sort_unstable_by(|a, b| b.cmp(a));
    ends.into_iter().take(CLOSINGS).map(moment::to_wire).collect()
}

/// Tiles for moments.
pub fn tiles(all: &[WireTimestamp], look: Look<'_>) -> Vec<Moment> {
    let tile = |at: &WireTimestamp| {
        let value = moment::from_wire(at)?.to_string();
        Some(Moment { value, words: look.near(Some(at)) })
    };
    all.iter().filter_map(tile).collect()
}

/// The time that a form holds; nothing for now. What can't be read is no time at all, and not now.
pub fn said(value: &str) -> Result<Option<WireTimestamp>, Fault> {
    match value {
        "" => Ok(None),
        value => value.parse().map(|at| Some(moment::to_wire(at))).map_err(|_| Fault::unread("at", value)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::texts::Texts;

    fn words(now: &str, since: Option<&str>, zone: &str) -> Vec<String> {
        let (texts, zone) = (Texts::of("en-GB"), TimeZone::get(zone).unwrap());
        let look = Look { texts: &texts, zone: &zone, now: now.parse().unwrap() };
        let since = since.map(|since| moment::to_wire(since.parse().unwrap()));
        back_to(since.as_ref(), look).into_iter().map(|moment| moment.words).collect()
    }

    #[test]
    fn times_go_back_in_steps_that_people_say() {
        assert_eq!(
            words("2031-06-10T09:42:31Z", None, "Europe/London"),
            ["10:35", "10:30", "10:25", "10:20", "10:10", "09:55", "09:40", "09:10", "08:40", "07:40"]
        );
        assert_eq!(
            words("2031-06-10T09:42:31Z", Some("2031-06-10T09:20:00Z"), "UTC"),
            ["09:35", "09:30", "09:25", "09:20"]
        );
        assert!(words("2031-06-10T09:42:31Z", Some("2031-06-10T09:41:00Z"), "UTC").is_empty());
        assert_eq!(words("2031-06-10T00:12:00Z", None, "UTC")[2], "Mon 9 Jun 23:55", "yesterday says so");
    }

    #[test]
    fn who_forgot_to_clock_off_is_offered_when_the_shop_closed_since() {
        let at = |text: &str| text.parse::<Timestamp>().unwrap();
        let ends = ["2031-06-09T17:00:00Z", "2031-06-10T17:30:00Z", "2031-06-11T07:30:00Z", "2031-06-11T17:30:00Z"];
        let windows = ends.map(|end| Window { until_at: Some(moment::to_wire(at(end))), ..Window::default() });
        let closed = closed_between(&windows, at("2031-06-10T16:40:00Z"), at("2031-06-11T08:00:00Z"));
        let (texts, zone) = (Texts::of("en-GB"), TimeZone::UTC);
        let look = Look { texts: &texts, zone: &zone, now: at("2031-06-11T08:00:00Z") };
        let words: Vec<String> = tiles(&closed, look).into_iter().map(|tile| tile.words).collect();
        assert_eq!(words, ["07:30", "Tue 10 Jun 17:30"], "latest first, none before and none to come");
        let same = |first: &str, then: &str, zone: &TimeZone| is_same_day(at(first), at(then), zone);
        assert!(same("2031-06-10T08:00:00Z", "2031-06-10T13:00:00Z", &zone), "a break makes nobody forget");
        // Lisbon has UTC + 1 in June (IANA time zone database).
        let lisbon = TimeZone::get("Europe/Lisbon").unwrap();
        assert!(!same("2031-06-10T22:30:00Z", "2031-06-10T23:30:00Z", &lisbon), "midnight is the shop's");
    }

    #[test]
    fn a_form_without_a_time_means_now() {
        assert_eq!(said("").unwrap(), None);
        assert_eq!(said("1970-01-01T00:01:00Z").unwrap().map(|at| at.seconds), Some(60));
        let words = said("half past").unwrap_err().words(&Texts::of("en-GB")).concat();
        assert!(words.contains("half past"), "{words}");
    }
}
