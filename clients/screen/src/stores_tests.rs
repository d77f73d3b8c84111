use super::*;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{Bay, BoardBay, Holder};

fn shortage(job: i64, item: &str, quantity: i64, holds_up: bool) -> Shortage {
    Shortage {
        job,
        item: item.into(),
        quantity,
        unit: "1".into(),
        holds_up,
        stage: "fit".into(),
        step: 2,
        ..Shortage::default()
    }
}

fn board() -> Board {
    let job = |job: i64, label: &str| BoardJob { job, vehicle_label: label.into(), ..BoardJob::default() };
    Board {
        bays: vec![BoardBay {
            bay: Some(Bay { bay: "lift-1".into(), ..Bay::default() }),
            job: Some(job(1, "green estate")),
        }],
        outside: vec![job(2, "blue saloon")],
        ..Board::default()
    }
}

#[test]
fn shortages_are_told_by_item_and_first_what_holds_somebody_up() {
    let (texts, zone) = (Texts::of("en-GB"), TimeZone::UTC);
    let look = Look { texts: &texts, zone: &zone, now: Timestamp::UNIX_EPOCH };
    let mut second = shortage(1, "ring", 3, true);
    second.held_by = vec![Holder { job: 9, quantity: 3 }];
    let all = [shortage(2, "plug", 1, false), shortage(2, "ring", 2, false), second];
    let told = short(&all, &board(), look);
    let items: Vec<(&str, &str, usize)> =
        told.iter().map(|one| (one.item.as_str(), one.total.as_str(), one.hurts.len())).collect();
    assert_eq!(items, [("ring", "5", 2), ("plug", "1", 1)]);
    assert!(told[0].hurts[0].place.contains("Outside · blue saloon"), "{}", told[0].hurts[0].place);
    assert!(told[0].hurts[1].place.starts_with("lift-1 · green estate"), "{}", told[0].hurts[1].place);
    assert!(told[0].hurts[1].now && told[0].hurts[1].held_by.contains("job 9"), "{}", told[0].hurts[1].held_by);
}

#[test]
fn a_scanned_code_is_read_as_it_is_kept() {
    assert_eq!(code_of(" HG-Set-20\r\n"), "hg-set-20");
}

#[test]
fn an_item_is_found_by_words_of_its_name_or_its_code() {
    let item = ItemStock { item: "intake-gasket-20".into(), name: "Intake gasket, 2.0".into(), ..ItemStock::default() };
    for words in ["gasket", "intake 2.0", "20 gasket", "ket-2"] {
        assert!(is_called(&item, words), "{words}");
    }
    for words in ["exhaust gasket", "2.1", "intakes"] {
        assert!(!is_called(&item, words), "{words}");
    }
}

#[test]
fn only_what_a_job_has_got_can_come_back() {
    let item = |issued| ReadyItem { item: "ring".into(), unit: "1".into(), issued, ..ReadyItem::default() };
    assert!(got(&item(0), 1, "lift-1").is_none());
    let line = got(&item(2), 1, "lift-1").unwrap();
    assert_eq!((line.what.as_str(), line.quantity.as_str(), line.job), ("2 ring", "2", 1));
}

#[test]
fn what_is_short_says_from_whom_to_order_it_and_until_when() {
    let (texts, zone) = (Texts::of("en-GB"), TimeZone::UTC);
    let look = Look { texts: &texts, zone: &zone, now: Timestamp::UNIX_EPOCH };
    let at = |seconds| Some(WireTimestamp { seconds, nanos: 0 });
    let order = SupplierOrder {
        name: "Gasket works".into(),
        order_by: at(37_800),
        here_at: at(50_400),
        today: true,
        minutes_left: 25,
        ..SupplierOrder::default()
    };
    let told = |order: SupplierOrder| {
        let one = Shortage { order: Some(order), ..shortage(1, "ring", 1, false) };
        short(&[one], &board(), look).remove(0).order
    };
    assert_eq!(told(order.clone()), "order from Gasket works by 10:30, in 25 min; here 14:00");
    let over = SupplierOrder { today: false, passed_today: true, ..order.clone() };
    assert!(told(over).starts_with("Gasket works: today's cut-off has passed; next by "));
    assert_eq!(told(SupplierOrder { order_by: None, ..order }), "order from Gasket works");
    assert_eq!(short(&[shortage(1, "ring", 1, false)], &board(), look)[0].order, "", "nobody in particular");
}
