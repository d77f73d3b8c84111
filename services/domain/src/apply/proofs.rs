//! What shows who a person is at a device, and the sessions that were begun with it.

use super::{Folded, add, change, known, strayed};
use crate::state::State;
use leadhand_facts::rows::{ProofRow, SignInRow};
use leadhand_facts::words::{ProofKind, Role};
use leadhand_facts::{Entry, Fact, PersonId, TextId};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    match &entry.fact {
        Fact::BadgeSet { person, role, hash } => {
            set(state, entry, (*person, ProofKind::Badge), *role, Some(hash.clone()), None);
            Ok(())
        }
        Fact::PinSet { person, role, secret, erased } => {
            erase(state, entry, *erased)?;
            set(state, entry, (*person, ProofKind::Pin), *role, None, Some(secret.id));
            Ok(())
        }
        Fact::ProofWithdrawn { person, proof, erased } => {
            erase(state, entry, *erased)?;
            change(entry, &mut state.proofs, &(*person, *proof), |row| {
                row.withdrawn_at = Some(entry.recorded_at);
                row.secret = None;
            })
        }
        Fact::SignedIn { .. } => signed_in(state, entry),
        Fact::SignedOut { session } => {
            change(entry, &mut state.sign_ins, &(*session,), |row| row.ended_at = Some(entry.recorded_at))
        }
        _ => strayed(entry),
    }
}

fn set(
    state: &mut State,
    entry: &Entry,
    (person, proof): (PersonId, ProofKind),
    role: Role,
    hash: Option<String>,
    secret: Option<TextId>,
) {
    let (set_at, set_n) = (entry.recorded_at, entry.number);
    state.proofs.put(ProofRow { person, proof, role, hash, secret, set_at, set_n, withdrawn_at: None });
}

fn erase(state: &mut State, entry: &Entry, text: Option<TextId>) -> Folded {
    match text {
        Some(text) => change(entry, &mut state.texts, &(text,), |row| row.erased_n = Some(entry.number)),
        None => Ok(()),
    }
}

fn signed_in(state: &mut State, entry: &Entry) -> Folded {
    let Fact::SignedIn { session, device, principal, person, role, proof, prefix, hash, expires_at } = &entry.fact
    else {
        return strayed(entry);
    };
    let proof_n = known(entry, &state.proofs, &(*person, *proof))?.set_n;
    let row = SignInRow {
        session: *session,
        device: *device,
        principal: *principal,
        person: *person,
        role: *role,
        proof: *proof,
        proof_n,
        prefix: prefix.clone(),
        hash: hash.clone(),
        begun_at: entry.recorded_at,
        expires_at: *expires_at,
        ended_at: None,
        begun_n: entry.number,
    };
    add(entry, &mut state.sign_ins, row)
}
