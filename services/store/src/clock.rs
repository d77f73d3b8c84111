//! Instants to and from the database's timestamps; both count whole microseconds.

use chrono::{DateTime, Utc};
use leadhand_facts::Instant;

/// As the database takes it; held at the ends of what it can write.
pub(crate) fn stamp(at: Instant) -> DateTime<Utc> {
    let end = if at.0 < 0 { DateTime::<Utc>::MIN_UTC } else { DateTime::<Utc>::MAX_UTC };
    DateTime::from_timestamp_micros(at.0).unwrap_or(end)
}

/// As everybody else takes it.
pub(crate) fn instant(at: DateTime<Utc>) -> Instant {
    Instant(at.timestamp_micros())
}
