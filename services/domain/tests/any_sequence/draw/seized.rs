//! What will not move, what soaks, what is not alike.

use super::Draw;
use super::strip::some_key;
use leadhand_domain::command::*;
use leadhand_facts::rows::{PositionRow, StageRow};
use leadhand_facts::words::{Outcome, StageState};
use leadhand_facts::*;

/// A position that is on, mostly of a stage under way and with several places.
fn on(draw: &mut Draw<'_>) -> (JobNo, PositionKey) {
    let at_work: Vec<(JobNo, StageKey)> = draw
        .state
        .stages
        .iter()
        .filter(|row: &&StageRow| row.state == StageState::Active)
        .map(|row| (row.job, row.stage.clone()))
        .collect();
    let known: Vec<PositionRow> = draw.state.positions.iter().filter(|row| row.off_n.is_none()).cloned().collect();
    let there = |row: &&PositionRow| at_work.contains(&(row.job, row.stage.clone()));
    let best: Vec<PositionRow> = known.iter().filter(there).cloned().collect();
    let from = if best.is_empty() || draw.rarely(10) { known } else { best };
    draw.one_of(&from).map_or_else(|| (JobNo(1), "cover".into()), |row| (row.job, row.position))
}

pub fn attempt(draw: &mut Draw<'_>) -> Command {
    let (job, position) = on(draw);
    let outcomes =
        [Outcome::NotMoved, Outcome::NotMoved, Outcome::Moved, Outcome::Rounded, Outcome::Broken, Outcome::ThreadGone];
    let outcome = draw.one_of(&outcomes).expect("there are some");
    RecordAttempt {
        job,
        position,
        rung: draw.rarely(4).then(|| i32::try_from(draw.between(1, 7)).expect("a small number")),
        outcome,
        pieces: draw.rarely(2).then_some(1),
        item: draw.rarely(3).then(|| "gasket".into()),
        plan: draw.sometimes("weld a nut on"),
        note: draw.sometimes("rusty"),
        blocked: draw.rarely(6),
        override_reason: if draw.rarely(5) { draw.sometimes("no time") } else { None },
    }
    .into()
}

pub fn soak(draw: &mut Draw<'_>) -> Command {
    let (job, position) = on(draw);
    let minutes = if draw.rarely(4) { 0 } else { i32::try_from(draw.between(1, 60)).expect("a small number") };
    SoakPosition { job, position, minutes }.into()
}

pub fn split(draw: &mut Draw<'_>) -> Command {
    let several: Vec<PositionRow> =
        draw.state.positions.iter().filter(|row| row.off_n.is_none() && row.detail.count > 1).cloned().collect();
    let position = some_key(draw, &several);
    let job = several.iter().find(|row| row.position == position).map_or(JobNo(1), |row| row.job);
    SplitPosition {
        job,
        position,
        part: draw.rarely(4).then(|| "longer".into()),
        what: draw.rarely(3).then(|| draw.words("the longer ones")),
        count: 1,
        size: Some("M8 x 45".into()),
        head: None,
        location: None,
    }
    .into()
}
