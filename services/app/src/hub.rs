//! Wake-up: whoever watches a shop learns that its journal went on, from this replica at once,
//! from others by notification, and at the latest from a poll of all heads.

use crate::App;
use leadhand_facts::ShopId;
use leadhand_store::{Store, Wake};
use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::{Notify, watch};
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

/// Follows the head of a shop's journal.
pub type HeadWatch = watch::Receiver<i64>;

/// Pause after a notification, in which further commits gather for the next.
const GATHER: Duration = Duration::from_millis(20);

pub(crate) struct Hub {
    heads: Mutex<HashMap<ShopId, watch::Sender<i64>>>,
    to_tell: Mutex<HashSet<ShopId>>,
    told: Notify,
    ending: CancellationToken,
    tasks: TaskTracker,
}

impl Hub {
    pub(crate) fn start(store: Store, poll: Duration) -> Arc<Self> {
        let hub = Arc::new(Self {
            heads: Mutex::default(),
            to_tell: Mutex::default(),
            told: Notify::new(),
            ending: CancellationToken::new(),
            tasks: TaskTracker::new(),
        });
        hub.tasks.spawn(listen(hub.clone(), store.clone(), poll));
        hub.tasks.spawn(tell(hub.clone(), store));
        hub
    }

    /// Tells what is left to tell, and waits until nothing here uses the database any more.
    pub(crate) async fn end(&self) {
        self.ending.cancel();
        self.tasks.close();
        self.tasks.wait().await;
    }

    /// This replica committed: wakes its own watchers now, the other replicas soon.
    pub(crate) fn committed(&self, shop: ShopId, number: i64) {
        self.reached(shop, number);
        lock(&self.to_tell).insert(shop);
        self.told.notify_one();
    }

    pub(crate) fn watch(&self, shop: ShopId) -> HeadWatch {
        lock(&self.heads).entry(shop).or_insert_with(|| watch::channel(0).0).subscribe()
    }

    /// Tells the watchers of a shop how far its journal goes; gives how many facts they had not heard of.
    fn reached(&self, shop: ShopId, number: i64) -> i64 {
        let mut heads = lock(&self.heads);
        let Some(head) = heads.get(&shop) else { return 0 };
        if head.receiver_count() == 0 {
            heads.remove(&shop);
            return 0;
        }
        let known = *head.borrow();
        // A head that went back (a restore) has to be noticed as well.
        head.send_if_modified(|known| std::mem::replace(known, number) != number);
        // One that was never looked at is not behind.
        if known == 0 { 0 } else { (number - known).max(0) }
    }

    fn watches_any(&self, shops: &[ShopId]) -> bool {
        let heads = lock(&self.heads);
        shops.iter().any(|shop| heads.get(shop).is_some_and(|head| head.receiver_count() > 0))
    }

    fn watched(&self) -> bool {
        lock(&self.heads).values().any(|head| head.receiver_count() > 0)
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

async fn listen(hub: Arc<Hub>, store: Store, poll: Duration) {
    let mut wakes = store.listen();
    let mut every = tokio::time::interval(poll);
    every.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    loop {
        tokio::select! {
            () = hub.ending.cancelled() => break,
            wake = wakes.recv() => match wake {
                // What nobody watches here is nobody's news: with many shops that is nearly all of it.
                Some(Wake::Shops(shops)) if !hub.watches_any(&shops) => continue,
                Some(Wake::Shops(_) | Wake::Resync) => {}
                None => wakes = store.listen(),
            },
            _ = every.tick() => {}
        }
        if hub.watched() {
            look_at_heads(&hub, &store).await;
        }
    }
    wakes.end().await;
}

async fn look_at_heads(hub: &Hub, store: &Store) {
    match store.heads().await {
        Ok(heads) => {
            let behind = heads.into_iter().map(|(shop, number)| hub.reached(shop, number)).max().unwrap_or(0);
            metrics::gauge!("leadhand_head_lag_facts").set(f64::from(i32::try_from(behind).unwrap_or(i32::MAX)));
        }
        Err(error) => tracing::warn!(%error, "can't look at the heads of the journals"),
    }
}

async fn tell(hub: Arc<Hub>, store: Store) {
    loop {
        tokio::select! {
            biased;
            () = hub.told.notified() => {}
            () = hub.ending.cancelled() => return,
        }
        let shops: Vec<ShopId> = lock(&hub.to_tell).drain().collect();
        if let Err(error) = store.notify(&shops).await {
            tracing::warn!(%error, "can't notify the other replicas; they will find out by polling");
        }
        tokio::select! {
            () = tokio::time::sleep(GATHER) => {}
            () = hub.ending.cancelled() => {}
        }
    }
}

impl App {
    /// Follows the head of a shop's journal; the first value may be behind.
    pub fn watch_head(&self, shop: ShopId) -> HeadWatch {
        self.hub.watch(shop)
    }
}
