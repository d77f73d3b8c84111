//! How long somebody stays signed in: at a bay until the shift ends, at a desk for the hour that proves who leads.
//!
//! The server ends a session by itself, and lets one that lasts beyond the hour lead nobody: a tablet lies open in a bay
//! all day. What asks for a proof, such as a second look or a lead's word, asks for it anew.

use crate::pages::Screen;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use leadhand_sdk::moment;
use leadhand_sdk::v1::GetCalendarRequest;

/// As long as a session may last that proves who leads, in minutes (the contract's `SignIn`).
const HOUR: i32 = 60;
/// The longest that the contract lets a session last, in minutes.
const LONGEST: i32 = 960;
/// Somebody who clocks off has this long after the end of the hours, in minutes (common practice).
const AFTER: i32 = 30;

/// Minutes for whoever signs in to go to this page.
pub async fn minutes(screen: &Screen, to: &str) -> i32 {
    if !to.starts_with("/bay/") {
        return HOUR;
    }
    let frame = screen.hub.frame();
    let Some(zone) = frame.zone.clone() else { return HOUR };
    let now = frame.now(tokio::time::Instant::now());
    match screen.client.get_calendar(GetCalendarRequest::default()).await {
        Ok(calendar) => {
            let windows = calendar.windows.iter().filter_map(|window| {
                let edge = |at: &Option<leadhand_sdk::WireTimestamp>| at.as_ref().and_then(moment::from_wire);
                Some((edge(&window.from_at)?, edge(&window.until_at)?))
            });
            until_the_end(windows, &zone, now)
        }
        Err(error) => {
            tracing::warn!("the shop's hours can't be read, so a session lasts an hour: {error}");
            HOUR
        }
    }
}

/// Minutes until the last of today's hours ends, and some more; an hour where there are none.
fn until_the_end(hours: impl Iterator<Item = (Timestamp, Timestamp)>, zone: &TimeZone, now: Timestamp) -> i32 {
    let today = now.to_zoned_datetime(zone.clone()).date();
    let own = hours
        .filter(|(from, until)| *until > now && (*from <= now || from.to_zoned_datetime(zone.clone()).date() == today));
    let Some(end) = own.map(|(_, until)| until).max() else { return HOUR };
    let left = end.duration_since(now) + SignedDuration::from_mins(i64::from(AFTER));
    i32::try_from(left.as_mins()).unwrap_or(LONGEST).clamp(HOUR, LONGEST)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn minutes(hours: &[(&str, &str)], now: &str) -> i32 {
        let zone = TimeZone::get("Europe/Lisbon").unwrap();
        let hours = hours.iter().map(|(from, until)| (from.parse().unwrap(), until.parse().unwrap()));
        until_the_end(hours, &zone, now.parse().unwrap())
    }

    #[test]
    fn somebody_at_a_bay_stays_signed_in_until_the_last_hours_of_the_day_are_over() {
        // Lisbon has UTC + 1 in June (IANA time zone database).
        let day = [
            ("2031-06-10T07:00:00Z", "2031-06-10T11:00:00Z"),
            ("2031-06-10T11:30:00Z", "2031-06-10T16:30:00Z"),
            ("2031-06-11T07:00:00Z", "2031-06-11T11:00:00Z"),
        ];
        assert_eq!(minutes(&day, "2031-06-10T07:00:00Z"), 9 * 60 + 30 + 30, "over the break");
        assert_eq!(minutes(&day, "2031-06-10T06:45:00Z"), 9 * 60 + 45 + 30, "who comes early");
        assert_eq!(minutes(&day, "2031-06-10T16:29:00Z"), 60, "an hour at least");
        assert_eq!(minutes(&day, "2031-06-10T18:00:00Z"), 60, "after hours");
        assert_eq!(minutes(&[], "2031-06-10T08:00:00Z"), 60, "a shop without hours");
        let night = [("2031-06-10T20:00:00Z", "2031-06-11T05:00:00Z")];
        assert_eq!(minutes(&night, "2031-06-11T01:00:00Z"), 4 * 60 + 30, "over midnight");
        let long = [("2031-06-10T00:00:00Z", "2031-06-10T22:30:00Z")];
        assert_eq!(minutes(&long, "2031-06-10T00:10:00Z"), 960, "as long as the contract allows");
    }
}
