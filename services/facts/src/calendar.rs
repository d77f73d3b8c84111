//! Shop hours, days closed and shifts, as the shop says them. The windows that follow from them
//! are resolved once and stored, so that a later time-zone table changes nothing in the past.

use crate::ids::PersonId;
use crate::instant::{Instant, Window};
use crate::text::TextRef;
use serde::{Deserialize, Serialize};

/// A local stretch of a day, in minutes from local midnight.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct DayHours {
    /// Minute of the day at which it begins, 0 to 1439.
    pub from_minute: i32,
    /// Minute of the day at which it ends, 1 to 1440.
    pub until_minute: i32,
}

/// Hours for each day of a week, Monday first; an empty list is a closed day.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Week(pub [Vec<DayHours>; 7]);

/// What was said about the calendar.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum CalendarChange {
    /// Weekly shop hours from a day on.
    Hours {
        /// First local day, `YYYY-MM-DD`.
        from_day: String,
        /// The hours.
        week: Week,
    },
    /// The hours of one day, instead of what the week says; empty for a holiday.
    Day {
        /// The local day, `YYYY-MM-DD`.
        day: String,
        /// The hours of that day.
        hours: Vec<DayHours>,
        /// Why.
        reason: Option<TextRef>,
    },
    /// A person's weekly shift from a day on.
    Shift {
        /// Whose.
        person: PersonId,
        /// First local day, `YYYY-MM-DD`.
        from_day: String,
        /// The hours.
        week: Week,
    },
    /// Nothing was said; windows were resolved further ahead.
    Extended {
        /// Whose shift; nobody for the shop's hours.
        person: Option<PersonId>,
    },
}

/// Resolved windows that replace what was resolved between `from` and `until`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Resolved {
    /// Start of what is replaced.
    pub from: Instant,
    /// End of what is replaced.
    pub until: Instant,
    /// The windows, in order, none touching another.
    pub windows: Vec<Window>,
}
