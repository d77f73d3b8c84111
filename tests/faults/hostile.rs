//! A storm of requests that are none, against a server of its own: it neither keeps them nor falls.

use crate::edge::{Edge, endpoint, reason};
use futures::future::join_all;
use kit::process::open_shop;
use kit::{Leadhandd, fresh_database};
use prost::bytes::Bytes;
use tonic::body::Body;
use tonic::codegen::Service;
use tonic::{Code, Status};

const MIB: u64 = 1024 * 1024;
/// What the server may hold more after the storm than before it.
const GROWTH_MAX: u64 = 50 * MIB;
const ROUNDS: usize = 40;
const AT_ONCE: usize = 25;

/// Sends a body as it is, with so many headers more.
async fn send(edge: &Edge, token: &str, body: Bytes, headers: usize) -> Option<Status> {
    let mut asked = http::Request::post("/leadhand.v1.StockService/ImportStock")
        .header("content-type", "application/grpc")
        .header("te", "trailers")
        .header("authorization", format!("Bearer {token}"));
    for n in 0..headers {
        asked = asked.header(format!("x-{n}"), "y");
    }
    let mut channel = edge.channel.clone();
    std::future::poll_fn(|cx| channel.poll_ready(cx)).await.ok()?;
    let answered = channel.call(asked.body(Body::new(http_body_util::Full::new(body))).unwrap()).await.ok()?;
    Status::from_header_map(answered.headers())
}

fn framed(flag: u8, length: u32, message: &[u8]) -> Bytes {
    [&[flag][..], &length.to_be_bytes(), message].concat().into()
}

#[tokio::test]
async fn a_storm_of_requests_that_are_none_is_refused_and_not_kept() {
    let database = fresh_database().await;
    let mut server = Leadhandd::over(&database.app_url()).unwrap();
    server.start().await.unwrap();
    let token = open_shop(&database.app_url(), "Yard").await.unwrap();
    let edge = Edge { channel: endpoint(&server.url()).unwrap().connect_lazy() };
    let head = edge.head(&token).await.unwrap();
    let million = vec![0_u8; 1024 * 1024];
    let bodies = [
        framed(0, u32::MAX, &million),
        framed(0, 4 * 1024 * 1024 + 1, &million),
        framed(1, 1024 * 1024, &million),
        framed(0, 1024 * 1024, &million),
        framed(0, 2 * 1024 * 1024, &million),
        framed(0, 9, &[0xff; 9]),
    ];
    // What one round needs, the allocator keeps for the next: the storm is measured against that.
    let mut refused = 0;
    let mut before = 0;
    for round in 0..=ROUNDS {
        let all = (0..AT_ONCE).map(|n| send(&edge, &token, bodies[(round + n) % bodies.len()].clone(), 0));
        for status in join_all(all).await {
            let status = status.expect("an answer");
            let told = (status.code(), reason(&status));
            assert_eq!(told, (Code::InvalidArgument, "REQUEST_UNREADABLE".to_owned()), "{status:?}");
            refused += 1;
        }
        let headers = (0..4).map(|_| send(&edge, &token, framed(0, 0, &[]), 10_000));
        assert!(join_all(headers).await.iter().all(Option::is_none), "10,000 headers came in");
        if round == 0 {
            before = server.memory().unwrap();
        }
    }
    let after = server.memory().unwrap();
    println!("{refused} refused; {} KiB before, {} KiB after", before / 1024, after / 1024);
    assert!(after < before + GROWTH_MAX, "it holds {after} bytes, {before} before");
    assert_eq!(edge.head(&token).await.unwrap(), head, "something was changed");
}
