//! The strip book of a job, as it is shown.

use crate::condition;
use crate::look;
use crate::state::State;
use crate::strip::{self, NewPart, NextRung, Open, Refit, RefitChange, Standing};
use leadhand_facts::rows::{AttemptRow, PositionRow, StageRow};
use leadhand_facts::strip::Rung;
use leadhand_facts::words::Manner;
use leadhand_facts::{Instant, JobNo, PersonId, PositionKey, TextId};
use std::collections::BTreeMap;

/// A strip book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StripView {
    /// Every position, in the order of the stages and steps that take it off.
    pub positions: Vec<PositionLine>,
    /// The refit in its order.
    pub refit: Vec<Refit>,
    /// What stands against handing the vehicle over.
    pub open: Vec<Open>,
    /// What else does, of the vehicle's condition.
    pub condition: Vec<condition::Open>,
    /// The journal number at which it is true.
    pub number: i64,
}

/// A position with what follows from it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PositionLine {
    /// Its row.
    pub row: PositionRow,
    /// Where it stands.
    pub standing: Standing,
    /// What still hangs on it, while it is on.
    pub attached: Vec<PositionKey>,
    /// Attempts, in order.
    pub attempts: Vec<AttemptRow>,
    /// What is to be tried next, once something was tried.
    pub next: Option<NextRung>,
    /// New pieces that it takes.
    pub part: Option<NewPart>,
}

/// Something that soaks before its turn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Soaking {
    /// Its row.
    pub row: PositionRow,
    /// Until when.
    pub until: Instant,
    /// Whether that is over.
    pub ready: bool,
}

impl StripView {
    /// Every text that it refers to, the names of persons aside.
    pub fn text_ids(&self) -> impl Iterator<Item = TextId> {
        self.positions.iter().flat_map(|line| {
            let row = &line.row;
            let own = [row.what_text, row.kept_at, row.note, row.reason, row.repair];
            let tried = line.attempts.iter().flat_map(|one| [one.plan, one.note, one.overridden]);
            let overruled = row.off_overruled.iter().chain(&row.back_overruled).map(|one| one.reason);
            own.into_iter().chain(tried).flatten().chain(overruled)
        })
    }

    /// Everybody who is named in it.
    pub fn persons(&self) -> impl Iterator<Item = PersonId> {
        self.positions.iter().flat_map(|line| {
            let row = &line.row;
            let own = [row.off_by, row.back_by, row.checked_by].into_iter().flatten();
            let tried = line.attempts.iter().filter_map(|one| one.person);
            let overruled = row.off_overruled.iter().chain(&row.back_overruled).filter_map(|one| one.by);
            own.chain(tried).chain(overruled).chain(line.next.iter().flat_map(|next| next.who.iter().copied()))
        })
    }
}

/// The strip book of a job that is loaded.
pub fn strip_view(state: &State, job: JobNo) -> StripView {
    let (rows, stages) = rows(state, job);
    let refit = strip::refit(&rows, &stages);
    let open = strip::unsaid(state, job).into_iter().chain(strip::open(rows.iter().copied())).collect();
    let positions = rows.into_iter().map(|row| line(state, row)).collect();
    StripView { positions, refit, open, condition: condition::open(state, job), number: state.head }
}

/// What the refit says now that it did not say at a journal number.
pub fn refit_changes(state: &State, job: JobNo, since: i64) -> Vec<RefitChange> {
    let (rows, stages) = rows(state, job);
    strip::changes(&rows, &stages, since)
}

/// The ladder by which a position is tried; nothing when there is no such position.
pub fn ladder(state: &State, job: JobNo, position: &PositionKey) -> Option<Vec<Rung>> {
    state.positions.get(&(job, position.clone())).map(|row| strip::ladder_of(state, row))
}

/// What soaks in a job, and whether it is ready at this time; what is off soaks no longer.
pub fn soaking(state: &State, job: JobNo, now: Instant) -> Vec<Soaking> {
    let rows = strip::positions(state, job).filter(|row| row.off_n.is_none());
    rows.filter_map(|row| row.soak_until.map(|until| Soaking { row: row.clone(), until, ready: until <= now }))
        .collect()
}

fn rows(state: &State, job: JobNo) -> (Vec<&PositionRow>, Vec<&StageRow>) {
    let stages: Vec<&StageRow> = look::stages_in_order(state, job);
    let place = |row: &PositionRow| stages.iter().position(|stage| stage.stage == row.stage);
    let listed = listed(state, job);
    let written = |row: &PositionRow| listed.get(&row.position).copied().unwrap_or(usize::MAX);
    let mut rows: Vec<&PositionRow> = strip::positions(state, job).collect();
    rows.sort_by_key(|row| (place(row), row.step.is_none(), row.step, row.added_n, written(row), row.position.clone()));
    (rows, stages)
}

/// Where each position stands in the template of a job, as far as that is loaded.
fn listed(state: &State, job: JobNo) -> BTreeMap<&PositionKey, usize> {
    let row = state.jobs.get(&(job,));
    let template = row.and_then(|row| state.templates.get(&(row.template.clone()?, row.revision?)));
    let stages = template.iter().flat_map(|template| &template.doc.stages);
    let positions = stages.flat_map(|stage| &stage.steps).flat_map(|step| &step.positions);
    positions.enumerate().map(|(at, position)| (&position.key, at)).collect()
}

fn line(state: &State, row: &PositionRow) -> PositionLine {
    let (job, position) = (row.job, &row.position);
    let lifted = row.off_n.is_none() && row.detail.manner != Manner::In;
    let attempts: Vec<AttemptRow> = strip::attempts(state, job, position).cloned().collect();
    let stuck = !attempts.is_empty() && (row.off_n.is_none() || row.damaged > 0);
    PositionLine {
        standing: Standing::of(row),
        attached: if lifted { strip::attached(state, job, position) } else { Vec::new() },
        next: if stuck { strip::next_rung(state, row) } else { None },
        part: strip::new_part(state, row),
        attempts,
        row: row.clone(),
    }
}
