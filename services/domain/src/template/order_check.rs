//! Whether what a template takes off can be taken off in the order of its stages and steps, and goes back in the other one.

use super::fault::Faults;
use super::fields::shorten;
use super::positions_check::{all, reaches};
use super::walk::Draft;
use crate::strip::pairs;
use leadhand_facts::strip::PositionSpec;
use leadhand_facts::template::StageSpec;
use leadhand_facts::words::Manner;
use leadhand_facts::{PositionKey, StageKey};
use std::collections::BTreeMap;

/// Where a position comes off.
struct Place<'d> {
    stage: &'d StageSpec,
    /// The step of that stage, from 0.
    step: usize,
    position: &'d PositionSpec,
    /// Where its key stands in the file.
    at: usize,
}

/// Refuses what would come off before something that has to come off first, and what would go back before something that has
/// to be back first. Stages side by side bind nobody.
pub(super) fn check(draft: &Draft, faults: &mut Faults<'_>) {
    let stages: BTreeMap<&StageKey, &StageSpec> =
        draft.template.stages.iter().map(|stage| (&stage.key, stage)).collect();
    let places: BTreeMap<&PositionKey, Place<'_>> = places(draft).map(|place| (&place.position.key, place)).collect();
    for (_, position, _) in all(draft) {
        let detail = &position.detail;
        for (first, later) in pairs(&position.key, &detail.behind, detail.attached_to.as_ref()) {
            let (Some(first), Some(later)) = (places.get(first), places.get(later)) else { continue };
            // What is put in has rules of its own, and what names itself is a fault already.
            let put_in = |place: &Place<'_>| place.position.detail.manner == Manner::In;
            if put_in(first) || put_in(later) || first.at == later.at {
                continue;
            }
            // What is only moved aside takes along what hangs on it.
            let hangs = detail.attached_to.as_ref() == Some(&later.position.key);
            if !(hangs && later.position.detail.manner == Manner::Aside) {
                off(&stages, first, later, faults);
            }
            back(&stages, first, later, faults);
        }
    }
}

fn off(stages: &BTreeMap<&StageKey, &StageSpec>, first: &Place<'_>, later: &Place<'_>, faults: &mut Faults<'_>) {
    let (one, other) = (shorten(later.position.key.as_str()), shorten(first.position.key.as_str()));
    if first.stage.key == later.stage.key {
        if later.step < first.step {
            let (early, late) = (later.step + 1, first.step + 1);
            let why = format!("which comes off at step {late}, after it at step {early}");
            faults.at(later.at, format!("position '{one}' comes off only after '{other}', {why}; move one of them"));
        }
    } else if reaches(stages, &first.stage.key, &later.stage.key) {
        let (early, late) = (shorten(later.stage.key.as_str()), shorten(first.stage.key.as_str()));
        let why = format!("which comes off in '{late}', a later stage than '{early}'");
        faults.at(later.at, format!("position '{one}' comes off only after '{other}', {why}; move one of them"));
    }
}

fn back(stages: &BTreeMap<&StageKey, &StageSpec>, first: &Place<'_>, later: &Place<'_>, faults: &mut Faults<'_>) {
    let (Some(over), Some(under)) = (&first.position.detail.back, &later.position.detail.back) else { return };
    if over == under || !stages.contains_key(over) || !reaches(stages, under, over) {
        return;
    }
    let (one, other) = (shorten(first.position.key.as_str()), shorten(later.position.key.as_str()));
    let (early, late) = (shorten(over.as_str()), shorten(under.as_str()));
    let why = format!("and goes back in '{early}', where '{other}' is not yet: that goes back in '{late}'");
    faults.at(
        first.at,
        format!("position '{one}' goes back after '{other}', {why}; name a later stage, or an earlier one there"),
    );
}

fn places(draft: &Draft) -> impl Iterator<Item = Place<'_>> {
    let stages = draft.template.stages.iter().zip(&draft.stages);
    stages.flat_map(|(stage, stage_site)| {
        let steps = stage.steps.iter().zip(&stage_site.steps).enumerate();
        steps.flat_map(move |(number, (step, site))| {
            let positions = step.positions.iter().zip(&site.positions);
            positions.map(move |(position, site)| Place { stage, step: number, position, at: site.key })
        })
    })
}
