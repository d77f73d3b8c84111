//! Keeping Postgres up: what an earlier server left is adopted or ended, and a Postgres that
//! dies is started again.

use super::PrivateError;
use super::account::Account;
use super::binaries::Binaries;
use super::layout::{Layout, socket_in};
use super::postmaster::{PidFile, Postmaster, all_on, number_is_taken, runs_on};
use super::session::Session;
use std::fs::File;
use std::time::Duration;
use tokio::sync::oneshot;
use tokio::time::{Instant, sleep};

/// Backends of a dead postmaster notice its death and leave within this time.
const LEAVE_WITHIN: Duration = Duration::from_secs(30);
/// How long an orphan may take to answer before it is ended.
const ORPHAN_ANSWERS_WITHIN: Duration = Duration::from_mins(1);
const FIRST_PAUSE: Duration = Duration::from_millis(100);
const LONGEST_PAUSE: Duration = Duration::from_secs(10);
/// After this long the next death counts as the first again.
const STEADY_AFTER: Duration = Duration::from_mins(1);

/// Everything that is needed to bring Postgres up, as often as it takes.
pub(super) struct Supervisor {
    pub layout: Layout,
    pub binaries: Binaries,
    pub account: Account,
    /// Held as long as this server is responsible for the directory.
    pub lock: File,
}

impl Supervisor {
    /// Adopts what runs already, or starts Postgres.
    pub async fn bring_up(&self) -> Result<Postmaster, PrivateError> {
        if let Some(orphan) = self.settle_the_past().await? {
            if let Some(adopted) = self.adopt(&orphan).await {
                return Ok(adopted);
            }
            tracing::warn!(
                pid = orphan.pid,
                "an earlier Postgres (process {}) does not answer here; ending it",
                orphan.pid
            );
            self.as_adopted(orphan.pid).end().await?;
            if self.settle_the_past().await?.is_some() {
                return Err(self.leftovers());
            }
        }
        let postmaster = Postmaster::start(&self.layout, &self.binaries, &self.account).await?;
        let pid = postmaster.pid();
        tracing::info!(pid, "the private database takes connections (process {pid})");
        Ok(postmaster)
    }

    /// The postmaster that still runs on the cluster. Without one, waits until its processes
    /// have left, and clears its lock files if its number now belongs to a zombie or a stranger.
    async fn settle_the_past(&self) -> Result<Option<PidFile>, PrivateError> {
        let cluster = &self.layout.cluster;
        let begun = Instant::now();
        loop {
            let file = PidFile::read(cluster);
            if let Some(file) = file.as_ref().filter(|file| runs_on(file.pid, cluster)) {
                return Ok(Some(file.clone()));
            }
            if all_on(cluster).is_empty() {
                if let Some(file) = file.filter(|file| number_is_taken(file.pid)) {
                    self.clear_lock_files(&file);
                }
                return Ok(None);
            }
            if begun.elapsed() > LEAVE_WITHIN {
                return Err(self.leftovers());
            }
            sleep(Duration::from_millis(20)).await;
        }
    }

    /// Postgres would take these for the lock of a live server. Nothing runs on the cluster,
    /// so nothing is lost; a file whose number is free is left to Postgres, which also looks
    /// at the shared memory that the file names.
    fn clear_lock_files(&self, file: &PidFile) {
        let pid = file.pid;
        tracing::warn!(pid, "the lock of an earlier Postgres names process {pid}, which is another now; removing it");
        let mut socket_lock = socket_in(&file.sockets).into_os_string();
        socket_lock.push(".lock");
        for path in [PidFile::path(&self.layout.cluster), socket_lock.into()] {
            // What cannot be removed is named by Postgres itself when it starts.
            let _ = std::fs::remove_file(path);
        }
    }

    async fn adopt(&self, orphan: &PidFile) -> Option<Postmaster> {
        let session = Session { binaries: &self.binaries, account: &self.account, sockets: &orphan.sockets };
        let begun = Instant::now();
        // With another socket directory it would answer where nobody asks.
        let asked_here = orphan.sockets == self.layout.sockets;
        while asked_here && runs_on(orphan.pid, &self.layout.cluster) && begun.elapsed() < ORPHAN_ANSWERS_WITHIN {
            let found = session.data_directory().await.ok().and_then(|path| path.canonicalize().ok());
            if found.as_ref() == Some(&self.layout.cluster) {
                let postmaster = self.as_adopted(orphan.pid);
                postmaster.reload();
                tracing::warn!(pid = orphan.pid, "adopted the Postgres of an earlier server (process {})", orphan.pid);
                return Some(postmaster);
            }
            sleep(FIRST_PAUSE).await;
        }
        None
    }

    fn as_adopted(&self, pid: i32) -> Postmaster {
        Postmaster::Adopted { pid, cluster: self.layout.cluster.clone() }
    }

    fn leftovers(&self) -> PrivateError {
        PrivateError::Leftovers { data: self.layout.cluster.clone(), pids: all_on(&self.layout.cluster) }
    }

    /// Watches Postgres until it is told to stop, or until the other end of `stop` is dropped,
    /// which leaves Postgres running for the next server to adopt.
    pub async fn watch(self, up: Postmaster, mut stop: oneshot::Receiver<()>) -> Result<(), PrivateError> {
        let mut postmaster = up;
        let mut pause = FIRST_PAUSE;
        loop {
            let begun = Instant::now();
            tokio::select! {
                told = &mut stop => return if told.is_ok() { self.finish(postmaster).await } else { Ok(()) },
                status = postmaster.ended() => Self::say_it_died(postmaster.pid(), status),
            }
            if begun.elapsed() > STEADY_AFTER {
                pause = FIRST_PAUSE;
            }
            postmaster = loop {
                tokio::select! {
                    _ = &mut stop => return Ok(()),
                    () = sleep(pause) => {}
                }
                pause = (pause * 2).min(LONGEST_PAUSE);
                match self.bring_up().await {
                    Ok(up) => break up,
                    Err(fault) => tracing::error!(%fault, "the private database is down: {fault}"),
                }
            };
        }
    }

    fn say_it_died(pid: i32, status: Option<std::process::ExitStatus>) {
        let how = status.map_or_else(|| "it was adopted".to_owned(), |status| status.to_string());
        tracing::error!(pid, "the private database (process {pid}) ended by itself ({how}); starting it again");
    }

    async fn finish(&self, postmaster: Postmaster) -> Result<(), PrivateError> {
        let pid = postmaster.pid();
        postmaster.end().await?;
        tracing::info!(pid, "the private database is shut down (process {pid})");
        Ok(())
    }
}

impl std::fmt::Debug for Supervisor {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Supervisor").field("layout", &self.layout).field("lock", &self.lock).finish_non_exhaustive()
    }
}
