//! The parts room: what is kept, what is set aside, and who goes without.
//!
//! - At a bin, *usable* is what is on hand without the expired part, and *free* is usable less
//!   what is set aside. Usable is never less than what is set aside, not even between two facts.
//! - While an item is short somewhere, nothing of it is free: whatever becomes free is set aside
//!   for shortages at once, the most urgent first ([`urgency`]). What is taken away from under
//!   reservations is taken from the least urgent first.
//! - Lots are chosen when goods move: first expiring first out, then first received, and what
//!   has expired is not issued. What comes back is taken from the lots received last.
//! - Lots whose last good day is over are marked before any command counts on them, so that the
//!   books never wait for the timer.
//! - A movement to or from a job names a step, and the step's demand is on the list, so that what
//!   lies at a job is known from its demand alone.

mod count;
mod cover;
mod displace;
mod expire;
mod fill;
mod find;
mod gainsaid;
mod import;
mod import_rows;
mod issue;
mod listing;
mod needs;
mod release;
mod reserve;
mod returned;
mod shelf;
mod urgency;

use crate::answer::Made;
use crate::command::Command;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;

pub use import::check as check_import;

pub(super) use expire::{expire_lots, needs_of_expiry};
pub(super) use find::must_be_pieces;
pub(super) use gainsaid::tell_gainsaid;
pub(super) use needs::{needs, needs_of_job, needs_of_named};
pub(super) use release::{close_step, release_job, use_up_job};
pub(super) use reserve::{at_hand, want};

/// Decides a command of the parts room; `None` for any other.
pub(super) fn decide(session: &mut Session, command: &Command) -> Option<Result<Made, Refusal>> {
    let made = decided(session, command)?;
    Some(made.map(|made| with_units(session.state, made)))
}

/// Lines with the units of their items, so that nobody has to look them up.
fn with_units(state: &State, made: Made) -> Made {
    let Made::Stock(mut lines) = made else { return made };
    for line in &mut lines {
        line.unit = state.items.get(&(line.item.clone(),)).map(|item| item.unit);
    }
    Made::Stock(lines)
}

fn decided(session: &mut Session, command: &Command) -> Option<Result<Made, Refusal>> {
    Some(match command {
        Command::AddItem(asked) => listing::add_item(session, asked),
        Command::SetItemFluid(asked) => listing::set_fluid(session, asked),
        Command::AddPlace(asked) => listing::add_place(session, asked),
        Command::ImportStock(asked) => import::import(session, asked),
        Command::ReceiveStock(asked) => listing::receive(session, asked),
        Command::ReserveStock(asked) => reserve::reserve(session, asked),
        Command::SetFillAside(asked) => fill::set_aside(session, asked),
        Command::IssueStock(asked) => issue::issue(session, asked),
        Command::ReturnStock(asked) => returned::take_back(session, asked),
        Command::ReleaseStock(asked) => release::release(session, asked),
        Command::CountStock(asked) => count::count(session, asked),
        Command::ScrapStock(asked) => count::scrap(session, asked),
        _ => return None,
    })
}
