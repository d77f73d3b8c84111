//! Calls that are cancelled as soon as they are made: an honest client may cancel all it has open, a flood ends.

use crate::shop::Shop;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tonic::codegen::http::Uri;

// RFC 9113: frame types and flags of section 6.
const HEADERS: u8 = 1;
const RST_STREAM: u8 = 3;
const SETTINGS: u8 = 4;
const PING: u8 = 6;
const GOAWAY: u8 = 7;
const END_STREAM: u8 = 1;
const END_HEADERS: u8 = 4;
const ACK: u8 = 1;
const CANCEL: [u8; 4] = [0, 0, 0, 8];

fn frame(kind: u8, flags: u8, stream: u32, payload: &[u8]) -> Vec<u8> {
    let length = u32::try_from(payload.len()).unwrap().to_be_bytes();
    [&length[1..], &[kind, flags], &stream.to_be_bytes(), payload].concat()
}

/// A literal header field without indexing (RFC 7541, 6.2.2).
fn field(name: &str, value: &str) -> Vec<u8> {
    let part = |text: &str| [&[u8::try_from(text.len()).unwrap()], text.as_bytes()].concat();
    [vec![0], part(name), part(value)].concat()
}

fn call() -> Vec<u8> {
    let fields = [
        (":method", "POST"),
        (":scheme", "http"),
        (":path", "/leadhand.v1.ShopService/GetShop"),
        (":authority", "localhost"),
        ("content-type", "application/grpc"),
        ("te", "trailers"),
    ];
    fields.iter().flat_map(|(name, value)| field(name, value)).collect()
}

struct Connection(TcpStream);

impl Connection {
    async fn to(url: &str) -> Self {
        let url: Uri = url.parse().unwrap();
        let stream = TcpStream::connect(url.authority().unwrap().as_str()).await.unwrap();
        let mut connection = Self(stream);
        connection.0.write_all(b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n").await.unwrap();
        connection.0.write_all(&frame(SETTINGS, 0, 0, &[])).await.unwrap();
        connection
    }

    /// Makes so many calls and cancels each, all in one write, beginning with this stream.
    async fn cancel(&mut self, calls: u32, first: u32) {
        let mut all = Vec::new();
        for stream in (first..).step_by(2).take(usize::try_from(calls).unwrap()) {
            all.extend(frame(HEADERS, END_HEADERS, stream, &call()));
            all.extend(frame(RST_STREAM, 0, stream, &CANCEL));
        }
        // A peer that has ended the connection may not take all of it.
        self.0.write_all(&all).await.ok();
    }

    /// Whether a call by this stream is answered; not, when the connection ends before.
    async fn answered(&mut self, stream: u32) -> bool {
        self.0.write_all(&frame(HEADERS, END_HEADERS | END_STREAM, stream, &call())).await.ok();
        loop {
            let mut head = [0; 9];
            if self.0.read_exact(&mut head).await.is_err() {
                return false;
            }
            let length = u32::from_be_bytes([0, head[0], head[1], head[2]]);
            let mut payload = vec![0; usize::try_from(length).unwrap()];
            if self.0.read_exact(&mut payload).await.is_err() || head[3] == GOAWAY {
                return false;
            }
            let of = u32::from_be_bytes([head[5], head[6], head[7], head[8]]);
            if matches!(head[3], SETTINGS | PING) && head[4] & ACK == 0 {
                let payload = if head[3] == PING { payload } else { Vec::new() };
                self.0.write_all(&frame(head[3], ACK, 0, &payload)).await.ok();
            }
            if head[3] == HEADERS && of == stream {
                return true;
            }
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn two_hundred_calls_cancelled_at_once_leave_the_connection_whole() {
    let shop = Shop::open().await;
    let mut connection = Connection::to(shop.url()).await;
    assert!(connection.answered(1).await, "the connection takes calls");
    connection.cancel(200, 3).await;
    assert!(connection.answered(1_001).await, "an honest client lost its connection");
    shop.verified().await;
}

// CVE-2023-44487: streams that are opened and reset without an end.
#[tokio::test(flavor = "multi_thread")]
async fn a_flood_of_cancelled_calls_ends_with_its_connection() {
    let shop = Shop::open().await;
    let mut connection = Connection::to(shop.url()).await;
    assert!(connection.answered(1).await, "the connection takes calls");
    let mut first = 3;
    // 200,000 calls at most, as quick as the wire takes them.
    let ended = loop {
        connection.cancel(20_000, first).await;
        first += 40_000;
        if !connection.answered(first).await {
            break true;
        }
        first += 2;
        if first > 400_000 {
            break false;
        }
    };
    assert!(ended, "{} calls were made and cancelled, and more are taken", first / 2);
    // Whoever comes in by another connection does not notice.
    shop.head().await;
    shop.verified().await;
}
