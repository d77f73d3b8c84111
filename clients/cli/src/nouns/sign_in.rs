//! `leadhand sign-in` and `leadhand sign-out`.

use super::person::typed_secret;
use super::token::Keep;
use crate::app::App;
use crate::failure::Outcome;
use clap::Args;
use leadhand_sdk::v1::{SignInRequest, SignInResponse, SignOutRequest};
use std::path::PathBuf;

/// Who signs in, and how.
#[derive(Debug, Args)]
pub struct SignIn {
    /// The person, by name or id; the PIN is read from standard input
    #[arg(long, required_unless_present = "badge", conflicts_with = "badge")]
    person: Option<String>,
    /// With a badge code, which is read from standard input: scanned or typed
    #[arg(long)]
    badge: bool,
    /// Minutes that the session lasts, at most 960; beyond 60 a lead has the rights of a technician in it
    #[arg(long, default_value_t = 10, value_name = "MINUTES")]
    minutes: i32,
    /// A new file for the session, readable by you alone: give it as --token-file
    #[arg(long, value_name = "FILE")]
    into: Option<PathBuf>,
}

/// Signs a person in at this device.
pub async fn sign_in(app: &App, asked: SignIn) -> Outcome {
    let shown = typed_secret(if asked.badge { "badge code" } else { "PIN" })?;
    let (pin, badge) = if asked.badge { (String::new(), shown) } else { (shown, String::new()) };
    let keep = Keep::begin(asked.into.as_deref())?;
    let (write, person) = (app.write().await?, asked.person.unwrap_or_default());
    let answer = app.client.sign_in(SignInRequest { write, person, pin, badge, minutes: asked.minutes }).await?;
    let said = format!("signed in for {} minutes", asked.minutes);
    let shown = SignInResponse { secret: String::new(), ..answer.clone() };
    keep.end(app, &answer, &shown, answer.receipt.as_ref(), &answer.secret, &said)
}

/// Ends the session in use.
pub async fn sign_out(app: &App) -> Outcome {
    let answer = app.client.sign_out(SignOutRequest { write: app.write().await? }).await?;
    app.done(&answer, answer.receipt.as_ref(), None, "signed out")
}
