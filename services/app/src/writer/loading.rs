//! What a batch loads: for all of its commands together first, and for each what it comes to need by what was decided before
//! it.

use super::{Shown, Submission};
use leadhand_domain::command::Command;
use leadhand_domain::context::Context;
use leadhand_domain::decide::needs;
use leadhand_domain::need::Need;
use leadhand_domain::state::State;
use leadhand_facts::Instant;
use leadhand_store::{Batch, StoreError};

/// Rounds in which a batch loads for all of its commands: a command names what it needs in three or four.
const LOADS_AHEAD: u32 = 4;

/// Loads what all of these commands ask for together, in as many round trips as the one that asks for most: one after the
/// other, each would wait for its own. What comes to be needed by what others decided is loaded at its command's turn.
pub(super) async fn load_ahead(
    batch: &mut Batch,
    state: &mut State,
    fresh: Vec<&Submission>,
) -> Result<(), StoreError> {
    if fresh.len() < 2 {
        return Ok(());
    }
    let now = batch.now;
    for _ in 0..LOADS_AHEAD {
        let mut missing: Vec<Need> = Vec::new();
        for one in &fresh {
            let context = context_of(one, now);
            missing.extend(needs(state, &one.command, &context));
            missing.extend(one.shown.into_iter().flat_map(needs_of_entry));
        }
        missing.retain(|need| !state.has(need));
        missing.sort();
        missing.dedup();
        if missing.is_empty() {
            return Ok(());
        }
        load_all(batch, state, missing).await?;
    }
    Ok(())
}

async fn load_all(batch: &mut Batch, state: &mut State, missing: Vec<Need>) -> Result<(), StoreError> {
    for row in batch.load(&missing).await? {
        state.load(row);
    }
    for need in missing {
        state.note_loaded(need);
    }
    Ok(())
}

/// What a command is decided under.
pub(super) fn context_of(one: &Submission, now: Instant) -> Context {
    Context {
        now,
        happened_at: one.write.happened_at.unwrap_or(now),
        actor: one.actor,
        request: one.write.request,
        etag: one.write.etag,
    }
}

/// Loads what a command asks for, again and again until nothing is missing.
pub(super) async fn load_for(
    batch: &mut Batch,
    state: &mut State,
    shown: Option<Shown>,
    command: &Command,
    context: &Context,
) -> Result<(), StoreError> {
    loop {
        let missing = missing(state, shown, command, context);
        if missing.is_empty() {
            return Ok(());
        }
        load_all(batch, state, missing).await?;
    }
}

/// What a command asks for that is not loaded.
pub(super) fn missing(state: &State, shown: Option<Shown>, command: &Command, context: &Context) -> Vec<Need> {
    let mut missing = needs(state, command, context);
    let to_enter = shown.into_iter().flat_map(needs_of_entry);
    missing.extend(to_enter.filter(|need| !state.has(need)));
    missing.sort();
    missing.dedup();
    missing
}

/// What has to be seen to tell whether somebody may still come in.
fn needs_of_entry(shown: Shown) -> impl Iterator<Item = Need> {
    std::iter::once(Need::Tokens).chain(shown.session.map(Need::SignIn))
}
