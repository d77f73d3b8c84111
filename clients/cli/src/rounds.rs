//! Delivery rounds as people write them: `mon-fri 10:30, here 14:00`, `fri 17:00, here mon 8:00`.

use crate::hours::{DAYS, minute, weekday};
use leadhand_sdk::v1::SupplierRound;

/// One minute past the last one of a day.
const DAY_MINUTES: i32 = 24 * 60;

/// A round, for clap: `DAYS HH:MM, here [DAY] HH:MM [next day | in N days]`.
pub fn parse(text: &str) -> Result<SupplierRound, String> {
    let (ordered, here) = text.split_once("here ").ok_or_else(usage)?;
    let mut ordered: Vec<&str> = ordered.trim().trim_end_matches(',').split_whitespace().collect();
    let order_by_minute = time(ordered.pop().ok_or_else(usage)?)?;
    let weekdays = days(&ordered.concat())?;
    let here: Vec<&str> = here.split_whitespace().collect();
    let (here_minute, days_later) = match here.as_slice() {
        [at] | [at, "same", "day"] => (time(at)?, 0),
        [at, "next", "day"] => (time(at)?, 1),
        [at, "in", days, "day" | "days"] => (time(at)?, days.parse().map_err(|_| usage())?),
        [day, at] => (time(at)?, until(&weekdays, day)?),
        _ => return Err(usage()),
    };
    Ok(SupplierRound { weekdays, order_by_minute, here_minute, days_later })
}

/// A round as it is written.
pub fn told(round: &SupplierRound) -> String {
    let clock = |minute: i32| format!("{}:{:02}", minute / 60, minute % 60);
    let later = match round.days_later {
        0 => String::new(),
        1 => " next day".to_owned(),
        days => format!(" in {days} days"),
    };
    let (by, here) = (clock(round.order_by_minute), clock(round.here_minute));
    format!("{} {by}, here {here}{later}", days_told(&round.weekdays))
}

fn days_told(weekdays: &[i32]) -> String {
    let mut runs: Vec<(i32, i32)> = Vec::new();
    for day in weekdays {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == *day => *last = *day,
            _ => runs.push((*day, *day)),
        }
    }
    let name = |day: i32| usize::try_from(day - 1).ok().and_then(|at| DAYS.get(at)).copied().unwrap_or("?");
    let run = |(first, last): &(i32, i32)| {
        if first == last { name(*first).to_owned() } else { format!("{}-{}", name(*first), name(*last)) }
    };
    runs.iter().map(run).collect::<Vec<_>>().join(",")
}

fn days(text: &str) -> Result<Vec<i32>, String> {
    let mut all = Vec::new();
    for part in text.split(',').filter(|part| !part.is_empty()) {
        let (first, last) = part.split_once('-').unwrap_or((part, part));
        let (first, last) = (day(first)?, day(last)?);
        if first > last {
            return Err(format!("'{part}' runs backwards; a week goes from mon to sun"));
        }
        all.extend(first..=last);
    }
    if all.is_empty() { Err(usage()) } else { Ok(all) }
}

/// How many days after the one day of its cut-off a round arrives.
fn until(weekdays: &[i32], arrival: &str) -> Result<i32, String> {
    let [ordered] = weekdays else {
        return Err(format!(
            "'here {arrival}' is another number of days for each day of ordering; give a round for each of them, or say \
             'next day' or 'in 2 days'"
        ));
    };
    match (day(arrival)? - ordered).rem_euclid(7) {
        0 => {
            Err(format!("'here {arrival}' may be the same day or a week later; leave the day out, or say 'in 7 days'"))
        }
        later => Ok(later),
    }
}

fn day(text: &str) -> Result<i32, String> {
    weekday(text).map_err(|_| format!("'{text}' is no weekday; write mon, tue, wed, thu, fri, sat or sun"))
}

fn time(text: &str) -> Result<i32, String> {
    let wrong = || format!("'{text}' is not a time of day; write HH:MM, up to 23:59");
    minute(text).ok().filter(|minute| *minute < DAY_MINUTES).ok_or_else(wrong)
}

fn usage() -> String {
    "write a round such as 'mon-fri 10:30, here 14:00', 'mon-thu 17:00, here 8:00 next day' or 'fri 17:00, here mon 8:00'"
        .to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn round(weekdays: &[i32], order_by_minute: i32, here_minute: i32, days_later: i32) -> SupplierRound {
        SupplierRound { weekdays: weekdays.to_vec(), order_by_minute, here_minute, days_later }
    }

    /// ISO 8601: Monday is 1, Sunday is 7.
    #[test]
    fn rounds_are_read_as_people_write_them() {
        for (text, wanted) in [
            ("Mon-Fri 10:30, here 14:00", round(&[1, 2, 3, 4, 5], 630, 840, 0)),
            ("Mon-Thu 17:00, here 8:00 next day", round(&[1, 2, 3, 4], 1_020, 480, 1)),
            ("Fri 17:00, here Mon 8:00", round(&[5], 1_020, 480, 3)),
            ("sun 9:00, here sat 9:00", round(&[7], 540, 540, 6)),
            ("mon,wed, fri 0:00 here 23:59", round(&[1, 3, 5], 0, 1_439, 0)),
            ("tue 12:00, here 12:00 in 14 days", round(&[2], 720, 720, 14)),
            ("tue 12:00, here 12:01 same day", round(&[2], 720, 721, 0)),
        ] {
            assert_eq!(parse(text), Ok(wanted), "{text}");
        }
    }

    #[test]
    fn a_round_is_told_as_it_can_be_typed_again() {
        for text in
            ["mon-fri 10:30, here 14:00", "mon,wed-thu 17:00, here 8:05 next day", "fri 17:00, here 8:00 in 3 days"]
        {
            assert_eq!(told(&parse(text).unwrap()), text);
        }
    }

    #[test]
    fn what_is_no_round_is_refused_with_what_to_write() {
        for (text, says) in [
            ("", "write a round such as"),
            ("mon-fri 10:30", "write a round such as"),
            ("10:30, here 14:00", "write a round such as"),
            ("mon 10:30, here", "write a round such as"),
            ("mon 10:30, here 14:00 some day", "write a round such as"),
            ("mon 10:30, here 14:00 in two days", "write a round such as"),
            ("fri-mon 10:30, here 14:00", "runs backwards"),
            ("day 10:30, here 14:00", "'day' is no weekday"),
            ("mon 24:00, here 8:00 next day", "'24:00' is not a time of day"),
            ("mon 10:30, here 1400", "'1400' is not a time of day"),
            ("mon-tue 17:00, here fri 8:00", "another number of days"),
            ("fri 17:00, here fri 8:00", "a week later"),
        ] {
            let wrong = parse(text).unwrap_err();
            assert!(wrong.contains(says), "{text}: {wrong}");
        }
    }
}
