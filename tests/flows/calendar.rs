//! Hours, holidays, shifts, and the two days on which the clocks change.
//!
//! Lisbon changes at 01:00 UTC on the last Sunday of March and of October (Directive 2000/84/EC, articles 2 and 3; IANA
//! tz, Europe/Lisbon).

use crate::clock::{MINUTE_US, length, us, written_at};
use crate::shop::{Shop, stopped};
use jiff::civil::{Date, Weekday, date};
use jiff::tz::TimeZone;
use jiff::{Span, Timestamp};
use leadhand_proto::v1;
use leadhand_sdk::new_write;

const ZONE: &str = "Europe/Lisbon";

fn days(day: Date, days: i32) -> Date {
    day.checked_add(Span::new().days(days)).unwrap()
}

fn last_sunday(year: i16, month: i8) -> Date {
    let last = date(year, month, 31);
    (0..7).map(|back| days(last, -back)).find(|day| day.weekday() == Weekday::Sunday).unwrap()
}

/// The last days before today on which the clocks went forward and back.
fn last_changes(today: Date) -> (Date, Date) {
    let last = |month| {
        let this_year = last_sunday(today.year(), month);
        if this_year < days(today, -3) { this_year } else { last_sunday(today.year() - 1, month) }
    };
    (last(3), last(10))
}

fn local(day: Date, hour: i8, minute: i8) -> prost_types::Timestamp {
    let at = TimeZone::get(ZONE).unwrap().to_timestamp(day.at(hour, minute, 0, 0)).unwrap();
    prost_types::Timestamp { seconds: at.as_second(), nanos: 0 }
}

async fn today(shop: &Shop) -> Date {
    let now = Timestamp::from_second(shop.now().await.seconds).unwrap();
    TimeZone::get(ZONE).unwrap().to_datetime(now).date()
}

fn hours(from_minute: i32, until_minute: i32) -> v1::DayHours {
    v1::DayHours { from_minute, until_minute }
}

async fn set_hours(shop: &Shop, from_day: Date, week: Vec<(i32, v1::DayHours)>) {
    let week = week.into_iter().map(|(weekday, hours)| v1::WeekdayHours { weekday, hours: vec![hours] }).collect();
    let asked = v1::SetHoursRequest { write: Some(new_write()), from_day: from_day.to_string(), week };
    shop.lead.set_hours(asked).await.unwrap();
}

fn set_day(day: Date, hours: Vec<v1::DayHours>) -> v1::SetDayRequest {
    v1::SetDayRequest { write: Some(new_write()), day: day.to_string(), hours, reason: "so it is".into() }
}

/// A stage that lived from 00:00 to 05:00 of a day: its labels in minutes of elapsed, outside, idle.
async fn night(shop: &Shop, day: Date) -> [i64; 3] {
    let title = "Night watch".to_owned();
    let (write, vehicle_label) = (written_at(local(day, 0, 0)), "night bus".to_owned());
    let asked = v1::OpenJobRequest { write, title: title.clone(), vehicle_label, ..Default::default() };
    let job = shop.lead.open_job(asked).await.unwrap().job;
    let stage = || "watch".to_owned();
    let write = written_at(local(day, 0, 0));
    let kind = v1::StageKind::Wait.into();
    let add = v1::AddStageRequest { write, job, stage: stage(), title, kind, ..Default::default() };
    shop.lead.add_stage(add).await.unwrap();
    let skip = v1::SkipStageRequest {
        write: written_at(local(day, 5, 0)),
        job,
        stage: stage(),
        reason: "the night is over".into(),
    };
    shop.lead.skip_stage(skip).await.unwrap();
    let asked = v1::AuditTimeRequest { by: v1::AuditBy::Stage.into(), job, ..Default::default() };
    let line = shop.lead.audit_time(asked).await.unwrap().lines.remove(0);
    let parts = [line.worked, line.outside, line.blocked, line.wait, line.idle].map(us);
    assert_eq!(parts.iter().sum::<i64>(), us(line.elapsed));
    [us(line.elapsed), parts[1], parts[3] + parts[4]].map(|us| us / MINUTE_US)
}

#[tokio::test(flavor = "multi_thread")]
async fn on_the_days_when_the_clocks_change_an_hour_is_missing_or_comes_twice() {
    let shop = Shop::open_in(ZONE).await;
    let (spring, autumn) = last_changes(today(&shop).await);
    let first = spring.min(autumn);
    // A holiday may be said before the first hours, and beats them.
    let holiday = days(first, 1);
    shop.lead.set_day(set_day(holiday, Vec::new())).await.unwrap();
    set_hours(&shop, first, vec![(7, hours(30, 240)), (1, hours(30, 240)), (2, hours(30, 240))]).await;
    // From 00:00 to 05:00 there are 5 hours by the clock, and it is open from 00:30 to 04:00.
    assert_eq!(night(&shop, spring).await, [4 * 60, 90, 150], "spring: {spring}");
    assert_eq!(night(&shop, autumn).await, [6 * 60, 90, 270], "autumn: {autumn}");
    assert_eq!(night(&shop, holiday).await, [5 * 60, 5 * 60, 0], "holiday: {holiday}");
    assert_eq!(night(&shop, days(first, 2)).await, [5 * 60, 90, 210], "any day");
    assert_eq!(night(&shop, days(first, 3)).await, [5 * 60, 5 * 60, 0], "a closed weekday");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn windows_follow_from_what_was_said_and_the_past_stays() {
    let shop = Shop::open_in(ZONE).await;
    let today = today(&shop).await;
    let week = (1..=7).map(|weekday| (weekday, hours(480, 1020))).collect();
    set_hours(&shop, days(today, -7), week).await;
    let day = days(today, 10);
    shop.lead.set_day(set_day(day, vec![hours(600, 660), hours(720, 780)])).await.unwrap();
    let asked = v1::GetCalendarRequest {
        from_at: Some(local(days(day, -1), 0, 0)),
        until_at: Some(local(days(day, 2), 0, 0)),
        ..Default::default()
    };
    let seen = shop.elsewhere.get_calendar(asked).await.unwrap();
    let windows: Vec<_> =
        seen.windows.iter().map(|window| (window.from_at.unwrap(), window.until_at.unwrap())).collect();
    let expected = [(days(day, -1), (8, 17)), (day, (10, 11)), (day, (12, 13)), (days(day, 1), (8, 17))];
    let expected: Vec<_> =
        expected.iter().map(|(day, (from, until))| (local(*day, *from, 0), local(*day, *until, 0))).collect();
    assert_eq!(windows, expected);
    assert!(windows.iter().all(|(from, until)| length(Some(*from), Some(*until)) > 0));
    assert_eq!(seen.statements.len(), 2);
    assert!(seen.statements[1].text.contains(&day.to_string()), "{}", seen.statements[1].text);
    let before = shop.head().await;
    let yesterday = days(today, -1);
    stopped(shop.lead.set_day(set_day(yesterday, Vec::new())).await, "CALENDAR_PAST", &yesterday.to_string());
    let week = vec![v1::WeekdayHours { weekday: 1, hours: vec![hours(0, 60)] }];
    let early = v1::SetHoursRequest { write: Some(new_write()), from_day: yesterday.to_string(), week };
    stopped(shop.lead.set_hours(early).await, "CALENDAR_PAST", &yesterday.to_string());
    let crossed = set_day(day, vec![hours(600, 700), hours(650, 800)]);
    assert_eq!(shop.lead.set_day(crossed).await.unwrap_err().fields[0].field, "hours[1]");
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_shift_is_of_one_person() {
    let shop = Shop::open_in(ZONE).await;
    shop.technician("Flint", &[]).await;
    shop.technician("Moss", &[]).await;
    let today = today(&shop).await;
    let week = (1..=7).map(|weekday| v1::WeekdayHours { weekday, hours: vec![hours(360, 840)] }).collect();
    let (write, from_day) = (Some(new_write()), days(today, 1).to_string());
    shop.lead.set_shift(v1::SetShiftRequest { write, person: "Flint".into(), from_day, week }).await.unwrap();
    let seen = async |person: &str| {
        let until_at = Some(local(days(today, 3), 0, 0));
        let asked = v1::GetCalendarRequest { person: person.into(), from_at: None, until_at };
        shop.lead.get_calendar(asked).await.unwrap().windows.len()
    };
    assert_eq!((seen("Flint").await, seen("Moss").await, seen("").await), (2, 0, 0));
    // In a shop that said its hours a shift counts while it is open, and before it begins the shop's hours do.
    let week = (1..=7).map(|weekday| v1::WeekdayHours { weekday, hours: vec![hours(480, 1_020)] }).collect();
    let (write, from_day) = (Some(new_write()), today.to_string());
    shop.lead.set_hours(v1::SetHoursRequest { write, from_day, week }).await.unwrap();
    let (write, day) = (Some(new_write()), days(today, 2).to_string());
    shop.lead.set_day(v1::SetDayRequest { write, day, hours: vec![], reason: String::new() }).await.unwrap();
    let asked = v1::GetCalendarRequest {
        person: "Flint".into(),
        from_at: Some(local(today, 0, 0)),
        until_at: Some(local(days(today, 4), 0, 0)),
    };
    let told = shop.lead.get_calendar(asked).await.unwrap().windows;
    let ends = |window: &v1::Window| (window.from_at.unwrap(), window.until_at.unwrap());
    let day = |from: (i8, i8), until: i8, day: i32| {
        (local(days(today, day), from.0, from.1), local(days(today, day), until, 0))
    };
    let wanted = [day((8, 0), 17, 0), day((8, 0), 14, 1), day((8, 0), 14, 3)];
    assert_eq!(told.iter().map(ends).collect::<Vec<_>>(), wanted, "the third day is a holiday");
    shop.verified().await;
}
