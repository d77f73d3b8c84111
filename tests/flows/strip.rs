//! The strip book over the wire: off as listed with one exception, back in its order, looked at by somebody else, and a
//! vehicle that does not leave before. Common practice, in the shop's own words.

use crate::shop::{Shop, reason, start};
use leadhand_proto::v1;
use leadhand_sdk::{Client, new_write};

const TEMPLATE: &str = include_str!("../../deploy/demo-shop/templates/inlet-gasket.toml");

fn off(job: i64, lines: Vec<v1::OffLine>) -> v1::TakeOffRequest {
    let stage = "strip".to_owned();
    v1::TakeOffRequest { write: Some(new_write()), job, stage, lines, as_listed: true, ..Default::default() }
}

fn back(job: i64, position: &str) -> v1::PutBackRequest {
    let tightness = v1::Tightness::Final.into();
    let lines = vec![v1::BackLine { position: position.into(), tightness, ..Default::default() }];
    v1::PutBackRequest { write: Some(new_write()), job, stage: "refit".into(), lines, ..Default::default() }
}

fn confirm(job: i64) -> v1::ConfirmPositionsRequest {
    let positions = vec!["manifold-nuts".into()];
    v1::ConfirmPositionsRequest { write: Some(new_write()), job, positions }
}

/// Covers are in the ports: the manifold does not go over them, and three of four are not all.
async fn covers_first(larch: &Client, job: i64) {
    assert_eq!(reason(larch.put_back(back(job, "manifold")).await), "STILL_INSIDE");
    let three = v1::BackLine { position: "port-covers".into(), refitted: Some(3), ..Default::default() };
    let asked = v1::PutBackRequest { lines: vec![three], ..back(job, "port-covers") };
    let said = larch.put_back(asked.clone()).await.unwrap();
    assert_eq!((said.lines[0].put_in, said.lines[0].refitted, said.lines[0].pieces_left), (true, 3, 1));
    assert_eq!(larch.put_back(asked).await.unwrap().lines, said.lines, "a repeat is told the same");
}

async fn book(who: &Client, job: i64) -> v1::GetStripResponse {
    who.get_strip(v1::GetStripRequest { job, ..Default::default() }).await.unwrap()
}

fn open(book: &v1::GetStripResponse) -> Vec<&str> {
    book.open.iter().filter(|line| !line.position.is_empty()).map(|line| line.text.as_str()).collect()
}

/// Nobody runs it before a second person looked, unless a named lead says so.
async fn run_unseen(shop: &Shop, larch: &Client, job: i64) {
    shop.fluid(job, "coolant", 0, 2_000).await;
    let (stage, steps) = ("refit".to_owned(), vec![1, 2, 3]);
    let run = v1::TickStepsRequest { write: Some(new_write()), job, stage, steps, ..Default::default() };
    assert_eq!(reason(larch.tick_steps(run.clone()).await), "WAKES_OPEN");
    let run = v1::TickStepsRequest { write: Some(new_write()), override_reason: "a knock is heard warm".into(), ..run };
    shop.lead.tick_steps(run).await.unwrap();
}

async fn taken_from_stock(shop: &Shop, job: i64) {
    let complete = v1::CompleteJobRequest { write: Some(new_write()), job, ..Default::default() };
    // A nut and the gasket went in, and the parts room was never asked for them.
    let refused = shop.lead.complete_job(complete).await.unwrap_err();
    let lines: Vec<(&str, &str)> =
        refused.fields.iter().map(|fault| (fault.field.as_str(), fault.message.as_str())).collect();
    assert_eq!(
        lines,
        [
            ("not-taken:flange-nut-8", "1 fitted new, and 0 taken from stock"),
            ("not-taken:intake-gasket-20", "1 fitted new, and 0 taken from stock"),
        ]
    );
    for item in ["flange-nut-8", "intake-gasket-20"] {
        let (write, item) = (Some(new_write()), item.to_owned());
        let issue = v1::IssueStockRequest { write, job, item, quantity: 1, ..Default::default() };
        shop.lead.issue_stock(issue).await.unwrap();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn what_came_off_goes_back_and_the_vehicle_leaves_only_then() {
    let shop = Shop::open().await;
    let publish = v1::PublishTemplateRequest { write: Some(new_write()), source: TEMPLATE.into() };
    shop.lead.publish_template(publish).await.unwrap();
    let (larch, flint) = (shop.technician("Larch", &["engine"]).await, shop.technician("Flint", &["engine"]).await);
    let job = shop.job("inlet-gasket", "silver coupe").await;
    shop.assign(job, "floor-1").await.unwrap();
    start(&larch, job, "strip").await.unwrap();
    shop.fluid(job, "coolant", 2_000, 0).await;
    let steps = vec![1, 2, 3];
    let tick =
        v1::TickStepsRequest { write: Some(new_write()), job, stage: "strip".into(), steps, ..Default::default() };
    larch.tick_steps(tick).await.unwrap();
    let nuts = v1::OffLine { position: "manifold-nuts".into(), missing: Some(1), ..Default::default() };
    let asked = off(job, vec![nuts]);
    let first = larch.take_off(asked.clone()).await.unwrap().receipt.unwrap();
    let again = larch.take_off(asked).await.unwrap().receipt.unwrap();
    assert_eq!((again.number, again.repeated), (first.number, true), "a repeat takes effect once");
    assert_eq!(first.notices.iter().map(|notice| notice.code.as_str()).collect::<Vec<_>>(), ["NEW_PIECES"]);
    let finish =
        |stage: &str| v1::FinishStageRequest { write: Some(new_write()), job, stage: stage.into(), as_listed: true };
    larch.finish_stage(finish("strip")).await.unwrap();
    start(&larch, job, "refit").await.unwrap();

    assert_eq!(reason(larch.put_back(back(job, "airbox")).await), "OTHERS_FIRST");
    let whole = book(&larch, job).await;
    let order: Vec<&str> = whole.refit.iter().map(|line| line.position.as_str()).collect();
    let place = |key: &str| order.iter().position(|known| *known == key).unwrap();
    assert!(
        place("gasket") < place("manifold") && place("manifold") < place("rail") && place("rail") < place("airbox")
    );
    covers_first(&larch, job).await;
    for position in ["port-covers", "gasket", "manifold", "manifold-nuts", "rail", "rail-bolts", "rail-plugs", "airbox"]
    {
        larch.put_back(back(job, position)).await.unwrap();
    }
    let nuts = book(&larch, job).await.positions.into_iter().find(|one| one.position == "manifold-nuts").unwrap();
    assert_eq!((nuts.found, nuts.missing, nuts.refitted, nuts.renewed, nuts.off_by.as_str()), (6, 1, 6, 1, "Larch"));
    assert_eq!(nuts.tighten, ["8 N.m", "20 N.m"]);
    assert_eq!(reason(larch.confirm_positions(confirm(job)).await), "OWN_WORK");
    let whole = book(&larch, job).await;
    assert_eq!(open(&whole), ["manifold-nuts: not looked at by a second person"]);
    assert!(whole.open.iter().all(|line| line.r#final != line.position.is_empty()));
    run_unseen(&shop, &larch, job).await;
    larch.finish_stage(finish("refit")).await.unwrap();
    let named = shop.named(job, "he waits outside").await;
    assert_eq!(reason(shop.lead.complete_job(named).await), "HAND_OVER_FOR_GOOD");
    flint.confirm_positions(confirm(job)).await.unwrap();
    assert_eq!(open(&book(&shop.lead, job).await), Vec::<&str>::new());
    taken_from_stock(&shop, job).await;
    let complete = v1::CompleteJobRequest { write: Some(new_write()), job, ..Default::default() };
    shop.lead.complete_job(complete).await.unwrap();
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_open_book_goes_with_the_lead_s_reason_and_is_taken_back() {
    let shop = Shop::open().await;
    let job = shop.blank_job(&["strip", "fit"]).await;
    let larch = shop.technician("Larch", &[]).await;
    shop.assign(job, "floor-1").await.unwrap();
    start(&larch, job, "strip").await.unwrap();
    let met = v1::AddPositionRequest {
        write: Some(new_write()),
        job,
        stage: "strip".into(),
        what: "شريط \u{202b}خلف\u{202c} the cover".into(),
        kind: v1::PositionKind::Clip.into(),
        count: 2,
        note: "one is brittle".into(),
        ..Default::default()
    };
    let position = larch.add_position(met.clone()).await.unwrap().position;
    let shown = book(&larch, job).await.positions.remove(0);
    assert_eq!((shown.what.as_str(), shown.note.as_str(), shown.found), (met.what.as_str(), "one is brittle", 2));
    let reopen = v1::ReopenPositionRequest {
        write: Some(new_write()),
        job,
        position: position.clone(),
        reason: "counted wrongly".into(),
    };
    larch.reopen_position(reopen).await.unwrap();
    let one = v1::OffLine { position, found: Some(1), ..Default::default() };
    let asked = |line| v1::TakeOffRequest { as_listed: false, ..off(job, vec![line]) };
    // What was only met and is taken back was never there; who counts it anew says why.
    assert_eq!(reason(larch.take_off(asked(one.clone())).await), "POSITION_SAID");
    larch.take_off(asked(v1::OffLine { note: "there is one only".into(), ..one })).await.unwrap();
    for stage in ["strip", "fit"] {
        let skip = v1::SkipStageRequest { write: Some(new_write()), job, stage: stage.into(), reason: "sold".into() };
        larch.skip_stage(skip).await.unwrap();
    }
    let named = shop.named(job, "it goes to the breaker").await;
    let unnamed = v1::CompleteJobRequest { write: Some(new_write()), overrides: Vec::new(), ..named.clone() };
    assert_eq!(reason(shop.lead.complete_job(unnamed).await), "HAND_OVER_OPEN");
    shop.lead.complete_job(named).await.unwrap();
    let last = shop.facts_after(shop.head().await - 3).await;
    assert!(
        last.iter()
            .any(|fact| fact.kind == "job_completed" && fact.words.values().any(|w| w == "it goes to the breaker"))
    );
    shop.verified().await;
}
