use super::*;
use jiff::civil::date;
use leadhand_sdk::v1::{BlockedTime, Cause};

fn london() -> TimeZone {
    TimeZone::get("Europe/London").unwrap()
}

#[test]
fn weeks_begin_on_mondays_of_the_shop_and_know_a_change_of_the_clock() {
    // Friday; the clocks went back on Sunday 25 October 2026 (last Sunday of October, Directive 2000/84/EC and the
    // Summer Time Act's order, from memory).
    let now = date(2026, 10, 30).at(9, 0, 0, 0).to_zoned_datetime(london()).unwrap().timestamp();
    let cuts: Vec<String> =
        weeks(3, &london(), now).iter().map(|cut| moment::from_wire(cut).unwrap().to_string()).collect();
    assert_eq!(cuts, ["2026-10-11T23:00:00Z", "2026-10-18T23:00:00Z", "2026-10-26T00:00:00Z", "2026-11-02T00:00:00Z"]);
    // A Monday is the first day of its own week.
    let monday = "2026-10-26T00:00:00Z".parse().unwrap();
    assert_eq!(weeks(1, &london(), monday).first().map(|cut| cut.seconds), Some(monday.as_second()));
    assert_eq!(weeks(0, &london(), now).len(), 2, "the present week is always there");
    assert_eq!(weeks(9_999, &london(), now).len(), 105);
}

fn cuts() -> Vec<WireTimestamp> {
    [0, 100, 200, 300].map(|seconds| WireTimestamp { seconds, nanos: 0 }).into()
}

fn line(from: i64, cause: Cause, seconds: i64) -> AuditLine {
    let mut line = AuditLine { from_at: Some(WireTimestamp { seconds: from, nanos: 0 }), ..AuditLine::default() };
    let mut held = BlockedTime { cause: cause.into(), time: None };
    held.time.get_or_insert_default().seconds = seconds;
    line.blocked_by.push(held);
    line
}

#[test]
fn causes_stand_dearest_first_with_every_week_in_its_place() {
    let lines =
        [line(0, Cause::Part, 60), line(200, Cause::Part, 30), line(100, Cause::Tool, 500), line(0, Cause::Bay, 0)];
    let all = Lost::of(&lines, &cuts());
    let tool = Lost { cause: Cause::Tool.into(), weeks: vec![0, 500, 0] };
    let part = Lost { cause: Cause::Part.into(), weeks: vec![60, 0, 30] };
    assert_eq!(all, [tool, part], "what cost nothing is left out");
    assert_eq!(Lost::of(&[line(77, Cause::Part, 9)], &cuts()), [], "of a week that nobody asked for");
}

#[test]
fn a_bar_is_as_high_as_its_week_was_dear_and_each_is_named() {
    let all = Lost::of(&[line(0, Cause::Part, 3600), line(100, Cause::Part, 7200)], &cuts());
    let words = LostWords { title: "lost".into(), weeks: ["5 Oct", "12 Oct", "19 Oct"].map(String::from).into() };
    let picture = lost(&all, &words, |_| "<part>".into());
    let heights: Vec<i32> = crate::tests::boxes(picture.inline(), INK).iter().map(|one| one[3]).collect();
    assert_eq!(heights, [(TALL - SMALL) / 2, TALL - SMALL], "twice the time, twice the height; nothing for nothing");
    assert!(picture.inline().contains("5 Oct") && picture.inline().contains("19 Oct"));
    assert!(picture.inline().contains("aria-label=\"lost. &lt;part> 3 h 00 min\""), "{}", picture.inline());
    assert!(!picture.inline().contains("<part>"), "names are words and no marks of the drawing");
}
