//! One of the clients: it talks to all replicas, sends some requests twice at once, repeats old
//! ones, and afterwards asks again for everything it ever sent.

use crate::command::Command;
use crate::edge::{Edge, outcome};
use crate::history::{Outcome, Recorder, ShopNo};
use crate::shop::{Shop, new_id};
use crate::waiting::until;
use crate::workload::{Asked, Draw};
use anyhow::Result;
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use std::sync::Arc;
use std::time::Duration;
use tokio::time::sleep;
use tokio_util::sync::CancellationToken;

/// As long as a client waits, most of the time.
const PATIENT: Duration = Duration::from_secs(4);
/// Far too short: the call is given up while the server works on it.
const IMPATIENT: Duration = Duration::from_millis(15);
/// A client whose server has gone does not hammer on the door.
const PAUSE: Duration = Duration::from_millis(20);

pub struct Client {
    shops: Vec<Arc<Shop>>,
    edges: Vec<Edge>,
    recorder: Arc<Recorder>,
    random: StdRng,
    sent: Vec<(ShopNo, Asked)>,
}

impl Client {
    pub fn new(shops: Vec<Arc<Shop>>, urls: &[String], recorder: Arc<Recorder>, seed: u64) -> Result<Self> {
        let edges = urls.iter().map(|url| Edge::to(url)).collect::<Result<_>>()?;
        Ok(Self { shops, edges, recorder, random: StdRng::seed_from_u64(seed), sent: Vec::new() })
    }

    /// Works until it is told to stop.
    pub async fn work(mut self, stop: CancellationToken) -> Self {
        while !stop.is_cancelled() {
            let known = match self.random.random_range(0..100) {
                0..5 => self.repeat_an_old_one().await,
                5..15 => self.send_twice().await,
                _ => self.send_once().await,
            };
            if !known {
                sleep(PAUSE).await;
            }
        }
        self
    }

    /// Repeats everything until each outcome is known, and once more what is known already.
    pub async fn settle(self, within: Duration) {
        for (position, (shop, asked)) in self.sent.iter().enumerate() {
            let side = position % self.edges.len();
            let settled = || async {
                let known = !matches!(self.attempt(side, *shop, asked, PATIENT).await, Outcome::Unknown(_));
                known.then_some(())
            };
            // What is still unknown at the end is for the checker to say.
            if until(within, "a request to become known", settled).await.is_err() {
                break;
            }
        }
    }

    fn draw(&mut self) -> (ShopNo, Asked) {
        let shop = self.random.random_range(0..self.shops.len());
        let request = new_id(&mut self.random);
        let asked = Draw { shop: &self.shops[shop], random: &mut self.random }.next(request);
        self.sent.push((shop, asked.clone()));
        (shop, asked)
    }

    fn side(&mut self) -> usize {
        self.random.random_range(0..self.edges.len())
    }

    async fn send_once(&mut self) -> bool {
        let (shop, asked) = self.draw();
        let side = self.side();
        let within = if self.random.random_bool(0.03) { IMPATIENT } else { PATIENT };
        let outcome = self.attempt(side, shop, &asked, within).await;
        if matches!(outcome, Outcome::Unknown(_)) && self.random.random_bool(0.5) {
            return self.known((side + 1) % self.edges.len(), shop, &asked).await;
        }
        !matches!(outcome, Outcome::Unknown(_))
    }

    /// The same request on two replicas, or twice on one, at the same moment.
    async fn send_twice(&mut self) -> bool {
        let (shop, asked) = self.draw();
        let (one, other) = (self.side(), self.side());
        let (first, second) = tokio::join!(self.known(one, shop, &asked), self.known(other, shop, &asked));
        first && second
    }

    async fn repeat_an_old_one(&mut self) -> bool {
        if self.sent.is_empty() {
            return self.send_once().await;
        }
        let (shop, asked) = self.sent[self.random.random_range(0..self.sent.len())].clone();
        let side = self.side();
        self.known(side, shop, &asked).await
    }

    async fn known(&self, side: usize, shop: ShopNo, asked: &Asked) -> bool {
        !matches!(self.attempt(side, shop, asked, PATIENT).await, Outcome::Unknown(_))
    }

    async fn attempt(&self, side: usize, shop: ShopNo, asked: &Asked, within: Duration) -> Outcome {
        let began = self.recorder.begin();
        let answered = asked.command.send(&self.edges[side], &asked.token, within).await;
        let outcome = outcome(answered);
        if let Outcome::Acknowledged(said) = &outcome
            && !said.repeated
            && matches!(asked.command, Command::Open(_))
        {
            self.shops[shop].count_opened();
        }
        self.recorder.end(asked.request, shop, began, outcome.clone());
        outcome
    }
}
