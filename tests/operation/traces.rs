//! Traces: what a collector is sent of a command, and that serving does not depend on it. Outside sources: W3C Trace
//! Context (the header's form), OpenTelemetry protocol (how spans name their parents).

use std::time::Duration;

use kit::{Leadhandd, TestDatabase, fresh_database, process};
use leadhand_proto::v1::{AddPersonRequest, shop_service_client::ShopServiceClient};
use leadhand_sdk::{new_write, v1::GetShopRequest};
use opentelemetry_proto::tonic::trace::v1::Span;
use tokio::{net::TcpListener, time::Instant};
use tonic::{Request, metadata::MetadataValue, transport::Endpoint};

use crate::collector::Collector;

const STOP_WITHIN: Duration = Duration::from_secs(20);
/// W3C Trace Context, 3.2: version, trace, the caller's span, flags (sampled).
const CALLER: &str = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01";
const CALLER_UNSAMPLED: &str = "00-5bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-00";
/// What must not leave the house.
const NAME: &str = "Nightjar of the north bay";

struct Served {
    server: Leadhandd,
    token: String,
    _database: TestDatabase,
}

impl Served {
    async fn begin(with: impl FnOnce(Leadhandd) -> Leadhandd) -> Self {
        let database = fresh_database().await;
        let mut server = with(Leadhandd::over(&database.app_url()).unwrap());
        server.start().await.unwrap();
        let token = process::open_shop(&database.app_url(), "Yard").await.unwrap();
        Self { server, token, _database: database }
    }

    /// A write as a program sends it that makes traces of its own.
    async fn add_person(&self, name: &str, caller: &'static str) {
        let channel = Endpoint::from_shared(self.server.url()).unwrap().connect().await.unwrap();
        let person =
            AddPersonRequest { write: Some(new_write()), name: name.to_owned(), ..AddPersonRequest::default() };
        let mut request = Request::new(person);
        let bearer: MetadataValue<_> = format!("Bearer {}", self.token).parse().unwrap();
        request.metadata_mut().insert("authorization", bearer);
        request.metadata_mut().insert("traceparent", MetadataValue::from_static(caller));
        ShopServiceClient::new(channel).add_person(request).await.unwrap();
    }

    /// Ends the server, which sends what is left; says how long that took, and what it logged.
    async fn stop(mut self) -> (Duration, String) {
        let begun = Instant::now();
        let ended = self.server.stop(STOP_WITHIN).await.unwrap();
        assert!(ended.success(), "{}", self.server.log_end());
        (begun.elapsed(), self.server.log_end())
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |text, byte| format!("{text}{byte:02x}"))
}

/// The names of a span and of all above it.
fn line_of(span: &Span, spans: &[Span]) -> Vec<String> {
    let above = spans.iter().find(|other| other.span_id == span.parent_span_id);
    let mut line = vec![span.name.clone()];
    line.extend(above.map(|above| line_of(above, spans)).unwrap_or_default());
    line
}

#[tokio::test(flavor = "multi_thread")]
async fn a_command_is_followed_from_the_call_to_the_statements_in_the_callers_own_trace() {
    let (collector, address) = Collector::begin().await;
    let served = Served::begin(|server| server.with("--otlp-collector", &format!("http://{address}"))).await;
    served.add_person(NAME, CALLER).await;
    served.add_person("somebody else", CALLER_UNSAMPLED).await;
    served.add_person("who makes no traces", "none").await;
    let token = served.token.clone();
    served.stop().await;

    let spans = collector.spans();
    let ours: Vec<Span> = spans.iter().filter(|span| CALLER.contains(&hex(&span.trace_id))).cloned().collect();
    let call = ours.iter().find(|span| span.name == "rpc").expect("the call has a span");
    assert!(CALLER.contains(&format!("-{}-", hex(&call.parent_span_id))), "it stands below the caller's own span");
    let written = ours.iter().find(|span| span.name == "write_book").expect("the statement has a span");
    assert_eq!(line_of(written, &ours), ["write_book", "batch", "command", "rpc"]);
    assert!(ours.iter().any(|span| line_of(span, &ours) == ["Batch::commit", "batch", "command", "rpc"]), "{ours:#?}");

    // Who asks not to be traced is not.
    assert!(!spans.iter().any(|span| CALLER_UNSAMPLED.contains(&hex(&span.trace_id))));
    // Nothing but calls begins a trace, however often the server looks at its database.
    let roots: Vec<&str> = spans
        .iter()
        .filter(|span| line_of(span, &spans).last().is_some_and(|top| top != "rpc"))
        .map(|s| &*s.name)
        .collect();
    assert_eq!(roots, [""; 0]);
    let all = format!("{spans:?}");
    for secret in [NAME, &token, token.trim_start_matches("lhd_")] {
        assert!(!all.contains(secret), "a trace says what it must not");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn without_a_collector_in_its_settings_nothing_is_sent() {
    let (collector, address) = Collector::begin().await;
    // The variable that programs of this kind listen to by themselves.
    let variable = ("OTEL_EXPORTER_OTLP_ENDPOINT".to_owned(), format!("http://{address}"));
    let served = Served::begin(|server| server.with_variables(&[variable])).await;
    served.add_person(NAME, CALLER).await;
    served.stop().await;
    assert_eq!(collector.calls(), 0);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_collector_that_is_away_or_never_answers_changes_nothing_for_who_is_served() {
    let silent = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let away = TcpListener::bind("127.0.0.1:0").await.unwrap().local_addr().unwrap();
    for address in [away, silent.local_addr().unwrap()] {
        let served = Served::begin(|server| server.with("--otlp-collector", &format!("http://{address}"))).await;
        for number in 0..20 {
            served.add_person(&format!("Person {number}"), CALLER).await;
        }
        let client = leadhand_sdk::Client::connect(
            leadhand_sdk::Endpoint::new(served.server.url()).token(&served.token).deadline(Duration::from_secs(2)),
        );
        let shop = client.unwrap().get_shop(GetShopRequest::default()).await.unwrap();
        assert_eq!(shop.persons.len(), 21, "twenty and the lead");
        // The last traces get 2 s and no more; the rest is the server's own orderly end.
        let (took, log) = served.stop().await;
        assert!(took < STOP_WITHIN / 2, "{took:?}");
        let said =
            ["traces are thrown away", "the last traces were not delivered"].iter().any(|said| log.contains(said));
        assert!(said, "{log}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_command_line_is_followed_to_the_statements_under_the_id_that_it_tells() {
    let (collector, address) = Collector::begin().await;
    let served = Served::begin(|server| server.with("--otlp-collector", &format!("http://{address}"))).await;
    let output = kit::leadhand(&served.server.url(), &served.token, &["--trace", "person", "add", NAME]).await.unwrap();
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(output.status.success(), "{told}");
    let trace = told.lines().find_map(|line| line.strip_prefix("trace ")).expect("it tells the trace").to_owned();
    served.stop().await;

    let spans: Vec<Span> = collector.spans().into_iter().filter(|span| hex(&span.trace_id) == trace).collect();
    let written = spans.iter().find(|span| span.name == "write_book").expect("the statement has a span");
    assert_eq!(line_of(written, &spans), ["write_book", "batch", "command", "rpc"]);
}
