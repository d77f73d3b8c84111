//! A fill of a job by the command line: oil is never mixed with water, an item that is no such fluid is refused, another
//! target replaces what the job says, and two items fill one fluid once. Shop, items and jobs are invented; the balance of
//! glycol and ASHRAE's freezing points (as in `services/reckoner/tests/vectors`) say how much.

use crate::shop::Shop;
use leadhand_proto::v1;
use leadhand_sdk::new_write;

pub async fn said(shop: &Shop, code: i32, line: &[&str]) -> (String, String) {
    let output = kit::leadhand(shop.url(), shop.secret(), line).await.unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    let (data, aside) = (text(&output.stdout), text(&output.stderr));
    assert_eq!(output.status.code(), Some(code), "{line:?}: {data}{aside}");
    (data, aside)
}

/// An item that no template names, with so much of it in a bin.
pub async fn item(shop: &Shop, key: &str, millilitres: i64) {
    let (item, name, unit) = (key.to_owned(), format!("Blue stuff {key}"), "mL".to_owned());
    shop.lead.add_item(v1::AddItemRequest { write: Some(new_write()), item, name, unit, fluid: None }).await.unwrap();
    let delivery = v1::ReceiveStockRequest {
        write: Some(new_write()),
        item: key.into(),
        place: "bin-d1".into(),
        quantity: millilitres,
        expires_on: String::new(),
    };
    shop.lead.receive_stock(delivery).await.unwrap();
}

/// A job without a template of whose 8.2 L of coolant 6.1 came out.
pub async fn drained(shop: &Shop) -> i64 {
    let job = shop.blank_job(&["fill"]).await;
    let (write, fluid) = (Some(new_write()), "coolant".to_owned());
    let drained_ml = 6_100;
    let asked = v1::RecordFluidRequest { write, job, fluid, drained_ml, unlisted: true, ..Default::default() };
    shop.lead.record_fluid(asked).await.unwrap();
    job
}

pub async fn reserve(shop: &Shop, job: i64, item: &str, target: &str, more: &[&str]) -> (String, String) {
    let job = job.to_string();
    let line = ["reckon", "--brief", "fill", "--job", &job, "--capacity", "8.2L", "--left-strength", "0%"];
    let rest = ["--target", target, "--reserve", item, "--stage", "fill"];
    said(shop, 0, &[&line[..], &rest, more].concat()).await
}

/// What goes in by the step, as it was reckoned.
fn recipe(step: &v1::Step) -> &str {
    step.fill.as_ref().map_or("", |fill| fill.recipe.as_str())
}

/// The steps of a job that say what goes in as it was reckoned, whatever became of them.
pub async fn fills(shop: &Shop, job: i64) -> Vec<v1::Step> {
    let steps = shop.whole_job(job).await.stages.into_iter().flat_map(|stage| stage.steps);
    steps.filter(|step| !recipe(step).is_empty()).collect()
}

fn needs(step: &v1::Step) -> Vec<(&str, i64, i64)> {
    step.needs.iter().map(|need| (need.item.as_str(), need.quantity, need.reserved)).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn oil_is_poured_in_as_it_is_and_out_of_its_own_item() {
    let shop = Shop::open().await;
    let job = shop.job("head-gasket-20", "silver coupe").await;
    shop.fluid(job, "oil", 4_500, 0).await;
    shop.fluid(job, "coolant", 5_500, 0).await;
    let oil = ["reckon", "fill", "--job", "1", "--fluid", "oil"];
    let (data, _) = said(&shop, 0, &oil).await;
    assert!(data.starts_with("Pour in: 4.50 L\n") && !data.contains("Water") && !data.contains("Freezing"), "{data}");
    assert!(data.contains("\nformula ") && data.contains("\nsource ") && data.contains("\nCAUTION "), "{data}");
    for mixture in [&["--target", "50%", "--left-strength", "0%"][..], &["--target", "-30C"], &["--poured", "50%"]] {
        let (data, aside) = said(&shop, 1, &[&oil[..], mixture].concat()).await;
        assert!(data.is_empty() && aside.contains("oil is no coolant and never mixed with water"), "{aside}");
    }
    let head = shop.head().await;
    let into_oil = |item: &'static str| [&oil[..], &["--reserve", item, "--stage", "fill"]].concat();
    for (item, why) in [
        (
            "coolant-concentrate",
            "coolant-concentrate (Coolant concentrate on ethylene glycol) is no engine oil by its name",
        ),
        ("brake-fluid", "is no engine oil by its name"),
        ("tracer-dye", "is no engine oil by its name"),
    ] {
        assert!(said(&shop, 1, &into_oil(item)).await.1.contains(why), "{item}");
    }
    let coolant = ["reckon", "fill", "--job", "1", "--left-strength", "0%", "--target", "50%"];
    let wrong = [&coolant[..], &["--reserve", "brake-fluid", "--stage", "fill"]].concat();
    assert!(said(&shop, 1, &wrong).await.1.contains("brake-fluid"), "it is no coolant");
    assert_eq!(shop.head().await, head, "nothing is kept of what was refused");
    // The template's step asks for all of it.
    let (_, aside) = said(&shop, 0, &into_oil("engine-oil-5w30")).await;
    assert!(aside.contains("4.5 L of engine-oil-5w30 are set aside for job 1: 4.5 L for step "), "{aside}");
    assert!(aside.contains("from tank-1") && !aside.contains("more than is needed"), "{aside}");
    let [oil] = &fills(&shop, job).await[..] else { panic!("the template's own step says it") };
    assert!(!oil.unplanned && recipe(oil) == "4.50 L, from 4.5 L of engine-oil-5w30", "{oil:?}");
    shop.verified().await;
}

/// By ASHRAE's table -15 °C needs 29.0 % and -36 °C 49.2 % by volume, of 8.2 L.
#[tokio::test(flavor = "multi_thread")]
async fn another_target_replaces_what_the_job_says() {
    let shop = Shop::open().await;
    item(&shop, "walk-f", 20_000).await;
    let job = drained(&shop).await;
    let pure = ["--pack", "5L", "--poured", "100%"];
    let number = job.to_string();
    let unsaid =
        ["reckon", "fill", "--job", &number, "--capacity", "8.2L", "--left-strength", "0%", "--target", "-15C"];
    let (_, aside) = said(&shop, 1, &[&unsaid[..], &["--reserve", "walk-f", "--stage", "fill"]].concat()).await;
    assert!(plain(&aside).contains("nobody says how strong walk-f is"), "{aside}");
    let (data, aside) = reserve(&shop, job, "walk-f", "-15C", &pure).await;
    assert!(data.contains("Make sure that walk-f is coolant"), "{data}");
    assert!(
        aside.contains("5 L of walk-f are set aside for job 1: 5 L for step 1 of fill (5 L from bin-d1)"),
        "{aside}"
    );
    let [first] = &fills(&shop, job).await[..] else { panic!("one step says it") };
    assert_eq!(recipe(first), "2.38 L at 100 % with 3.72 L of water, from 5 L of walk-f", "{first:?}");
    let (_, aside) = reserve(&shop, job, "walk-f", "-36C", &pure).await;
    assert!(aside.contains("step 1 of fill says it now, in the place of what it said before"), "{aside}");
    let [second] = &fills(&shop, job).await[..] else { panic!("one step says it") };
    assert_eq!(recipe(second), "4.03 L at 100 % with 2.07 L of water, from 5 L of walk-f", "{second:?}");
    assert_eq!((second.step, second.state()), (1, v1::StepState::Pending), "nothing is left out");
    assert_eq!(needs(second), [("walk-f", 5_000, 5_000)]);
    // The same again is the same.
    let head = shop.head().await;
    let (_, aside) = reserve(&shop, job, "walk-f", "-36C", &pure).await;
    assert!(aside.contains("that was so already") && shop.head().await == head, "{aside}");
    // What was drawn from stock is not taken back by a word.
    let issue = v1::IssueStockRequest { write: Some(new_write()), job, ..Default::default() };
    shop.lead.issue_stock(issue).await.unwrap();
    let job = job.to_string();
    let line = ["reckon", "fill", "--job", &job, "--capacity", "8.2L", "--left-strength", "0%", "--target", "-20C"];
    let (_, aside) =
        said(&shop, 1, &[&line[..], &["--reserve", "walk-f", "--stage", "fill", "--poured", "100%"]].concat()).await;
    assert!(aside.contains("was drawn from stock already") && aside.contains("stock return"), "{aside}");
    shop.verified().await;
}

/// 50 % of 8.2 L are 4.1 L of concentrate.
#[tokio::test(flavor = "multi_thread")]
async fn two_items_fill_one_fluid_once() {
    let shop = Shop::open().await;
    item(&shop, "walk-a", 7_000).await;
    item(&shop, "walk-b", 9_000).await;
    for item in ["walk-a", "walk-b"] {
        said(&shop, 0, &["item", "fluid", item, "coolant", "--strength", "100%"]).await;
    }
    let job = drained(&shop).await;
    reserve(&shop, job, "walk-a", "50%", &[]).await;
    let (_, aside) = reserve(&shop, job, "walk-b", "50%", &["--pack", "1L"]).await;
    assert!(aside.contains("4.1 L of walk-a are set aside for it already, so nothing of walk-b is"), "{aside}");
    let [only] = &fills(&shop, job).await[..] else { panic!("one step says it") };
    assert_eq!(needs(only), [("walk-a", 4_100, 4_100)]);
    // Of what is short the rest may come from another item, in the same step.
    let other = drained(&shop).await;
    let (_, aside) = reserve(&shop, other, "walk-a", "50%", &[]).await;
    assert!(aside.contains("4.1 L of walk-a are needed, and 1.2 L are SHORT"), "{aside}");
    let (_, aside) = reserve(&shop, other, "walk-b", "50%", &[]).await;
    assert!(aside.contains("1.2 L of walk-b are set aside for job 2: 1.2 L for step 1 of fill"), "{aside}");
    let [both] = &fills(&shop, other).await[..] else { panic!("one step says it") };
    assert_eq!(needs(both), [("walk-a", 2_900, 2_900), ("walk-b", 1_200, 1_200)]);
    assert!(recipe(both).ends_with("from 2.9 L of walk-a and 1.2 L of walk-b"), "{both:?}");
    shop.verified().await;
}

/// Promise 2: the answer may have been lost, and the books have moved on when the request comes again.
#[tokio::test(flavor = "multi_thread")]
async fn a_repeat_gets_its_first_answer_though_the_books_moved_on() {
    let shop = Shop::open().await;
    item(&shop, "walk-a", 7_000).await;
    let job = drained(&shop).await;
    let write = Some(new_write());
    let asked = |target: &str| v1::ReserveFillRequest {
        write: write.clone(),
        job,
        fluid: "coolant".into(),
        item: "walk-a".into(),
        stage: "fill".into(),
        capacity: "8.2L".into(),
        left_strength: "0%".into(),
        target: target.into(),
        poured_strength: "100%".into(),
        ..Default::default()
    };
    let first = shop.lead.reserve_fill(asked("50%")).await.unwrap();
    let more = v1::RecordFluidRequest {
        write: Some(new_write()),
        job,
        fluid: "coolant".into(),
        drained_ml: 500,
        ..Default::default()
    };
    shop.lead.record_fluid(more.clone()).await.unwrap();
    let again = shop.lead.reserve_fill(asked("50%")).await.unwrap();
    let number = |answer: &v1::ReserveFillResponse| answer.receipt.as_ref().map(|receipt| receipt.number);
    assert_eq!((number(&again), again.shares), (number(&first), first.shares.clone()));
    let other = shop.lead.reserve_fill(asked("45%")).await.unwrap_err();
    assert_eq!(other.reason, "REQUEST_ID_REUSED", "{other}");
    // It is in: nothing can be reckoned any more, and who asks for the first time is told so.
    let full = v1::RecordFluidRequest { drained_ml: 0, filled_ml: 6_600, write: Some(new_write()), ..more };
    shop.lead.record_fluid(full).await.unwrap();
    let anew = v1::ReserveFillRequest { write: Some(new_write()), ..asked("50%") };
    let refused = shop.lead.reserve_fill(anew).await.unwrap_err();
    assert!(refused.message.contains("coolant"), "{refused}");
    let last = shop.lead.reserve_fill(asked("50%")).await.unwrap();
    assert_eq!((number(&last), last.answer), (number(&first), None));
}

/// What is left in is not taken for water only because somebody measured how much it is.
#[tokio::test(flavor = "multi_thread")]
async fn at_a_job_nothing_is_taken_for_water() {
    let shop = Shop::open().await;
    let job = shop.job("head-gasket-20", "silver coupe").await;
    let empty = shop.blank_job(&["fill"]).await.to_string();
    shop.fluid(job, "coolant", 5_500, 0).await;
    let line = ["reckon", "fill", "--job", "1", "--target", "50%"];
    for more in [&[][..], &["--left", "2L"], &["--left", "2L", "--capacity", "8L"]] {
        let (_, aside) = said(&shop, 1, &[&line[..], more].concat()).await;
        assert!(aside.contains("nobody says how strong"), "{more:?}: {aside}");
    }
    said(&shop, 0, &[&line[..], &["--left", "2L", "--left-strength", "0%"]].concat()).await;
    let (_, aside) = said(&shop, 1, &["reckon", "fill", "--job", &empty, "--target", "50%"]).await;
    assert!(aside.contains("has no fluid in its books") && !aside.contains("known are"), "{aside}");
    let (_, aside) = said(&shop, 1, &["reckon", "fill", "--capacity", "7L", "--left", "0L", "--target", "-30"]).await;
    assert!(aside.contains("is no strength or freezing point") && aside.contains("50 % or -30 °C"), "{aside}");
    shop.verified().await;
}

/// The text of a page without its line breaks.
pub fn plain(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// 30 % of 8.2 L are 2.46 L, which 4.92 L of what is mixed to 50 % have in them: arithmetic.
#[tokio::test(flavor = "multi_thread")]
async fn an_item_says_how_strong_it_is_and_another_strength_is_no_part_of_its_fill() {
    let shop = Shop::open().await;
    item(&shop, "ready", 4_000).await;
    item(&shop, "conc", 9_000).await;
    let of = |item: &'static str, strength: &'static str| ["item", "fluid", item, "coolant", "--strength", strength];
    assert!(said(&shop, 0, &of("ready", "50%")).await.1.contains("item ready is coolant of 50%"));
    said(&shop, 0, &of("conc", "100 %")).await;
    assert!(said(&shop, 1, &of("conc", "100%")).await.1.contains("is said to be pure coolant concentrate already"));
    assert!(said(&shop, 1, &of("conc", "120%")).await.1.contains("strength"));
    let oil = ["item", "add", "grease-oil", "--unit", "mL", "--fluid", "oil"];
    assert!(
        said(&shop, 1, &[&oil[..], &["--strength", "50%"]].concat()).await.1.contains("a strength is of a coolant")
    );
    said(&shop, 0, &oil).await;
    assert!(said(&shop, 2, &["item", "fluid", "conc", "none", "--strength", "5%"]).await.1.contains("of a coolant"));
    let listed = said(&shop, 0, &["stock", "list", "--output", "json"]).await.0;
    assert!(listed.contains("\"kind\": \"oil\"") && listed.contains("50 %"), "{listed}");
    let job = drained(&shop).await;
    let (data, aside) = reserve(&shop, job, "ready", "30%", &[]).await;
    assert!(!data.contains("Make sure") || data.contains("no book says so"), "{data}");
    assert!(aside.contains("4.92 L of ready are needed, and 920 mL are SHORT"), "{aside}");
    let [step] = &fills(&shop, job).await[..] else { panic!("one step says it") };
    assert_eq!(recipe(step), "4.92 L at 50 % with 1.18 L of water, from 4.92 L of ready");
    let head = shop.head().await;
    let job = job.to_string();
    let line = ["reckon", "fill", "--job", &job, "--capacity", "8.2L", "--left-strength", "0%", "--target", "30%"];
    for (more, why) in [
        (
            &["--reserve", "ready", "--poured", "100%"][..],
            "ready is 50 % by volume, as it says itself, and 100 % was given",
        ),
        (
            &["--reserve", "conc"][..],
            "4 L of ready is set aside or drawn for it at 50 %, and 'conc' is reckoned at 100 %",
        ),
    ] {
        let (_, aside) = said(&shop, 1, &[&line[..], more].concat()).await;
        assert!(plain(&aside).contains(why), "{aside}");
    }
    assert_eq!(shop.head().await, head, "nothing is kept of what was refused");
    shop.verified().await;
}

/// Half of 7 L are 3.5 L of concentrate; with the 1.5 L of water that stayed in, 2 L of water go with it: arithmetic.
#[tokio::test(flavor = "multi_thread")]
async fn what_the_template_asks_for_of_the_fluid_gives_way_with_its_water() {
    let shop = Shop::open().await;
    item(&shop, "walk-b", 9_000).await;
    let job = shop.job("head-gasket-20", "silver coupe").await;
    shop.fluid(job, "coolant", 5_500, 0).await;
    let line = ["reckon", "fill", "--job", "1", "--left-strength", "0%", "--target", "50%", "--reserve", "walk-b"];
    let (_, aside) = said(&shop, 1, &line).await;
    assert!(
        plain(&aside).contains("say which fluid coolant-concentrate and walk-b is (`leadhand item fluid`)"),
        "{aside}"
    );
    assert!(!aside.contains("step skip"), "{aside}");
    for item in ["coolant-concentrate", "walk-b"] {
        said(&shop, 0, &["item", "fluid", item, "coolant", "--strength", "100%"]).await;
    }
    said(&shop, 0, &["item", "fluid", "distilled-water", "water"]).await;
    let (data, _) = said(&shop, 0, &line).await;
    assert!(plain(&data).contains("asks for coolant-concentrate, and walk-b goes in in its place"), "{data}");
    let [step] = &fills(&shop, job).await[..] else { panic!("one step says it") };
    assert_eq!(needs(step), [("walk-b", 3_500, 3_500), ("distilled-water", 2_000, 2_000)]);
    shop.verified().await;
}

/// By ASHRAE's table 50 % by volume stay liquid down to -36.8 °C, which is -36 °C to the warmer side.
#[tokio::test(flavor = "multi_thread")]
async fn a_fill_that_is_done_is_told_on_the_sheet_and_asked_for_at_the_hand_over() {
    let shop = Shop::open().await;
    item(&shop, "walk-a", 9_000).await;
    let job = drained(&shop).await;
    reserve(&shop, job, "walk-a", "50%", &["--poured", "100%"]).await;
    shop.assign(job, "floor-1").await.unwrap();
    let number = job.to_string();
    said(&shop, 0, &["stage", "start", &number, "fill"]).await;
    said(&shop, 0, &["fluid", "in", &number, "coolant", "6.1L"]).await;
    let lines = async || {
        let found = shop.lead.check_hand_over(v1::CheckHandOverRequest { job }).await.unwrap().lines;
        found.into_iter().map(|line| format!("{}: {}", line.line, line.text)).collect::<Vec<_>>().join("; ")
    };
    assert!(!lines().await.contains("not-drawn"), "it is not done yet");
    said(&shop, 0, &["step", "done", &number, "fill", "1"]).await;
    assert!(lines().await.contains("not-drawn:walk-a"), "{}", lines().await);
    assert!(lines().await.contains("its fill is done and takes 4.1 L, and 0 mL were taken from stock"));
    let sheet = shop.lead.get_hand_over_sheet(v1::GetHandOverSheetRequest { job }).await.unwrap();
    // -37.1 °C for 50 % by volume (CoolProp 8.0, AEG).
    assert_eq!(sheet.fluids[0].mixed, "50 % by volume, liquid down to -37 °C");
    assert!(
        sheet
            .open
            .iter()
            .any(|line| line.text
                == "Blue stuff walk-a: its fill is done and takes 4.1 L, and 0 mL were taken from stock"),
        "{sheet:#?}"
    );
    let page = said(&shop, 0, &["job", "sheet", &number]).await.0;
    assert!(plain(&page).contains("reckoned to 50 % by volume, liquid down to -37 °C"), "{page}");
    let again = ["reckon", "fill", "--job", &number, "--capacity", "8.2L", "--left", "2L", "--left-strength", "0%"];
    let (_, aside) =
        said(&shop, 1, &[&again[..], &["--target", "30%", "--reserve", "walk-a", "--poured", "100%"]].concat()).await;
    assert!(plain(&aside).contains("step 1 of stage 'fill' fills 'coolant' and is done already"), "{aside}");
    said(&shop, 0, &["stock", "issue", &number]).await;
    assert!(!lines().await.contains("not-drawn"), "it was given out now");
    // Of what was topped up otherwise nobody knows the strength.
    said(&shop, 0, &["fluid", "in", &number, "coolant", "1L"]).await;
    let sheet = shop.lead.get_hand_over_sheet(v1::GetHandOverSheetRequest { job }).await.unwrap();
    assert_eq!(sheet.fluids[0].mixed, "");
    shop.verified().await;
}

/// All of it is in: what was set aside is given up, and a repeat gets the first answer with its receipt.
#[tokio::test(flavor = "multi_thread")]
async fn nothing_to_pour_gives_up_what_was_set_aside_and_has_a_receipt() {
    let shop = Shop::open().await;
    let job = shop.job("head-gasket-20", "silver coupe").await;
    shop.fluid(job, "oil", 4_500, 0).await;
    let line = ["reckon", "fill", "--job", "1", "--fluid", "oil", "--reserve", "engine-oil-5w30"];
    said(&shop, 0, &line).await;
    shop.fluid(job, "oil", 0, 4_500).await;
    let asked = v1::ReserveFillRequest {
        write: Some(new_write()),
        job,
        fluid: "oil".into(),
        item: "engine-oil-5w30".into(),
        ..Default::default()
    };
    let first = shop.lead.reserve_fill(asked.clone()).await.unwrap();
    let number = |answer: &v1::ReserveFillResponse| answer.receipt.as_ref().map(|receipt| receipt.number);
    assert!(number(&first).is_some() && first.changed && first.shares.is_empty(), "{first:?}");
    let again = shop.lead.reserve_fill(asked).await.unwrap();
    assert_eq!((number(&again), again.changed), (number(&first), true));
    let [step] = &fills(&shop, job).await[..] else { panic!("one step says it") };
    assert!(needs(step).iter().all(|(item, ..)| *item != "engine-oil-5w30"), "{step:?}");
    assert_eq!(recipe(step), "nothing goes in");
    let (_, aside) = said(&shop, 0, &line).await;
    assert!(aside.contains("nothing goes in, so nothing is set aside for it on job 1"), "{aside}");
    shop.verified().await;
}
