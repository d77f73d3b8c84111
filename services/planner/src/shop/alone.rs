//! When stages could begin at the earliest if their job were alone in the shop: what of a delay is the job's own.

use super::calendar::{Span, work_from};
use super::model::Model;

/// The earliest spans of a job's stages up to one, by their order in the job, if no other job had anybody or anything; never
/// later than any plan has them. Absent tools, closed bays and the moving of vehicles are not looked at.
pub(super) fn alone(model: &Model<'_>, i: usize) -> Vec<(usize, Span)> {
    let job = &model.jobs[model.stages[i].job];
    let mut spans: Vec<(usize, Span)> = Vec::new();
    for &k in &job.stages {
        let stage = &model.stages[k as usize];
        let mut ready = stage.release.max(if stage.started { 0 } else { job.ended });
        for &(p, lag) in &stage.preds {
            let before = spans.iter().find(|(at, _)| *at == p as usize).map(|(_, span)| span.until);
            ready = ready.max(before.map_or(0, |until| until.saturating_add(lag)));
        }
        let with = |&p: &u32| work_from(&[&model.people[p as usize].all], ready, stage.minutes, stage.may_pause);
        let own = Span { from: ready, until: ready.saturating_add(stage.minutes) };
        let span = if stage.hands == 0 { Some(own) } else { stage.crew.iter().filter_map(with).min() };
        spans.push((k as usize, span.unwrap_or(own)));
        if k as usize == i {
            break;
        }
    }
    spans
}
