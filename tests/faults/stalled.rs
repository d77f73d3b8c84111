//! Subscribers that stop reading while ten thousand facts are written: the server does not keep for
//! them what they don't take, the writers go on, and later they miss nothing.
//!
//! LEADHAND_FAULTS_STALL_SECONDS has the writers go on for so long at least, and then compares with writers alone before
//! and after: over minutes a machine and a journal change too.

use crate::checker::check;
use crate::command::Command;
use crate::edge::{Edge, endpoint, known, reason};
use crate::history::{History, Log};
use crate::shop::{Shop, new_id};
use anyhow::{Context, Result};
use futures::{StreamExt, TryStreamExt, stream};
use kit::process::open_shop;
use kit::{Leadhandd, fresh_database};
use leadhand_proto::v1;
use rand::SeedableRng;
use rand::rngs::StdRng;
use std::time::Duration;
use tokio::time::{Instant, interval};
use tonic::Streaming;

const FACTS: usize = 10_000;
const AT_ONCE: usize = 32;
/// The first promise, far enough ahead: 2100-01-01.
const PROMISED: i64 = 4_102_444_800;
const STALLED: usize = 4;
const WITHIN: Duration = Duration::from_secs(30);
/// What the server's memory may grow by (the project's own bound).
const GROWTH_MAX: u64 = 20 << 20;

/// Writers at work, and the most memory that the server held meanwhile.
struct Phase {
    took: Duration,
    /// Sorted.
    latencies: Vec<Duration>,
    memory: u64,
}

impl Phase {
    fn percentile(&self, percent: usize) -> Duration {
        self.latencies[(self.latencies.len() - 1) * percent / 100]
    }

    fn print(&self, what: &str) {
        let (count, took) = (self.latencies.len(), self.took);
        let (p50, p99, held) = (self.percentile(50), self.percentile(99), self.memory >> 10);
        eprintln!("{what}: {count} writes in {took:?}, p50 {p50:?}, p99 {p99:?}, at most {held} KiB held");
    }
}

struct Writing<'a> {
    replica: &'a Leadhandd,
    edge: &'a Edge,
    lead: &'a str,
    random: StdRng,
    promised: i64,
}

impl Writing<'_> {
    /// A job for which something else is promised in every write: one fact each, and nothing grows but the journal.
    async fn open_job(&mut self) -> Result<()> {
        let write = Some(self.write());
        let (title, vehicle_label) = ("Brakes".to_owned(), "van 12".to_owned());
        let asked = v1::OpenJobRequest { write, title, vehicle_label, priority: 3, ..Default::default() };
        Command::Open(asked).send(self.edge, self.lead, WITHIN).await?;
        Ok(())
    }

    fn promise(&mut self) -> Command {
        self.promised += 60;
        let promised_at = Some(prost_types::Timestamp { seconds: self.promised, nanos: 0 });
        let write = Some(self.write());
        Command::Promise(v1::PromiseJobRequest { write, job: 1, promised_at, ..Default::default() })
    }

    fn write(&mut self) -> v1::WriteContext {
        let request_id = new_id(&mut self.random).to_string();
        v1::WriteContext { request_id, ..Default::default() }
    }

    async fn phase(&mut self, least: Duration) -> Result<Phase> {
        let (begun, mut latencies) = (Instant::now(), Vec::new());
        let mut memory = self.replica.memory()?;
        let mut look = interval(Duration::from_millis(100));
        while latencies.len() < FACTS || begun.elapsed() < least {
            let commands: Vec<_> = (0..FACTS / 10).map(|_| self.promise()).collect();
            let (edge, lead) = (self.edge, self.lead);
            let calls = commands.iter().map(|command| async move {
                let sent = Instant::now();
                command.send(edge, lead, WITHIN).await.map(|_| sent.elapsed())
            });
            let calls: Vec<_> = calls.collect();
            let written = stream::iter(calls).buffer_unordered(AT_ONCE).try_collect::<Vec<Duration>>();
            tokio::pin!(written);
            let some = loop {
                tokio::select! {
                    some = &mut written => break some?,
                    _ = look.tick() => memory = memory.max(self.replica.memory()?),
                }
            };
            latencies.extend(some);
        }
        latencies.sort_unstable();
        Ok(Phase { took: begun.elapsed(), latencies, memory: memory.max(self.replica.memory()?) })
    }
}

/// Subscribers from the beginning that don't read; most of them with the smallest window that peers take
/// (RFC 9113, 6.9), one with what is usual.
async fn stall(url: &str, lead: &str) -> Result<Vec<Streaming<v1::FollowJournalResponse>>> {
    let mut stalled = vec![Edge::to(url)?.follow(lead, v1::Cursor::default()).await?];
    for _ in 1..STALLED {
        let channel = endpoint(url)?.initial_stream_window_size(1_024).connect_lazy();
        stalled.push(Edge { channel }.follow(lead, v1::Cursor::default()).await?);
    }
    Ok(stalled)
}

/// Reads again: first what there is, and after the server's goodbye the rest from the cursor.
async fn read_on(
    mut stream: Streaming<v1::FollowJournalResponse>,
    edge: &Edge,
    lead: &str,
    wanted: i64,
) -> Result<(Log, bool)> {
    let mut log = Log { subscriber: "stalled".into(), shop: 0, after: 0, facts: vec![], wanted, broken: None };
    let mut let_go = false;
    while log.facts.last().is_none_or(|last| last.number < wanted) {
        match stream.message().await {
            Ok(message) => {
                for fact in &message.context("the stream ended without a reason")?.facts {
                    log.facts.push(known(fact)?);
                }
            }
            Err(status) if reason(&status) == "SLOW_READER" => {
                let_go = true;
                let (number, fact_id) =
                    log.facts.last().map(|last| (last.number, last.fact_id.to_string())).unwrap_or_default();
                stream = edge.follow(lead, v1::Cursor { number, fact_id }).await?;
            }
            Err(status) => return Err(status.into()),
        }
    }
    Ok((log, let_go))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn ten_thousand_facts_beside_subscribers_that_stand_still() {
    let database = fresh_database().await;
    let mut replica = Leadhandd::over(&database.app_url()).unwrap();
    replica.start().await.unwrap();
    let edge = Edge::to(&replica.url()).unwrap();
    let lead = open_shop(&database.app_url(), "Yard").await.unwrap();
    let shop = Shop::furnish(&edge, lead, 3).await.unwrap();
    let least = std::env::var("LEADHAND_FAULTS_STALL_SECONDS").ok().and_then(|text| text.parse().ok()).unwrap_or(0);
    let random = StdRng::seed_from_u64(13);
    let mut writing = Writing { replica: &replica, edge: &edge, lead: &shop.lead, random, promised: PROMISED };
    writing.open_job().await.unwrap();
    // What the server keeps of the shop in any case grows first.
    writing.phase(Duration::ZERO).await.unwrap().print("nobody follows, warming up");
    // As long as what it is compared with: a checkpoint falls into any minute, and into few tenths of one.
    let alone = writing.phase(Duration::from_secs(least)).await.unwrap();
    alone.print("nobody follows");
    let before = replica.memory().unwrap();
    let stalled = stall(&replica.url(), &shop.lead).await.unwrap();
    let beside = writing.phase(Duration::from_secs(least)).await.unwrap();
    beside.print("four subscribers stand still");
    let growth = beside.memory.saturating_sub(before);
    let mut alone = vec![alone];
    if least > 0 {
        alone.push(writing.phase(Duration::from_secs(least)).await.unwrap());
        alone[1].print("nobody follows, afterwards");
    }
    let count = u32::try_from(alone.len()).unwrap();
    let usual = alone.iter().map(|phase| phase.percentile(99)).sum::<Duration>() / count;
    let ratio = beside.percentile(99).as_secs_f64() / usual.as_secs_f64();
    eprintln!(
        "FAULT subscribers that stand still: memory grew by {} KiB, the writers' p99 is {ratio:.2} times",
        growth >> 10
    );
    assert!(growth <= GROWTH_MAX, "{growth} bytes for {STALLED} subscribers that don't read");

    let journal = edge.journal(&shop.lead).await.unwrap();
    let wanted = journal.last().unwrap().number;
    let mut logs = Vec::new();
    for stream in stalled {
        let (log, let_go) = read_on(stream, &edge, &shop.lead, wanted).await.unwrap();
        eprintln!("a subscriber reads again: {} facts, let go in between: {let_go}", log.facts.len());
        logs.push(log);
    }
    let history = History { journals: vec![journal], logs, ..History::default() };
    assert_eq!(check(&history), []);
}
