//! Shortages: they hold up the step that is next, end by themselves, and are covered by urgency.

use crate::clock::later;
use crate::shop::{Shop, finish, start, stopped};
use leadhand_proto::v1;
use leadhand_sdk::new_write;

const ITEM: &str = "hg-set-20";

fn reserve(job: i64) -> v1::ReserveStockRequest {
    v1::ReserveStockRequest { write: Some(new_write()), job, stage: String::new() }
}

async fn receive(shop: &Shop, quantity: i64) {
    let (item, place, expires_on) = (ITEM.into(), "bin-a1".into(), String::new());
    let asked = v1::ReceiveStockRequest { write: Some(new_write()), item, place, quantity, expires_on };
    shop.elsewhere.receive_stock(asked).await.unwrap();
}

/// Jobs that are short, in the order in which a delivery would cover them.
async fn short_jobs(shop: &Shop) -> Vec<i64> {
    let listed = shop.elsewhere.list_shortages(v1::ListShortagesRequest { job: 0 }).await.unwrap();
    listed.shortages.iter().map(|line| line.job).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_last_one_is_promised_once_to_two_bays_that_ask_at_once() {
    let shop = Shop::open().await;
    let mut jobs = [0; 2];
    for job in &mut jobs {
        *job = shop.blank_job(&["fit"]).await;
        shop.step_with(*job, "fit", ITEM, 1).await;
    }
    let (here, there) =
        tokio::join!(shop.lead.reserve_stock(reserve(jobs[0])), shop.elsewhere.reserve_stock(reserve(jobs[1])));
    let mut lines = [(jobs[0], here), (jobs[1], there)].map(|(job, answer)| (job, answer.unwrap().lines.remove(0)));
    lines.sort_by_key(|(_, line)| line.short);
    let ((holder, got), (_, missed)) = (&lines[0], &lines[1]);
    assert_eq!((got.quantity, got.short, missed.quantity, missed.short), (1, 0, 0, 1));
    assert_eq!(missed.held_by, [v1::Holder { job: *holder, quantity: 1 }], "the shortage names who holds it");
    // What the holder gives up goes to the other.
    let give_up = v1::ReleaseStockRequest { write: Some(new_write()), job: *holder, ..Default::default() };
    let released = shop.lead.release_stock(give_up).await.unwrap().lines;
    assert_eq!(released.iter().map(|line| line.quantity).collect::<Vec<_>>(), [1]);
    assert_eq!(short_jobs(&shop).await, Vec::<i64>::new());
    let again = v1::ReleaseStockRequest { write: Some(new_write()), job: *holder, ..Default::default() };
    stopped(shop.lead.release_stock(again).await, "NOTHING_TO_DO", "release");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_shortage_holds_up_its_step_when_it_is_next_and_ends_with_the_receipt() {
    let shop = Shop::open().await;
    let other = shop.blank_job(&["fit"]).await;
    shop.step_with(other, "fit", ITEM, 1).await;
    shop.lead.reserve_stock(reserve(other)).await.unwrap();
    let job = shop.blank_job(&["fit"]).await;
    let clean = v1::AddStepRequest {
        write: Some(new_write()),
        job,
        stage: "fit".into(),
        instruction: "Clean the faces".into(),
        ..Default::default()
    };
    let clean = shop.lead.add_step(clean).await.unwrap().step;
    let fit = shop.step_with(job, "fit", ITEM, 1).await;
    shop.lead.reserve_stock(reserve(job)).await.unwrap();
    let receipt = start(&shop.lead, job, "fit").await.unwrap().receipt.unwrap();
    // DESIGN: missing for a later step warns; a blocker is raised only when that step is next.
    assert!(receipt.notices.iter().any(|notice| notice.code == "MISSING_LATER"), "{:?}", receipt.notices);
    assert!(shop.whole_job(job).await.blockers.is_empty());
    let tick = v1::TickStepsRequest {
        write: Some(new_write()),
        job,
        stage: "fit".into(),
        steps: vec![clean],
        ..Default::default()
    };
    shop.lead.tick_steps(tick).await.unwrap();
    let blockers = shop.whole_job(job).await.blockers;
    let raised = &blockers[0];
    assert_eq!((blockers.len(), raised.cause(), raised.item.as_str(), raised.step), (1, v1::Cause::Part, ITEM, fit));
    let short = shop.lead.list_shortages(v1::ListShortagesRequest { job }).await.unwrap().shortages;
    assert!(short.len() == 1 && short[0].holds_up && short[0].held_by[0].job == other);
    let clear = v1::ClearBlockerRequest { write: Some(new_write()), job, blocker: 1, note: String::new() };
    stopped(shop.lead.clear_blocker(clear).await, "BLOCKER_OF_SHORTAGE", ITEM);
    receive(&shop, 1).await;
    let cleared = &shop.whole_job(job).await.blockers[0];
    assert!(cleared.cleared_at.is_some(), "the receipt ends the blocker");
    assert!(short_jobs(&shop).await.is_empty());
    finish(&shop.lead, job, "fit").await.unwrap();
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_delivery_goes_by_priority_then_promise_then_number() {
    let shop = Shop::open().await;
    let now = shop.now().await;
    let day_us = 86_400_000_000;
    // In the order of their numbers: without a promise, promised later, promised sooner, most urgent, as the first.
    let asked = [(3, None), (3, Some(9)), (3, Some(2)), (1, None), (3, None)];
    for (priority, days) in asked {
        let job = shop.blank_job(&["fit"]).await;
        let promised_at = days.map(|days: i64| later(now, days * day_us));
        let promise =
            v1::PromiseJobRequest { write: Some(new_write()), job, priority, promised_at, withdraw_promise: false };
        shop.lead.promise_job(promise).await.unwrap();
        shop.step_with(job, "fit", ITEM, 2).await;
    }
    // One is in stock: whoever reserves first gets it, urgent or not.
    for job in 1..=5 {
        shop.lead.reserve_stock(reserve(job)).await.unwrap();
    }
    let mut order = vec![4, 3, 2, 1, 5];
    assert_eq!(short_jobs(&shop).await, order);
    receive(&shop, 2).await;
    order.remove(0);
    assert_eq!(short_jobs(&shop).await, order);
    // Three more: the next is covered, and the one after in part.
    receive(&shop, 3).await;
    order.remove(0);
    assert_eq!(short_jobs(&shop).await, order);
    let part = shop.lead.list_shortages(v1::ListShortagesRequest { job: 2 }).await.unwrap().shortages;
    assert_eq!(part[0].quantity, 1);
    // The rest wants 1 + 1 + 2, and one is left over.
    receive(&shop, 5).await;
    assert!(short_jobs(&shop).await.is_empty());
    let asked = v1::ListStockRequest { item: ITEM.into(), ..Default::default() };
    let stock = shop.lead.list_stock(asked).await.unwrap().items;
    assert_eq!((stock[0].on_hand, stock[0].reserved, stock[0].free), (11, 10, 1));
    shop.verified().await;
}
