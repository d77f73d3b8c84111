//! What was said about the hours of one scope: the shop, or one person.

use super::resolve::start_of;
use super::{local_day, plus_days};
use crate::check::read_date;
use crate::state::State;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use leadhand_facts::calendar::{CalendarChange, DayHours, Week};
use leadhand_facts::{Instant, PersonId};
use std::collections::BTreeMap;

/// Every statement about a scope, in the order in which they were made.
#[derive(Debug, Clone, Default)]
pub(super) struct Said {
    weeks: Vec<(Date, Week)>,
    days: BTreeMap<Date, Vec<DayHours>>,
    horizon: Option<Instant>,
}

impl Said {
    pub(super) fn of(state: &State, person: Option<PersonId>) -> Self {
        let mut said = Self::default();
        for row in state.calendar.iter().filter(|row| row.person == person) {
            said.take(&row.change);
            // A single day may lie far ahead of everything else; what is between is not resolved.
            if !matches!(row.change, CalendarChange::Day { .. }) {
                said.horizon = said.horizon.max(Some(row.until_at));
            }
        }
        said
    }

    /// Takes the next statement.
    pub(super) fn take(&mut self, change: &CalendarChange) {
        match change {
            CalendarChange::Hours { from_day, week } | CalendarChange::Shift { from_day, week, .. } => {
                self.weeks.extend(read_date(from_day).ok().map(|day| (day, week.clone())));
            }
            CalendarChange::Day { day, hours, .. } => {
                self.days.extend(read_date(day).ok().map(|day| (day, hours.clone())));
            }
            CalendarChange::Extended { .. } => {}
        }
    }

    /// The hours of a day: what was said about that day, or else the newest week that covers it.
    pub(super) fn hours(&self, day: Date) -> &[DayHours] {
        if let Some(hours) = self.days.get(&day) {
            return hours;
        }
        let newest = self.weeks.iter().rev().find(|(from, _)| *from <= day);
        let weekday = usize::from(day.weekday().to_monday_zero_offset().unsigned_abs());
        newest.map_or(&[], |(_, week)| &week.0[weekday])
    }

    pub(super) fn has_weeks(&self) -> bool {
        !self.weeks.is_empty()
    }

    /// The day in which what is resolved ends; it may be resolved in part.
    pub(super) fn horizon_day(&self, zone: &TimeZone) -> Option<Date> {
        self.horizon.map(|end| local_day(zone, end))
    }

    /// The first day of which nothing is resolved.
    pub(super) fn first_open_day(&self, zone: &TimeZone) -> Option<Date> {
        let day = self.horizon_day(zone)?;
        let whole = Some(start_of(zone, day)) == self.horizon;
        Some(if whole { day } else { plus_days(day, 1) })
    }

    /// Where to resolve from when a week is set: days between the horizon and its first day are
    /// not resolved yet, and the weeks before it cover them.
    pub(super) fn first_day(&self, zone: &TimeZone, day: Date) -> Date {
        self.horizon_day(zone).map_or(day, |end| end.min(day))
    }
}
