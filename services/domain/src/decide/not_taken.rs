//! New pieces that are said to be in the vehicle and were never given out for it: told when they are fitted, and a line of
//! the hand-over until then.

use crate::answer::{Made, Notice};
use crate::command::PutBack;
use crate::decide::strip as book;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::strip;
use leadhand_facts::{ItemKey, JobNo, Quantity};
use std::collections::BTreeMap;

/// How many new pieces went in, and how many were given out, by item; only where that is less.
pub(super) type NotTaken = BTreeMap<ItemKey, (i64, Quantity)>;

/// What goes back, and what of it is new and was not taken from stock.
pub(super) fn put_back(session: &mut Session, command: &PutBack) -> Result<Made, Refusal> {
    let before = now(session, command.job);
    let made = book::put_back(session, command)?;
    tell(session, command.job, &before);
    Ok(made)
}

/// What stands so now.
pub(super) fn now(session: &Session, job: JobNo) -> NotTaken {
    strip::not_taken(session.state, job)
}

/// Tells what came to it since.
pub(super) fn tell(session: &mut Session, job: JobNo, before: &NotTaken) {
    let grown = now(session, job).into_iter().filter(|(item, now)| before.get(item) != Some(now));
    let notices: Vec<Notice> =
        grown.map(|(item, (renewed, issued))| Notice::NotTaken { item, renewed, issued }).collect();
    session.notices.extend(notices);
}
