//! A file system of a few megabytes, that a test may fill. Mounting one takes root's rights; where they are missing,
//! there is none.

use std::{
    fs::{self, File},
    io::{ErrorKind, Write},
    os::unix::fs::PermissionsExt,
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

use anyhow::{Context, Result, bail};
use tempfile::TempDir;

/// Mounted as long as this value lives.
pub struct SmallDisk {
    dir: TempDir,
}

impl SmallDisk {
    /// Mounts one in memory. `None` where this machine does not let us, which is said.
    pub fn mount(megabytes: u32) -> Result<Option<Self>> {
        let dir = TempDir::with_prefix("leadhand-disk-").context("cannot make a directory to mount on")?;
        fs::set_permissions(dir.path(), fs::Permissions::from_mode(0o755)).context("cannot open it to others")?;
        let options = format!("size={megabytes}m,mode=0755");
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &options, "leadhand-test"])
            .arg(dir.path())
            .stdin(Stdio::null())
            .output();
        match mounted {
            Ok(output) if output.status.success() => Ok(Some(Self { dir })),
            Ok(output) => {
                let why = String::from_utf8_lossy(&output.stderr).into_owned();
                eprintln!("no small disk can be mounted here: {}", why.trim());
                Ok(None)
            }
            Err(error) => {
                eprintln!("no small disk can be mounted here: mount: {error}");
                Ok(None)
            }
        }
    }

    /// Where it is mounted.
    pub fn path(&self) -> &Path {
        self.dir.path()
    }

    /// Takes all the room that is left.
    pub fn fill(&self) -> Result<()> {
        let mut ballast = File::options().create(true).append(true).open(self.ballast()).context("no ballast")?;
        // Ever smaller pieces, so that nothing remains.
        let mut piece = vec![1; 1 << 20];
        loop {
            match ballast.write(&piece) {
                Ok(_) => {}
                Err(error) if error.kind() == ErrorKind::StorageFull && piece.len() > 1 => {
                    piece.truncate(piece.len() / 2);
                }
                Err(error) if error.kind() == ErrorKind::StorageFull => return Ok(()),
                Err(error) => bail!("the small disk can't be filled: {error}"),
            }
        }
    }

    /// Gives it back.
    pub fn make_room(&self) -> Result<()> {
        fs::remove_file(self.ballast()).context("the ballast can't be thrown off")
    }

    fn ballast(&self) -> PathBuf {
        self.dir.path().join("ballast")
    }
}

impl Drop for SmallDisk {
    /// Lazily: whoever still has a file open there keeps it until it ends.
    fn drop(&mut self) {
        let mut unmount = Command::new("umount");
        unmount.arg("--lazy").arg(self.dir.path()).stdin(Stdio::null()).stderr(Stdio::null());
        if !unmount.status().is_ok_and(|status| status.success()) {
            eprintln!("tests: could not unmount {}", self.dir.path().display());
        }
    }
}
