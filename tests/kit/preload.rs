//! A library that is loaded before all others into a process under test, and makes its machine worse on demand: a disk
//! that is slow to flush or holds a flush up, and a clock that is off.

use std::{
    fs,
    os::unix::fs::PermissionsExt,
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

use anyhow::{Context, Result, ensure};
use tempfile::TempDir;

const SOURCE: &str = include_str!("preload.c");

/// The compiled library, with the directory of files by which it is told what to do.
pub struct Preload {
    dir: TempDir,
}

impl Preload {
    /// Compiles it. Without a C compiler there is none, and that is said.
    pub fn build() -> Result<Option<Self>> {
        let dir = TempDir::with_prefix("leadhand-preload-").context("cannot make a directory for a library")?;
        // Postgres runs as another user when we are root.
        fs::set_permissions(dir.path(), fs::Permissions::from_mode(0o755)).context("cannot open it to others")?;
        let built = Self { dir };
        fs::write(built.path("preload.c"), SOURCE).context("cannot write the library's source")?;
        let mut compile = Command::new("cc");
        compile.args(["-shared", "-fPIC", "-O1", "-Wall", "-Werror", "-o"]).arg(built.path("preload.so"));
        compile.arg(built.path("preload.c")).arg("-ldl").stdin(Stdio::null());
        let output = match compile.output() {
            Ok(output) => output,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                eprintln!("SKIPPED: there is no C compiler (cc); install the package gcc");
                return Ok(None);
            }
            Err(error) => return Err(error).context("cannot run cc"),
        };
        ensure!(output.status.success(), "the library can't be compiled: {}", String::from_utf8_lossy(&output.stderr));
        Ok(Some(built))
    }

    /// What a process needs in its environment to be under it.
    pub fn variables(&self) -> Vec<(String, String)> {
        let text = |path: &Path| path.to_string_lossy().into_owned();
        let library = ("LD_PRELOAD".to_owned(), text(&self.path("preload.so")));
        vec![library, ("PRELOAD_DIR".to_owned(), text(self.dir.path()))]
    }

    /// The same, for a process whose clock is off by so many seconds.
    pub fn variables_with_clock(&self, seconds: i64) -> Vec<(String, String)> {
        let mut variables = self.variables();
        variables.push(("PRELOAD_CLOCK_SECONDS".to_owned(), seconds.to_string()));
        variables
    }

    /// Every flush to disk takes this many milliseconds longer; 0 for none.
    pub fn slow_flush(&self, milliseconds: u32) -> Result<()> {
        // Whole or not at all: it is read at any moment.
        let fresh = self.path("flush-ms.fresh");
        fs::write(&fresh, milliseconds.to_string()).context("cannot say how slow")?;
        fs::rename(fresh, self.path("flush-ms")).context("cannot say how slow")
    }

    /// No flush to disk comes to its end until it is let go.
    pub fn hold_flush(&self, held: bool) -> Result<()> {
        self.flag("flush-hold", held)
    }

    fn flag(&self, name: &str, up: bool) -> Result<()> {
        let path = self.path(name);
        let done = if up { fs::write(&path, "") } else { fs::remove_file(&path) };
        done.with_context(|| format!("cannot change {}", path.display()))
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }
}
