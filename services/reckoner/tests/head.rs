//! Flatness, skim, compression ratio, picture.

mod kit;

use kit::{near, num, read, refused, rows, value, whole};
use leadhand_reckoner::head::{CompressionChange, Flatness, Point, Skim, surface_svg};
use leadhand_reckoner::{Amount, Kind};
use proptest::prelude::*;
use std::collections::BTreeMap;

fn mm(value: f64) -> Amount {
    Amount::of(Kind::Length, value)
}

fn point(x: f64, y: f64, z_um: f64) -> Point {
    Point { x: mm(x), y: mm(y), z: mm(z_um / 1e3) }
}

fn face(points: &[(f64, f64, f64)]) -> Flatness {
    Flatness { points: points.iter().map(|(x, y, z)| point(*x, *y, *z)).collect(), limit: None }
}

fn faces() -> BTreeMap<&'static str, Vec<(f64, f64, f64)>> {
    let mut faces: BTreeMap<_, Vec<_>> = BTreeMap::new();
    for row in rows(include_str!("vectors/flatness_grid.csv")) {
        faces.entry(row[0]).or_default().push((num(row[1]), num(row[2]), num(row[3])));
    }
    faces
}

/// By linear programme (HiGHS) and by enumeration in fractions.
#[test]
fn flatness_is_the_minimum_zone_and_the_others_are_called_by_their_names() {
    let faces = faces();
    for row in rows(include_str!("vectors/flatness_result.csv")) {
        let answer = face(&faces[row[0]]).reckon().expect("reckons");
        whole(&answer);
        let (figure, scale) = match row[1] {
            "minimum_zone_um" | "lp_highs_um" => ("minimum_zone", 1e3),
            "least_squares_peak_to_valley_um" => ("least_squares", 1e3),
            "raw_range_um" => ("raw_range", 1e3),
            "plane_a_um_per_mm" => ("slope_along", 1.0),
            "plane_b_um_per_mm" => ("slope_across", 1.0),
            _ => continue,
        };
        let got = value(&answer, figure) * scale;
        assert!((got - num(row[2])).abs() < 1e-8, "{} {}: {got}, should be {}", row[0], row[1], row[2]);
    }
}

#[test]
fn the_straight_edge_finds_its_gaps_along_across_and_over_the_diagonals() {
    let faces = faces();
    let mut worst: BTreeMap<&str, f64> = BTreeMap::new();
    for row in rows(include_str!("vectors/flatness_result.csv")) {
        let Some(line) = row[1].strip_prefix("straightedge_gap_").and_then(|rest| rest.strip_suffix("_um")) else {
            continue;
        };
        let answer = face(&faces[row[0]]).reckon().expect("reckons");
        let name = match line.split_at(line.len().min(7)) {
            ("along_y", at) => format!("along, at {at} mm across"),
            ("across_", at) => format!("across, at {} mm along", at.trim_start_matches('x')),
            ("diag_up", _) => "over the diagonal that rises".to_owned(),
            _ => "over the diagonal that falls".to_owned(),
        };
        let told = format!("{name}: {:.3} mm", num(row[2]) / 1e3);
        let list = answer.list("straight_edge").expect("lines");
        // Half a micrometre may be told either way.
        let near = list.iter().filter_map(|entry| entry.strip_prefix(&format!("{name}: ")));
        let near: Vec<f64> = near.map(|rest| num(rest.trim_end_matches(" mm"))).collect();
        assert!(near.len() == 1 && (near[0] - num(row[2]) / 1e3).abs() < 5.001e-4, "{told} is not in {list:?}");
        let gap = worst.entry(row[0]).or_default();
        *gap = gap.max(num(row[2]));
    }
    for (name, gap) in worst {
        near(name, value(&face(&faces[name]).reckon().expect("reckons"), "straight_edge") * 1e3, gap, 1e-9);
    }
}

/// Linear programme, solved with HiGHS.
#[test]
fn random_faces_have_the_zone_that_a_linear_programme_finds() {
    for row in rows(include_str!("vectors/flatness_random.csv")) {
        let points: Vec<(f64, f64, f64)> = row[2]
            .split(' ')
            .map(|point| {
                let cells: Vec<f64> = point.split('/').map(num).collect();
                (cells[0], cells[1], cells[2])
            })
            .collect();
        let got = value(&face(&points).reckon().expect("reckons"), "minimum_zone") * 1e3;
        assert!((got - num(row[1])).abs() < 1e-6, "{}: {got}, should be {}", row[0], row[1]);
    }
}

/// Geometry: a twist has its own height, a lone bump as well, a tilted plane none.
#[test]
fn it_says_where_to_look() {
    let answer = face(&faces()["bump"]).reckon().expect("reckons");
    assert_eq!(answer.list("high_contacts").expect("highs"), ["50 mm along, 50 mm across"]);
    let plane = face(&faces()["tilted_plane"]).reckon().expect("reckons");
    assert!(plane.conclusions.iter().any(|conclusion| conclusion.text.contains("lie in one plane")));
    let three = face(&[(0.0, 0.0, 5.0), (100.0, 0.0, 9.0), (0.0, 80.0, -3.0)]).reckon().expect("reckons");
    near("three points", value(&three, "minimum_zone"), 0.0, 0.0);
    near("along", value(&three, "slope_along"), 0.04, 1e-12);
}

#[test]
fn it_is_judged_against_the_makers_limit_or_the_usual_ones() {
    let bump = |height: f64, limit: Option<&str>| {
        let mut points = faces()["bump"].clone();
        points[4].2 = height;
        Flatness { limit: limit.map(|text| read(Kind::Length, text)), ..face(&points) }.reckon().expect("reckons")
    };
    for (height, limit, part) in [
        (50.0, None, "within every usual limit"),
        (80.0, None, "the maker's figure decides"),
        (101.0, None, "beyond every usual limit"),
        (50.0, Some("0,05 mm"), "within the limit"),
        (51.0, Some("0,05 mm"), "beyond the limit"),
    ] {
        let answer = bump(height, limit);
        assert!(answer.conclusions[0].text.contains(part), "{height}: {:?}", answer.conclusions);
    }
}

#[test]
fn readings_that_are_no_face_are_refused() {
    refused(face(&[]).reckon(), "CONTRADICTION", "0 readings");
    refused(face(&[(0.0, 0.0, 0.0), (1.0, 1.0, 0.0)]).reckon(), "CONTRADICTION", "2 readings");
    let line = [(0.0, 0.0, 0.0), (50.0, 10.0, 3.0), (100.0, 20.0, 9.0)];
    refused(face(&line).reckon(), "CONTRADICTION", "in one line");
    let longer = [(0.0, 0.0, 0.0), (50.0, 10.0, 3.0), (100.0, 20.0, 9.0), (150.0, 30.0, 2.0)];
    refused(face(&longer).reckon(), "CONTRADICTION", "in one line");
    let twice = [(0.0, 0.0, 0.0), (50.0, 0.0, 3.0), (0.0, 50.0, 9.0), (50.0, 0.0, 4.0)];
    refused(face(&twice).reckon(), "CONTRADICTION", "4th point: it is at the place of the 2nd point");
    let tall = [(0.0, 0.0, 0.0), (50.0, 0.0, 11_000.0), (0.0, 50.0, 9.0)];
    refused(face(&tall).reckon(), "OUT_OF_RANGE", "10 mm");
    let wide = [(0.0, 0.0, 0.0), (2_001.0, 0.0, 1.0), (0.0, 50.0, 9.0)];
    refused(face(&wide).reckon(), "OUT_OF_RANGE", "2 m");
    let nan = [(0.0, 0.0, f64::NAN), (50.0, 0.0, 1.0), (0.0, 50.0, 9.0)];
    refused(face(&nan).reckon(), "UNREADABLE", "z of the 1st point");
    assert!(surface_svg(&face(&line).points).is_err());
}

/// Geometry; the swept volume of 77 × 80.4 mm agrees with a printed 374.39 cc.
#[test]
fn a_skim_and_a_gasket_change_the_ratio() {
    for row in rows(include_str!("vectors/compression_ratio.csv")) {
        let asked = CompressionChange {
            bore: mm(num(row[0])),
            stroke: mm(num(row[1])),
            ratio: Amount::of(Kind::Number, num(row[2])),
            cut: mm(num(row[3])),
            chamber: Some(Amount::of(Kind::Share, num(row[4]) * 100.0)),
            gasket: Some(mm(num(row[5]))),
        };
        let answer = asked.reckon().expect("reckons");
        whole(&answer);
        near("swept", value(&answer, "swept"), num(row[6]), 1e-9);
        near("before", value(&answer, "clearance_before"), num(row[7]), 1e-9);
        near("after", value(&answer, "clearance"), num(row[8]), 1e-9);
        near("ratio", value(&answer, "ratio"), num(row[9]), 1e-9);
        let deep = CompressionChange { cut: mm(4.9), ratio: Amount::of(Kind::Number, 20.0), ..asked.clone() };
        refused(deep.reckon(), "CONTRADICTION", "above the piston");
        refused(CompressionChange { ratio: Amount::of(Kind::Number, 1.0), ..asked }.reckon(), "OUT_OF_RANGE", "10:1");
    }
}

/// Height less cut against the least height: common practice.
#[test]
fn a_skim_is_allowed_down_to_the_least_height_and_no_further() {
    let asked = |cut: &str| Skim {
        height: read(Kind::Length, "120.15 mm"),
        least_height: read(Kind::Length, "119.95 mm"),
        cut: read(Kind::Length, cut),
    };
    let answer = asked("0.20 mm").reckon().expect("reckons");
    whole(&answer);
    assert_eq!(answer.figure("allowance").expect("there").to_string(), "0.20 mm");
    assert!(answer.conclusions[0].text.contains("leaves enough height"), "exactly down to it is allowed");
    assert!(asked("0.201 mm").reckon().expect("reckons").conclusions[0].text.contains("below the least height"));
    let low = Skim { height: read(Kind::Length, "119.9 mm"), ..asked("0 mm") }.reckon().expect("reckons");
    assert!(low.conclusions[0].text.contains("already below"));
    refused(asked("-0.1 mm").reckon(), "OUT_OF_RANGE", "cut");
}

/// The picture has every figure in words and numbers, and a shape beside its colour.
#[test]
fn the_picture_shows_every_reading() {
    let points = face(&faces()["dished_A"]).points;
    let svg = surface_svg(&points).expect("draws");
    assert!(svg.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\"") && svg.ends_with("</svg>\n"));
    assert!(svg.contains("Flatness 28.8 µm") || svg.contains("Flatness 28.7 µm"), "28.75: {svg}");
    assert_eq!(svg.matches("text-anchor=\"middle\"").count(), 15, "a figure for each reading");
    assert!(
        svg.contains(">0 mm along, 0 mm across<") && svg.contains(">360 mm along<") && svg.contains(">140 mm across<")
    );
    assert_eq!(svg.matches("<path").count() + svg.matches("<circle").count(), 15, "a mark for each reading");
    assert!(svg.contains(">+14.4<") && svg.contains(">−14.4<"), "the highest and the lowest touch the zone: {svg}");
    assert_eq!(svg.matches('<').count(), svg.matches('>').count());
}

#[test]
fn a_flat_face_has_neither_highs_nor_lows() {
    let svg = surface_svg(&face(&faces()["tilted_plane"]).points).expect("draws");
    assert_eq!(svg.matches("<circle").count(), 9);
    assert_eq!(svg.matches(">0<").count(), 9);
    assert!(!svg.contains("<path"));
}

#[test]
fn a_crowded_picture_has_the_figures_of_the_highest_and_the_lowest() {
    let mut points = Vec::new();
    for at in 0..100u32 {
        let z = if at == 55 { 30.0 } else { 0.0 };
        points.push(point(f64::from(at % 10) * 40.0, f64::from(at / 10) * 15.0, z));
    }
    let svg = surface_svg(&points).expect("draws");
    assert_eq!(svg.matches("<path").count(), 100);
    // One is high, and all the others are as low as each other.
    assert_eq!(svg.matches(">+15.0<").count(), 1);
    let wavy: Vec<Point> = (0..100u32)
        .map(|at| point(f64::from(at % 10) * 40.0, f64::from(at / 10) * 15.0, f64::from(at * 37 % 29)))
        .collect();
    let svg = surface_svg(&wavy).expect("draws");
    let figures = svg.matches("text-anchor=\"middle\"").count();
    assert!((3..20).contains(&figures), "{figures} figures");
}

fn random_face() -> impl Strategy<Value = Vec<(f64, f64, f64)>> {
    proptest::collection::btree_map((0u8..7, 0u8..5), -60i32..60, 4..20).prop_map(|sites| {
        sites.into_iter().map(|((x, y), z)| (f64::from(x) * 60.0, f64::from(y) * 35.0, f64::from(z))).collect()
    })
}

/// The zone by trying every four points with every choice of sides, as slowly as it sounds.
fn slow_zone(points: &[(f64, f64, f64)]) -> f64 {
    let mut worst = 0.0f64;
    let turn = |a: (f64, f64, f64), b: (f64, f64, f64), c: (f64, f64, f64)| {
        (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0)
    };
    for (i, a) in points.iter().enumerate() {
        for (j, b) in points[..i].iter().enumerate() {
            for (k, c) in points[..j].iter().enumerate() {
                for d in &points[..k] {
                    let weights = [turn(*b, *c, *d), -turn(*a, *c, *d), turn(*a, *b, *d), -turn(*a, *b, *c)];
                    let size: f64 = weights.iter().map(|weight| weight.abs()).sum();
                    let sum = weights[0] * a.2 + weights[1] * b.2 + weights[2] * c.2 + weights[3] * d.2;
                    if size > 0.0 {
                        worst = worst.max(2.0 * sum.abs() / size);
                    }
                }
            }
        }
    }
    worst
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, ..ProptestConfig::default() })]

    /// As wide as the worst four, and a plane of those slopes takes every reading in: it is the least.
    #[test]
    fn the_zone_encloses_all_and_none_is_less(points in random_face()) {
        let Ok(answer) = face(&points).reckon() else {
            // Refused is a line and nothing else.
            let ((x0, y0, _), (x1, y1, _)) = (points[0], points[1]);
            let off = points.iter().any(|(x, y, _)| ((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)).abs() > 1e-9);
            prop_assert!(!off, "a face was refused: {:?}", points);
            return Ok(());
        };
        let zone = value(&answer, "minimum_zone") * 1e3;
        prop_assert!((zone - slow_zone(&points)).abs() < 1e-9, "{} and not {}", zone, slow_zone(&points));
        let (a, b) = (value(&answer, "slope_along"), value(&answer, "slope_across"));
        let rest: Vec<f64> = points.iter().map(|(x, y, z)| z - a * x - b * y).collect();
        let span = rest.iter().copied().fold(f64::MIN, f64::max) - rest.iter().copied().fold(f64::MAX, f64::min);
        prop_assert!((span - zone).abs() < 1e-9, "its plane leaves {} and not {}", span, zone);
        prop_assert!(zone <= value(&answer, "least_squares") * 1e3 + 1e-9);
        prop_assert!(zone <= value(&answer, "raw_range") * 1e3 + 1e-9);
    }

    /// Moved, tilted, turned over or enlarged, it is as flat as before.
    #[test]
    fn shift_tilt_scale_and_turning_over_change_nothing(points in random_face(), dx in -200i32..200, dz in -300i32..300, along in -3i32..3, across in -3i32..3, scale in 1i32..5) {
        let Ok(answer) = face(&points).reckon() else { return Ok(()) };
        let zone = value(&answer, "minimum_zone");
        let changed = |f: &dyn Fn((f64, f64, f64)) -> (f64, f64, f64)| {
            let points: Vec<_> = points.iter().map(|point| f(*point)).collect();
            value(&face(&points).reckon().expect("reckons"), "minimum_zone")
        };
        let shift = f64::from(dx);
        prop_assert!((changed(&|(x, y, z)| (x + shift, y - shift, z + f64::from(dz))) - zone).abs() < 1e-12);
        let tilt = |x: f64, y: f64| f64::from(along) * x / 10.0 + f64::from(across) * y / 10.0;
        prop_assert!((changed(&|(x, y, z)| (x, y, z + tilt(x, y))) - zone).abs() < 1e-12);
        prop_assert!((changed(&|(x, y, z)| (x, y, -z)) - zone).abs() < 1e-12);
        prop_assert!((changed(&|(x, y, z)| (y, x, z)) - zone).abs() < 1e-12);
        prop_assert!((changed(&|(x, y, z)| (x, y, z * f64::from(scale))) - zone * f64::from(scale)).abs() < 1e-12);
    }

    /// A large grid as well, with what gauges read: its zone is not wider than least squares, and its plane proves it.
    #[test]
    fn a_large_grid_ends_and_is_enclosed(heights in proptest::collection::vec(0i32..200_000, 1000)) {
        let points: Vec<_> = heights.iter().enumerate().map(|(at, z)| {
            let at = u32::try_from(at).expect("small");
            (f64::from(at % 40) * 12.5, f64::from(at / 40) * 8.0, f64::from(*z) / 1e3)
        }).collect();
        let answer = face(&points).reckon().expect("reckons");
        let zone = value(&answer, "minimum_zone") * 1e3;
        let (a, b) = (value(&answer, "slope_along"), value(&answer, "slope_across"));
        let rest: Vec<f64> = points.iter().map(|(x, y, z)| z - a * x - b * y).collect();
        let span = rest.iter().copied().fold(f64::MIN, f64::max) - rest.iter().copied().fold(f64::MAX, f64::min);
        prop_assert!((span - zone).abs() < 1e-8);
    }
}
