//! What a torque comes to: between its bounds, at the end of what the bolt bears, and by the manufacturer's word.

mod kit;

use kit::{cautioned, near, read, refused, value, whole};
use leadhand_facts::words::SignalWord;
use leadhand_reckoner::fasteners::{PreloadFromTorque, PropertyClass, Strength, Thread, TorqueFromPreload};
use leadhand_reckoner::{Amount, Kind};

fn thread(text: &str) -> Thread {
    Thread::read("thread", text).unwrap_or_else(|refusal| panic!("{refusal}"))
}

fn class(text: &str) -> PropertyClass {
    PropertyClass::read("class", text).unwrap_or_else(|refusal| panic!("{refusal}"))
}

fn mu(value: f64) -> Amount {
    Amount::of(Kind::Number, value)
}

#[test]
fn a_torque_gives_back_the_preload_between_its_bounds() {
    let asked = PreloadFromTorque {
        thread: thread("M10"),
        class: class("10.9"),
        torque: Amount::of(Kind::Torque, 58.942_280_38),
        friction_least: mu(0.10),
        friction_most: mu(0.14),
        head_least: None,
        head_most: None,
        wrench: None,
        bearing: None,
    };
    let answer = asked.reckon().expect("reckons");
    whole(&answer);
    near("middle", value(&answer, "preload"), 36_105.0, 1e-9);
    assert!(value(&answer, "preload_least") < 36_105.0 && value(&answer, "preload_most") > 36_105.0);
    // 36 105·58.9·(1 + 0.04)/(μ = 0.10): by hand 0.2385 + 0.52169 + 0.64 = 1.40019 mm, 43 780 N.
    near("most", value(&answer, "preload_most"), 58.942_280_38 * 1.04 / 1.400_187 * 1e3, 1e-5);
    let sure = PreloadFromTorque {
        friction_least: mu(0.12),
        friction_most: mu(0.12),
        wrench: Some(read(Kind::Share, "0 %")),
        ..asked.clone()
    };
    near("no scatter", value(&sure.reckon().expect("reckons"), "scatter"), 1.0, 1e-12);
    refused(PreloadFromTorque { friction_least: mu(0.2), ..asked }.reckon(), "CONTRADICTION", "exchange");
}

fn bears(class: &str, torque: &str, least: f64, most: f64) -> PreloadFromTorque {
    PreloadFromTorque {
        thread: thread("M10"),
        class: self::class(class),
        torque: read(Kind::Torque, torque),
        friction_least: mu(least),
        friction_most: mu(most),
        head_least: None,
        head_most: None,
        wrench: None,
        bearing: None,
    }
}

/// A bolt pulls no harder than it yields: M10 10.9 at 940 MPa on 58.0 mm² (ISO 898-1, from copies), 54 520 N; it breaks at
/// 1040 MPa, 60 300 N as that standard prints it (from memory).
#[test]
fn no_preload_is_told_that_the_bolt_never_has() {
    let within = bears("10.9", "60 Nm", 0.10, 0.16).reckon().expect("reckons");
    assert!(value(&within, "preload_most") < 48_140.0 && !cautioned(&within, SignalWord::Danger, "breaks"));
    // 67 kN of an elastic bolt at the least friction, 46 kN at the most.
    let over = bears("10.9", "90 Nm", 0.10, 0.14).reckon().expect("reckons");
    whole(&over);
    near("most", value(&over, "preload_most"), 54_520.0, 1e-12);
    near("scatter", value(&over, "scatter"), 54_520.0 / value(&over, "preload_least"), 1e-12);
    near("most of proof", value(&over, "most_of_proof"), 54_520.0 / 48_140.0 * 100.0, 1e-12);
    assert!(over.figure("preload_most").expect("there").label.ends_with("it yields there"), "{over:#?}");
    assert!(cautioned(
        &over,
        SignalWord::Danger,
        "would pull with 67000 N; this one yields at 55000 N and breaks at 60000 N"
    ));
    let stretched = bears("10.9", "80 Nm", 0.10, 0.14).reckon().expect("reckons");
    assert!(cautioned(&stretched, SignalWord::Warning, "the bolt yields at 55000 N"), "{stretched:#?}");
    // Even at the most friction: no figure at all.
    refused(bears("10.9", "120 Nm", 0.10, 0.14).reckon(), "IMPOSSIBLE", "120 Nm would ask 61800 N of M10 10.9");
    let printed = Strength { thread: thread("M10"), class: class("10.9") }.reckon().expect("reckons");
    near("breaks", value(&printed, "breaking_load"), 60_300.0, 0.0051);
    for (size, class, load) in [("M8", "8.8", 29_200.0), ("M12", "8.8", 67_400.0), ("M6", "12.9", 24_500.0)] {
        let bolt = Strength { thread: thread(size), class: self::class(class) }.reckon().expect("reckons");
        near(size, value(&bolt, "breaking_load"), load, 0.0051);
    }
}

/// Friction under the head takes the larger part of a torque: it counts by itself. By hand, M10 with 60 N.m, a sure
/// wrench, 0.12 in the thread and 0.08 under the head: 0.2385 + 0.62602 + 0.512 = 1.37652 mm.
#[test]
fn friction_under_the_head_counts_by_itself() {
    let asked = PreloadFromTorque { wrench: Some(read(Kind::Share, "0 %")), ..bears("10.9", "60 Nm", 0.12, 0.12) };
    let slippery = PreloadFromTorque { head_least: Some(mu(0.08)), head_most: Some(mu(0.08)), ..asked.clone() };
    let answer = slippery.reckon().expect("reckons");
    near("preload", value(&answer, "preload"), 60.0 / 1.376_52 * 1e3, 1e-5);
    assert!(answer.inputs.iter().any(|input| input.name == "head_least" && input.typed == "0.08"), "{answer:#?}");
    assert!(value(&answer, "preload") > value(&asked.reckon().expect("reckons"), "preload"));
    // What is not said of the head is as in the thread.
    let one = PreloadFromTorque { head_most: Some(mu(0.2)), ..asked.clone() };
    assert!(value(&one.reckon().expect("reckons"), "scatter") > 1.2);
    refused(PreloadFromTorque { head_most: Some(mu(0.1)), ..asked.clone() }.reckon(), "CONTRADICTION", "exchange");
    refused(
        PreloadFromTorque { head_least: Some(mu(3.0)), ..asked }.reckon(),
        "OUT_OF_RANGE",
        "least friction under the head",
    );
}

/// 58 N.m instead of 58.942: at the same friction everything is in that proportion.
#[test]
fn the_other_figures_follow_the_manufacturers_torque() {
    let asked = TorqueFromPreload {
        thread: thread("M10"),
        class: class("10.9"),
        preload: None,
        friction: None,
        bearing: None,
        maker: Some(read(Kind::Torque, "58 Nm")),
    };
    let answer = asked.reckon().expect("reckons");
    whole(&answer);
    let torque = answer.figure("torque").expect("there");
    near("the manufacturer's", torque.value, 58.0, 1e-12);
    near("reckoned", torque.reckoned.expect("kept"), 58.942_280_38, 1e-9);
    near("preload", value(&answer, "preload"), 36_105.0 * 58.0 / 58.942_280_38, 1e-9);
    near("share", value(&answer, "share_of_proof"), 75.0 * 58.0 / 58.942_280_38, 1e-9);
    let parts = ["stretching", "thread_friction", "head_friction"].map(|name| value(&answer, name));
    near("sum of the parts", parts.iter().sum(), 58.0, 1e-12);
    assert!(answer.conclusions.iter().any(|one| one.text.contains("follow the manufacturer's torque")), "{answer:#?}");
    // A preload of the manufacturer's beside it changes nothing else, and nothing else is said of the others.
    let both = answer.overridden("preload", &Amount::of(Kind::Force, 30e3)).expect("overrides");
    let said: Vec<&str> = both.conclusions.iter().map(|one| one.text.as_str()).collect();
    assert!(said.iter().any(|one| one.contains("manufacturer's preload stands by itself")), "{said:#?}");
    assert!(said.iter().all(|one| !one.contains("do not follow")), "{said:#?}");
    let heavy =
        TorqueFromPreload { maker: Some(read(Kind::Torque, "110 Nm")), ..asked.clone() }.reckon().expect("reckons");
    near("no more than it yields at", value(&heavy, "preload"), 54_520.0, 1e-12);
    assert!(cautioned(&heavy, SignalWord::Danger, "At the manufacturer's torque"), "{heavy:#?}");
    assert!(cautioned(&heavy, SignalWord::Warning, "far from what is reckoned"), "{heavy:#?}");
    refused(
        TorqueFromPreload { maker: Some(read(Kind::Torque, "9000 Nm")), ..asked }.reckon(),
        "OUT_OF_RANGE",
        "manufacturer",
    );
    // Of figures that do not follow, that is said, once.
    let strength = Strength { thread: thread("M10"), class: class("10.9") }.reckon().expect("reckons");
    let load = |kilonewtons| Amount::of(Kind::Force, kilonewtons * 1e3);
    let by_maker =
        strength.overridden("proof_load", &load(48.0)).and_then(|one| one.overridden("yield_load", &load(54.0)));
    let told = by_maker.expect("overrides").conclusions;
    assert_eq!(told.iter().filter(|one| one.text.contains("do not follow the manufacturer's")).count(), 1, "{told:#?}");
}
