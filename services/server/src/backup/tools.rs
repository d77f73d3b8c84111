//! The two tools of Postgres that write and read a dump of a whole database.

use crate::private_database::{candidates, major_of};
use anyhow::{Context, bail, ensure};
use percent_encoding::percent_decode_str;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use tokio::process::Command;
use url::Url;

/// The role that everything belongs to.
const OWNER: &str = "leadhand_owner";

/// `pg_dump` and `pg_restore` of one version.
#[derive(Debug, Clone)]
pub(super) struct Tools {
    directory: PathBuf,
    /// Their major version.
    pub major: u32,
}

impl Tools {
    /// Those of a directory, or the newest that are installed.
    pub async fn find(directory: Option<&Path>) -> anyhow::Result<Self> {
        let named = directory.map(|directory| vec![directory.to_path_buf()]);
        let mut newest: Option<Self> = None;
        for directory in named.unwrap_or_else(|| candidates("pg_dump")) {
            let Ok(major) = version(&directory).await else { continue };
            if newest.as_ref().is_none_or(|best| best.major < major) {
                newest = Some(Self { directory, major });
            }
        }
        newest.with_context(|| {
            let looked = directory.map_or_else(
                || "the usual directories of Postgres and on PATH".to_owned(),
                |directory| directory.display().to_string(),
            );
            format!(
                "there are no pg_dump and pg_restore in {looked}; install the package postgresql-client, or name their \
                 directory with --postgres-bin"
            )
        })
    }

    /// Refuses tools that are older than the server: they can't read it.
    pub fn refuse_older_than(&self, server: u32) -> anyhow::Result<()> {
        ensure!(
            self.major >= server,
            "the tools in {} are of Postgres {} and the database's server of {server}; install those of {server}, or \
             name their directory with --postgres-bin",
            self.directory.display(),
            self.major
        );
        Ok(())
    }

    /// Writes the whole database as of a moment that another connection holds.
    pub async fn dump(&self, owner_url: &str, moment: &str, into: File) -> anyhow::Result<()> {
        let mut command = self.command("pg_dump", owner_url)?;
        // Row-level security is forced on the owner as well; its policy lets the owner see all.
        command.args(["--format=custom", "--enable-row-security", "--lock-wait-timeout=60s"]);
        command.arg(format!("--snapshot={moment}")).stdin(Stdio::null()).stdout(into);
        run("pg_dump", command).await
    }

    /// Fills an empty database: all of it or nothing.
    pub async fn restore(&self, owner_url: &str, from: File) -> anyhow::Result<()> {
        let mut command = self.command("pg_restore", owner_url)?;
        command.args(["--single-transaction", "--exit-on-error", "--no-owner", "--no-comments"]);
        command.stdin(from).stdout(Stdio::null());
        run("pg_restore", command).await
    }

    /// The password travels in the environment, where other users can't read it.
    fn command(&self, tool: &str, owner_url: &str) -> anyhow::Result<Command> {
        let Login { url, password } = Login::of(owner_url)?;
        let mut command = Command::new(self.directory.join(tool));
        // What would lead elsewhere than the URL says.
        for name in ["PGSERVICE", "PGSERVICEFILE", "PGOPTIONS"] {
            command.env_remove(name);
        }
        command.env("LC_ALL", "C").kill_on_drop(true).stderr(Stdio::piped());
        if let Some(password) = password {
            command.env("PGPASSWORD", password);
        }
        command.args(["--no-password", "--role", OWNER, "--dbname", &url]);
        Ok(command)
    }
}

async fn version(directory: &Path) -> anyhow::Result<u32> {
    ensure!(directory.join("pg_restore").is_file(), "there is no pg_restore");
    let output = Command::new(directory.join("pg_dump")).arg("--version").output().await?;
    major_of(&String::from_utf8_lossy(&output.stdout)).context("pg_dump does not say its version")
}

async fn run(tool: &str, mut command: Command) -> anyhow::Result<()> {
    let child = command.spawn().with_context(|| format!("{tool} could not be started"))?;
    let output = child.wait_with_output().await?;
    if !output.status.success() {
        let words = String::from_utf8_lossy(&output.stderr).trim().replace('\n', "; ");
        bail!("{tool} failed ({}): {words}", output.status);
    }
    Ok(())
}

/// A URL that may be shown, and the password that may not.
struct Login {
    url: String,
    password: Option<String>,
}

impl Login {
    fn of(owner_url: &str) -> anyhow::Result<Self> {
        // The value is not repeated: it may hold a password.
        let mut url = Url::parse(owner_url).context("owner-url is not a URL")?;
        let mut password = url.password().map(|p| percent_decode_str(p).decode_utf8_lossy().into_owned());
        // No host but a directory in the parameters: such a URL can't hold a password.
        let _ = url.set_password(None);
        let query = url.query().unwrap_or_default().to_owned();
        let (mut others, mut secret_key) = (Vec::new(), false);
        // Taken apart as libpq does: a plus is a plus there.
        for pair in query.split('&').filter(|pair| !pair.is_empty()) {
            match pair.split_once('=') {
                Some(("password", value)) => {
                    password = Some(percent_decode_str(value).decode_utf8_lossy().into_owned());
                }
                Some(("sslpassword", _)) => secret_key = true,
                _ => others.push(pair),
            }
        }
        ensure!(
            !secret_key,
            "owner-url holds an sslpassword, which would stand on a command line; use a key without one"
        );
        url.set_query((!others.is_empty()).then(|| others.join("&")).as_deref());
        Ok(Self { url: url.into(), password })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // The forms are libpq's, "34.1.1.2 Connection URIs".
    #[test]
    fn a_password_never_stands_on_a_command_line() {
        for (said, url, password) in [
            ("postgres://owner:s%20x%40@db:5433/leadhand", "postgres://owner@db:5433/leadhand", Some("s x@")),
            (
                "postgres://owner@localhost/leadhand?host=/run/a%20b%2Bc&password=a+b%20c",
                "postgres://owner@localhost/leadhand?host=/run/a%20b%2Bc",
                Some("a+b c"),
            ),
            (
                "postgres://owner@db/leadhand?password=geheim&sslmode=require",
                "postgres://owner@db/leadhand?sslmode=require",
                Some("geheim"),
            ),
            (
                "postgres://owner@localhost/leadhand?host=/run/a%20b",
                "postgres://owner@localhost/leadhand?host=/run/a%20b",
                None,
            ),
        ] {
            let login = Login::of(said).unwrap();
            assert_eq!((login.url.as_str(), login.password.as_deref()), (url, password), "{said}");
        }
    }
}
