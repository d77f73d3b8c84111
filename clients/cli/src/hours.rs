//! Weekly hours as people write them: `mon-fri 08:00-12:00,13:00-17:00`.

use leadhand_sdk::v1::{DayHours, WeekdayHours};

/// The hours of one day.
pub type Hours = Vec<DayHours>;
/// The hours of some weekdays.
pub type Days = Vec<WeekdayHours>;

/// Weekdays as they are written, Monday first.
pub const DAYS: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];

/// The hours of some weekdays, for clap: `DAYS HOURS`.
pub fn parse_week(text: &str) -> Result<Days, String> {
    let (days, hours) = text.trim().split_once(char::is_whitespace).ok_or_else(usage)?;
    let hours = parse_day(hours)?;
    let mut week = Vec::new();
    for part in days.split(',') {
        let (first, last) = part.split_once('-').unwrap_or((part, part));
        let (first, last) = (weekday(first)?, weekday(last)?);
        if first > last {
            return Err(format!("'{part}' runs backwards; a week goes from mon to sun"));
        }
        week.extend((first..=last).map(|weekday| WeekdayHours { weekday, hours: hours.clone() }));
    }
    Ok(week)
}

/// Joins what was said of several weekdays; a day may be said once only.
pub fn join(parts: Vec<Days>) -> Result<Days, String> {
    let mut week: Days = parts.into_iter().flatten().collect();
    week.sort_by_key(|day| day.weekday);
    match week.windows(2).find(|pair| pair[0].weekday == pair[1].weekday) {
        Some(pair) => Err(format!(
            "{} is said twice; put all its hours together, such as 08:00-12:00,13:00-17:00",
            DAYS[usize::try_from(pair[0].weekday - 1).unwrap_or(0)]
        )),
        None => Ok(week),
    }
}

/// The hours of one day, for clap: `08:00-12:00,13:00-17:00`.
pub fn parse_day(text: &str) -> Result<Hours, String> {
    text.trim()
        .split(',')
        .map(|part| {
            let (from, until) = part.trim().split_once('-').ok_or_else(usage)?;
            let (from_minute, until_minute) = (minute(from)?, minute(until)?);
            if from_minute >= until_minute {
                return Err(format!("'{part}' ends before it begins; hours past midnight belong to the next day"));
            }
            Ok(DayHours { from_minute, until_minute })
        })
        .collect()
}

/// The hours of one day as they are written.
pub fn told(hours: &[DayHours]) -> String {
    let clock = |minute: i32| format!("{:02}:{:02}", minute / 60, minute % 60);
    let parts = hours.iter().map(|part| format!("{}-{}", clock(part.from_minute), clock(part.until_minute)));
    parts.collect::<Vec<_>>().join(",")
}

/// Weekly hours as they are written, whatever was typed together beside each other.
pub fn week_told(parts: &[Days]) -> String {
    let day = |weekday: i32| usize::try_from(weekday - 1).ok().and_then(|at| DAYS.get(at)).copied().unwrap_or("?");
    let mut runs: Vec<(i32, i32, &[DayHours])> = Vec::new();
    for one in parts.iter().flatten() {
        match runs.last_mut() {
            Some((_, last, hours)) if *last + 1 == one.weekday && *hours == one.hours.as_slice() => *last = one.weekday,
            _ => runs.push((one.weekday, one.weekday, &one.hours)),
        }
    }
    let said = runs.iter().map(|(first, last, hours)| {
        let until = if first == last { String::new() } else { format!("-{}", day(*last)) };
        format!("{}{until} {}", day(*first), told(hours))
    });
    said.collect::<Vec<_>>().join("; ")
}

/// A weekday by its name, 1 for Monday.
pub fn weekday(text: &str) -> Result<i32, String> {
    let at = DAYS.iter().position(|day| day.eq_ignore_ascii_case(text)).ok_or_else(usage)?;
    i32::try_from(at + 1).map_err(|_| usage())
}

/// A time of day in minutes.
pub fn minute(text: &str) -> Result<i32, String> {
    let (hour, minute) = text.trim().split_once(':').ok_or_else(usage)?;
    let number = |digits: &str| {
        let short = !digits.is_empty() && digits.len() <= 2 && digits.bytes().all(|b| b.is_ascii_digit());
        if short { digits.parse::<i32>().ok() } else { None }
    };
    match (number(hour), number(minute)) {
        (Some(hour), Some(minute)) if minute < 60 && hour * 60 + minute <= 24 * 60 => Ok(hour * 60 + minute),
        _ => Err(format!("'{text}' is not a time of day; write HH:MM, up to 24:00")),
    }
}

fn usage() -> String {
    "write days and hours such as 'mon-fri 08:00-12:00,13:00-17:00' or 'sat 09:00-13:00'".to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hours(from_minute: i32, until_minute: i32) -> DayHours {
        DayHours { from_minute, until_minute }
    }

    /// ISO 8601: Monday is 1, Sunday is 7.
    #[test]
    fn a_week_is_read() {
        let week = parse_week("mon-fri 08:00-12:00,13:00-17:00").unwrap();
        assert_eq!(week.iter().map(|day| day.weekday).collect::<Vec<_>>(), [1, 2, 3, 4, 5]);
        assert_eq!(week[0].hours, [hours(480, 720), hours(780, 1020)]);
        assert_eq!(
            parse_week("SAT,sun 9:00-24:00").unwrap()[1],
            WeekdayHours { weekday: 7, hours: vec![hours(540, 1440)] }
        );
    }

    #[test]
    fn a_week_is_told_as_it_is_written() {
        let week = |parts: &[&str]| parts.iter().map(|part| parse_week(part).unwrap()).collect::<Vec<_>>();
        let told = week_told(&week(&["mon-fri 8:00-12:00,13:00-17:00", "sat,sun 09:00-24:00"]));
        assert_eq!(told, "mon-fri 08:00-12:00,13:00-17:00; sat-sun 09:00-24:00");
        assert_eq!(week_told(&week(&["mon,wed 08:00-12:00"])), "mon 08:00-12:00; wed 08:00-12:00");
    }

    #[test]
    fn what_is_no_week_is_refused() {
        for wrong in [
            "",
            "mon",
            "mon 8-12",
            "fri-mon 08:00-12:00",
            "mon 12:00-08:00",
            "mon 08:00-24:01",
            "day 08:00-09:00",
            "mon +8:00-09:00",
        ] {
            assert!(parse_week(wrong).is_err(), "'{wrong}' was taken");
        }
        let twice = vec![parse_week("mon-fri 08:00-12:00").unwrap(), parse_week("fri 13:00-15:00").unwrap()];
        assert!(join(twice).unwrap_err().starts_with("fri is said twice"));
    }
}
