//! What the strip book says: what is open in it, in which order things come off and go back.

mod balance;
mod changes;
mod ladder;
mod order;
mod standing;
mod waking;

pub(crate) use balance::not_tight;
pub use balance::{
    Open, is_unsaid, may_hide, never_there, not_taken, of_position, open, pieces_left, places_left, unsaid,
};
pub use changes::{RefitChange, changes};
pub use ladder::{NextRung, attempts, ladder_of, moved, next_rung, ruined, stuck, usual_ladder};
pub(crate) use ladder::{past_trying, rung, rung_by_itself, skipped_last_safe};
pub use order::cures_until;
pub use order::{Refit, refit};
pub(crate) use order::{first, is_back_on, is_open, pairs, ring};
pub use standing::{NewPart, Standing, attached, new_part};
pub(crate) use waking::{
    asks_for_two, before as stages_before, fewer, is_work, open_alive, open_at_hold, open_before, open_while, said,
    wakes,
};

use crate::state::State;
use leadhand_facts::rows::{PositionRow, StepRow};
use leadhand_facts::{JobNo, PositionKey};

/// How a step begins that was added to fit new pieces.
pub(crate) const FIT_NEW: &str = "Fit new: ";

/// Whether nobody wrote a step: it was added to fit new pieces where some were missing, ruined or always renewed.
pub(crate) fn fits_new(step: &StepRow) -> bool {
    // Steps of jobs that are older than the field say it in their words.
    let said = || step.unplanned && step.instruction.as_ref().is_some_and(|words| words.starts_with(FIT_NEW));
    step.fits.is_some() || said()
}

/// The positions of a job, by key.
pub fn positions(state: &State, job: JobNo) -> impl Iterator<Item = &PositionRow> {
    state.positions.from_key((job, PositionKey(String::new()))).take_while(move |row| row.job == job)
}
