//! Instants and windows, in whole microseconds of UTC.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A moment, in microseconds since 1970-01-01T00:00:00Z. Written as RFC 3339.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Instant(pub i64);

/// Microseconds in a minute.
pub const MINUTE_US: i64 = 60_000_000;

impl Instant {
    /// This moment moved by `us` microseconds, held at the ends of what can be written.
    pub fn plus_us(self, us: i64) -> Self {
        Self(self.0.saturating_add(us))
    }

    /// This moment moved by whole minutes.
    pub fn plus_minutes(self, minutes: i64) -> Self {
        self.plus_us(minutes.saturating_mul(MINUTE_US))
    }

    /// Microseconds from `earlier` to here, negative when `earlier` is later.
    pub fn since_us(self, earlier: Self) -> i64 {
        self.0.saturating_sub(earlier.0)
    }

    /// Whole minutes from `earlier` to here, a begun one counted; negative ones when `earlier` is later.
    pub fn minutes_since_up(self, earlier: Self) -> i64 {
        self.since_us(earlier).saturating_add(MINUTE_US - 1).div_euclid(MINUTE_US)
    }

    /// As a timestamp of the calendar library; `None` outside of the years it can write.
    pub fn timestamp(self) -> Option<jiff::Timestamp> {
        jiff::Timestamp::from_microsecond(self.0).ok()
    }

    /// From a timestamp of the calendar library; parts of a microsecond are dropped.
    pub fn from_timestamp(at: jiff::Timestamp) -> Self {
        Self(at.as_microsecond())
    }

    /// Reads RFC 3339 text.
    pub fn parse(text: &str) -> Result<Self, jiff::Error> {
        text.parse::<jiff::Timestamp>().map(Self::from_timestamp)
    }
}

impl std::fmt::Display for Instant {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.timestamp() {
            Some(at) => write!(f, "{at}"),
            None => write!(f, "{}us", self.0),
        }
    }
}

impl Serialize for Instant {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let at = self.timestamp().ok_or_else(|| serde::ser::Error::custom("instant out of range"))?;
        serializer.collect_str(&at)
    }
}

impl<'de> Deserialize<'de> for Instant {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::parse(&text).map_err(serde::de::Error::custom)
    }
}

/// A stretch of time, from included, until excluded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Window {
    /// First microsecond inside.
    pub from: Instant,
    /// First microsecond after.
    pub until: Instant,
}

impl Window {
    /// Microseconds inside; 0 for an empty or reversed window.
    pub fn length_us(self) -> i64 {
        self.until.since_us(self.from).max(0)
    }

    /// Whether `at` lies inside.
    pub fn holds(self, at: Instant) -> bool {
        self.from <= at && at < self.until
    }

    /// Whether both share a microsecond.
    pub fn meets(self, other: Self) -> bool {
        self.from < other.until && other.from < self.until
    }

    /// What both share; `None` when they share nothing.
    pub fn common(self, other: Self) -> Option<Self> {
        let both = Self { from: self.from.max(other.from), until: self.until.min(other.until) };
        (both.from < both.until).then_some(both)
    }
}
