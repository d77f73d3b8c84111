//! A private Postgres that a test may kill.

use std::{
    fs,
    path::PathBuf,
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
    dir: TempDir,
}

impl OwnServer {
    /// Makes a cluster, starts it and migrates its database.
    pub async fn start() -> Result<Self> {
        let binaries = Binaries::find()?;
        let dir = TempDir::with_prefix_in("leadhand-own-", place::scratch())
            .context("cannot make a directory for a server")?;
        binaries.give(dir.path())?;
        let port = place::free_port()?;
        let server = Server::at("127.0.0.1", port);
        let mut own = Self { binaries, server, port, postmaster: None, dir };
        own.binaries.make_cluster(&own.data_dir())?;
        own.restart().await?;
        template::make_database(&own.server, &mut own.server.superuser().await?, DATABASE).await?;
        Ok(own)
    }

    /// For migrating.
    pub fn owner_url(&self) -> String {
        self.server.url(OWNER_ROLE, DATABASE)
    }

    /// For the server.
    pub fn app_url(&self) -> String {
        self.server.url(APP_ROLE, DATABASE)
    }

    /// For what a test does behind the product's back.
    pub fn superuser_url(&self) -> String {
        self.server.url(SUPERUSER_ROLE, DATABASE)
    }

    /// Its port on 127.0.0.1.
    pub fn port(&self) -> u16 {
        self.port
    }

    /// The directory of its socket.
    pub fn socket_dir(&self) -> PathBuf {
        self.dir.path().to_path_buf()
    }

    /// SIGKILL to the postmaster and to every process of its own, so that nothing is flushed or said goodbye to.
    pub fn kill9(&mut self) -> Result<()> {
        let Some(mut postmaster) = self.postmaster.take() else { return Ok(()) };
        let children = children_of(postmaster.id());
        postmaster.kill().context("cannot kill the postmaster")?;
        // Reaped at once: a zombie would look like a living postmaster to the next one.
        postmaster.wait().context("cannot reap the postmaster")?;
        for child in children {
            match kill(Pid::from_raw(child), Signal::SIGKILL) {
                Ok(()) | Err(Errno::ESRCH) => {}
                Err(error) => return Err(error).with_context(|| format!("cannot kill the backend {child}")),
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
        tokio::time::timeout(START_WITHIN, started)
            .await
            .context("the test's own Postgres did not start within a minute")?
    }

    /// Spawns a postmaster if none runs, and waits until it answers (true) or has ended (false).
    async fn try_start(&mut self) -> Result<bool> {
        if self.postmaster.is_none() {
            self.postmaster = Some(self.spawn()?);
        }
        loop {
            let Some(postmaster) = &mut self.postmaster else { return Ok(false) };
            if postmaster.try_wait()?.is_some() {
                let log = fs::read_to_string(self.log_file()).unwrap_or_default();
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
        for setting in Binaries::settings(self.port, self.dir.path()) {
            command.arg("-c").arg(setting);
        }
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
    fs::read_dir("/proc")
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|entry| {
            let process = entry.file_name().to_str()?.parse().ok()?;
            let stat = fs::read_to_string(entry.path().join("stat")).ok()?;
            // The name in brackets may hold spaces; the state and the parent follow the last bracket.
            let (_, rest) = stat.rsplit_once(')')?;
            (rest.split_whitespace().nth(1)? == parent).then_some(process)
        })
        .collect()
}
