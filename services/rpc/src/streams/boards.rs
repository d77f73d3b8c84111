//! One board a shop, worked out once for all who watch it.

use super::shared::{Keeper, Shared};
use crate::convert::board::board;
use leadhand_app::access::Principal;
use leadhand_app::{App, AppError};
use leadhand_facts::ShopId;
use leadhand_proto::v1::GetBoardResponse;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch::Receiver;
use tokio::time::sleep;

/// Pause between two boards, in which a burst of facts gathers.
const GATHER: Duration = Duration::from_millis(100);
/// Waits, promises and expected times change by time alone.
const AT_LEAST_EVERY: Duration = Duration::from_secs(15);
/// Pause after a board that could not be worked out.
const AFTER_FAILURE: Duration = Duration::from_secs(1);

/// The latest board, or why there is none; nothing before the first.
pub type Latest = Option<Result<Arc<GetBoardResponse>, AppError>>;

/// The boards of all shops that are watched here.
pub struct Boards {
    app: App,
    shared: Shared<ShopId, Latest>,
}

impl Boards {
    /// Boards of this application.
    pub fn new(app: App) -> Arc<Self> {
        Arc::new(Self { app, shared: Shared::default() })
    }

    /// Follows the board of the caller's shop.
    pub fn follow(&self, who: Principal) -> Receiver<Latest> {
        let start = |keeper| {
            tokio::spawn(keep(self.app.clone(), who, keeper));
        };
        self.shared.follow(who.shop, || None, start)
    }
}

/// Keeps a shop's board up to date while anybody watches. A board holds nothing that depends on
/// who of the shop looks at it.
async fn keep(app: App, who: Principal, keeper: Keeper<ShopId, Latest>) {
    let stopping = app.stopping();
    let mut head = app.watch_head(who.shop);
    while !stopping.is_cancelled() && !keeper.forget_unfollowed() {
        head.borrow_and_update();
        let latest = app.board(&who).await.map(|view| Arc::new(board(&view)));
        let pause = if latest.is_ok() { GATHER } else { AFTER_FAILURE };
        keeper.sender().send_replace(Some(latest));
        sleep(pause).await;
        tokio::select! {
            changed = head.changed() => if changed.is_err() {
                head = app.watch_head(who.shop);
            },
            () = sleep(AT_LEAST_EVERY) => {}
            () = keeper.sender().closed() => {}
            () = stopping.cancelled() => {}
        }
    }
}
