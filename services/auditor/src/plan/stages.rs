//! Times, people and precedence of one stage.

use super::{Faults, Row, after};
use leadhand_facts::plan::{PlanInput, StageNow};
use leadhand_facts::words::StageKind;
use std::collections::BTreeSet;

pub(super) fn times(input: &PlanInput, row: &Row<'_>, faults: &mut Faults) {
    let planned = row.planned;
    let within = input.at <= planned.from && planned.from <= planned.until && planned.until <= input.until;
    faults.demand(within, "time", row, || format!("it lies from {} until {}", planned.from, planned.until));
    if row.started() {
        return;
    }
    let said = row.said;
    let bounds = [
        ("the vehicle comes", Some(row.job.here_from)),
        ("its parts come", said.parts_from),
        ("its blocker ends", said.blocker.as_ref().and_then(|b| b.until)),
        ("the other blocker ends", said.blocker.as_ref().and_then(|b| b.beside.as_ref()).map(|held| held.until)),
        ("the lead said", said.pin.from.filter(|_| !said.begun)),
    ];
    for (what, bound) in bounds {
        let Some(bound) = bound else { continue };
        faults.demand(bound <= planned.from, "too-early", row, || format!("it starts before {what}, at {bound}"));
    }
}

pub(super) fn people(input: &PlanInput, row: &Row<'_>, faults: &mut Faults) {
    let (planned, said) = (row.planned, row.said);
    let people: BTreeSet<_> = planned.people.iter().collect();
    if said.kind == StageKind::Wait {
        faults.demand(people.is_empty(), "people", row, || "a wait needs nobody".to_owned());
        return;
    }
    faults.demand(people.len() == planned.people.len(), "people", row, || "somebody is on it twice".to_owned());
    let kept = match &said.now {
        StageNow::Started { people } if !people.is_empty() => Some(people),
        _ if !said.pin.people.is_empty() => Some(&said.pin.people),
        _ => None,
    };
    if let Some(kept) = kept {
        let same = kept.iter().collect::<BTreeSet<_>>() == people;
        faults.demand(same, "kept-people", row, || "it is with others than those who have it".to_owned());
        return;
    }
    let hands = usize::try_from(said.hands).unwrap_or(0).max(1);
    faults.demand(people.len() == hands, "hands", row, || format!("{} are on it, and it takes {hands}", people.len()));
    for person in people {
        let technician = input.technicians.iter().find(|t| t.person == *person);
        let able = technician.is_some_and(|t| said.skills.iter().all(|skill| t.skills.contains(skill)));
        faults.demand(able, "skill", row, || format!("{person} has not all of {}", said.skills.join(", ")));
    }
}

pub(super) fn order(row: &Row<'_>, rows: &[Row<'_>], faults: &mut Faults) {
    if row.started() {
        return;
    }
    for before in &row.said.after {
        let Some(said) = row.job.stages.iter().find(|s| s.stage == before.stage) else { continue };
        let same = |r: &&Row<'_>| r.job.job == row.job.job && r.said.stage == before.stage;
        let finished = said.now.over().or_else(|| rows.iter().find(same).map(|r| r.planned.until));
        let kept = finished.is_some_and(|at| after(at, before.wait_minutes.max(0)) <= row.planned.from);
        faults.demand(kept, "order", row, || {
            format!("it starts before {} is over by {} min", before.stage, before.wait_minutes)
        });
    }
}
