//! What the trade gets wrong with these figures, and what an answer says against it. Each is common practice or follows from
//! the formula, as said beside it; the figures themselves are tried by the vectors in the other files.

mod kit;

use kit::{cautioned, read, value};
use leadhand_facts::words::SignalWord;
use leadhand_reckoner::coolant::{Expansion, Fill, Target};
use leadhand_reckoner::engine::LeakDown;
use leadhand_reckoner::fasteners::{Friction, Preload, PropertyClass, Thread, TorqueFromPreload};
use leadhand_reckoner::formulas::{Pert, ReorderPoint, ThreePoints};
use leadhand_reckoner::head::Skim;
use leadhand_reckoner::wheels::RunOut;
use leadhand_reckoner::{Amount, Answer, Kind};

/// Whether a conclusion, or what would tell more, says so.
fn says(answer: &Answer, part: &str) -> bool {
    let more =
        |one: &leadhand_reckoner::answer::Conclusion| one.tells_more.as_ref().is_some_and(|more| more.contains(part));
    answer.conclusions.iter().any(|one| one.text.contains(part) || more(one))
}

fn amount(kind: Kind, text: &str) -> Amount {
    read(kind, text)
}

/// A page on the web prints the thread term with 1.154 in the place of 0.577: with that 0.12 on an M10 would ask for half as
/// much again. By the equation, T grows by F d2 / (2 cos 30°) for each unit of friction in the thread.
#[test]
fn the_thread_term_counts_once() {
    let asked = |friction: f64| {
        let mu = |value: f64| Amount::of(Kind::Number, value);
        let torque = TorqueFromPreload {
            thread: Thread::read("thread", "M10").expect("reads"),
            class: PropertyClass::read("class", "10.9").expect("reads"),
            preload: Some(Preload::Force(Amount::of(Kind::Force, 36_105.0))),
            friction: Some(Friction { thread: mu(friction), bearing: mu(0.12) }),
            bearing: None,
            maker: None,
        };
        value(&torque.reckon().expect("reckons"), "torque")
    };
    let grows = (asked(0.13) - asked(0.12)) / 0.01;
    // 36 105 N × 9.0257 mm / (2 cos 30°) is 188.1 N.m.
    assert!((grows - 188.1).abs() < 2.0, "it grows by {grows}");
}

/// Common practice: data sets of one mixture differ, and only a refractometer of the right scale tells.
#[test]
fn coolant_says_that_data_sets_differ_and_what_the_tank_is_for() {
    let fill = Fill {
        capacity: amount(Kind::Volume, "7 L"),
        left: amount(Kind::Volume, "2.5 L"),
        left_strength: None,
        target: Target::FreezingPoint { celsius: amount(Kind::Temperature, "-30 °C"), margin_c: None },
        poured_strength: None,
    };
    let answer = fill.reckon().expect("reckons");
    assert!(says(&answer, "differ by up to 2.7") && says(&answer, "refractometer that has the scale for this glycol"));
    assert!(says(&answer, "What a radiator drain leaves in the block is still to come out"), "{answer:#?}");
    assert!(
        cautioned(&answer, SignalWord::Warning, "poisons whoever swallows it")
            && cautioned(&answer, SignalWord::Warning, "Never open a hot system"),
        "{answer:#?}"
    );
    let [cold, hot] = ["20 °C", "90 °C"].map(|text| amount(Kind::Temperature, text));
    let grows = Expansion { volume: amount(Kind::Volume, "7 L"), strength: amount(Kind::Share, "50 %"), cold, hot };
    assert!(says(&grows.reckon().expect("reckons"), "Fill to the cold mark"));
}

/// Leaks are compared on one orifice alone; air turns an engine. AC 43.13-1B, read in quotations, and common practice.
#[test]
fn a_leak_is_compared_on_its_own_orifice_and_the_crank_may_turn() {
    let [supply, cylinder] = ["80 psi", "60 psi"].map(|text| amount(Kind::Pressure, text));
    let answer =
        LeakDown { supply, cylinder, orifice: None, sound: None, heard: Vec::new() }.reckon().expect("reckons");
    assert!(says(&answer, "another orifice gives other figures"), "{answer:#?}");
    assert!(cautioned(&answer, SignalWord::Warning, "take any bar or spanner off"));
}

/// Less height is less clearance and other timing: common practice, which the maker answers.
#[test]
fn a_skim_asks_for_clearance_and_timing() {
    let [height, least_height, cut] = ["120.15 mm", "119.95 mm", "0.1 mm"].map(|text| amount(Kind::Length, text));
    let answer = Skim { height, least_height, cut }.reckon().expect("reckons");
    let told = answer
        .cautions
        .iter()
        .any(|one| one.text.contains("valves nearer to the pistons") && one.text.contains("ask the maker"));
    assert!(told, "{answer:#?}");
}

/// Common practice: the pedal is pumped firm before the vehicle moves.
#[test]
fn a_run_out_does_not_forget_the_pedal() {
    let answer =
        RunOut { measured: amount(Kind::Length, "0.08 mm"), limit: None, hub: None }.reckon().expect("reckons");
    assert!(answer.cautions.iter().any(|one| one.text.contains("Pump the pedal firm before it moves")), "{answer:#?}");
}

/// By their definitions: a path's variance forgets paths beside it, and a cycle service is no fill rate.
#[test]
fn the_plain_formulas_say_what_they_are_not() {
    let [best, likely, worst] = [1.0, 2.0, 3.0].map(|time| Amount::of(Kind::Number, time));
    let path = Pert { tasks: vec![ThreePoints { best, likely, worst }], due: None }.reckon().expect("reckons");
    assert!(says(&path, "it is optimistic"), "{path:#?}");
    let asked = ReorderPoint {
        demand: 5.0,
        demand_deviation: Some(2.0),
        lead_time: 3.0,
        lead_time_deviation: Some(0.0),
        service: 95.0,
    };
    let point = asked.reckon().expect("reckons");
    assert!(says(&point, "not the share of the demand that is served"), "{point:#?}");
    // 20.698 is ordered at 21: never less.
    assert_eq!(kit::shown(&point, "reorder_point"), "21");
}
