//! Any sequence of commands, of every kind. After each one the rows are what the auditor makes of the facts with its
//! own code, cell by cell, and its laws hold; a refused one has changed nothing, and none is a defect (promises 3 to 6
//! and 10). What a command asks to have loaded is enough, and what the writer keeps from batch to batch leads to the
//! same verdict, facts, answer and rows.

mod cases;
mod draw;
mod ledger;
#[path = "../stock_kit/mod.rs"]
mod stock_kit;

use cases::Tally;
use draw::{Desk, Rolls, next, opening};
use leadhand_facts::Fact;
use leadhand_facts::upcast::{self, KINDS};
use ledger::Ledger;
use std::cell::RefCell;

/// What is kept is dropped once in so many commits, as when another replica wrote.
const DROPPED_ONCE_IN: u16 = 12;

#[derive(Default)]
struct Tallies {
    accepted: Tally,
    refused: Tally,
    facts: Tally,
    /// Kinds of lines that were overruled one by one.
    lines: Tally,
    most_rounds: usize,
}

fn run(rolls: &[Rolls], tallies: &mut Tallies) {
    let (mut desk, mut ledger) = (Desk::new(), Ledger::new());
    for asked in opening(&mut desk) {
        let opened = ledger.run(&asked, &mut desk.chance);
        opened.unwrap_or_else(|refusal| panic!("{}: {refusal}", asked.command.name()));
    }
    ledger.commit(true);
    for rolls in rolls {
        let asked = next(&ledger.whole, &ledger.books, &ledger.journal, &mut desk, rolls);
        match ledger.run(&asked, &mut desk.chance) {
            Ok(()) => tallies.accepted.count(asked.command.name()),
            Err(refusal) => tallies.refused.count(refusal.reason()),
        }
        // The numbers at the end are seldom used up by a command.
        let [.., dropped, waits] = rolls;
        if waits % 3 != 0 {
            ledger.commit(dropped % DROPPED_ONCE_IN == 0);
        }
    }
    ledger.commit(false);
    for entry in &ledger.journal {
        tallies.facts.count(&upcast::store(&entry.fact).expect("a fact can be stored").kind);
        if let Fact::JobCompleted { lines, .. } = &entry.fact {
            for one in lines {
                tallies.lines.count(one.line.split(':').next().unwrap_or_default());
            }
        }
    }
    tallies.most_rounds = tallies.most_rounds.max(ledger.most_rounds);
}

#[test]
fn the_laws_hold_and_three_ways_of_deciding_agree() {
    let tallies = RefCell::new(Tallies::default());
    cases::run(|rolls| run(rolls, &mut tallies.borrow_mut()));
    let Tallies { accepted, refused, facts, lines, most_rounds } = tallies.into_inner();
    println!(
        "accepted: {accepted}\nrefused: {refused}\nfacts: {facts}\nlines: {lines}\nat most {most_rounds} rounds of loading"
    );
    if cases::cases() < cases::USUAL {
        return;
    }
    // Commands that are hardly ever accepted, or never refused, would prove nothing. A shop opens once, in the opening.
    let drawn: Vec<&str> = cases::command_names().into_iter().filter(|name| *name != "OpenShop").collect();
    assert_eq!(accepted.rarer_than(cases::ACCEPTED_MIN, &drawn), Vec::<&str>::new(), "hardly ever accepted");
    assert_eq!(facts.rarer_than(1, &KINDS), Vec::<&str>::new(), "never made");
    assert!(lines.kinds() >= 3, "only these lines were overruled one by one: {lines}");
    assert!(refused.kinds() >= 30, "only these refusals: {refused}");
    assert!(most_rounds > 2, "nothing that was loaded led to more");
}
