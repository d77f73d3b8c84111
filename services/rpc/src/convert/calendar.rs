//! Hours, days and shifts.

use super::fields::bounded;
use super::invalid;
use super::time::timestamp;
use leadhand_app::{AppError, Calendar};
use leadhand_facts::Window;
use leadhand_facts::calendar::{CalendarChange, DayHours, Week};
use leadhand_facts::rows::CalendarRow;
use leadhand_proto::v1;

/// The hours of one day.
pub fn hours(field: &str, said: &[v1::DayHours]) -> Result<Vec<DayHours>, AppError> {
    bounded(field, said)?;
    let read = |hours: &v1::DayHours| DayHours { from_minute: hours.from_minute, until_minute: hours.until_minute };
    Ok(said.iter().map(read).collect())
}

/// A week; a day that is not named is closed.
pub fn week(said: &[v1::WeekdayHours]) -> Result<Week, AppError> {
    bounded("week", said)?;
    let mut week = Week::default();
    let mut named = [false; 7];
    for (at, day) in said.iter().enumerate() {
        let field = format!("week[{at}].weekday");
        let place = usize::try_from(day.weekday).ok().filter(|weekday| (1..=7).contains(weekday));
        let Some(place) = place.map(|weekday| weekday - 1) else {
            return Err(invalid(field, "it is not a weekday; give 1 for Monday to 7 for Sunday"));
        };
        if std::mem::replace(&mut named[place], true) {
            return Err(invalid(field, format!("weekday {} is named twice; give all its hours at once", day.weekday)));
        }
        week.0[place] = hours(&format!("week[{at}].hours"), &day.hours)?;
    }
    Ok(week)
}

/// The calendar.
pub fn calendar(calendar: &Calendar) -> v1::GetCalendarResponse {
    v1::GetCalendarResponse {
        statements: calendar.statements.iter().map(|row| statement(row, calendar)).collect(),
        windows: calendar.windows.iter().map(window).collect(),
    }
}

fn window(window: &Window) -> v1::Window {
    v1::Window { from_at: Some(timestamp(window.from)), until_at: Some(timestamp(window.until)) }
}

fn statement(row: &CalendarRow, calendar: &Calendar) -> v1::CalendarStatement {
    let text = match &row.change {
        CalendarChange::Hours { from_day, week } => format!("hours from {from_day}: {}", in_words(week)),
        CalendarChange::Shift { from_day, week, .. } => format!("shift from {from_day}: {}", in_words(week)),
        CalendarChange::Day { day, hours, reason } => {
            let why = calendar.words.get(reason.as_ref().map(|text| text.id));
            let why = if why.is_empty() { String::new() } else { format!(" ({why})") };
            format!("{day} {}{why}", day_in_words(hours))
        }
        CalendarChange::Extended { .. } => "windows worked out further ahead".to_owned(),
    };
    v1::CalendarStatement { revision: row.revision, text, number: row.set_n }
}

fn in_words(week: &Week) -> String {
    const DAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
    let days = DAYS.iter().zip(&week.0).filter(|(_, hours)| !hours.is_empty());
    let days: Vec<String> = days.map(|(day, hours)| format!("{day} {}", day_in_words(hours))).collect();
    if days.is_empty() { "closed".to_owned() } else { days.join(", ") }
}

fn day_in_words(hours: &[DayHours]) -> String {
    let clock = |minute: i32| format!("{:02}:{:02}", minute / 60, minute % 60);
    let stretch = |hours: &DayHours| format!("{}-{}", clock(hours.from_minute), clock(hours.until_minute));
    let stretches: Vec<String> = hours.iter().map(stretch).collect();
    if stretches.is_empty() { "closed".to_owned() } else { stretches.join(" and ") }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(weekday: i32, hours: &[(i32, i32)]) -> v1::WeekdayHours {
        let hours = hours.iter().map(|(from, until)| v1::DayHours { from_minute: *from, until_minute: *until });
        v1::WeekdayHours { weekday, hours: hours.collect() }
    }

    // ISO 8601: Monday is 1, Sunday is 7.
    #[test]
    fn weeks_are_read_by_iso_weekday_and_said_in_words() {
        let read = week(&[day(7, &[(600, 720)]), day(1, &[(480, 720), (765, 1_440)])]).unwrap();
        assert_eq!(in_words(&read), "Mon 08:00-12:00 and 12:45-24:00, Sun 10:00-12:00");
        assert_eq!(in_words(&Week::default()), "closed");
    }

    #[test]
    fn a_day_that_is_none_or_comes_twice_is_refused_by_its_place() {
        for (days, field) in
            [(vec![day(8, &[])], "week[0].weekday"), (vec![day(2, &[]), day(2, &[])], "week[1].weekday")]
        {
            let refusal = week(&days).unwrap_err().to_string();
            assert!(refusal.starts_with(field), "{refusal}");
        }
    }
}
