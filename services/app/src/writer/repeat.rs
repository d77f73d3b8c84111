//! A request that was accepted before gets its first answer, whoever it names.
//!
//! Names lead to persons and customers before the writer is asked, and whoever was meant may have been forgotten or
//! is called otherwise since: the name then leads nowhere, or to somebody else. Whether it is the same request can
//! still be told: with the id of somebody in its facts in the name's place, it fits.

use super::{NameOf, Named, Outcome, Submission};
use crate::error::AppError;
use crate::fingerprint::Asked;
use leadhand_facts::Entry;
use leadhand_store::{AcceptedRequest, Batch, Called, StoreError};
use serde_json::Value;
use std::collections::BTreeSet;
use uuid::Uuid;

/// Facts of a request in which somebody is looked for. Whom a command names stands in the first ones.
const FACTS_MOST: i64 = 256;

/// How often it is tried whether a request fits: all of it happens while the shop waits.
const TRIED_MOST: usize = 64;

/// Who is found in a request, and who is taken for them.
type StandIns = Vec<(Uuid, Uuid)>;

/// The first answer, or the refusal of an id that was used for something else.
pub(super) async fn repeat(
    batch: &mut Batch,
    one: &Submission,
    known: &AcceptedRequest,
) -> Result<Result<Outcome, AppError>, StoreError> {
    let same = known.principal == one.actor.principal
        && (asked(one).fits(known) || fits_by_an_earlier_name(batch, one, known).await?);
    if !same {
        return Ok(Err(AppError::RequestReused(one.write.request)));
    }
    let answer = serde_json::from_value(known.answer.clone());
    Ok(match answer {
        Ok(answer) => Ok(Outcome { request: one.write.request, answer, repeated: true, dry_run: false }),
        Err(error) => Err(AppError::Internal(error.to_string())),
    })
}

/// What of a request has to be the same.
pub(super) fn asked(one: &Submission) -> Asked<'_> {
    Asked {
        command: &one.command,
        principal: one.actor.principal,
        person: one.actor.person,
        happened_at: one.write.happened_at,
        stand_ins: Vec::new(),
    }
}

async fn fits_by_an_earlier_name(
    batch: &mut Batch,
    one: &Submission,
    known: &AcceptedRequest,
) -> Result<bool, StoreError> {
    let facts = (known.last_n - known.first_n + 1).min(FACTS_MOST);
    if one.write.named.is_empty() || facts < 1 {
        return Ok(false);
    }
    let entries = batch.journal(known.first_n - 1, facts).await?;
    let meant: BTreeSet<Uuid> = entries.iter().flat_map(ids_in).collect();
    let bearers = one.write.named.iter().flat_map(|named| named.bearers.iter().copied());
    let all: Vec<Uuid> = meant.iter().copied().chain(bearers).collect();
    let called = batch.called(&all).await?;
    let mut options: Vec<(Uuid, Vec<Uuid>)> = Vec::new();
    for named in &one.write.named {
        let others = called.iter().filter(|who| meant.contains(&who.id) && may_be(named, who, &called, known.first_n));
        if options.iter().all(|(id, _)| *id != named.id) {
            options.push((named.id, others.map(|who| who.id).collect()));
        }
    }
    Ok(combined(&options).into_iter().any(|stand_ins| Asked { stand_ins, ..asked(one) }.fits(known)))
}

/// Every way to take others for some of these, as far as they may be tried.
fn combined(options: &[(Uuid, Vec<Uuid>)]) -> Vec<StandIns> {
    let mut found: Vec<StandIns> = vec![Vec::new()];
    for (id, others) in options {
        let with = |one: &StandIns| -> Vec<StandIns> {
            others.iter().map(|other| [one.as_slice(), &[(*id, *other)]].concat()).collect()
        };
        let room = (TRIED_MOST + 1).saturating_sub(found.len());
        let more: Vec<StandIns> = found.iter().flat_map(with).take(room).collect();
        found.extend(more);
    }
    // The first is without any, and did not fit.
    found.split_off(1)
}

/// Whether a name that leads elsewhere now may have led to this one when the request was accepted as the fact
/// `first_n`: the name was taken from this one since, perhaps by the request itself, or others came to it.
fn may_be(named: &Named, who: &Called, called: &[Called], first_n: i64) -> bool {
    let of = if who.customer { NameOf::Customer } else { NameOf::Person };
    let had_another = who.forgotten || who.since_n >= first_n;
    let mut others = called.iter().filter(|other| other.id != who.id && named.bearers.contains(&other.id));
    of == named.of
        && who.id != named.id
        && (had_another || named.bearers.contains(&who.id))
        && others.all(|other| other.since_n >= first_n)
}

/// The ids in a fact, whatever they are of.
fn ids_in(entry: &Entry) -> BTreeSet<Uuid> {
    let mut found: BTreeSet<Uuid> = entry.person.iter().map(|person| person.0).collect();
    gather(&serde_json::to_value(&entry.fact).unwrap_or_default(), &mut found);
    found
}

fn gather(value: &Value, found: &mut BTreeSet<Uuid>) {
    match value {
        Value::String(text) => found.extend(Uuid::try_parse(text).ok()),
        Value::Array(all) => all.iter().for_each(|one| gather(one, found)),
        Value::Object(all) => all.values().for_each(|one| gather(one, found)),
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ids(numbers: std::ops::Range<u128>) -> Vec<Uuid> {
        numbers.map(Uuid::from_u128).collect()
    }

    #[test]
    fn each_name_may_be_meant_as_it_is_found_or_as_another() {
        let [one, two] = [1, 2].map(Uuid::from_u128);
        let [for_one, for_two] = [11, 12].map(Uuid::from_u128);
        let all = combined(&[(one, vec![for_one]), (two, vec![for_two])]);
        assert_eq!(all, [vec![(one, for_one)], vec![(two, for_two)], vec![(one, for_one), (two, for_two)]]);
        assert_eq!(combined(&[(one, Vec::new())]), Vec::<StandIns>::new());
    }

    #[test]
    fn whoever_names_two_does_not_hold_up_the_shop() {
        let options = [1, 2].map(|n| (Uuid::from_u128(n), ids(100..300)));
        assert_eq!(combined(&options).len(), TRIED_MOST);
    }
}
