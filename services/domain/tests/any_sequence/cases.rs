//! Running many sequences, and counting what came of them.

use crate::draw::{ROLLS, Rolls};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::collections::BTreeMap;

/// Sequences of a usual run; `PROPTEST_CASES` asks for more or fewer, in proportion.
pub const USUAL: u32 = 140;

/// Commands of a sequence beside those of the opening.
pub const LENGTH: usize = 150;

/// How often each kind of command has to be accepted in a usual run.
pub const ACCEPTED_MIN: usize = 5;

/// How many sequences are run: so many of what proptest runs by itself.
pub fn cases() -> u32 {
    let usual = Config { cases: 256, ..Config::default() };
    let asked = std::env::var("PROPTEST_CASES").ok().and_then(|cases| cases.parse().ok()).unwrap_or(usual.cases);
    (asked * USUAL / usual.cases).max(1)
}

/// Runs sequences, the same ones every time, so that what they reach is a fact and not a chance.
pub fn run(sequence: impl Fn(&[Rolls])) {
    let rng = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let config = Config { cases: cases(), failure_persistence: None, ..Config::default() };
    let rolls = proptest::collection::vec(proptest::array::uniform::<_, ROLLS>(any::<u16>()), LENGTH);
    let ran = TestRunner::new_with_rng(config, rng).run(&rolls, |rolls| {
        sequence(&rolls);
        Ok(())
    });
    if let Err(failed) = ran {
        panic!("{failed}");
    }
}

/// How often each of something came about.
#[derive(Default)]
pub struct Tally(BTreeMap<String, usize>);

impl Tally {
    pub fn count(&mut self, what: &str) {
        *self.0.entry(what.to_owned()).or_default() += 1;
    }

    pub fn kinds(&self) -> usize {
        self.0.len()
    }

    /// What of this came about less often.
    pub fn rarer_than<'a>(&self, least: usize, all: &[&'a str]) -> Vec<&'a str> {
        all.iter().copied().filter(|what| self.0.get(*what).is_none_or(|times| *times < least)).collect()
    }
}

impl std::fmt::Display for Tally {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.iter().try_for_each(|(what, times)| write!(f, "{what} {times}, "))
    }
}

/// The names of all commands, from where they are declared, so that a new one is not forgotten.
pub fn command_names() -> Vec<&'static str> {
    let declared = include_str!("../../src/command.rs").split("\ncommands! {").nth(1).unwrap_or_default();
    let names = declared.lines().filter_map(|line| line.strip_prefix("    "));
    let names = names.filter(|line| line.starts_with(|first: char| first.is_ascii_uppercase()));
    names.filter_map(|line| line.split(" {").next()).collect()
}
