//! A data directory held for the time in which its database moves to another major version of
//! Postgres. The new one is made beside the old one and takes its place in one step of the file
//! system, so that whoever is killed in between leaves the one or the other whole.

use super::account::Account;
use super::binaries::Binaries;
use super::layout::Layout;
use super::{PrivateDatabase, PrivateError, PrivateSettings, prepare, take_lock};
use nix::fcntl::{AT_FDCWD, RenameFlags, renameat2};
use std::fs::File;
use std::path::{Path, PathBuf};

/// Where the new one is made, below the data directory.
const BESIDE: &str = "upgrade";
/// What the directories of dumps on their way begin with.
pub const DUMPS: &str = "upgrade-";

/// A data directory that no server can use until this is dropped.
#[derive(Debug)]
pub struct Held {
    settings: PrivateSettings,
    layout: Layout,
    account: Account,
    lock: File,
    written: String,
}

impl Held {
    /// Takes hold of a data directory that has a database. Refused while a server uses it.
    pub fn take(settings: &PrivateSettings) -> Result<Self, PrivateError> {
        let (layout, account) = prepare(settings)?;
        let lock = take_lock(&layout)?;
        let Some(written) = layout.written_by()? else {
            return Err(PrivateError::NoDatabase { data: layout.data });
        };
        Ok(Self { settings: settings.clone(), layout, account, lock, written })
    }

    /// The major version of the database.
    pub fn written_by(&self) -> &str {
        &self.written
    }

    /// The newest binaries that may be moved to, the named ones if some were named, with their major version.
    pub async fn newest(&self) -> Result<(PathBuf, u32), PrivateError> {
        let configured = self.settings.postgres_bin.as_deref();
        let found = Binaries::find(configured, &self.layout.cluster, None, &self.account).await?;
        Ok((found.directory, found.major))
    }

    /// Starts the database as it is, with installed binaries of its own version.
    pub async fn start(&self) -> Result<PrivateDatabase, PrivateError> {
        let lock =
            self.lock.try_clone().map_err(|fault| PrivateError::file("hold", &self.layout.lock_file(), fault))?;
        let settings = PrivateSettings { postgres_bin: None, ..self.settings.clone() };
        PrivateDatabase::start_locked(&settings, self.layout.clone(), self.account.clone(), lock).await
    }

    /// Where a new database of these binaries is made; what an earlier try left there is ended and cleared away.
    pub async fn beside(&self, binaries: &Path) -> Result<PrivateSettings, PrivateError> {
        let place = self.layout.data.join(BESIDE);
        let settings = |bin: Option<PathBuf>| PrivateSettings {
            data_dir: place.clone(),
            postgres_bin: bin,
            run_as: self.settings.run_as.clone(),
        };
        if place.join("postgres/postmaster.pid").exists() {
            // A Postgres may still run there; one is started on top of whatever is, and ended with it.
            PrivateDatabase::start(&settings(Some(binaries.to_path_buf()))).await?.stop().await?;
        }
        // A dump that was left there holds names.
        let entries = std::fs::read_dir(&self.layout.data);
        let entries = entries.map_err(|fault| PrivateError::file("read", &self.layout.data, fault))?;
        let dumps = entries.flatten().filter(|entry| entry.file_name().to_string_lossy().starts_with(DUMPS));
        for left in dumps.map(|entry| entry.path()).chain([place.clone()]).filter(|path| path.exists()) {
            std::fs::remove_dir_all(&left).map_err(|fault| PrivateError::file("remove", &left, fault))?;
        }
        Ok(settings(Some(binaries.to_path_buf())))
    }

    /// Puts the new database into the place of the old one, which is kept under the name that is given back.
    pub fn exchange(&self) -> Result<PathBuf, PrivateError> {
        let (place, cluster) = (self.layout.data.join(BESIDE), &self.layout.cluster);
        let fresh = place.join("postgres");
        renameat2(AT_FDCWD, &fresh, AT_FDCWD, cluster, RenameFlags::RENAME_EXCHANGE)
            .map_err(|fault| PrivateError::file("exchange for the new one", cluster, fault.into()))?;
        self.sync()?;
        self.keep_old()?.ok_or(PrivateError::NoDatabase { data: place })
    }

    /// Gives the old database the name that it is kept under, also after an earlier try was killed between the
    /// exchange and this; `None` when there is none.
    pub fn keep_old(&self) -> Result<Option<PathBuf>, PrivateError> {
        let place = self.layout.data.join(BESIDE);
        let beside = Layout { cluster: place.join("postgres"), ..self.layout.clone() };
        let Some(version) = beside.written_by()? else { return Ok(None) };
        let kept = self.free_name(&version);
        std::fs::rename(&beside.cluster, &kept).map_err(|fault| PrivateError::file("keep", &beside.cluster, fault))?;
        std::fs::remove_dir_all(&place).map_err(|fault| PrivateError::file("remove", &place, fault))?;
        self.sync()?;
        Ok(Some(kept))
    }

    /// Whether what lies beside is of an older version than the one in place, so that it is the old one.
    pub fn was_exchanged(&self) -> bool {
        let beside = self.layout.data.join(BESIDE).join("postgres/PG_VERSION");
        let number = |text: &str| text.trim().parse::<u32>().ok();
        let beside = std::fs::read_to_string(beside).ok().and_then(|text| number(&text));
        matches!((beside, number(&self.written)), (Some(beside), Some(here)) if beside < here)
    }

    fn free_name(&self, version: &str) -> PathBuf {
        let mut name = format!("postgres-{version}");
        while self.layout.data.join(&name).exists() {
            name.push_str("-older");
        }
        self.layout.data.join(name)
    }

    fn sync(&self) -> Result<(), PrivateError> {
        let data = &self.layout.data;
        File::open(data).and_then(|dir| dir.sync_all()).map_err(|fault| PrivateError::file("flush", data, fault))
    }
}
