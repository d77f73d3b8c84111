//! One running Postgres: started, adopted, watched and ended.

use super::PrivateError;
use super::account::Account;
use super::binaries::Binaries;
use super::layout::Layout;
use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::{ExitStatus, Stdio};
use std::time::Duration;
use tokio::process::Child;
use tokio::time::{Instant, sleep};

/// Between two looks at a process or its file.
const LOOK_EVERY: Duration = Duration::from_millis(20);
/// Crash recovery of a large journal takes minutes; more than this is a fault.
const READY_WITHIN: Duration = Duration::from_mins(10);
/// A fast shutdown rolls back what is open and writes a checkpoint.
const FAST_WITHIN: Duration = Duration::from_mins(1);
/// An immediate shutdown only ends processes; the next start recovers.
const IMMEDIATE_WITHIN: Duration = Duration::from_secs(15);

/// What a running Postgres says of itself in `postmaster.pid`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct PidFile {
    pub pid: i32,
    pub sockets: PathBuf,
    pub ready: bool,
}

impl PidFile {
    /// The file of a cluster; `None` when there is none or it is not written to its end yet.
    pub fn read(cluster: &Path) -> Option<Self> {
        Self::parse(&std::fs::read_to_string(Self::path(cluster)).ok()?)
    }

    /// Where it lies.
    pub fn path(cluster: &Path) -> PathBuf {
        cluster.join("postmaster.pid")
    }

    /// Lines: process, data directory, start time, port, socket directory, address, shared
    /// memory, state; a negative process is a single-user session.
    fn parse(text: &str) -> Option<Self> {
        let lines: Vec<&str> = text.lines().collect();
        let pid: i32 = lines.first()?.trim().parse().ok()?;
        let sockets = PathBuf::from(lines.get(4).unwrap_or(&"").trim());
        let ready = lines.get(7).is_some_and(|state| state.trim() == "ready");
        Some(Self { pid: pid.abs(), sockets, ready })
    }
}

/// A Postgres that this server watches.
#[derive(Debug)]
pub(super) enum Postmaster {
    /// Started by this server, which must also reap it.
    Own(Child, i32),
    /// Started by a server that was killed.
    Adopted { pid: i32, cluster: PathBuf },
}

impl Postmaster {
    /// Starts Postgres and waits until it takes connections.
    pub async fn start(layout: &Layout, binaries: &Binaries, account: &Account) -> Result<Self, PrivateError> {
        let mut child = spawn(layout, binaries, account)?;
        let pid = child.id().and_then(|id| i32::try_from(id).ok()).unwrap_or_default();
        let begun = Instant::now();
        loop {
            if let Some(status) = child.try_wait().map_err(|f| PrivateError::file("watch", &layout.cluster, f))? {
                return Err(did_not_start(layout, status.to_string()));
            }
            if PidFile::read(&layout.cluster).is_some_and(|file| file.pid == pid && file.ready) {
                return Ok(Self::Own(child, pid));
            }
            if begun.elapsed() > READY_WITHIN {
                Self::Own(child, pid).end().await?;
                return Err(did_not_start(layout, format!("not ready after {} s", READY_WITHIN.as_secs())));
            }
            sleep(LOOK_EVERY).await;
        }
    }

    /// The process.
    pub fn pid(&self) -> i32 {
        match self {
            Self::Own(_, pid) | Self::Adopted { pid, .. } => *pid,
        }
    }

    /// Waits for its end and reaps it; says how it ended, where that can be known. May be
    /// dropped and called again.
    pub async fn ended(&mut self) -> Option<ExitStatus> {
        match self {
            Self::Own(child, _) => child.wait().await.ok(),
            Self::Adopted { pid, cluster } => {
                while runs_on(*pid, cluster) {
                    sleep(LOOK_EVERY * 5).await;
                }
                None
            }
        }
    }

    /// Ends it: fast, and if that takes too long, at once. Never by SIGKILL, after which
    /// processes of the old server could still write.
    pub async fn end(mut self) -> Result<(), PrivateError> {
        for (signal, within) in [(Signal::SIGINT, FAST_WITHIN), (Signal::SIGQUIT, IMMEDIATE_WITHIN)] {
            // A process that is gone already is what was wanted.
            let _ = kill(Pid::from_raw(self.pid()), signal);
            if tokio::time::timeout(within, self.ended()).await.is_ok() {
                return Ok(());
            }
        }
        Err(PrivateError::DidNotStop { pid: self.pid(), seconds: (FAST_WITHIN + IMMEDIATE_WITHIN).as_secs() })
    }

    /// Makes it read the access rules again.
    pub fn reload(&self) {
        let _ = kill(Pid::from_raw(self.pid()), Signal::SIGHUP);
    }
}

fn spawn(layout: &Layout, binaries: &Binaries, account: &Account) -> Result<Child, PrivateError> {
    let path = layout.start_log();
    let failed = |fault| PrivateError::file("write", &path, fault);
    let log = File::create(&path).map_err(failed)?;
    let again = log.try_clone().map_err(failed)?;
    let mut command = account.command(&binaries.tool("postgres"));
    command.arg("-D").arg(&layout.cluster);
    for setting in settings(layout) {
        command.arg("-c").arg(setting);
    }
    // A group of its own: an interrupt typed at the terminal is for the server, which ends
    // Postgres after its last command.
    command.process_group(0).stdin(Stdio::null()).stdout(log).stderr(again);
    command.spawn().map_err(|fault| PrivateError::Tool { tool: "postgres".to_owned(), why: fault.to_string() })
}

/// Settings on the command line stand above every file, so that nobody weakens durability or
/// opens a port by a line in `postgresql.conf`. Everything else may be set there.
fn settings(layout: &Layout) -> Vec<String> {
    let quoted = |path: &Path| format!("\"{}\"", path.display());
    vec![
        "fsync=on".to_owned(),
        "full_page_writes=on".to_owned(),
        "synchronous_commit=on".to_owned(),
        "listen_addresses=".to_owned(),
        "port=5432".to_owned(),
        format!("unix_socket_directories={}", quoted(&layout.sockets)),
        "unix_socket_permissions=0700".to_owned(),
        format!("hba_file={}", layout.rules.join("pg_hba.conf").display()),
        format!("ident_file={}", layout.rules.join("pg_ident.conf").display()),
        "timezone=UTC".to_owned(),
        "log_timezone=UTC".to_owned(),
        // One file a weekday, overwritten a week later: the log cannot fill the disk.
        "logging_collector=on".to_owned(),
        format!("log_directory={}", layout.logs.display()),
        "log_filename=postgres-%a.log".to_owned(),
        "log_rotation_age=1d".to_owned(),
        "log_rotation_size=0".to_owned(),
        "log_truncate_on_rotation=on".to_owned(),
        "log_file_mode=0600".to_owned(),
    ]
}

fn did_not_start(layout: &Layout, why: String) -> PrivateError {
    let words = last_words(layout);
    PrivateError::DidNotStart { data: layout.cluster.clone(), why, words }
}

/// The last lines of both logs.
fn last_words(layout: &Layout) -> String {
    let mut logs: Vec<PathBuf> =
        std::fs::read_dir(&layout.logs).into_iter().flatten().flatten().map(|entry| entry.path()).collect();
    logs.sort_by_key(|path| path.metadata().and_then(|metadata| metadata.modified()).ok());
    let newest = logs.pop();
    let texts = [Some(layout.start_log()), newest].into_iter().flatten().map(|path| std::fs::read(path).ok());
    let mut lines = Vec::new();
    for text in texts.flatten() {
        let text = String::from_utf8_lossy(&text).into_owned();
        let all: Vec<&str> = text.lines().collect();
        lines.extend(all.iter().skip(all.len().saturating_sub(4)).map(ToString::to_string));
    }
    if lines.is_empty() { "none".to_owned() } else { lines.join("; ") }
}

/// Whether a process with this number exists, be it a zombie or a stranger: what Postgres
/// itself goes by when it finds an old `postmaster.pid`.
pub(super) fn number_is_taken(pid: i32) -> bool {
    kill(Pid::from_raw(pid), None) != Err(nix::errno::Errno::ESRCH)
}

/// Whether a live process works on the cluster: every process of Postgres has the data
/// directory as its working directory, and a zombie has none.
pub(super) fn runs_on(pid: i32, cluster: &Path) -> bool {
    if !has_proc() {
        return number_is_taken(pid);
    }
    std::fs::read_link(format!("/proc/{pid}/cwd")).is_ok_and(|directory| directory == cluster)
}

/// Every live process that works on the cluster.
pub(super) fn all_on(cluster: &Path) -> Vec<i32> {
    std::fs::read_dir("/proc")
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|entry| entry.file_name().to_str()?.parse().ok())
        .filter(|pid| has_proc() && runs_on(*pid, cluster))
        .collect()
}

fn has_proc() -> bool {
    Path::new("/proc/self/cwd").exists()
}

#[cfg(test)]
mod tests {
    use super::*;

    // The form is the one of miscadmin.h (LOCK_FILE_LINE_*) in Postgres 10 and later.
    #[test]
    fn the_pid_file_is_read() {
        let text = "4711\n/data/postgres\n1700000000\n5432\n/data/run\n\n  1234  5678\nready   \n";
        let expected = PidFile { pid: 4711, sockets: "/data/run".into(), ready: true };
        assert_eq!(PidFile::parse(text), Some(expected));
        let starting = "4711\n/data/postgres\n1700000000\n5432\n/data/run\n\n  1234  5678\nstarting\n";
        assert!(!PidFile::parse(starting).unwrap().ready);
    }

    #[test]
    fn a_pid_file_without_a_number_says_nothing() {
        assert_eq!(PidFile::parse(""), None);
        assert_eq!(PidFile::parse("not a number\n"), None);
    }

    #[test]
    fn only_processes_in_the_directory_count() {
        let own = i32::try_from(std::process::id()).unwrap();
        let here = std::env::current_dir().unwrap();
        assert!(runs_on(own, &here));
        assert!(all_on(&here).contains(&own));
        assert!(!runs_on(own, Path::new("/nowhere/at/all")));
        assert!(number_is_taken(own));
    }
}
