//! The checker against fabricated histories: a sound one passes, and each rule broken by itself is
//! named. Without this, a checker that finds nothing would pass for a server without faults.

use super::{Violation, check, words};
use crate::history::{Acknowledgement, Attempt, History, Known, Log, Outcome};
use uuid::Uuid;

fn id(number: u128) -> Uuid {
    Uuid::from_u128(number)
}

fn acknowledged(number: i64) -> Outcome {
    Outcome::Acknowledged(Acknowledgement { number, made_facts: true, repeated: false })
}

fn again(number: i64) -> Outcome {
    Outcome::Acknowledged(Acknowledgement { number, made_facts: true, repeated: true })
}

fn nothing(number: i64) -> Outcome {
    Outcome::Acknowledged(Acknowledgement { number, made_facts: false, repeated: false })
}

fn refused() -> Outcome {
    Outcome::Refused("BAY_TAKEN".to_owned())
}

fn unknown() -> Outcome {
    Outcome::Unknown("broken pipe".to_owned())
}

fn attempt(request: u128, began: u64, ended: u64, outcome: Outcome) -> Attempt {
    Attempt { request: id(request), shop: 0, began, ended, outcome }
}

/// A journal by the requests of its facts, in order.
fn journal(requests: &[u128]) -> Vec<Known> {
    (1..).zip(requests).map(|(number, request)| fact(number, *request)).collect()
}

fn fact(number: i64, request: u128) -> Known {
    Known { number, fact_id: id(1_000 + u128::try_from(number).unwrap()), request: id(request) }
}

fn log(after: i64, facts: &[Known]) -> Log {
    let wanted = facts.last().map_or(after, |last| last.number);
    Log { subscriber: "s".to_owned(), shop: 0, after, facts: facts.to_vec(), wanted, broken: None }
}

/// Request 1 makes facts 1 and 2 and is repeated; 2 is lost on the way, took effect as fact 3 and is
/// asked again; 3 is refused; 4 has nothing to record; 5 is refused at first.
fn sound() -> History {
    let attempts = vec![
        attempt(1, 1, 3, acknowledged(2)),
        attempt(1, 2, 4, again(2)),
        attempt(2, 5, 6, unknown()),
        attempt(2, 7, 8, again(3)),
        attempt(3, 9, 10, refused()),
        attempt(4, 11, 12, nothing(3)),
        attempt(5, 13, 14, refused()),
        attempt(5, 15, 16, acknowledged(4)),
    ];
    let journal = journal(&[1, 1, 2, 5]);
    let logs = vec![log(0, &journal), log(2, &journal[2..]), log(4, &[])];
    History { attempts, journals: vec![journal], logs }
}

/// What is found in the sound history after a change.
fn after(change: impl FnOnce(&mut History)) -> Vec<Violation> {
    let mut history = sound();
    change(&mut history);
    check(&history)
}

#[test]
fn a_sound_history_passes() {
    assert_eq!(check(&sound()), []);
}

#[test]
fn an_acknowledged_fact_that_is_missing() {
    let found = after(|history| {
        history.attempts.push(attempt(6, 17, 18, acknowledged(5)));
    });
    assert_eq!(found, [Violation::Missing { shop: 0, request: id(6), number: 5 }]);
}

#[test]
fn facts_that_are_doubled() {
    let found = after(|history| history.journals[0].push(fact(5, 1)));
    assert_eq!(found, [Violation::Doubled { shop: 0, request: id(1), ends: vec![2, 5] }]);
}

#[test]
fn an_unknown_request_that_took_effect_twice_is_doubled_too() {
    let found = after(|history| {
        history.attempts.push(attempt(6, 17, 18, unknown()));
        history.journals[0].extend([fact(5, 6), fact(6, 7), fact(7, 6)]);
    });
    assert_eq!(words(&found), ["doubled", "unresolved"].into());
}

#[test]
fn facts_that_end_elsewhere() {
    let found = after(|history| {
        history.journals[0].push(fact(5, 6));
        history.attempts.push(attempt(6, 17, 18, acknowledged(4)));
    });
    assert_eq!(found, [Violation::Elsewhere { shop: 0, request: id(6), answered: 4, found: 5 }]);
}

#[test]
fn half_of_a_request_is_elsewhere() {
    // The second of its two facts was lost, and the next request has its number.
    let found = after(|history| {
        history.journals[0][1].request = id(9);
        history.logs.clear();
    });
    assert_eq!(words(&found), ["elsewhere"].into());
}

#[test]
fn answers_that_differ() {
    let found = after(|history| history.attempts.push(attempt(1, 17, 18, again(3))));
    assert_eq!(found, [Violation::AnswersDiffer { shop: 0, request: id(1), first: 2, other: 3 }]);
}

#[test]
fn two_first_answers() {
    let found = after(|history| history.attempts.push(attempt(1, 17, 18, acknowledged(2))));
    assert_eq!(found, [Violation::FirstTwice { shop: 0, request: id(1) }]);
}

#[test]
fn facts_of_what_had_none() {
    let found = after(|history| history.journals[0].push(fact(5, 4)));
    assert_eq!(found, [Violation::FactsOfNothing { shop: 0, request: id(4), found: 5 }]);
}

#[test]
fn facts_of_what_was_refused() {
    let found = after(|history| history.journals[0].push(fact(5, 3)));
    assert_eq!(found, [Violation::RefusedWithFacts { shop: 0, request: id(3), found: 5 }]);
}

#[test]
fn a_refusal_of_what_was_acknowledged() {
    let why = "BAY_TAKEN".to_owned();
    let found = after(|history| history.attempts.push(attempt(1, 17, 18, refused())));
    assert_eq!(found, [Violation::RefusedAfterAcknowledged { shop: 0, request: id(1), why }]);
    // A refusal that was decided before is no contradiction, nor is "come again".
    let busy = Outcome::Refused("SHOP_BUSY".to_owned());
    assert_eq!(after(|history| history.attempts.push(attempt(1, 17, 18, busy))), []);
    assert_eq!(after(|history| history.attempts.push(attempt(1, 2, 18, refused()))), []);
}

#[test]
fn what_never_became_known() {
    let found = after(|history| history.attempts.push(attempt(6, 17, 18, unknown())));
    assert_eq!(found, [Violation::Unresolved { shop: 0, request: id(6) }]);
}

#[test]
fn an_order_that_time_contradicts() {
    // 6 began when 5 had been acknowledged, and stands before it.
    let found = after(|history| {
        history.journals[0] = journal(&[1, 1, 2, 6, 5]);
        history.attempts[7].outcome = acknowledged(5);
        history.attempts.push(attempt(6, 17, 18, acknowledged(4)));
        history.logs.clear();
    });
    assert_eq!(found, [Violation::OutOfOrder { shop: 0, earlier: id(5), later: id(6) }]);
    // Had it begun before the answer to 5, both orders would do.
    let found = after(|history| {
        history.journals[0] = journal(&[1, 1, 2, 6, 5]);
        history.attempts[7].outcome = acknowledged(5);
        history.attempts.push(attempt(6, 15, 18, acknowledged(4)));
        history.logs.clear();
    });
    assert_eq!(found, []);
}

#[test]
fn a_journal_with_a_gap() {
    let found = after(|history| history.journals[0].push(fact(6, 7)));
    assert_eq!(found, [Violation::JournalGap { shop: 0, after: 4, found: 6 }]);
    let found = after(|history| history.journals[0].push(fact(4, 7)));
    assert!(words(&found).contains("journal gap") && words(&found).contains("fact id twice"), "{found:?}");
}

#[test]
fn a_log_that_skips_or_repeats() {
    let found = after(|history| {
        history.logs[0].facts.remove(1);
    });
    assert_eq!(found, [Violation::LogGap { subscriber: "s".to_owned(), after: 1, found: 3 }]);
    let found = after(|history| {
        let first = history.logs[0].facts[0];
        history.logs[0].facts.insert(1, first);
    });
    assert_eq!(found, [Violation::LogGap { subscriber: "s".to_owned(), after: 1, found: 1 }]);
    let found = after(|history| history.logs[1].after = 1);
    assert_eq!(found, [Violation::LogGap { subscriber: "s".to_owned(), after: 1, found: 3 }]);
}

#[test]
fn a_log_of_another_history() {
    let found = after(|history| history.logs[0].facts[2].fact_id = id(77));
    assert_eq!(found, [Violation::LogDiffers { subscriber: "s".to_owned(), number: 3 }]);
    // A fact beyond the journal's end was told and then taken back.
    let found = after(|history| history.logs[0].facts.push(fact(5, 9)));
    assert_eq!(found, [Violation::LogDiffers { subscriber: "s".to_owned(), number: 5 }]);
}

#[test]
fn a_log_that_stops() {
    let found = after(|history| {
        history.logs[0].facts.pop();
    });
    assert_eq!(words(&found), ["log stopped"].into());
    let found = after(|history| history.logs[0].broken = Some("OUT_OF_RANGE".to_owned()));
    assert_eq!(words(&found), ["log stopped"].into());
}
