//! Health and metrics, on a port of their own.

use axum::Router;
use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::IntoResponse;
use axum::routing::get;
use axum::serve::Listener;
use futures::future::BoxFuture;
use metrics_exporter_prometheus::{BuildError, Matcher, PrometheusBuilder, PrometheusHandle};
use std::sync::Arc;
use std::time::Duration;
use tokio_util::sync::CancellationToken;

/// Asks whether the server can work now; the sentence says why not.
pub type Probe = Arc<dyn Fn() -> BoxFuture<'static, Result<(), String>> + Send + Sync>;

/// A prober waits about this long before it gives up by itself.
const PROBE_WITHIN: Duration = Duration::from_secs(2);
/// Old samples of histograms are folded away at this pace.
const UPKEEP_EVERY: Duration = Duration::from_secs(5);
/// A client that keeps its connection open is cut off after this long.
const LEAVE_WITHIN: Duration = Duration::from_secs(2);
/// Upper bounds of every histogram whose name ends in `_seconds`.
const SECONDS: [f64; 12] = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0];
/// Upper bounds of the batches' sizes: a batch has 128 commands at most.
const COMMANDS: [f64; 8] = [1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0];

#[derive(Clone)]
struct Shared {
    probe: Probe,
    metrics: PrometheusHandle,
}

/// Collects every metric of the process from here on.
pub fn install_metrics() -> Result<PrometheusHandle, BuildError> {
    let pages = PrometheusBuilder::new()
        .set_buckets_for_metric(Matcher::Suffix("_seconds".to_owned()), &SECONDS)?
        .set_buckets_for_metric(Matcher::Full("leadhand_batch_commands".to_owned()), &COMMANDS)?
        .install_recorder()?;
    crate::metrics_told::begin();
    Ok(pages)
}

/// The pages.
pub fn router(probe: Probe, metrics: PrometheusHandle) -> Router {
    Router::new().route("/healthz", get(healthz)).route("/metrics", get(render)).with_state(Shared { probe, metrics })
}

/// Serves until told to stop.
pub async fn serve<L>(
    listener: L,
    probe: Probe,
    metrics: PrometheusHandle,
    stop: CancellationToken,
) -> std::io::Result<()>
where
    L: Listener<Addr: std::fmt::Debug>,
{
    let pages = router(probe, metrics.clone());
    let served = axum::serve(listener, pages).with_graceful_shutdown(stop.clone().cancelled_owned());
    let cut_off = async {
        stop.cancelled().await;
        tokio::time::sleep(LEAVE_WITHIN).await;
    };
    tokio::select! {
        result = served => result,
        () = cut_off => Ok(()),
        () = upkeep(metrics) => Ok(()),
    }
}

async fn upkeep(metrics: PrometheusHandle) {
    let mut ticks = tokio::time::interval(UPKEEP_EVERY);
    loop {
        ticks.tick().await;
        metrics.run_upkeep();
    }
}

async fn healthz(State(shared): State<Shared>) -> (StatusCode, String) {
    let late = format!("the database did not answer within {} s", PROBE_WITHIN.as_secs());
    let answer = tokio::time::timeout(PROBE_WITHIN, (shared.probe)()).await.unwrap_or(Err(late));
    match answer {
        Ok(()) => (StatusCode::OK, "ok\n".to_owned()),
        Err(why) => (StatusCode::SERVICE_UNAVAILABLE, format!("{why}\n")),
    }
}

async fn render(State(shared): State<Shared>) -> impl IntoResponse {
    ([(header::CONTENT_TYPE, "text/plain; version=0.0.4; charset=utf-8")], shared.metrics.render())
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::io::{AsyncReadExt, AsyncWriteExt};
    use tokio::net::{TcpListener, TcpStream};

    fn metrics() -> PrometheusHandle {
        PrometheusBuilder::new().build_recorder().handle()
    }

    async fn ask(probe: Probe, metrics: PrometheusHandle, path: &str) -> String {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let stop = CancellationToken::new();
        let server = tokio::spawn(serve(listener, probe, metrics, stop.clone()));
        let mut stream = TcpStream::connect(address).await.unwrap();
        let request = format!("GET {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n");
        stream.write_all(request.as_bytes()).await.unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).await.unwrap();
        stop.cancel();
        server.await.unwrap().unwrap();
        answer
    }

    fn probe(answer: Result<(), String>) -> Probe {
        Arc::new(move || Box::pin(std::future::ready(answer.clone())))
    }

    #[tokio::test]
    async fn health_is_ok_when_the_probe_is() {
        let answer = ask(probe(Ok(())), metrics(), "/healthz").await;
        assert!(answer.starts_with("HTTP/1.1 200") && answer.ends_with("ok\n"), "{answer}");
    }

    #[tokio::test]
    async fn health_is_503_with_the_reason_when_the_probe_fails() {
        let answer = ask(probe(Err("the database is down".to_owned())), metrics(), "/healthz").await;
        assert!(answer.starts_with("HTTP/1.1 503") && answer.ends_with("the database is down\n"), "{answer}");
    }

    #[tokio::test(start_paused = true)]
    async fn a_probe_that_hangs_counts_as_failed() {
        let hanging: Probe = Arc::new(|| Box::pin(std::future::pending()));
        let (status, why) = healthz(State(Shared { probe: hanging, metrics: metrics() })).await;
        assert_eq!(status, StatusCode::SERVICE_UNAVAILABLE);
        assert!(why.contains("did not answer within 2 s"), "{why}");
    }

    // The text format is Prometheus' own, version 0.0.4.
    #[tokio::test]
    async fn metrics_are_rendered_as_text() {
        let recorder = PrometheusBuilder::new().build_recorder();
        let handle = recorder.handle();
        metrics::with_local_recorder(&recorder, || metrics::counter!("leadhand_commands_total").increment(3));
        let answer = ask(probe(Ok(())), handle, "/metrics").await;
        assert!(answer.contains("text/plain; version=0.0.4"), "{answer}");
        assert!(answer.contains("\nleadhand_commands_total 3\n"), "{answer}");
    }

    #[tokio::test(start_paused = true)]
    async fn a_client_that_stays_is_cut_off() {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let stop = CancellationToken::new();
        let server = tokio::spawn(serve(listener, probe(Ok(())), metrics(), stop.clone()));
        let mut silent = TcpStream::connect(address).await.unwrap();
        silent.write_all(b"GET /healthz HTTP/1.1\r\n").await.unwrap();
        let told = tokio::time::Instant::now();
        stop.cancel();
        server.await.unwrap().unwrap();
        // On the test's own clock, which only moves when everybody waits.
        assert!(told.elapsed() < LEAVE_WITHIN * 2, "{:?}", told.elapsed());
    }
}
