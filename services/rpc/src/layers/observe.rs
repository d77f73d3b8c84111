//! Counts calls and their durations, and gives each a span. No personal data: path and code only.

use super::{Answered, Answering, Asked, ready_one};
use http::{HeaderMap, HeaderName};
use leadhand_app::access::{OPERATOR, PERMISSIONS};
use opentelemetry::propagation::Extractor;
use opentelemetry::trace::TraceContextExt;
use std::task::{Context, Poll};
use tokio::time::Instant;
use tokio_util::task::TaskTracker;
use tonic::Code;
use tower::{Layer, Service};
use tracing::Instrument;
use tracing_opentelemetry::OpenTelemetrySpanExt;

/// Observes every call. A stream counts as answered when it begins.
#[derive(Debug, Clone)]
pub struct ObserveLayer {
    calls: TaskTracker,
}

impl ObserveLayer {
    /// Calls are tracked until they are answered, so that a shutdown can wait for them.
    pub fn new(calls: TaskTracker) -> Self {
        Self { calls }
    }
}

impl<S> Layer<S> for ObserveLayer {
    type Service = Observe<S>;

    fn layer(&self, inner: S) -> Self::Service {
        Observe { calls: self.calls.clone(), inner }
    }
}

/// The service behind [`ObserveLayer`].
#[derive(Debug, Clone)]
pub struct Observe<S> {
    calls: TaskTracker,
    inner: S,
}

impl<S> Service<Asked> for Observe<S>
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

    fn call(&mut self, asked: Asked) -> Self::Future {
        let mut inner = ready_one!(self);
        let path = known(asked.uri().path());
        let span = tracing::info_span!("rpc", path, code = tracing::field::Empty);
        continue_trace(&span, asked.headers());
        let open = self.calls.token();
        let observed = async move {
            let _open = open;
            let begun = Instant::now();
            let answered = inner.call(asked).await;
            if let Ok(answered) = &answered {
                let code = code(answered);
                tracing::Span::current().record("code", code);
                record(path, code, begun);
            }
            answered
        };
        Box::pin(observed.instrument(span))
    }
}

/// A caller's own trace (W3C Trace Context, `traceparent`) goes on here. Without a collector there is
/// nobody who reads it.
fn continue_trace(span: &tracing::Span, headers: &HeaderMap) {
    let parent = opentelemetry::global::get_text_map_propagator(|propagator| propagator.extract(&Carried(headers)));
    if parent.span().span_context().is_valid() {
        // It fails where no traces are made.
        let _ = span.set_parent(parent);
    }
}

struct Carried<'a>(&'a HeaderMap);

impl Extractor for Carried<'_> {
    fn get(&self, key: &str) -> Option<&str> {
        self.0.get(key).and_then(|value| value.to_str().ok())
    }

    fn keys(&self) -> Vec<&str> {
        self.0.keys().map(HeaderName::as_str).collect()
    }
}

/// The path, if it is one of ours: what strangers make up must not grow the metrics.
fn known(path: &str) -> &'static str {
    let all = PERMISSIONS.iter().map(|(known, _)| *known).chain(OPERATOR.iter().copied());
    all.into_iter().find(|known| *known == path).unwrap_or("other")
}

/// The code of an answer that failed at once; one that begins has no code in its headers yet.
fn code(answered: &Answered) -> &'static str {
    let said = answered.headers().get("grpc-status").map(|code| Code::from_bytes(code.as_bytes()));
    match said.unwrap_or(Code::Ok) {
        Code::Ok => "OK",
        Code::Cancelled => "CANCELLED",
        Code::Unknown => "UNKNOWN",
        Code::InvalidArgument => "INVALID_ARGUMENT",
        Code::DeadlineExceeded => "DEADLINE_EXCEEDED",
        Code::NotFound => "NOT_FOUND",
        Code::AlreadyExists => "ALREADY_EXISTS",
        Code::PermissionDenied => "PERMISSION_DENIED",
        Code::ResourceExhausted => "RESOURCE_EXHAUSTED",
        Code::FailedPrecondition => "FAILED_PRECONDITION",
        Code::Aborted => "ABORTED",
        Code::OutOfRange => "OUT_OF_RANGE",
        Code::Unimplemented => "UNIMPLEMENTED",
        Code::Internal => "INTERNAL",
        Code::Unavailable => "UNAVAILABLE",
        Code::DataLoss => "DATA_LOSS",
        Code::Unauthenticated => "UNAUTHENTICATED",
    }
}

fn record(path: &'static str, code: &'static str, begun: Instant) {
    metrics::counter!("leadhand_rpc_requests_total", "path" => path, "code" => code).increment(1);
    metrics::histogram!("leadhand_rpc_duration_seconds", "path" => path).record(begun.elapsed().as_secs_f64());
    tracing::debug!(code, elapsed_us = u64::try_from(begun.elapsed().as_micros()).unwrap_or(u64::MAX), "answered");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_paths_of_the_contract_are_labels() {
        assert_eq!(known("/leadhand.v1.BoardService/GetBoard"), "/leadhand.v1.BoardService/GetBoard");
        assert_eq!(known("/made.up/Path"), "other");
    }

    #[test]
    fn a_failure_is_seen_in_the_headers() {
        assert_eq!(code(&tonic::Status::not_found("x").into_http()), "NOT_FOUND");
        assert_eq!(code(&Answered::default()), "OK");
    }
}
