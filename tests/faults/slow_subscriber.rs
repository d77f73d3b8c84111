//! A subscriber that never reads does not stop the writers or the other subscribers, and is let go.

use crate::edge::{Edge, endpoint, known};
use crate::history::Known;
use crate::postgres_killed::receive;
use crate::shop::{Shop, new_id};
use crate::waiting::until;
use kit::process::open_shop;
use kit::{Leadhandd, fresh_database};
use leadhand_proto::v1;
use rand::SeedableRng;
use rand::rngs::StdRng;
use std::time::Duration;
use tonic::Code;

const WITHIN: Duration = Duration::from_secs(30);
const COMMANDS: usize = 300;
const STREAMS: &str = r#"leadhand_streams{rpc="FollowJournal"}"#;

#[tokio::test]
async fn writers_and_readers_go_on_beside_a_subscriber_that_never_reads() {
    let database = fresh_database().await;
    let mut replica = Leadhandd::over(&database.app_url()).unwrap();
    replica.start().await.unwrap();
    let edge = Edge::to(&replica.url()).unwrap();
    let lead = open_shop(&database.app_url(), "Yard").await.unwrap();
    let shop = Shop::furnish(&edge, lead, 3).await.unwrap();
    let begin = v1::Cursor::default();

    // The smallest window that the protocol's peers take: it is full after a few facts (RFC 9113, 6.9).
    let narrow = endpoint(&replica.url()).unwrap().initial_stream_window_size(1_024).connect_lazy();
    let mut still = Edge { channel: narrow }.follow(&shop.lead, begin.clone()).await.unwrap();
    let mut reading = edge.follow(&shop.lead, begin).await.unwrap();

    let mut random = StdRng::seed_from_u64(11);
    let commands: Vec<_> = (0..COMMANDS).map(|_| receive(new_id(&mut random))).collect();
    let mut last = 0;
    for command in &commands {
        last = command.send(&edge, &shop.lead, WITHIN).await.unwrap().number;
    }
    let mut log: Vec<Known> = Vec::new();
    while log.last().is_none_or(|fact| fact.number < last) {
        let message = reading.message().await.unwrap().expect("the stream goes on");
        log.extend(message.facts.iter().map(|fact| known(fact).unwrap()));
    }
    let numbers: Vec<i64> = log.iter().map(|fact| fact.number).collect();
    assert_eq!(numbers, (1..=last).collect::<Vec<i64>>());

    // Nobody keeps what it does not take.
    let look = || async { (replica.metric(STREAMS).await.ok()? <= 1.0).then_some(()) };
    until(WITHIN, "the still subscriber to be let go", look).await.unwrap();
    let over = loop {
        match still.message().await {
            Ok(Some(_)) => {}
            Ok(None) => panic!("the stream ended without a reason"),
            Err(status) => break status,
        }
    };
    assert_eq!((over.code(), crate::edge::reason(&over).as_str()), (Code::ResourceExhausted, "SLOW_READER"));
}
