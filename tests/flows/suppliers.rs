//! Suppliers over the wire: what is short says from whom to order it and until when; and what was told to whom stays with
//! the job, is seen by those who work there, and goes when somebody is forgotten. The rules are the project's own.

use crate::clock::later;
use crate::forget::{only_text_bodies, tables_with};
use crate::shop::{Shop, reason, stopped};
use leadhand_proto::v1;
use leadhand_sdk::{Client, Code, new_write};
use std::collections::BTreeMap;

const ITEM: &str = "hg-set-20";
const DAY_SECONDS: i64 = 24 * 60 * 60;

fn round(weekdays: &[i32], order_by_minute: i32, here_minute: i32, days_later: i32) -> v1::SupplierRound {
    v1::SupplierRound { weekdays: weekdays.to_vec(), order_by_minute, here_minute, days_later }
}

fn north(rounds: Vec<v1::SupplierRound>) -> v1::SetSupplierRequest {
    let supplier = v1::Supplier { supplier: "north".into(), name: "North Parts".into(), rounds };
    v1::SetSupplierRequest { write: Some(new_write()), supplier: Some(supplier) }
}

fn from(item: &str, supplier: &str) -> v1::SetItemSupplierRequest {
    v1::SetItemSupplierRequest { write: Some(new_write()), item: item.into(), supplier: supplier.into() }
}

/// A job that is short of a gasket set.
async fn short_job(shop: &Shop) -> i64 {
    let job = shop.blank_job(&["fit"]).await;
    shop.step_with(job, "fit", ITEM, 50).await;
    let reserve = v1::ReserveStockRequest { write: Some(new_write()), job, stage: String::new() };
    shop.lead.reserve_stock(reserve).await.unwrap();
    job
}

async fn ordered(shop: &Shop, job: i64) -> Option<v1::SupplierOrder> {
    let mut listed = shop.elsewhere.list_shortages(v1::ListShortagesRequest { job }).await.unwrap().shortages;
    assert_eq!(listed.len(), 1);
    let of_job = shop.whole_job(job).await.shortages.remove(0).order;
    let order = listed.remove(0).order;
    assert_eq!(of_job.as_ref().map(|order| &order.supplier), order.as_ref().map(|order| &order.supplier));
    order
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_short_says_from_whom_to_order_it_and_until_when() {
    let shop = Shop::open_in("UTC").await;
    let parts = shop.token(v1::Role::Parts, "Bracken").await;
    let job = short_job(&shop).await;
    assert_eq!(ordered(&shop, job).await, None, "nothing is said where the item names no supplier");
    let unknown = parts.set_item_supplier(from(ITEM, "north")).await.unwrap_err();
    assert_eq!((unknown.code, unknown.reason.as_str()), (Code::NotFound, "NOT_FOUND"));
    assert!(unknown.message.starts_with("there is no supplier 'north'; add the supplier first"), "{}", unknown.message);
    parts.set_supplier(north(vec![])).await.unwrap();
    parts.set_item_supplier(from(ITEM, "north")).await.unwrap();
    let bare = ordered(&shop, job).await.unwrap();
    assert_eq!((bare.name.as_str(), bare.order_by, bare.minutes_left), ("North Parts", None, 0));

    // Every day a minute before midnight: the next one is never more than a day away, whenever this runs.
    parts.set_supplier(north(vec![round(&[1, 2, 3, 4, 5, 6, 7], 1_439, 480, 1)])).await.unwrap();
    let (before, order, after) = (shop.now().await, ordered(&shop, job).await.unwrap(), shop.now().await);
    let (by, here) = (order.order_by.unwrap(), order.here_at.unwrap());
    assert!(by.seconds >= before.seconds && by.seconds - after.seconds <= DAY_SECONDS, "{order:?}");
    assert_eq!((by.seconds % DAY_SECONDS, here.seconds % DAY_SECONDS), (1_439 * 60, 8 * 3_600));
    assert_eq!(here.seconds - by.seconds, 8 * 3_600 + 60);
    assert!(((by.seconds - after.seconds) / 60..=(by.seconds - before.seconds) / 60).contains(&order.minutes_left));

    let listed = shop.elsewhere.list_suppliers(v1::ListSuppliersRequest::default()).await.unwrap().suppliers;
    assert_eq!(listed[0].supplier.as_ref().unwrap().rounds, [round(&[1, 2, 3, 4, 5, 6, 7], 1_439, 480, 1)]);
    let stock = v1::ListStockRequest { item: ITEM.into(), ..Default::default() };
    assert_eq!(parts.list_stock(stock).await.unwrap().items[0].supplier, "north");
    parts.set_item_supplier(from(ITEM, "")).await.unwrap();
    assert_eq!(ordered(&shop, job).await, None);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn suppliers_are_kept_by_the_parts_room_and_said_once() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &[]).await;
    let denied = flint.set_supplier(north(vec![])).await.unwrap_err();
    assert_eq!((denied.code, denied.reason.as_str()), (Code::PermissionDenied, "ROLE_NOT_ALLOWED"));
    let asked = north(vec![round(&[1], 630, 840, 0)]);
    let first = shop.lead.set_supplier(asked.clone()).await.unwrap().receipt.unwrap();
    let again = shop.elsewhere.set_supplier(asked).await.unwrap().receipt.unwrap();
    assert_eq!(first.number, again.number, "the same request takes effect once");
    let wrong = shop.lead.set_supplier(north(vec![round(&[1], 630, 600, 0)])).await.unwrap_err();
    assert_eq!((wrong.code, wrong.reason.as_str()), (Code::InvalidArgument, "INVALID_FIELD"));
    assert!(wrong.message.contains("10:00 is not after the cut-off at 10:30"), "{}", wrong.message);
    for n in 0..2 {
        let supplier = v1::Supplier { supplier: format!("s-{n}"), name: "Some firm".into(), rounds: vec![] };
        let asked = v1::SetSupplierRequest { write: Some(new_write()), supplier: Some(supplier) };
        shop.lead.set_supplier(asked).await.unwrap();
    }
    let mut request = v1::ListSuppliersRequest { page_size: 2, page_token: String::new() };
    let page = flint.list_suppliers(request.clone()).await.unwrap();
    request.page_token = page.next_page_token;
    let rest = flint.list_suppliers(request).await.unwrap().suppliers;
    let keys: Vec<String> =
        page.suppliers.into_iter().chain(rest).map(|line| line.supplier.unwrap().supplier).collect();
    assert_eq!(keys, ["north", "s-0", "s-1"]);
    shop.verified().await;
}

fn tell(job: i64, whom: &str, words: &str) -> v1::RecordToldRequest {
    let (whom, words, promised_at) = (whom.to_owned(), words.to_owned(), None);
    v1::RecordToldRequest { write: Some(new_write()), job, whom, words, promised_at }
}

async fn told(who: &Client, job: i64) -> Vec<v1::ToldLine> {
    who.get_job(v1::GetJobRequest { job }).await.unwrap().told
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_told_stays_with_the_job() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &[]).await;
    let viewer = shop.token(v1::Role::Viewer, "wall").await;
    let parts = shop.token(v1::Role::Parts, "Bracken").await;
    let job = shop.blank_job(&["strip"]).await;
    assert_eq!(reason(parts.record_told(tell(job, "the driver", "it is ready")).await), "ROLE_NOT_ALLOWED");
    let promised_at = Some(later(shop.now().await, 3_600_000_000));
    let asked = v1::RecordToldRequest { promised_at, ..tell(job, "the driver", "a stud broke") };
    assert_eq!(flint.record_told(asked).await.unwrap().told, 1);
    stopped(flint.record_told(tell(job, "", "it is ready")).await, "NOBODY_TO_TELL", &format!("job {job};"));
    let line = told(&parts, job).await.remove(0);
    assert_eq!(
        (line.told_by.as_str(), line.whom.as_str(), line.words.as_str()),
        ("Flint", "the driver", "a stud broke")
    );
    assert_eq!((line.promised_at, line.to_customer, line.withdrawn), (promised_at, false, false));
    assert!(told(&viewer, job).await.is_empty(), "a screen hangs where visitors see it");
    let withdraw = v1::WithdrawToldRequest { write: Some(new_write()), job, told: 1, reason: "another job".into() };
    flint.withdraw_told(withdraw).await.unwrap();
    let line = told(&shop.lead, job).await.remove(0);
    assert_eq!(
        (line.words.as_str(), line.withdrawn_reason.as_str()),
        ("a stud broke", "another job"),
        "nothing is edited"
    );
    shop.verified().await;
}

async fn customer_of(shop: &Shop, job: i64, name: &str) -> String {
    let asked = v1::AddCustomerRequest { write: Some(new_write()), name: name.into(), ..Default::default() };
    let customer = shop.lead.add_customer(asked).await.unwrap().customer;
    let vehicle = shop.whole_job(job).await.job.unwrap().vehicle;
    let edit =
        v1::EditVehicleRequest { write: Some(new_write()), vehicle, customer: customer.clone(), ..Default::default() };
    shop.lead.edit_vehicle(edit).await.unwrap();
    customer
}

#[tokio::test(flavor = "multi_thread")]
async fn what_a_customer_was_told_goes_with_the_customer() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &[]).await;
    let job = shop.blank_job(&["strip"]).await;
    let heather = customer_of(&shop, job, "Heather").await;
    flint.record_told(tell(job, "", "ask for Quillfeather")).await.unwrap();
    flint.record_told(tell(job, "the Quillfeather brothers", "it is ready")).await.unwrap();
    let seen = |lines: Vec<v1::ToldLine>| (lines[0].to_customer, lines[0].customer.clone());
    assert_eq!(seen(told(&shop.lead, job).await), (true, heather.clone()));
    assert_eq!(seen(told(&flint, job).await), (true, String::new()), "customers are seen by the lead alone");
    let viewer = shop.token(v1::Role::Viewer, "wall").await;
    let on_sheet = async |who: &Client| {
        let sheet = who.get_hand_over_sheet(v1::GetHandOverSheetRequest { job }).await.unwrap();
        sheet.told.into_iter().map(|line| line.words).collect::<Vec<_>>()
    };
    assert_eq!(on_sheet(&shop.lead).await, ["ask for Quillfeather"], "what somebody else was told is not on it");
    assert_eq!(on_sheet(&viewer).await, Vec::<String>::new());
    // The job turns out to be another customer's; what the first one was told is still about the first.
    let rowan = customer_of(&shop, job, "Rowan").await;
    assert_eq!(on_sheet(&shop.lead).await, Vec::<String>::new());
    // Why it is withdrawn is about the first as well.
    let (write, reason) = (Some(new_write()), "that was no Quillfeather".to_owned());
    flint.withdraw_told(v1::WithdrawToldRequest { write, job, told: 1, reason }).await.unwrap();
    assert_eq!(tables_with(&shop, "Quillfeather").await, only_text_bodies(3));
    let forget = |customer: &str| v1::ForgetCustomerRequest { write: Some(new_write()), customer: customer.to_owned() };
    shop.lead.forget_customer(forget(&heather)).await.unwrap();
    assert_eq!(tables_with(&shop, "Quillfeather").await, only_text_bodies(1));
    let cancel = v1::CancelJobRequest { write: Some(new_write()), job, reason: "not today".into(), as_it_is: false };
    shop.lead.cancel_job(cancel).await.unwrap();
    shop.lead.forget_customer(forget(&rowan)).await.unwrap();
    assert_eq!(tables_with(&shop, "Quillfeather").await, BTreeMap::new());
    let lines = told(&shop.lead, job).await;
    assert_eq!(lines.iter().map(|line| line.words.as_str()).collect::<Vec<_>>(), ["", ""], "the lines stay");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_told_it_is_forgotten_with_the_words() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &[]).await;
    let job = shop.blank_job(&["strip"]).await;
    flint.record_told(tell(job, "Mrs Quillfeather", "ask for Quillfeather")).await.unwrap();
    assert_eq!(tables_with(&shop, "Quillfeather").await, only_text_bodies(2));
    let forget = v1::ForgetPersonRequest { write: Some(new_write()), person: "Flint".into() };
    shop.lead.forget_person(forget).await.unwrap();
    assert_eq!(tables_with(&shop, "Quillfeather").await, BTreeMap::new());
    shop.verified().await;
}
