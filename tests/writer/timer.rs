//! The timer asks under an id derived from what is due, so an id that is used up in vain is lost for good.

use crate::{Shop, receive, replica_with_timer};
use leadhand_domain::command::ReceiveStock;
use sqlx::{Executor, PgConnection};
use std::time::Duration;

/// Calls every shop due for ever, always for the same thing, and counts how often it was asked.
const ALWAYS_DUE: &str = "
    CREATE SEQUENCE looks;
    GRANT USAGE ON SEQUENCE looks TO leadhand_owner;
    CREATE OR REPLACE FUNCTION due_shops() RETURNS TABLE (shop uuid, due text)
    LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
    AS $$ SELECT h.shop, 'the same' FROM head AS h WHERE nextval('looks') > 0 $$;";

#[tokio::test(flavor = "multi_thread")]
async fn a_look_of_the_timer_that_finds_nothing_to_do_does_not_use_up_its_id() {
    let shop = Shop::open().await;
    shop.stock(1).await;
    let mut database = shop.database.superuser().await.unwrap();
    database.execute(ALWAYS_DUE).await.unwrap();
    let head = shop.head().await;
    let timed = replica_with_timer(&shop.database, 2, Duration::from_millis(5)).await;
    // A look waits for its answer, so at the third one two were answered.
    until(&mut database, "SELECT last_value >= 3 FROM looks").await;
    assert_eq!(shop.head().await, head, "there was nothing to do");
    // A lot ages past its last good day by a stroke of the pen; the next fact has the rows looked at anew.
    shop.must(ReceiveStock { expires_on: Some("2030-01-01".into()), ..receive(1) }).await;
    database.execute("UPDATE lot SET expires_on = '2020-01-01' WHERE expires_on IS NOT NULL").await.unwrap();
    shop.must(receive(1)).await;
    until(&mut database, "SELECT count(*) = 1 FROM lot WHERE expired").await;
    timed.stop();
}

async fn until(database: &mut PgConnection, condition: &'static str) {
    let holds = async {
        while !sqlx::query_scalar::<_, bool>(condition).fetch_one(&mut *database).await.unwrap() {
            tokio::task::yield_now().await;
        }
    };
    let within = tokio::time::timeout(Duration::from_secs(30), holds);
    assert!(within.await.is_ok(), "waited in vain for: {condition}");
}
