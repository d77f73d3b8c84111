//! TLS from PEM files, which are read anew when they change: a renewed certificate needs no restart, and a broken one
//! is reported and changes nothing.

use anyhow::{Context, anyhow};
use rustls::ServerConfig;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use std::collections::VecDeque;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::mpsc;
use tokio::task::AbortHandle;
use tokio::time::{Instant, sleep, timeout};
use tokio_rustls::TlsAcceptor;
use tokio_rustls::server::TlsStream;

/// How often the files are looked at, at most.
const LOOK_EVERY: Duration = Duration::from_secs(2);
/// How long a browser may take to shake hands.
const HANDSHAKE_WITHIN: Duration = Duration::from_secs(10);
/// Handshakes under way at a time; the oldest gives way to the next, so that silent ones keep nobody out.
const HANDSHAKES_MAX: usize = 128;
/// After an accept that failed (too many open files), this long is waited.
const ACCEPT_PAUSE: Duration = Duration::from_millis(50);

/// Where certificate and key lie.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TlsFiles {
    /// PEM file of the certificate, with those between it and the root behind it.
    pub cert: PathBuf,
    /// PEM file of its private key.
    pub key: PathBuf,
}

/// Both files as they were read.
#[derive(PartialEq, Eq)]
struct Pair {
    cert: Vec<u8>,
    key: Vec<u8>,
}

impl TlsFiles {
    fn read(&self) -> anyhow::Result<Pair> {
        let read = |path: &PathBuf| std::fs::read(path).with_context(|| format!("{} can't be read", path.display()));
        Ok(Pair { cert: read(&self.cert)?, key: read(&self.key)? })
    }

    fn config(&self, pair: &Pair) -> anyhow::Result<Arc<ServerConfig>> {
        let chain: Result<Vec<CertificateDer<'static>>, _> = CertificateDer::pem_slice_iter(&pair.cert).collect();
        let chain = chain.map_err(|error| anyhow!("{} is no PEM: {error}", self.cert.display()))?;
        let key = PrivateKeyDer::from_pem_slice(&pair.key)
            .map_err(|error| anyhow!("{} holds no private key in PEM: {error}", self.key.display()))?;
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let builder = ServerConfig::builder_with_provider(provider).with_safe_default_protocol_versions()?;
        let mut config = builder
            .with_no_client_auth()
            .with_single_cert(chain, key)
            .with_context(|| format!("{} and {} do not go together", self.cert.display(), self.key.display()))?;
        config.alpn_protocols = vec![b"http/1.1".to_vec()];
        Ok(Arc::new(config))
    }
}

/// Connections over TLS, as they come.
pub struct Incoming {
    address: SocketAddr,
    shaken: mpsc::Receiver<(TlsStream<TcpStream>, SocketAddr)>,
}

impl Incoming {
    /// Reads the files and begins to accept; it ends when this value is dropped.
    pub fn begin(files: TlsFiles, listener: TcpListener) -> anyhow::Result<Self> {
        let pair = files.read().context("TLS")?;
        let config = files.config(&pair).context("TLS")?;
        let address = listener.local_addr()?;
        let (sender, shaken) = mpsc::channel(64);
        tokio::spawn(accept(
            Current { files, pair, config, looked: Instant::now(), told: String::new() },
            listener,
            sender,
        ));
        Ok(Self { address, shaken })
    }
}

/// The pair that new connections get.
struct Current {
    files: TlsFiles,
    pair: Pair,
    config: Arc<ServerConfig>,
    looked: Instant,
    told: String,
}

impl Current {
    fn config(&mut self) -> Arc<ServerConfig> {
        if self.looked.elapsed() >= LOOK_EVERY {
            self.looked = Instant::now();
            self.look();
        }
        self.config.clone()
    }

    fn look(&mut self) {
        // Two files can't be replaced in one go: a pair that does not fit yet is looked at again.
        let read = self.files.read().and_then(|pair| {
            if pair == self.pair { Ok(None) } else { self.files.config(&pair).map(|config| Some((pair, config))) }
        });
        match read {
            Ok(None) => self.told.clear(),
            Ok(Some((pair, config))) => {
                (self.pair, self.config) = (pair, config);
                tracing::info!("certificate and key were read anew; new connections get them");
            }
            Err(error) => {
                let why = format!("{error:#}");
                if self.told != why {
                    tracing::error!("the changed certificate or key is not used: {why}");
                    self.told = why;
                }
            }
        }
    }
}

/// Handshakes that are not done yet, the oldest first.
#[derive(Default)]
struct UnderWay(VecDeque<AbortHandle>);

impl UnderWay {
    fn begin(&mut self, handshake: impl Future<Output = ()> + Send + 'static) {
        self.0.retain(|one| !one.is_finished());
        if self.0.len() >= HANDSHAKES_MAX
            && let Some(oldest) = self.0.pop_front()
        {
            oldest.abort();
        }
        self.0.push_back(tokio::spawn(handshake).abort_handle());
    }
}

async fn accept(mut current: Current, listener: TcpListener, sender: mpsc::Sender<(TlsStream<TcpStream>, SocketAddr)>) {
    let mut under_way = UnderWay::default();
    loop {
        let accepted = tokio::select! {
            () = sender.closed() => return,
            accepted = listener.accept() => accepted,
        };
        let (stream, peer) = match accepted {
            Ok(accepted) => accepted,
            Err(error) => {
                tracing::warn!(%error, "a connection could not be accepted");
                sleep(ACCEPT_PAUSE).await;
                continue;
            }
        };
        let (acceptor, sender) = (TlsAcceptor::from(current.config()), sender.clone());
        under_way.begin(async move {
            let _ = stream.set_nodelay(true);
            match timeout(HANDSHAKE_WITHIN, acceptor.accept(stream)).await {
                Ok(Ok(shaken)) => {
                    let _ = sender.send((shaken, peer)).await;
                }
                Ok(Err(error)) => tracing::debug!(%peer, %error, "refused a connection: no TLS came about"),
                Err(_) => tracing::debug!(%peer, "refused a connection: its TLS took too long"),
            }
        });
    }
}

impl axum::serve::Listener for Incoming {
    type Io = TlsStream<TcpStream>;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Self::Io, Self::Addr) {
        match self.shaken.recv().await {
            Some(connection) => connection,
            // It is stopping; nothing comes any more.
            None => std::future::pending().await,
        }
    }

    fn local_addr(&self) -> std::io::Result<SocketAddr> {
        Ok(self.address)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::sync::oneshot;

    #[tokio::test(start_paused = true)]
    async fn silent_handshakes_give_way_to_the_next_one() {
        let mut under_way = UnderWay::default();
        let mut waiting = Vec::new();
        for _ in 0..HANDSHAKES_MAX {
            let (held, dropped) = oneshot::channel::<()>();
            waiting.push(dropped);
            under_way.begin(async move {
                let _held = held;
                std::future::pending::<()>().await;
            });
        }
        let (done, told) = oneshot::channel();
        under_way.begin(async move {
            let _ = done.send(());
        });
        told.await.unwrap();
        let oldest = timeout(HANDSHAKE_WITHIN, &mut waiting[0]).await;
        assert!(oldest.expect("the oldest still goes on").is_err());
        assert!(waiting[1..].iter_mut().all(|one| one.try_recv() == Err(oneshot::error::TryRecvError::Empty)));
        assert!(under_way.0.len() <= HANDSHAKES_MAX);
    }
}
