//! A directory that is there whole or not at all, for what other programs rely on.

use anyhow::{Context, bail};
use std::fs::{DirBuilder, File, OpenOptions};
use std::io::ErrorKind;
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::{Path, PathBuf};

/// What a directory is called behind its name until it is whole; the process follows.
const UNFINISHED: &str = ".leadhand-unfinished-";

/// A new directory, written beside its place under another name; gone again unless it is kept.
#[derive(Debug)]
pub struct FreshDirectory {
    place: PathBuf,
    unfinished: PathBuf,
    kept: bool,
}

impl FreshDirectory {
    /// Begins one where there is nothing yet. Only its owner may look into it.
    pub fn begin(place: &Path) -> anyhow::Result<Self> {
        if place.symlink_metadata().is_ok() {
            bail!("{} exists already; name a directory that is not there yet", place.display());
        }
        clear_left(place);
        let name = place.file_name().context("give the path of a directory that is not there yet")?;
        let mut unfinished = name.to_os_string();
        unfinished.push(format!("{UNFINISHED}{}", std::process::id()));
        let unfinished = place.with_file_name(unfinished);
        let made = DirBuilder::new().mode(0o700).create(&unfinished);
        let made = match made {
            // Of a process that had our number and was killed.
            Err(fault) if fault.kind() == ErrorKind::AlreadyExists => {
                std::fs::remove_dir_all(&unfinished).and_then(|()| DirBuilder::new().mode(0o700).create(&unfinished))
            }
            other => other,
        };
        made.with_context(|| format!("{} can't be made", unfinished.display()))?;
        Ok(Self { place: place.to_path_buf(), unfinished, kept: false })
    }

    /// Where it is written.
    pub fn path(&self) -> &Path {
        &self.unfinished
    }

    /// A new file in it.
    pub fn file(&self, name: &str) -> anyhow::Result<File> {
        let path = self.unfinished.join(name);
        let mut options = OpenOptions::new();
        let opened = options.write(true).create_new(true).mode(0o600).open(&path);
        opened.with_context(|| format!("{} can't be written", path.display()))
    }

    /// Puts it into its place, once all of it lies on the disk.
    pub fn keep(mut self) -> anyhow::Result<()> {
        let failed = || format!("{} can't be finished", self.place.display());
        for entry in std::fs::read_dir(&self.unfinished).with_context(failed)? {
            File::open(entry?.path()).and_then(|file| file.sync_all()).with_context(failed)?;
        }
        File::open(&self.unfinished).and_then(|directory| directory.sync_all()).with_context(failed)?;
        std::fs::rename(&self.unfinished, &self.place).with_context(failed)?;
        self.kept = true;
        let parent = self.place.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
        File::open(parent).and_then(|directory| directory.sync_all()).with_context(failed)
    }
}

/// Takes away what processes that are gone have left beside a place: it may hold names, and no job should copy it.
fn clear_left(place: &Path) {
    let parent = place.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    for entry in std::fs::read_dir(parent).into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let process = name.rsplit_once(UNFINISHED).and_then(|(_, process)| process.parse::<u32>().ok());
        let gone = process.is_some_and(|process| !Path::new(&format!("/proc/{process}")).exists());
        if gone && entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            let path = entry.path();
            match std::fs::remove_dir_all(&path) {
                Ok(()) => tracing::warn!("{} was left by a process that is gone; removed", path.display()),
                Err(error) => tracing::warn!(%error, "{} could not be removed", path.display()),
            }
        }
    }
}

impl Drop for FreshDirectory {
    fn drop(&mut self) {
        if !self.kept
            && let Err(error) = std::fs::remove_dir_all(&self.unfinished)
        {
            tracing::warn!(%error, "{} could not be removed", self.unfinished.display());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    #[test]
    fn a_directory_comes_whole_or_not_at_all() {
        let scratch = tempfile::tempdir().unwrap();
        let place = scratch.path().join("monday");
        let fresh = FreshDirectory::begin(&place).unwrap();
        fresh.file("one").unwrap().write_all(b"1").unwrap();
        assert!(!place.exists());
        drop(fresh);
        assert_eq!(std::fs::read_dir(scratch.path()).unwrap().count(), 0);

        // What a process that is gone has left goes; what a living one writes stays.
        let [left, living] =
            [u32::MAX, std::process::id()].map(|p| scratch.path().join(format!("sunday{UNFINISHED}{p}")));
        std::fs::create_dir(&left).unwrap();
        std::fs::create_dir(&living).unwrap();
        let fresh = FreshDirectory::begin(&place).unwrap();
        assert!(!left.exists() && living.exists());
        std::fs::remove_dir(&living).unwrap();
        fresh.file("one").unwrap().write_all(b"1").unwrap();
        fresh.keep().unwrap();
        assert_eq!(std::fs::read(place.join("one")).unwrap(), b"1");
        assert_eq!(std::fs::read_dir(scratch.path()).unwrap().count(), 1);
        let refused = FreshDirectory::begin(&place).unwrap_err().to_string();
        assert!(refused.ends_with("exists already; name a directory that is not there yet"), "{refused}");
    }
}
