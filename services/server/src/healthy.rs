//! Asks a running server whether it can work: for service managers and containers, whose probes are
//! programs and whose images may have no other.

use anyhow::{Context, bail, ensure};
use std::net::SocketAddr;
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::configuration::Configuration;

/// The server itself gives up on its database sooner.
const ANSWER_WITHIN: Duration = Duration::from_secs(4);
/// An answer of ours is a sentence.
const ANSWER_MAX: u64 = 64 * 1024;

/// Whether the server of this configuration says that it can work; an error says why not.
pub async fn healthy(configuration: &Configuration) -> anyhow::Result<()> {
    let address = configuration.http_listen;
    ensure!(
        address.ip().is_loopback() || configuration.tls.is_none(),
        "health is served with TLS on {address}; give http-listen a loopback address, or let the probe ask \
         https://{address}/healthz"
    );
    let Ok(answer) = tokio::time::timeout(ANSWER_WITHIN, ask(address)).await else {
        bail!("{address} did not answer within {} s; look at the server's log", ANSWER_WITHIN.as_secs());
    };
    let answer = answer.with_context(|| format!("no server answers on {address}; look whether it runs"))?;
    let (head, why) = answer.split_once("\r\n\r\n").unwrap_or((&answer, ""));
    // RFC 9112, 4: HTTP-version SP status-code.
    if head.split(' ').nth(1) == Some("200") { Ok(()) } else { bail!("{}", said(why, address)) }
}

fn said(why: &str, address: SocketAddr) -> String {
    let why = why.trim();
    if why.is_empty() { format!("what answers on {address} is not healthy, or no leadhandd") } else { why.to_owned() }
}

async fn ask(address: SocketAddr) -> std::io::Result<String> {
    let mut stream = TcpStream::connect(address).await?;
    let asked = format!("GET /healthz HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n");
    stream.write_all(asked.as_bytes()).await?;
    let mut answer = String::new();
    stream.take(ANSWER_MAX).read_to_string(&mut answer).await?;
    Ok(answer)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::Flags;
    use crate::http::{self, Probe};
    use metrics_exporter_prometheus::PrometheusBuilder;
    use std::sync::Arc;
    use tokio::net::TcpListener;
    use tokio_util::sync::CancellationToken;

    fn at(address: &str) -> Configuration {
        let flags = Flags { http_listen: Some(address.to_owned()), ..Flags::default() };
        Configuration::from_sources(&flags, &|_| None, true).unwrap()
    }

    async fn asked(answer: Result<(), String>) -> anyhow::Result<()> {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let configuration = at(&listener.local_addr().unwrap().to_string());
        let probe: Probe = Arc::new(move || Box::pin(std::future::ready(answer.clone())));
        let metrics = PrometheusBuilder::new().build_recorder().handle();
        let stop = CancellationToken::new();
        let server = tokio::spawn(http::serve(listener, probe, metrics, stop.clone()));
        let said = healthy(&configuration).await;
        stop.cancel();
        server.await.unwrap().unwrap();
        said
    }

    #[tokio::test]
    async fn it_says_what_the_server_says() {
        asked(Ok(())).await.unwrap();
        let why = asked(Err("the database is down".to_owned())).await.unwrap_err().to_string();
        assert_eq!(why, "the database is down");
    }

    #[tokio::test]
    async fn where_nobody_listens_it_says_so() {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap().to_string();
        drop(listener);
        let why = healthy(&at(&address)).await.unwrap_err().to_string();
        assert!(why.contains(&format!("no server answers on {address}")), "{why}");
    }

    #[tokio::test]
    async fn what_is_served_with_tls_is_not_asked_in_plaintext() {
        let mut configuration = at("127.0.0.1:0");
        configuration.http_listen = "0.0.0.0:7421".parse().unwrap();
        let (cert, key) = ("/cert.pem".into(), "/key.pem".into());
        configuration.tls = Some(leadhand_tls::TlsFiles { cert, key, client_ca: None });
        let why = healthy(&configuration).await.unwrap_err().to_string();
        assert!(why.contains("give http-listen a loopback address"), "{why}");
    }
}
