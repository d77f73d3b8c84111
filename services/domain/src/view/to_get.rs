//! What is needed and stands in no stock: new pieces of no item, and what takes up a fluid that runs out.

use super::parts::Title;
use super::ready::{GoodsLine, Place};
use crate::state::State;
use crate::strip;
use leadhand_facts::rows::{PositionRow, StageRow, StepRow};
use leadhand_facts::words::{Hazard, JobState, Manner};
use leadhand_facts::{JobNo, PositionKey, StageKey, StepNo};

/// How whatever takes up a fluid is called wherever somebody lists it.
const ABSORBENT: &str = "absorbent";

/// New pieces of a position for which no item of the stock is named: nobody sets them aside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToGet {
    /// The position.
    pub position: PositionKey,
    /// What it is called.
    pub what: Title,
    /// How many pieces are still to be got.
    pub pieces: i32,
    /// The stage in which it goes back, where that is known.
    pub back: Option<StageKey>,
}

/// Something that is used up, and stands in no stock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Consumable {
    /// What, and how much of it.
    pub what: String,
    /// Where it is needed first.
    pub first: Place,
}

/// What is to be got for a job that is open, by key: for what was missing or was damaged, and for what is always renewed.
pub fn to_get(state: &State, job: JobNo) -> Vec<ToGet> {
    let open = state.jobs.get(&(job,)).is_some_and(|row| row.state == JobState::Open);
    let off = strip::positions(state, job).filter(|row| open && row.off_n.is_some() && row.detail.manner != Manner::In);
    off.filter_map(|row| of_position(state, row)).collect()
}

fn of_position(state: &State, row: &PositionRow) -> Option<ToGet> {
    let part = strip::new_part(state, row).filter(|part| part.item.is_none())?;
    let pieces = (part.pieces - row.renewed - row.left_out).min(strip::places_left(row));
    let what = Title::of(row.what.as_ref(), row.what_text);
    (pieces > 0).then(|| ToGet { position: row.position.clone(), what, pieces, back: row.detail.back.clone() })
}

/// The same for the stages of a list; what goes back nobody knows where is told at the first stage of its job.
pub(super) fn at_stages(state: &State, rows: &[&StageRow]) -> Vec<(Place, ToGet)> {
    let mut all = Vec::new();
    for (at, row) in rows.iter().enumerate() {
        let first = rows[..at].iter().all(|other| other.job != row.job);
        let here = |one: &ToGet| one.back.as_ref().map_or(first, |back| *back == row.stage);
        let place = Place { stage: at, step: StepNo(0) };
        all.extend(to_get(state, row.job).into_iter().filter(here).map(|one| (place, one)));
    }
    all
}

/// Absorbent, before fuel is opened or a fluid comes out: the usual measure, common practice without a source. What a
/// template lists itself, as an item or among the tools, is not told again.
pub(super) fn absorbent(rows: &[&StageRow], steps: &[(Place, &StepRow)], goods: &[GoodsLine]) -> Option<Consumable> {
    let runs_out = |step: &StepRow| !step.safety.fluids.is_empty() || step.safety.hazards.contains(&Hazard::Fuel);
    let (first, _) = steps.iter().find(|(_, step)| runs_out(step))?;
    let is_it = |words: &str| words.to_lowercase().contains(ABSORBENT);
    let stocked = |line: &GoodsLine| is_it(line.item.as_str()) || line.name.as_deref().is_some_and(is_it);
    let tools = rows.iter().flat_map(|row| &row.tools).chain(steps.iter().flat_map(|(_, step)| &step.tools));
    let listed = goods.iter().any(stocked) || tools.into_iter().any(|tool| is_it(tool));
    let what = format!(
        "{ABSORBENT}, enough for all that can run out, and a closed container for what is soaked (usual measure, common \
         practice; no item of the stock is listed for it)"
    );
    (!listed).then_some(Consumable { what, first: *first })
}
