//! The machine's own Postgres binaries.

use std::{
    fs,
    os::unix::{fs::chown, process::CommandExt},
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

use anyhow::{Context, Result, bail, ensure};
use nix::unistd::{Uid, User};

use super::SUPERUSER_ROLE;

/// Where Debian puts each major version's programs.
const DEBIAN_DIR: &str = "/usr/lib/postgresql";

/// A set of Postgres programs, and the user they run as.
pub(super) struct Binaries {
    dir: PathBuf,
    /// Set when we are root, as which Postgres refuses to run.
    user: Option<User>,
}

impl Binaries {
    /// The newest version installed on this machine.
    pub(super) fn find() -> Result<Self> {
        let mut found: Vec<(u32, PathBuf)> = fs::read_dir(DEBIAN_DIR)
            .into_iter()
            .flatten()
            .flatten()
            .filter_map(|entry| {
                let major = entry.file_name().to_str()?.parse().ok()?;
                let dir = entry.path().join("bin");
                dir.join("postgres").exists().then_some((major, dir))
            })
            .collect();
        found.sort();
        let Some((_, dir)) = found.pop() else {
            bail!(
                "no Postgres server under {DEBIAN_DIR}; install the package postgresql, or build the image with deploy/postgres-image"
            )
        };
        let user = if Uid::effective().is_root() {
            let user = User::from_name("postgres").context("cannot look up the user postgres")?;
            Some(user.context("there is no user postgres to run the tests' server as; install the package postgresql")?)
        } else {
            None
        };
        Ok(Self { dir, user })
    }

    /// One of the programs, as the right user, from a directory which that user can enter, with nothing inherited
    /// that would keep a pipe of ours open.
    pub(super) fn command(&self, program: &str) -> Command {
        let mut command = Command::new(self.dir.join(program));
        command.current_dir("/").env("LC_ALL", "C.UTF-8").stdin(Stdio::null());
        for (name, _) in std::env::vars_os() {
            if name.as_encoded_bytes().starts_with(b"PG") {
                command.env_remove(name);
            }
        }
        if let Some(user) = &self.user {
            command.uid(user.uid.as_raw()).gid(user.gid.as_raw());
        }
        command
    }

    /// Hands a directory to the user that the server runs as.
    pub(super) fn give(&self, dir: &Path) -> Result<()> {
        if let Some(user) = &self.user {
            chown(dir, Some(user.uid.as_raw()), Some(user.gid.as_raw()))
                .with_context(|| format!("cannot give {} to {}", dir.display(), user.name))?;
        }
        Ok(())
    }

    /// Makes a cluster that trusts whoever reaches it: it listens on the loopback interface only, and holds test data.
    pub(super) fn make_cluster(&self, data: &Path) -> Result<()> {
        let output = self
            .command("initdb")
            .args(["--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8", "--data-checksums", "--no-sync"])
            .arg(format!("--username={SUPERUSER_ROLE}"))
            .arg(format!("--pgdata={}", data.display()))
            .output()
            .context("cannot run initdb")?;
        ensure!(
            output.status.success(),
            "initdb could not make a cluster in {}: {}",
            data.display(),
            String::from_utf8_lossy(&output.stderr).trim()
        );
        Ok(())
    }

    /// The settings of every server that the kit starts. Durability stays as the product has it.
    pub(super) fn settings(port: u16, socket_dir: &Path) -> Vec<String> {
        vec![
            "listen_addresses=127.0.0.1".to_owned(),
            format!("port={port}"),
            format!("unix_socket_directories={}", socket_dir.display()),
            "max_connections=300".to_owned(),
            "fsync=on".to_owned(),
            "synchronous_commit=on".to_owned(),
        ]
    }

    /// Starts a server that outlives this process.
    pub(super) fn start_detached(&self, data: &Path, port: u16) -> Result<()> {
        let log = data.join("server.log");
        let settings = format!("-c {}", Self::settings(port, data).join(" -c "));
        let status = self
            .command("pg_ctl")
            .args(["start", "--wait", "--silent", "--timeout=60"])
            .arg(format!("--pgdata={}", data.display()))
            .arg(format!("--log={}", log.display()))
            .arg(format!("--options={settings}"))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .context("cannot run pg_ctl")?;
        ensure!(status.success(), "the tests' Postgres did not start; its log is {}", log.display());
        Ok(())
    }

    /// Ends a detached server at once; none is fine too.
    pub(super) fn stop_detached(&self, data: &Path) -> Result<()> {
        self.command("pg_ctl")
            .args(["stop", "--mode=immediate", "--silent", "--wait"])
            .arg(format!("--pgdata={}", data.display()))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .context("cannot run pg_ctl")?;
        Ok(())
    }
}
