//! What a reading says by its limits. All of it is whole numbers, so that a figure at a limit is at it.
//!
//! A figure that is given with six decimals is judged as it is; a share is judged by cross-multiplying, and rounded
//! only to be shown.

use crate::state::State;
use leadhand_facts::reading::{OffLimit, ReadingDetail};
use leadhand_facts::rows::ReadingRow;
use leadhand_facts::words::{Decision, ReadingKind, ReadingUnit, Verdict};
use leadhand_facts::{JobNo, Measure, ReadingKey, StageKey};

/// Figures of a pressure that is held: at the beginning, at the end, and the minutes between.
const HELD: [&str; 3] = ["begin", "end", "minutes"];

/// The readings of a job, by key.
pub fn readings(state: &State, job: JobNo) -> impl Iterator<Item = &ReadingRow> {
    state.readings.from_key((job, ReadingKey(String::new()))).take_while(move |row| row.job == job)
}

/// The readings of a stage, by key.
pub fn of_stage<'a>(state: &'a State, job: JobNo, stage: &'a StageKey) -> impl Iterator<Item = &'a ReadingRow> {
    readings(state, job).filter(move |row| row.stage == *stage)
}

/// Whether a leak is given by the pressures before and behind the orifice, and not as a share.
fn is_leak_by_pressure(detail: &ReadingDetail) -> bool {
    detail.kind == ReadingKind::LeakDown && detail.unit != ReadingUnit::Percent
}

/// What each figure is of, in the order in which they are given.
pub fn slots(detail: &ReadingDetail) -> Vec<String> {
    if detail.kind == ReadingKind::PressureHeld {
        return HELD.map(str::to_owned).into();
    }
    let alone = [String::new()];
    let labels = if detail.labels.is_empty() { &alone[..] } else { &detail.labels[..] };
    if !is_leak_by_pressure(detail) {
        return labels.to_vec();
    }
    let pair = |label: &String| ["before", "behind"].map(|end| format!("{label} {end}").trim_start().to_owned());
    labels.iter().flat_map(pair).collect()
}

/// How a reading comes out, and which limits it does not keep.
pub fn judge(detail: &ReadingDetail, figures: &[Measure]) -> (Verdict, Vec<OffLimit>) {
    if detail.low.or(detail.high).or(detail.spread).or(detail.drop).is_none() && detail.minutes.is_none() {
        return (Verdict::Free, Vec::new());
    }
    let off = match detail.kind {
        ReadingKind::PressureHeld => held(detail, figures),
        ReadingKind::Flatness if figures.len() > 1 => flat(detail, figures),
        _ if is_leak_by_pressure(detail) => leaks(detail, figures),
        _ => each(detail, figures),
    };
    (if off.is_empty() { Verdict::In } else { Verdict::Out }, off)
}

fn place(at: usize) -> i32 {
    i32::try_from(at).unwrap_or(i32::MAX)
}

fn each(detail: &ReadingDetail, figures: &[Measure]) -> Vec<OffLimit> {
    let mut off = Vec::new();
    for (at, figure) in figures.iter().enumerate() {
        if detail.low.is_some_and(|low| *figure < low) {
            off.push(OffLimit::Low(place(at)));
        }
        if detail.high.is_some_and(|high| *figure > high) {
            off.push(OffLimit::High(place(at)));
        }
    }
    if let (Some(most), Some((low, high))) = (detail.spread, ends(figures)) {
        let apart = (wide(high) - wide(low)) * 100 * i128::from(Measure::ONE);
        if apart > wide(most) * wide(high) {
            off.push(OffLimit::Spread);
        }
    }
    off
}

fn wide(figure: Measure) -> i128 {
    i128::from(figure.0)
}

fn ends(figures: &[Measure]) -> Option<(Measure, Measure)> {
    Some((*figures.iter().min()?, *figures.iter().max()?))
}

/// The range of the heights, without levelling them. It is never less than the minimum zone, so a surface that keeps
/// its limit by the range keeps it by the zone.
fn flat(detail: &ReadingDetail, figures: &[Measure]) -> Vec<OffLimit> {
    let range = ends(figures).map_or(0, |(low, high)| wide(high) - wide(low));
    let far = detail.high.is_some_and(|most| range > wide(most));
    if far { vec![OffLimit::Range] } else { Vec::new() }
}

/// The share that a cylinder lets go, from the pressures before and behind the orifice: 100 (P1 - P2) / P1.
fn leaks(detail: &ReadingDetail, figures: &[Measure]) -> Vec<OffLimit> {
    let mut off = Vec::new();
    for (at, pair) in figures.chunks_exact(2).enumerate() {
        let lost = (wide(pair[0]) - wide(pair[1])) * 100 * i128::from(Measure::ONE);
        if detail.low.is_some_and(|low| lost < wide(low) * wide(pair[0])) {
            off.push(OffLimit::Low(place(at)));
        }
        if detail.high.is_some_and(|high| lost > wide(high) * wide(pair[0])) {
            off.push(OffLimit::High(place(at)));
        }
    }
    off
}

fn held(detail: &ReadingDetail, figures: &[Measure]) -> Vec<OffLimit> {
    let [begin, end, minutes] = figures else { return Vec::new() };
    let mut off = Vec::new();
    if detail.low.is_some_and(|low| *begin < low) {
        off.push(OffLimit::Low(0));
    }
    if detail.high.is_some_and(|high| *begin > high) {
        off.push(OffLimit::High(0));
    }
    if detail.drop.is_some_and(|most| wide(*begin) - wide(*end) > wide(most)) {
        off.push(OffLimit::Drop);
    }
    if detail.minutes.is_some_and(|least| *minutes < Measure::whole(least)) {
        off.push(OffLimit::Short);
    }
    off
}

/// How many times beyond a limit a figure is asked about: less than a lost point makes of a good one.
const FAR: i128 = 8;
/// How many times below the least: a worn-out cylinder has little left, and is a figure.
const FAR_BELOW: i128 = 20;

/// The first figure that lies so far from its limits that it was probably read in another unit, or without its point; with
/// its place. Nothing measured at all (0) is no such figure, and a share is not compared with a pressure.
pub fn far_off(detail: &ReadingDetail, figures: &[Measure]) -> Option<(usize, Measure)> {
    let grid = detail.kind == ReadingKind::Flatness && figures.len() > 1;
    if is_leak_by_pressure(detail) || grid {
        return None;
    }
    let size = |limit: Measure| wide(limit).abs();
    let most = [detail.low, detail.high].into_iter().flatten().map(size).max().filter(|most| *most > 0)?;
    let least = detail.low.filter(|low| low.0 > 0).map(wide);
    let far = |figure: &Measure| {
        size(*figure) > most * FAR || least.is_some_and(|least| figure.0 > 0 && wide(*figure) * FAR_BELOW < least)
    };
    let pressures = if detail.kind == ReadingKind::PressureHeld { 2 } else { figures.len() };
    figures.iter().copied().enumerate().take(pressures).find(|(_, figure)| far(figure))
}

/// A held pressure that ends higher than it began by more than it may fall, which says that the two were changed over or
/// that it warmed up.
pub fn rose(detail: &ReadingDetail, figures: &[Measure]) -> Option<(Measure, Measure)> {
    let [begin, end, _] = figures else { return None };
    let most = detail.drop.map_or(0, wide);
    let up = detail.kind == ReadingKind::PressureHeld && wide(*end) - wide(*begin) > most;
    up.then_some((*begin, *end))
}

/// A figure with its unit; a plain number has none.
pub fn in_unit(figure: Measure, unit: ReadingUnit) -> String {
    if unit == ReadingUnit::One { figure.to_string() } else { format!("{figure} {}", unit.shown()) }
}

/// What follows from the figures and is looked at first, in words; shares are rounded half up to a tenth.
pub fn derived(detail: &ReadingDetail, figures: &[Measure]) -> Vec<String> {
    match detail.kind {
        ReadingKind::Flatness if figures.len() > 1 => range_of(detail, figures),
        ReadingKind::PressureHeld => fall_of(detail, figures),
        _ if is_leak_by_pressure(detail) => leaks_of(detail, figures),
        ReadingKind::Compression if figures.len() > 1 => spread_of(figures),
        _ if detail.spread.is_some() => spread_of(figures),
        _ => Vec::new(),
    }
}

fn range_of(detail: &ReadingDetail, figures: &[Measure]) -> Vec<String> {
    let Some((low, high)) = ends(figures) else { return Vec::new() };
    let range = Measure(high.0 - low.0);
    vec![format!(
        "range of the heights {range} {}, not levelled: never less than the minimum zone",
        detail.unit.shown()
    )]
}

fn fall_of(detail: &ReadingDetail, figures: &[Measure]) -> Vec<String> {
    let [begin, end, minutes] = figures else { return Vec::new() };
    vec![format!("fell by {} {} in {minutes} min", Measure(begin.0 - end.0), detail.unit.shown())]
}

fn leaks_of(detail: &ReadingDetail, figures: &[Measure]) -> Vec<String> {
    let labels = detail.labels.iter().map(|label| format!("{label}: ")).chain(std::iter::repeat(String::new()));
    let pairs = figures.chunks_exact(2).zip(labels);
    pairs.map(|(pair, label)| format!("{label}lets go {} %", share(wide(pair[0]) - wide(pair[1]), pair[0]))).collect()
}

fn spread_of(figures: &[Measure]) -> Vec<String> {
    let Some((low, high)) = ends(figures) else { return Vec::new() };
    vec![format!("lowest {} % below the highest", share(wide(high) - wide(low), high))]
}

/// A share in per cent, rounded half up to a tenth.
fn share(part: i128, whole: Measure) -> String {
    if whole.0 <= 0 {
        return "0".to_owned();
    }
    let tenths = (part * 2_000 + wide(whole)).div_euclid(wide(whole) * 2);
    let (size, sign) = (tenths.unsigned_abs(), if tenths < 0 { "-" } else { "" });
    match size % 10 {
        0 => format!("{sign}{}", size / 10),
        rest => format!("{sign}{}.{rest}", size / 10),
    }
}

/// A limit that was not kept, in words.
pub fn told(detail: &ReadingDetail, off: OffLimit) -> String {
    let label = |at: i32| {
        let named = usize::try_from(at).ok().and_then(|at| {
            if detail.kind == ReadingKind::PressureHeld { None } else { detail.labels.get(at).cloned() }
        });
        named.map(|label| format!("{label} ")).unwrap_or_default()
    };
    let unit = if is_leak_by_pressure(detail) { ReadingUnit::Percent } else { detail.unit }.shown();
    let limit = |limit: Option<Measure>| limit.map(|limit| limit.to_string()).unwrap_or_default();
    match off {
        OffLimit::Low(at) => format!("{}is below {} {unit}", label(at), limit(detail.low)),
        OffLimit::High(at) => format!("{}is above {} {unit}", label(at), limit(detail.high)),
        OffLimit::Range => {
            format!("the heights, as read and not levelled, lie more than {} {unit} apart", limit(detail.high))
        }
        OffLimit::Spread => format!("the lowest is more than {} % below the highest", limit(detail.spread)),
        OffLimit::Drop => format!("it fell by more than {} {unit}", limit(detail.drop)),
        OffLimit::Short => format!("it was held for less than {} min", detail.minutes.unwrap_or_default()),
    }
}

/// Its limits in words; empty when it has none.
pub fn limits(detail: &ReadingDetail) -> String {
    let unit = if is_leak_by_pressure(detail) { ReadingUnit::Percent } else { detail.unit }.shown();
    let mut all = Vec::new();
    match (detail.low, detail.high) {
        (Some(low), Some(high)) => all.push(format!("{low} to {high} {unit}")),
        (Some(low), None) => all.push(format!("at least {low} {unit}")),
        (None, Some(high)) => all.push(format!("at most {high} {unit}")),
        (None, None) => {}
    }
    all.extend(detail.spread.map(|spread| format!("lowest at most {spread} % below the highest")));
    all.extend(detail.drop.map(|drop| format!("falls by at most {drop} {unit}")));
    all.extend(detail.minutes.map(|minutes| format!("held for at least {minutes} min")));
    all.join(", ")
}

/// Whether it has to be taken, or taken again: nothing was measured, or a lead said that it be measured anew.
pub fn is_missing(row: &ReadingRow) -> bool {
    row.taken_n.is_none() || row.decision == Some(Decision::Again)
}

/// Whether what depends on it is held: it is out of its limits, and no lead let the work go on.
pub fn holds(row: &ReadingRow) -> bool {
    row.verdict == Some(Verdict::Out) && matches!(row.decision, None | Some(Decision::Again))
}

/// Whether a blocker stands for it: it is out of its limits, and no lead has decided anything.
pub fn awaits_lead(row: &ReadingRow) -> bool {
    row.verdict == Some(Verdict::Out) && row.decision.is_none()
}

/// A decimal as people write it, with up to six places behind the point, exactly.
pub fn read_measure(text: &str) -> Result<Measure, String> {
    crate::template::read_measure(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_told_as_people_write_them() {
        let detail = ReadingDetail {
            low: Some(Measure::whole(150)),
            ..ReadingDetail::plain(ReadingKind::Compression, ReadingUnit::Psi)
        };
        assert_eq!(limits(&detail), "at least 150 psi");
        assert_eq!(told(&detail, OffLimit::Low(0)), "is below 150 psi");
        assert_eq!(in_unit(Measure::whole(180), ReadingUnit::Psi), "180 psi");
        // What is shown can be typed, and so can its UCUM code.
        for unit in ReadingUnit::ALL {
            assert_eq!([unit.shown(), unit.word()].map(ReadingUnit::from_written), [Some(*unit); 2]);
        }
        assert_eq!(ReadingUnit::from_written("furlong"), None);
        let face = ReadingDetail {
            high: Some(Measure::whole(20)),
            ..ReadingDetail::plain(ReadingKind::Flatness, ReadingUnit::Micrometre)
        };
        assert_eq!(told(&face, OffLimit::Range), "the heights, as read and not levelled, lie more than 20 µm apart");
    }

    #[test]
    fn shares_are_rounded_half_up_to_a_tenth() {
        assert_eq!(share(1, Measure(8)), "12.5");
        assert_eq!(share(1, Measure(3)), "33.3");
        assert_eq!(share(2, Measure(3)), "66.7");
        assert_eq!(share(1, Measure(2_000)), "0.1", "0.05 is half of a tenth");
        assert_eq!(share(-1, Measure(4)), "-25");
        assert_eq!(share(1, Measure(0)), "0");
    }
}
