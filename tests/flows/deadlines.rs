//! Clients that stop waiting: a deadline passes in the queue, or a call is dropped on its way.

use crate::shop::Shop;
use futures::future::join_all;
use futures::{StreamExt, stream};
use hyper_util::client::legacy::Client as Http;
use hyper_util::client::legacy::connect::HttpConnector;
use hyper_util::rt::TokioExecutor;
use leadhand_proto::v1;
use leadhand_proto::v1::stock_service_client::StockServiceClient;
use leadhand_sdk::{new_write, write_with_id};
use sqlx::{Executor, PgConnection};
use std::collections::BTreeMap;
use std::time::Duration;
use tonic::body::Body;
use tonic::{Code, Request};
use tonic_types::StatusExt;
use uuid::Uuid;

const ITEM: &str = "thread-sealant-pack";
const PLACE: &str = "waiting-shelf";

fn receive(write: v1::WriteContext) -> v1::ReceiveStockRequest {
    let (item, place) = (ITEM.into(), PLACE.into());
    v1::ReceiveStockRequest { write: Some(write), item, place, quantity: 1, expires_on: String::new() }
}

/// A client that says its deadline and does not keep it itself, as tonic's own would, so that what
/// comes is the server's word.
fn patient(shop: &Shop) -> StockServiceClient<Http<HttpConnector, Body>> {
    let http = Http::builder(TokioExecutor::new()).http2_only(true).build_http();
    StockServiceClient::with_origin(http, shop.url().parse().unwrap())
}

fn asked(shop: &Shop, write: v1::WriteContext) -> Request<v1::ReceiveStockRequest> {
    let mut request = Request::new(receive(write));
    request.metadata_mut().insert("authorization", format!("Bearer {}", shop.secret()).parse().unwrap());
    request
}

impl Shop {
    async fn with_goods(&self) {
        let (item, name, unit) = (ITEM.into(), "Thread sealant, pack".into(), "1".into());
        self.lead
            .add_item(v1::AddItemRequest { write: Some(new_write()), item, name, unit, fluid: None })
            .await
            .unwrap();
        let (place, name) = (PLACE.into(), "Waiting shelf".into());
        self.lead.add_place(v1::AddPlaceRequest { write: Some(new_write()), place, name }).await.unwrap();
    }

    async fn on_hand(&self) -> i64 {
        let listed = self.lead.list_stock(v1::ListStockRequest { item: ITEM.into(), ..Default::default() }).await;
        listed.unwrap().items[0].on_hand
    }
}

async fn until_somebody_waits(looker: &mut PgConnection) {
    let waits = "SELECT count(*) FROM pg_stat_activity
        WHERE datname = current_database() AND usename = 'leadhand_app' AND wait_event_type = 'Lock'";
    while sqlx::query_scalar::<_, i64>(waits).fetch_one(&mut *looker).await.unwrap() == 0 {
        tokio::task::yield_now().await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_deadline_that_passes_in_the_queue_is_said_as_such_and_nothing_is_changed() {
    let shop = Shop::open().await;
    shop.with_goods().await;
    let mut holder = shop.database.superuser().await.unwrap();
    holder.execute("BEGIN; SELECT number FROM head FOR UPDATE").await.unwrap();
    // The first one waits for the shop, and the others in the queue behind it.
    let first = {
        let lead = shop.lead.clone();
        tokio::spawn(async move { lead.receive_stock(receive(new_write())).await })
    };
    until_somebody_waits(&mut shop.database.superuser().await.unwrap()).await;
    let client = patient(&shop);
    let calls = (0..40_u32).map(|n| {
        let (mut client, write) = (client.clone(), new_write());
        let mut request = asked(&shop, write.clone());
        // Whole milliseconds and none, so that no timer's ticks hide another one's.
        request.set_timeout(Duration::from_micros(u64::from(20_000 + n * 6_173)));
        async move { (write, client.receive_stock(request).await) }
    });
    let answers = join_all(calls).await;
    holder.execute("ROLLBACK").await.unwrap();
    first.await.unwrap().unwrap();
    let known = shop.on_hand().await;
    assert_eq!(known, 1, "a command took effect after its deadline");
    for (write, answer) in answers {
        let status = answer.unwrap_err();
        assert_eq!(status.code(), Code::DeadlineExceeded, "{status}");
        assert_eq!(status.get_details_error_info().unwrap().reason, "DEADLINE_PASSED");
        let again = shop.lead.receive_stock(receive(write)).await.unwrap();
        assert!(!again.receipt.unwrap().repeated);
    }
    assert_eq!(shop.on_hand().await, known + 40);
    shop.verified().await;
}

/// A client that leaves in the middle has changed nothing, or finds its facts under its request id.
#[tokio::test(flavor = "multi_thread")]
async fn a_call_that_is_dropped_took_effect_wholly_or_not_at_all() {
    let shop = Shop::open().await;
    shop.with_goods().await;
    let client = patient(&shop);
    let before = shop.head().await;
    let ids: Vec<Uuid> = (1..=60).map(|n| Uuid::from_u128(0xDEAD_0000 + n)).collect();
    let calls = ids.iter().zip(0..).map(|(id, n)| {
        let (mut client, request) = (client.clone(), asked(&shop, write_with_id(*id)));
        let given_up = Duration::from_micros(n * 500);
        async move { matches!(tokio::time::timeout(given_up, client.receive_stock(request)).await, Ok(Ok(_))) }
    });
    // Few at a time: a server closes a connection on which too many calls are taken back before it
    // has looked at them, and then none would be in the middle of anything.
    let heard: Vec<bool> = stream::iter(calls.collect::<Vec<_>>()).buffered(8).collect().await;
    assert!(heard.iter().any(|heard| !heard), "no call was dropped");
    let mut repeated = Vec::new();
    for id in &ids {
        let again = shop.lead.receive_stock(receive(write_with_id(*id))).await.unwrap();
        repeated.push(again.receipt.unwrap().repeated);
    }
    // Whoever heard an answer had taken effect.
    assert!(heard.iter().zip(&repeated).all(|(heard, repeated)| !heard || *repeated), "{heard:?} {repeated:?}");
    let after = v1::Cursor { number: before, fact_id: String::new() };
    let asked = v1::ReadJournalRequest { after: Some(after), page_size: 1000 };
    let mut facts: BTreeMap<String, usize> = BTreeMap::new();
    for fact in shop.lead.read_journal(asked).await.unwrap().facts {
        *facts.entry(fact.request_id).or_default() += 1;
    }
    // A receipt is a lot and a movement.
    assert!(ids.iter().all(|id| facts[&id.to_string()] == 2), "{facts:?}");
    assert_eq!(shop.on_hand().await, 60);
    shop.verified().await;
}
