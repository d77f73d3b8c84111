use super::*;
use crate::texts::Texts;
use jiff::tz::TimeZone;

#[test]
fn times_of_persons_are_summed_by_their_days_in_the_shops_zone() {
    let clocking = |name: &str, from: &str, until: Option<&str>| Clocking {
        name: name.into(),
        from_at: Some(moment::to_wire(from.parse().unwrap())),
        until_at: until.map(|until| moment::to_wire(until.parse().unwrap())),
        ..Clocking::default()
    };
    let all = [
        clocking("Flint", "2031-06-10T07:00:00Z", Some("2031-06-10T08:00:00Z")),
        clocking("Flint", "2031-06-10T09:00:00Z", Some("2031-06-10T09:30:00Z")),
        // In London this is the next day already (IANA time zone database).
        clocking("Flint", "2031-06-10T23:10:00Z", None),
        clocking("Larch", "2031-06-10T07:00:00Z", Some("2031-06-10T10:00:00Z")),
    ];
    let (texts, zone) = (Texts::of("en-GB"), TimeZone::get("Europe/London").unwrap());
    let look = Look { texts: &texts, zone: &zone, now: "2031-06-10T23:40:00Z".parse().unwrap() };
    let told = persons(&all, look);
    let days = |at: usize| told[at].days.iter().map(|day| (day.day.as_str(), day.length.as_str())).collect::<Vec<_>>();
    assert_eq!(days(0), [("Tue 10 Jun", "1 h 30 min"), ("Wed 11 Jun", "30 min")]);
    assert_eq!((days(1), told[1].days[0].width), (vec![("Tue 10 Jun", "3 h 00 min")], WIDTH));
    assert_eq!((told[0].total.as_str(), told[0].days[0].width), ("2 h 00 min", WIDTH / 2));
}

/// 30 h 32 min of a clocking that still runs are 24 hours at most on any one day; on the day on which London's clocks go
/// forward (31 March 2030, IANA time zone database) there are 23.
#[test]
fn time_over_midnight_counts_on_each_day_with_what_lies_in_it() {
    let (texts, zone) = (Texts::of("en-GB"), TimeZone::get("Europe/London").unwrap());
    let at = |time: &str| time.parse().unwrap();
    let look = Look { texts: &texts, zone: &zone, now: at("2030-04-01T06:00:00Z") };
    let days = by_day(at("2030-03-30T22:00:00Z"), look.now, look);
    let days: Vec<(String, i64)> = days.into_iter().map(|(day, seconds)| (day.to_string(), seconds / 3600)).collect();
    let told = |day: &str, hours| (day.to_owned(), hours);
    assert_eq!(days, [told("2030-03-30", 2), told("2030-03-31", 23), told("2030-04-01", 7)]);
    assert!(by_day(look.now, look.now, look).is_empty());
}
