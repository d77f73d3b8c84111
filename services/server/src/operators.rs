//! `leadhandd operator`: whoever reaches the database makes operators; nobody else can.

use crate::cli::OperatorCommand;
use crate::commands::TokenFile;
use crate::compose::OpenApp;
use crate::configuration::Configuration;
use anyhow::{Context, bail};
use leadhand_app::App;
use leadhand_facts::{Instant, PrincipalId};
use std::io::Write;
use std::path::Path;

/// Runs it, beside a running server or without one.
pub async fn operator(
    configuration: &Configuration,
    command: &OperatorCommand,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    match command {
        OperatorCommand::Issue { label, into, expires } => {
            let expires = expires.as_deref().map(Instant::parse).transpose();
            let expires = expires.context("--expires can't be read; give a time such as 2031-05-01T00:00:00Z")?;
            // The file first: a token that can't be written down is lost.
            let file = TokenFile::create(into)?;
            let open = OpenApp::for_a_command(configuration).await?;
            let issued = issue(&open.app, label, expires, file, into, out).await;
            issued.and(open.close().await)
        }
        OperatorCommand::List => {
            let open = OpenApp::for_a_command(configuration).await?;
            let listed = list(&open.app, out).await;
            listed.and(open.close().await)
        }
        OperatorCommand::Revoke { operator } => {
            let open = OpenApp::for_a_command(configuration).await?;
            let revoked = open.app.revoke_operator(PrincipalId(*operator)).await;
            open.close().await?;
            if !revoked? {
                bail!("there is no operator {operator}; `leadhandd operator list` shows them");
            }
            writeln!(out, "operator {operator} is revoked")?;
            Ok(())
        }
    }
}

async fn issue(
    app: &App,
    label: &str,
    expires: Option<Instant>,
    file: TokenFile<'_>,
    into: &Path,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let issued = app.issue_operator(label, expires).await?;
    file.keep(&issued.secret)?;
    writeln!(out, "operator {}", issued.operator)?;
    writeln!(out, "token in {}", into.display())?;
    Ok(())
}

async fn list(app: &App, out: &mut dyn Write) -> anyhow::Result<()> {
    for found in app.operators().await? {
        let state = match (found.revoked_at, found.expires_at) {
            (Some(at), _) => format!("revoked {at}"),
            (None, Some(at)) if found.expired => format!("expired {at}"),
            (None, Some(at)) => format!("until {at}"),
            (None, None) => "valid".to_owned(),
        };
        writeln!(out, "{} {} {} issued {} {state}", found.operator, found.prefix, found.label, found.issued_at)?;
    }
    Ok(())
}
