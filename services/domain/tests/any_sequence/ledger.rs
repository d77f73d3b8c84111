//! A shop whose every command is decided three times: on everything, on a fresh state with only the rows that the
//! command asked for, and on a state that is kept from command to command, as the shop's writer keeps it, with several
//! commands between two commits. The auditor folds the facts with its own code beside it.

use crate::draw::{Asked, Counter};
use crate::stock_kit::loading::{Kept, load_for, note_needs, rows_of};
use leadhand_auditor::compare::{ActualRows, written};
use leadhand_auditor::{Books, check_books, compare};
use leadhand_domain::decide::decide;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::state::{AnyRow, RowChange, State};
use leadhand_facts::rows::{MoveRow, Row, TABLES};
use leadhand_facts::{Entry, ItemKey};
use serde_json::Value;
use std::collections::BTreeMap;

pub struct Ledger {
    pub whole: State,
    kept: State,
    pub books: Books,
    pub journal: Vec<Entry>,
    /// Books, and facts, of the last commit: what the next load finds.
    committed: (Books, usize),
    /// The tables as the writer has written them.
    tables: BTreeMap<&'static str, BTreeMap<String, Value>>,
    /// How often a command had to ask at most until it had seen everything.
    pub most_rounds: usize,
}

impl Ledger {
    pub fn new() -> Self {
        Self {
            whole: State::at(0),
            kept: State::at(0),
            books: Books::new(),
            journal: Vec::new(),
            committed: (Books::new(), 0),
            tables: TABLES.iter().map(|table| (*table, BTreeMap::new())).collect(),
            most_rounds: 0,
        }
    }

    pub fn run(&mut self, asked: &Asked, chance: &mut Counter) -> Result<(), Refusal> {
        let name = asked.command.name();
        let decided = self.decide_three_times(asked, chance);
        if let Ok(entries) = &decided {
            for entry in entries {
                self.books.take(entry).unwrap_or_else(|fault| panic!("{name}: {fault}"));
            }
            self.journal.extend(entries.iter().cloned());
        } else if self.committed.1 == self.journal.len() {
            assert_eq!(self.whole.take_changes(), vec![], "{name} was refused and would write something");
        }
        self.audit(name);
        decided.map(|_| ())
    }

    fn decide_three_times(&mut self, asked: &Asked, chance: &mut Counter) -> Result<Vec<Entry>, Refusal> {
        let Asked { command, context } = asked;
        note_needs(&mut self.whole, command, context);
        // A replica that sees this shop for the first time, and one that has seen every commit.
        let mut fresh = State::at(self.whole.head);
        let now = Kept { books: &self.books, journal: &self.journal };
        let then = Kept { books: &self.committed.0, journal: &self.journal[..self.committed.1] };
        for (state, kept) in [(&mut fresh, now), (&mut self.kept, then)] {
            self.most_rounds = self.most_rounds.max(load_for(state, kept, command, context));
        }
        let (mut own, mut theirs) = (chance.clone(), chance.clone());
        let on_whole = decide(&mut self.whole, command, context, chance);
        let on_fresh = decide(&mut fresh, command, context, &mut own);
        assert_eq!(on_whole, on_fresh, "{command:?}: what it asked for was not enough");
        let on_kept = decide(&mut self.kept, command, context, &mut theirs);
        assert_eq!(on_whole, on_kept, "{command:?}: what was kept led to another verdict");
        match on_whole {
            Ok(decision) => {
                assert_eq!(decision.answer.number, self.whole.head, "{}", command.name());
                Ok(decision.entries)
            }
            Err(refusal @ Refusal::Defect { .. }) => panic!("{command:?}: {refusal}"),
            Err(refusal) => Err(refusal),
        }
    }

    /// The laws hold, and both folds have the same rows: a refused command has left nothing behind. Movements are
    /// written once and forgotten, so they are looked at when they are written.
    fn audit(&self, name: &str) {
        let broken: Vec<String> = check_books(&self.books).iter().map(ToString::to_string).collect();
        assert!(broken.is_empty(), "after {name}: {broken:#?}");
        let (mut ours, mut theirs) = (rows_of(&self.whole), written(self.books.tables()));
        for rows in [&mut ours, &mut theirs] {
            rows.remove(MoveRow::TABLE);
        }
        for (table, rows) in &theirs {
            assert_eq!(ours.get(table), Some(rows), "after {name}: table '{table}'");
        }
        for item in self.whole.items.iter() {
            self.nobody_is_short_beside_free_stock(&item.item, name);
        }
        self.no_shortage_holds_up_that_is_over(name);
    }

    fn no_shortage_holds_up_that_is_over(&self, name: &str) {
        for row in self.whole.blockers.iter().filter(|row| row.cleared_at.is_none()) {
            let Some(item) = &row.item else { continue };
            let short = self.whole.shortages.iter().any(|short| {
                let same = (short.job, &short.stage, Some(short.step)) == (row.job, &row.stage, row.step);
                same && short.item == *item && short.quantity.is_positive()
            });
            assert!(short, "after {name}: blocker {} of job {} waits for '{item}' in vain", row.blocker, row.job);
        }
    }

    fn nobody_is_short_beside_free_stock(&self, item: &ItemKey, name: &str) {
        let bins = self.whole.holds.iter().filter(|row| row.item == *item);
        let bins =
            bins.filter(|row| self.whole.places.get(&(row.place.clone(),)).is_none_or(|place| place.job.is_none()));
        let free: i64 = bins.map(|row| row.on_hand.0 - row.expired.0 - row.reserved.0).sum();
        let short: i64 = self.whole.shortages.iter().filter(|row| row.item == *item).map(|row| row.quantity.0).sum();
        assert!(free == 0 || short == 0, "after {name}: {free} of '{item}' are free and {short} are short");
    }

    /// Writes what changed: both states change the same rows, and the tables are what the facts add up to.
    pub fn commit(&mut self, dropped: bool) {
        let changes = self.whole.take_changes();
        assert_eq!(changes, self.kept.take_changes(), "other rows would be written");
        for change in changes {
            match change {
                RowChange::Put(row) => {
                    let table = self.tables.get_mut(row.table()).expect("a table of ours");
                    table.insert(key_of(&row), row.to_value().expect("a row can be written"));
                }
                RowChange::Removed { table, key } => {
                    self.tables.get_mut(table).expect("a table of ours").remove(&key.to_string());
                }
            }
        }
        let actual: ActualRows =
            self.tables.iter().map(|(table, rows)| ((*table).to_owned(), rows.values().cloned().collect())).collect();
        let differences = compare(&self.books, &actual);
        assert!(differences.is_empty(), "{differences:#?}");
        self.committed = (self.books.clone(), self.journal.len());
        if dropped {
            self.kept = State::at(self.whole.head);
        }
    }
}

macro_rules! keys {
    ($($row:ident),+) => {
        fn key_of(row: &AnyRow) -> String {
            use leadhand_facts::rows::Row as _;
            let key = match row { $(AnyRow::$row(row) => serde_json::to_value(row.key()),)+ };
            key.expect("a key can be written").to_string()
        }
    };
}
leadhand_facts::each_row!(keys);
