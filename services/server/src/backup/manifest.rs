//! What a backup says of itself: a small file of JSON beside the dump.

use anyhow::{Context, ensure};
use leadhand_facts::{FactId, Instant, ShopId};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// The dump.
pub(super) const DUMP: &str = "database.dump";
/// What is said of it.
pub(super) const MANIFEST: &str = "backup.json";
/// The form of both; a program reads those up to its own.
const FORM: u32 = 1;

/// Of what a backup is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Manifest {
    /// The form of the backup.
    pub form: u32,
    /// The version of the program that made it.
    pub made_by: String,
    /// As of when it is.
    pub at: Instant,
    /// The major version of the Postgres it came from.
    pub postgres: i32,
    /// The newest migration in it.
    pub schema: i64,
    /// Bytes of the dump.
    pub bytes: u64,
    /// SHA-256 of the dump.
    pub sha256: String,
    /// How far each shop's journal goes.
    pub shops: Vec<ShopHead>,
}

/// How far a shop's journal goes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct ShopHead {
    /// The shop.
    pub shop: ShopId,
    /// The last fact's number.
    pub number: i64,
    /// The last fact's id.
    pub fact_id: Option<FactId>,
}

impl Manifest {
    /// Of a dump that lies in a directory.
    pub fn of(directory: &Path, moment: &leadhand_store::Moment) -> anyhow::Result<Self> {
        let (bytes, sha256) = digest(&directory.join(DUMP))?;
        let heads = moment.heads.iter();
        Ok(Self {
            form: FORM,
            made_by: env!("CARGO_PKG_VERSION").to_owned(),
            at: moment.at,
            postgres: moment.postgres,
            schema: moment.schema,
            bytes,
            sha256,
            shops: heads.map(|(shop, h)| ShopHead { shop: *shop, number: h.number, fact_id: h.fact_id }).collect(),
        })
    }

    /// Reads what a backup says, and proves that its dump is the one it speaks of.
    pub fn read(directory: &Path) -> anyhow::Result<Self> {
        let path = directory.join(MANIFEST);
        let said = std::fs::read_to_string(&path)
            .with_context(|| format!("{} is no backup: {} can't be read", directory.display(), path.display()))?;
        let manifest: Self = serde_json::from_str(&said)
            .with_context(|| format!("{} is damaged, or of a newer leadhandd", path.display()))?;
        ensure!(
            manifest.form <= FORM && manifest.schema <= leadhand_store::newest_migration(),
            "the backup in {} was made by leadhandd {}, which is newer than this one; restore it with that version or \
             a later one",
            directory.display(),
            manifest.made_by
        );
        let (bytes, sha256) = digest(&directory.join(DUMP))?;
        ensure!(
            (bytes, &sha256) == (manifest.bytes, &manifest.sha256),
            "{} is damaged: it has {bytes} bytes and SHA-256 {sha256}, and should have {} and {}; take another backup",
            directory.join(DUMP).display(),
            manifest.bytes,
            manifest.sha256
        );
        Ok(manifest)
    }
}

fn digest(path: &Path) -> anyhow::Result<(u64, String)> {
    let failed = || format!("{} can't be read", path.display());
    let mut file = File::open(path).with_context(failed)?;
    let (mut hash, mut bytes, mut buffer) = (Sha256::new(), 0, vec![0; 64 * 1024]);
    loop {
        let read = file.read(&mut buffer).with_context(failed)?;
        if read == 0 {
            break;
        }
        hash.update(&buffer[..read]);
        bytes += read as u64;
    }
    let hex = hash.finalize().iter().fold(String::new(), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    });
    Ok((bytes, hex))
}
