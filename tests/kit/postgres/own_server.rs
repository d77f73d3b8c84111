//! A private Postgres that a test may kill.

use std::{
    fs,
    path::{Path, PathBuf},
    process::{Child, Stdio},
    time::Duration,
};

use anyhow::{Context, Result, ensure};
use nix::{
    errno::Errno,
    sys::signal::{Signal, kill},
    unistd::Pid,
};
use tempfile::TempDir;

use super::{APP_ROLE, OWNER_ROLE, SUPERUSER_ROLE, binaries::Binaries, place, server::Server, template};

const DATABASE: &str = "leadhand";
const START_WITHIN: Duration = Duration::from_mins(1);

/// A Postgres of this test's own, from the machine's binaries, with the roles and one migrated database. It keeps its
/// port and its data over a kill and a restart, and is gone with this value.
pub struct OwnServer {
    binaries: Binaries,
    server: Server,
    port: u16,
    postmaster: Option<Child>,
    surroundings: Surroundings,
    dir: TempDir,
}

/// What is different from the usual about a server.
#[derive(Debug, Clone, Default)]
pub struct Surroundings {
    /// Where its data lie; in memory or among the temporary files if nobody says.
    pub place: Option<PathBuf>,
    /// More environment variables, a library to be loaded first for example.
    pub variables: Vec<(String, String)>,
    /// More settings, as `name=value`.
    pub settings: Vec<String>,
}

impl OwnServer {
    /// Makes a cluster, starts it and migrates its database.
    pub async fn start() -> Result<Self> {
        Self::start_in(Surroundings::default()).await
    }

    /// The same in other surroundings.
    pub async fn start_in(surroundings: Surroundings) -> Result<Self> {
        let mut own = Self::nowhere_yet(surroundings)?;
        own.binaries.make_cluster(&own.data_dir())?;
        own.restart().await?;
        template::make_database(&own.server, &mut own.server.superuser().await?, DATABASE).await?;
        Ok(own)
    }

    /// A standby of this server, copied from it and running. It follows through another port, so that a test can cut
    /// it off.
    pub async fn standby_through(&self, port: u16) -> Result<Self> {
        let follow = format!("primary_conninfo=host=127.0.0.1 port={port} user={SUPERUSER_ROLE}");
        let mut standby = Self::nowhere_yet(Surroundings { settings: vec![follow], ..Surroundings::default() })?;
        let (data, port) = (standby.data_dir(), self.port.to_string());
        let mut copy = self.binaries.command("pg_basebackup");
        copy.args(["--host=127.0.0.1", "--write-recovery-conf", "--wal-method=stream", "--checkpoint=fast"])
            .args(["--no-sync", "--no-password", "--username", SUPERUSER_ROLE, "--port", &port, "--pgdata"])
            .arg(&data);
        let output = copy.output().context("cannot run pg_basebackup")?;
        let errors = String::from_utf8_lossy(&output.stderr);
        ensure!(output.status.success(), "pg_basebackup could not make a standby: {}", errors.trim());
        standby.restart().await?;
        Ok(standby)
    }

    fn nowhere_yet(surroundings: Surroundings) -> Result<Self> {
        let binaries = Binaries::find()?;
        let dir = surroundings.place.clone().unwrap_or_else(place::scratch);
        let dir = TempDir::with_prefix_in("leadhand-own-", dir).context("cannot make a directory for a server")?;
        binaries.give(dir.path())?;
        let port = place::free_port()?;
        let server = Server::at("127.0.0.1", port);
        Ok(Self { binaries, server, port, postmaster: None, surroundings, dir })
    }

    /// The schema of one of its databases, as pg_dump writes it, without anything that differs from dump to dump.
    pub fn schema_of(&self, database: &str) -> Result<String> {
        let mut dump = self.binaries.command("pg_dump");
        dump.args(["--schema-only", "--host=127.0.0.1", "--username", SUPERUSER_ROLE, "--port"])
            .arg(self.port.to_string())
            .arg(database);
        let output = dump.output().context("cannot run pg_dump")?;
        let errors = String::from_utf8_lossy(&output.stderr);
        ensure!(output.status.success(), "pg_dump could not read {database}: {}", errors.trim());
        // These two carry a word drawn anew for every dump.
        let drawn = |line: &&str| !line.starts_with("\\restrict ") && !line.starts_with("\\unrestrict ");
        let schema = String::from_utf8(output.stdout).context("the schema is no text")?;
        Ok(schema.lines().filter(drawn).collect::<Vec<_>>().join("\n"))
    }

    /// The log of its present run.
    pub fn log(&self) -> String {
        fs::read_to_string(self.log_file()).unwrap_or_default()
    }

    /// For migrating.
    pub fn owner_url(&self) -> String {
        self.server.url(OWNER_ROLE, DATABASE)
    }

    /// For the server.
    pub fn app_url(&self) -> String {
        self.server.url(APP_ROLE, DATABASE)
    }

    /// For the server, by a port that leads here.
    pub fn app_url_through(port: u16) -> String {
        Server::at("127.0.0.1", port).url(APP_ROLE, DATABASE)
    }

    /// For what a test does behind the product's back.
    pub fn superuser_url(&self) -> String {
        self.server.url(SUPERUSER_ROLE, DATABASE)
    }

    /// Its port on 127.0.0.1.
    pub fn port(&self) -> u16 {
        self.port
    }

    /// Its processes, the first one foremost, as far as it runs.
    pub fn processes(&self) -> Vec<u32> {
        let Some(postmaster) = &self.postmaster else { return Vec::new() };
        let children = children_of(postmaster.id()).into_iter().filter_map(|child| u32::try_from(child).ok());
        std::iter::once(postmaster.id()).chain(children).collect()
    }

    /// The directory of its socket.
    pub fn socket_dir(&self) -> PathBuf {
        self.dir.path().to_path_buf()
    }

    /// SIGKILL to the postmaster and to every process of its own, so that nothing is flushed or said goodbye to.
    pub fn kill9(&mut self) -> Result<()> {
        let Some(mut postmaster) = self.postmaster.take() else { return Ok(()) };
        postmaster.kill().context("cannot kill the postmaster")?;
        // Reaped at once: a zombie would look like a living postmaster to the next one.
        postmaster.wait().context("cannot reap the postmaster")?;
        // Found after the postmaster's end, when nobody forks any more: one forked a moment before would otherwise
        // wait for ever for a lock that a killed one held, and keep the shared memory from the next postmaster.
        for process in working_in(&self.data_dir())? {
            match kill(Pid::from_raw(process), Signal::SIGKILL) {
                Ok(()) | Err(Errno::ESRCH) => {}
                Err(error) => return Err(error).with_context(|| format!("cannot kill the backend {process}")),
            }
        }
        Ok(())
    }

    /// Starts it on the data it has, and returns when it accepts connections. A running one is left alone.
    pub async fn restart(&mut self) -> Result<()> {
        let started = async {
            while !self.try_start().await? {
                // Backends of the killed server may still hold its shared memory; the postmaster refuses till they end.
                tokio::time::sleep(Duration::from_millis(50)).await;
            }
            Ok(())
        };
        let started = tokio::time::timeout(START_WITHIN, started).await;
        started.with_context(|| {
            format!("the test's own Postgres did not start within {START_WITHIN:?}: {}", self.log().trim())
        })?
    }

    /// Spawns a postmaster if none runs, and waits until it answers (true) or has ended (false).
    async fn try_start(&mut self) -> Result<bool> {
        if self.postmaster.is_none() {
            self.postmaster = Some(self.spawn()?);
        }
        loop {
            let Some(postmaster) = &mut self.postmaster else { return Ok(false) };
            if postmaster.try_wait()?.is_some() {
                let log = self.log();
                ensure!(log.contains("shared memory"), "the test's own Postgres ended at once: {}", log.trim());
                self.postmaster = None;
                return Ok(false);
            }
            if self.server.answers().await {
                return Ok(true);
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }

    fn spawn(&self) -> Result<Child> {
        let log = fs::File::create(self.log_file()).context("cannot create the server's log")?;
        let mut command = self.binaries.command("postgres");
        command.arg("-D").arg(self.data_dir());
        let mut settings = Binaries::settings(self.port, self.dir.path());
        settings.extend_from_slice(&self.surroundings.settings);
        for setting in settings {
            command.arg("-c").arg(setting);
        }
        command.envs(self.surroundings.variables.iter().map(|(name, value)| (name, value)));
        command.stdout(Stdio::null()).stderr(log).spawn().context("cannot start postgres")
    }

    fn data_dir(&self) -> PathBuf {
        self.dir.path().join("data")
    }

    fn log_file(&self) -> PathBuf {
        self.dir.path().join("server.log")
    }
}

impl Drop for OwnServer {
    /// An immediate shutdown, so that the postmaster takes its shared memory away with it.
    fn drop(&mut self) {
        let Some(mut postmaster) = self.postmaster.take() else { return };
        let ended = i32::try_from(postmaster.id())
            .map_err(anyhow::Error::from)
            .and_then(|id| Ok(kill(Pid::from_raw(id), Signal::SIGQUIT)?))
            .and_then(|()| Ok(postmaster.wait()?));
        if let Err(error) = ended {
            eprintln!("tests: could not end the test's own Postgres: {error:#}");
        }
    }
}

/// The processes whose parent is this one, as /proc has them. A backend makes a session of its own, so no process group
/// reaches them all.
fn children_of(parent: u32) -> Vec<i32> {
    let parent = parent.to_string();
    let child = |process: &i32| {
        let stat = fs::read_to_string(format!("/proc/{process}/stat")).ok()?;
        // The name in brackets may hold spaces; the state and the parent follow the last bracket.
        let (_, rest) = stat.rsplit_once(')')?;
        (rest.split_whitespace().nth(1)? == parent).then_some(())
    };
    processes().filter(|process| child(process).is_some()).collect()
}

/// The processes that work in a directory, as every process of a Postgres does in its data directory.
fn working_in(dir: &Path) -> Result<Vec<i32>> {
    let dir = dir.canonicalize().context("the server's data directory is gone")?;
    let there = |process: &i32| fs::read_link(format!("/proc/{process}/cwd")).is_ok_and(|cwd| cwd == dir);
    Ok(processes().filter(there).collect())
}

fn processes() -> impl Iterator<Item = i32> {
    let entries = fs::read_dir("/proc").into_iter().flatten().flatten();
    entries.filter_map(|entry| entry.file_name().to_str()?.parse().ok())
}
