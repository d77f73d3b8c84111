//! A token that is revoked, or that runs out, on one replica lets nobody in on another, and ends the streams there.

use crate::clock::later;
use crate::shop::Shop;
use futures::{Stream, StreamExt};
use leadhand_proto::v1;
use leadhand_sdk::{Client, Code, SdkError, new_write};
use std::time::Duration;
use tokio::time::timeout;

/// What was promised: a revoked token is good for nothing after this long, on every replica and on open streams.
const PROMISED: Duration = Duration::from_secs(5);

async fn end<T>(stream: impl Stream<Item = Result<T, SdkError>>) -> SdkError {
    let mut stream = std::pin::pin!(stream);
    loop {
        match stream.next().await {
            Some(Ok(_)) => {}
            Some(Err(error)) => return error,
            None => panic!("the stream ended without a reason"),
        }
    }
}

/// Opens both streams, does something, and waits until both have ended.
async fn both_end(client: &Client, once: impl Future<Output = ()>) {
    let cursor = v1::Cursor { number: 0, fact_id: String::new() };
    let (mut board, mut journal) = (Box::pin(client.watch_board()), Box::pin(client.follow_journal(cursor)));
    board.next().await.unwrap().unwrap();
    journal.next().await.unwrap().unwrap();
    once.await;
    let ends = futures::future::join(end(board), end(journal));
    let (board, journal) = timeout(PROMISED, ends).await.expect("a stream went on with a token that is over");
    assert_eq!((board.code, journal.code), (Code::Unauthenticated, Code::Unauthenticated), "{board} {journal}");
    let refused = client.who_am_i(v1::WhoAmIRequest {}).await.unwrap_err();
    assert_eq!(refused.reason, "TOKEN_INVALID");
}

async fn issue(shop: &Shop, expires_at: Option<prost_types::Timestamp>) -> v1::IssueTokenResponse {
    let (write, label) = (Some(new_write()), "Wall".to_owned());
    let asked = v1::IssueTokenRequest { write, role: v1::Role::Lead.into(), label, expires_at, ..Default::default() };
    shop.lead.issue_token(asked).await.unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_token_that_is_revoked_here_ends_the_streams_elsewhere() {
    let shop = Shop::open().await;
    let issued = issue(&shop, None).await;
    let revoke = v1::RevokeTokenRequest { write: Some(new_write()), token: issued.token };
    both_end(&shop.elsewhere_with(&issued.secret), async {
        shop.lead.revoke_token(revoke).await.unwrap();
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_token_that_runs_out_ends_its_streams() {
    let shop = Shop::open().await;
    let issued = issue(&shop, Some(later(shop.now().await, 3_000_000))).await;
    let over = shop.elsewhere_with(&issued.secret);
    // By the server's clock, which is asked rather than waited for.
    both_end(&over, async { while over.who_am_i(v1::WhoAmIRequest {}).await.is_ok() {} }).await;
}
