//! Two replicas beside the whole shop. Each keeps what it once loaded, follows the facts that the
//! other made, and decides in its turn on that alone, as a shop's writer does.

use super::loading::{Kept, all_rows, load, rows_of};
use leadhand_domain::command::Command;
use leadhand_domain::context::{Chance, Context};
use leadhand_domain::decide::{Decision, decide, needs};
use leadhand_domain::follow::{follow, note_whole};
use leadhand_domain::need::Need;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::state::State;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};

/// How often a replica of this process followed the other, and how often it had to load anew.
pub static FOLLOWED: AtomicUsize = AtomicUsize::new(0);
pub static LOST: AtomicUsize = AtomicUsize::new(0);

pub struct Replicas {
    kept: [Option<State>; 2],
    commands: usize,
}

impl Replicas {
    pub fn new() -> Self {
        Self { kept: [None, None], commands: 0 }
    }

    /// The replica whose turn it is decides a command.
    pub fn decide(
        &mut self,
        database: Kept<'_>,
        command: &Command,
        context: &Context,
        chance: &mut dyn Chance,
    ) -> Result<Decision, Refusal> {
        // Runs of two and of one: a replica lags behind by more than one command, or by one.
        let side = usize::from(self.commands % 3 == 2);
        self.commands += 1;
        // Now and then one begins anew, as after a pause, and knows little of what there is.
        if self.commands.is_multiple_of(7) {
            self.kept[side] = None;
        }
        let head = i64::try_from(database.journal.len()).expect("a journal of a test is short");
        let mut state = self.caught_up(side, database, head);
        loop {
            let missing = needs(&state, command, context);
            if missing.is_empty() {
                break;
            }
            load_into(&mut state, database, &missing);
        }
        let decided = decide(&mut state, command, context, chance);
        for entry in decided.iter().flat_map(|decision| &decision.entries) {
            note_whole(&mut state, entry);
        }
        state.take_changes();
        self.kept[side] = Some(state);
        decided
    }

    fn caught_up(&mut self, side: usize, database: Kept<'_>, head: i64) -> State {
        let Some(mut state) = self.kept[side].take() else { return State::at(head) };
        let since = &database.journal[usize::try_from(state.head).expect("a head is not negative")..];
        if since.is_empty() {
            return state;
        }
        if follow(&mut state, since).is_err() {
            LOST.fetch_add(1, Ordering::Relaxed);
            return State::at(head);
        }
        FOLLOWED.fetch_add(1, Ordering::Relaxed);
        assert_eq!(state.head, head);
        as_loaded_now(&state, database);
        state
    }
}

/// A state that has the shop and these needs loaded.
pub fn keeping(database: Kept<'_>, head: i64, named: &[Need]) -> State {
    let mut state = State::at(head);
    load_into(&mut state, database, &[Need::Shop]);
    load_into(&mut state, database, named);
    state
}

/// Loads needs and notes that they are.
pub fn load_into(state: &mut State, database: Kept<'_>, named: &[Need]) {
    for need in named {
        load(state, database, need);
        state.note_loaded(need.clone());
    }
}

/// Every row that is kept is as it would be loaded now, and no row is lacking that would be.
pub fn as_loaded_now(state: &State, database: Kept<'_>) {
    let kept = rows_of(state);
    let all = rows_of(&all_rows(database.books));
    only_rows_of(&kept, &all, "is kept and is not like that");
    for need in state.needs() {
        let mut fresh = State::at(state.head);
        load(&mut fresh, database, need);
        only_rows_of(&rows_of(&fresh), &kept, &format!("is named by {need:?} and is not kept"));
    }
}

type Rows = BTreeMap<String, Vec<serde_json::Value>>;

fn only_rows_of(some: &Rows, all: &Rows, fault: &str) {
    for (table, rows) in some {
        for row in rows {
            assert!(all[table].contains(row), "{table} {row} {fault}");
        }
    }
}
