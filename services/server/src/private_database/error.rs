//! What can go wrong with the private database, each in one sentence that says what to do.

use std::path::{Path, PathBuf};

/// Why the private database could not be started, used or stopped.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PrivateError {
    /// No usable Postgres on this machine.
    #[error(
        "no Postgres binaries of version {least} or later were found (looked in {looked}): install the \
         postgresql package, name their directory with --postgres-bin, or give --database-url"
    )]
    NoBinaries {
        /// The oldest version that would do.
        least: u32,
        /// Where was looked.
        looked: String,
    },
    /// The directory that was named does not hold Postgres.
    #[error("{path} holds no working Postgres ({why}): name the directory that holds postgres, initdb and psql")]
    BadBinaries {
        /// The directory.
        path: PathBuf,
        /// What failed.
        why: String,
    },
    /// The data were written by another major version.
    #[error(
        "the private database in {data} was written by Postgres {written}, but the binaries here are of version \
         {found}: install Postgres {written} beside them, then bring the data over with `leadhandd \
         upgrade-database` and start again; nothing was changed"
    )]
    VersionDiffers {
        /// The cluster's directory.
        data: PathBuf,
        /// The version that wrote it.
        written: String,
        /// The versions that are installed.
        found: String,
    },
    /// There is nothing that could be upgraded.
    #[error("there is no database under {data}: name the right one with --data-dir")]
    NoDatabase {
        /// The data directory.
        data: PathBuf,
    },
    /// Another server holds the data directory.
    #[error(
        "another leadhandd{} uses the data directory {data}: stop it first, or choose another --data-dir",
        pid.map(|pid| format!(" (process {pid})")).unwrap_or_default()
    )]
    InUse {
        /// The data directory.
        data: PathBuf,
        /// The other server, if it has said who it is.
        pid: Option<i32>,
    },
    /// Only root can run Postgres as somebody else.
    #[error("only root can run Postgres as {wanted}, and this is {own}: leave --run-as out, or start as root")]
    CannotChangeUser {
        /// The user that was named.
        wanted: String,
        /// The user that the server runs as.
        own: String,
    },
    /// The user is not known to the system.
    #[error("the system knows no user {name}: create it, or name another with --run-as")]
    NoSuchUser {
        /// Name or number of the user.
        name: String,
    },
    /// The user database could not be read.
    #[error("the user {what} could not be looked up: {fault}")]
    UserLookUp {
        /// Name or number of the user.
        what: String,
        /// The system's answer.
        fault: nix::Error,
    },
    /// Postgres refuses to run as root.
    #[error("Postgres refuses to run as root: name an unprivileged user with --run-as")]
    RootRefused,
    /// A directory on the way is closed to the user that runs Postgres.
    #[error("the user {user} cannot enter {path}: open it (chmod o+x), or choose another --data-dir")]
    Closed {
        /// The user that runs Postgres.
        user: String,
        /// The closed directory.
        path: PathBuf,
    },
    /// A directory that must be private is not.
    #[error("{path} must be a directory of user {user} with mode 0700, and is not: remove or repair it")]
    NotPrivate {
        /// The directory.
        path: PathBuf,
        /// The user that should own it.
        user: String,
    },
    /// The path cannot be written in a connection string or configuration.
    #[error("the path {path} holds characters that Postgres cannot be told: choose another --data-dir")]
    BadPath {
        /// The path.
        path: PathBuf,
    },
    /// No directory is short enough for a socket.
    #[error(
        "the socket path {path} is longer than {most} bytes, and so is every fallback: choose a shorter --data-dir"
    )]
    SocketTooLong {
        /// The last path tried.
        path: PathBuf,
        /// What the system allows.
        most: usize,
    },
    /// A file operation failed.
    #[error("could not {what} {path}: {fault}")]
    File {
        /// What was tried.
        what: &'static str,
        /// On which path.
        path: PathBuf,
        /// The system's answer.
        fault: std::io::Error,
    },
    /// A tool of Postgres could not be run or failed.
    #[error("{tool} failed: {why}")]
    Tool {
        /// Which tool.
        tool: String,
        /// What it said.
        why: String,
    },
    /// Postgres ended before it was ready.
    #[error("Postgres did not start on {data} ({why}); its last words: {words}")]
    DidNotStart {
        /// The cluster's directory.
        data: PathBuf,
        /// How it ended.
        why: String,
        /// The end of its log.
        words: String,
    },
    /// Processes of an earlier Postgres do not go away.
    #[error("processes {pids:?} of an earlier Postgres still hold {data}: end them, then start again")]
    Leftovers {
        /// The cluster's directory.
        data: PathBuf,
        /// The processes.
        pids: Vec<i32>,
    },
    /// Postgres did not end in time.
    #[error("Postgres (process {pid}) did not end within {seconds} s and was left running")]
    DidNotStop {
        /// The process.
        pid: i32,
        /// How long was waited.
        seconds: u64,
    },
    /// The task that watches Postgres is gone.
    #[error("the supervisor of the private database ended by itself: {why}")]
    SupervisorGone {
        /// How.
        why: String,
    },
}

impl PrivateError {
    /// A failed file operation.
    pub(super) fn file(what: &'static str, path: &Path, fault: std::io::Error) -> Self {
        Self::File { what, path: path.to_path_buf(), fault }
    }
}
