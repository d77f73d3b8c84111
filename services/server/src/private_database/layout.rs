//! The directories of the private database.
//!
//! The data directory belongs to the server; what Postgres writes lies in directories of mode
//! 0700 below it that belong to the user Postgres runs as. The access rules lie in a directory
//! that this user can read but not write, so that a server run by root never writes through
//! a path that an unprivileged user controls.

use super::PrivateError;
use super::account::Account;
use sha2::{Digest, Sha256};
use std::fs::{DirBuilder, Permissions};
use std::io::ErrorKind;
use std::os::unix::fs::{DirBuilderExt, MetadataExt, PermissionsExt};
use std::path::{Path, PathBuf};

/// Bytes of a socket's path that every system here allows: 108 with the closing zero.
const SOCKET_PATH_MOST: usize = 107;
/// The name that Postgres gives to its socket, by its port.
const SOCKET_NAME: &str = ".s.PGSQL.5432";

/// Where everything lies.
#[derive(Debug, Clone)]
pub(super) struct Layout {
    /// The data directory, absolute and without links.
    pub data: PathBuf,
    /// The cluster.
    pub cluster: PathBuf,
    /// What Postgres logs.
    pub logs: PathBuf,
    /// Access rules.
    pub rules: PathBuf,
    /// The directory of the socket.
    pub sockets: PathBuf,
}

impl Layout {
    /// Makes what is missing, and checks that Postgres will be able to get in.
    pub fn prepare(data: &Path, account: &Account) -> Result<Self, PrivateError> {
        let data = make_data_directory(data, account)?;
        if data.to_str().is_none_or(|text| text.contains(['\n', '"'])) {
            return Err(PrivateError::BadPath { path: data });
        }
        if let Some(path) = account.stopped_at(&data) {
            return Err(PrivateError::Closed { user: account.name.clone(), path });
        }
        let sockets = socket_directory(&data, account)?;
        let layout =
            Self { cluster: data.join("postgres"), logs: data.join("log"), rules: data.join("rules"), sockets, data };
        make_private(&layout.logs, account)?;
        make_rules(&layout.rules)?;
        Ok(layout)
    }

    /// The version that wrote the cluster; `None` before there is one.
    pub fn written_by(&self) -> Result<Option<String>, PrivateError> {
        let path = self.cluster.join("PG_VERSION");
        match std::fs::read_to_string(&path) {
            Ok(text) => Ok(Some(text.trim().to_owned())),
            Err(fault) if fault.kind() == ErrorKind::NotFound && !self.cluster.exists() => Ok(None),
            Err(fault) => Err(PrivateError::file("read", &path, fault)),
        }
    }

    /// The lock that one server at a time holds.
    pub fn lock_file(&self) -> PathBuf {
        self.data.join("leadhandd.lock")
    }

    /// What Postgres says before its own log is open.
    pub fn start_log(&self) -> PathBuf {
        self.data.join("postgres-start.log")
    }
}

/// The path of the socket in a directory.
pub(super) fn socket_in(directory: &Path) -> PathBuf {
    directory.join(SOCKET_NAME)
}

fn make_data_directory(data: &Path, account: &Account) -> Result<PathBuf, PrivateError> {
    let mode = if account.is_other_user() { 0o711 } else { 0o700 };
    let failed = |what| move |fault| PrivateError::file(what, data, fault);
    if let Some(parent) = data.parent().filter(|parent| !parent.as_os_str().is_empty()) {
        std::fs::create_dir_all(parent).map_err(failed("create the parent of"))?;
    }
    match DirBuilder::new().mode(mode).create(data) {
        Err(fault) if fault.kind() != ErrorKind::AlreadyExists => return Err(failed("create")(fault)),
        _ => {}
    }
    // Only a directory that holds nothing yet is opened up: what an owner has closed stays closed.
    if std::fs::read_dir(data).map_err(failed("read"))?.next().is_none() {
        std::fs::set_permissions(data, Permissions::from_mode(mode)).map_err(failed("set the mode of"))?;
    }
    data.canonicalize().map_err(failed("find"))
}

/// A directory of mode 0700 of the user that runs Postgres; anything else in its place is refused.
pub(super) fn make_private(path: &Path, account: &Account) -> Result<(), PrivateError> {
    match DirBuilder::new().mode(0o700).create(path) {
        Err(fault) if fault.kind() != ErrorKind::AlreadyExists => {
            return Err(PrivateError::file("create", path, fault));
        }
        _ => {}
    }
    let read = || path.symlink_metadata().map_err(|fault| PrivateError::file("read", path, fault));
    let made = read()?;
    // A server that was killed between making and giving has left it with root.
    if made.is_dir() && made.uid() == 0 {
        account.give(path)?;
    }
    let metadata = read()?;
    let open_to_others = metadata.mode() & 0o077;
    if metadata.is_dir() && account.owns(&metadata) && open_to_others == 0 {
        return Ok(());
    }
    Err(PrivateError::NotPrivate { path: path.to_path_buf(), user: account.name.clone() })
}

fn make_rules(path: &Path) -> Result<(), PrivateError> {
    match DirBuilder::new().mode(0o755).create(path) {
        Err(fault) if fault.kind() != ErrorKind::AlreadyExists => Err(PrivateError::file("create", path, fault)),
        _ => Ok(()),
    }
}

/// Below the data directory when that is short enough, else a short runtime directory.
fn socket_directory(data: &Path, account: &Account) -> Result<PathBuf, PrivateError> {
    let usual = data.join("run");
    if fits(&usual) {
        make_private(&usual, account)?;
        return Ok(usual);
    }
    let short = fallback(data, account);
    if !fits(&short) {
        return Err(PrivateError::SocketTooLong { path: socket_in(&short), most: SOCKET_PATH_MOST });
    }
    make_private(&short, account)?;
    tracing::warn!(
        directory = %short.display(),
        "the data directory's path is too long for a socket; the socket lies in {} instead",
        short.display()
    );
    Ok(short)
}

fn fits(directory: &Path) -> bool {
    socket_in(directory).as_os_str().len() <= SOCKET_PATH_MOST
}

/// Named after the data directory, so that every start finds the same one.
fn fallback(data: &Path, account: &Account) -> PathBuf {
    let digest = Sha256::digest(data.as_os_str().as_encoded_bytes());
    let name = format!("leadhand-{:02x}{:02x}{:02x}{:02x}", digest[0], digest[1], digest[2], digest[3]);
    let own_runtime = std::env::var_os("XDG_RUNTIME_DIR").map(PathBuf::from).filter(|_| !account.is_other_user());
    [own_runtime, account.is_other_user().then(|| PathBuf::from("/run"))]
        .into_iter()
        .flatten()
        .find(|directory| directory.is_absolute() && directory.is_dir() && fits(&directory.join(&name)))
        .unwrap_or_else(|| PathBuf::from("/tmp"))
        .join(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    // sun_path is 108 bytes on Linux, unix(7); one is the closing zero.
    #[test]
    fn a_socket_path_of_107_bytes_fits_and_one_of_108_does_not() {
        let directory = |length: usize| PathBuf::from(format!("/{}", "d".repeat(length - 1)));
        let longest = SOCKET_PATH_MOST - SOCKET_NAME.len() - 1;
        assert!(fits(&directory(longest)));
        assert!(!fits(&directory(longest + 1)));
    }
}
