//! When a stream has to end although nobody asked for it: its token is no longer valid, or the
//! server stops.

use super::shared::Shared;
use crate::call::Call;
use crate::layers::auth::Secret;
use crate::status::{refused, status};
use leadhand_app::{App, AppError};
use leadhand_facts::TokenId;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch::{Receiver, Sender};
use tokio_util::sync::CancellationToken;
use tonic::{Code, Status};

/// A revoked token's streams end within about this long.
const CHECK_EVERY: Duration = Duration::from_secs(2);

/// Checks each token once for all of its streams.
#[derive(Default)]
pub struct Tokens(Shared<TokenId, bool>);

/// What ends one stream.
pub struct Guard {
    valid: Receiver<bool>,
    stopping: CancellationToken,
}

impl Tokens {
    /// Watches over a stream of this call.
    pub fn guard(self: &Arc<Self>, call: &Call) -> Guard {
        let start = |sender| {
            let check = check(self.clone(), call.app.clone(), call.secret.clone(), call.who.token, sender);
            tokio::spawn(check);
        };
        Guard { valid: self.0.follow(call.who.token, || true, start), stopping: call.app.stopping() }
    }
}

async fn check(tokens: Arc<Tokens>, app: App, secret: Secret, token: TokenId, sender: Sender<bool>) {
    while !tokens.0.forget_unfollowed(token, &sender) {
        tokio::select! {
            () = tokio::time::sleep(CHECK_EVERY) => {}
            () = sender.closed() => continue,
        }
        // While the database can't be asked, nothing is known against the token.
        if *sender.borrow() && matches!(app.authenticate(&secret.0).await, Err(AppError::Unauthenticated)) {
            sender.send_replace(false);
        }
    }
}

impl Guard {
    /// Waits for the end that is not the client's, and says why.
    pub async fn end(&mut self) -> Status {
        tokio::select! {
            () = self.stopping.cancelled() => stopping(),
            () = revoked(&mut self.valid) => status(&AppError::Unauthenticated),
        }
    }
}

async fn revoked(valid: &mut Receiver<bool>) {
    // The task ends after its last follower, so it never ends while this waits.
    if valid.wait_for(|valid| !valid).await.is_err() {
        std::future::pending::<()>().await;
    }
}

fn stopping() -> Status {
    refused(Code::Unavailable, "SHUTTING_DOWN", "the server is shutting down; connect again in a moment")
}
