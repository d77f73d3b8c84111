//! Puts the screen together and serves until told to stop.

use crate::config::Settings;
use crate::hosts::Hosts;
use crate::hub::Hub;
use crate::pages::{self, Screen};
use crate::sessions::Sessions;
use crate::texts::Texts;
use anyhow::Context;
use axum::serve::Listener;
use hyper_util::rt::{TokioExecutor, TokioIo, TokioTimer};
use hyper_util::server::conn::auto::Builder;
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use leadhand_sdk::Client;
use leadhand_tls::Tls;
use rand::RngExt;
use std::fmt::Debug;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::Semaphore;
use tokio_util::sync::CancellationToken;

/// How long a browser may take to say what it wants, from the beginning of a connection or the last answer on.
const HEAD_WITHIN: Duration = Duration::from_secs(15);
/// Connections at a time: every stream, and room for what is asked in between. The next one waits for a place, which a
/// silent one gives up soon.
const CONNECTIONS_MAX: usize = 1500;
/// A browser that keeps its connection open is cut off after this long.
const LEAVE_WITHIN: Duration = Duration::from_secs(2);

/// Random bits, as hexadecimal digits.
#[expect(
    clippy::disallowed_methods,
    reason = "the screen draws the secrets of its sessions itself, here and nowhere else"
)]
pub(crate) fn random<const N: usize>() -> String {
    let bytes: [u8; N] = rand::rng().random();
    bytes.iter().fold(String::new(), |text, byte| text + &format!("{byte:02x}"))
}

/// Serves until the process is told to stop.
pub async fn until_told(settings: Settings) -> anyhow::Result<()> {
    let listen = settings.listen;
    let listener =
        TcpListener::bind(listen).await.with_context(|| format!("{listen} can't be listened at; give --listen"))?;
    let stop = CancellationToken::new();
    let (mut ended, mut broken) = (signal(SignalKind::terminate())?, signal(SignalKind::interrupt())?);
    let told = stop.clone();
    tokio::spawn(async move {
        tokio::select! {
            _ = ended.recv() => {}
            _ = broken.recv() => {}
        }
        told.cancel();
    });
    serve(settings, listener, stop).await
}

/// Serves at a listener until told to stop.
pub async fn serve(settings: Settings, listener: TcpListener, stop: CancellationToken) -> anyhow::Result<()> {
    let client = Client::connect(settings.endpoint)?;
    let texts = Texts::of(&settings.locale);
    let hub = Hub::begin(client.clone(), texts.clone(), &random::<6>());
    let sessions = Arc::new(Sessions::new(random::<32>(), settings.tls.is_some()));
    let address = listener.local_addr()?;
    let hosts = Hosts::new(address.ip(), &settings.hosts);
    if !address.ip().is_loopback() && settings.hosts.is_empty() {
        tracing::warn!("the pages are served under every name; give --host so that no other page can pose as them");
    }
    let screen = Screen::new(client, hub, texts, sessions, hosts, stop.clone());
    let pages = pages::router(screen);
    let scheme = if settings.tls.is_some() { "https" } else { "http" };
    tracing::info!("the shop screen is at {scheme}://{address}/");
    match settings.tls {
        Some(files) => {
            let tls = Tls::begin(files, &["http/1.1"], stop.clone())?;
            run(tls.incoming(listener, stop.clone())?, pages, CONNECTIONS_MAX, stop).await;
        }
        None => run(listener, pages, CONNECTIONS_MAX, stop).await,
    }
    Ok(())
}

/// Serves connections, so many at a time.
async fn run<L>(mut listener: L, pages: axum::Router, most: usize, stop: CancellationToken)
where
    L: Listener<Addr: Debug>,
{
    let mut http = Builder::new(TokioExecutor::new()).http1_only();
    http.http1().timer(TokioTimer::new()).header_read_timeout(HEAD_WITHIN);
    let (places, open) = (Arc::new(Semaphore::new(most)), GracefulShutdown::new());
    let accept = async {
        while let Ok(place) = places.clone().acquire_owned().await {
            let (stream, peer) = listener.accept().await;
            let service = TowerToHyperService::new(pages.clone());
            let connection = http.serve_connection(TokioIo::new(stream), service).into_owned();
            let connection = open.watch(connection);
            tokio::spawn(async move {
                let _place = place;
                if let Err(error) = connection.await {
                    tracing::debug!(?peer, %error, "a connection ended");
                }
            });
        }
    };
    stop.run_until_cancelled(accept).await;
    drop(listener);
    let _ = tokio::time::timeout(LEAVE_WITHIN, open.shutdown()).await;
}

#[cfg(test)]
#[path = "serve_tests.rs"]
mod tests;
