//! A request that was accepted before gets its first answer, whoever it names.
//!
//! Names lead to persons before the writer is asked, and a person may have been forgotten since: the name then leads
//! nowhere, or to somebody new. Whether it is the same request can still be told: with the id of somebody forgotten
//! in the name's place, the fingerprint fits.

use super::{Outcome, Submission};
use crate::error::AppError;
use crate::fingerprint::Asked;
use leadhand_domain::need::Need;
use leadhand_domain::state::State;
use leadhand_facts::PersonId;
use leadhand_store::{AcceptedRequest, Batch, StoreError};

/// Persons who were forgotten that are tried for a name: the square of it is hashed when two names lead nowhere.
const TRIED_MAX: usize = 200;

/// The first answer, or the refusal of an id that was used for something else.
pub(super) async fn repeat(
    batch: &mut Batch,
    one: &Submission,
    known: &AcceptedRequest,
) -> Result<Result<Outcome, AppError>, StoreError> {
    let fingerprint = known.fingerprint.as_deref();
    let same = known.principal == one.actor.principal
        && (asked(one).fits(fingerprint) || fits_somebody_forgotten(batch, one, known).await?);
    if !same {
        return Ok(Err(AppError::RequestReused(one.write.request)));
    }
    let answer = serde_json::from_value(known.answer.clone());
    Ok(match answer {
        Ok(answer) => Ok(Outcome { request: one.write.request, answer, repeated: true }),
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

async fn fits_somebody_forgotten(
    batch: &mut Batch,
    one: &Submission,
    known: &AcceptedRequest,
) -> Result<bool, StoreError> {
    if one.write.named.is_empty() {
        return Ok(false);
    }
    let mut state = State::at(batch.head.number);
    for row in batch.load(&[Need::Shop]).await? {
        state.load(row);
    }
    // Whoever has the name now can't have been meant if they came later.
    let came_later = |person: PersonId| state.persons.get(&(person,)).is_none_or(|row| row.added_n > known.last_n);
    let mut named: Vec<PersonId> = one.write.named.iter().map(|named| named.person).collect();
    named.retain(|person| came_later(*person));
    named.sort();
    named.dedup();
    let mut gone: Vec<_> = state.persons.iter().filter(|row| row.forgotten && row.added_n <= known.last_n).collect();
    gone.sort_by_key(|row| std::cmp::Reverse(row.added_n));
    let gone: Vec<PersonId> = gone.into_iter().map(|row| row.person).take(TRIED_MAX).collect();
    let fits = |stand_ins| Asked { stand_ins, ..asked(one) }.fits(known.fingerprint.as_deref());
    Ok(match named[..] {
        [only] => gone.iter().any(|person| fits(vec![(only, *person)])),
        [first, second] => gone.iter().any(|one| {
            // One of the two may be meant as it is found.
            let alone = fits(vec![(first, *one)]) || fits(vec![(second, *one)]);
            alone || gone.iter().any(|other| fits(vec![(first, *one), (second, *other)]))
        }),
        _ => false,
    })
}
