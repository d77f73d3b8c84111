//! Moving the private database to another major version of Postgres: a backup of the old one is restored into
//! a new one beside it, which is proved complete before it takes the old one's place.

use crate::backup;
use crate::compose::OpenDatabase;
use crate::configuration::{Configuration, Database};
use crate::private_database::{DUMPS, Held, PrivateSettings};
use anyhow::{Context, bail};
use std::io::Write;
use std::path::Path;

/// Moves to the newest Postgres that is installed, or to the one that `--postgres-bin` names.
pub async fn upgrade(configuration: &Configuration, out: &mut dyn Write) -> anyhow::Result<()> {
    let Database::Private(settings) = &configuration.database else {
        bail!("this is for the private database; whoever runs the one of database-url upgrades it");
    };
    backup::refuse_missing(&configuration.database)?;
    let held = Held::take(settings)?;
    if held.was_exchanged() {
        // Killed in the last step of an earlier upgrade, which only has to be tidied up.
        if let Some(kept) = held.keep_old()? {
            writeln!(out, "an earlier upgrade was finished; the old database is kept in {}", kept.display())?;
        }
    }
    let (binaries, newest) = held.newest().await?;
    let written = held.written_by();
    match written.parse::<u32>() {
        Ok(written) if written == newest => {
            writeln!(out, "the database is of Postgres {written}, and no newer one is installed: nothing to do")?;
            Ok(())
        }
        Ok(written) if written > newest => bail!(
            "the database is of Postgres {written} and the binaries in {} of {newest}; there is no way back to an \
             older version",
            binaries.display()
        ),
        _ => move_to(configuration, &held, &binaries, out).await,
    }
}

/// Moves to these binaries, whatever their version; the old database is kept.
pub async fn move_to(
    configuration: &Configuration,
    held: &Held,
    binaries: &Path,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let beside = held.beside(binaries).await?;
    let made = make(configuration, held, binaries, &beside, out).await;
    if made.is_err() {
        // What was begun is of no use to anybody. The first error is the one that counts.
        let _ = std::fs::remove_dir_all(&beside.data_dir);
    }
    made?;
    let old = held.exchange()?;
    writeln!(
        out,
        "the database is of the Postgres in {} now; the old one is kept in {}, remove it when all is well",
        binaries.display(),
        old.display()
    )?;
    Ok(())
}

/// Makes the new one, whole and proved.
async fn make(
    configuration: &Configuration,
    held: &Held,
    binaries: &Path,
    beside: &PrivateSettings,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let scratch = tempfile::Builder::new()
        .prefix(DUMPS)
        .tempdir_in(beside.data_dir.parent().unwrap_or(Path::new("/")))
        .context("there is no room for the dump in the data directory")?;
    let dump = scratch.path().join("backup");
    take(held, &dump, binaries).await?;
    let configuration = Configuration { database: Database::Private(beside.clone()), ..configuration.clone() };
    if !backup::restore_quietly(&configuration, &dump, out).await? {
        bail!("the new database is not what the old one was; the old one is in its place and nothing was changed");
    }
    Ok(())
}

/// A backup of the old one, by the tools of the new one: they know both.
async fn take(held: &Held, into: &Path, binaries: &Path) -> anyhow::Result<()> {
    let fresh = backup::FreshDirectory::begin(into)?;
    let database = OpenDatabase::private(held.start().await?).with_tools(binaries);
    // A backup of an older schema could be restored as well, but then what is proved is two things at once.
    let written = match database.migrate().await {
        Ok(_) => backup::write(&database, &fresh).await.map(drop),
        Err(error) => Err(error.into()),
    };
    let closed = database.close().await;
    written?;
    closed?;
    fresh.keep()
}
