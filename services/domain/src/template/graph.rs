//! The order of the stages: what `after` names has to exist, and no ring may be in it.

use super::fault::Faults;
use super::fields::shorten;
use super::nearest::suggestion;
use super::walk::Draft;
use std::collections::BTreeMap;

/// An arrow from a stage to one that comes before it.
struct Before {
    stage: usize,
    at: usize,
}

/// Checks what each stage comes after.
pub(super) fn check(draft: &Draft, faults: &mut Faults<'_>) {
    let arrows = arrows(draft, faults);
    let mut alive = vec![true; arrows.len()];
    while let Some(ring) = next_ring(&arrows, &mut alive) {
        tell_ring(draft, &arrows, &ring, faults);
        for stage in ring {
            alive[stage] = false;
        }
    }
}

fn arrows(draft: &Draft, faults: &mut Faults<'_>) -> Vec<Vec<Before>> {
    let stages = &draft.template.stages;
    let mut index: BTreeMap<&str, usize> = BTreeMap::new();
    for (at, stage) in stages.iter().enumerate() {
        index.entry(stage.key.as_str()).or_insert(at);
    }
    let mut all = Vec::with_capacity(stages.len());
    for (stage, site) in stages.iter().zip(&draft.stages) {
        let what = shorten(stage.key.as_str());
        let mut mine: Vec<Before> = Vec::new();
        for (after, at) in stage.after.iter().zip(site.after.iter().copied()) {
            let name = shorten(after.stage.as_str());
            match index.get(after.stage.as_str()) {
                None => {
                    let others = index.keys().copied().filter(|key| *key != stage.key.as_str());
                    let near = if faults.has_room() { suggestion(after.stage.as_str(), others) } else { String::new() };
                    faults.absent(at, format!("stage '{what}' comes after '{name}', which is no stage here{near}"));
                }
                Some(before) if mine.iter().any(|known| known.stage == *before) => {
                    faults.at(at, format!("stage '{what}' comes after '{name}' twice; name it once"));
                }
                Some(before) => mine.push(Before { stage: *before, at }),
            }
        }
        all.push(mine);
    }
    all
}

/// A ring among the stages that are left, as stages of which each comes after the next. Stages
/// on no ring are taken off `alive` on the way.
fn next_ring(arrows: &[Vec<Before>], alive: &mut [bool]) -> Option<Vec<usize>> {
    let left = |stage: usize, alive: &[bool]| -> Option<usize> {
        arrows[stage].iter().map(|before| before.stage).find(|before| alive[*before])
    };
    // Whoever has nobody left in front is on no ring; going round until nothing changes.
    loop {
        let free: Vec<usize> = (0..alive.len()).filter(|s| alive[*s] && left(*s, alive).is_none()).collect();
        if free.is_empty() {
            break;
        }
        for stage in free {
            alive[stage] = false;
        }
    }
    // Everybody left has somebody in front, so walking forwards must come round.
    let mut path: Vec<usize> = Vec::new();
    let mut here = (0..alive.len()).find(|stage| alive[*stage])?;
    loop {
        if let Some(start) = path.iter().position(|seen| *seen == here) {
            return Some(path.split_off(start));
        }
        path.push(here);
        here = left(here, alive)?;
    }
}

/// Tells a ring at the arrow of its stage that is written first.
fn tell_ring(draft: &Draft, arrows: &[Vec<Before>], ring: &[usize], faults: &mut Faults<'_>) {
    let Some(start) = (0..ring.len()).min_by_key(|position| ring[*position]) else { return };
    let turned: Vec<usize> = ring[start..].iter().chain(&ring[..start]).copied().collect();
    let next = turned.get(1).copied().unwrap_or(turned[0]);
    let at = arrows[turned[0]].iter().find(|before| before.stage == next).map_or(0, |before| before.at);
    let name = |stage: &usize| format!("'{}'", shorten(draft.template.stages[*stage].key.as_str()));
    let mut names: Vec<String> = turned.iter().chain(&turned[..1]).map(name).collect();
    // A long ring is told by its beginning and its end.
    if names.len() > 12 {
        let dropped = names.len() - 11;
        names.splice(6..6 + dropped, [format!("{dropped} more")]);
    }
    let message = format!("stages wait for each other in a ring: {}; take one of these out", names.join(" after "));
    faults.at(at, message);
}
