//! Badge codes, PINs, and the sessions of persons at devices.

use super::astray;
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::rows::{PersonRow, ProofRow, SignInRow, TextRow, TokenRow};
use leadhand_facts::words::{ProofKind, Role};
use leadhand_facts::{Fact, PersonId, TextId};

/// An hour, in microseconds.
const HOUR_US: i64 = 3_600_000_000;

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::BadgeSet { person, role, hash } => {
            let hash = Some(hash.clone());
            proof_set(tables, at, *role, ProofRow { hash, ..blank(at, *person, ProofKind::Badge, *role) })
        }
        Fact::PinSet { person, role, secret, erased } => {
            pin_erased(tables, at, *person, *erased)?;
            let secret = Some(secret.id);
            proof_set(tables, at, *role, ProofRow { secret, ..blank(at, *person, ProofKind::Pin, *role) })
        }
        Fact::ProofWithdrawn { person, proof, erased } => withdrawn(tables, at, *person, *proof, *erased),
        Fact::SignedIn { .. } => signed_in(tables, at, fact),
        Fact::SignedOut { session } => {
            let row = tables.change::<SignInRow>(at, &(*session,))?;
            at.demand(row.ended_at.is_none(), "sign_in", || format!("session {session} was ended before"))?;
            row.ended_at = Some(at.recorded);
            Ok(())
        }
        _ => Err(astray(at)),
    }
}

fn blank(at: At, person: PersonId, proof: ProofKind, role: Role) -> ProofRow {
    ProofRow { person, proof, role, hash: None, secret: None, set_at: at.recorded, set_n: at.n, withdrawn_at: None }
}

fn proof_set(tables: &mut Tables, at: At, role: Role, row: ProofRow) -> Result<(), Fault> {
    let person = tables.known::<PersonRow>(at, &(row.person,))?;
    at.demand(!person.forgotten, "proof", || format!("person {} is forgotten", row.person))?;
    at.demand(role != Role::Viewer, "proof", || "whoever only looks has nothing to prove".to_owned())?;
    tables.put(row);
    Ok(())
}

/// The PIN that counted until now, and no other text, goes.
fn pin_erased(tables: &mut Tables, at: At, person: PersonId, erased: Option<TextId>) -> Result<(), Fault> {
    let living = tables.get::<ProofRow>(&(person, ProofKind::Pin)).and_then(|row| row.secret);
    at.demand(living == erased, "proof", || format!("the PIN before had the text {living:?}, not {erased:?}"))?;
    if let Some(text) = erased {
        let row = tables.change::<TextRow>(at, &(text,))?;
        at.demand(row.erased_n.is_none(), "text_ref", || format!("text {text} was erased before"))?;
        row.erased_n = Some(at.n);
    }
    Ok(())
}

fn withdrawn(
    tables: &mut Tables,
    at: At,
    person: PersonId,
    proof: ProofKind,
    erased: Option<TextId>,
) -> Result<(), Fault> {
    match proof {
        ProofKind::Pin => pin_erased(tables, at, person, erased)?,
        ProofKind::Badge => at.demand(erased.is_none(), "proof", || "a badge has no text".to_owned())?,
    }
    let row = tables.change::<ProofRow>(at, &(person, proof))?;
    at.demand(row.withdrawn_at.is_none(), "proof", || format!("the {proof} of {person} was withdrawn before"))?;
    row.withdrawn_at = Some(at.recorded);
    row.secret = None;
    Ok(())
}

fn signed_in(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::SignedIn { session, device, principal, person, role, proof, prefix, hash, expires_at } = fact else {
        return Err(astray(at));
    };
    let token = tables.known::<TokenRow>(at, &(*device,))?;
    let is_device = token.person.is_none() && token.role != Role::Viewer && token.principal == *principal;
    at.demand(is_device && token.revoked_at.is_none(), "sign_in", || {
        format!("token {device} is none at which somebody signs in as {principal}")
    })?;
    let shown = tables.known::<ProofRow>(at, &(*person, *proof))?;
    // Of a lead whose session goes beyond the hour a technician is left.
    let beyond = expires_at.since_us(at.recorded) > HOUR_US;
    let lets_in = match shown.role {
        Role::Lead if beyond => Role::Technician,
        other => other,
    };
    let counts = shown.withdrawn_at.is_none() && lets_in == *role;
    at.demand(counts, "sign_in", || format!("the {proof} of {person} does not let in a {role} for so long"))?;
    at.demand(*expires_at > at.recorded, "sign_in", || "it is over before it begins".to_owned())?;
    let proof_n = shown.set_n;
    tables.add(
        at,
        SignInRow {
            session: *session,
            device: *device,
            principal: *principal,
            person: *person,
            role: *role,
            proof: *proof,
            proof_n,
            prefix: prefix.clone(),
            hash: hash.clone(),
            begun_at: at.recorded,
            expires_at: *expires_at,
            ended_at: None,
            begun_n: at.n,
        },
    )
}
