//! What was answered is what is in the journal, once.

use super::Violation;
use crate::history::{Acknowledgement, Attempt, History, Known, Outcome, ShopNo};
use std::collections::{BTreeMap, HashMap};
use uuid::Uuid;

/// Where the facts of each request end: one number for each contiguous group.
type Ends = HashMap<Uuid, Vec<i64>>;

/// A request that took effect, in the time that its clients saw.
struct Effect {
    request: Uuid,
    began: u64,
    acknowledged: u64,
    number: i64,
}

pub fn check(history: &History) -> Vec<Violation> {
    let mut found = Vec::new();
    let ends: Vec<Ends> = history.journals.iter().map(|journal| ends_of(journal)).collect();
    let mut requests: BTreeMap<(ShopNo, Uuid), Vec<&Attempt>> = BTreeMap::new();
    for attempt in &history.attempts {
        requests.entry((attempt.shop, attempt.request)).or_default().push(attempt);
    }
    let mut effects: BTreeMap<ShopNo, Vec<Effect>> = BTreeMap::new();
    for ((shop, request), attempts) in requests {
        let groups = ends.get(shop).and_then(|ends| ends.get(&request)).map_or(&[][..], Vec::as_slice);
        if groups.len() > 1 {
            found.push(Violation::Doubled { shop, request, ends: groups.to_vec() });
        }
        let acknowledged = acknowledged(&attempts);
        check_answers(shop, request, &attempts, &acknowledged, &mut found);
        check_facts(shop, request, &attempts, &acknowledged, groups, &mut found);
        let first = acknowledged.iter().min_by_key(|(attempt, _)| attempt.ended);
        if let Some((attempt, said)) = first.filter(|(_, said)| said.made_facts) {
            let began = attempts.iter().map(|attempt| attempt.began).min().unwrap_or_default();
            let effect = Effect { request, began, acknowledged: attempt.ended, number: said.number };
            effects.entry(shop).or_default().push(effect);
        }
    }
    for (shop, effects) in &effects {
        check_order(*shop, effects, &mut found);
    }
    found
}

fn ends_of(journal: &[Known]) -> Ends {
    let mut ends = Ends::new();
    for group in journal.chunk_by(|one, next| one.request == next.request) {
        if let Some(last) = group.last() {
            ends.entry(last.request).or_default().push(last.number);
        }
    }
    ends
}

fn acknowledged<'a>(attempts: &[&'a Attempt]) -> Vec<(&'a Attempt, Acknowledgement)> {
    let said = |attempt: &&'a Attempt| match attempt.outcome {
        Outcome::Acknowledged(said) => Some((*attempt, said)),
        _ => None,
    };
    attempts.iter().filter_map(said).collect()
}

/// The answers to one request among themselves.
fn check_answers(
    shop: ShopNo,
    request: Uuid,
    attempts: &[&Attempt],
    acknowledged: &[(&Attempt, Acknowledgement)],
    found: &mut Vec<Violation>,
) {
    if let [(_, first), others @ ..] = acknowledged {
        let same = |other: &Acknowledgement| other.number == first.number && other.made_facts == first.made_facts;
        if let Some((_, other)) = others.iter().find(|(_, other)| !same(other)) {
            let (first, other) = (first.number, other.number);
            found.push(Violation::AnswersDiffer { shop, request, first, other });
        }
    }
    if acknowledged.iter().filter(|(_, said)| !said.repeated).count() > 1 {
        found.push(Violation::FirstTwice { shop, request });
    }
    let known_from = acknowledged.iter().map(|(attempt, _)| attempt.ended).min().unwrap_or(u64::MAX);
    for attempt in attempts {
        if let Outcome::Refused(why) = &attempt.outcome
            && attempt.began > known_from
            && !says_come_again(why)
        {
            found.push(Violation::RefusedAfterAcknowledged { shop, request, why: why.clone() });
        }
    }
    let last = attempts.iter().max_by_key(|attempt| attempt.began);
    if last.is_some_and(|last| matches!(last.outcome, Outcome::Unknown(_))) && acknowledged.is_empty() {
        found.push(Violation::Unresolved { shop, request });
    }
}

/// Reasons that are about the moment and not about the request.
fn says_come_again(why: &str) -> bool {
    ["DATABASE_UNAVAILABLE", "DATABASE_FULL", "DEADLINE_BEFORE_TURN", "SHOP_BUSY"].contains(&why)
}

/// The answers to one request against its facts.
fn check_facts(
    shop: ShopNo,
    request: Uuid,
    attempts: &[&Attempt],
    acknowledged: &[(&Attempt, Acknowledgement)],
    groups: &[i64],
    found: &mut Vec<Violation>,
) {
    let refused = attempts.iter().all(|attempt| matches!(attempt.outcome, Outcome::Refused(_)));
    match (acknowledged.first(), groups.first()) {
        (Some((_, said)), None) if said.made_facts => {
            found.push(Violation::Missing { shop, request, number: said.number });
        }
        (Some((_, said)), Some(end)) if said.made_facts && !groups.contains(&said.number) => {
            found.push(Violation::Elsewhere { shop, request, answered: said.number, found: *end });
        }
        (Some((_, said)), Some(end)) if !said.made_facts => {
            found.push(Violation::FactsOfNothing { shop, request, found: *end });
        }
        (None, Some(end)) if refused => found.push(Violation::RefusedWithFacts { shop, request, found: *end }),
        _ => {}
    }
}

/// What was acknowledged before another request began has the lower number.
fn check_order(shop: ShopNo, effects: &[Effect], found: &mut Vec<Violation>) {
    let mut by_end: Vec<&Effect> = effects.iter().collect();
    by_end.sort_by_key(|effect| effect.acknowledged);
    let mut by_beginning = by_end.clone();
    by_beginning.sort_by_key(|effect| effect.began);
    let mut over = by_end.into_iter().peekable();
    let mut highest: Option<&Effect> = None;
    for later in by_beginning {
        while let Some(earlier) = over.next_if(|earlier| earlier.acknowledged < later.began) {
            if highest.is_none_or(|highest| highest.number < earlier.number) {
                highest = Some(earlier);
            }
        }
        if let Some(earlier) = highest.filter(|earlier| earlier.number > later.number) {
            found.push(Violation::OutOfOrder { shop, earlier: earlier.request, later: later.request });
        }
    }
}
