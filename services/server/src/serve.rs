//! A running server: gRPC on one port, health and metrics on another, and its orderly end.

use crate::compose::OpenApp;
use crate::configuration::Configuration;
use crate::health;
use crate::http::{self, Probe};
use anyhow::Context;
use leadhand_app::App;
use leadhand_rpc::{Limits, router};
use leadhand_tls::Tls;
use metrics_exporter_prometheus::PrometheusHandle;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::task::JoinHandle;
use tokio::time::{sleep, timeout};
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;
use tonic::service::RoutesBuilder;
use tonic::transport::server::TcpIncoming;
use tonic_health::ServingStatus;
use tonic_health::server::HealthReporter;

/// RFC 9113, 3.2: h2 is what HTTP/2 over TLS is called; probes speak HTTP/1.1.
const SPOKEN: [&str; 2] = ["h2", "http/1.1"];
/// After the last answer, connections have this long to take it and to close.
const LINGER: Duration = Duration::from_millis(500);

/// A running server.
pub struct Running {
    /// Where gRPC is served.
    pub grpc: SocketAddr,
    /// Where health and metrics are served.
    pub http: SocketAddr,
    open: OpenApp,
    health: HealthReporter,
    calls: TaskTracker,
    grace: Duration,
    stop: CancellationToken,
    serving: Option<Serving>,
    pages: Option<JoinHandle<std::io::Result<()>>>,
}

type Serving = JoinHandle<Result<(), tonic::transport::Error>>;

impl Running {
    /// Starts everything, the private database included.
    pub async fn start(configuration: &Configuration, metrics: PrometheusHandle) -> anyhow::Result<Self> {
        // Both ports first: one that is taken is found before anything was started.
        let grpc = bind(configuration.listen).await?;
        let pages = bind(configuration.http_listen).await?;
        let open = OpenApp::for_serving(configuration).await?;
        let app = open.app.clone();
        let (stop, calls, health) = (CancellationToken::new(), TaskTracker::new(), HealthReporter::new());
        health::say(&health, ServingStatus::Serving).await;
        tokio::spawn(health::watch(app.clone(), health.clone(), stop.clone()));
        let limits = Limits { web: configuration.grpc_web, ..Limits::default() };
        let router = router(&app, limits, beside(&health)?, &calls);
        let (grpc_address, http_address) = (grpc.local_addr()?, pages.local_addr()?);
        let tls = configuration.tls.clone().map(|files| Tls::begin(files, &SPOKEN, stop.clone())).transpose()?;
        let told = stop.clone().cancelled_owned();
        let serving: Serving = if let Some(tls) = &tls {
            let incoming = tls.incoming(grpc, stop.clone())?.into_stream();
            tokio::spawn(router.serve_with_incoming_shutdown(incoming, told))
        } else {
            let incoming = TcpIncoming::from(grpc).with_nodelay(Some(true));
            tokio::spawn(router.serve_with_incoming_shutdown(incoming, told))
        };
        let pages = match &tls {
            // On loopback, probes and scrapers of the machine itself find them without TLS.
            Some(tls) if !http_address.ip().is_loopback() => {
                tokio::spawn(http::serve(tls.incoming(pages, stop.clone())?, probe(app), metrics, stop.clone()))
            }
            _ => tokio::spawn(http::serve(pages, probe(app), metrics, stop.clone())),
        };
        let running = Self {
            grpc: grpc_address,
            http: http_address,
            open,
            health,
            calls,
            grace: configuration.shutdown_grace,
            pages: Some(pages),
            serving: Some(serving),
            stop,
        };
        let secured = if tls.is_some() { "with TLS" } else { "in plaintext" };
        tracing::info!(grpc = %grpc_address, http = %http_address, "serving gRPC on {grpc_address} {secured}, health and metrics on http://{http_address}");
        Ok(running)
    }

    /// The application that is served.
    pub fn app(&self) -> &App {
        &self.open.app
    }

    /// Waits for an end that nobody asked for, and says why.
    pub async fn broken(&mut self) -> anyhow::Error {
        tokio::select! {
            why = ended_by("gRPC", &mut self.serving) => why,
            why = ended_by("health and metrics", &mut self.pages) => why,
        }
    }

    /// Ends in order: says so, lets what is open finish within the grace, closes the database last.
    pub async fn stop(self) -> anyhow::Result<()> {
        health::say(&self.health, ServingStatus::NotServing).await;
        // Streams end with the application; what is queued is still answered.
        self.open.app.stop();
        self.stop.cancel();
        health::end_watching(self.health).await;
        if let Some(serving) = self.serving {
            end_serving(serving, &self.calls, self.grace).await;
        }
        if let Some(Err(error)) = futures::future::OptionFuture::from(self.pages).await {
            tracing::warn!(%error, "health and metrics broke off");
        }
        self.open.close().await?;
        tracing::info!("stopped");
        Ok(())
    }
}

async fn bind(address: SocketAddr) -> anyhow::Result<TcpListener> {
    let taken = || format!("can't listen on {address}; see what else listens there, or give another address");
    TcpListener::bind(address).await.with_context(taken)
}

/// What is served beside the contract: health, and reflection in both versions.
fn beside(health: &HealthReporter) -> anyhow::Result<RoutesBuilder> {
    let reflected = || {
        tonic_reflection::server::Builder::configure()
            .register_encoded_file_descriptor_set(leadhand_proto::DESCRIPTOR_SET)
            .register_encoded_file_descriptor_set(tonic_health::pb::FILE_DESCRIPTOR_SET)
    };
    let service = tonic_health::server::HealthService::from_health_reporter(health.clone());
    let mut routes = RoutesBuilder::default();
    routes
        .add_service(tonic_health::pb::health_server::HealthServer::new(service))
        .add_service(reflected().build_v1()?)
        .add_service(reflected().build_v1alpha()?);
    Ok(routes)
}

fn probe(app: App) -> Probe {
    Arc::new(move || {
        let app = app.clone();
        Box::pin(async move { app.ping().await.map_err(|error| error.to_string()) })
    })
}

/// Waits for a task to end, which it should not, and forgets it: it can't be awaited again.
async fn ended_by<E>(what: &str, task: &mut Option<JoinHandle<Result<(), E>>>) -> anyhow::Error
where
    E: std::error::Error + Send + Sync + 'static,
{
    let Some(running) = task else { return std::future::pending().await };
    let ended = running.await;
    *task = None;
    let why = match ended {
        Ok(Ok(())) => anyhow::anyhow!("it ended"),
        Ok(Err(error)) => error.into(),
        Err(error) => error.into(),
    };
    why.context(format!("serving {what} broke off"))
}

/// Waits for connections to close, but no longer than for what is open on them: a connection that
/// never speaks, or whose client has gone, does not count.
async fn end_serving(mut serving: Serving, calls: &TaskTracker, grace: Duration) {
    calls.close();
    let idle = async {
        calls.wait().await;
        sleep(LINGER).await;
    };
    let ended = async {
        tokio::select! {
            _ = &mut serving => {}
            () = idle => tracing::info!("cutting off connections on which nothing is open"),
        }
    };
    if timeout(grace, ended).await.is_err() {
        let open = calls.len();
        tracing::warn!(open, "{open} call(s) did not end within {} s; cutting them off", grace.as_secs());
    }
    serving.abort();
}

/// Serves until a signal, or until something breaks. A second signal ends at once; a private
/// database is then left running, and the next server adopts it.
pub async fn until_told(configuration: &Configuration) -> anyhow::Result<()> {
    let mut signals = Signals::install()?;
    let metrics = http::install_metrics().context("metrics can't be collected")?;
    let mut running = Running::start(configuration, metrics).await?;
    let broken = tokio::select! {
        name = signals.next() => {
            tracing::info!("{name}: shutting down, within {} s", configuration.shutdown_grace.as_secs());
            None
        }
        why = running.broken() => Some(why),
    };
    tokio::select! {
        stopped = running.stop() => broken.map_or(stopped, Err),
        name = signals.next() => {
            Err(anyhow::anyhow!("{name} again: ended at once; a private database is left running for the next start"))
        }
    }
}

/// Waits until somebody asks this program to end.
pub async fn told_to_stop() -> anyhow::Result<()> {
    Signals::install()?.next().await;
    Ok(())
}

/// What asks a server to end.
struct Signals {
    terminate: tokio::signal::unix::Signal,
    interrupt: tokio::signal::unix::Signal,
}

impl Signals {
    fn install() -> anyhow::Result<Self> {
        use tokio::signal::unix::{SignalKind, signal};
        let failed = "signals can't be watched";
        Ok(Self {
            terminate: signal(SignalKind::terminate()).context(failed)?,
            interrupt: signal(SignalKind::interrupt()).context(failed)?,
        })
    }

    async fn next(&mut self) -> &'static str {
        tokio::select! {
            _ = self.terminate.recv() => "SIGTERM",
            _ = self.interrupt.recv() => "SIGINT",
        }
    }
}
