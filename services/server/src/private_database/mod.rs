//! The private database: a Postgres of the server's own, for a shop that has no other.
//!
//! It is reachable over a Unix socket only, by the server's own user, and as durable as any:
//! nothing about its writes is weakened. It survives the death of the server (the next one
//! adopts it) and its own (it is started again).

mod account;
mod binaries;
mod cluster;
mod error;
mod held;
mod layout;
mod postmaster;
mod session;
mod supervisor;

pub use account::DEFAULT_USER;
pub use binaries::LEAST_MAJOR;
pub(crate) use binaries::{candidates, major_of};
pub use error::PrivateError;
pub use held::{DUMPS, Held};

use account::Account;
use binaries::Binaries;
use layout::Layout;
use postmaster::PidFile;
use session::Session;
use std::fmt::Write as _;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::time::Duration;
use supervisor::Supervisor;
use tokio::sync::oneshot;
use tokio::task::JoinHandle;
use tokio::time::{Instant, sleep};

/// How long a start waits for another server, which may be on its way out.
const LOCK_WITHIN: Duration = Duration::from_secs(5);
/// How long a borrower waits for the server that holds the database to be ready.
const BORROW_WITHIN: Duration = Duration::from_mins(1);

/// What may be said about the private database; everything has a default.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PrivateSettings {
    /// Where the data lie.
    pub data_dir: PathBuf,
    /// The directory of the Postgres binaries, if not the usual ones.
    pub postgres_bin: Option<PathBuf>,
    /// Whom Postgres runs as when the server is root.
    pub run_as: Option<String>,
}

/// A private database that takes connections.
#[derive(Debug)]
pub struct PrivateDatabase {
    sockets: PathBuf,
    binaries: PathBuf,
    /// `None` when another process watches over it.
    watch: Option<Watch>,
}

#[derive(Debug)]
struct Watch {
    stop: oneshot::Sender<()>,
    task: JoinHandle<Result<(), PrivateError>>,
}

impl PrivateDatabase {
    /// Starts it, makes it on the first start, and watches over it until [`Self::stop`].
    /// Refused while another server holds the data directory.
    pub async fn start(settings: &PrivateSettings) -> Result<Self, PrivateError> {
        let (layout, account) = prepare(settings)?;
        let begun = Instant::now();
        loop {
            match take_lock(&layout) {
                Ok(lock) => return Self::start_locked(settings, layout, account, lock).await,
                Err(refusal @ PrivateError::InUse { .. }) if begun.elapsed() > LOCK_WITHIN => return Err(refusal),
                Err(PrivateError::InUse { .. }) => sleep(Duration::from_millis(50)).await,
                Err(other) => return Err(other),
            }
        }
    }

    /// For a command that runs beside a server: uses the database that another process holds,
    /// or starts it when nobody does.
    pub async fn borrow_or_start(settings: &PrivateSettings) -> Result<Self, PrivateError> {
        let (layout, account) = prepare(settings)?;
        let begun = Instant::now();
        loop {
            match take_lock(&layout) {
                Ok(lock) => return Self::start_locked(settings, layout, account, lock).await,
                Err(refusal @ PrivateError::InUse { .. }) => {
                    if let Some((sockets, binaries)) = held_and_ready(settings, &layout, &account).await {
                        return Ok(Self { sockets, binaries, watch: None });
                    }
                    if begun.elapsed() > BORROW_WITHIN {
                        return Err(refusal);
                    }
                    sleep(Duration::from_millis(100)).await;
                }
                Err(other) => return Err(other),
            }
        }
    }

    async fn start_locked(
        settings: &PrivateSettings,
        layout: Layout,
        account: Account,
        lock: File,
    ) -> Result<Self, PrivateError> {
        let written = layout.written_by()?;
        let configured = settings.postgres_bin.as_deref();
        let binaries = Binaries::find(configured, &layout.cluster, written.as_deref(), &account).await?;
        if written.is_none() {
            cluster::create(&layout, &binaries, &account).await?;
        }
        cluster::write_rules(&layout, &account)?;
        let supervisor = Supervisor { layout, binaries, account, lock };
        let up = supervisor.bring_up().await?;
        let sockets = supervisor.layout.sockets.clone();
        let directory = supervisor.binaries.directory.clone();
        let session = Session { binaries: &supervisor.binaries, account: &supervisor.account, sockets: &sockets };
        if let Err(fault) = session.ensure_roles().await {
            up.end().await?;
            return Err(fault);
        }
        let (stop, told) = oneshot::channel();
        let task = tokio::spawn(supervisor.watch(up, told));
        Ok(Self { sockets, binaries: directory, watch: Some(Watch { stop, task }) })
    }

    /// Where the owner of the tables logs in; for migrating only.
    pub fn owner_url(&self) -> String {
        url(cluster::OWNER, &self.sockets)
    }

    /// Where the server logs in.
    pub fn app_url(&self) -> String {
        url(cluster::APP, &self.sockets)
    }

    /// The directory of the socket.
    pub fn sockets(&self) -> &Path {
        &self.sockets
    }

    /// The directory of the Postgres binaries that it runs on.
    pub fn binaries(&self) -> &Path {
        &self.binaries
    }

    /// Whether another process watches over it, so that [`Self::stop`] leaves it running.
    pub fn is_borrowed(&self) -> bool {
        self.watch.is_none()
    }

    /// Shuts it down and waits for its end. Dropping the value instead leaves Postgres
    /// running, and the next server adopts it.
    pub async fn stop(self) -> Result<(), PrivateError> {
        let Some(watch) = self.watch else { return Ok(()) };
        // A supervisor that is gone has left its result in the task.
        let _ = watch.stop.send(());
        watch.task.await.map_err(|fault| PrivateError::SupervisorGone { why: fault.to_string() })?
    }
}

fn prepare(settings: &PrivateSettings) -> Result<(Layout, Account), PrivateError> {
    let account = Account::find(settings.run_as.as_deref())?;
    let layout = Layout::prepare(&settings.data_dir, &account)?;
    Ok((layout, account))
}

/// The lock goes with the process, however it ends; the number in the file is for people.
fn take_lock(layout: &Layout) -> Result<File, PrivateError> {
    let path = layout.lock_file();
    let failed = |fault| PrivateError::file("lock", &path, fault);
    let mut options = OpenOptions::new();
    options.read(true).write(true).create(true).truncate(false).mode(0o600);
    let mut file = options.custom_flags(nix::libc::O_NOFOLLOW).open(&path).map_err(failed)?;
    match file.try_lock() {
        Ok(()) => {}
        Err(TryLockError::WouldBlock) => {
            let mut holder = String::new();
            let pid = file.read_to_string(&mut holder).ok().and_then(|_| holder.trim().parse().ok());
            return Err(PrivateError::InUse { data: layout.data.clone(), pid });
        }
        Err(TryLockError::Error(fault)) => return Err(failed(fault)),
    }
    file.set_len(0).map_err(failed)?;
    writeln!(file, "{}", std::process::id()).map_err(failed)?;
    Ok(file)
}

/// The socket directory of the database that another process holds, once it has its roles, and the binaries that
/// fit it.
async fn held_and_ready(settings: &PrivateSettings, layout: &Layout, account: &Account) -> Option<(PathBuf, PathBuf)> {
    let written = layout.written_by().ok()??;
    let file = PidFile::read(&layout.cluster).filter(|file| file.ready)?;
    let configured = settings.postgres_bin.as_deref();
    let binaries = Binaries::find(configured, &layout.cluster, Some(&written), account).await.ok()?;
    let session = Session { binaries: &binaries, account, sockets: &file.sockets };
    session.has_roles().await.ok()?.then_some((file.sockets, binaries.directory))
}

/// Every byte that is not plain goes in hexadecimal: the path is a parameter of the URL.
fn url(role: &str, sockets: &Path) -> String {
    let mut host = String::new();
    for byte in sockets.as_os_str().as_encoded_bytes() {
        if byte.is_ascii_alphanumeric() || b"/._-".contains(byte) {
            host.push(char::from(*byte));
        } else {
            // Writing to a string cannot fail.
            let _ = write!(host, "%{byte:02X}");
        }
    }
    format!("postgres://{role}@localhost/{}?host={host}", cluster::DATABASE)
}

#[cfg(test)]
mod tests {
    use super::*;

    // The form is libpq's, "34.1.1.2 Connection URIs".
    #[test]
    fn a_url_names_role_database_and_socket_directory() {
        let plain = url("leadhand_app", Path::new("/var/lib/leadhand/run"));
        assert_eq!(plain, "postgres://leadhand_app@localhost/leadhand?host=/var/lib/leadhand/run");
        let odd = url("leadhand_owner", Path::new("/tmp/a b&c"));
        assert_eq!(odd, "postgres://leadhand_owner@localhost/leadhand?host=/tmp/a%20b%26c");
    }
}
