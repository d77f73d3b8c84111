//! Commands about who may come in: tokens replaced, badge codes, PINs, sessions at devices.

use super::Draw;
use leadhand_domain::command::*;
use leadhand_domain::context::Chance;
use leadhand_facts::rows::{SignInRow, TokenRow};
use leadhand_facts::words::{ProofKind, Role};
use leadhand_facts::{PersonId, PrincipalId, TokenId};
use uuid::Uuid;

fn hash(id: Uuid) -> String {
    format!("{:064x}", id.as_u128())
}

/// The tablet that every shop has in a bay.
pub fn tablet() -> IssueToken {
    let token = TokenId(Uuid::from_u128(8 << 96));
    IssueToken {
        token,
        principal: PrincipalId(Uuid::from_u128(7 << 96)),
        person: None,
        label: Some("Bay tablet".into()),
        role: Role::Technician,
        prefix: "lhd_33333".into(),
        hash: hash(token.0),
        expires_at: None,
    }
}

fn some_token(draw: &mut Draw<'_>) -> TokenId {
    let all: Vec<TokenId> = draw.books.rows::<TokenRow>().map(|row| row.token).collect();
    let token = if draw.rarely(5) { None } else { draw.one_of(&all) };
    token.unwrap_or(TokenId(Uuid::from_u128(9)))
}

fn role(draw: &mut Draw<'_>) -> Role {
    draw.one_of(&[Role::Technician, Role::Lead, Role::Parts, Role::Viewer]).unwrap_or(Role::Parts)
}

pub fn rotate_token(draw: &mut Draw<'_>) -> Command {
    let (token, new) = (some_token(draw), draw.chance.id());
    let overlap_minutes = draw.one_of(&[1440, 0, 43_200, 43_201]).unwrap_or(5);
    let expires_at = (draw.below(4) == 3).then(|| draw.now.plus_minutes(draw.between(-5, 5000)));
    RotateToken { token, new: TokenId(new), prefix: "lhd_11111".into(), hash: hash(new), overlap_minutes, expires_at }
        .into()
}

pub fn replace_lead(draw: &mut Draw<'_>) -> Command {
    // Mostly somebody who had a lead's token: nobody else gets one this way.
    let leads = draw.state.tokens.iter().filter(|row| row.role == Role::Lead).filter_map(|row| row.person);
    let leads: Vec<PersonId> = leads.collect();
    let lead = if draw.rarely(4) { None } else { draw.one_of(&leads) };
    let (person, token) = (lead.unwrap_or_else(|| draw.person()), draw.chance.id());
    let (principal, revoke_others) = (PrincipalId(draw.chance.id()), draw.below(2) == 1);
    ReplaceLead {
        person,
        token: TokenId(token),
        principal,
        prefix: "lhd_22222".into(),
        hash: hash(token),
        revoke_others,
    }
    .into()
}

pub fn set_badge(draw: &mut Draw<'_>) -> Command {
    let (person, role) = (draw.person(), role(draw));
    SetBadge { person, role, hash: hash(draw.chance.id()) }.into()
}

pub fn set_pin(draw: &mut Draw<'_>) -> Command {
    let (person, role) = (draw.person(), role(draw));
    SetPin { person, role, secret: format!("slow hash {}", draw.below(100)) }.into()
}

pub fn withdraw(draw: &mut Draw<'_>) -> Command {
    let (person, proof) = a_proof(draw);
    WithdrawProof { person, proof }.into()
}

fn a_proof(draw: &mut Draw<'_>) -> (PersonId, ProofKind) {
    let all: Vec<(PersonId, ProofKind)> =
        draw.books.rows::<leadhand_facts::rows::ProofRow>().map(|row| (row.person, row.proof)).collect();
    let drawn = if draw.rarely(5) { None } else { draw.one_of(&all) };
    drawn.unwrap_or_else(|| (draw.person(), ProofKind::Pin))
}

pub fn sign_in(draw: &mut Draw<'_>) -> Command {
    let (person, proof) = a_proof(draw);
    let devices: Vec<TokenId> =
        draw.books.rows::<TokenRow>().filter(|row| row.person.is_none()).map(|row| row.token).collect();
    let device = if draw.rarely(5) { None } else { draw.one_of(&devices) };
    let device = device.unwrap_or_else(|| some_token(draw));
    let set = draw.books.tables().get::<leadhand_facts::rows::ProofRow>(&(person, proof)).map_or(1, |row| row.set_n);
    let proof_n = if draw.rarely(6) { set + 1 } else { set };
    let (session, minutes) = (draw.chance.id(), draw.one_of(&[10, 60, 0, 61, 960, 961]).unwrap_or(1));
    let (prefix, hash) = ("lhs_00000".into(), hash(session));
    SignIn { session: TokenId(session), device, person, proof, proof_n, prefix, hash, minutes }.into()
}

pub fn sign_out(draw: &mut Draw<'_>) -> Command {
    let all: Vec<TokenId> = draw.books.rows::<SignInRow>().map(|row| row.session).collect();
    let session = if draw.rarely(5) { None } else { draw.one_of(&all) };
    SignOut { session: session.unwrap_or(TokenId(Uuid::from_u128(9))) }.into()
}
