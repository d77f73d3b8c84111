//! Making the cluster, and the rules of who may log in.

use super::PrivateError;
use super::account::Account;
use super::binaries::Binaries;
use super::layout::{Layout, make_private};
use std::fs::File;
use std::path::Path;
use std::process::Output;

/// The superuser of the cluster, used only to make roles and the database.
pub(super) const SUPERUSER: &str = "postgres";
/// The role that owns the tables and migrates them.
pub(super) const OWNER: &str = "leadhand_owner";
/// The role that the server works under; it owns nothing.
pub(super) const APP: &str = "leadhand_app";
/// The database.
pub(super) const DATABASE: &str = "leadhand";

/// The name of a cluster that is still being made.
const UNFINISHED: &str = "postgres.unfinished";

/// Makes the cluster beside its place and moves it there when it is whole, so that a server
/// killed in between leaves nothing that looks like a cluster.
pub(super) async fn create(layout: &Layout, binaries: &Binaries, account: &Account) -> Result<(), PrivateError> {
    clear_unfinished(&layout.data)?;
    // The process in the name: a tool that outlived a killed server may still write into the old one.
    let fresh = layout.data.join(format!("{UNFINISHED}-{}", std::process::id()));
    make_private(&fresh, account)?;
    let mut command = account.command(&binaries.tool("initdb"));
    command.arg("--pgdata").arg(&fresh).args([
        "--data-checksums",
        "--encoding=UTF8",
        "--locale=C",
        "--auth-local=peer",
        "--auth-host=scram-sha-256",
        "--username",
        SUPERUSER,
    ]);
    finished("initdb", command.output().await)?;
    let failed = |what, path: &Path| {
        let path = path.to_path_buf();
        move |fault| PrivateError::file(what, &path, fault)
    };
    std::fs::rename(&fresh, &layout.cluster).map_err(failed("move into place", &layout.cluster))?;
    File::open(&layout.data).and_then(|directory| directory.sync_all()).map_err(failed("flush", &layout.data))?;
    tracing::info!(cluster = %layout.cluster.display(), "made a private database in {}", layout.cluster.display());
    Ok(())
}

fn clear_unfinished(data: &Path) -> Result<(), PrivateError> {
    let entries = std::fs::read_dir(data).map_err(|fault| PrivateError::file("read", data, fault))?;
    for entry in entries.flatten() {
        if entry.file_name().to_string_lossy().starts_with(UNFINISHED) {
            let path = entry.path();
            std::fs::remove_dir_all(&path).map_err(|fault| PrivateError::file("remove", &path, fault))?;
        }
    }
    Ok(())
}

/// Writes who may log in: over the socket, as the server's user or as the one Postgres runs as.
pub(super) fn write_rules(layout: &Layout, account: &Account) -> Result<(), PrivateError> {
    let access = "# Written by leadhandd at every start.\nlocal all all peer map=leadhand\n";
    write_file(&layout.rules.join("pg_hba.conf"), access)?;
    write_file(&layout.rules.join("pg_ident.conf"), &ident_map(account))
}

fn ident_map(account: &Account) -> String {
    let mut users = vec![account.server.as_str(), account.name.as_str()];
    users.dedup();
    let lines = users.into_iter().flat_map(|user| [SUPERUSER, OWNER, APP].map(|role| (user, role)));
    let lines: Vec<String> = lines.map(|(user, role)| format!("leadhand \"{user}\" {role}\n")).collect();
    format!("# Written by leadhandd at every start.\n{}", lines.concat())
}

/// Whole or not at all: a half-written rule would lock the server out.
fn write_file(path: &Path, text: &str) -> Result<(), PrivateError> {
    let fresh = path.with_extension("fresh");
    std::fs::write(&fresh, text)
        .and_then(|()| std::fs::rename(&fresh, path))
        .map_err(|fault| PrivateError::file("write", path, fault))
}

/// What a tool printed, or why it failed in its own words.
pub(super) fn finished(tool: &str, output: std::io::Result<Output>) -> Result<String, PrivateError> {
    let failed = |why: String| PrivateError::Tool { tool: tool.to_owned(), why };
    let output = output.map_err(|fault| failed(fault.to_string()))?;
    if output.status.success() {
        return Ok(String::from_utf8_lossy(&output.stdout).into_owned());
    }
    let words = String::from_utf8_lossy(&output.stderr).trim().replace('\n', "; ");
    Err(failed(format!("{} ({words})", output.status)))
}
