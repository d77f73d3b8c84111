use super::*;
use leadhand_sdk::Endpoint;
use std::net::SocketAddr;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

/// Pages whose job server is not there, for as long as the test goes on.
async fn begin() -> (SocketAddr, CancellationToken) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let (listen, stop) = (listener.local_addr().unwrap(), CancellationToken::new());
    let endpoint = Endpoint::new("http://127.0.0.1:1");
    let settings = Settings { endpoint, listen, hosts: Vec::new(), tls: None, locale: "en-GB".into() };
    tokio::spawn(serve(settings, listener, stop.clone()));
    (listen, stop)
}

/// The whole answer, after which the connection ends (RFC 9112, 9.6).
async fn ask(at: SocketAddr, path: &str, host: &str) -> String {
    let mut stream = TcpStream::connect(at).await.unwrap();
    let request = format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).await.unwrap();
    answer
}

#[tokio::test]
async fn no_page_is_served_under_anothers_name() {
    let (at, stop) = begin().await;
    for path in ["/", "/sign-in", "/bay/lift-1", "/bay/lift-1/events", "/events", "/assets/base.css"] {
        let refused = ask(at, path, "evil.example:7480").await;
        assert!(refused.starts_with("HTTP/1.1 421 ") && refused.contains("--host"), "{path}: {refused}");
    }
    assert!(ask(at, "/assets/base.css", &at.to_string()).await.starts_with("HTTP/1.1 200 "));
    assert!(ask(at, "/", "localhost").await.starts_with("HTTP/1.1 200 "));
    stop.cancel();
}

#[tokio::test(start_paused = true)]
async fn a_page_that_can_t_be_put_together_now_comes_back_by_itself() {
    let (at, stop) = begin().await;
    let again = "<meta http-equiv=\"refresh\"";
    let away = ask(at, "/bay/lift-1", "localhost").await;
    assert!(away.starts_with("HTTP/1.1 502 ") && away.contains(again), "{away}");
    let nothing = ask(at, "/nowhere", "localhost").await;
    assert!(nothing.starts_with("HTTP/1.1 404 ") && !nothing.contains(again), "{nothing}");
    stop.cancel();
}

#[tokio::test(start_paused = true)]
async fn a_connection_that_says_nothing_ends() {
    let (at, stop) = begin().await;
    let mut silent = TcpStream::connect(at).await.unwrap();
    let mut slow = TcpStream::connect(at).await.unwrap();
    slow.write_all(b"GET / HTTP/1.1\r\nHost: loc").await.unwrap();
    let mut rest = Vec::new();
    for stream in [&mut silent, &mut slow] {
        let ended = tokio::time::timeout(HEAD_WITHIN * 10, stream.read_to_end(&mut rest)).await;
        ended.expect("it is still open").unwrap();
    }
    stop.cancel();
}

#[tokio::test(start_paused = true)]
async fn the_next_browser_gets_the_place_that_a_silent_one_gives_up() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let (at, stop) = (listener.local_addr().unwrap(), CancellationToken::new());
    let pages = axum::Router::new().route("/", axum::routing::get(|| async { "here" }));
    let served = tokio::spawn(run(listener, pages, 2, stop.clone()));
    let silent = [TcpStream::connect(at).await.unwrap(), TcpStream::connect(at).await.unwrap()];
    assert!(ask(at, "/", "localhost").await.ends_with("here"));
    let ended = silent.iter().filter(|stream| stream.try_read(&mut [0; 512]).is_ok());
    assert!(ended.count() > 0, "there were only two places");
    stop.cancel();
    served.await.unwrap();
}
