//! Whatever stands in a template's file, the parser tells: no text makes it panic, and every fault lies inside of the
//! text. `LEADHAND_FUZZ_MINUTES` lets it go on by hand.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

use leadhand_domain::template::{parse, write};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use std::cell::Cell;
use std::time::{Duration, Instant};

const SOURCES: [&str; 3] = [
    include_str!("../../../deploy/demo-shop/templates/head-gasket-20.toml"),
    include_str!("../../../deploy/demo-shop/templates/front-brakes.toml"),
    include_str!("../../../deploy/demo-shop/templates/coolant-service.toml"),
];
/// Cases of a round; an ordinary run is one round.
const CASES: u32 = 10_000;

/// What may be put into a file: parts of the language, and what is none.
const PARTS: [&str; 24] = [
    "[[stage]]",
    "[",
    "]",
    "{",
    "}",
    "\"",
    "'''",
    "=",
    ",",
    ".",
    "\n",
    "\r",
    "\0",
    "-1",
    "1e400",
    "99999999999999999999",
    "key = \"x\"",
    "after = [\"x\"]",
    "true",
    "\u{202e}",
    "é\u{301}",
    "\u{1f527}",
    "# ",
    "minutes = [1, 2, 3]",
];

/// Every fault's place is one of the text's: a line that is there, and a column up to one behind its end.
fn told_inside(text: &str) -> Result<bool, TestCaseError> {
    let faults = match parse(text) {
        Ok(parsed) => {
            prop_assert!(parse(&write(&parsed.template)).is_ok(), "what was read can't be read again");
            return Ok(true);
        }
        Err(faults) => faults,
    };
    prop_assert!(!faults.is_empty(), "it was refused without a fault");
    let lines: Vec<&str> = text.split('\n').collect();
    for fault in faults {
        let line = fault.line.checked_sub(1).and_then(|at| lines.get(at));
        prop_assert!(line.is_some(), "line {} of {}: {}", fault.line, lines.len(), fault.message);
        let most = line.unwrap().chars().count() + 1;
        prop_assert!((1..=most).contains(&fault.column), "column {} of {most}: {}", fault.column, fault.message);
        let sentence = !fault.message.is_empty() && !fault.message.contains(char::is_control);
        prop_assert!(sentence && fault.message.len() < 2_000, "no sentence: {:?}", fault.message);
    }
    Ok(false)
}

/// A file of the demo with some parts taken out, put in or doubled.
fn mutated() -> impl Strategy<Value = String> {
    let change = (any::<prop::sample::Index>(), 0..40_usize, prop::option::of(prop::sample::select(&PARTS[..])));
    (prop::sample::select(&SOURCES[..]), prop::collection::vec(change, 1..5)).prop_map(|(source, changes)| {
        changes.into_iter().fold(source.to_owned(), |text, (at, length, part)| {
            let chars: Vec<char> = text.chars().collect();
            let at = at.index(chars.len() + 1).min(chars.len());
            let end = (at + length).min(chars.len());
            let cut: String = chars[end..].iter().collect();
            chars[..at].iter().collect::<String>() + part.unwrap_or_default() + &cut
        })
    })
}

fn arbitrary() -> impl Strategy<Value = String> {
    let parts = prop::collection::vec(prop::sample::select(&PARTS[..]), 0..30).prop_map(|parts| parts.concat());
    prop_oneof![any::<String>(), "(?s).{0,200}", parts]
}

fn run(cases: &impl Strategy<Value = String>) {
    let minutes = std::env::var("LEADHAND_FUZZ_MINUTES").map_or(0, |said| said.parse().expect("a number of minutes"));
    let until = Instant::now() + Duration::from_secs(minutes * 60);
    let (done, fine) = (Cell::new(0_u64), Cell::new(0_u64));
    loop {
        let mut runner = TestRunner::new(Config { cases: CASES, failure_persistence: None, ..Config::default() });
        let ran = runner.run(cases, |text| {
            done.set(done.get() + 1);
            fine.set(fine.get() + u64::from(told_inside(&text)?));
            Ok(())
        });
        ran.unwrap();
        if Instant::now() >= until {
            break;
        }
    }
    println!("{} texts, {} of them templates", done.get(), fine.get());
    assert!(done.get() >= u64::from(CASES));
}

#[test]
fn every_fault_of_any_text_lies_inside_of_it() {
    run(&arbitrary());
}

#[test]
fn every_fault_of_a_template_that_was_changed_lies_inside_of_it() {
    run(&mutated());
}
