//! Reserving from stock: two bays and the last gasket set.

use crate::shop::{Shop, reason};
use leadhand_proto::v1;
use leadhand_sdk::{new_write, write_with_id};

fn reserve(job: i64) -> v1::ReserveStockRequest {
    v1::ReserveStockRequest { write: Some(new_write()), job, stage: String::new() }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_last_gasket_set_is_promised_once_and_a_delivery_goes_to_the_most_urgent() {
    let shop = Shop::open().await;
    let jobs = [shop.job("head-gasket-20", "green estate").await, shop.job("head-gasket-20", "blue saloon").await];
    let first = shop.lead.reserve_stock(reserve(jobs[0])).await.unwrap();
    assert!(first.lines.iter().all(|line| line.short == 0), "{:?}", first.lines);
    let second = shop.elsewhere.reserve_stock(reserve(jobs[1])).await.unwrap();
    let set = second.lines.iter().find(|line| line.item == "hg-set-20").unwrap();
    assert_eq!((set.quantity, set.short), (0, 1));
    assert_eq!(set.held_by.iter().map(|holder| (holder.job, holder.quantity)).collect::<Vec<_>>(), [(1, 1)]);
    // A third, more urgent job asks later, and is first when the delivery comes.
    let third = shop.job("head-gasket-20", "black coupe").await;
    let urgent = v1::PromiseJobRequest { write: Some(new_write()), job: third, priority: 1, ..Default::default() };
    shop.lead.promise_job(urgent).await.unwrap();
    shop.lead.reserve_stock(reserve(third)).await.unwrap();
    let delivery = v1::ReceiveStockRequest {
        write: Some(new_write()),
        item: "hg-set-20".into(),
        place: "bin-a1".into(),
        quantity: 1,
        expires_on: String::new(),
    };
    shop.lead.receive_stock(delivery).await.unwrap();
    let short = shop.lead.list_shortages(v1::ListShortagesRequest { job: 0 }).await.unwrap().shortages;
    let short: Vec<i64> = short.iter().filter(|line| line.item == "hg-set-20").map(|line| line.job).collect();
    assert_eq!(short, [2]);
    // Only one is counted: the less urgent of the two that have one gives way.
    let count = v1::CountStockRequest {
        write: Some(new_write()),
        item: "hg-set-20".into(),
        place: "bin-a1".into(),
        counted: 1,
        reason: "one was bent".into(),
    };
    let receipt = shop.lead.count_stock(count).await.unwrap().receipt.unwrap();
    assert!(receipt.notices.iter().any(|notice| notice.code == "DISPLACED"), "{:?}", receipt.notices);
    let short = shop.lead.list_shortages(v1::ListShortagesRequest { job: 1 }).await.unwrap().shortages;
    assert!(short.iter().any(|line| line.item == "hg-set-20"));
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn issue_return_and_the_statement_add_up() {
    let shop = Shop::open().await;
    let job = shop.job("front-brakes", "white van").await;
    shop.lead.reserve_stock(reserve(job)).await.unwrap();
    let issue = v1::IssueStockRequest { write: Some(new_write()), job, ..Default::default() };
    let issued = shop.lead.issue_stock(issue).await.unwrap().lines;
    let discs: i64 = issued.iter().filter(|line| line.item == "brake-disc-front-20").map(|line| line.quantity).sum();
    assert_eq!(discs, 2);
    let back = |quantity| v1::ReturnStockRequest {
        write: Some(new_write()),
        job,
        item: "brake-disc-front-20".into(),
        quantity,
        place: "bin-c1".into(),
    };
    assert_eq!(reason(shop.lead.return_stock(back(3)).await), "NOT_AT_JOB");
    shop.lead.return_stock(back(1)).await.unwrap();
    let item = "brake-disc-front-20".to_owned();
    let asked = v1::GetStatementRequest { item: item.clone(), ..Default::default() };
    let statement = shop.lead.get_statement(asked).await.unwrap().movements;
    let listed = shop.lead.list_stock(v1::ListStockRequest { item, ..Default::default() }).await.unwrap().items;
    assert_eq!(statement.last().unwrap().on_hand_after, listed[0].on_hand);
    assert_eq!((listed[0].on_hand, listed[0].at_jobs), (3, 1));
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_import_of_20_000_rows_is_taken_over_once_and_a_bad_one_not_at_all() {
    let shop = Shop::open().await;
    let rows = |from: usize| {
        let row = |n: usize| format!("part-{n},Part {n},1,shelf-{},{},\n", n % 50, n % 7 + 1);
        std::iter::once("item,name,unit,place,quantity,expires_on\n".to_owned())
            .chain((from..from + 20_000).map(row))
            .collect::<String>()
    };
    let before = shop.head().await;
    let bad = rows(0)
        .replace("part-77,Part 77,1,", "part-77,Part 77,gal,")
        .replace("part-99,Part 99,1,", "part 99,Part 99,1,");
    let refused =
        shop.lead.import_stock(v1::ImportStockRequest { write: Some(new_write()), csv: bad }).await.unwrap_err();
    assert_eq!(refused.reason, "BAD_ROWS");
    let fields: Vec<&str> = refused.fields.iter().map(|fault| fault.field.as_str()).collect();
    assert_eq!(fields, ["csv: line 79 unit", "csv: line 101 item"]);
    let csv = format!("{}one-too-many,One too many,1,shelf-1,1,\n", rows(0));
    let refused = shop.lead.import_stock(v1::ImportStockRequest { write: Some(new_write()), csv }).await.unwrap_err();
    assert_eq!((refused.reason.as_str(), refused.fields[0].field.as_str()), ("INVALID_FIELD", "csv"));
    assert_eq!(shop.head().await, before);
    let write = Some(write_with_id(uuid::Uuid::from_u128(20_000)));
    let asked = v1::ImportStockRequest { write, csv: rows(0) };
    let patient = shop.lead.with_deadline(std::time::Duration::from_mins(1));
    let first = patient.import_stock(asked.clone()).await.unwrap();
    assert_eq!((first.rows, first.items, first.places), (20_000, 20_000, 50));
    let after = shop.head().await;
    let again = patient.import_stock(asked).await.unwrap();
    assert!(again.receipt.unwrap().repeated);
    assert_eq!(shop.head().await, after);
    shop.verified().await;
}
