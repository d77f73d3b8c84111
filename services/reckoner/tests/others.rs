//! Lifting, wheels, the plain formulas, and common practice.

mod kit;

use kit::{near, num, read, refused, rows, shown, value, whole};
use leadhand_reckoner::answer::Standing;
use leadhand_reckoner::formulas::{EarnedValue, OrderQuantity, Pert, ReorderPoint, ThreePoints, below, quantile};
use leadhand_reckoner::lifting::{Circumstance, Grip, Lasting, Lift};
use leadhand_reckoner::practice::{BatteryLeads, BladeFuse, RoundedHead};
use leadhand_reckoner::wheels::{Recheck, RunOut, Star};
use leadhand_reckoner::{Amount, Answer, Kind};
use proptest::prelude::*;

fn inches(value: f64) -> Amount {
    read(Kind::Length, &format!("{value} in"))
}

fn lift(load_lb: f64, reach: f64, from: f64, to: f64) -> Lift {
    Lift {
        load: read(Kind::Mass, &format!("{load_lb} lb")),
        reach: inches(reach),
        from: inches(from),
        to: inches(to),
        reach_at_end: None,
        twist: None,
        grip: Grip::Good,
        per_minute: None,
        lasting: Lasting::Hour,
        circumstances: Vec::new(),
    }
}

fn says(answer: &Answer, part: &str) -> bool {
    answer.conclusions.iter().any(|conclusion| conclusion.text.contains(part))
}

const KG: f64 = 0.453_592_37;

/// NIOSH 94-110, example 4, read in a copy: 34.9 and 15.2 lb are printed, from rounded multipliers. The load and the
/// far reach are from memory.
#[test]
fn the_limit_is_the_published_one() {
    let table = rows(include_str!("vectors/niosh_lifting.csv"));
    let asked = Lift {
        reach_at_end: Some(inches(num(table[1][1]))),
        grip: Grip::Fair,
        per_minute: Some(read(Kind::Number, "3")),
        ..lift(26.0, num(table[0][1]), num(table[0][2]), num(table[1][2]))
    };
    let answer = asked.reckon().expect("reckons");
    whole(&answer);
    near("begin", value(&answer, "limit_begin") / KG, num(table[0][11]), 1e-9);
    near("end", value(&answer, "limit_end") / KG, num(table[1][11]), 1e-9);
    near("printed", value(&answer, "limit_begin") / KG, 34.9, 5e-3);
    near("printed", value(&answer, "limit_end") / KG, 15.2, 5e-3);
    near("index", value(&answer, "index"), num(table[1][14]), 1e-9);
    assert!(says(&answer, "two people as well: a hoist"), "1.70: {answer:#?}");
}

/// The best lift of all has every multiplier at one: 51 lb. Two people: two thirds of both, common practice.
#[test]
fn one_person_two_or_a_hoist() {
    let best = lift(51.0, 10.0, 30.0, 30.0).reckon().expect("reckons");
    near("51 lb", value(&best, "limit") / KG, 51.0, 1e-12);
    assert_eq!(shown(&best, "limit"), "23.1 kg", "rounded down");
    assert!(says(&lift(50.9, 10.0, 30.0, 30.0).reckon().expect("reckons"), "one person"));
    assert!(says(&lift(60.0, 10.0, 30.0, 30.0).reckon().expect("reckons"), "two people, or a hoist"));
    assert!(says(&lift(70.0, 10.0, 30.0, 30.0).reckon().expect("reckons"), "a hoist"));
    assert!(best.cautions.iter().any(|caution| caution.text.contains("under a hoist")));
}

#[test]
fn nothing_is_said_outside_of_the_equation() {
    for circumstance in [
        Circumstance::OneHanded,
        Circumstance::SeatedOrKneeling,
        Circumstance::Cramped,
        Circumstance::Unstable,
        Circumstance::PushedOrPulled,
        Circumstance::FastMovement,
        Circumstance::SlipperyFloor,
        Circumstance::HotOrCold,
        Circumstance::LongerThanEightHours,
    ] {
        let asked = Lift { circumstances: vec![circumstance], ..lift(10.0, 10.0, 30.0, 40.0) };
        refused(asked.reckon(), "NOT_COVERED", "use a hoist");
    }
    refused(lift(10.0, 25.1, 30.0, 40.0).reckon(), "OUT_OF_RANGE", "reach");
    refused(lift(10.0, 10.0, 71.0, 40.0).reckon(), "OUT_OF_RANGE", "height where it begins");
    refused(lift(10.0, 10.0, 30.0, 71.0).reckon(), "OUT_OF_RANGE", "height where it ends");
    refused(
        Lift { twist: Some(read(Kind::Angle, "136°")), ..lift(10.0, 10.0, 30.0, 40.0) }.reckon(),
        "OUT_OF_RANGE",
        "twist",
    );
    let often = |times: f64, lasting| Lift {
        per_minute: Some(Amount::of(Kind::Number, times)),
        lasting,
        ..lift(10.0, 10.0, 20.0, 40.0)
    };
    refused(often(16.0, Lasting::Hour).reckon(), "NOT_COVERED", "lift less often");
    refused(often(9.0, Lasting::EightHours).reckon(), "NOT_COVERED", "lift less often");
    refused(
        Lift { load: read(Kind::Force, "100 N"), ..lift(1.0, 10.0, 30.0, 40.0) }.reckon(),
        "WRONG_UNIT",
        "it is a force",
    );
}

/// Common practice.
#[test]
fn wheel_nuts_are_tightened_in_a_star() {
    for (studs, order) in [
        (3, "1 2 3"),
        (4, "1 3 2 4"),
        (5, "1 3 5 2 4"),
        (6, "1 4 2 5 3 6"),
        (8, "1 5 3 7 2 6 4 8"),
        (10, "1 6 3 8 5 10 2 7 4 9"),
    ] {
        let answer = Star { studs }.reckon().expect("reckons");
        whole(&answer);
        assert_eq!(answer.list("tighten").expect("order").join(" "), order);
        // From which side they are counted is said: a wheel has two.
        let said = answer.conclusions.iter().any(|one| one.text.contains("clockwise from any of them, as you face"));
        assert!(said, "{answer:#?}");
    }
    for studs in [0, 1, 2, 13, u32::MAX] {
        refused(Star { studs }.reckon(), "OUT_OF_RANGE", "count the studs");
    }
    for studs in 3..=12 {
        let answer = Star { studs }.reckon().expect("reckons");
        let order: Vec<u32> =
            answer.list("tighten").expect("order").iter().map(|stud| stud.parse().expect("stud")).collect();
        let mut sorted = order.clone();
        sorted.sort_unstable();
        assert_eq!(sorted, (1..=studs).collect::<Vec<_>>(), "every stud once");
        if studs > 3 {
            let beside = order.windows(2).filter(|two| two[0].abs_diff(two[1]) % studs % (studs - 1) == 1);
            let most = if studs % 2 == 0 { studs / 2 } else { 0 };
            assert!(beside.count() <= usize::try_from(most).expect("small"), "{order:?}");
        }
        if studs % 2 == 0 {
            assert!(
                order.chunks(2).all(|two| two[0].abs_diff(two[1]) == studs / 2),
                "{order:?} is not in opposite pairs"
            );
        }
    }
}

/// 40 to 80 km: common practice.
#[test]
fn wheel_nuts_are_due_again_after_a_distance() {
    let asked = |after: Option<&str>| Recheck {
        fitted_at: read(Kind::Length, "84210 km"),
        after: after.map(|text| read(Kind::Length, text)),
    };
    let answer = asked(None).reckon().expect("reckons");
    whole(&answer);
    assert_eq!(shown(&answer, "due"), "84260 km");
    assert_eq!(answer.inputs[0].taken, "84210 km");
    assert_eq!(shown(&asked(Some("50 miles")).reckon().expect("reckons"), "due"), "84290 km");
    refused(asked(Some("5 m")).reckon(), "OUT_OF_RANGE", "after");
    // Many an odometer has a point before its thousands.
    let thousands = Recheck { fitted_at: read(Kind::Length, "84.210 km"), after: None };
    refused(thousands.reckon(), "UNREADABLE", "84.210 km");
    let tenths = Recheck { fitted_at: read(Kind::Length, "84210.5 km"), after: None };
    assert_eq!(shown(&tenths.reckon().expect("reckons"), "due"), "84260 km");
}

/// 0.05 to 0.10 mm on the hub: common practice.
#[test]
fn run_out_is_judged_and_the_hub_is_looked_at_first() {
    let asked = |measured: &str, limit: Option<&str>, hub: Option<&str>| {
        let length = |text: &str| read(Kind::Length, text);
        RunOut { measured: length(measured), limit: limit.map(length), hub: hub.map(length) }.reckon().expect("reckons")
    };
    whole(&asked("0,05 mm", None, None));
    assert!(says(&asked("0,05 mm", None, None), "within every usual limit"));
    assert!(says(&asked("0.08 mm", None, None), "maker's figure decides"));
    assert!(says(&asked("0.12 mm", None, None), "dirt under the disc"));
    assert!(says(&asked("0.08 mm", Some("0.07 mm"), Some("0.06 mm")), "the hub's"));
    assert!(!says(&asked("0.08 mm", Some("0.07 mm"), Some("0.01 mm")), "the hub's"));
    assert!(says(&asked("0.07 mm", Some("0.07 mm"), None), "within the limit"));
    let wrong = RunOut { measured: read(Kind::Length, "-1 mm"), limit: None, hub: None };
    refused(wrong.reckon(), "OUT_OF_RANGE", "measured");
}

/// scipy 1.17.1.
#[test]
fn the_normal_distribution_is_that_of_the_tables() {
    for row in rows(include_str!("vectors/normal_cdf.csv")) {
        near(row[0], below(num(row[0])), num(row[1]), 1e-9);
        near(row[0], below(-num(row[0])), 1.0 - num(row[1]), 1e-6);
    }
    for row in rows(include_str!("vectors/normal_z.csv")) {
        near(row[0], quantile(num(row[0])), num(row[1]), 1e-9);
        assert!((quantile(1.0 - num(row[0])) + num(row[1])).abs() < 1e-9);
    }
    assert!(quantile(1.5).is_nan() && quantile(0.0).is_nan() && quantile(f64::NAN).is_nan());
}

/// Networks: paths and sums as in `services/domain/tests/vectors`; chances with scipy.
#[test]
fn three_points_give_sum_spread_and_chance() {
    let activities = rows(include_str!("vectors/pert_activities.csv"));
    for total in rows(include_str!("vectors/pert_totals.csv")) {
        let path: Vec<&str> = total[1].split('-').collect();
        let tasks = activities.iter().filter(|row| row[0] == total[0] && path.contains(&row[1]));
        let tasks = tasks.map(|row| task(row[3], row[4], row[5]));
        let answer = Pert { tasks: tasks.collect(), due: Some(time(total[5])) }.reckon().expect("reckons");
        whole(&answer);
        near("expected", value(&answer, "expected"), num(total[2]), 1e-9);
        near("variance", value(&answer, "variance"), num(total[3]), 1e-9);
        near("chance", value(&answer, "chance"), num(total[7]) * 100.0, 1e-8);
    }
    let sure = |due| Pert { tasks: vec![task("5", "5", "5")], due: Some(time(due)) }.reckon().expect("reckons");
    near("certain", value(&sure("5"), "chance"), 100.0, 0.0);
    near("impossible", value(&sure("4.9"), "chance"), 0.0, 0.0);
    assert_eq!((shown(&sure("5"), "chance"), shown(&sure("4.9"), "chance")), ("100 %".to_owned(), "0 %".to_owned()));
    // Of 10 with a deviation of 1: below 12.576 lie 99.5 % of a normal distribution (tables), below 14 all but a few of 10 000.
    let spread = |due| Pert { tasks: vec![task("7", "10", "13")], due: Some(time(due)) }.reckon().expect("reckons");
    for (due, chance) in [("12.576", "99.5 %"), ("14", ">99.9 %"), ("60", ">99.9 %"), ("6", "<0.1 %"), ("10", "50 %")] {
        assert_eq!(shown(&spread(due), "chance"), chance, "by {due}");
    }
    let of = |task: ThreePoints, due: Option<&str>| Pert { tasks: vec![task], due: due.map(time) }.reckon();
    refused(of(task("5", "4", "6"), None), "CONTRADICTION", "in that order");
    refused(of(task("-1", "4", "6"), None), "OUT_OF_RANGE", "best of the 1st task");
    let endless = ThreePoints { likely: Amount::of(Kind::Number, f64::NAN), ..task("1", "2", "6") };
    refused(of(endless, None), "UNREADABLE", "likely of the 1st task");
    refused(Pert { tasks: Vec::new(), due: None }.reckon(), "CONTRADICTION", "0 tasks");
}

fn time(text: &str) -> Amount {
    Amount::read_time("test", text).unwrap_or_else(|refusal| panic!("{refusal}"))
}

fn task(best: &str, likely: &str, worst: &str) -> ThreePoints {
    ThreePoints { best: time(best), likely: time(likely), worst: time(worst) }
}

/// (30 + 4·45 + 90)/6 = 50 minutes: the formula above. 60 minutes are an hour.
#[test]
fn three_points_are_times_or_plain_numbers_and_never_both() {
    let asked = |task: ThreePoints, due: Option<&str>| Pert { tasks: vec![task], due: due.map(time) }.reckon();
    let answer = asked(task("30min", "45 min", "1.5h"), Some("1 h")).expect("reckons");
    whole(&answer);
    near("expected", value(&answer, "expected"), 50.0, 1e-12);
    assert_eq!(shown(&answer, "expected"), "50.0 min");
    assert_eq!(answer.inputs[0].typed, "30min, 45 min, 1.5h");
    let hours = asked(task("0,5h", "0.75 h", "1.5h"), None).expect("reckons");
    let beside = hours.beside(hours.figure("expected").expect("there")).expect("in hours as well");
    assert_eq!(beside.text(), "0.833 h");
    refused(asked(task("30 min", "45", "90"), None), "CONTRADICTION", "with their unit, or none");
    refused(asked(task("1", "2", "3"), Some("3 h")), "CONTRADICTION", "due: 3 h stands beside");
    for ambiguous in ["1 d", "2 days"] {
        let refusal = Amount::read_time("due", ambiguous).expect_err("which day").to_string();
        assert!(refusal.contains("write the hours"), "{refusal}");
    }
}

/// Formula; z from scipy.
#[test]
fn reorder_points_and_order_quantities() {
    for row in rows(include_str!("vectors/reorder_point.csv")) {
        let asked = ReorderPoint {
            demand: num(row[1]),
            demand_deviation: Some(num(row[2])),
            lead_time: num(row[3]),
            lead_time_deviation: Some(num(row[4])),
            service: num(row[5]) * 100.0,
        };
        let answer = asked.reckon().expect("reckons");
        whole(&answer);
        near("z", value(&answer, "z"), num(row[6]), 1e-9);
        near("safety", value(&answer, "safety_stock"), num(row[8]), 1e-9);
        near("point", value(&answer, "reorder_point"), num(row[9]), 1e-9);
        refused(ReorderPoint { service: 100.0, ..asked }.reckon(), "OUT_OF_RANGE", "always in stock");
        refused(ReorderPoint { service: f64::NAN, ..asked }.reckon(), "OUT_OF_RANGE", "service");
        refused(ReorderPoint { demand: -1.0, ..asked }.reckon(), "OUT_OF_RANGE", "demand");
    }
    let daily = ReorderPoint {
        demand: 5.0,
        demand_deviation: Some(2.0),
        lead_time: 3.0,
        lead_time_deviation: Some(0.0),
        service: 95.0,
    };
    let varies = |answer: &Answer| answer.conclusions.iter().any(|one| one.text.contains("was not said"));
    let whole_answer = daily.reckon().expect("reckons");
    assert_eq!(shown(&whole_answer, "reorder_point"), "21", "rounded up");
    assert!(!varies(&whole_answer));
    // What nobody said is told: with one deviation the point is too low, with none half of the cycles run out.
    let half = ReorderPoint { lead_time_deviation: None, ..daily }.reckon().expect("reckons");
    assert!(varies(&half) && shown(&half, "reorder_point") == "21");
    let none = ReorderPoint { demand_deviation: None, lead_time_deviation: None, ..daily }.reckon().expect("reckons");
    assert_eq!(shown(&none, "reorder_point"), "15", "5 a day for 3 days, and nothing kept back");
    assert!(none.conclusions.iter().any(|one| one.text.contains("half of the cycles run out")), "{none:#?}");
    let usual = none.inputs.iter().filter(|input| matches!(input.standing, Standing::Usual(_))).count();
    assert_eq!(usual, 2, "{none:#?}");
    for row in rows(include_str!("vectors/eoq.csv")) {
        let asked = OrderQuantity { demand: num(row[1]), order_cost: num(row[2]), holding_cost: num(row[3]) };
        let answer = asked.reckon().expect("reckons");
        whole(&answer);
        near("quantity", value(&answer, "quantity"), num(row[4]), 1e-9);
        near("orders", value(&answer, "orders"), num(row[5]), 1e-9);
        near("cost", value(&answer, "cost"), num(row[6]), 1e-9);
        refused(OrderQuantity { holding_cost: 0.0, ..asked }.reckon(), "OUT_OF_RANGE", "above 0");
    }
}

/// A published exercise prints 4479 for the first, from a rounded index; unrounded it is 4480.
#[test]
fn earned_value_is_not_rounded_on_the_way() {
    let names = ["sv", "cv", "spi", "cpi", "eac", "eac_budget", "eac_both", "etc", "vac", "tcpi"];
    for row in rows(include_str!("vectors/earned_value.csv")) {
        let asked = EarnedValue { planned: num(row[1]), earned: num(row[2]), actual: num(row[3]), budget: num(row[4]) };
        let answer = asked.reckon().expect("reckons");
        whole(&answer);
        for (name, cell) in names.iter().zip(&row[5..]) {
            near(name, value(&answer, name), num(cell), 1e-9);
        }
        refused(EarnedValue { earned: num(row[4]) + 1.0, ..asked }.reckon(), "CONTRADICTION", "budget");
        refused(EarnedValue { actual: 0.0, ..asked }.reckon(), "OUT_OF_RANGE", "actual");
    }
    let spent = EarnedValue { planned: 10.0, earned: 8.0, actual: 20.0, budget: 20.0 }.reckon().expect("reckons");
    assert!(spent.figure("tcpi").is_none() && says(&spent, "can't be met"));
}

/// Common practice, as data with that status.
#[test]
fn common_practice_is_told_as_such() {
    let fuse = BladeFuse { tenths: 150 }.reckon().expect("reckons");
    whole(&fuse);
    assert_eq!(fuse.list("colour").expect("colour"), ["blue"]);
    assert_eq!(fuse.inputs[0].taken, "15 A");
    refused(BladeFuse { tenths: 77 }.reckon(), "UNKNOWN", "7.5 A");
    let head = RoundedHead { width: read(Kind::Length, "12 mm") }.reckon().expect("reckons");
    whole(&head);
    assert_eq!(shown(&head, "socket"), "11 mm");
    let steps = head.list("steps").expect("steps");
    assert!(steps[0].contains("before any force") && steps[1].contains("six points before twelve"), "{steps:?}");
    assert!(steps[2].contains("light blows"));
    assert_eq!(BatteryLeads::Off.reckon().expect("reckons").list("order").expect("order")[0], "earth lead");
    assert_eq!(BatteryLeads::On.reckon().expect("reckons").list("order").expect("order")[1], "earth lead");
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Further out, more twist, more often, a worse grip: never a higher limit.
    #[test]
    fn a_harder_lift_has_a_lower_limit(reach in 5.0..24.0f64, more in 0.1..1.0f64, from in 0.0..69.0f64, to in 0.0..69.0f64, twist in 0.0..134.0f64, times in 0.1..8.0f64) {
        let asked = Lift {
            twist: Some(Amount::of(Kind::Angle, twist)),
            per_minute: Some(Amount::of(Kind::Number, times)),
            ..lift(20.0, reach, from, to)
        };
        let limit = |change: &dyn Fn(&mut Lift)| {
            let mut changed = asked.clone();
            change(&mut changed);
            value(&changed.reckon().expect("reckons"), "limit")
        };
        let usual = limit(&|_| {});
        prop_assert!(usual > 0.0 && usual <= 51.0 * KG + 1e-9);
        let further = limit(&|lift| lift.reach = inches(reach + more));
        let twisted = limit(&|lift| lift.twist = Some(Amount::of(Kind::Angle, twist + more)));
        let oftener = limit(&|lift| lift.per_minute = Some(Amount::of(Kind::Number, times + more)));
        let fair = limit(&|lift| lift.grip = Grip::Fair);
        let poor = limit(&|lift| lift.grip = Grip::Poor);
        let longer = limit(&|lift| lift.lasting = Lasting::TwoHours);
        prop_assert!(further <= usual + 1e-12 && oftener <= usual && fair <= usual);
        prop_assert!(twisted < usual && poor < usual && longer < usual);
    }

    #[test]
    fn the_quantile_undoes_the_share(z in -6.0..6.0f64) {
        // Near 1 a share has few digits left for how far it is from 1.
        prop_assert!((quantile(below(z)) - z).abs() < 1e-6);
    }
}
