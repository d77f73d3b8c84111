//! TLS from PEM files, which are read anew when they change: a renewed certificate needs no restart, and a broken one is
//! reported and changes nothing. For the server and for the pages; it knows nothing of either.

mod handshakes;

use anyhow::{Context, anyhow};
use handshakes::Handshakes;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use rustls::server::WebPkiClientVerifier;
use rustls::{RootCertStore, ServerConfig};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{mpsc, watch};
use tokio::time::{sleep, timeout};
use tokio_rustls::TlsAcceptor;
use tokio_rustls::server::TlsStream;
use tokio_util::sync::CancellationToken;

/// How often the files are looked at.
const LOOK_EVERY: Duration = Duration::from_secs(2);
/// How long a client may take to shake hands.
const HANDSHAKE_WITHIN: Duration = Duration::from_secs(10);
/// After an accept that failed (too many open files), this long is waited.
const ACCEPT_PAUSE: Duration = Duration::from_millis(50);

/// Where certificate and key lie.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TlsFiles {
    /// PEM file of the certificate, with those between it and the root behind it.
    pub cert: PathBuf,
    /// PEM file of its private key.
    pub key: PathBuf,
    /// PEM file of the authorities whose clients are let in; without it no client shows a certificate.
    pub client_ca: Option<PathBuf>,
}

/// The files as they were read.
#[derive(PartialEq, Eq)]
struct Files {
    cert: Vec<u8>,
    key: Vec<u8>,
    client_ca: Option<Vec<u8>>,
}

impl Files {
    fn read(paths: &TlsFiles) -> anyhow::Result<Self> {
        let read = |path: &Path| std::fs::read(path).with_context(|| format!("{} can't be read", path.display()));
        Ok(Self {
            cert: read(&paths.cert)?,
            key: read(&paths.key)?,
            client_ca: paths.client_ca.as_deref().map(read).transpose()?,
        })
    }

    fn config(&self, paths: &TlsFiles, spoken: &[&str]) -> anyhow::Result<ServerConfig> {
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let chain = certificates(&self.cert, &paths.cert)?;
        let key = PrivateKeyDer::from_pem_slice(&self.key)
            .map_err(|error| anyhow!("{} holds no private key in PEM: {error}", paths.key.display()))?;
        let builder = ServerConfig::builder_with_provider(provider.clone()).with_safe_default_protocol_versions()?;
        let builder = match (&self.client_ca, &paths.client_ca) {
            (Some(pem), Some(path)) => {
                let mut roots = RootCertStore::empty();
                for authority in certificates(pem, path)? {
                    roots.add(authority).with_context(|| format!("{}: no authority", path.display()))?;
                }
                let verifier = WebPkiClientVerifier::builder_with_provider(Arc::new(roots), provider).build()?;
                builder.with_client_cert_verifier(verifier)
            }
            _ => builder.with_no_client_auth(),
        };
        let mut config = builder
            .with_single_cert(chain, key)
            .with_context(|| format!("{} and {} do not go together", paths.cert.display(), paths.key.display()))?;
        config.alpn_protocols = spoken.iter().map(|name| name.as_bytes().to_vec()).collect();
        Ok(config)
    }
}

fn certificates(pem: &[u8], path: &Path) -> anyhow::Result<Vec<CertificateDer<'static>>> {
    let found: Result<Vec<_>, _> = CertificateDer::pem_slice_iter(pem).collect();
    let found = found.map_err(|error| anyhow!("{} is no PEM: {error}", path.display()))?;
    if found.is_empty() { Err(anyhow!("{} holds no certificate in PEM", path.display())) } else { Ok(found) }
}

/// What every new connection is greeted with.
#[derive(Clone)]
pub struct Tls {
    current: watch::Receiver<Arc<ServerConfig>>,
}

impl Tls {
    /// Reads the files, and goes on looking at them until it is told to stop.
    ///
    /// `spoken` names the protocols inside, the preferred one first, as RFC 7301 registers them: `h2`, `http/1.1`.
    ///
    /// # Errors
    ///
    /// A file can't be read, is no PEM, or certificate and key do not go together.
    pub fn begin(paths: TlsFiles, spoken: &'static [&'static str], stop: CancellationToken) -> anyhow::Result<Self> {
        let files = Files::read(&paths).context("TLS")?;
        let (sender, current) = watch::channel(Arc::new(files.config(&paths, spoken).context("TLS")?));
        tokio::spawn(async move {
            tokio::select! {
                () = stop.cancelled() => {}
                () = look(&paths, spoken, files, &sender) => {}
            }
        });
        Ok(Self { current })
    }

    /// Connections that have shaken hands, until it is told to stop.
    ///
    /// # Errors
    ///
    /// The listener has no address any more.
    pub fn incoming(&self, listener: TcpListener, stop: CancellationToken) -> std::io::Result<Incoming> {
        let address = listener.local_addr()?;
        let (sender, shaken) = mpsc::channel(64);
        let tls = self.clone();
        tokio::spawn(async move {
            tokio::select! {
                () = stop.cancelled() => {}
                () = tls.accept(listener, sender) => {}
            }
        });
        Ok(Incoming { address, shaken })
    }

    async fn accept(&self, listener: TcpListener, sender: mpsc::Sender<(TlsStream<TcpStream>, SocketAddr)>) {
        let mut handshakes = Handshakes::default();
        loop {
            let (stream, peer) = match listener.accept().await {
                Ok(accepted) => accepted,
                Err(error) => {
                    tracing::warn!(%error, "a connection could not be accepted");
                    sleep(ACCEPT_PAUSE).await;
                    continue;
                }
            };
            let (acceptor, sender) = (TlsAcceptor::from(self.current.borrow().clone()), sender.clone());
            handshakes.begin(async move {
                // Small answers must not wait for each other (RFC 9293, 3.7.4).
                let _ = stream.set_nodelay(true);
                match timeout(HANDSHAKE_WITHIN, acceptor.accept(stream)).await {
                    Ok(Ok(shaken)) => {
                        let _ = sender.send((shaken, peer)).await;
                    }
                    Ok(Err(error)) => tracing::info!(%peer, %error, "refused a connection: no TLS came about"),
                    Err(_) => tracing::info!(%peer, "refused a connection: its TLS took too long"),
                }
            });
        }
    }
}

async fn look(paths: &TlsFiles, spoken: &[&str], mut known: Files, sender: &watch::Sender<Arc<ServerConfig>>) {
    let mut told = String::new();
    loop {
        sleep(LOOK_EVERY).await;
        // Two files can't be replaced in one go: a pair that does not fit yet is looked at again.
        let read = Files::read(paths).and_then(|files| {
            if files == known { Ok(None) } else { files.config(paths, spoken).map(|config| Some((files, config))) }
        });
        match read {
            Ok(None) => told.clear(),
            Ok(Some((files, config))) => {
                known = files;
                told.clear();
                sender.send_replace(Arc::new(config));
                tracing::info!("certificate and key were read anew; new connections get them");
            }
            Err(error) => {
                let why = format!("{error:#}");
                if told != why {
                    tracing::error!("the changed certificate or key is not used: {why}");
                    told = why;
                }
            }
        }
    }
}

/// Connections over TLS, as they come.
pub struct Incoming {
    address: SocketAddr,
    shaken: mpsc::Receiver<(TlsStream<TcpStream>, SocketAddr)>,
}

impl Incoming {
    /// For gRPC.
    pub fn into_stream(self) -> impl futures::Stream<Item = std::io::Result<TlsStream<TcpStream>>> + Send {
        futures::stream::unfold(self.shaken, async |mut shaken| {
            shaken.recv().await.map(|(stream, _)| (Ok(stream), shaken))
        })
    }
}

/// For the pages of health and metrics.
impl axum::serve::Listener for Incoming {
    type Io = TlsStream<TcpStream>;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Self::Io, Self::Addr) {
        match self.shaken.recv().await {
            Some(connection) => connection,
            // The server is stopping; nothing comes any more.
            None => std::future::pending().await,
        }
    }

    fn local_addr(&self) -> std::io::Result<SocketAddr> {
        Ok(self.address)
    }
}
