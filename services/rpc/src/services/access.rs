//! Who comes in: tokens that are replaced, badge codes, PINs, persons at devices.

use super::{serve, unfit};
use crate::call::Call;
use crate::convert::time::{instant_some, timestamp};
use crate::convert::{enums, fields, invalid, notice::receipt};
use crate::layers::auth::shown;
use leadhand_app::{App, AppError, Shows};
use leadhand_domain::answer::Made;
use leadhand_domain::command::WithdrawProof;
use leadhand_facts::TokenId;
use leadhand_proto::v1;
use leadhand_proto::v1::access_service_server::AccessService;

/// Minutes for which an old token goes on, unless it was said.
const OVERLAP_USUAL: i64 = 24 * 60;
/// Minutes that a session lasts, unless it was said.
const SESSION_USUAL: i64 = 10;
/// Most bytes of a PIN or a badge code.
const SHOWN_MAX: usize = 100;

/// The service.
pub struct Access {
    pub(crate) app: App,
}

serve! { AccessService for Access {
    rotate_token(RotateTokenRequest) -> RotateTokenResponse;
    set_badge(SetBadgeRequest) -> SetBadgeResponse;
    set_pin(SetPinRequest) -> SetPinResponse;
    withdraw_proof(WithdrawProofRequest) -> WithdrawProofResponse;
    sign_in(SignInRequest) -> SignInResponse;
    sign_out(SignOutRequest) -> SignOutResponse;
} also {} }

async fn rotate_token(call: &Call, asked: v1::RotateTokenRequest) -> Result<v1::RotateTokenResponse, AppError> {
    let token = fields::id_some("token", &asked.token)?.map(TokenId);
    let overlap = asked.overlap.map_or(Ok(OVERLAP_USUAL), |said| whole_minutes(&said))?;
    let expires_at = instant_some("expires_at", asked.expires_at)?;
    let write = call.write(asked.write).await?;
    let (outcome, secret) = call.app.rotate_token(&call.who, write, token, overlap, expires_at).await?;
    let Made::Token(token) = outcome.answer.made else { return Err(unfit("a token", &outcome)) };
    Ok(v1::RotateTokenResponse {
        receipt: receipt(&outcome),
        token: token.to_string(),
        secret: secret.unwrap_or_default(),
    })
}

fn whole_minutes(said: &prost_types::Duration) -> Result<i64, AppError> {
    if said.nanos != 0 || said.seconds % 60 != 0 {
        return Err(invalid("overlap", "it is not a number of whole minutes; give one"));
    }
    Ok(said.seconds / 60)
}

async fn set_badge(call: &Call, asked: v1::SetBadgeRequest) -> Result<v1::SetBadgeResponse, AppError> {
    let role = enums::read_role("role", asked.role)?;
    let person = call.person("person", &asked.person).await?;
    let write = call.write(asked.write).await?;
    let (outcome, code) = call.app.set_badge(&call.who, write, person, role).await?;
    Ok(v1::SetBadgeResponse { receipt: receipt(&outcome), code: code.unwrap_or_default() })
}

async fn set_pin(call: &Call, asked: v1::SetPinRequest) -> Result<v1::SetPinResponse, AppError> {
    let role = enums::read_role("role", asked.role)?;
    let person = call.person("person", &asked.person).await?;
    let write = call.write(asked.write).await?;
    let outcome = call.app.set_pin(&call.who, write, person, role, asked.pin).await?;
    Ok(v1::SetPinResponse { receipt: receipt(&outcome) })
}

async fn withdraw_proof(call: &Call, asked: v1::WithdrawProofRequest) -> Result<v1::WithdrawProofResponse, AppError> {
    let proof = enums::read_proof("proof", asked.proof)?;
    let person = call.person("person", &asked.person).await?;
    let outcome = call.execute(asked.write, WithdrawProof { person, proof }).await?;
    Ok(v1::WithdrawProofResponse { receipt: receipt(&outcome) })
}

async fn sign_in(call: &Call, asked: v1::SignInRequest) -> Result<v1::SignInResponse, AppError> {
    let write = call.write(asked.write).await?;
    let minutes = fields::positive_some("minutes", asked.minutes)?.map_or(SESSION_USUAL, i64::from);
    for (field, shown) in [("pin", &asked.pin), ("badge", &asked.badge)] {
        if shown.len() > SHOWN_MAX || shown.contains(char::is_control) {
            return Err(invalid(field, "it is too long, or has control characters; give what was set"));
        }
    }
    let shows = match (fields::named("person", &asked.person)?, asked.pin.is_empty(), asked.badge.is_empty()) {
        (Some(person), false, true) => Shows::Pin { person: person.to_owned(), pin: asked.pin },
        (None, true, false) => Shows::Badge(asked.badge),
        _ => return Err(invalid("badge", "give either a badge code alone, or a person with a PIN")),
    };
    let signed = call.app.sign_in(&call.who, write, shows, minutes).await;
    if let Err(AppError::TooManyTries { wait }) = &signed {
        let (shop, device, from) = (call.who.shop, call.who.token, shown(call.from));
        tracing::warn!(%shop, %device, from, wait, "refused a sign-in: too many wrong tries");
    }
    let (outcome, secret) = signed?;
    let Made::Session { session, person, role, expires_at } = outcome.answer.made else {
        return Err(unfit("a session", &outcome));
    };
    Ok(v1::SignInResponse {
        receipt: receipt(&outcome),
        session: session.to_string(),
        secret: secret.unwrap_or_default(),
        person: person.to_string(),
        role: enums::role(role),
        expires_at: Some(timestamp(expires_at)),
    })
}

async fn sign_out(call: &Call, asked: v1::SignOutRequest) -> Result<v1::SignOutResponse, AppError> {
    let write = call.write(asked.write).await?;
    Ok(v1::SignOutResponse { receipt: receipt(&call.app.sign_out(&call.who, write).await?) })
}
