//! How readings come out, held against the vectors in `tests/vectors`, whose README names their sources; and how a
//! template lists them.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

use leadhand_domain::reading::{derived, judge, limits, read_measure, slots, told};
use leadhand_domain::template::parse;
use leadhand_facts::Measure;
use leadhand_facts::reading::{OffLimit, ReadingDetail};
use leadhand_facts::words::{ReadingKind, ReadingUnit, Verdict};

fn measures(figures: &[&str]) -> Vec<Measure> {
    figures.iter().map(|figure| read_measure(figure).unwrap()).collect()
}

fn vectors(file: &str) -> Vec<Vec<String>> {
    let path = format!("{}/tests/vectors/{file}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    text.lines().skip(1).map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

fn detail(kind: ReadingKind, unit: ReadingUnit, labels: usize) -> ReadingDetail {
    let labels = if labels == 1 { vec![] } else { (1..=labels).map(|n| n.to_string()).collect() };
    ReadingDetail { labels, ..ReadingDetail::plain(kind, unit) }
}

/// `compression_test.csv`: the spread worked out apart from this code. A set whose cylinders are all low passes by the
/// spread, and the least figure catches it.
#[test]
fn compression_is_judged_by_its_spread_and_by_the_least_figure() {
    for line in vectors("compression_test.csv") {
        let figures: Vec<&str> = line[1..5].iter().map(String::as_str).collect();
        let figures = measures(&figures);
        let percent = line[6].parse::<f64>().unwrap();
        for limit in [3, 4, 10, 20, 35, 36, 51, 52] {
            let spread = Some(Measure::whole(limit));
            let detail = ReadingDetail { spread, ..detail(ReadingKind::Compression, ReadingUnit::Bar, 4) };
            let off = judge(&detail, &figures).1;
            assert_eq!(off.contains(&OffLimit::Spread), percent > f64::from(limit), "{line:?} at {limit} %");
        }
        let said = derived(&detail(ReadingKind::Compression, ReadingUnit::Bar, 4), &figures);
        let tenths = (percent * 10.0).round() / 10.0;
        assert_eq!(said, [format!("lowest {tenths} % below the highest")]);
    }
    let template = ReadingDetail {
        low: Some(Measure::whole(9)),
        spread: Some(Measure::whole(20)),
        ..detail(ReadingKind::Compression, ReadingUnit::Bar, 4)
    };
    let all_low = measures(&["8", "7.8", "8.1", "7.9"]);
    assert_eq!(judge(&template, &all_low).1, [0, 1, 2, 3].map(OffLimit::Low));
    assert_eq!(
        judge(&template, &measures(&["9", "9", "9", "9"])),
        (Verdict::In, vec![]),
        "a figure at its limit keeps it"
    );
    // 10.08 is 20 % below 12.6 exactly.
    let at = judge(&template, &measures(&["12.6", "10.08", "12", "12"]));
    assert_eq!(at, (Verdict::In, vec![]));
    let below = judge(&template, &measures(&["12.6", "10.079999", "12", "12"]));
    assert_eq!(below, (Verdict::Out, vec![OffLimit::Spread]));
}

/// `leakdown.csv`: 100 (P1 - P2) / P1.
#[test]
fn a_leak_is_the_share_of_the_pressure_that_is_lost() {
    for line in vectors("leakdown.csv") {
        let figures = measures(&[&line[0], &line[1]]);
        let percent: i32 = line[2].parse().unwrap();
        let with =
            |high| ReadingDetail { high: Some(high), ..detail(ReadingKind::LeakDown, ReadingUnit::Kilopascal, 1) };
        let at = with(Measure::whole(percent));
        assert_eq!(judge(&at, &figures).0, Verdict::In, "{line:?}");
        let under = with(Measure(Measure::whole(percent).0 - 1));
        assert_eq!(judge(&under, &figures), (Verdict::Out, vec![OffLimit::High(0)]), "{line:?}");
        assert_eq!(derived(&at, &figures), [format!("lets go {percent} %")]);
    }
    let share =
        ReadingDetail { high: Some(Measure::whole(20)), ..detail(ReadingKind::LeakDown, ReadingUnit::Percent, 2) };
    assert_eq!(slots(&share), ["1", "2"], "a gauge that shows the share needs one figure");
    assert_eq!(judge(&share, &measures(&["20", "21"])).1, [OffLimit::High(1)]);
    assert_eq!(
        slots(&detail(ReadingKind::LeakDown, ReadingUnit::Bar, 2)),
        ["1 before", "1 behind", "2 before", "2 behind"]
    );
}

/// `flatness_grid.csv` and `flatness_result.csv`: the range of the heights as they are, which is never less than the
/// minimum zone, so nothing is let pass that the zone would not.
#[test]
fn heights_of_points_are_judged_by_their_range() {
    let grid = vectors("flatness_grid.csv");
    let results = vectors("flatness_result.csv");
    let mut cases: Vec<&str> = grid.iter().map(|line| line[0].as_str()).collect();
    cases.dedup();
    assert!(cases.len() > 2);
    for case in cases {
        let heights: Vec<&str> = grid.iter().filter(|line| line[0] == case).map(|line| line[3].as_str()).collect();
        let result = |quantity: &str| {
            let line = results.iter().find(|line| line[0] == case && line[1] == quantity).unwrap();
            line[2].parse::<f64>().unwrap()
        };
        let (range, zone) = (result("raw_range_um"), result("minimum_zone_um"));
        assert!(zone <= range, "{case}");
        #[allow(clippy::cast_possible_truncation, reason = "the range is a whole number of micrometres")]
        let whole = range as i32;
        let with = |high| ReadingDetail {
            high: Some(high),
            ..detail(ReadingKind::Flatness, ReadingUnit::Micrometre, heights.len())
        };
        let figures = measures(&heights);
        let at = with(Measure::whole(whole));
        assert_eq!(judge(&at, &figures).0, Verdict::In, "{case}");
        assert_eq!(judge(&with(Measure(Measure::whole(whole).0 - 1)), &figures).1, [OffLimit::Range], "{case}");
        let said = derived(&at, &figures).remove(0);
        assert!(said.contains(&format!("{whole} µm")) && said.contains("not levelled"), "the method is said: {said}");
    }
}

/// Torque, angle, run-out and level have two ends; a pressure is held for long enough and does not fall too far. Common
/// practice, no source.
#[test]
fn figures_have_two_ends_and_a_pressure_has_a_time() {
    let (low, high) = (Some(Measure::whole(88)), Some(Measure::whole(92)));
    let angle = ReadingDetail { low, high, ..detail(ReadingKind::Angle, ReadingUnit::Degree, 3) };
    assert_eq!(judge(&angle, &measures(&["88", "92", "90"])).0, Verdict::In);
    assert_eq!(judge(&angle, &measures(&["87.999999", "92.000001", "90"])).1, [OffLimit::Low(0), OffLimit::High(1)]);
    let held = ReadingDetail {
        low: Some(Measure::whole(100)),
        drop: Some(Measure::whole(5)),
        minutes: Some(10),
        ..detail(ReadingKind::PressureHeld, ReadingUnit::Kilopascal, 1)
    };
    assert_eq!(slots(&held), ["begin", "end", "minutes"]);
    assert_eq!(judge(&held, &measures(&["120", "115", "10"])).0, Verdict::In);
    let off = judge(&held, &measures(&["99", "90", "9.5"])).1;
    assert_eq!(off, [OffLimit::Low(0), OffLimit::Drop, OffLimit::Short]);
    let said: Vec<String> = off.iter().map(|off| told(&held, *off)).collect();
    assert_eq!(said, ["is below 100 kPa", "it fell by more than 5 kPa", "it was held for less than 10 min"]);
    assert_eq!(limits(&held), "at least 100 kPa, falls by at most 5 kPa, held for at least 10 min");
    assert_eq!(judge(&detail(ReadingKind::Level, ReadingUnit::Millimetre, 1), &measures(&["-7"])).0, Verdict::Free);
}

const STEP: &str = "key = \"k\"\ntitle = \"t\"\n[[stage]]\nkey = \"a\"\ntitle = \"A\"\nminutes = [1, 2, 3]\n[[stage.step]]\ndo = \"d\"\n";

fn faults(reading: &str) -> Vec<(usize, String)> {
    let text = format!("{STEP}[[stage.step.reading]]\nkey = \"r\"\nwhat = \"w\"\n{reading}");
    parse(&text).unwrap_err().into_iter().map(|fault| (fault.line, fault.message)).collect()
}

#[test]
fn a_fault_in_a_reading_is_told_where_it_stands() {
    for (reading, line, says) in [
        ("kind = \"compresion\"\nunit = \"bar\"\n", 12, "did you mean 'compression'?"),
        ("kind = \"torque\"\nunit = \"Nm\"\n", 13, "has to be one of"),
        ("kind = \"torque\"\nunit = \"N.m\"\nlow = 9.5\n", 14, "a figure in quotes such as"),
        ("kind = \"torque\"\nunit = \"N.m\"\nlow = \"9,5,1\"\n", 14, "is no figure"),
        ("kind = \"torque\"\nunit = \"N.m\"\nlow = 9\nhigh = 8\n", 15, "low must not be above high"),
        ("kind = \"torque\"\nunit = \"N.m\"\nminutes = 8\n", 14, "for kind pressure-held alone"),
        ("kind = \"torque\"\nunit = \"N.m\"\nspread = 8\n", 14, "name two labels at least"),
        ("kind = \"torque\"\nunit = \"N.m\"\nof = [\"1\", \"1\"]\n", 14, "twice"),
        ("kind = \"torque\"\nunit = \"N.m\"\nlimit = 8\n", 14, "has no field 'limit'"),
        ("kind = \"torque\"\n", 9, "lacks the field 'unit'"),
        (
            "kind = \"torque\"\nunit = \"N.m\"\n[[stage.step.reading]]\nkey = \"r\"\nwhat = \"w\"\nkind = \"angle\"\nunit = \"deg\"\n",
            15,
            "'r' is there already, in line 10",
        ),
    ] {
        let found = faults(reading);
        assert!(found.iter().any(|(at, message)| *at == line && message.contains(says)), "{reading}: {found:?}");
    }
    let good = "kind = \"torque\"\nunit = \"N.m\"\nof = [\"1\", \"2\"]\nlow = 9\nhigh = \"9.5\"\nspread = 5\n";
    let text = format!("{STEP}follow-up = \"look again\"\n[[stage.step.reading]]\nkey = \"r\"\nwhat = \"w\"\n{good}");
    let step = parse(&text).unwrap().template.stages[0].steps[0].clone();
    assert_eq!(step.follow_up.as_deref(), Some("look again"));
    assert_eq!(step.readings[0].detail.high, Some(Measure(9_500_000)));
}
