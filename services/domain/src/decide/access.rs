//! Tokens: who may come in, and as what.

use crate::answer::Made;
use crate::check;
use crate::command::{IssueToken, RevokeToken};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::Fact;
use leadhand_facts::rows::TokenRow;
use leadhand_facts::words::Role;

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

/// Refuses to end the last tokens with which a lead can come in: nobody could issue another.
pub(super) fn refuse_last_lead(session: &Session, ends: impl Fn(&TokenRow) -> bool) -> Result<(), Refusal> {
    let now = session.context.now;
    let valid = |row: &&TokenRow| {
        row.role == Role::Lead && row.revoked_at.is_none() && row.expires_at.is_none_or(|end| end > now)
    };
    let leads: Vec<&TokenRow> = session.state.tokens.iter().filter(valid).collect();
    if !leads.is_empty() && leads.iter().all(|row| ends(row)) { Err(Refusal::LastLead {}) } else { Ok(()) }
}

pub(super) fn revoke(session: &mut Session, command: &RevokeToken) -> Result<Made, Refusal> {
    let row = session.state.tokens.get(&(command.token,)).ok_or_else(|| Refusal::Unknown {
        what: "token",
        which: command.token.to_string(),
        todo: "`leadhand token list` shows them",
    })?;
    if row.revoked_at.is_none() {
        refuse_last_lead(session, |token| token.token == command.token)?;
        session.emit(Fact::TokenRevoked { token: command.token })?;
    }
    Ok(Made::Token(command.token))
}
