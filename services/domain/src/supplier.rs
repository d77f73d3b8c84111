//! When to order from a supplier, and when that arrives.
//!
//! Of all cut-offs that are still ahead the one counts whose goods arrive first; where several arrive together, the
//! latest of them, since nobody has to hurry before. A cut-off is over at its minute. Rounds know no holidays.
//!
//! The clocks change: a local time that they leave out stands for the moment at which they do. Of a time that comes
//! twice, a cut-off is the first one and an arrival the second, so that nobody orders too late or waits in vain.

use crate::decide::{earliest, latest, zone};
use crate::state::State;
use jiff::Span;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use leadhand_facts::supplier::Round;
use leadhand_facts::{Instant, ItemKey, SupplierKey};
use std::cmp::Reverse;

/// Within so many days every weekday comes once more.
const WEEK: i32 = 7;

/// When to order next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NextOrder {
    /// The cut-off.
    pub order_by: Instant,
    /// When what was ordered by then arrives.
    pub here_at: Instant,
    /// Whether the cut-off is on the shop's present day.
    pub today: bool,
    /// Whether a cut-off of the present day is over, and this one is on a later day.
    pub passed_today: bool,
    /// Whole minutes until the cut-off.
    pub minutes_left: i64,
}

/// From whom to order an item, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Order {
    /// The supplier.
    pub supplier: SupplierKey,
    /// What it is called.
    pub name: String,
    /// When; nothing for a supplier without rounds.
    pub next: Option<NextOrder>,
}

/// The next order by these rounds; nothing without rounds.
pub fn next_order(rounds: &[Round], zone: &TimeZone, now: Instant) -> Option<NextOrder> {
    let today = zone.to_datetime(now.timestamp()?).date();
    let cuts: Vec<(Date, Instant, Instant)> = (0..=WEEK).flat_map(|days| on(rounds, zone, plus(today, days))).collect();
    let ahead = cuts.iter().filter(|(_, order_by, _)| *order_by > now);
    let (day, order_by, here_at) = *ahead.min_by_key(|(_, order_by, here_at)| (*here_at, Reverse(*order_by)))?;
    let passed = cuts.iter().any(|(day, order_by, _)| *day == today && *order_by <= now);
    Some(NextOrder {
        order_by,
        here_at,
        today: day == today,
        passed_today: passed && day != today,
        minutes_left: order_by.since_us(now).div_euclid(leadhand_facts::instant::MINUTE_US),
    })
}

/// The cut-offs of a day, each with its arrival.
fn on(rounds: &[Round], zone: &TimeZone, day: Date) -> Vec<(Date, Instant, Instant)> {
    let weekday = i32::from(day.weekday().to_monday_one_offset());
    let that_day = rounds.iter().filter(|round| round.weekdays.contains(&weekday));
    let cut = |round: &Round| {
        let order_by = earliest(zone, day, round.order_by_minute);
        (day, order_by, latest(zone, plus(day, round.days_later), round.here_minute).max(order_by))
    };
    that_day.map(cut).collect()
}

fn plus(day: Date, days: i32) -> Date {
    day.saturating_add(Span::new().days(days))
}

/// From whom to order an item that is loaded; nothing when it names no supplier.
pub fn order_of(state: &State, item: &ItemKey, now: Instant) -> Option<Order> {
    let supplier = state.items.get(&(item.clone(),))?.supplier.clone()?;
    order_from(state, &supplier, now)
}

/// When to order from a supplier.
pub fn order_from(state: &State, supplier: &SupplierKey, now: Instant) -> Option<Order> {
    let row = state.suppliers.get(&(supplier.clone(),))?;
    let zone = zone(state).ok()?;
    Some(Order { supplier: supplier.clone(), name: row.name.clone(), next: next_order(&row.rounds, &zone, now) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::tz::TimeZoneDatabase;

    fn zoned(name: &str) -> TimeZone {
        TimeZoneDatabase::bundled().get(name).expect("it is in the table that comes along")
    }

    fn round(weekdays: &[i32], order_by_minute: i32, here_minute: i32, days_later: i32) -> Round {
        Round { weekdays: weekdays.to_vec(), order_by_minute, here_minute, days_later }
    }

    fn at(text: &str) -> Instant {
        Instant::parse(text).expect("it is RFC 3339")
    }

    /// Mon-Fri 10:30 here 14:00; Mon-Thu 17:00 here 8:00 next day; Fri 17:00 here Mon 8:00.
    fn usual() -> Vec<Round> {
        vec![round(&[1, 2, 3, 4, 5], 630, 840, 0), round(&[1, 2, 3, 4], 1_020, 480, 1), round(&[5], 1_020, 480, 3)]
    }

    /// In UTC. 2026-05-04 was a Monday (ISO 8601 week date 2026-W19-1).
    fn next(now: &str) -> (String, String, bool, bool, i64) {
        let found = next_order(&usual(), &TimeZone::UTC, at(now)).expect("there are rounds");
        let NextOrder { order_by, here_at, today, passed_today, minutes_left } = found;
        (order_by.to_string(), here_at.to_string(), today, passed_today, minutes_left)
    }

    fn due(order_by: &str, here_at: &str, today: bool, passed: bool, left: i64) -> (String, String, bool, bool, i64) {
        (format!("2026-05-{order_by}:00Z"), format!("2026-05-{here_at}:00Z"), today, passed, left)
    }

    #[test]
    fn the_next_cut_off_and_its_arrival_follow_from_the_rounds() {
        assert_eq!(next("2026-05-04T10:05:00Z"), due("04T10:30", "04T14:00", true, false, 25));
        assert_eq!(next("2026-05-04T10:29:01Z"), due("04T10:30", "04T14:00", true, false, 0));
        assert_eq!(next("2026-05-04T10:30:00Z"), due("04T17:00", "05T08:00", true, false, 390), "over at its minute");
        assert_eq!(next("2026-05-04T17:00:00Z"), due("05T10:30", "05T14:00", false, true, 1_050));
        assert_eq!(next("2026-05-08T12:00:00Z"), due("08T17:00", "11T08:00", true, false, 300), "over the weekend");
        assert_eq!(next("2026-05-08T18:00:00Z"), due("11T10:30", "11T14:00", false, true, 3_870));
        assert_eq!(next("2026-05-09T09:00:00Z"), due("11T10:30", "11T14:00", false, false, 2_970), "none on Saturday");
    }

    #[test]
    fn what_arrives_first_counts_and_of_those_the_latest_cut_off() {
        let rounds = [round(&[1], 540, 480, 3), round(&[1], 630, 840, 0)];
        let found = next_order(&rounds, &TimeZone::UTC, at("2026-05-04T08:00:00Z")).expect("there are rounds");
        assert_eq!(found.order_by, at("2026-05-04T10:30:00Z"), "the slow round's cut-off is sooner and does not help");
        let rounds = [round(&[1], 540, 480, 1), round(&[1], 960, 480, 1)];
        let found = next_order(&rounds, &TimeZone::UTC, at("2026-05-04T08:00:00Z")).expect("there are rounds");
        assert_eq!(found.order_by, at("2026-05-04T16:00:00Z"), "both are here on Tuesday at 8:00");
    }

    #[test]
    fn one_round_a_week_is_found_a_week_later_and_none_without_rounds() {
        let weekly = [round(&[1], 600, 700, 14)];
        let found = next_order(&weekly, &TimeZone::UTC, at("2026-05-04T10:00:00Z")).expect("there is a round");
        assert_eq!((found.order_by, found.here_at), (at("2026-05-11T10:00:00Z"), at("2026-05-25T11:40:00Z")));
        assert!(found.passed_today);
        assert_eq!(next_order(&[], &TimeZone::UTC, at("2026-05-04T10:00:00Z")), None);
    }

    /// IANA time zone database, rule EU: clocks in Berlin go from 02:00 CET to 03:00 CEST on 2026-03-29 at 01:00 UTC,
    /// and from 03:00 CEST to 02:00 CET on 2026-10-25 at 01:00 UTC. jiff's `AmbiguousOffset` names such times a gap
    /// and a fold. Both days are Sundays.
    #[test]
    fn a_time_that_is_left_out_or_comes_twice_is_on_the_safe_side() {
        let berlin = zoned("Europe/Berlin");
        let sunday = |minute, here, days_later| [round(&[7], minute, here, days_later)];
        let next = |rounds: &[Round], now| next_order(rounds, &berlin, at(now)).expect("there is a round");
        let gap = next(&sunday(150, 600, 0), "2026-03-29T00:30:00Z");
        assert_eq!((gap.order_by, gap.here_at), (at("2026-03-29T01:00:00Z"), at("2026-03-29T08:00:00Z")));
        assert_eq!(gap.minutes_left, 30);
        let over = next(&sunday(150, 600, 0), "2026-03-29T01:00:00Z");
        assert_eq!((over.order_by, over.passed_today), (at("2026-04-05T00:30:00Z"), true));
        let first = next(&sunday(150, 600, 0), "2026-10-25T00:00:00Z");
        assert_eq!(first.order_by, at("2026-10-25T00:30:00Z"), "02:30 CEST, not 02:30 CET");
        let over = next(&sunday(150, 600, 0), "2026-10-25T00:45:00Z");
        assert_eq!(over.order_by, at("2026-11-01T01:30:00Z"), "the second 02:30 is no cut-off");
        let second = next(&[round(&[6], 600, 150, 1)], "2026-10-24T06:00:00Z");
        assert_eq!(second.here_at, at("2026-10-25T01:30:00Z"), "it arrives by 02:30 CET at the latest");
        let gap = next(&[round(&[6], 600, 150, 1)], "2026-03-28T06:00:00Z");
        assert_eq!(gap.here_at, at("2026-03-29T01:00:00Z"));
    }

    /// IANA time zone database: clocks in Berlin stand at UTC+1 on Saturday 2026-03-28 and UTC+2 on Monday 2026-03-30;
    /// those on Lord Howe Island (Australia/Lord_Howe) go back by half an hour on 2026-04-05, at 15:00 UTC on the day before.
    #[test]
    fn a_round_keeps_its_local_times_when_the_clocks_change_meanwhile() {
        let berlin = zoned("Europe/Berlin");
        let over = next_order(&[round(&[6], 600, 480, 2)], &berlin, at("2026-03-28T08:00:00Z")).expect("a round");
        assert_eq!((over.order_by, over.here_at), (at("2026-03-28T09:00:00Z"), at("2026-03-30T06:00:00Z")));
        let island = zoned("Australia/Lord_Howe");
        let twice = next_order(&[round(&[7], 105, 600, 0)], &island, at("2026-04-04T14:00:00Z")).expect("a round");
        assert_eq!(twice.order_by, at("2026-04-04T14:45:00Z"), "01:45 at UTC+11, before it comes again at UTC+10:30");
    }
}
