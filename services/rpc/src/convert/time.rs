//! Instants and lengths of time.

use super::invalid;
use leadhand_app::AppError;
use leadhand_facts::Instant;
use prost_types::{Duration, Timestamp};

const SECOND_US: i64 = 1_000_000;
/// 0001-01-01T00:00:00Z and 9999-12-31T23:59:59Z, the ends that `google.protobuf.Timestamp` names.
const SECONDS: std::ops::RangeInclusive<i64> = -62_135_596_800..=253_402_300_799;

/// From the wire; parts of a microsecond are dropped.
pub fn instant(field: &str, at: Timestamp) -> Result<Instant, AppError> {
    let valid = SECONDS.contains(&at.seconds) && (0..1_000_000_000).contains(&at.nanos);
    let read = valid.then(|| Instant(at.seconds * SECOND_US + i64::from(at.nanos) / 1_000));
    // The last day of the year 9999 can't be written in every time zone, and so not in a fact.
    let written = read.filter(|read| read.timestamp().is_some());
    written.ok_or_else(|| invalid(field, "it lies outside of the years 1 to 9999; give a valid time"))
}

/// From the wire, when it was said.
pub fn instant_some(field: &str, at: Option<Timestamp>) -> Result<Option<Instant>, AppError> {
    at.map(|at| instant(field, at)).transpose()
}

/// From the wire, where it must be said.
pub fn instant_needed(field: &str, at: Option<Timestamp>) -> Result<Instant, AppError> {
    instant_some(field, at)?.ok_or_else(|| invalid(field, "it is missing; give a time"))
}

/// For the wire.
pub fn timestamp(at: Instant) -> Timestamp {
    let nanos = i32::try_from(at.0.rem_euclid(SECOND_US) * 1_000).unwrap_or_default();
    Timestamp { seconds: at.0.div_euclid(SECOND_US), nanos }
}

/// For the wire, when there is one.
pub fn stamp(at: Option<Instant>) -> Option<Timestamp> {
    at.map(timestamp)
}

/// Microseconds for the wire; both parts have one sign, as `google.protobuf.Duration` asks.
#[expect(clippy::unnecessary_wraps, reason = "a message inside of another is optional on the wire")]
pub fn duration(us: i64) -> Option<Duration> {
    let nanos = i32::try_from(us % SECOND_US * 1_000).unwrap_or_default();
    Some(Duration { seconds: us / SECOND_US, nanos })
}

#[cfg(test)]
mod tests {
    use super::*;

    // The ends are those of google/protobuf/timestamp.proto.
    #[test]
    fn only_the_years_of_the_protocol_are_taken() {
        let at = |seconds, nanos| instant("at", Timestamp { seconds, nanos });
        assert_eq!(at(-62_135_596_800, 0).unwrap().to_string(), "0001-01-01T00:00:00Z");
        assert_eq!(at(253_402_207_199, 999_999_999).unwrap().to_string(), "9999-12-30T21:59:59.999999Z");
        for (seconds, nanos) in [
            (-62_135_596_801, 0),
            (253_402_300_799, 0),
            (253_402_300_800, 0),
            (0, -1),
            (0, 1_000_000_000),
            (i64::MIN, 0),
        ] {
            let refusal = at(seconds, nanos).unwrap_err();
            assert!(
                matches!(&refusal, AppError::Refused { refusal: refused, .. } if refused.field() == Some("at")),
                "{refusal}"
            );
        }
    }

    #[test]
    fn instants_come_back_as_they_went() {
        for us in [0, 1, -1, 1_234_567_890_123_456, -62_135_596_800_000_000] {
            assert_eq!(instant("at", timestamp(Instant(us))).unwrap(), Instant(us));
        }
    }

    // google/protobuf/duration.proto: seconds and nanos must not differ in sign.
    #[test]
    fn lengths_have_one_sign() {
        assert_eq!(duration(-1_500_000), Some(Duration { seconds: -1, nanos: -500_000_000 }));
        assert_eq!(duration(90_000_001), Some(Duration { seconds: 90, nanos: 1_000 }));
    }
}
