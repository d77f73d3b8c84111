//! The timer: asks for what has become true by time alone, through the writer like everybody.

use crate::App;
use crate::writer::{Sender, Write};
use leadhand_domain::command::Tick;
use leadhand_facts::{RequestId, ShopId};
use std::time::Duration;
use uuid::Uuid;

/// How long accepted requests answer their repeats.
const REQUESTS_KEPT_DAYS: i64 = 90;

/// How often old requests are cleared away.
const PURGE_EVERY: Duration = Duration::from_hours(6);

pub(crate) async fn run(app: App, every: Duration) {
    let mut ticks = tokio::time::interval(every);
    ticks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    let mut purges = tokio::time::interval(PURGE_EVERY);
    loop {
        tokio::select! {
            () = app.stop.cancelled() => return,
            _ = ticks.tick() => do_what_is_due(&app).await,
            _ = purges.tick() => purge(&app).await,
        }
    }
}

async fn do_what_is_due(app: &App) {
    let due = match app.store.due_shops().await {
        Ok(due) => due,
        Err(error) => {
            tracing::warn!(%error, "can't see what is due");
            return;
        }
    };
    for (shop, what) in due {
        if app.stop.is_cancelled() {
            return;
        }
        // Every replica asks under the same id, so it takes effect once.
        let request = RequestId(Uuid::new_v5(&shop.0, what.as_bytes()));
        match app.tick(shop, request).await {
            // Whoever serves next does it, or a newer server, which looks after this shop.
            Ok(()) | Err(crate::AppError::Stopping | crate::AppError::ServerTooOld) => {}
            Err(error) => tracing::warn!(%error, %shop, "what is due could not be done; it is tried again"),
        }
    }
}

async fn purge(app: &App) {
    if let Err(error) = purge_all(app).await {
        tracing::warn!(%error, "old requests could not be cleared away; it is tried again");
    }
}

async fn purge_all(app: &App) -> Result<(), leadhand_store::StoreError> {
    for shop in app.store.shops().await? {
        if app.stop.is_cancelled() {
            break;
        }
        let now = match app.store.snapshot(shop).await {
            Ok(snapshot) => snapshot.now,
            // The others are not kept waiting for a newer server.
            Err(error) if error.needs_a_newer_program() => continue,
            Err(error) => return Err(error),
        };
        app.store.purge_requests(shop, now.plus_minutes(-REQUESTS_KEPT_DAYS * 24 * 60)).await?;
    }
    Ok(())
}

impl App {
    async fn tick(&self, shop: ShopId, request: RequestId) -> Result<(), crate::AppError> {
        let write = Write::of(request);
        self.writers.submit(shop, Tick {}.into(), Sender::server(), write).await.map(|_| ())
    }
}
