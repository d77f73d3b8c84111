//! What has to hold between the positions of a template: what they name is there, nothing comes off before itself,
//! and whatever comes off goes back in a stage that comes later.

use super::fault::Faults;
use super::fields::shorten;
use super::nearest::suggestion;
use super::order_check;
use super::positions::PositionSite;
use super::walk::Draft;
use crate::strip::{pairs, ring};
use leadhand_facts::strip::PositionSpec;
use leadhand_facts::template::StageSpec;
use leadhand_facts::words::Manner;
use leadhand_facts::{PositionKey, StageKey};
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn check(draft: &Draft, faults: &mut Faults<'_>) {
    let known = duplicates(draft, faults);
    for (stage, position, site) in all(draft) {
        for (other, at) in position.detail.behind.iter().zip(&site.behind) {
            named(&known, position, other, *at, faults);
        }
        if let Some(other) = &position.detail.attached_to {
            named(&known, position, other, site.on, faults);
        }
        if let Some(back) = &position.detail.back {
            comes_later(draft, stage, position, back, site.back, faults);
        }
        if let Some(ladder) = &position.detail.ladder {
            let known = || draft.template.ladders.iter().map(|ladder| ladder.key.as_str());
            if !known().any(|key| key == ladder.as_str()) {
                let (own, name) = (shorten(position.key.as_str()), shorten(ladder.as_str()));
                let near = if faults.has_room() { suggestion(ladder.as_str(), known()) } else { String::new() };
                let why = "which is no [[ladder]] here";
                faults.absent(site.ladder, format!("position '{own}' goes by ladder '{name}', {why}{near}"));
            }
        }
    }
    refuse_out_too_early(draft, faults);
    // What rings has no order.
    if !refuse_ring(draft, &known, faults) {
        order_check::check(draft, faults);
    }
}

pub(super) fn all(draft: &Draft) -> impl Iterator<Item = (&StageSpec, &PositionSpec, &PositionSite)> {
    let stages = draft.template.stages.iter().zip(&draft.stages);
    stages.flat_map(|(stage, stage_site)| {
        let steps = stage.steps.iter().zip(&stage_site.steps);
        steps.flat_map(move |(step, site)| {
            step.positions.iter().zip(&site.positions).map(move |(position, site)| (stage, position, site))
        })
    })
}

/// Every key, with where it stands first.
fn duplicates<'d>(draft: &'d Draft, faults: &mut Faults<'_>) -> BTreeMap<&'d PositionKey, usize> {
    let mut first: BTreeMap<&PositionKey, usize> = BTreeMap::new();
    for (_, position, site) in all(draft).filter(|(_, position, _)| !position.key.0.is_empty()) {
        if let Some(earlier) = first.get(&position.key) {
            let (key, line) = (shorten(position.key.as_str()), faults.line_of(*earlier));
            faults
                .at(site.key, format!("position '{key}' is there already, in line {line}; give this one another key"));
        } else {
            first.insert(&position.key, site.key);
        }
    }
    first
}

fn named(
    known: &BTreeMap<&PositionKey, usize>,
    position: &PositionSpec,
    other: &PositionKey,
    at: usize,
    faults: &mut Faults<'_>,
) {
    let (own, name) = (shorten(position.key.as_str()), shorten(other.as_str()));
    if *other == position.key {
        faults.at(at, format!("position '{own}' names itself; take it out"));
    } else if !known.contains_key(other) {
        let keys = known.keys().map(|key| key.as_str());
        let near = if faults.has_room() { suggestion(other.as_str(), keys) } else { String::new() };
        faults.absent(at, format!("position '{own}' names '{name}', which is no position here{near}"));
    }
}

/// What comes off in a stage goes back in one that comes after it, by whatever way.
fn comes_later(
    draft: &Draft,
    stage: &StageSpec,
    position: &PositionSpec,
    back: &StageKey,
    at: usize,
    faults: &mut Faults<'_>,
) {
    let stages: BTreeMap<&StageKey, &StageSpec> =
        draft.template.stages.iter().map(|stage| (&stage.key, stage)).collect();
    let (own, name) = (shorten(position.key.as_str()), shorten(back.as_str()));
    if !stages.contains_key(back) {
        let keys = stages.keys().map(|key| key.as_str());
        let near = if faults.has_room() { suggestion(back.as_str(), keys) } else { String::new() };
        faults.absent(at, format!("position '{own}' goes back in '{name}', which is no stage here{near}"));
        return;
    }
    let (mut seen, mut ahead) = (BTreeSet::new(), vec![back]);
    while let Some(key) = ahead.pop() {
        if *key == stage.key {
            return;
        }
        if seen.insert(key) {
            ahead.extend(stages.get(key).into_iter().flat_map(|stage| &stage.after).map(|after| &after.stage));
        }
    }
    let from = shorten(stage.key.as_str());
    let why = format!("which does not come after '{from}', where it comes off");
    faults.at(at, format!("position '{own}' goes back in '{name}', {why}; name a later stage"));
}

/// What is put in and holds something comes out in the stage in which that is back, or in a later one; and it goes in
/// no later than in the stage in which that comes off.
fn refuse_out_too_early(draft: &Draft, faults: &mut Faults<'_>) {
    let stages: BTreeMap<&StageKey, &StageSpec> =
        draft.template.stages.iter().map(|stage| (&stage.key, stage)).collect();
    let put_in: BTreeMap<&PositionKey, (&StageSpec, &PositionSpec)> = all(draft)
        .filter(|(_, position, _)| position.detail.manner == Manner::In)
        .map(|(stage, position, _)| (&position.key, (stage, position)))
        .collect();
    for (stage, position, site) in all(draft) {
        for (other, at) in position.detail.behind.iter().zip(&site.behind) {
            let Some((goes_in, held)) = put_in.get(other) else { continue };
            let (own, name) = (shorten(position.key.as_str()), shorten(other.as_str()));
            if !reaches(&stages, &stage.key, &goes_in.key) {
                let (here, there) = (shorten(stage.key.as_str()), shorten(goes_in.key.as_str()));
                let why = format!("'{name}' goes in in '{there}', which does not come before '{here}'");
                faults.at(*at, format!("position '{own}' comes off only while {why}; put it in earlier"));
            }
            let (Some(back), Some(out)) = (&position.detail.back, &held.detail.back) else { continue };
            if !reaches(&stages, out, back) {
                let (back, out) = (shorten(back.as_str()), shorten(out.as_str()));
                let why = format!("'{name}' holds it until it is back in '{back}', and comes out in '{out}'");
                faults.at(*at, format!("position '{own}': {why}; name '{back}' or a later stage there"));
            }
        }
    }
}

/// Whether one stage is another, or comes after it by whatever way.
pub(super) fn reaches(stages: &BTreeMap<&StageKey, &StageSpec>, from: &StageKey, to: &StageKey) -> bool {
    let (mut seen, mut ahead) = (BTreeSet::new(), vec![from]);
    while let Some(key) = ahead.pop() {
        if key == to {
            return true;
        }
        if seen.insert(key) {
            ahead.extend(stages.get(key).into_iter().flat_map(|stage| &stage.after).map(|after| &after.stage));
        }
    }
    false
}

/// Says what would each come off before the other; whether there is such a ring.
fn refuse_ring(draft: &Draft, known: &BTreeMap<&PositionKey, usize>, faults: &mut Faults<'_>) -> bool {
    let of_one = all(draft).flat_map(|(_, position, _)| {
        pairs(&position.key, &position.detail.behind, position.detail.attached_to.as_ref())
    });
    let pairs: BTreeSet<_> =
        of_one.filter(|(one, other)| one != other && known.contains_key(*one) && known.contains_key(*other)).collect();
    let Some(ring) = ring(&pairs) else { return false };
    let at = ring.first().and_then(|key| known.get(*key)).copied().unwrap_or_default();
    let mut keys: Vec<String> = ring.iter().map(|key| format!("'{}'", shorten(key.as_str()))).collect();
    keys.truncate(12);
    let keys = keys.join(" before ");
    faults.at(at, format!("positions would each come off before the other: {keys}; take one 'behind' or 'on' out"));
    true
}
