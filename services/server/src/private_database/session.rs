//! The few statements that the supervisor itself needs, through `psql` as the superuser.

use super::PrivateError;
use super::account::Account;
use super::binaries::Binaries;
use super::cluster::{APP, DATABASE, OWNER, SUPERUSER, finished};
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::Duration;
use tokio::io::AsyncWriteExt;

/// How long one statement may take before the server counts as not answering.
const ANSWER_WITHIN: Duration = Duration::from_secs(10);

/// A way to reach the superuser.
pub(super) struct Session<'a> {
    pub binaries: &'a Binaries,
    pub account: &'a Account,
    pub sockets: &'a Path,
}

impl Session<'_> {
    /// The directory of the cluster that answers on the socket.
    pub async fn data_directory(&self) -> Result<PathBuf, PrivateError> {
        let said = self.run("show data_directory;").await?;
        Ok(PathBuf::from(said.trim()))
    }

    /// Makes the two roles and the database if they are missing, and sets who may connect.
    pub async fn ensure_roles(&self) -> Result<(), PrivateError> {
        self.run(&roles()).await.map(drop)
    }

    /// Whether database and grant are there, which are made last.
    pub async fn has_roles(&self) -> Result<bool, PrivateError> {
        let asked = format!(
            "select has_database_privilege('{APP}', oid, 'connect') from pg_database where datname = '{DATABASE}';"
        );
        Ok(self.run(&asked).await?.trim() == "t")
    }

    async fn run(&self, script: &str) -> Result<String, PrivateError> {
        let late = || PrivateError::Tool {
            tool: "psql".to_owned(),
            why: format!("no answer within {} s", ANSWER_WITHIN.as_secs()),
        };
        let run = async { finished("psql", self.psql(script).await) };
        tokio::time::timeout(ANSWER_WITHIN, run).await.map_err(|_| late())?
    }

    async fn psql(&self, script: &str) -> std::io::Result<std::process::Output> {
        let mut command = self.account.command(&self.binaries.tool("psql"));
        command
            .args(["--no-psqlrc", "--quiet", "--tuples-only", "--no-align", "--no-password"])
            .args(["--set", "ON_ERROR_STOP=1", "--username", SUPERUSER, "--dbname", "postgres"])
            .arg("--host")
            .arg(self.sockets)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .kill_on_drop(true);
        let mut child = command.spawn()?;
        if let Some(mut input) = child.stdin.take() {
            // A psql that could not connect closes its end; its own words say why.
            let _ = input.write_all(script.as_bytes()).await;
        }
        child.wait_with_output().await
    }
}

fn roles() -> String {
    let role = |name: &str| {
        format!(
            "select 'create role {name} login nosuperuser nocreatedb nocreaterole nobypassrls' \
             where not exists (select from pg_roles where rolname = '{name}') \\gexec\n"
        )
    };
    format!(
        "{owner}{app}\
         select 'create database {DATABASE} owner {OWNER}' \
         where not exists (select from pg_database where datname = '{DATABASE}') \\gexec\n\
         revoke all on database {DATABASE} from public;\n\
         grant connect on database {DATABASE} to {APP};\n",
        owner = role(OWNER),
        app = role(APP),
    )
}
