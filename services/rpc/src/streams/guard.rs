//! When a stream has to end although nobody asked for it: its token is no longer valid, or the
//! server stops.

use super::outlet::broken;
use super::shared::{Keeper, Shared};
use crate::call::Call;
use crate::status::{refused, status};
use leadhand_app::access::token_hash;
use leadhand_app::{App, AppError};
use leadhand_facts::TokenId;
use std::collections::HashSet;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::mpsc::error::SendError;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};
use tokio::sync::watch::Receiver;
use tokio::time::MissedTickBehavior;
use tokio_util::sync::CancellationToken;
use tonic::{Code, Status};

/// A revoked token's streams end within about this long.
const CHECK_EVERY: Duration = Duration::from_secs(2);

/// Checks the tokens of all streams together, each once however many streams it has.
#[derive(Default)]
pub struct Tokens {
    followed: Shared<TokenId, bool>,
    /// Where the task that checks them hears of new ones. One that broke takes all that it checked with it, and the next
    /// stream starts another.
    round: Mutex<Option<UnboundedSender<Watched>>>,
}

/// A token that has streams.
struct Watched {
    hash: String,
    keeper: Keeper<TokenId, bool>,
}

/// What ends one stream.
pub struct Guard {
    valid: Receiver<bool>,
    stopping: CancellationToken,
}

impl Tokens {
    /// Watches over a stream of this call.
    pub fn guard(&self, call: &Call) -> Guard {
        let over = |app: App| async move |hashes: Vec<String>| app.over(&hashes).await.ok();
        let start = |heard| {
            tokio::spawn(check(heard, over(call.app.clone())));
        };
        let valid = self.follow(call.who.token, token_hash(&call.secret.0), start);
        Guard { valid, stopping: call.app.stopping() }
    }

    /// Follows whether a token counts; the task is started where there is none.
    fn follow(&self, token: TokenId, hash: String, start: impl FnOnce(UnboundedReceiver<Watched>)) -> Receiver<bool> {
        let watch = |keeper| {
            let mut round = self.round.lock().unwrap_or_else(PoisonError::into_inner);
            let watched = Watched { hash, keeper };
            let Some(watched) = tell(round.as_ref(), watched) else { return };
            let (sender, heard) = unbounded_channel();
            // It can't fail: the other end is at hand.
            tell(Some(&sender), watched);
            *round = Some(sender);
            start(heard);
        };
        self.followed.follow(token, || true, watch)
    }
}

/// Tells the task of a token; gives it back where there is none, or none any more.
fn tell(round: Option<&UnboundedSender<Watched>>, watched: Watched) -> Option<Watched> {
    match round {
        Some(sender) => sender.send(watched).err().map(|SendError(back)| back),
        None => Some(watched),
    }
}

/// Asks again and again which of the tokens are over, all with one question, for as long as there may be streams.
async fn check(mut heard: UnboundedReceiver<Watched>, over: impl AsyncFn(Vec<String>) -> Option<HashSet<String>>) {
    let mut all: Vec<Watched> = Vec::new();
    let mut every = tokio::time::interval(CHECK_EVERY);
    every.set_missed_tick_behavior(MissedTickBehavior::Delay);
    loop {
        tokio::select! {
            new = heard.recv() => match new {
                Some(new) => {
                    all.push(new);
                    continue;
                }
                None => return,
            },
            _ = every.tick(), if !all.is_empty() => {}
        }
        all.retain(|one| !one.keeper.forget_unfollowed());
        // One that is over stays so, and its streams end.
        let asked: Vec<String> =
            all.iter().filter(|one| *one.keeper.sender().borrow()).map(|one| one.hash.clone()).collect();
        if asked.is_empty() {
            continue;
        }
        // While the database can't be asked, nothing is known against a token.
        let Some(over) = over(asked).await else { continue };
        for one in all.iter().filter(|one| over.contains(&one.hash)) {
            one.keeper.sender().send_replace(false);
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
    use std::sync::Arc;
    use tokio::sync::watch;
    use tonic::Code;

    fn guard() -> (watch::Sender<bool>, Guard) {
        let (sender, valid) = watch::channel(true);
        (sender, Guard::of(valid))
    }

    fn token(number: u128) -> TokenId {
        TokenId(uuid::Uuid::from_u128(number))
    }

    /// Follows these tokens by one task, which is told that one of them is over and notes what it asked.
    fn followed(
        tokens: &Tokens,
        numbers: std::ops::Range<u128>,
        asked: &Arc<Mutex<Vec<usize>>>,
    ) -> Vec<Receiver<bool>> {
        let follow = |number| {
            tokens.follow(token(number), number.to_string(), |heard| {
                let asked = asked.clone();
                tokio::spawn(check(heard, async move |hashes: Vec<String>| {
                    asked.lock().unwrap().push(hashes.len());
                    Some(HashSet::from(["7".to_owned()]))
                }));
            })
        };
        numbers.map(follow).collect()
    }

    #[tokio::test(start_paused = true)]
    async fn all_tokens_are_asked_about_together_and_the_one_that_is_over_ends() {
        let (tokens, asked) = (Tokens::default(), Arc::default());
        let begun = tokio::time::Instant::now();
        let mut valid = followed(&tokens, 0..100, &asked);
        valid[7].wait_for(|valid| !valid).await.unwrap();
        assert!(begun.elapsed() <= CHECK_EVERY, "{:?}", begun.elapsed());
        let others = valid.iter().enumerate().filter(|(at, _)| *at != 7);
        assert!(others.map(|(_, valid)| valid).all(|valid| *valid.borrow()));
        // Of what is over, and of what nobody follows any more, nothing is asked.
        valid.truncate(10);
        tokio::time::sleep(CHECK_EVERY).await;
        drop(followed(&tokens, 200..210, &asked));
        tokio::time::sleep(2 * CHECK_EVERY).await;
        let asked = asked.lock().unwrap();
        assert!(asked.contains(&100), "{asked:?}");
        assert_eq!(asked.last(), Some(&9), "{asked:?}");
        assert!(asked.len() <= 5, "there was more than one question a round: {asked:?}");
    }

    #[tokio::test(start_paused = true)]
    async fn when_the_check_breaks_its_streams_learn_it_and_the_next_one_is_checked_again() {
        let tokens = Tokens::default();
        let broken = |heard| {
            tokio::spawn(check(heard, async |_| panic!("this round is to break")));
        };
        let mut follower = tokens.follow(token(1), "1".to_owned(), broken);
        assert!(follower.wait_for(|valid| !valid).await.is_err(), "a stream goes on unchecked");
        let mut next = followed(&tokens, 7..8, &Arc::default());
        next[0].wait_for(|valid| !valid).await.unwrap();
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
