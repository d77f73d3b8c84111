//! Puts the screen together and serves until told to stop.

use crate::config::Settings;
use crate::hub::Hub;
use crate::pages::{self, Screen};
use crate::sessions::Sessions;
use crate::texts::Texts;
use crate::tls::Incoming;
use anyhow::Context;
use leadhand_sdk::Client;
use rand::RngExt;
use std::fmt::Debug;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};
use tokio_util::sync::CancellationToken;

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
    let screen = Screen::new(client, hub, texts, sessions, stop.clone());
    let pages = pages::router(screen);
    let address = listener.local_addr()?;
    let scheme = if settings.tls.is_some() { "https" } else { "http" };
    tracing::info!("the shop screen is at {scheme}://{address}/");
    match settings.tls {
        Some(files) => run(Incoming::begin(files, listener)?, pages, stop).await,
        None => run(listener, pages, stop).await,
    }
}

async fn run<L>(listener: L, pages: axum::Router, stop: CancellationToken) -> anyhow::Result<()>
where
    L: axum::serve::Listener<Addr: Debug>,
{
    let served = axum::serve(listener, pages).with_graceful_shutdown(stop.clone().cancelled_owned());
    let cut_off = async {
        stop.cancelled().await;
        tokio::time::sleep(LEAVE_WITHIN).await;
    };
    tokio::select! {
        result = served => result.context("the pages can't be served"),
        () = cut_off => Ok(()),
    }
}
