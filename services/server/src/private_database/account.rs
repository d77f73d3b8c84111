//! Which user of the system runs Postgres. Postgres refuses to run as root, so a server that
//! was started as root hands its children to an unprivileged user.

use super::PrivateError;
use nix::unistd::{Uid, User, chown};
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use tokio::process::Command;

/// Whom Postgres runs as when the server is root and nobody else was named.
pub const DEFAULT_USER: &str = "postgres";

/// The users on both sides of the socket.
#[derive(Debug, Clone)]
pub(super) struct Account {
    /// The user that Postgres and its tools run as.
    pub name: String,
    uid: u32,
    gid: u32,
    /// Whether children must change user, which is so when the server is root.
    changes_user: bool,
    /// The user of the server itself, as peer authentication will see it.
    pub server: String,
}

impl Account {
    /// Finds both users, or says why Postgres could not run as the one wanted.
    pub fn find(wanted: Option<&str>) -> Result<Self, PrivateError> {
        let own = look_up_uid(Uid::effective())?;
        if !Uid::effective().is_root() {
            return match wanted {
                Some(name) if name != own.name => {
                    Err(PrivateError::CannotChangeUser { wanted: name.to_owned(), own: own.name })
                }
                _ => Ok(Self::of(&own, false, own.name.clone())),
            };
        }
        let name = wanted.unwrap_or(DEFAULT_USER);
        let user = User::from_name(name)
            .map_err(|fault| PrivateError::UserLookUp { what: name.to_owned(), fault })?
            .ok_or_else(|| PrivateError::NoSuchUser { name: name.to_owned() })?;
        if user.uid.is_root() {
            return Err(PrivateError::RootRefused);
        }
        Ok(Self::of(&user, true, own.name))
    }

    fn of(user: &User, changes_user: bool, server: String) -> Self {
        Self { name: user.name.clone(), uid: user.uid.as_raw(), gid: user.gid.as_raw(), changes_user, server }
    }

    /// A command that will run as this user, away from the server's own directory and from
    /// whatever the environment says about other databases.
    pub fn command(&self, program: &Path) -> Command {
        let mut command = Command::new(program);
        command.current_dir("/").env_clear().env("LC_ALL", "C").env("TZ", "UTC");
        for kept in ["PATH", "LD_LIBRARY_PATH"] {
            if let Some(value) = std::env::var_os(kept) {
                command.env(kept, value);
            }
        }
        if self.changes_user {
            // Setting the user as root also clears the supplementary groups.
            command.uid(self.uid).gid(self.gid);
        }
        command
    }

    /// Whether the data directory must let another user pass through.
    pub fn is_other_user(&self) -> bool {
        self.changes_user
    }

    /// Hands a path to the user that runs Postgres.
    pub fn give(&self, path: &Path) -> Result<(), PrivateError> {
        if !self.changes_user {
            return Ok(());
        }
        chown(path, Some(self.uid.into()), Some(self.gid.into()))
            .map_err(|fault| PrivateError::file("give to its user", path, fault.into()))
    }

    /// Whether a path belongs to the user that runs Postgres.
    pub fn owns(&self, metadata: &std::fs::Metadata) -> bool {
        metadata.uid() == self.uid
    }

    /// The first directory on the way to `path` that this user cannot pass through.
    pub fn stopped_at(&self, path: &Path) -> Option<PathBuf> {
        let mut upwards: Vec<&Path> = path.ancestors().collect();
        upwards.reverse();
        upwards.into_iter().find(|step| !self.may_enter(step)).map(Path::to_path_buf)
    }

    fn may_enter(&self, directory: &Path) -> bool {
        let Ok(metadata) = directory.metadata() else { return false };
        let bit = if metadata.uid() == self.uid {
            0o100
        } else if metadata.gid() == self.gid {
            0o010
        } else {
            0o001
        };
        metadata.mode() & bit != 0
    }
}

fn look_up_uid(uid: Uid) -> Result<User, PrivateError> {
    User::from_uid(uid)
        .map_err(|fault| PrivateError::UserLookUp { what: uid.to_string(), fault })?
        .ok_or_else(|| PrivateError::NoSuchUser { name: uid.to_string() })
}
