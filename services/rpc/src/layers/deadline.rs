//! Deadlines. tonic answers CANCELLED when one passes, at either end; this layer answers
//! DEADLINE_EXCEEDED a little before. It bounds the time until an answer begins, so that streams go on.

use super::{Answered, Answering, Asked, ready_one};
use crate::status::refused;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::time::{Instant, timeout_at};
use tonic::Code;
use tower::{Layer, Service};

/// For a client that gives no deadline.
pub const DEFAULT: Duration = Duration::from_secs(10);
/// However long a client would wait.
pub const LONGEST: Duration = Duration::from_mins(1);

/// So much of a client's deadline is left for the answer's way back, at most; tonic's own timers,
/// which began earlier, would cut it off otherwise.
const WAY_BACK: Duration = Duration::from_millis(20);

/// When the client gives up; in the extensions of every request.
#[derive(Debug, Clone, Copy)]
pub struct Deadline(pub Instant);

/// Ends calls at their deadline.
#[derive(Debug, Clone, Copy)]
pub struct DeadlineLayer;

impl<S> Layer<S> for DeadlineLayer {
    type Service = Bounded<S>;

    fn layer(&self, inner: S) -> Self::Service {
        Bounded { inner }
    }
}

/// The service behind [`DeadlineLayer`].
#[derive(Debug, Clone)]
pub struct Bounded<S> {
    inner: S,
}

impl<S> Service<Asked> for Bounded<S>
where
    S: Service<Asked, Response = Answered> + Clone + Send + 'static,
    S::Future: Send,
{
    type Response = Answered;
    type Error = S::Error;
    type Future = Answering<S::Error>;

    fn poll_ready(&mut self, cx: &mut Context<'_>) -> Poll<Result<(), Self::Error>> {
        self.inner.poll_ready(cx)
    }

    fn call(&mut self, mut asked: Asked) -> Self::Future {
        let mut inner = ready_one!(self);
        let given = asked.headers().get("grpc-timeout").and_then(|value| read(value.to_str().ok()?));
        let patience = given.map_or(DEFAULT, |given| given.saturating_sub(WAY_BACK.min(given / 10)));
        let deadline = Instant::now() + patience.min(LONGEST);
        asked.extensions_mut().insert(Deadline(deadline));
        let answering = inner.call(asked);
        Box::pin(async move {
            match timeout_at(deadline, answering).await {
                Ok(answered) => answered,
                Err(_) => Ok(passed().into_http()),
            }
        })
    }
}

fn passed() -> tonic::Status {
    let message = "the deadline passed before there was an answer; a write may have taken effect, so repeat it with \
                   the same request id to learn it";
    refused(Code::DeadlineExceeded, "DEADLINE_PASSED", message)
}

/// `TimeoutValue TimeoutUnit`: at most 8 digits and one of H M S m u n (gRPC over HTTP/2).
fn read(text: &str) -> Option<Duration> {
    let (digits, unit) = text.split_at_checked(text.len().checked_sub(1)?)?;
    if digits.is_empty() || digits.len() > 8 || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let value: u64 = digits.parse().ok()?;
    match unit {
        "H" => Some(Duration::from_secs(value * 3_600)),
        "M" => Some(Duration::from_secs(value * 60)),
        "S" => Some(Duration::from_secs(value)),
        "m" => Some(Duration::from_millis(value)),
        "u" => Some(Duration::from_micros(value)),
        "n" => Some(Duration::from_nanos(value)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::convert::Infallible;
    use tonic_types::StatusExt;
    use tower::{ServiceExt, service_fn};

    // The gRPC protocol over HTTP/2, "Timeout".
    #[test]
    fn timeouts_are_read_as_the_protocol_writes_them() {
        assert_eq!(read("10S"), Some(Duration::from_secs(10)));
        assert_eq!(read("250m"), Some(Duration::from_millis(250)));
        assert_eq!(read("99999999H"), Some(Duration::from_hours(99_999_999)));
        for wrong in ["", "S", "10", "123456789S", "-1S", "1.5S", "10s", "1é"] {
            assert_eq!(read(wrong), None, "{wrong}");
        }
    }

    async fn ask(grpc_timeout: Option<&str>, takes: Duration) -> (tonic::Status, Duration) {
        let slow = service_fn(move |_: Asked| async move {
            tokio::time::sleep(takes).await;
            Ok::<_, Infallible>(Answered::default())
        });
        let mut asked = Asked::default();
        if let Some(value) = grpc_timeout {
            asked.headers_mut().insert("grpc-timeout", value.parse().unwrap());
        }
        let begun = Instant::now();
        let answered = DeadlineLayer.layer(slow).oneshot(asked).await.unwrap();
        let status = tonic::Status::from_header_map(answered.headers()).unwrap_or(tonic::Status::ok(""));
        (status, begun.elapsed())
    }

    #[tokio::test(start_paused = true)]
    async fn the_answer_right_before_the_deadline_is_deadline_exceeded() {
        let day = Duration::from_hours(24);
        let (short, tiny) = (Duration::from_millis(230), Duration::from_millis(9));
        for (given, expected) in [(Some("250m"), short), (Some("10m"), tiny), (None, DEFAULT), (Some("2H"), LONGEST)] {
            let (status, elapsed) = ask(given, day).await;
            assert_eq!(status.code(), Code::DeadlineExceeded);
            assert_eq!(status.get_details_error_info().unwrap().reason, "DEADLINE_PASSED");
            assert_eq!(elapsed, expected, "{given:?}");
        }
        let (status, elapsed) = ask(Some("1S"), Duration::from_millis(900)).await;
        assert_eq!((status.code(), elapsed), (Code::Ok, Duration::from_millis(900)));
    }
}
