//! Waking the other replicas. Notifications are a convenience: they may be lost, so whoever
//! listens also looks at all heads now and then.

use crate::errors::StoreError;
use leadhand_facts::ShopId;
use sqlx::PgPool;
use sqlx::postgres::{PgConnectOptions, PgListener, PgPoolOptions};
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::task::JoinHandle;
use uuid::Uuid;

const CHANNEL: &str = "leadhand_heads";

/// Shops in one notification: its payload holds less than 8,000 bytes.
const SHOPS_A_NOTIFICATION: usize = 200;

/// Pause before a lost connection is tried again.
const RETRY_AFTER: Duration = Duration::from_millis(500);

/// What a listener hears.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Wake {
    /// The journals of these shops went on.
    Shops(Vec<ShopId>),
    /// Listening began, or began anew: anything may have been missed, so look at all heads.
    Resync,
}

/// Sends one transaction of notifications for all these shops.
#[tracing::instrument(level = "debug", skip_all, fields(shops = shops.len()))]
pub(crate) async fn notify(pool: &PgPool, shops: &[ShopId]) -> Result<(), StoreError> {
    let payloads: Vec<String> = shops.chunks(SHOPS_A_NOTIFICATION).map(payload).collect();
    if payloads.is_empty() {
        return Ok(());
    }
    sqlx::query!("SELECT pg_notify($1, told) FROM unnest($2::text[]) AS told", CHANNEL, &payloads)
        .execute(pool)
        .await?;
    Ok(())
}

fn payload(shops: &[ShopId]) -> String {
    shops.iter().map(|shop| shop.0.simple().to_string()).collect::<Vec<_>>().join(",")
}

/// Anybody who may connect to the database may notify; what is not a list of shops is passed over.
fn read(payload: &str) -> Vec<ShopId> {
    payload.split(',').filter_map(|id| Uuid::try_parse(id).ok()).map(ShopId).collect()
}

/// What the other replicas tell, as it comes. Listening ends when this is dropped; [`Wakes::end`] also waits for it.
#[derive(Debug)]
pub struct Wakes {
    heard: mpsc::Receiver<Wake>,
    listener: JoinHandle<()>,
}

impl Wakes {
    /// The next word; none when the listener broke off for good.
    pub async fn recv(&mut self) -> Option<Wake> {
        self.heard.recv().await
    }

    /// Ends listening, and waits until its connection is closed: a database that is shut down afterwards takes nothing
    /// from it, and there is nothing to be warned of.
    pub async fn end(self) {
        let Self { heard, listener } = self;
        drop(heard);
        if let Err(error) = listener.await {
            tracing::error!(%error, "the task that listens for other replicas broke off");
        }
    }
}

pub(crate) fn listen(options: PgConnectOptions) -> Wakes {
    let (tx, heard) = mpsc::channel(64);
    let listener = tokio::spawn(async move {
        let pool = PgPoolOptions::new().max_connections(1).connect_lazy_with(options);
        while !tx.is_closed() {
            let heard = tokio::select! {
                biased;
                // Also while it is still connecting.
                () = tx.closed() => break,
                heard = hear(&pool, &tx) => heard,
            };
            if let Err(error) = heard {
                tracing::warn!(%error, "listening for other replicas broke off; trying again");
            }
            tokio::select! {
                () = tx.closed() => {}
                () = tokio::time::sleep(RETRY_AFTER) => {}
            }
        }
        pool.close().await;
    });
    Wakes { heard, listener }
}

/// Listens on one connection until it is lost. The listener's own reconnecting is not used: after
/// it notifications may be missing, and it can't tell when it listens again.
async fn hear(pool: &PgPool, tx: &mpsc::Sender<Wake>) -> Result<(), sqlx::Error> {
    let mut listener = PgListener::connect_with(pool).await?;
    listener.eager_reconnect(false);
    listener.listen(CHANNEL).await?;
    if tx.send(Wake::Resync).await.is_err() {
        return Ok(());
    }
    loop {
        let Some(heard) = listener.try_recv().await? else {
            tracing::warn!("the connection that listens for other replicas was lost; connecting again");
            return Ok(());
        };
        let shops = read(heard.payload());
        if !shops.is_empty() && tx.send(Wake::Shops(shops)).await.is_err() {
            return Ok(());
        }
    }
}
