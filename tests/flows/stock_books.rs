//! The stock book: whatever moves, each statement adds up to the list, and no sum leaves its range.

use crate::shop::{Shop, reason, stopped};
use leadhand_proto::v1;
use leadhand_sdk::new_write;
use std::collections::BTreeMap;

/// services/facts/src/quantity.rs: the largest quantity of one line.
const QUANTITY_MAX: i64 = 1_000_000_000_000;

fn receive(item: &str, place: &str, quantity: i64) -> v1::ReceiveStockRequest {
    let (item, place, expires_on) = (item.into(), place.into(), String::new());
    v1::ReceiveStockRequest { write: Some(new_write()), item, place, quantity, expires_on }
}

async fn whole_stock(shop: &Shop, page_size: i32) -> Vec<v1::ItemStock> {
    let (mut items, mut page_token) = (Vec::new(), String::new());
    loop {
        let asked = v1::ListStockRequest { item: String::new(), page_size, page_token };
        let page = shop.elsewhere.list_stock(asked).await.unwrap();
        items.extend(page.items);
        page_token = page.next_page_token;
        if page_token.is_empty() {
            return items;
        }
    }
}

async fn whole_statement(shop: &Shop, item: &str, page_size: i32) -> Vec<v1::Movement> {
    let (mut movements, mut page_token) = (Vec::new(), String::new());
    loop {
        let asked = v1::GetStatementRequest { item: item.into(), page_size, page_token };
        let page = shop.elsewhere.get_statement(asked).await.unwrap();
        movements.extend(page.movements);
        page_token = page.next_page_token;
        if page_token.is_empty() {
            return movements;
        }
    }
}

/// Something of everything that moves stock.
async fn busy_day(shop: &Shop) {
    let job = shop.job("front-brakes", "white van").await;
    shop.lead
        .reserve_stock(v1::ReserveStockRequest { write: Some(new_write()), job, stage: String::new() })
        .await
        .unwrap();
    let all = v1::IssueStockRequest { write: Some(new_write()), job, ..Default::default() };
    shop.lead.issue_stock(all).await.unwrap();
    let (write, place) = (Some(new_write()), "bin-c1".into());
    let back = v1::ReturnStockRequest { write, job, item: "brake-disc-front-20".into(), quantity: 2, place };
    shop.lead.return_stock(back).await.unwrap();
    for quantity in [3, 4] {
        shop.lead.receive_stock(receive("wheel-bolt-20", "bin-e4", quantity)).await.unwrap();
    }
    let (write, place, reason) = (Some(new_write()), "bin-c2".to_owned(), "bent".to_owned());
    let scrap =
        v1::ScrapStockRequest { write, item: "wheel-bolt-20".into(), place: place.clone(), quantity: 5, reason };
    shop.lead.scrap_stock(scrap).await.unwrap();
    let (write, reason) = (Some(new_write()), "found behind the shelf".to_owned());
    let count = v1::CountStockRequest { write, item: "disc-screw-8".into(), place, counted: 12, reason };
    shop.lead.count_stock(count).await.unwrap();
    let cancel = v1::CancelJobRequest { write: Some(new_write()), job, reason: "sold".into(), as_it_is: false };
    shop.lead.cancel_job(cancel).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn every_statement_adds_up_to_the_list() {
    let shop = Shop::open().await;
    busy_day(&shop).await;
    let stock = whole_stock(&shop, 1000).await;
    assert_eq!(whole_stock(&shop, 7).await, stock, "pages make up the whole");
    assert!(stock.is_sorted_by(|one, next| one.item < next.item));
    for item in &stock {
        let movements = whole_statement(&shop, &item.item, 1000).await;
        assert_eq!(whole_statement(&shop, &item.item, 1).await, movements, "{}", item.item);
        assert_eq!(movements.last().map_or(0, |last| last.on_hand_after), item.on_hand, "{}", item.item);
        // Each bin by itself: what came in less what went out.
        let mut bins: BTreeMap<&str, i64> = BTreeMap::new();
        for one in &movements {
            *bins.entry(&one.to_place).or_default() += one.quantity;
            *bins.entry(&one.from_place).or_default() -= one.quantity;
        }
        for place in &item.places {
            assert_eq!(bins.get(place.place.as_str()), Some(&place.on_hand), "{} in {}", item.item, place.place);
        }
        assert_eq!(bins.values().sum::<i64>(), 0, "double entry: {}", item.item);
        assert_eq!(item.places.iter().map(|place| place.on_hand).sum::<i64>(), item.on_hand, "{}", item.item);
        assert_eq!((item.on_hand - item.expired - item.reserved).max(0), item.free, "{}", item.item);
        assert!(item.on_hand >= item.reserved && item.reserved >= 0, "{}", item.item);
    }
    let of = |key: &str| stock.iter().find(|item| item.item == key).unwrap();
    // By hand from deploy/demo-shop/items.csv: 20 + 3 + 4 - 5, 12 as counted, and 4 - 2 + 2.
    assert_eq!(["wheel-bolt-20", "disc-screw-8", "brake-disc-front-20"].map(|key| of(key).on_hand), [22, 12, 4]);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_not_there_can_not_be_taken() {
    let shop = Shop::open().await;
    let job = shop.blank_job(&["fit"]).await;
    shop.step_with(job, "fit", "hg-set-20", 1).await;
    let before = shop.head().await;
    let issue = |quantity| v1::IssueStockRequest {
        write: Some(new_write()),
        job,
        stage: "fit".into(),
        item: "hg-set-20".into(),
        quantity,
    };
    stopped(shop.lead.issue_stock(issue(0)).await, "NOTHING_TO_DO", "issue");
    stopped(shop.lead.issue_stock(issue(2)).await, "NOT_ENOUGH", "hg-set-20");
    let (write, reason) = (Some(new_write()), "bent".to_owned());
    let (item, place) = ("hg-set-20".to_owned(), "bin-a1".to_owned());
    let scrap = v1::ScrapStockRequest { write, item, place, quantity: 2, reason };
    stopped(shop.lead.scrap_stock(scrap).await, "NOT_ENOUGH", "hg-set-20");
    for place in ["supplier", "used", &format!("job-{job}")] {
        let refused = shop.lead.receive_stock(receive("hg-set-20", place, 1)).await.unwrap_err();
        assert_eq!(refused.reason, "NOT_A_BIN", "{place}: {refused}");
    }
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_largest_quantities_fit_and_one_more_is_refused() {
    let shop = Shop::open().await;
    for _ in 0..3 {
        shop.lead.receive_stock(receive("absorbent", "bin-e3", QUANTITY_MAX)).await.unwrap();
    }
    let before = shop.head().await;
    for quantity in [QUANTITY_MAX + 1, i64::MAX] {
        let refused = shop.lead.receive_stock(receive("absorbent", "bin-e3", quantity)).await.unwrap_err();
        assert_eq!(refused.fields[0].field, "quantity");
        let (write, item, place) = (Some(new_write()), "absorbent".to_owned(), "bin-e3".to_owned());
        let count = v1::CountStockRequest { write, item, place, counted: quantity, reason: "weighed".into() };
        let refused = shop.lead.count_stock(count).await.unwrap_err();
        assert_eq!(refused.fields[0].field, "counted");
    }
    assert_eq!(shop.head().await, before);
    let asked = v1::ListStockRequest { item: "absorbent".into(), ..Default::default() };
    assert_eq!(shop.lead.list_stock(asked).await.unwrap().items[0].on_hand, 25_000 + 3 * QUANTITY_MAX);
    assert_eq!(whole_statement(&shop, "absorbent", 0).await.last().unwrap().on_hand_after, 25_000 + 3 * QUANTITY_MAX);
    // Two steps want more of it together than one line may say.
    let job = shop.blank_job(&["pour"]).await;
    let strew = |times: usize| v1::AddStepRequest {
        write: Some(new_write()),
        job,
        stage: "pour".into(),
        instruction: "Strew".into(),
        needs: vec![v1::Need { item: "absorbent".into(), quantity: QUANTITY_MAX, unit: "g".into() }; times],
        ..Default::default()
    };
    assert_eq!(shop.lead.add_step(strew(2)).await.unwrap_err().fields[0].field, "needs[1].item");
    for _ in 0..2 {
        shop.lead.add_step(strew(1)).await.unwrap();
    }
    let reserve = v1::ReserveStockRequest { write: Some(new_write()), job, stage: String::new() };
    let lines = shop.lead.reserve_stock(reserve).await.unwrap().lines;
    assert_eq!(lines.iter().map(|line| (line.quantity, line.short)).collect::<Vec<_>>(), [(QUANTITY_MAX, 0); 2]);
    assert_eq!(
        reason(shop.lead.get_statement(v1::GetStatementRequest { item: "sand".into(), ..Default::default() }).await),
        "NOT_FOUND"
    );
    shop.verified().await;
}

/// A template of one step that takes so much of an item.
fn taking(item: &str, quantity: i64, unit: &str) -> String {
    format!(
        "key = \"take-{item}\"\ntitle = \"Take\"\n[[stage]]\nkey = \"fit\"\ntitle = \"Fit\"\nminutes = [1, 2, 3]\n\
         [[stage.step]]\ndo = \"Take\"\nneeds = [{{ item = \"{item}\", quantity = {quantity}, unit = \"{unit}\" }}]\n"
    )
}

#[tokio::test(flavor = "multi_thread")]
async fn quantities_are_whole_numbers_of_the_unit_of_the_item() {
    let shop = Shop::open().await;
    // UCUM, case-sensitive codes: 1 m = 1000 mm, 1 kg = 1000 g, 1 L = 1000 mL.
    let kinds = [
        ("hose", "mm", "m", 2, 2000),
        ("paste", "g", "kg", 3, 3000),
        ("oil", "mL", "L", 4, 4000),
        ("wax", "L", "mL", 2000, 2),
    ];
    for (item, unit, other, quantity, in_unit) in kinds {
        let (write, name) = (Some(new_write()), format!("Some {item}"));
        let asked = v1::AddItemRequest { write, item: item.into(), name, unit: unit.into(), fluid: None };
        shop.lead.add_item(asked).await.unwrap();
        shop.lead.receive_stock(receive(item, "bin-a1", 5000)).await.unwrap();
        let source = taking(item, quantity, other);
        shop.lead.publish_template(v1::PublishTemplateRequest { write: Some(new_write()), source }).await.unwrap();
        let job = shop.job(&format!("take-{item}"), "white van").await;
        let needs = &shop.stage(job, "fit").await.steps[0].needs;
        assert_eq!((needs[0].quantity, needs[0].unit.as_str()), (in_unit, unit));
        let reserve = v1::ReserveStockRequest { write: Some(new_write()), job, stage: String::new() };
        let lines = shop.lead.reserve_stock(reserve).await.unwrap().lines;
        assert_eq!(lines.iter().map(|line| (line.quantity, line.short)).collect::<Vec<_>>(), [(in_unit, 0)], "{item}");
        let listed = v1::ListStockRequest { item: item.into(), ..Default::default() };
        let stock = shop.lead.list_stock(listed).await.unwrap().items.remove(0);
        assert_eq!((stock.unit.as_str(), stock.reserved, stock.free), (unit, in_unit, 5000 - in_unit));
    }
    // What has no whole number in the item's unit, or another kind of unit, is a fault at its place.
    for (item, quantity, unit) in [("wax", 1500, "mL"), ("wax", 1, "g"), ("oil", 1, "1"), ("oil", 1, "gal")] {
        let source = taking(item, quantity, unit);
        let checked = shop.lead.check_template(v1::CheckTemplateRequest { source }).await.unwrap();
        assert_eq!(
            checked.faults.iter().map(|fault| fault.line).collect::<Vec<_>>(),
            [9],
            "{quantity} {unit} of {item}"
        );
    }
    for unit in ["gallon", "l", "ML", ""] {
        let (write, item, name) = (Some(new_write()), "odd".to_owned(), "Odd".to_owned());
        let refused = shop
            .lead
            .add_item(v1::AddItemRequest { write, item, name, unit: unit.into(), fluid: None })
            .await
            .unwrap_err();
        assert_eq!(refused.fields[0].field, "unit", "'{unit}'");
    }
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_opening_stock_sent_again_under_another_id_changes_nothing() {
    let shop = Shop::open().await;
    let (before, stock) = (shop.head().await, whole_stock(&shop, 1000).await);
    let csv = include_str!("../../deploy/demo-shop/items.csv").to_owned();
    let asked = v1::ImportStockRequest { write: Some(new_write()), csv: csv.clone() };
    let refused = shop.elsewhere.import_stock(asked).await.unwrap_err();
    assert_eq!(refused.reason, "BAD_ROWS");
    // Every row with a quantity is one too many, and each of them is named.
    let rows = csv.lines().skip(1).filter(|row| row.split(',').nth(4).is_some_and(|quantity| quantity != "0")).count();
    let lines: BTreeMap<&str, usize> = refused.fields.iter().fold(BTreeMap::new(), |mut lines, fault| {
        *lines.entry(fault.field.split_once(' ').unwrap().1).or_default() += 1;
        lines
    });
    assert_eq!(lines.len(), rows, "{lines:?}");
    assert_eq!((shop.head().await, whole_stock(&shop, 1000).await), (before, stock));
    shop.verified().await;
}
