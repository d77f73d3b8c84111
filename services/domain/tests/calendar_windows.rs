//! Shop hours, days and shifts, and the windows that follow. Changes of the clocks are those of
//! the IANA time-zone database; expected instants were worked out by hand from its offsets.

#[path = "stock_kit/mod.rs"]
mod stock_kit;

use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_facts::calendar::{DayHours, Week};
use leadhand_facts::*;
use stock_kit::*;

fn hours(from_minute: i32, until_minute: i32) -> DayHours {
    DayHours { from_minute, until_minute }
}

/// The same hours every day.
fn daily(stretches: &[DayHours]) -> Week {
    Week(std::array::from_fn(|_| stretches.to_vec()))
}

fn set(from_day: &str, week: Week) -> SetHours {
    SetHours { from_day: from_day.into(), week }
}

fn holiday(day: &str) -> SetDay {
    SetDay { day: day.into(), hours: vec![], reason: Some("holiday".into()) }
}

/// Windows that meet a stretch, as text.
fn windows(shop: &Shop, from: &str, until: &str) -> Vec<String> {
    let stretch = Window { from: instant(from), until: instant(until) };
    let rows = shop.state.open_windows.iter().map(|row| Window { from: row.from_at, until: row.until_at });
    rows.filter(|window| window.meets(stretch)).map(|window| format!("{} {}", window.from, window.until)).collect()
}

#[test]
fn a_start_that_the_clocks_leave_out_is_the_change_itself() {
    // New York, 8 March 2026: 02:00 EST becomes 03:00 EDT at 07:00Z.
    let mut shop = Shop::open("America/New_York", "2026-03-01T12:00:00Z");
    shop.must(set("2026-03-01", daily(&[hours(150, 300)])));
    assert_eq!(
        windows(&shop, "2026-03-07T00:00:00Z", "2026-03-09T00:00:00Z"),
        ["2026-03-07T07:30:00Z 2026-03-07T10:00:00Z", "2026-03-08T07:00:00Z 2026-03-08T09:00:00Z",]
    );
    // An end that is left out is the change as well, and nothing is left of what lies within.
    shop.must(set("2026-03-02", daily(&[hours(60, 130), hours(140, 170)])));
    assert_eq!(
        windows(&shop, "2026-03-08T05:00:00Z", "2026-03-09T00:00:00Z"),
        ["2026-03-08T06:00:00Z 2026-03-08T07:00:00Z"]
    );
}

#[test]
fn a_time_that_comes_twice_opens_the_first_time_and_closes_the_second() {
    // New York, 1 November 2026: 02:00 EDT becomes 01:00 EST at 06:00Z.
    let mut shop = Shop::open("America/New_York", "2026-10-01T12:00:00Z");
    shop.must(set("2026-10-01", daily(&[hours(90, 300)])));
    assert_eq!(
        windows(&shop, "2026-11-01T00:00:00Z", "2026-11-02T00:00:00Z"),
        ["2026-11-01T05:30:00Z 2026-11-01T10:00:00Z"]
    );
    shop.must(set("2026-10-02", daily(&[hours(0, 90)])));
    assert_eq!(
        windows(&shop, "2026-11-01T00:00:00Z", "2026-11-02T00:00:00Z"),
        ["2026-11-01T04:00:00Z 2026-11-01T06:30:00Z"]
    );
    // Two stretches that reach into each other become one.
    shop.must(set("2026-10-03", daily(&[hours(0, 75), hours(105, 300)])));
    assert_eq!(
        windows(&shop, "2026-11-01T00:00:00Z", "2026-11-02T00:00:00Z"),
        ["2026-11-01T04:00:00Z 2026-11-01T10:00:00Z"]
    );
}

#[test]
fn midnight_itself_may_be_left_out_or_come_twice() {
    // Havana, 9 March 2025: 00:00 becomes 01:00 at 05:00Z; 2 November: 01:00 becomes 00:00 at 05:00Z.
    // A year that is over, because the rules there change often.
    let mut shop = Shop::open("America/Havana", "2025-03-01T12:00:00Z");
    shop.must(set("2025-03-01", daily(&[hours(0, 120), hours(1380, 1440)])));
    assert_eq!(
        windows(&shop, "2025-03-09T00:00:00Z", "2025-03-10T00:00:00Z"),
        ["2025-03-09T04:00:00Z 2025-03-09T06:00:00Z"]
    );
    assert_eq!(
        windows(&shop, "2025-11-02T00:00:00Z", "2025-11-03T00:00:00Z"),
        ["2025-11-02T03:00:00Z 2025-11-02T07:00:00Z"]
    );
    // A day that ends in the hour that comes twice: setting it alone leaves its neighbours whole.
    shop.must(SetDay { day: "2025-11-01".into(), hours: vec![hours(600, 1440)], reason: None });
    assert_eq!(
        windows(&shop, "2025-11-01T12:00:00Z", "2025-11-03T00:00:00Z"),
        ["2025-11-01T14:00:00Z 2025-11-02T07:00:00Z"]
    );
}

#[test]
fn hours_through_midnight_are_one_window_and_a_holiday_cuts_them() {
    let mut shop = Shop::open("UTC", "2026-05-01T12:00:00Z");
    shop.must(set("2026-05-01", daily(&[hours(0, 1440)])));
    assert_eq!(shop.state.open_windows.len(), 1, "400 days without a gap");
    shop.must(holiday("2026-05-10"));
    assert_eq!(
        windows(&shop, "2026-05-09T00:00:00Z", "2026-05-12T00:00:00Z"),
        ["2026-05-01T00:00:00Z 2026-05-10T00:00:00Z", "2026-05-11T00:00:00Z 2027-06-05T00:00:00Z",]
    );
    shop.must(SetDay { day: "2026-05-10".into(), hours: vec![hours(0, 1440)], reason: None });
    assert_eq!(shop.state.open_windows.len(), 1, "the newest word about a day holds, and what touches is one");
}

#[test]
fn a_day_beats_every_week_and_the_newest_week_holds_from_its_first_day() {
    let mut shop = Shop::open("UTC", "2026-05-01T12:00:00Z");
    shop.must(set("2026-05-01", daily(&[hours(480, 960)])));
    shop.must(holiday("2026-06-01"));
    shop.must(set("2026-07-01", daily(&[hours(540, 1020)])));
    shop.must(set("2026-05-20", daily(&[hours(600, 1080)])));
    let of = |day: &str| windows(&shop, &format!("{day}T00:00:00Z"), &format!("{day}T23:59:00Z"));
    assert_eq!(of("2026-05-19"), ["2026-05-19T08:00:00Z 2026-05-19T16:00:00Z"]);
    assert_eq!(of("2026-05-31"), ["2026-05-31T10:00:00Z 2026-05-31T18:00:00Z"]);
    assert_eq!(of("2026-06-01"), [""; 0]);
    assert_eq!(of("2026-07-01"), ["2026-07-01T10:00:00Z 2026-07-01T18:00:00Z"]);
}

#[test]
fn the_past_stays_but_first_hours_may_begin_in_it() {
    let mut shop = Shop::open("Pacific/Auckland", "2026-05-01T13:00:00Z");
    shop.must(set("2026-04-01", daily(&[hours(480, 960)])));
    assert_eq!(windows(&shop, "2026-03-30T00:00:00Z", "2026-04-01T23:00:00Z").len(), 2);
    let refusal = shop.refused(set("2026-05-01", daily(&[hours(480, 960)])));
    assert_eq!(refusal.reason(), "CALENDAR_PAST", "it is the second of May there already");
    assert_eq!(shop.refused(holiday("2026-05-01")).reason(), "CALENDAR_PAST");
    shop.must(set("2026-05-02", daily(&[hours(480, 900)])));
    shop.must(holiday("2026-05-02"));
    assert_eq!(
        shop.refused(holiday("2026-03-31")).reason(),
        "CALENDAR_PAST",
        "past days stay, before the first hours too"
    );
}

#[test]
fn hours_are_checked_field_by_field() {
    let mut shop = Shop::open("UTC", "2026-05-01T12:00:00Z");
    let touching = daily(&[hours(0, 60), hours(60, 120)]);
    for (command, field) in [
        (Command::from(set("2026-5-1", daily(&[hours(0, 1)]))), "from_day"),
        (set("2037-05-01", daily(&[hours(0, 1)])).into(), "from_day"),
        (set("2026-05-01", Week::default()).into(), "week"),
        (set("2026-05-01", daily(&[hours(-1, 60)])).into(), "week[0][0]"),
        (set("2026-05-01", daily(&[hours(60, 60)])).into(), "week[0][0]"),
        (set("2026-05-01", daily(&[hours(0, 1441)])).into(), "week[0][0]"),
        (set("2026-05-01", daily(&[hours(60, 120), hours(0, 30)])).into(), "week[0][1]"),
        (set("2026-05-01", daily(&[hours(60, 120), hours(100, 130)])).into(), "week[0][1]"),
        (SetDay { day: "tomorrow".into(), hours: vec![], reason: None }.into(), "day"),
        (SetDay { day: "2026-05-02".into(), hours: vec![hours(9, 8)], reason: None }.into(), "hours[0]"),
        (SetDay { day: "2026-05-02".into(), hours: vec![], reason: Some("\0".into()) }.into(), "reason"),
    ] {
        let refusal = shop.refused(command.clone());
        assert_eq!(refusal.field(), Some(field), "{command:?}: {refusal}");
    }
    shop.must(set("2026-05-01", touching));
    assert_eq!(
        windows(&shop, "2026-05-02T00:00:00Z", "2026-05-03T00:00:00Z"),
        ["2026-05-02T00:00:00Z 2026-05-02T02:00:00Z"]
    );
}

#[test]
fn the_timer_resolves_further_before_windows_run_out() {
    let mut shop = Shop::open("Europe/Lisbon", "2026-05-01T12:00:00Z");
    shop.must(set("2026-05-01", daily(&[hours(480, 960)])));
    shop.must(holiday("2027-12-24"));
    shop.now = Instant::parse("2026-11-01T12:00:00Z").unwrap();
    shop.must(Tick {});
    assert!(shop.facts.is_empty(), "more than 200 days are left");
    shop.now = Instant::parse("2027-01-01T12:00:00Z").unwrap();
    shop.must(Tick {});
    assert_eq!(shop.facts.len(), 1);
    assert_eq!(
        windows(&shop, "2027-12-23T00:00:00Z", "2027-12-25T23:00:00Z"),
        ["2027-12-23T08:00:00Z 2027-12-23T16:00:00Z", "2027-12-25T08:00:00Z 2027-12-25T16:00:00Z",]
    );
    // Every day from the first until 400 days after the second resolution, but for the holiday.
    assert_eq!(shop.state.open_windows.len(), 245 + 400 - 1);
    shop.must(Tick {});
    assert!(shop.facts.is_empty());
}

/// The days on which the database says that there is something to do: tests/store/due.rs.
#[test]
fn the_timer_acts_when_the_last_local_day_is_less_than_200_days_away() {
    let mut shop = Shop::open("Europe/Lisbon", "2026-05-01T12:00:00Z");
    shop.must(holiday("2026-06-01"));
    shop.must(Tick {});
    assert!(shop.facts.is_empty(), "a holiday alone is no calendar");
    // The first of May and 399 days after it are resolved: until the fifth of June 2027, without it.
    shop.must(set("2026-05-01", daily(&[hours(480, 960)])));
    shop.must(holiday("2028-06-01"));
    // In Lisbon the day ends at midnight of UTC in winter. 200 days before the fifth of June is the
    // seventeenth of November.
    shop.now = instant("2026-11-17T23:50:00Z");
    shop.must(Tick {});
    assert!(shop.facts.is_empty(), "200 days are left");
    shop.now = instant("2026-11-17T23:59:30Z");
    shop.must(Tick {});
    assert_eq!(shop.facts.len(), 1, "199 days are left");
}

#[test]
fn hours_that_begin_far_ahead_leave_no_gap_before_them() {
    let mut shop = Shop::open("UTC", "2026-05-01T12:00:00Z");
    shop.must(set("2026-05-01", daily(&[hours(480, 960)])));
    shop.must(set("2028-05-01", daily(&[hours(540, 960)])));
    let days = 365 + 366 + 400;
    assert_eq!(shop.state.open_windows.len(), days);
    shop.must(set("2026-06-01", daily(&[hours(600, 960)])));
    assert_eq!(shop.state.open_windows.len(), days, "what was resolved is replaced to its end");
}

#[test]
fn shifts_are_a_persons_own() {
    let mut shop = Shop::open("UTC", "2026-05-01T12:00:00Z");
    let mut add = |name: &str| match shop.must(AddPerson { name: name.into(), skills: vec![] }).made {
        Made::Person(person) => person,
        made => panic!("{made:?}"),
    };
    let (one, other) = (add("one"), add("other"));
    let shift = |person, from_day: &str, week| SetShift { person, from_day: from_day.into(), week };
    shop.must(shift(one, "2026-04-01", daily(&[hours(480, 960)])));
    shop.must(shift(other, "2026-05-01", daily(&[hours(960, 1440)])));
    assert_eq!(shop.refused(shift(one, "2026-04-30", Week::default())).reason(), "CALENDAR_PAST");
    shop.must(shift(one, "2026-05-10", Week::default()));
    let of = |person| shop.state.shift_windows.iter().filter(|row| row.person == person).count();
    assert_eq!((of(one), of(other)), (39, 400), "no shift from the tenth of May on");
    assert!(shop.state.open_windows.is_empty());
    let nobody = PersonId(uuid::Uuid::from_u128(7));
    assert_eq!(shop.refused(shift(nobody, "2026-05-01", Week::default())).reason(), "NOT_FOUND");
    shop.now = Instant::parse("2027-01-01T12:00:00Z").unwrap();
    shop.must(Tick {});
    assert_eq!(shop.facts.len(), 2, "one for each person who has windows");
}
