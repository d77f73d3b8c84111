//! The use cases: commands go through the shop's writer, views are read in one snapshot.
//!
//! This crate turns store's rows into domain's state and back; it holds no rule of its own but
//! one: who may call what ([`access::PERMISSIONS`]).

pub mod access;
mod chance;
mod error;
mod fingerprint;
mod hub;
mod open_shop;
mod operators;
mod outline;
mod plan;
mod read;
mod sign_in;
mod timer;
pub mod transfer;
pub mod verify;
mod words;
mod writer;

pub use chance::Entropy;
pub use error::AppError;
pub use hub::HeadWatch;
pub use open_shop::NewShop;
pub use operators::{NewOperator, OperatedShop};
pub use plan::{Accepted, Outlook, Proposal, Search, StageNote};
pub use read::{
    About, AskedLine, AskedPage, AuditFilter, BoardView, Calendar, ClockingFilter, ClockingPage, CustomerPage,
    CustomerView, DraftedTemplate, FillBooks, HandOver, JobLine, JobPage, JournalPage, LooseEnds, Movements, ShopView,
    Short, StockPage, StripBook, SupplierPage, Taught, TemplatePage, TokenPage, Told, ToolPage, WholeJob, Whom,
};
pub use sign_in::Shows;
pub use words::Words;
pub use writer::{NameOf, Named, Outcome, Write};

use hub::Hub;
use leadhand_store::Store;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::Semaphore;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;
use writer::Writers;

/// Slow hashes computed at a time.
const HASHES: usize = 2;

/// Plans searched for at a time.
const SEARCHES: usize = 2;

/// How the application behaves; everything has a default.
#[derive(Debug, Clone, Copy)]
pub struct Options {
    /// How often the heads of all shops are looked at, as a net below notifications.
    pub poll_interval: Duration,
    /// How often the timer looks for what is due.
    pub timer_interval: Duration,
    /// Commands of one shop that may wait; more are refused as RESOURCE_EXHAUSTED.
    pub queue: usize,
    /// Commands committed together at most.
    pub batch: usize,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            poll_interval: Duration::from_millis(500),
            timer_interval: Duration::from_secs(2),
            queue: 1024,
            batch: 128,
        }
    }
}

/// The application. Cheap to clone; every clone is the same one.
#[derive(Clone)]
pub struct App {
    store: Store,
    entropy: Arc<dyn Entropy>,
    hub: Arc<Hub>,
    writers: Arc<Writers>,
    stop: CancellationToken,
    timers: TaskTracker,
    /// Slow hashes that are computed at a time: each takes 19 MiB and one core.
    hashing: Arc<Semaphore>,
    /// Plans that are searched for at a time: each takes one core.
    planning: Arc<Semaphore>,
}

impl App {
    /// Starts the application over a store: the wake-up, and the timer unless its interval is 0.
    pub fn start(store: Store, entropy: Arc<dyn Entropy>, options: Options) -> Self {
        let stop = CancellationToken::new();
        let hub = Hub::start(store.clone(), options.poll_interval);
        let writers = Arc::new(Writers::new(store.clone(), entropy.clone(), hub.clone(), options));
        let app = Self {
            store,
            entropy,
            hub,
            writers,
            stop,
            timers: TaskTracker::new(),
            hashing: Arc::new(Semaphore::new(HASHES)),
            planning: Arc::new(Semaphore::new(SEARCHES)),
        };
        if !options.timer_interval.is_zero() {
            app.timers.spawn(timer::run(app.clone(), options.timer_interval));
        }
        app
    }

    /// Stops what runs in the background, and every stream. Commands are still taken and answered,
    /// until [`App::drain`].
    pub fn stop(&self) {
        self.stop.cancel();
    }

    /// Cancelled when the application stops; streams end with it.
    pub fn stopping(&self) -> CancellationToken {
        self.stop.clone()
    }

    /// Whether the database answers.
    pub async fn ping(&self) -> Result<(), AppError> {
        Ok(self.store.ping().await?)
    }

    /// Stops, takes no more commands, and waits until every queued one is answered and the other
    /// replicas are told. Nothing of the application uses the database afterwards but what a
    /// caller still reads.
    pub async fn drain(&self) {
        self.stop();
        self.writers.drain().await;
        self.timers.close();
        self.timers.wait().await;
        self.hub.end().await;
    }
}
