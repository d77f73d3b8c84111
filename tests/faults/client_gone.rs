//! Clients that go away in the middle of a call. sqlx leaves a connection in a transaction when a
//! begin is cancelled, and tonic drops a call's handler when its client leaves; neither may reach the
//! writer, nor a connection that somebody else is given next.

use crate::command::Command;
use crate::postgres_killed::receive;
use crate::scene::Scene;
use crate::shop::new_id;
use crate::waiting::until;
use futures::{StreamExt, stream};
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use sqlx::{Connection, PgConnection, raw_sql};
use std::time::Duration;
use tokio::time::timeout;

const WITHIN: Duration = Duration::from_secs(10);
const CALLS: i64 = 200;
const AT_ONCE: usize = 8;

#[tokio::test]
async fn a_call_given_up_while_it_waits_for_its_shop_still_takes_effect() {
    let scene = Scene::set_up(1).await.unwrap();
    let (edge, lead) = (scene.edge().unwrap(), scene.shops[0].lead.clone());
    let command = receive(new_id(&mut StdRng::seed_from_u64(8)));
    let mut other = PgConnection::connect(&scene.postgres.superuser_url()).await.unwrap();
    let mut locked = other.begin().await.unwrap();
    raw_sql("SELECT number FROM head FOR UPDATE").execute(&mut *locked).await.unwrap();

    let call = tokio::spawn({
        let (edge, lead, command) = (edge.clone(), lead.clone(), command.clone());
        async move { command.send(&edge, &lead, WITHIN).await }
    });
    let mut looker = PgConnection::connect(&scene.postgres.superuser_url()).await.unwrap();
    let waiting = async {
        let waits = "SELECT count(*) FROM pg_stat_activity WHERE usename = 'leadhand_app' AND wait_event_type = 'Lock'";
        while sqlx::query_scalar::<_, i64>(waits).fetch_one(&mut looker).await.unwrap() == 0 {
            tokio::task::yield_now().await;
        }
    };
    timeout(WITHIN, waiting).await.expect("the writer waits for the shop");
    call.abort();
    assert!(call.await.unwrap_err().is_cancelled());
    locked.rollback().await.unwrap();

    let look = || async { (edge.on_hand(&lead, "gasket").await.ok()? == 1).then_some(()) };
    until(WITHIN, "the delivery of the client that left", look).await.unwrap();
    let again = command.send(&edge, &lead, WITHIN).await.unwrap();
    assert!(again.repeated);
}

#[tokio::test]
async fn two_hundred_calls_given_up_at_any_moment_leave_exact_counts_and_clean_connections() {
    let scene = Scene::set_up(1).await.unwrap();
    let mut random = StdRng::seed_from_u64(9);
    let (edge, lead) = (scene.edge().unwrap(), scene.shops[0].lead.clone());
    let commands: Vec<Command> = (0..CALLS).map(|_| receive(new_id(&mut random))).collect();
    // The connection is there already, so that what is given up is a call.
    edge.head(&lead).await.unwrap();
    let calls: Vec<_> = commands
        .iter()
        .map(|command| {
            let given_up_after = Duration::from_micros(random.random_range(0..60_000));
            timeout(given_up_after, command.send(&edge, &lead, WITHIN))
        })
        .collect();
    let heard: Vec<bool> = stream::iter(calls).buffer_unordered(AT_ONCE).map(|call| call.is_ok()).collect().await;
    let heard = i64::try_from(heard.into_iter().filter(|heard| *heard).count()).unwrap();
    // Some of those that were given up had reached the server, and take effect all the same.
    let look = || async { edge.on_hand(&lead, "gasket").await.ok().filter(|on_hand| *on_hand > heard) };
    let took_effect = until(WITHIN, "a call that was given up to take effect", look).await.unwrap();
    eprintln!("{heard} of {CALLS} answers were heard, at least {took_effect} took effect");
    assert!(heard < CALLS);

    for command in &commands {
        command.send(&edge, &lead, WITHIN).await.unwrap();
    }
    assert_eq!(edge.on_hand(&lead, "gasket").await.unwrap(), CALLS);
    let in_transaction: i64 = {
        let mut looker = PgConnection::connect(&scene.postgres.superuser_url()).await.unwrap();
        let left = "SELECT count(*) FROM pg_stat_activity WHERE usename = 'leadhand_app'
            AND state LIKE 'idle in transaction%' AND state_change < clock_timestamp() - interval '1 s'";
        sqlx::query_scalar(left).fetch_one(&mut looker).await.unwrap()
    };
    assert_eq!(in_transaction, 0, "a connection was left in a transaction");
    let (sound, said) = scene.verify().await.unwrap();
    assert!(sound, "{said}");
}
