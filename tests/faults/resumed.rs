//! A follower whose stream is cut a hundred times while others write: it goes on at its cursor on
//! another replica, and what it took down is the journal, without a gap and without a repeat.

use crate::checker::check;
use crate::edge::{Edge, known};
use crate::history::Log;
use crate::report::report;
use crate::scene::Scene;
use crate::storm::{Plan, storm_with};
use crate::waiting::until;
use anyhow::{Context, Result};
use futures::FutureExt;
use leadhand_proto::v1;
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use std::time::Duration;
use tonic::Streaming;

const CUTS: usize = 100;
const WITHIN: Duration = Duration::from_secs(30);
const STREAMS: &str = r#"leadhand_streams{rpc="FollowJournal"}"#;

struct Follower {
    token: String,
    edges: Vec<Edge>,
    log: Log,
}

impl Follower {
    /// Another stream, on the next replica, from where the last one was cut.
    async fn go_on(&self, cut: usize) -> Result<Streaming<v1::FollowJournalResponse>> {
        let fact_id = self.log.facts.last().map(|last| last.fact_id.to_string()).unwrap_or_default();
        let cursor = v1::Cursor { number: self.number(), fact_id };
        self.edges[cut % self.edges.len()].follow(&self.token, cursor).await.context("the cursor was refused")
    }

    fn number(&self) -> i64 {
        self.log.facts.last().map_or(0, |last| last.number)
    }

    fn take(&mut self, message: Option<v1::FollowJournalResponse>) -> Result<()> {
        for fact in &message.context("the stream ended by itself")?.facts {
            self.log.facts.push(known(fact)?);
        }
        Ok(())
    }

    /// Each time a few messages are read to the end; then the stream is cut, perhaps in the middle of one.
    async fn be_cut(&mut self, random: &mut StdRng) -> Result<()> {
        for cut in 0..CUTS {
            let mut stream = self.go_on(cut).await?;
            let before = self.log.facts.len();
            while self.log.facts.len() == before || random.random_bool(0.5) {
                self.take(stream.message().await?)?;
            }
            if let Some(message) = stream.message().now_or_never() {
                self.take(message?)?;
            }
        }
        Ok(())
    }

    /// The rest, up to a number.
    async fn catch_up(&mut self, wanted: i64) -> Result<()> {
        self.log.wanted = wanted;
        let mut stream = self.go_on(0).await?;
        while self.number() < wanted {
            self.take(stream.message().await?)?;
        }
        Ok(())
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_follower_cut_a_hundred_times_misses_nothing_and_gets_nothing_twice() {
    let mut scene = Scene::with_replicas(3, 1).await.unwrap();
    let log = Log { subscriber: "cut".into(), shop: 0, after: 0, facts: vec![], wanted: 0, broken: None };
    let edges = scene.urls().iter().map(|url| Edge::to(url).unwrap()).collect();
    let mut follower = Follower { token: scene.shops[0].lead.clone(), edges, log };
    let mut random = StdRng::seed_from_u64(31);
    let plan = Plan::quiet(31, 6, Duration::ZERO);
    let after = storm_with(&mut scene, &plan, async |_, _| follower.be_cut(&mut random).await).await;
    let mut after = after.unwrap();
    let last = after.history.journals[0].last().unwrap().number;
    follower.catch_up(last).await.unwrap();
    eprintln!("{CUTS} cuts while {} facts were taken down", follower.log.facts.len());
    after.history.logs.push(follower.log);
    let found = check(&after.history);
    report("a follower cut 100 times", &after, &found);
    assert_eq!(found, []);
    // Whoever was cut off is not kept.
    for replica in &scene.replicas {
        let look = || async { (replica.metric(STREAMS).await.ok()? == 0.0).then_some(()) };
        until(WITHIN, "the streams that were cut to be over", look).await.unwrap();
    }
}
