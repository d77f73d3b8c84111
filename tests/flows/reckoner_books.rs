//! What the reckoner's command line writes into a job's books: what is set aside for a fill, and when the wheels are checked
//! again; each once, however often it is asked. The shop is invented; the balance of glycol says how much.

use crate::shop::Shop;
use leadhand_proto::v1;

const ITEM: &str = "coolant-concentrate";

/// What a line of the command line said aside, when it ended with this code.
async fn said(shop: &Shop, code: i32, line: &[&str]) -> (String, String) {
    let output = kit::leadhand(shop.url(), shop.secret(), line).await.unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    let (data, aside) = (text(&output.stdout), text(&output.stderr));
    assert_eq!(output.status.code(), Some(code), "{line:?}: {data}{aside}");
    (data, aside)
}

/// A head gasket of which 5.5 of 7 L of coolant were drained. Its template asks for 3.5 L of concentrate in its own fill.
async fn drained() -> (Shop, i64) {
    let shop = Shop::open().await;
    let job = shop.job("head-gasket-20", "silver coupe").await;
    shop.fluid(job, "coolant", 5_500, 0).await;
    (shop, job)
}

async fn fill(shop: &Shop, code: i32, job: i64, more: &[&str]) -> (String, String) {
    let job = job.to_string();
    let line = ["reckon", "--brief", "fill", "--job", &job, "--left-strength", "0%"];
    said(shop, code, &[&line[..], more].concat()).await
}

/// How much of the item the steps of a job ask for, and how much of it is set aside in the bins.
async fn booked(shop: &Shop, job: i64) -> (i64, i64) {
    let whole = shop.whole_job(job).await;
    let steps =
        whole.stages.iter().flat_map(|stage| &stage.steps).filter(|step| step.state() == v1::StepState::Pending);
    let asked = steps.flat_map(|step| &step.needs).filter(|need| need.item == ITEM).map(|need| need.quantity).sum();
    let stock = shop.lead.list_stock(v1::ListStockRequest { item: ITEM.into(), ..Default::default() }).await.unwrap();
    let item = stock.items.iter().find(|stock| stock.item == ITEM).unwrap();
    (asked, item.places.iter().map(|place| place.reserved).sum())
}

/// 50 % of 7 L with 1.5 L of water left in is 3.5 L of concentrate, 55 % is 3.85 L: by the balance of glycol.
#[tokio::test(flavor = "multi_thread")]
async fn each_litre_of_a_fill_is_set_aside_once() {
    let (shop, job) = drained().await;
    let reserve = |target, stage, more: &[&'static str]| {
        let line = ["--target", target, "--reserve", ITEM, "--poured", "100%", "--stage", stage];
        [&line[..], more].concat()
    };
    // The template's own step says it, whichever stage is named.
    let (data, aside) = fill(&shop, 0, job, &reserve("50%", "release", &[])).await;
    assert!(data.starts_with("Pour in, at 100 %: 3.50 L\n") && data.contains("WARNING"), "{data}");
    assert!(aside.contains("of fill says it now, in the place of what it said before"), "{aside}");
    assert_eq!(booked(&shop, job).await, (3_500, 3_500));
    // A little more: only that, in the same step; and asked again, nothing.
    let (_, aside) = fill(&shop, 0, job, &reserve("55%", "release", &[])).await;
    assert!(aside.contains("3.85 L of coolant-concentrate are set aside for job 1: 3.85 L for step "), "{aside}");
    assert_eq!(booked(&shop, job).await, (3_850, 3_850));
    let head = shop.head().await;
    let (_, aside) = fill(&shop, 0, job, &reserve("55%", "fill", &[])).await;
    assert!(aside.contains("that was so already") && aside.contains("of fill says it already"), "{aside}");
    assert_eq!((booked(&shop, job).await, shop.head().await), ((3_850, 3_850), head));
    // In whole packs 5 L are drawn, in all and not beside what is booked; and no bin is said to hold packs.
    let (_, aside) = fill(&shop, 0, job, &reserve("55%", "fill", &["--pack", "5L"])).await;
    assert!(aside.contains("in whole packs that is 1 × 5 L") && aside.contains("from bin-d1"), "{aside}");
    assert_eq!(booked(&shop, job).await, (5_000, 5_000));
    // With less what is too much is free again, and no step is left out for it.
    for (target, millilitres) in [("50%", 3_500), ("40%", 2_800)] {
        fill(&shop, 0, job, &reserve(target, "fill", &[])).await;
        assert_eq!(booked(&shop, job).await, (millilitres, millilitres), "{target}");
    }
    told_once(&shop, job).await;
    shop.verified().await;
}

/// The recipe stands in the template's own step, with what the book has; nothing is left out for it, neither in the job nor
/// on its sheet.
async fn told_once(shop: &Shop, job: i64) {
    let whole = shop.whole_job(job).await;
    let steps: Vec<&v1::Step> = whole.stages.iter().flat_map(|stage| &stage.steps).collect();
    assert!(steps.iter().all(|step| step.state() != v1::StepState::Skipped && !step.unplanned));
    let own: Vec<_> =
        steps.iter().filter(|step| step.fill.as_ref().is_some_and(|fill| !fill.recipe.is_empty())).collect();
    let [own] = own.as_slice() else { panic!("{own:#?}") };
    let told = own.fill.as_ref().unwrap();
    assert!(told.fluid == "coolant" && told.recipe.starts_with("2.80 L at 100 % with 2.70 L of water"), "{told:?}");
    let before = told.instead.iter().find(|need| need.item == ITEM).unwrap();
    assert_eq!(before.quantity, 3_500, "what the book took is kept");
    let (data, _) = said(shop, 0, &["job", "show", "1", "--stage", "fill"]).await;
    assert!(data.contains("GOES IN, as reckoned for this job") && data.contains("(the book: 3.5 L of"), "{data}");
    let (data, _) = said(shop, 0, &["job", "sheet", "1"]).await;
    assert!(!data.contains("Left out") && !data.contains("reckoned anew"), "{data}");
}

#[tokio::test(flavor = "multi_thread")]
async fn of_what_is_no_fluid_or_not_there_nothing_is_set_aside() {
    let (shop, job) = drained().await;
    let head = shop.head().await;
    let gasket = ["--target", "50%", "--reserve", "hose-upper-20", "--stage", "fill"];
    let (data, aside) = fill(&shop, 1, job, &gasket).await;
    assert!(data.is_empty() && aside.contains("not by volume"), "{data}{aside}");
    let unknown = ["--target", "50%", "--reserve", "blue-stuff", "--stage", "fill"];
    assert!(fill(&shop, 3, job, &unknown).await.1.contains("there is no item 'blue-stuff'"));
    // Also where nothing would have to be added.
    for target in ["50%", "55%"] {
        let nowhere = ["--target", target, "--reserve", ITEM, "--poured", "100%", "--stage", "nowhere"];
        assert!(fill(&shop, 3, job, &nowhere).await.1.contains("there is no stage 'nowhere"));
    }
    assert_eq!(shop.head().await, head, "nothing is kept of what was refused");
    shop.verified().await;
}

/// Fitted at 48 210 km, 50 km on: common practice. What was said anew stands alone.
#[tokio::test(flavor = "multi_thread")]
async fn wheels_are_checked_again_once_on_a_sheet() {
    let shop = Shop::open().await;
    let job = shop.job("front-brakes", "blue estate").await;
    let again = |at: &'static str| vec!["reckon", "recheck", at, "--job", "1"];
    assert_eq!(job, 1);
    let on_sheet = async || {
        let sheet = shop.lead.get_hand_over_sheet(v1::GetHandOverSheetRequest { job }).await.unwrap();
        let wheels = sheet.remarks.into_iter().filter(|remark| remark.words.contains("wheels checked again"));
        wheels.map(|remark| remark.words).collect::<Vec<_>>()
    };
    let (data, aside) = said(&shop, 0, &again("48210 km")).await;
    assert!(data.starts_with("Check again at: 48260 km\n") && aside.contains("remark 1 of job 1"), "{data}{aside}");
    let head = shop.head().await;
    let (_, aside) = said(&shop, 0, &again("48210km")).await;
    assert!(aside.contains("remark 1 of job 1 says so on the sheet already"), "{aside}");
    assert_eq!((shop.head().await, on_sheet().await.len()), (head, 1));
    let (_, aside) = said(&shop, 0, &again("48120 km")).await;
    assert!(aside.contains("remark 1 of job 1 said another distance and is withdrawn"), "{aside}");
    let words = on_sheet().await;
    assert!(words.len() == 1 && words[0].contains("48170 km"), "{words:?}");
    shop.verified().await;
}
