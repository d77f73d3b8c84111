//! The one real clock. Everything else takes the time as an argument.

use leadhand_facts::Instant;

/// The system's clock, in microseconds of UTC.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl SystemClock {
    /// The present moment.
    #[expect(clippy::disallowed_methods, reason = "this is where the real clock is built")]
    pub fn now(&self) -> Instant {
        Instant::from_timestamp(jiff::Timestamp::now())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_clock_moves_forward_and_stands_in_this_era() {
        let first = SystemClock.now();
        let second = SystemClock.now();
        assert!(first <= second);
        assert!(first > Instant::parse("2025-01-01T00:00:00Z").unwrap());
    }
}
