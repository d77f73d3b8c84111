//! Any sequence of stock commands keeps the laws of the auditor, which shares no code with the
//! rules: after every command, and cell by cell (promises 3 and 10).

mod stock_kit;

use leadhand_domain::command::*;
use leadhand_facts::*;
use proptest::prelude::*;
use stock_kit::*;

const ITEMS: [&str; 2] = ["gasket", "seal"];
const BINS: [&str; 2] = ["a", "b"];

#[derive(Debug, Clone)]
enum Act {
    Receive { item: usize, bin: usize, quantity: i64, days: Option<i32> },
    Reserve { job: i64, stage: bool },
    Issue { job: i64, item: usize, quantity: Option<i64> },
    Return { job: i64, item: usize, quantity: i64, bin: usize },
    Release { job: i64, item: Option<usize> },
    Count { item: usize, bin: usize, counted: i64 },
    Scrap { item: usize, bin: usize, quantity: i64 },
    Tick { job: i64, step: i32 },
    Skip { job: i64, step: i32 },
    Promise { job: i64, priority: i32 },
    Cancel { job: i64 },
    Days { days: i64 },
}

fn act() -> impl Strategy<Value = Act> {
    let (item, bin, job, few) = (0..2_usize, 0..2_usize, 1..4_i64, 1..6_i64);
    prop_oneof![
        4 => (item.clone(), bin.clone(), few.clone(), proptest::option::of(0..4_i32))
            .prop_map(|(item, bin, quantity, days)| Act::Receive { item, bin, quantity, days }),
        4 => (job.clone(), any::<bool>()).prop_map(|(job, stage)| Act::Reserve { job, stage }),
        3 => (job.clone(), item.clone(), proptest::option::of(few.clone()))
            .prop_map(|(job, item, quantity)| Act::Issue { job, item, quantity }),
        2 => (job.clone(), item.clone(), few.clone(), bin.clone())
            .prop_map(|(job, item, quantity, bin)| Act::Return { job, item, quantity, bin }),
        2 => (job.clone(), proptest::option::of(item.clone())).prop_map(|(job, item)| Act::Release { job, item }),
        3 => (item.clone(), bin.clone(), 0..8_i64).prop_map(|(item, bin, counted)| Act::Count { item, bin, counted }),
        2 => (item, bin, few).prop_map(|(item, bin, quantity)| Act::Scrap { item, bin, quantity }),
        1 => (job.clone(), 1..3_i32).prop_map(|(job, step)| Act::Tick { job, step }),
        1 => (job.clone(), 1..3_i32).prop_map(|(job, step)| Act::Skip { job, step }),
        1 => (job.clone(), 1..5_i32).prop_map(|(job, priority)| Act::Promise { job, priority }),
        1 => job.prop_map(|job| Act::Cancel { job }),
        1 => (1..3_i64).prop_map(|days| Act::Days { days }),
    ]
}

fn command(shop: &mut Shop, act: &Act) -> Command {
    let stage = || StageKey::from("one");
    match *act {
        Act::Receive { item, bin, quantity, days } => {
            let today = jiff::tz::TimeZone::UTC.to_datetime(shop.now.timestamp().expect("a near year")).date();
            let day = days.map(|days| today.saturating_add(jiff::Span::new().days(days)).to_string());
            receive(ITEMS[item], BINS[bin], quantity, day.as_deref()).into()
        }
        Act::Reserve { job, stage: only } => ReserveStock { job: JobNo(job), stage: only.then(stage) }.into(),
        Act::Issue { job, item, quantity: Some(quantity) } => issue(JobNo(job), ITEMS[item], quantity).into(),
        Act::Issue { job, item, quantity: None } => {
            IssueStock { job: JobNo(job), stage: None, item: Some(ITEMS[item].into()), quantity: None }.into()
        }
        Act::Return { job, item, quantity, bin } => take_back(JobNo(job), ITEMS[item], quantity, BINS[bin]).into(),
        Act::Release { job, item } => {
            ReleaseStock { job: JobNo(job), stage: None, item: item.map(|item| ITEMS[item].into()) }.into()
        }
        Act::Count { item, bin, counted } => count(ITEMS[item], BINS[bin], counted).into(),
        Act::Scrap { item, bin, quantity } => scrap(ITEMS[item], BINS[bin], quantity).into(),
        Act::Tick { job, step } => TickSteps { job: JobNo(job), stage: stage(), steps: vec![StepNo(step)] }.into(),
        Act::Skip { job, step } => {
            SkipStep { job: JobNo(job), stage: stage(), step: StepNo(step), reason: "no".into() }.into()
        }
        Act::Promise { job, priority } => {
            let (job, priority) = (JobNo(job), Some(priority));
            PromiseJob { job, priority, promised_at: None, withdraw_promise: false }.into()
        }
        Act::Cancel { job } => CancelJob { job: JobNo(job), reason: "called off".into() }.into(),
        Act::Days { days } => {
            shop.now = shop.now.plus_minutes(days * 24 * 60);
            Tick {}.into()
        }
    }
}

/// Nothing lies free while somebody is short of it.
fn nobody_is_short_beside_free_stock(shop: &Shop) {
    for item in ITEMS {
        let free: i64 =
            BINS.iter().map(|bin| shop.hold(item, bin)).map(|(on, expired, reserved)| on - expired - reserved).sum();
        let open = shop.state.shortages.iter().filter(|row| row.item.as_str() == item);
        let short: i64 = open.map(|row| row.quantity.0).sum();
        assert!(free == 0 || short == 0, "{free} of '{item}' are free and {short} are short");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_laws_hold_after_every_command(acts in proptest::collection::vec(act(), 1..40)) {
        let mut shop = Shop::open("UTC", "2026-03-02T08:00:00Z");
        for item in ITEMS {
            shop.item(item);
        }
        for bin in BINS {
            shop.bin(bin);
        }
        shop.job(3, &[("one", &[("gasket", 2), ("seal", 3)]), ("two", &[("gasket", 2)])]);
        shop.job(2, &[("one", &[("gasket", 4), ("gasket", 1)])]);
        shop.job(3, &[("one", &[("seal", 1), ("gasket", 3)]), ("two", &[("seal", 2)])]);
        for act in &acts {
            let command = command(&mut shop, act);
            if let Err(refusal) = shop.run(&command) {
                prop_assert_ne!(refusal.reason(), "DEFECT", "{:?}: {}", command, refusal);
            }
            nobody_is_short_beside_free_stock(&shop);
        }
    }
}
