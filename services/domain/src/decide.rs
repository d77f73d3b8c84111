//! From a command to facts, or to a refusal.

use crate::answer::{Answer, Made};
use crate::command::Command;
use crate::context::{Chance, Context};
use crate::need::Need;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::Entry;

/// An accepted command.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decision {
    /// Its facts, already applied to the state.
    pub entries: Vec<Entry>,
    /// Its answer.
    pub answer: Answer,
}

/// Decides a command. On success the state has its facts applied; a refusal leaves the state as
/// it was.
pub fn decide(
    state: &mut State,
    command: &Command,
    context: &Context,
    chance: &mut dyn Chance,
) -> Result<Decision, Refusal> {
    let head = state.head;
    let mut session = Session::new(state, context, chance);
    let made = check_context(context).and_then(|()| dispatch(&mut session, command));
    let (entries, notices) = session.into_entries();
    match made {
        Ok(made) => {
            let recorded_at = entries.last().map(|entry| entry.recorded_at);
            Ok(Decision { answer: Answer { number: state.head, recorded_at, made, notices }, entries })
        }
        Err(refusal) => {
            state.roll_back(head);
            Err(refusal)
        }
    }
}

fn check_context(context: &Context) -> Result<(), Refusal> {
    if context.happened_at > context.now {
        return Err(Refusal::InTheFuture { happened_at: context.happened_at, now: context.now });
    }
    Ok(())
}
