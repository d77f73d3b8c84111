//! Backup and restore of the whole database, with the tools of Postgres. A backup is a directory: the
//! dump, and a small file that says what is in it, so that a restore can be proved complete.

mod fresh;
mod manifest;
mod restore;
mod tools;

pub use fresh::FreshDirectory;
pub use restore::restore;
pub(crate) use restore::restore_quietly;

use crate::compose::OpenDatabase;
use crate::configuration::{Configuration, Database};
use anyhow::{Context, bail};
use leadhand_store::{Moment, newest_migration};
use manifest::{DUMP, MANIFEST, Manifest};
use std::io::Write;
use std::path::Path;
use tools::Tools;

/// Writes a backup into a directory that is not there yet, while servers work.
pub async fn backup(configuration: &Configuration, into: &Path, out: &mut dyn Write) -> anyhow::Result<()> {
    refuse_missing(&configuration.database)?;
    // The directory first: a long dump must not fail over a path that was wrong from the start.
    let fresh = FreshDirectory::begin(into)?;
    let database = OpenDatabase::for_a_command(&configuration.database).await?;
    let written = write(&database, &fresh).await;
    let closed = database.close().await;
    let manifest = written?;
    closed?;
    fresh.keep()?;
    writeln!(out, "backup of {} shop(s) as of {} in {}", manifest.shops.len(), manifest.at, into.display())?;
    for shop in &manifest.shops {
        writeln!(out, "  shop {}: {} facts", shop.shop, shop.number)?;
    }
    Ok(())
}

/// Dumps a database that is open.
pub(crate) async fn write(database: &OpenDatabase, fresh: &FreshDirectory) -> anyhow::Result<Manifest> {
    let Some(owner_url) = database.owner_url() else {
        bail!("there is no owner-url beside database-url, and only the owner sees all shops; give --owner-url");
    };
    let tools = Tools::find(database.tools()).await?;
    let moment = Moment::hold(owner_url).await.context("the database can't be read as its owner")?;
    tools.refuse_older_than(u32::try_from(moment.postgres).unwrap_or_default())?;
    if moment.schema > newest_migration() {
        tracing::warn!("the database was migrated by a newer leadhandd; only that one can restore this backup");
    }
    let dump = fresh.file(DUMP)?;
    tools.dump(owner_url, &moment.name, dump).await?;
    let manifest = Manifest::of(fresh.path(), &moment)?;
    moment.release().await?;
    let mut file = fresh.file(MANIFEST)?;
    serde_json::to_writer_pretty(&mut file, &manifest)?;
    writeln!(file)?;
    Ok(manifest)
}

/// A command that reads must not make an empty database and call it the one that was meant.
pub(crate) fn refuse_missing(database: &Database) -> anyhow::Result<()> {
    if let Database::Private(settings) = database
        && !settings.data_dir.join("postgres").exists()
    {
        bail!("there is no database under {}; name the right one with --data-dir", settings.data_dir.display());
    }
    Ok(())
}
