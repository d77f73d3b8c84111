//! Who a person is at a device: badge codes, PINs, sessions; and what has to be done by name.

use crate::answer::Made;
use crate::command::{SetBadge, SetPin, SignIn, SignOut, WithdrawProof};
use crate::decide::access;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::{ProofRow, SignInRow};
use leadhand_facts::words::{ProofKind, Role};
use leadhand_facts::{Fact, Instant, PersonId, TextId, TokenId};

/// The longest session, in minutes: a shift with its overtime.
const SESSION_MAX: i64 = 16 * 60;
/// The longest session that proves who leads, in minutes.
const LEADING_MAX: i64 = 60;
/// Fewest and most digits of a PIN.
const PIN_DIGITS: std::ops::RangeInclusive<usize> = 6..=12;

/// Whether somebody could guess this PIN first of all: all digits the same, or a straight run.
fn is_trivial(pin: &[u8]) -> bool {
    let steps: Vec<i16> = pin.windows(2).map(|pair| (i16::from(pair[1]) - i16::from(pair[0])).rem_euclid(10)).collect();
    [0, 1, 9].iter().any(|step| steps.iter().all(|found| found == step))
}

/// The form of a PIN. The refusal never repeats it.
pub fn check_pin(pin: &str) -> Result<(), Refusal> {
    if !PIN_DIGITS.contains(&pin.len()) || !pin.bytes().all(|digit| digit.is_ascii_digit()) {
        return Err(Refusal::invalid("pin", "it is not 6 to 12 digits; choose another"));
    }
    if is_trivial(pin.as_bytes()) {
        return Err(Refusal::invalid(
            "pin",
            "it is the same digit or a straight run, which is guessed first; choose another",
        ));
    }
    Ok(())
}

/// Whoever does what only a lead may do, and has to answer for by name: a lead with an own token, or
/// signed in at a device. What asks for the proof of a second person belongs here as well.
pub(super) fn lead_by_name(session: &Session, what: &'static str) -> Result<PersonId, Refusal> {
    let actor = session.context.actor;
    match actor.proved {
        None => Err(Refusal::SignInFirst { what }),
        Some(_) if actor.role != Role::Lead => Err(Refusal::LeadOnly { what }),
        Some(person) => Ok(person),
    }
}

/// Whoever does what has to be answered for by name: with an own token, or signed in at a device.
pub(super) fn by_name(session: &Session, what: &'static str) -> Result<PersonId, Refusal> {
    session.context.actor.proved.ok_or(Refusal::NameNeeded { what })
}

/// Refuses to look with somebody else's eyes: what `person` saw is not recorded for another.
pub(super) fn own_eyes(session: &Session, person: PersonId) -> Result<(), Refusal> {
    if session.context.actor.person == Some(person) {
        return Ok(());
    }
    Err(Refusal::OwnEyes { what: "a second look" })
}

fn checked(session: &Session, person: PersonId, role: Role) -> Result<(), Refusal> {
    if role == Role::Viewer {
        let why = "whoever signs in does something; choose technician, parts or lead";
        return Err(Refusal::invalid("role", why));
    }
    look::person(session.state, person).map(|_| ())
}

fn living_pin(state: &State, person: PersonId) -> Option<TextId> {
    state.proofs.get(&(person, ProofKind::Pin)).and_then(|row| row.secret)
}

pub(super) fn set_badge(session: &mut Session, command: &SetBadge) -> Result<Made, Refusal> {
    let SetBadge { person, role, hash } = command.clone();
    checked(session, person, role)?;
    session.emit(Fact::BadgeSet { person, role, hash })?;
    Ok(Made::Person(person))
}

pub(super) fn set_pin(session: &mut Session, command: &SetPin) -> Result<Made, Refusal> {
    let (person, role) = (command.person, command.role);
    checked(session, person, role)?;
    let erased = living_pin(session.state, person);
    let secret = session.seal(&command.secret);
    session.emit(Fact::PinSet { person, role, secret, erased })?;
    Ok(Made::Person(person))
}

pub(super) fn withdraw(session: &mut Session, command: &WithdrawProof) -> Result<Made, Refusal> {
    let WithdrawProof { person, proof } = *command;
    look::person(session.state, person)?;
    let row = session.state.proofs.get(&(person, proof));
    if row.is_none_or(|row| row.withdrawn_at.is_some()) {
        return Err(Refusal::NoProof { proof });
    }
    emit_withdrawn(session, person, proof)?;
    Ok(Made::Person(person))
}

fn emit_withdrawn(session: &mut Session, person: PersonId, proof: ProofKind) -> Result<(), Refusal> {
    let erased = if proof == ProofKind::Pin { living_pin(session.state, person) } else { None };
    session.emit(Fact::ProofWithdrawn { person, proof, erased }).map(|_| ())
}

/// Whatever lets a person in at a device counts no longer.
pub(super) fn withdraw_all(session: &mut Session, person: PersonId) -> Result<(), Refusal> {
    for proof in ProofKind::ALL.iter().copied() {
        let counts = session.state.proofs.get(&(person, proof)).is_some_and(|row| row.withdrawn_at.is_none());
        if counts {
            emit_withdrawn(session, person, proof)?;
        }
    }
    Ok(())
}

pub(super) fn sign_in(session: &mut Session, command: &SignIn) -> Result<Made, Refusal> {
    let SignIn { session: id, device, person, proof, proof_n, prefix, hash, minutes } = command.clone();
    if !(1..=SESSION_MAX).contains(&minutes) {
        return Err(Refusal::invalid("minutes", format!("it is not from 1 to {SESSION_MAX}; leave it out for 10")));
    }
    let token = session.state.tokens.get(&(device,)).ok_or(Refusal::NotADevice {})?;
    let counts = access::is_valid(token, session.context.now);
    if token.person.is_some() || token.role == Role::Viewer || !counts {
        return Err(Refusal::NotADevice {});
    }
    let principal = token.principal;
    look::person(session.state, person)?;
    let shown = session.state.proofs.get(&(person, proof)).ok_or(Refusal::ProofChanged {})?;
    if shown.set_n != proof_n || shown.withdrawn_at.is_some() {
        return Err(Refusal::ProofChanged {});
    }
    let role = lasting(shown.role, minutes);
    let expires_at = session.context.now.plus_minutes(minutes);
    session.emit(Fact::SignedIn { session: id, device, principal, person, role, proof, prefix, hash, expires_at })?;
    Ok(Made::Session { session: id, person, role, expires_at })
}

/// What a session of so many minutes allows: one that lasts a shift leads nobody, since the tablet lies open meanwhile.
fn lasting(role: Role, minutes: i64) -> Role {
    if role == Role::Lead && minutes > LEADING_MAX { Role::Technician } else { role }
}

pub(super) fn sign_out(session: &mut Session, command: &SignOut) -> Result<Made, Refusal> {
    let row = session.state.sign_ins.get(&(command.session,)).ok_or(Refusal::NotSignedIn {})?;
    if row.ended_at.is_none() {
        session.emit(Fact::SignedOut { session: command.session })?;
    }
    Ok(Made::Nothing)
}

/// Whether a session counts at this moment; its device's token is looked at apart.
pub fn session_counts(state: &State, session: TokenId, now: Instant) -> bool {
    let counts = |row: &SignInRow| {
        let shown = |proof: &ProofRow| proof.set_n == row.proof_n && proof.withdrawn_at.is_none();
        let person = state.persons.get(&(row.person,)).is_some_and(|person| !person.forgotten);
        let proof = state.proofs.get(&(row.person, row.proof)).is_some_and(shown);
        row.ended_at.is_none() && row.expires_at > now && person && proof
    };
    state.sign_ins.get(&(session,)).is_some_and(counts)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lasts_a_shift_leads_nobody() {
        for (role, minutes, allows) in [
            (Role::Lead, 1, Role::Lead),
            (Role::Lead, 60, Role::Lead),
            (Role::Lead, 61, Role::Technician),
            (Role::Technician, 600, Role::Technician),
            (Role::Parts, 600, Role::Parts),
        ] {
            assert_eq!(lasting(role, minutes), allows, "{role} for {minutes} min");
        }
    }

    // NIST SP 800-63B, 5.1.1.1 asks for six digits at least of a chosen number, and 5.1.1.2 to refuse what is guessed
    // first (from memory).
    #[test]
    fn a_pin_is_six_to_twelve_digits_that_are_not_guessed_first() {
        for good in ["270591", "112233", "123457", "909090", "135791357913"] {
            assert_eq!(check_pin(good), Ok(()), "{good}");
        }
        for bad in ["", "12345", "1234567890123", "12345a", "12 456", "\u{0661}\u{0662}\u{0663}", "000000", "7777777"] {
            assert!(check_pin(bad).is_err(), "{bad}");
        }
        for run in ["123456", "654321", "567890", "0123456789", "890123", "210987"] {
            assert!(check_pin(run).is_err(), "{run}");
        }
        let said = check_pin("123456").unwrap_err().to_string();
        assert!(!said.contains("123456"), "{said}");
    }
}
