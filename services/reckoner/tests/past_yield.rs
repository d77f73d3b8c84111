//! Tightening past yield: what a bolt is turned there stretches it for good, and from its least stretch after the break on
//! (ISO 898-1, Table 3, from memory: 12 % of class 8.8, 9 % of 10.9) it has no preload to tell.

mod kit;

use kit::{cautioned, near, read, refused, value, whole};
use leadhand_facts::words::SignalWord;
use leadhand_reckoner::fasteners::{PropertyClass, Seated, Thread, TorqueThenAngle};
use leadhand_reckoner::{Amount, Kind};

fn asked(thread: &str, class: &str, length: &str, angles: &[f64]) -> TorqueThenAngle {
    TorqueThenAngle {
        thread: Thread::read("thread", thread).expect("a thread"),
        class: PropertyClass::read("class", class).expect("a class"),
        seated: Seated::Preload(read(Kind::Force, "5 kN")),
        angles: angles.iter().map(|angle| Amount::of(Kind::Angle, *angle)).collect(),
        length: read(Kind::Length, length),
        modulus: None,
        joint: None,
    }
}

/// Three turns of 1.25 mm on 20 mm are 18.75 %, of which the elastic part is a tenth of one.
#[test]
fn a_bolt_that_would_be_torn_off_has_no_answer() {
    let torn = asked("M8", "8.8", "20 mm", &[360.0, 360.0, 360.0]).reckon();
    refused(torn, "IMPOSSIBLE", "class 8.8 breaks from 12 % on");
    // 9 % of 60 mm are 5.4 mm, or 4.32 turns of an M8.
    assert!(asked("M8", "10.9", "60 mm", &[360.0, 360.0, 360.0]).reckon().is_ok());
    refused(asked("M8", "10.9", "60 mm", &[360.0; 5]).reckon(), "IMPOSSIBLE", "from 9 % on");
}

#[test]
fn further_than_usual_is_warned_of_and_near_the_break_is_a_danger() {
    let head_bolt = asked("M10x1.25", "10.9", "110 mm", &[90.0, 90.0]).reckon().expect("reckons");
    whole(&head_bolt);
    // 90 degrees and a little past yield on 110 mm: a third of one per cent at the most.
    assert!((0.0..0.4).contains(&value(&head_bolt, "stretch")), "{head_bolt:#?}");
    assert!(head_bolt.conclusions.iter().any(|one| one.text.contains("as such a tightening usually means to")));
    assert!(!cautioned(&head_bolt, SignalWord::Danger, "") && !cautioned(&head_bolt, SignalWord::Warning, "for good"));
    let far = asked("M8", "8.8", "60 mm", &[360.0]).reckon().expect("reckons");
    whole(&far);
    // A turn is 1.25 mm, 2.08 % of 60 mm, less what was elastic: 5 to 23.4 kN at 205 GPa × 36.6 mm² / 60 mm × 5/6.
    let elastic_mm = (640.0 * 36.6 - 5_000.0) / (205_000.0 * 36.6 / 60.0 * 5.0 / 6.0);
    near("stretch", value(&far, "stretch"), (1.25 - elastic_mm) / 60.0 * 100.0, 1e-9);
    assert!(cautioned(&far, SignalWord::Warning, "breaks from 12 % on"), "{far:#?}");
    assert!(far.conclusions.iter().all(|one| !one.text.contains("usually means to: it is renewed")), "{far:#?}");
    let nearly = asked("M8", "8.8", "20 mm", &[360.0, 180.0]).reckon().expect("reckons");
    assert!(cautioned(&nearly, SignalWord::Danger, "It may break under your hand"), "{nearly:#?}");
    assert_eq!(nearly.cautions[0].word, SignalWord::Danger, "gravest first");
}

#[test]
fn an_elastic_bolt_stretches_for_nothing() {
    let answer = asked("M10", "10.9", "110 mm", &[30.0]).reckon().expect("reckons");
    assert!(answer.figure("stretch").is_none(), "{answer:#?}");
    assert!(answer.conclusions.iter().any(|one| one.text.contains("stays elastic")));
}
