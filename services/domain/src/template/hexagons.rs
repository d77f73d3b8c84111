//! Whether a hexagon belongs to its thread. What does not is noted and never a fault: makers have sizes of their own,
//! and whoever measured is right.
//!
//! Across flats by ISO 272; the older widths 17, 19 and 22 mm still meet; small flanges by common practice. Pitches by
//! ISO 261. Both as the trade reference has them, seen in copies.

use super::fault::{Fault, Faults};
use super::walk::Draft;
use leadhand_facts::strip::PositionSpec;
use leadhand_facts::words::PositionKind;

/// A nominal diameter in millimetres, its pitches in thousandths, coarse first, and the widths across flats in mm: by
/// ISO 272 first.
struct Thread {
    nominal: i64,
    pitches: &'static [i64],
    flats: &'static [i64],
}

const THREADS: [Thread; 5] = [
    Thread { nominal: 6, pitches: &[1_000, 750], flats: &[10, 8] },
    Thread { nominal: 8, pitches: &[1_250, 1_000, 750], flats: &[13, 12] },
    Thread { nominal: 10, pitches: &[1_500, 1_250, 1_000, 750], flats: &[16, 17, 14] },
    Thread { nominal: 12, pitches: &[1_750, 1_500, 1_250, 1_000], flats: &[18, 19, 17] },
    Thread { nominal: 14, pitches: &[2_000, 1_500, 1_250, 1_000], flats: &[21, 22] },
];

/// What is worth a second look in a template without fault, where it stands.
pub(super) fn notes(draft: &Draft, faults: &Faults<'_>) -> Vec<Fault> {
    let mut found = Vec::new();
    for (spec, at) in positions(draft) {
        for message in of_position(spec) {
            let place = faults.position(at);
            found.push(Fault { line: place.line, column: place.column, message });
        }
    }
    found.sort();
    found
}

fn positions(draft: &Draft) -> impl Iterator<Item = (&PositionSpec, usize)> {
    let steps = draft.template.stages.iter().flat_map(|stage| &stage.steps);
    let sites = draft.stages.iter().flat_map(|stage| &stage.steps);
    steps.zip(sites).flat_map(|(step, site)| {
        step.positions.iter().zip(&site.positions).map(|(position, site)| (position, site.key))
    })
}

fn of_position(spec: &PositionSpec) -> Vec<String> {
    let Some(size) = spec.detail.size.as_deref().filter(|_| spec.detail.kind == PositionKind::Fastener) else {
        return Vec::new();
    };
    let Some((nominal, pitch)) = thread(size) else { return Vec::new() };
    let Some(known) = THREADS.iter().find(|known| known.nominal == nominal) else { return Vec::new() };
    let mut notes = Vec::new();
    let key = spec.key.as_str();
    if let Some(pitch) = pitch.filter(|pitch| !known.pitches.contains(pitch)) {
        let pitch = format!("{}.{:03}", pitch / 1000, pitch % 1000);
        let pitch = pitch.trim_end_matches('0').trim_end_matches('.');
        notes.push(format!("position '{key}': M{nominal} has no pitch of {pitch} mm in ISO 261; measure it again"));
    }
    let flats = spec.detail.head.as_deref().and_then(hexagon);
    if let Some(flats) = flats.filter(|flats| !known.flats.contains(flats)) {
        let usual: Vec<String> = known.flats.iter().map(|flats| format!("{flats} mm")).collect();
        let usual = usual.join(", ");
        notes.push(format!(
            "position '{key}': a hexagon of {flats} mm is unusual on M{nominal} (ISO 272, older and small-flange: {usual}); measure it again"
        ));
    }
    notes
}

/// Nominal diameter and pitch of `M8 x 1.25 x 35` or `M6 x 20`; the second number is a pitch only up to 3.
fn thread(size: &str) -> Option<(i64, Option<i64>)> {
    let rest = size.trim_start().strip_prefix('M')?;
    let mut numbers = rest.split(['x', '×']).map(str::trim);
    let nominal = numbers.next()?.parse().ok()?;
    let pitch = numbers.next().and_then(|second| super::amount::thousandths(second.split(' ').next()?));
    Some((nominal, pitch.filter(|pitch| *pitch <= 3_000)))
}

/// The width across flats of `13 mm hexagon`.
pub(crate) fn hexagon(head: &str) -> Option<i64> {
    let width = head.split_once(" mm").filter(|(_, rest)| rest.contains("hexagon") && !rest.contains("socket"))?.0;
    width.trim().parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_facts::strip::PositionDetail;
    use leadhand_facts::words::Manner;

    fn noted(size: &str, head: &str) -> Vec<String> {
        let detail = PositionDetail {
            size: Some(size.into()),
            head: Some(head.into()),
            ..PositionDetail::plain(PositionKind::Fastener, Manner::Off, 1)
        };
        of_position(&PositionSpec { key: "bolts".into(), what: "Bolts".into(), detail })
    }

    /// Across flats of ISO 272 for M6 to M14, and the pitches of ISO 261 for them (seen in copies).
    #[test]
    fn what_the_standards_have_is_not_noted() {
        for (nominal, coarse, fine, flats) in [
            (6, "1", "0.75", 10),
            (8, "1.25", "1", 13),
            (10, "1.5", "1.25", 16),
            (12, "1.75", "1.25", 18),
            (14, "2", "1.5", 21),
        ] {
            for pitch in [coarse, fine] {
                let size = format!("M{nominal} x {pitch} x 40");
                assert_eq!(noted(&size, &format!("{flats} mm hexagon")), Vec::<String>::new(), "{size}");
            }
            let others = [10, 13, 16, 18, 21].into_iter().filter(|other| *other != flats);
            for other in others {
                let size = format!("M{nominal} x 40");
                assert_eq!(noted(&size, &format!("{other} mm hexagon")).len(), 1, "{other} mm on {size}");
            }
        }
    }

    /// Older widths (17, 19, 22), and small flanges by common practice, no source.
    #[test]
    fn older_and_small_flange_widths_are_usual_too() {
        for (size, flats) in [("M10", 17), ("M12", 19), ("M14", 22), ("M8", 12), ("M10", 14), ("M12", 17), ("M6", 8)] {
            assert_eq!(noted(size, &format!("{flats} mm hexagon, small flange")), Vec::<String>::new());
        }
    }

    #[test]
    fn a_strange_pitch_is_noted_and_what_is_not_read_is_left_alone() {
        let strange = noted("M8 x 1.5 x 30", "13 mm hexagon");
        assert_eq!(strange, ["position 'bolts': M8 has no pitch of 1.5 mm in ISO 261; measure it again"]);
        for (size, head) in [
            ("M8 x 35", "13 mm hexagon"),
            ("5/16 in", "13 mm hexagon"),
            ("M7 x 1", "11 mm hexagon"),
            ("M10 x 1.25", "T45"),
            ("M10", "8 mm hexagon socket"),
            ("", ""),
        ] {
            assert_eq!(noted(size, head), Vec::<String>::new(), "{size} {head}");
        }
    }
}
