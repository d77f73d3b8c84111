//! What a fault did, in figures: one line, and how every attempt ended below it.

use crate::checker::{Violation, words};
use crate::storm::Aftermath;

/// Prints them. The first line has the same form for every fault.
pub fn report(fault: &str, after: &Aftermath, found: &[Violation]) {
    let figures = &after.figures;
    let count = |names: [&str; 2]| found.iter().filter(|one| names.contains(&one.word())).count();
    eprintln!(
        "FAULT {fault}: {} acknowledged, {} refused, {} unknown, {} lost, {} doubled, longest time without an \
         acknowledgement {:.2} s",
        figures.count("acknowledged"),
        figures.count("refused"),
        figures.count("unknown"),
        count(["missing", "elsewhere"]),
        count(["doubled", "first twice"]),
        after.longest_gap.as_secs_f64()
    );
    eprintln!("  {} requests in {} attempts ({} repeats)", figures.requests, figures.attempts, figures.repeats);
    for (word, count) in &figures.outcomes {
        eprintln!("  {count:6} {word}");
    }
    let facts: Vec<usize> = after.history.journals.iter().map(Vec::len).collect();
    let taken: usize = after.history.logs.iter().map(|log| log.facts.len()).sum();
    eprintln!("  {facts:?} facts by shop; {} subscribers took down {taken}", after.history.logs.len());
    if !found.is_empty() {
        eprintln!("  broken promises: {} of the kinds {:?}", found.len(), words(found));
    }
}
