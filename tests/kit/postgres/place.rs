//! What belongs to this work tree: its key, its state, its lock. Two work trees on one machine never share a server.

use std::{
    fs::{self, File},
    net::TcpListener,
    path::{Path, PathBuf},
    sync::atomic::{AtomicU32, Ordering},
};

use anyhow::{Context, Result, bail};
use nix::sys::statvfs::statvfs;
use uuid::Uuid;

/// Below this much free memory a cluster goes to disc.
const TMPFS_MIN_BYTES: u64 = 2 << 30;

/// The repository's root.
pub(super) fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap_or(Path::new("/"))
}

/// Twelve hexadecimal digits that name this work tree.
pub(super) fn key() -> String {
    digest(root().as_os_str().as_encoded_bytes())
}

/// Twelve hexadecimal digits that stand for some bytes.
pub(super) fn digest(bytes: &[u8]) -> String {
    let mut digits = Uuid::new_v5(&Uuid::NAMESPACE_OID, bytes).simple().to_string();
    digits.truncate(12);
    digits
}

/// The file that says which server runs.
pub(super) fn state_file() -> Result<PathBuf> {
    Ok(state_dir()?.join("server.json"))
}

/// Held while a server or a template is made, so that concurrent runs share instead of racing.
pub(super) fn lock() -> Result<File> {
    let path = state_dir()?.join("lock");
    let file = File::create(&path).with_context(|| format!("cannot create the lock file {}", path.display()))?;
    file.lock().with_context(|| format!("cannot lock {}", path.display()))?;
    Ok(file)
}

fn state_dir() -> Result<PathBuf> {
    let dir = root().join("target/test-postgres");
    fs::create_dir_all(&dir).with_context(|| format!("cannot create {}", dir.display()))?;
    Ok(dir)
}

/// The directory under which a cluster is made: in memory where there is room, because a test's data need not
/// outlive the machine; its server still runs with fsync on.
pub(super) fn scratch() -> PathBuf {
    let memory = Path::new("/dev/shm");
    let roomy = statvfs(memory).is_ok_and(|stat| stat.fragment_size() * stat.blocks_available() >= TMPFS_MIN_BYTES);
    if roomy { memory.to_path_buf() } else { std::env::temp_dir() }
}

/// A TCP port that nobody listens on, below the range that outgoing connections are given, so that it is still
/// free when a killed server wants it back.
pub fn free_port() -> Result<u16> {
    static ASKED: AtomicU32 = AtomicU32::new(0);
    for _ in 0..1_000 {
        let step = ASKED.fetch_add(1, Ordering::Relaxed);
        let offset = std::process::id().wrapping_mul(31).wrapping_add(step.wrapping_mul(7)) % 10_000;
        let port = u16::try_from(20_000 + offset)?;
        if TcpListener::bind(("127.0.0.1", port)).is_ok() {
            return Ok(port);
        }
    }
    bail!("no free TCP port between 20000 and 29999 on 127.0.0.1; end whatever holds them")
}
