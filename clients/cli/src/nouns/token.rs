//! `leadhand token`.

use super::{PAGE, all_pages};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::out::Table;
use crate::words::{Word, parse, word};
use clap::{Args, Subcommand};
use leadhand_sdk::ContractMessage;
use leadhand_sdk::v1::{
    IssueTokenRequest, ListTokensRequest, Receipt, RevokeTokenRequest, Role, RotateTokenRequest, RotateTokenResponse,
};
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
    /// Put a new token in the place of one: yours, or any as a lead; the old one goes on for a while
    Rotate(Rotate),
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

/// Which, and for how long the old one goes on.
#[derive(Debug, Args)]
pub struct Rotate {
    /// Its id, as 'token list' shows it; the one in use when left out
    token: Option<String>,
    /// How long the old one goes on: 30m, 24h or 7d; 0m ends it at once
    #[arg(long, default_value = "24h", value_parser = overlap, value_name = "LENGTH")]
    overlap: i64,
    /// When the new one expires, for a lead to say; as the old one would have when left out
    #[arg(long, value_name = "TIME")]
    expires: Option<String>,
    /// A new file for the secret, readable by you alone, instead of standard output
    #[arg(long, value_name = "FILE")]
    into: Option<PathBuf>,
}

/// A length of time in seconds.
fn overlap(text: &str) -> Result<i64, String> {
    let seconds = [("m", 60), ("h", 60 * 60), ("d", 24 * 60 * 60)];
    let read =
        seconds.iter().find_map(|(unit, seconds)| text.strip_suffix(unit)?.parse::<i64>().ok()?.checked_mul(*seconds));
    read.filter(|length| *length >= 0).ok_or_else(|| "write a whole number with m, h or d, such as 24h".to_owned())
}

async fn rotate(app: &App, asked: Rotate) -> Outcome {
    let expires_at = app.moment_if(asked.expires.as_deref()).await?;
    let keep = Keep::begin(asked.into.as_deref())?;
    let overlap = Some(prost_types::Duration { seconds: asked.overlap, nanos: 0 });
    let token = asked.token.unwrap_or_default();
    let request = RotateTokenRequest { write: app.write().await?, token, overlap, expires_at };
    let answer = app.client.rotate_token(request).await?;
    let said = format!("the token is replaced by {}", answer.token);
    let shown = RotateTokenResponse { secret: String::new(), ..answer.clone() };
    keep.end(app, &answer, &shown, answer.receipt.as_ref(), &answer.secret, &said)
}

/// Where a secret goes that is shown once: into a new file of its own, or to standard output. The file is
/// made before the secret is asked for, and is gone again when none came.
pub struct Keep(Option<(File, PathBuf)>);

impl Keep {
    /// Makes the file, if there is to be one.
    pub fn begin(into: Option<&Path>) -> Outcome<Self> {
        Ok(Self(into.map(|path| create_private(path).map(|file| (file, path.to_owned()))).transpose()?))
    }

    /// Writes the secret, and says what was done. `shown` is the answer without the secret.
    pub fn end<M: ContractMessage + prost::Message>(
        mut self,
        app: &App,
        answer: &M,
        shown: &M,
        receipt: Option<&Receipt>,
        secret: &str,
        said: &str,
    ) -> Outcome {
        if secret.is_empty() {
            let said = format!("{said}; it was made before, and its secret is kept nowhere");
            return app.done(shown, receipt, None, &said);
        }
        let Some((file, path)) = self.0.as_mut() else {
            return app.done(answer, receipt, Some(secret), &format!("{said}; the secret is shown this once"));
        };
        let written = writeln!(file, "{secret}").and_then(|()| file.sync_all());
        let path = path.clone();
        self.0 = None;
        written.map_err(|error| {
            Failure::Token(format!("{said}, but {} can't be written ({error}); ask for another", path.display()))
        })?;
        app.done(shown, receipt, None, &format!("{said}; the secret is in {}", path.display()))
    }
}

impl Drop for Keep {
    fn drop(&mut self) {
        if let Some((_, path)) = &self.0 {
            // An empty secret is worse than none; if it stays, the refusal still says why.
            let _ = std::fs::remove_file(path);
        }
    }
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Issue(issued) => issue(app, issued).await,
        Command::Rotate(asked) => rotate(app, asked).await,
        Command::List => list(app).await,
        Command::Revoke { token } => {
            let said = format!("token {token} is revoked: whoever shows it is let in no longer");
            let answer = app.client.revoke_token(RevokeTokenRequest { write: app.write().await?, token }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
    }
}

async fn issue(app: &App, issue: Issue) -> Outcome {
    let expires_at = app.moment_if(issue.expires.as_deref()).await?;
    // The file is made first: a secret that can't be kept should not be issued.
    let file = issue.into.as_deref().map(create_private).transpose()?;
    let holder = match (&issue.person, &issue.label) {
        (Some(person), _) => format!(" for {person}"),
        (None, Some(label)) => format!(" for {label}"),
        (None, None) => String::new(),
    };
    let what = format!("a token of role {}{holder}", issue.role.word());
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
        format!("{what} was issued before, and its secret is kept nowhere; revoke it and issue another if it is lost")
    } else {
        format!("{what} is issued; its secret is shown this once")
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
    app.done(
        &kept,
        answer.receipt.as_ref(),
        Some(&answer.token),
        &format!("{what} is issued; its secret is in {}", path.display()),
    )
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
            (None, Some(at)) if token.expired => format!("expired {}", moment::show(Some(at), zone)),
            (None, Some(at)) => format!("until {}", moment::show(Some(at), zone)),
            (None, None) => "valid".to_owned(),
        };
        let role = Role::from_number(token.role).map_or_else(|| word::<Role>(token.role), Word::word);
        table.row([token.prefix, role, token.name, moment::show(token.issued_at.as_ref(), zone), state, token.token]);
    }
    app.out.table(&table)
}
