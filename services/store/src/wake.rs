//! Waking the other replicas. Notifications are a convenience: they may be lost, so whoever
//! listens also looks at all heads now and then.

use crate::errors::StoreError;
use leadhand_facts::ShopId;
use sqlx::PgPool;
use sqlx::postgres::{PgConnectOptions, PgListener, PgPoolOptions};
use std::time::Duration;
use tokio::sync::mpsc;
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

pub(crate) fn listen(options: PgConnectOptions) -> mpsc::Receiver<Wake> {
    let (tx, rx) = mpsc::channel(64);
    tokio::spawn(async move {
        let pool = PgPoolOptions::new().max_connections(1).connect_lazy_with(options);
        while !tx.is_closed() {
            if let Err(error) = hear(&pool, &tx).await
                && !tx.is_closed()
            {
                tracing::warn!(%error, "listening for other replicas broke off; trying again");
            }
            tokio::select! {
                () = tx.closed() => {}
                () = tokio::time::sleep(RETRY_AFTER) => {}
            }
        }
        pool.close().await;
    });
    rx
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
        let heard = tokio::select! {
            biased;
            // A database that ends along with this process is no loss.
            () = tx.closed() => return Ok(()),
            heard = listener.try_recv() => heard?,
        };
        let Some(heard) = heard else {
            tracing::warn!("the connection that listens for other replicas was lost; connecting again");
            return Ok(());
        };
        let shops = read(heard.payload());
        if !shops.is_empty() && tx.send(Wake::Shops(shops)).await.is_err() {
            return Ok(());
        }
    }
}
