//! A subscriber that takes the journal down, loses its stream now and then, and goes on at its
//! cursor on another replica.

use crate::edge::{Edge, known, reason};
use crate::history::{Log, ShopNo};
use crate::shop::Shop;
use anyhow::Result;
use leadhand_proto::v1;
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::{Instant, sleep, timeout_at};
use tonic::Status;

/// Before it knocks again where nobody answered.
const PAUSE: Duration = Duration::from_millis(50);

/// The end up to which to follow, and until when; nothing while the writers still write.
pub type End = watch::Receiver<Option<(Vec<i64>, Instant)>>;

pub struct Subscriber {
    pub shop_no: ShopNo,
    pub shop: Arc<Shop>,
    pub edges: Vec<Edge>,
    pub side: usize,
    pub random: StdRng,
    pub log: Log,
}

impl Subscriber {
    pub fn new(name: String, shop_no: ShopNo, shop: Arc<Shop>, urls: &[String], seed: u64) -> Result<Self> {
        let edges: Vec<Edge> = urls.iter().map(|url| Edge::to(url)).collect::<Result<_>>()?;
        let log = Log { subscriber: name, shop: shop_no, after: 0, facts: Vec::new(), wanted: 0, broken: None };
        let side = usize::try_from(seed)? % edges.len();
        Ok(Self { shop_no, shop, edges, side, random: StdRng::seed_from_u64(seed), log })
    }

    /// The same, beginning where the journal ends just now.
    pub fn from(mut self, number: i64) -> Self {
        self.log.after = number;
        self
    }

    /// Follows until it is told where the journal ends and has come so far.
    pub async fn follow(mut self, mut end: End) -> Log {
        let said = async { end.wait_for(Option::is_some).await.ok().and_then(|said| said.clone()) };
        // Until the end is known, one stream follows the other; then the rest is caught up with.
        let said = tokio::select! {
            said = said => said,
            () = self.streams(i64::MAX) => None,
        };
        if let Some((ends, latest)) = said {
            self.log.wanted = ends[self.shop_no];
            // Too late is for the checker to say.
            timeout_at(latest, self.streams(self.log.wanted)).await.ok();
        }
        self.log
    }

    /// One stream after the other, up to a number; also over when it can't go on.
    async fn streams(&mut self, wanted: i64) {
        while self.log.broken.is_none() && self.number() < wanted {
            if let Err(status) = self.stream(wanted).await {
                // The server says that this is another history.
                if ["OUT_OF_RANGE", "INTERNAL"].contains(&reason(&status).as_str()) {
                    self.log.broken = Some(status.message().to_owned());
                }
                sleep(PAUSE).await;
            }
            self.side = (self.side + 1) % self.edges.len();
        }
    }

    fn number(&self) -> i64 {
        self.log.facts.last().map_or(self.log.after, |last| last.number)
    }

    /// One stream, until it breaks, until it is dropped for no reason, or until the end.
    async fn stream(&mut self, wanted: i64) -> Result<(), Status> {
        let fact_id = self.log.facts.last().map(|last| last.fact_id.to_string()).unwrap_or_default();
        let cursor = v1::Cursor { number: self.number(), fact_id };
        let mut stream = self.edges[self.side].follow(&self.shop.lead, cursor).await?;
        let messages = self.random.random_range(5..80);
        for _ in 0..messages {
            let Some(message) = stream.message().await? else { return Ok(()) };
            for fact in &message.facts {
                let fact = known(fact).map_err(|error| Status::internal(format!("{error:#}")))?;
                self.log.facts.push(fact);
            }
            if self.number() >= wanted {
                return Ok(());
            }
        }
        Ok(())
    }
}
