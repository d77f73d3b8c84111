//! What a failed attempt means, and how long to wait before the next.

use std::error::Error;
use std::time::Duration;
use tonic::{Code, ConnectError, Status, TimeoutExpired};
use tonic_types::StatusExt;

/// What a failed attempt means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Trouble {
    /// No connection was made: nothing was sent.
    NotSent,
    /// The connection broke, or the server can't take it now: it may have been taken before.
    Broken,
    /// No answer in time.
    TooLate,
    /// An answer: no.
    Refused,
}

impl Trouble {
    /// Reads the failure of one attempt.
    pub(crate) fn of(status: &Status) -> Self {
        if caused_by::<ConnectError>(status) {
            Self::NotSent
        } else if status.code() == Code::DeadlineExceeded || caused_by::<TimeoutExpired>(status) {
            Self::TooLate
        } else if status.code() == Code::Unavailable || status.source().is_some() {
            // A status that came over the wire has no source; one that was made here, because the
            // connection failed under the call, has.
            Self::Broken
        } else if status.code() == Code::Cancelled {
            // Nobody here cancels: the server gave up in the middle.
            Self::TooLate
        } else {
            Self::Refused
        }
    }
}

/// Whether a refusal settles what happened to the request, earlier attempts included: the server
/// looked the request id up before it said no.
pub(crate) fn is_decisive(code: Code) -> bool {
    matches!(
        code,
        Code::InvalidArgument
            | Code::NotFound
            | Code::AlreadyExists
            | Code::FailedPrecondition
            | Code::Aborted
            | Code::OutOfRange
    )
}

/// How long the server asked to be left alone.
pub(crate) fn asked_delay(status: &Status) -> Option<Duration> {
    status.get_details_retry_info().and_then(|info| info.retry_delay)
}

fn caused_by<E: Error + 'static>(status: &Status) -> bool {
    let mut cause = status.source();
    while let Some(error) = cause {
        if error.is::<E>() {
            return true;
        }
        cause = error.source();
    }
    false
}

/// Waits that double, spread at random so that many clients do not come back at once.
#[derive(Debug, Clone)]
pub(crate) struct Backoff {
    next: Duration,
}

const FIRST: Duration = Duration::from_millis(100);
const LONGEST: Duration = Duration::from_secs(5);

impl Backoff {
    /// From the shortest wait.
    pub(crate) fn new() -> Self {
        Self { next: FIRST }
    }

    /// The next wait: between half of it and all of it.
    #[expect(clippy::disallowed_methods, reason = "a client draws its own jitter")]
    pub(crate) fn wait(&mut self) -> Duration {
        let whole = self.next;
        self.next = (whole * 2).min(LONGEST);
        whole.mul_f64(0.5 + rand::random::<f64>() / 2.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_double_up_to_a_limit_and_never_fall_below_half() {
        let mut backoff = Backoff::new();
        let mut whole = FIRST;
        for _ in 0..12 {
            let wait = backoff.wait();
            assert!(wait >= whole / 2 && wait <= whole, "{wait:?} is outside {whole:?}");
            whole = (whole * 2).min(LONGEST);
        }
        assert_eq!(whole, LONGEST);
    }

    /// Google AIP-194: only UNAVAILABLE is retried by itself.
    #[test]
    fn only_unavailable_of_the_servers_own_words_is_tried_again() {
        for code in 1..=16 {
            let trouble = Trouble::of(&Status::new(Code::from_i32(code), "said"));
            let expected = match Code::from_i32(code) {
                Code::Unavailable => Trouble::Broken,
                Code::DeadlineExceeded | Code::Cancelled => Trouble::TooLate,
                _ => Trouble::Refused,
            };
            assert_eq!(trouble, expected, "{:?}", Code::from_i32(code));
        }
    }
}
