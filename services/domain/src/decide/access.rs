//! Tokens: who may come in, and as what.

use crate::answer::Made;
use crate::check;
use crate::command::{IssueToken, ReplaceLead, RevokeToken, RotateToken};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::rows::TokenRow;
use leadhand_facts::words::Role;
use leadhand_facts::{Fact, Instant, PrincipalId, TextRef, TokenId};
use std::collections::BTreeMap;

pub(super) fn issue(session: &mut Session, command: &IssueToken) -> Result<Made, Refusal> {
    if let Some(label) = &command.label {
        check::name("label", label)?;
    }
    if let Some(person) = command.person {
        look::person(session.state, person)?;
    } else if command.label.is_none() {
        return Err(Refusal::invalid("label", "say what the device is called, or for which person the token is"));
    }
    if command.expires_at.is_some_and(|expires| expires <= session.context.now) {
        return Err(Refusal::invalid("expires_at", "it has passed already; give a later time, or none"));
    }
    let label = session.seal_some(command.label.as_deref());
    session.emit(Fact::TokenIssued {
        token: command.token,
        principal: command.principal,
        person: command.person,
        label,
        role: command.role,
        prefix: command.prefix.clone(),
        hash: command.hash.clone(),
        expires_at: command.expires_at,
    })?;
    Ok(Made::Token(command.token))
}

/// The longest overlap of an old token with the new one, in minutes: 30 days.
const OVERLAP_MAX: i64 = 30 * 24 * 60;

/// Whoever rotates is the token's holder or a lead; that was looked at where it is known whose token
/// was shown.
pub(super) fn rotate(session: &mut Session, command: &RotateToken) -> Result<Made, Refusal> {
    if !(0..=OVERLAP_MAX).contains(&command.overlap_minutes) {
        return Err(Refusal::invalid("overlap", "it is not from 0 to 30 days; give a time within"));
    }
    let now = session.context.now;
    if command.expires_at.is_some() && session.context.actor.role != Role::Lead {
        return Err(Refusal::LeadOnly { what: "give a token another end" });
    }
    if command.expires_at.is_some_and(|expires| expires <= now) {
        return Err(Refusal::invalid("expires_at", "it has passed already; give a later time, or none"));
    }
    let row = known(session, command.token)?.clone();
    if !is_valid(&row, now) {
        return Err(Refusal::TokenOver {});
    }
    let of_principal = |other: &&TokenRow| other.principal == row.principal;
    let all: Vec<TokenRow> = session.state.tokens.iter().filter(of_principal).cloned().collect();
    // The newest is the one that nothing has shortened.
    let meant = all.iter().max_by_key(|other| other.issued_n).and_then(|newest| newest.expires_at);
    let label = row.label.and_then(|label| session.state.texts.get(&(label,)));
    let label = label.map(|text| TextRef { id: text.text, hash: text.hash.clone() });
    session.emit(Fact::TokenIssued {
        token: command.new,
        principal: row.principal,
        person: row.person,
        label,
        role: row.role,
        prefix: command.prefix.clone(),
        hash: command.hash.clone(),
        expires_at: command.expires_at.or(meant),
    })?;
    let over = now.plus_minutes(command.overlap_minutes);
    for old in all.iter().filter(|old| is_valid(old, now) && old.expires_at.is_none_or(|end| end > over)) {
        session.emit(Fact::TokenLimited { token: old.token, expires_at: over })?;
    }
    Ok(Made::Token(command.new))
}

/// A lead's token for a person who lost theirs. Who is a lead is for the shop to say, so nobody becomes one
/// by an operator.
pub(super) fn replace_lead(session: &mut Session, command: &ReplaceLead) -> Result<Made, Refusal> {
    let now = session.context.now;
    look::person(session.state, command.person)?;
    let theirs = |row: &&TokenRow| row.person == Some(command.person);
    if !session.state.tokens.iter().filter(theirs).any(|row| row.role == Role::Lead) {
        return Err(Refusal::NeverALead {});
    }
    let theirs = |row: &&TokenRow| theirs(row) && is_valid(row, now);
    let others: Vec<TokenId> = session.state.tokens.iter().filter(theirs).map(|row| row.token).collect();
    session.emit(Fact::TokenIssued {
        token: command.token,
        principal: command.principal,
        person: Some(command.person),
        label: None,
        role: Role::Lead,
        prefix: command.prefix.clone(),
        hash: command.hash.clone(),
        expires_at: None,
    })?;
    if command.revoke_others {
        for token in others {
            session.emit(Fact::TokenRevoked { token })?;
        }
    }
    Ok(Made::Token(command.token))
}

/// Whether a token counts at this moment.
pub(super) fn is_valid(row: &TokenRow, now: Instant) -> bool {
    row.revoked_at.is_none() && row.expires_at.is_none_or(|end| end > now)
}

fn known<'s>(session: &'s Session, token: TokenId) -> Result<&'s TokenRow, Refusal> {
    session.state.tokens.get(&(token,)).ok_or_else(|| Refusal::Unknown {
        what: "token",
        which: token.to_string(),
        todo: "`leadhand token list` shows them",
    })
}

/// Refuses to end the last tokens with which a lead can come in: nobody could issue another. One that
/// was replaced runs out by itself, so it does not count.
pub(super) fn refuse_last_lead(session: &Session, ends: impl Fn(&TokenRow) -> bool) -> Result<(), Refusal> {
    let now = session.context.now;
    let newest: BTreeMap<PrincipalId, i64> = session.state.tokens.iter().fold(BTreeMap::new(), |mut newest, row| {
        let latest = newest.entry(row.principal).or_insert(row.issued_n);
        *latest = row.issued_n.max(*latest);
        newest
    });
    let stands = |row: &&TokenRow| {
        row.role == Role::Lead && is_valid(row, now) && newest.get(&row.principal) == Some(&row.issued_n)
    };
    let leads: Vec<&TokenRow> = session.state.tokens.iter().filter(stands).collect();
    if !leads.is_empty() && leads.iter().all(|row| ends(row)) { Err(Refusal::LastLead {}) } else { Ok(()) }
}

pub(super) fn revoke(session: &mut Session, command: &RevokeToken) -> Result<Made, Refusal> {
    let row = known(session, command.token)?;
    if row.revoked_at.is_none() {
        refuse_last_lead(session, |token| token.token == command.token)?;
        session.emit(Fact::TokenRevoked { token: command.token })?;
    }
    Ok(Made::Token(command.token))
}
