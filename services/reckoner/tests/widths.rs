//! Widths across flats and the threads that go with them, both ways.

mod kit;

use kit::{read, refused, shown, whole};
use leadhand_reckoner::fasteners::{AcrossFlats, Thread, ThreadsOfHead};
use leadhand_reckoner::{Amount, Kind};

fn thread(text: &str) -> Thread {
    Thread::read("thread", text).unwrap_or_else(|refusal| panic!("{refusal}"))
}

fn mm(value: f64) -> Amount {
    Amount::of(Kind::Length, value)
}

/// Small flanges, the older widths and wheel nuts: common practice. Hexagons: ISO 272, from copies.
#[test]
fn heads_and_threads_find_each_other() {
    for (typed, name, width) in [
        ("M6", "hexagon", "10 mm"),
        ("M6", "small_flange", "8.0 mm"),
        ("M8", "hexagon", "13 mm"),
        ("M8", "small_flange", "12 mm"),
        ("M10x1.25", "hexagon", "16 mm"),
        ("M10", "small_flange", "14 mm"),
        ("M10", "old_hexagon", "17 mm"),
        ("M12", "hexagon", "18 mm"),
        ("M12", "small_flange", "17 mm"),
        ("M12x1.5", "wheel", "19 mm"),
        ("M14", "hexagon", "21 mm"),
    ] {
        let answer = AcrossFlats { thread: thread(typed) }.reckon().expect("reckons");
        whole(&answer);
        assert_eq!(shown(&answer, name), width, "{typed}");
    }
    for (width, threads) in [
        ("8 mm", "M5: hexagon, M6: hexagon with a small flange"),
        ("10 mm", "M6: hexagon"),
        ("12 mm", "M8: hexagon with a small flange"),
        ("11.8 mm", "M8: hexagon with a small flange"),
        ("13 mm", "M8: hexagon"),
        ("17 mm", "M10: hexagon of the older widths, M12: hexagon with a small flange"),
        ("19 mm", "M12: hexagon of the older widths, M12: wheel nut"),
    ] {
        let answer = ThreadsOfHead { width: read(Kind::Length, width) }.reckon().expect("reckons");
        whole(&answer);
        assert_eq!(answer.list("threads").expect("threads").join(", "), threads, "{width}");
    }
    refused(ThreadsOfHead { width: mm(11.0) }.reckon(), "UNKNOWN", "5.5, 7, 8, 10, 12");
    refused(AcrossFlats { thread: thread("M9") }.reckon(), "UNKNOWN", "measure the head");
}
