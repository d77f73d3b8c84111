//! When a stream has to end although nobody asked for it: its token is no longer valid, or the
//! server stops.

use super::outlet::broken;
use super::shared::{Keeper, Shared};
use crate::call::Call;
use crate::layers::auth::Secret;
use crate::status::{refused, status};
use leadhand_app::{App, AppError};
use leadhand_facts::TokenId;
use std::time::Duration;
use tokio::sync::watch::Receiver;
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
    pub fn guard(&self, call: &Call) -> Guard {
        let start = |keeper| {
            tokio::spawn(check(call.app.clone(), call.secret.clone(), keeper));
        };
        Guard { valid: self.0.follow(call.who.token, || true, start), stopping: call.app.stopping() }
    }
}

async fn check(app: App, secret: Secret, keeper: Keeper<TokenId, bool>) {
    let sender = keeper.sender();
    while !keeper.forget_unfollowed() {
        tokio::select! {
            () = tokio::time::sleep(CHECK_EVERY) => {}
            () = sender.closed() => continue,
        }
        // While the database can't be asked, nothing is known against the token.
        if *sender.borrow() && matches!(app.authenticate(&secret.0).await, Err(AppError::Unauthenticated(_))) {
            sender.send_replace(false);
        }
    }
}

impl Guard {
    /// A guard without a server, for tests.
    #[cfg(test)]
    pub fn of(valid: Receiver<bool>) -> Self {
        Self { valid, stopping: CancellationToken::new() }
    }

    /// Waits for the end that is not the client's, and says why.
    pub async fn end(&mut self) -> Status {
        tokio::select! {
            biased;
            () = self.stopping.cancelled() => stopping(),
            checked = self.valid.wait_for(|valid| !valid) => match checked {
                Ok(_) => status(&AppError::Unauthenticated("over")),
                // The check itself broke: without it nobody would notice a revocation, so the client
                // comes again and is checked anew.
                Err(_) => broken(),
            },
        }
    }
}

fn stopping() -> Status {
    refused(Code::Unavailable, "SHUTTING_DOWN", "the server is shutting down; connect again in a moment")
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::sync::watch;
    use tonic::Code;

    fn guard() -> (watch::Sender<bool>, Guard) {
        let (sender, valid) = watch::channel(true);
        (sender, Guard::of(valid))
    }

    #[tokio::test]
    async fn a_stream_ends_with_the_reason_for_its_end() {
        let (sender, mut revoked) = guard();
        sender.send_replace(false);
        assert_eq!(revoked.end().await.code(), Code::Unauthenticated);
        let (sender, mut unchecked) = guard();
        drop(sender);
        // UNAVAILABLE is what clients come again after (AIP-194).
        assert_eq!(unchecked.end().await.code(), Code::Unavailable);
        let (sender, mut stopped) = guard();
        stopped.stopping.cancel();
        drop(sender);
        assert_eq!(stopped.end().await.message(), stopping().message());
    }
}
