//! What held the shop up, stretch by stretch: whether a cause grows rarer from week to week is seen nowhere else.

use super::audit::{AuditLine, AuditReport, By, Subject, line_of, stage_lines};
use super::parts::Index;
use crate::state::State;
use leadhand_facts::words::{Cause, Label};
use leadhand_facts::{Instant, Window};
use std::collections::{BTreeMap, BTreeSet};

/// Adds up, over the jobs that are loaded, how long each cause was the earliest that held a stage up within each stretch
/// between two of these instants, which ascend. A line a stretch and cause, in this order, with the number of stages and
/// jobs that it held up there; what runs over an end counts on both sides with what lies there.
pub fn lost(state: &State, now: Instant, cuts: &[Instant]) -> AuditReport {
    let index = Index::of(state);
    let windows: Vec<Window> = cuts.windows(2).map(|pair| Window { from: pair[0], until: pair[1] }).collect();
    let mut lines: BTreeMap<Subject, AuditLine> = BTreeMap::new();
    for job in state.jobs.iter() {
        let mut in_job: BTreeSet<(Window, Cause)> = BTreeSet::new();
        for stage in stage_lines(&index, job, now) {
            let mut in_stage: BTreeSet<(Window, Cause)> = BTreeSet::new();
            for piece in pieces(&stage, &windows) {
                let line = line_of(&mut lines, Subject::Lost { window: piece.window, cause: piece.cause });
                *line.totals.blocked_us.entry(piece.cause).or_default() += piece.us;
                line.facts.extend(piece.facts);
                in_stage.insert((piece.window, piece.cause));
            }
            for (window, cause) in &in_stage {
                line_of(&mut lines, Subject::Lost { window: *window, cause: *cause }).counts.stages += 1;
            }
            in_job.extend(in_stage);
        }
        for (window, cause) in in_job {
            line_of(&mut lines, Subject::Lost { window, cause }).counts.jobs += 1;
        }
    }
    AuditReport {
        number: state.head,
        at: now,
        by: By::Cause,
        lines: lines.into_values().collect(),
        names: BTreeMap::new(),
    }
}

/// What of a stage one cause held up within a stretch.
struct Piece<'a> {
    window: Window,
    cause: Cause,
    us: i64,
    facts: &'a [i64],
}

/// What of a stage was held up, cut at the ends of the stretches.
fn pieces<'a>(stage: &'a AuditLine, windows: &'a [Window]) -> impl Iterator<Item = Piece<'a>> {
    let held = stage.segments.iter().filter(|segment| segment.label == Label::Blocked);
    held.filter_map(|segment| Some((segment, segment.cause?))).flat_map(|(segment, cause)| {
        windows.iter().filter_map(move |window| {
            let us = segment.until.min(window.until).since_us(segment.from.max(window.from));
            (us > 0).then(|| Piece { window: *window, cause, us, facts: &segment.facts })
        })
    })
}
