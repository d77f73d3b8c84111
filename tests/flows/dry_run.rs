//! A dry run is decided like anything else and leaves nothing: what is answered is what comes of the same request
//! afterwards, and the journal stays where it was. Outside source: none; that a trial changes nothing is its meaning.

use crate::shop::{Shop, reason};
use leadhand_proto::v1;
use leadhand_sdk::new_write;

#[expect(clippy::unnecessary_wraps, reason = "as requests take it")]
fn tried() -> Option<v1::WriteContext> {
    Some(v1::WriteContext { dry_run: true, ..new_write() })
}

/// That nothing was recorded, by the receipt's own word.
fn is_nothing(receipt: Option<v1::Receipt>, head: i64) {
    let receipt = receipt.unwrap();
    assert!(receipt.dry_run && receipt.recorded_at.is_none() && !receipt.repeated, "{receipt:?}");
    assert_eq!(receipt.number, head);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_tried_comes_out_as_it_does_in_earnest_and_changes_nothing() {
    let shop = Shop::open().await;
    let job = shop.job("front-brakes", "white van").await;
    let before = shop.head().await;
    let reserve = |write| v1::ReserveStockRequest { write, job, stage: String::new() };
    let dry = shop.lead.reserve_stock(reserve(tried())).await.unwrap();
    // Tried twice, and by two servers: nobody's trial is in another's way.
    let again = shop.elsewhere.reserve_stock(reserve(tried())).await.unwrap();
    assert_eq!((shop.head().await, &dry.lines), (before, &again.lines));
    is_nothing(dry.receipt, before);
    let wet = shop.lead.reserve_stock(reserve(Some(new_write()))).await.unwrap();
    assert!(!dry.lines.is_empty());
    assert_eq!(dry.lines, wet.lines);
    assert!(!wet.receipt.unwrap().dry_run);

    let before = shop.head().await;
    let release = v1::ReleaseStockRequest { write: tried(), job, ..Default::default() };
    is_nothing(shop.lead.release_stock(release).await.unwrap().receipt, before);
    let issue = |write| v1::IssueStockRequest { write, job, ..Default::default() };
    let dry = shop.lead.issue_stock(issue(tried())).await.unwrap();
    is_nothing(dry.receipt, before);
    let wet = shop.lead.issue_stock(issue(Some(new_write()))).await.unwrap();
    assert_eq!(dry.lines, wet.lines);

    let before = shop.head().await;
    let (item, place) = ("brake-disc-front-20".to_owned(), "bin-c1".to_owned());
    let receive = v1::ReceiveStockRequest {
        write: tried(),
        item: item.clone(),
        place: place.clone(),
        quantity: 4,
        expires_on: String::new(),
    };
    let dry = shop.lead.receive_stock(receive).await.unwrap();
    assert_eq!(dry.lot, "", "a lot that is not there has no id");
    is_nothing(dry.receipt, before);
    let back = v1::ReturnStockRequest { write: tried(), job, item: item.clone(), quantity: 1, place: place.clone() };
    is_nothing(shop.lead.return_stock(back).await.unwrap().receipt, before);
    let reason_given = "looked at it".to_owned();
    let count = v1::CountStockRequest {
        write: tried(),
        item: item.clone(),
        place: place.clone(),
        counted: 1,
        reason: reason_given.clone(),
    };
    is_nothing(shop.lead.count_stock(count).await.unwrap().receipt, before);
    let scrap = v1::ScrapStockRequest { write: tried(), item, place, quantity: 1, reason: reason_given };
    is_nothing(shop.lead.scrap_stock(scrap).await.unwrap().receipt, before);
    let csv = "item,name,unit,place,quantity,expires_on\nwasher-8,Washer,1,bin-z9,50,\n".to_owned();
    let import = shop.lead.import_stock(v1::ImportStockRequest { write: tried(), csv }).await.unwrap();
    assert_eq!((import.rows, import.items, import.places), (1, 1, 1));
    is_nothing(import.receipt, before);
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_trial_is_refused_like_the_request_and_leaves_its_id_unused() {
    let shop = Shop::open().await;
    let job = shop.job("front-brakes", "white van").await;
    let back = |write| v1::ReturnStockRequest {
        write,
        job,
        item: "brake-disc-front-20".into(),
        quantity: 3,
        place: "bin-c1".into(),
    };
    let dry = reason(shop.lead.return_stock(back(tried())).await);
    assert_eq!(dry, reason(shop.lead.return_stock(back(Some(new_write()))).await));
    let write = new_write();
    let reserve = |write| v1::ReserveStockRequest { write: Some(write), job, stage: String::new() };
    let trial = v1::WriteContext { dry_run: true, ..write.clone() };
    shop.lead.reserve_stock(reserve(trial)).await.unwrap();
    let receipt = shop.lead.reserve_stock(reserve(write)).await.unwrap().receipt.unwrap();
    assert!(!receipt.repeated && receipt.recorded_at.is_some(), "{receipt:?}");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn where_there_is_no_trial_it_is_refused_and_nothing_is_done() {
    let shop = Shop::open().await;
    let before = shop.head().await;
    let asked = v1::AddPlaceRequest { write: tried(), place: "bin-z9".into(), name: "Z9".into() };
    let refused = shop.lead.add_place(asked).await.unwrap_err();
    assert_eq!(refused.fields[0].field, "write.dry_run");
    // Above all nobody gets a secret that lets nobody in.
    let asked = v1::IssueTokenRequest { write: tried(), label: "desk".into(), role: 1, ..Default::default() };
    let refused = shop.lead.issue_token(asked).await.unwrap_err();
    assert_eq!(refused.fields[0].field, "write.dry_run");
    assert_eq!(shop.head().await, before);
}
