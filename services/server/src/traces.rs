//! Traces by OTLP, where a collector is named: a call, its command, the batch that it shared, and the
//! statements of that batch. Without a collector nothing is made and nothing is sent.
//!
//! What is sent is thrown away rather than waited for: a queue of a fixed length stands between
//! serving and sending, and sending has a thread of its own.

use opentelemetry::trace::{SpanKind, Status, TraceContextExt, TraceId, TracerProvider};
use opentelemetry::{Context, KeyValue, trace::Link};
use opentelemetry_otlp::{SpanExporter as OtlpExporter, WithExportConfig, WithTonicConfig};
use opentelemetry_sdk::Resource;
use opentelemetry_sdk::error::OTelSdkResult;
use opentelemetry_sdk::propagation::TraceContextPropagator;
use opentelemetry_sdk::trace::{
    BatchConfigBuilder, BatchSpanProcessor, Sampler, SamplingDecision, SamplingResult, SdkTracerProvider, ShouldSample,
    SpanData, SpanEvents, SpanExporter,
};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use tonic::transport::{ClientTlsConfig, Endpoint, Uri};
use tracing::{Metadata, Subscriber};
use tracing_subscriber::Layer;
use tracing_subscriber::filter::dynamic_filter_fn;
use tracing_subscriber::registry::LookupSpan;

/// How long a collector may take to be reached, and to take what it is sent.
const DELIVER_WITHIN: Duration = Duration::from_secs(3);
/// Spans are collected for this long before they are sent.
const SEND_EVERY: Duration = Duration::from_secs(1);
/// More that waits is thrown away.
const WAITING_MAX: usize = 8_192;
/// How long the last spans may take at the end.
const END_WITHIN: Duration = Duration::from_secs(2);

/// What is sent of a span besides its name and its times. Names, words, tokens and keys that people
/// type are not among them, and what somebody adds to a span stays here until it is added here too.
const ATTRIBUTES: [&str; 12] =
    ["path", "code", "shop", "command", "outcome", "commands", "facts", "rows", "table", "needs", "requests", "texts"];

/// The span of a call: nothing else begins a trace, or every look at the database would.
const CALL: &str = "rpc";

/// Where traces go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TraceSettings {
    /// A collector that takes OTLP over gRPC.
    pub collector: Uri,
}

/// Spans on their way.
#[derive(Debug)]
pub struct Traces {
    provider: SdkTracerProvider,
}

impl Traces {
    /// Begins to collect, within a tokio runtime. The collector need not be there.
    pub fn begin(settings: &TraceSettings) -> anyhow::Result<Self> {
        let mut endpoint =
            Endpoint::from(settings.collector.clone()).connect_timeout(DELIVER_WITHIN).timeout(DELIVER_WITHIN);
        if settings.collector.scheme_str() == Some("https") {
            endpoint = endpoint.tls_config(ClientTlsConfig::new().with_native_roots())?;
        }
        let sent = OtlpExporter::builder()
            .with_tonic()
            // A channel of our own: variables of the environment could otherwise take TLS away.
            .with_channel(endpoint.connect_lazy())
            .with_timeout(DELIVER_WITHIN)
            .build()?;
        let collector = settings.collector.to_string();
        Ok(Self::over(Discreet { sent, collector, fails: AtomicBool::new(false) }))
    }

    fn over(exporter: impl SpanExporter + 'static) -> Self {
        let config = BatchConfigBuilder::default().with_scheduled_delay(SEND_EVERY).with_max_queue_size(WAITING_MAX);
        let processor = BatchSpanProcessor::builder(exporter).with_batch_config(config.build()).build();
        let version = KeyValue::new("service.version", env!("CARGO_PKG_VERSION"));
        let resource = Resource::builder().with_service_name("leadhandd").with_attribute(version).build();
        let provider = SdkTracerProvider::builder()
            .with_span_processor(processor)
            .with_sampler(Sampler::ParentBased(Box::new(OnlyCalls)))
            .with_resource(resource)
            .build();
        // W3C Trace Context: whoever calls may have begun the trace.
        opentelemetry::global::set_text_map_propagator(TraceContextPropagator::new());
        Self { provider }
    }

    /// What turns spans of this program into spans of traces.
    pub fn layer<S>(&self) -> impl Layer<S> + Send + Sync + use<S>
    where
        S: Subscriber + for<'a> LookupSpan<'a> + Send + Sync,
    {
        tracing_opentelemetry::layer()
            .with_tracer(self.provider.tracer("leadhandd"))
            .with_location(false)
            .with_threads(false)
            .with_target(false)
            .with_tracked_inactivity(false)
            // Asked each time. An answer that is kept for a place in the code is passed over when somebody
            // else on the same thread has just asked whether to log and then did not (sqlx does).
            .with_filter(dynamic_filter_fn(|metadata, _| is_ours(metadata)))
    }

    /// Sends what is left, if it is taken soon.
    pub fn end(self) {
        if let Err(error) = self.provider.shutdown_with_timeout(END_WITHIN) {
            tracing::warn!(%error, "the last traces were not delivered");
        }
    }
}

/// Spans alone, because an event may quote anything; and none of what sends them.
fn is_ours(metadata: &Metadata<'_>) -> bool {
    metadata.is_span() && metadata.target().starts_with("leadhand")
}

/// Begins a trace with a call and with nothing else.
#[derive(Debug, Clone)]
struct OnlyCalls;

impl ShouldSample for OnlyCalls {
    fn should_sample(
        &self,
        parent: Option<&Context>,
        _: TraceId,
        name: &str,
        _: &SpanKind,
        _: &[KeyValue],
        _: &[Link],
    ) -> SamplingResult {
        let decision = if name == CALL { SamplingDecision::RecordAndSample } else { SamplingDecision::Drop };
        let trace_state = parent.map(|parent| parent.span().span_context().trace_state().clone()).unwrap_or_default();
        SamplingResult { decision, attributes: Vec::new(), trace_state }
    }
}

/// Sends only what is on the list, and says when it can't.
#[derive(Debug)]
struct Discreet<E> {
    sent: E,
    collector: String,
    fails: AtomicBool,
}

/// What may leave the house of a span.
fn discreet(mut span: SpanData) -> SpanData {
    span.attributes.retain(|attribute| ATTRIBUTES.contains(&attribute.key.as_str()));
    span.events = SpanEvents::default();
    if matches!(span.status, Status::Error { .. }) {
        span.status = Status::error("");
    }
    span
}

impl<E: SpanExporter> SpanExporter for Discreet<E> {
    async fn export(&self, batch: Vec<SpanData>) -> OTelSdkResult {
        let sent = self.sent.export(batch.into_iter().map(discreet).collect()).await;
        let collector = &self.collector;
        match (&sent, self.fails.swap(sent.is_err(), Ordering::Relaxed)) {
            (Err(error), false) => {
                tracing::warn!(%error, "traces are thrown away: {collector} does not take them; serving goes on");
            }
            (Ok(()), true) => tracing::info!("{collector} takes traces again"),
            _ => {}
        }
        sent
    }

    fn shutdown_with_timeout(&self, timeout: Duration) -> OTelSdkResult {
        self.sent.shutdown_with_timeout(timeout)
    }

    fn force_flush(&self) -> OTelSdkResult {
        self.sent.force_flush()
    }

    fn set_resource(&mut self, resource: &Resource) {
        self.sent.set_resource(resource);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::{Arc, Mutex};
    use tracing_subscriber::layer::SubscriberExt;

    #[derive(Debug, Clone, Default)]
    struct Kept(Arc<Mutex<Vec<SpanData>>>);

    impl SpanExporter for Kept {
        async fn export(&self, batch: Vec<SpanData>) -> OTelSdkResult {
            self.0.lock().unwrap().extend(batch);
            Ok(())
        }
    }

    fn sent(work: impl FnOnce()) -> Vec<SpanData> {
        let kept = Kept::default();
        let traces = Traces::over(Discreet {
            sent: kept.clone(),
            collector: "nowhere".to_owned(),
            fails: AtomicBool::default(),
        });
        let subscriber = tracing_subscriber::registry().with(traces.layer());
        tracing::subscriber::with_default(subscriber, work);
        traces.end();
        kept.0.lock().unwrap().clone()
    }

    #[test]
    fn what_is_not_on_the_list_stays_here() {
        let spans = sent(|| {
            let call = tracing::info_span!("rpc", path = "/known", token = "lhd_secret", words = "a complaint");
            let _inside = call.enter();
            tracing::error!(name = "Wren", "an event that quotes a name");
        });
        assert_eq!(spans.len(), 1);
        let attributes: Vec<String> =
            spans[0].attributes.iter().map(|one| format!("{}={}", one.key, one.value)).collect();
        assert_eq!(attributes, ["path=/known"]);
        assert!(spans[0].events.is_empty(), "{:?}", spans[0].events);
        assert_eq!(spans[0].status, Status::Unset);
    }

    #[test]
    fn only_calls_begin_a_trace() {
        let spans = sent(|| {
            tracing::info_span!("heads").in_scope(|| ());
            tracing::info_span!("rpc").in_scope(|| tracing::debug_span!("write_book", facts = 2).in_scope(|| ()));
        });
        let names: Vec<&str> = spans.iter().map(|span| &*span.name).collect();
        assert_eq!(names, ["write_book", "rpc"]);
        assert_eq!(spans[0].parent_span_id, spans[1].span_context.span_id());
    }
}
