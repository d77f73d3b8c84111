//! What the rows of a job ask. Jobs, vehicles and figures are invented; methods as in the tests of each question.

mod kit;

use kit::{cautioned, near, read, value, whole};
use leadhand_facts::reading::ReadingDetail;
use leadhand_facts::rows::ReadingRow;
use leadhand_facts::strip::{PositionDetail, Tighten};
use leadhand_facts::words::{Manner, PositionKind, ReadingKind, ReadingUnit, SignalWord, Verdict};
use leadhand_facts::{JobNo, Measure, ReadingKey, StageKey};
use leadhand_reckoner::answer::Standing;
use leadhand_reckoner::engine::{Heard, Ignition};
use leadhand_reckoner::fasteners::{Friction, Preload, PropertyClass};
use leadhand_reckoner::job::{Judging, TightenBy, Tightening, Wanted, judge, judged_with, untaken};
use leadhand_reckoner::{Amount, Answer, Kind};

const SPARK: Judging =
    Judging { ignition: Some(Ignition::Spark), pictures: true, banks: Vec::new(), heard: Vec::new() };

fn measure(text: &str) -> Measure {
    let micros: f64 = text.parse::<f64>().expect("a number") * 1e6;
    Measure(format!("{micros:.0}").parse().expect("fits"))
}

fn reading(key: &str, kind: ReadingKind, unit: ReadingUnit, labels: &[&str], figures: &[&str]) -> ReadingRow {
    let labels = labels.iter().map(|label| (*label).to_owned()).collect();
    ReadingRow {
        job: JobNo(7),
        reading: ReadingKey(key.to_owned()),
        stage: StageKey("measure".to_owned()),
        step: None,
        what: Some(key.to_owned()),
        what_text: None,
        detail: ReadingDetail { labels, ..ReadingDetail::plain(kind, unit) },
        unplanned: false,
        added_n: 1,
        taken_at: None,
        taken_by: None,
        taken_n: (!figures.is_empty()).then_some(2),
        figures: figures.iter().map(|figure| measure(figure)).collect(),
        verdict: None,
        off_limits: Vec::new(),
        instrument: None,
        note: None,
        decided_at: None,
        decided_by: None,
        decided_n: None,
        decision: None,
        decided_reason: None,
    }
}

fn says(answer: &Answer, part: &str) -> bool {
    answer.conclusions.iter().any(|conclusion| conclusion.text.contains(part))
}

fn standing(answer: &Answer, name: &str) -> Standing {
    answer.inputs.iter().find(|input| input.name == name).unwrap_or_else(|| panic!("no {name}: {answer:#?}")).standing
}

fn only(row: &ReadingRow, others: &[ReadingRow]) -> Answer {
    let judged = judge(row, others, &SPARK);
    let [one] = judged.as_slice() else { panic!("{judged:#?}") };
    one.answer.clone().expect("is judged")
}

#[test]
fn a_compression_is_judged_with_its_wet_one_and_by_the_templates_limits() {
    let cylinders = ["1", "2", "3", "4"];
    let mut dry =
        reading("compression", ReadingKind::Compression, ReadingUnit::Bar, &cylinders, &["12.4", "6", "12.2", "12"]);
    dry.detail.low = Some(measure("9.5"));
    let wet = reading("compression-wet", ReadingKind::Compression, ReadingUnit::Kilopascal, &["2"], &["900"]);
    let all = [dry.clone(), wet.clone()];
    let answer = only(&dry, &all);
    assert!(says(&answer, "Cylinder 2 rises when wet"), "900 kPa is 9 bar: {answer:#?}");
    assert_eq!(standing(&answer, "least"), Standing::Job);
    assert_eq!(standing(&answer, "cylinder 2, wet"), Standing::Job);
    assert!(matches!(standing(&answer, "spread"), Standing::Usual(_)), "nobody set one");
    assert!(judge(&wet, &all, &SPARK).is_empty(), "it is told with the dry one");
    assert!(!judge(&dry, &[], &SPARK).is_empty());
    assert!(!says(&answer, "left out"), "{answer:#?}");
    // The usual least of an engine that lights its fuel by compression is 20 bar: common practice.
    dry.detail.low = None;
    let diesel = Judging { ignition: Some(Ignition::Compression), ..Judging::default() };
    let judged = judge(&dry, &[], &diesel);
    assert!(says(judged[0].answer.as_ref().expect("judged"), "something that all share"));
}

/// A wet figure is never dropped without a word, and never judged as a dry one.
#[test]
fn wet_figures_that_go_with_no_dry_one_are_told() {
    let kind = ReadingKind::Compression;
    let dry = reading("compression", kind, ReadingUnit::Bar, &["1", "2"], &["12.4", "6"]);
    let wet = |labels: &[&str], figures: &[&str]| reading("compression-wet", kind, ReadingUnit::Bar, labels, figures);
    let other = wet(&["2", "cyl 1"], &["9", "12"]);
    let answer = only(&dry, &[dry.clone(), other.clone()]);
    assert!(says(&answer, "compression-wet has figures of cyl 1, and compression is of 1, 2"), "{answer:#?}");
    assert!(says(&answer, "Cylinder 2 rises when wet"), "what fits is judged all the same: {answer:#?}");
    let nameless = wet(&[], &["9"]);
    assert!(says(&only(&dry, &[dry.clone(), nameless.clone()]), "does not say of which cylinder"));
    for (wet, others, why) in [
        (&other, vec![], "the dry reading compression is missing: the job has none"),
        (&nameless, vec![], "the dry reading compression is missing"),
        (
            &other,
            vec![reading("compression", kind, ReadingUnit::Bar, &["1", "2"], &[])],
            "missing: it was not taken yet",
        ),
        (
            &other,
            vec![reading("compression", kind, ReadingUnit::Bar, &[], &["12"])],
            "no compression of several cylinders",
        ),
    ] {
        let judged = judge(wet, &others, &SPARK);
        let refusal = judged[0].answer.as_ref().expect_err("nothing to compare it with").to_string();
        assert!(refusal.contains(why) && refusal.contains("take compression dry"), "{refusal}");
    }
    // Asked for by its key it is told with the dry one, and where it was not taken, what is missing of both.
    assert_eq!(judged_with(&other, &[dry.clone(), other.clone()]), &dry);
    assert_eq!(judged_with(&other, &[]), &other);
    assert_eq!(untaken(&other, &[]), None);
    let later = wet(&["1", "2"], &[]);
    let told = |others: &[ReadingRow]| untaken(&later, others).expect("it was not taken").to_string();
    assert!(told(&[]).contains("compression-wet was not taken yet, and the dry reading compression is missing"));
    assert!(told(&[dry]).contains("compression-wet was not taken yet; "));
}

/// A figure in pounds is told as people write it, and not by its code.
#[test]
fn what_the_job_measured_is_told_in_the_unit_that_people_write() {
    let dry = reading("compression", ReadingKind::Compression, ReadingUnit::Psi, &["1", "2"], &["180", "175"]);
    let answer = only(&dry, &[]);
    let typed: Vec<&str> = answer.inputs.iter().map(|input| input.typed.as_str()).collect();
    assert!(typed.contains(&"180 psi") && typed.iter().all(|typed| !typed.contains('[')), "{typed:?}");
    // 180 × 6.894 757 kPa are 1241.056 kPa (NIST SP 811, Appendix B), of which no gauge shows six digits.
    let taken = answer.inputs.iter().find(|input| input.typed == "180 psi").map(|input| input.taken.as_str());
    assert_eq!(taken, Some("1241 kPa"));
}

#[test]
fn what_was_not_taken_or_has_no_method_is_not_judged() {
    let nothing = reading("a", ReadingKind::Compression, ReadingUnit::Bar, &["1", "2"], &[]);
    let one = reading("b", ReadingKind::Compression, ReadingUnit::Bar, &[], &["12"]);
    let level = reading("c", ReadingKind::Level, ReadingUnit::Millimetre, &[], &["12"]);
    let by_feelers = reading("d", ReadingKind::Flatness, ReadingUnit::Millimetre, &[], &["0.04"]);
    for row in [nothing, one, level, by_feelers] {
        assert!(judge(&row, &[], &SPARK).is_empty(), "{row:?}");
    }
}

/// 100 (P1 − P2)/P1: 80/60 gives 25 %, the figure of FAA AC 43.13-1B, read in quotations.
#[test]
fn a_leak_is_judged_cylinder_by_cylinder_by_pressures_or_as_a_share() {
    let by_pressure = reading("l", ReadingKind::LeakDown, ReadingUnit::Psi, &["1", "2"], &["80", "60", "80", "76"]);
    let judged = judge(&by_pressure, &[], &SPARK);
    assert_eq!(judged.iter().map(|one| one.of.as_deref()).collect::<Vec<_>>(), [Some("1"), Some("2")]);
    let leak = |at: usize| value(judged[at].answer.as_ref().expect("judged"), "leak");
    near("first", leak(0), 25.0, 1e-12);
    near("second", leak(1), 5.0, 1e-12);
    let mut by_share = reading("l", ReadingKind::LeakDown, ReadingUnit::Percent, &[], &["25"]);
    by_share.detail.high = Some(measure("30"));
    let answer = only(&by_share, &[]);
    near("share", value(&answer, "leak"), 25.0, 1e-12);
    assert!(says(&answer, "no more than the 30 %") && standing(&answer, "sound") == Standing::Job);
    // The job has the share and no pressures.
    assert_eq!(standing(&answer, "leak"), Standing::Job);
    let inputs: Vec<&str> = answer.inputs.iter().map(|input| input.name.as_str()).collect();
    assert_eq!((inputs[0], answer.inputs[0].taken.as_str()), ("leak", "25 %"));
    assert!(!inputs.contains(&"supply") && !inputs.contains(&"cylinder"), "{inputs:?}");
    for figure in ["120", "-8"] {
        let row = reading("l", ReadingKind::LeakDown, ReadingUnit::Percent, &[], &[figure]);
        let judged = judge(&row, &[], &SPARK);
        let refusal = judged[0].answer.as_ref().expect_err("is no share").to_string();
        assert!(refusal.contains(&format!("{figure} % is no share")), "{refusal}");
        assert!(!refusal.contains("supply") && !refusal.contains("kPa"), "nobody typed pressures: {refusal}");
    }
}

/// Whoever listens says it beside the job's figures, cylinder by cylinder.
#[test]
fn what_is_heard_goes_to_its_cylinder_alone() {
    let row = reading("l", ReadingKind::LeakDown, ReadingUnit::Percent, &["1", "2"], &["35", "5"]);
    let heard = |name: &str| Judging { heard: vec![(name.to_owned(), Heard::Tailpipe)], ..Judging::default() };
    let judged = judge(&row, &[], &heard("1"));
    let told = |at: usize| judged[at].answer.as_ref().expect("judged");
    assert!(says(told(0), "an exhaust valve") && !says(told(1), "an exhaust valve"), "{judged:#?}");
    for (name, why) in [("3", "l has no cylinder \"3\""), ("", "nobody says of which cylinder")] {
        let judged = judge(&row, &[], &heard(name));
        let [only] = judged.as_slice() else { panic!("{judged:#?}") };
        let refusal = only.answer.as_ref().expect_err("of none").to_string();
        assert!(refusal.contains(why), "{refusal}");
    }
    let single = reading("l", ReadingKind::LeakDown, ReadingUnit::Percent, &[], &["35"]);
    let judged = judge(&single, &[], &heard(""));
    assert!(says(judged[0].answer.as_ref().expect("judged"), "an exhaust valve"));
    assert!(judge(&single, &[], &heard("1"))[0].answer.is_err(), "it names no cylinder");
}

/// Two low ones in a row stand side by side only in one bank: as usually taught.
#[test]
fn banks_that_somebody_says_part_the_cylinders_of_a_job() {
    let cylinders = ["1", "2", "3", "4", "5", "6"];
    let figures = ["12", "12", "6", "6.2", "12", "12"];
    let row = reading("c", ReadingKind::Compression, ReadingUnit::Bar, &cylinders, &figures);
    let of = |banks: &[usize]| {
        let judging = Judging { ignition: Some(Ignition::Spark), banks: banks.to_vec(), ..Judging::default() };
        judge(&row, &[], &judging).remove(0).answer
    };
    assert!(says(&of(&[]).expect("judged"), "may stand side by side"), "nobody said where they stand");
    assert!(!says(&of(&[3, 3]).expect("judged"), "side by side"), "they end one bank and begin the other");
    let inline = of(&[6]).expect("judged");
    assert!(says(&inline, "side by side") && !says(&inline, "may stand side by side"), "{inline:#?}");
    for wrong in [&[3, 4][..], &[6, 0], &[usize::MAX, 7]] {
        let refusal = of(wrong).expect_err("do not fit");
        assert!(refusal.field() == Some("banks") && refusal.to_string().contains("c has 6"), "{refusal}");
    }
}

/// A twist of 10 µm at one corner of a square lies in a zone of 5 µm: by geometry.
#[test]
fn a_face_goes_by_the_places_of_its_points() {
    let labels = ["0/0", "90_0", "0 / 90", "90/90"];
    let mut face = reading("face", ReadingKind::Flatness, ReadingUnit::Micrometre, &labels, &["0", "0", "0", "10"]);
    face.detail.high = Some(measure("4"));
    let judged = judge(&face, &[], &SPARK);
    let answer = judged[0].answer.as_ref().expect("judged");
    near("zone", value(answer, "minimum_zone"), 0.005, 1e-12);
    assert!(says(answer, "beyond the limit of 0.004 mm"), "{answer:#?}");
    assert!(judged[0].picture.as_ref().is_some_and(|svg| svg.starts_with("<svg ")));
    // The book judged the heights as they were read; nobody reads two answers.
    let no = face.clone();
    assert!(!says(&only(&no, &[]), "as they were read"), "the zone is beyond the limit as well");
    face.detail.high = Some(measure("6"));
    assert!(!says(&only(&face, &[]), "as they were read"), "nothing is held up");
    face.verdict = Some(Verdict::Out);
    assert!(says(&only(&face, &[]), "its heights lie 0.01 mm apart as they were read"), "{:#?}", only(&face, &[]));
    assert!(says(&only(&face, &[]), "the lead may accept it by this"));
    let labels = ["0 0", "90 0", "0 90", "90 90"];
    let spaced = reading("face", ReadingKind::Flatness, ReadingUnit::Micrometre, &labels, &["0", "0", "0", "10"]);
    near("zone", value(&only(&spaced, &[]), "minimum_zone"), 0.005, 1e-12);
    for wrong in ["left", "90", "a/b", "90/0 kg"] {
        let labels = ["0/0", "90/0", wrong];
        let face = reading("face", ReadingKind::Flatness, ReadingUnit::Micrometre, &labels, &["0", "1", "2"]);
        let judged = judge(&face, &[], &SPARK);
        let refusal = judged[0].answer.as_ref().expect_err("no place");
        assert!(refusal.to_string().contains("such as 90_70") && judged[0].picture.is_none(), "{refusal}");
    }
}

#[test]
fn a_run_out_is_judged_figure_by_figure() {
    let mut row = reading("r", ReadingKind::RunOut, ReadingUnit::Millimetre, &["left", "right"], &["0.04", "0.06"]);
    row.detail.high = Some(measure("0.05"));
    let judged = judge(&row, &[], &SPARK);
    let told = |at: usize| judged[at].answer.as_ref().expect("judged");
    assert!(says(told(0), "within the limit") && says(told(1), "beyond the limit"));
    assert_eq!(standing(told(1), "limit"), Standing::Job);
}

fn bolts(size: &str, tighten: &[Tighten]) -> PositionDetail {
    let plain = PositionDetail::plain(PositionKind::Fastener, Manner::Off, 10);
    PositionDetail { size: Some(size.to_owned()), tighten: tighten.to_vec(), ..plain }
}

fn wanted() -> Wanted {
    Wanted { class: PropertyClass::read("class", "10.9").expect("a class"), preload: None, friction: None }
}

/// 30 × 400/450 by equilibrium of moments; 30/1.355 818 by NIST SP 811, Appendix B.
#[test]
fn a_torque_is_told_in_both_units_and_corrected_for_an_adapter() {
    let detail = bolts("M10 x 90", &[Tighten::TorqueMilli(30_000), Tighten::AngleDegrees(90)]);
    let by = TightenBy {
        wrench: read(Kind::Length, "400 mm"),
        adapter: read(Kind::Length, "2 in"),
        angle: Some(read(Kind::Angle, "90°")),
    };
    let settings = Tightening { detail: &detail }.settings(Some(&by)).expect("settings");
    assert_eq!(settings[0].beside.as_ref().expect("a torque").text(), "22.1 lbf.ft");
    near("square", value(settings[0].setting.as_ref().expect("set"), "setting"), 30.0, 1e-12);
    assert!(settings[1].beside.is_none() && settings[1].setting.is_none(), "an angle is an angle");
    let in_line = TightenBy { angle: None, adapter: read(Kind::Length, "50 mm"), ..by };
    let settings = Tightening { detail: &detail }.settings(Some(&in_line)).expect("settings");
    let set = settings[0].setting.as_ref().expect("set");
    near("in line", value(set, "setting"), 30.0 * 400.0 / 450.0, 1e-12);
    assert!(matches!(standing(set, "angle"), Standing::Usual(why) if why.contains("in line")), "nobody said it");
    assert_eq!(set.beside(set.figure("setting").expect("set")), None, "N.m and millimetres go together");
    // 16 in and 2 in: 30 × 16/18 = 26.7 N.m, which are 19.7 lbf.ft.
    let inches =
        TightenBy { wrench: read(Kind::Length, "16in"), adapter: read(Kind::Length, "2 in"), ..in_line.clone() };
    let settings = Tightening { detail: &detail }.settings(Some(&inches)).expect("settings");
    let set = settings[0].setting.as_ref().expect("set");
    let beside = set.beside(set.figure("setting").expect("set")).expect("inches go with pounds-force feet");
    assert_eq!(beside.text(), "19.7 lbf.ft");
    // Without any of that there is still an answer, with its source and what to mind.
    let told = Tightening { detail: &detail }.told();
    whole(&told);
    assert_eq!(told.list("stages").expect("stages"), ["30 N.m (22.1 lbf.ft)", "90°"]);
    assert_eq!(standing(&told, "tighten"), Standing::Manufacturer);
    assert!(cautioned(&told, SignalWord::Warning, "never checked with a torque wrench"));
    let torque = bolts("M10 x 90", &[Tighten::TorqueMilli(30_000)]);
    let told = Tightening { detail: &torque }.told();
    assert!(cautioned(&told, SignalWord::Caution, "clean and dry or oiled") && told.cautions.len() == 1, "{told:#?}");
}

#[test]
fn the_manufacturers_torque_stands_before_the_reckoned_one() {
    for size in ["M10 x 90", "M10", "M10 x 1.5 x 35", "M10×1.5"] {
        let detail = bolts(size, &[Tighten::TorqueMilli(20_000), Tighten::TorqueMilli(60_000)]);
        let answer = Tightening { detail: &detail }.reckoned(&wanted()).expect("reckons");
        let torque = answer.figure("torque").expect("a torque");
        assert_eq!((torque.standing, torque.to_string().as_str()), (Standing::Manufacturer, "60.0 N.m"), "{size}");
        assert!(torque.reckoned.is_some_and(|reckoned| (50.0..75.0).contains(&reckoned)), "{torque:?}");
        assert_eq!(standing(&answer, "thread"), Standing::Job);
    }
    // What ends in an angle is past any torque that could be compared.
    let detail = bolts("M10 x 1.25 x 90", &[Tighten::TorqueMilli(30_000), Tighten::AngleDegrees(90)]);
    let answer = Tightening { detail: &detail }.reckoned(&wanted()).expect("reckons");
    assert_eq!(answer.figure("torque").expect("a torque").standing, Standing::Reckoned);
    assert!(answer.inputs.iter().any(|input| input.taken == "M10x1.25"), "{answer:#?}");
    // What nobody said is taken and told, with why; what was said counts. Common practice.
    for name in ["preload", "friction.thread", "friction.bearing"] {
        let standing = standing(&answer, name);
        assert!(matches!(standing, Standing::Usual(why) if why.contains("common practice")), "{name}: {standing:?}");
    }
    near("usual", value(&answer, "share_of_proof"), 75.0, 1e-12);
    let friction = Friction { thread: Amount::of(Kind::Number, 0.1), bearing: Amount::of(Kind::Number, 0.14) };
    let preload = Preload::OfProof(read(Kind::Share, "60 %"));
    let said = Wanted { preload: Some(preload), friction: Some(friction), ..wanted() };
    let told = Tightening { detail: &detail }.reckoned(&said).expect("reckons");
    near("said", value(&told, "share_of_proof"), 60.0, 1e-12);
    assert_eq!([standing(&told, "preload"), standing(&told, "friction.bearing")], [Standing::Given; 2]);
    for size in ["", "x", "half an inch"] {
        let detail = bolts(size, &[Tighten::TorqueMilli(20_000)]);
        let refusal = Tightening { detail: &detail }.reckoned(&wanted()).expect_err("no thread");
        assert_eq!(refusal.field(), Some("size"), "{refusal}");
    }
    for size in [None, Some(String::new())] {
        let detail = PositionDetail { size, ..bolts("M10", &[Tighten::TorqueMilli(20_000)]) };
        let refusal = Tightening { detail: &detail }.reckoned(&wanted()).expect_err("no thread").to_string();
        assert!(refusal.contains("does not say which thread it is") && !refusal.contains("can't be read"), "{refusal}");
    }
}
