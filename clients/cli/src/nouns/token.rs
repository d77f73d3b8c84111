//! `leadhand token`.

use super::{PAGE, all_pages};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::out::Table;
use crate::words::{Word, parse, word};
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{IssueTokenRequest, ListTokensRequest, RevokeTokenRequest, Role};
use std::fs::{File, OpenOptions};
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

/// Tokens.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Issue a token; its secret is shown this once
    Issue(Issue),
    /// Tokens, without their secrets
    List,
    /// Revoke a token
    Revoke {
        /// Its id, as 'token list' shows it
        token: String,
    },
}

/// For whom.
#[derive(Debug, Args)]
pub struct Issue {
    /// What it allows: lead, technician, parts or viewer
    #[arg(long, value_parser = parse::<Role>)]
    role: Role,
    /// The person it stands for, by name or id
    #[arg(long, required_unless_present = "label", conflicts_with = "label")]
    person: Option<String>,
    /// The name of the device it stands for
    #[arg(long)]
    label: Option<String>,
    /// When it expires; never when left out
    #[arg(long, value_name = "TIME")]
    expires: Option<String>,
    /// A new file for the secret, readable by you alone, instead of standard output
    #[arg(long, value_name = "FILE")]
    into: Option<PathBuf>,
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Issue(issued) => issue(app, issued).await,
        Command::List => list(app).await,
        Command::Revoke { token } => {
            let answer = app.client.revoke_token(RevokeTokenRequest { write: app.write().await?, token }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, "the token is revoked")
        }
    }
}

async fn issue(app: &App, issue: Issue) -> Outcome {
    let expires_at = app.moment_if(issue.expires.as_deref()).await?;
    // The file is made first: a secret that can't be kept should not be issued.
    let file = issue.into.as_deref().map(create_private).transpose()?;
    let request = IssueTokenRequest {
        write: app.write().await?,
        role: issue.role.into(),
        person: issue.person.unwrap_or_default(),
        label: issue.label.unwrap_or_default(),
        expires_at,
    };
    let answer = match app.client.issue_token(request).await {
        Ok(answer) => answer,
        Err(error) => {
            if let Some(path) = &issue.into {
                // An empty token file is worse than none; if it stays, the refusal still says why.
                let _ = std::fs::remove_file(path);
            }
            return Err(error.into());
        }
    };
    let said = if answer.secret.is_empty() {
        "the token was issued before, and its secret is kept nowhere; revoke it and issue another if it is lost"
    } else {
        "the token is issued; its secret is shown this once"
    };
    let (Some(mut file), Some(path)) = (file, &issue.into) else {
        let made = (!answer.secret.is_empty()).then_some(answer.secret.as_str());
        return app.done(&answer, answer.receipt.as_ref(), made, &format!("{said}, id {}", answer.token));
    };
    writeln!(file, "{}", answer.secret).and_then(|()| file.sync_all()).map_err(|error| {
        Failure::Token(format!(
            "the token {} was issued but {} can't be written ({error}); revoke it and issue another",
            answer.token,
            path.display()
        ))
    })?;
    let mut kept = answer.clone();
    kept.secret.clear();
    app.done(&kept, answer.receipt.as_ref(), Some(&answer.token), &format!("{said}, in {}", path.display()))
}

fn create_private(path: &Path) -> Outcome<File> {
    OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(path)
        .map_err(|error| Failure::Usage(format!("{} can't be made for the secret: {error}", path.display())))
}

async fn list(app: &App) -> Outcome {
    let tokens = all_pages!(app, list_tokens, ListTokensRequest { page_size: PAGE, ..Default::default() }, tokens);
    if app.out.is_json() {
        return crate::out::json(&tokens);
    }
    let zone = app.zone().await?;
    let mut table = Table::new("tokens", &["begins", "role", "holder", "issued", "state", "id"]);
    for token in tokens.tokens {
        let state = match (&token.revoked_at, &token.expires_at) {
            (Some(at), _) => format!("revoked {}", moment::show(Some(at), zone)),
            (None, Some(at)) => format!("until {}", moment::show(Some(at), zone)),
            (None, None) => "valid".to_owned(),
        };
        let role = Role::from_number(token.role).map_or_else(|| word::<Role>(token.role), Word::word);
        table.row([token.prefix, role, token.name, moment::show(token.issued_at.as_ref(), zone), state, token.token]);
    }
    app.out.table(&table)
}
