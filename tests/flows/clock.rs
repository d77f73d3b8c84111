//! Instants and lengths as the wire has them, in microseconds.

use leadhand_proto::v1;
use leadhand_sdk::new_write;
use prost_types::{Duration, Timestamp};

pub const MINUTE_US: i64 = 60_000_000;

pub fn us(time: Option<Duration>) -> i64 {
    let time = time.unwrap_or_default();
    time.seconds * 1_000_000 + i64::from(time.nanos) / 1_000
}

pub fn ago(now: Timestamp, minutes: i64) -> Timestamp {
    later(now, -minutes * MINUTE_US)
}

pub fn later(at: Timestamp, us: i64) -> Timestamp {
    let whole = instant_us(at) + us;
    let nanos = i32::try_from(whole.rem_euclid(1_000_000) * 1_000).unwrap();
    Timestamp { seconds: whole.div_euclid(1_000_000), nanos }
}

pub fn instant_us(at: Timestamp) -> i64 {
    at.seconds * 1_000_000 + i64::from(at.nanos) / 1_000
}

pub fn length(from: Option<Timestamp>, until: Option<Timestamp>) -> i64 {
    instant_us(until.unwrap()) - instant_us(from.unwrap())
}

/// A write that happened earlier.
#[expect(clippy::unnecessary_wraps, reason = "a message field is an option")]
pub fn written_at(at: Timestamp) -> Option<v1::WriteContext> {
    Some(v1::WriteContext { happened_at: Some(at), ..new_write() })
}
