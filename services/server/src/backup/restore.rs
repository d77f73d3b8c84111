//! Putting a backup into an empty database, and proving that all of it is there.

use super::manifest::{DUMP, Manifest};
use super::tools::Tools;
use crate::commands::verify_shops;
use crate::compose::{OpenApp, OpenDatabase};
use crate::configuration::Configuration;
use anyhow::{Context, bail, ensure};
use leadhand_facts::ShopId;
use std::fs::File;
use std::io::Write;
use std::path::Path;

/// Restores a backup into a database that holds nothing yet; `false` when what is there afterwards is not
/// what was backed up.
pub async fn restore(configuration: &Configuration, from: &Path, out: &mut dyn Write) -> anyhow::Result<bool> {
    let manifest = Manifest::read(from)?;
    let sound = put_back(configuration, from, &manifest, out).await?;
    if sound {
        writeln!(out, "restored as of {}", manifest.at)?;
        writeln!(
            out,
            "What was done after that moment is gone, also what protects people: revoke again the tokens that were \
             revoked since, and forget again who was forgotten since."
        )?;
    }
    Ok(sound)
}

/// The same for a backup after which nothing was done, so that there is nothing to be said of it.
pub(crate) async fn restore_quietly(
    configuration: &Configuration,
    from: &Path,
    out: &mut dyn Write,
) -> anyhow::Result<bool> {
    put_back(configuration, from, &Manifest::read(from)?, out).await
}

async fn put_back(
    configuration: &Configuration,
    from: &Path,
    manifest: &Manifest,
    out: &mut dyn Write,
) -> anyhow::Result<bool> {
    let database = OpenDatabase::for_a_command(&configuration.database).await?;
    let filled = fill(&database, from).await;
    let closed = database.close().await;
    filled?;
    closed?;
    let open = OpenApp::for_a_command(configuration).await?;
    let proved = prove(&open, manifest, out).await;
    let closed = open.close().await;
    let sound = proved?;
    closed?;
    Ok(sound)
}

async fn fill(database: &OpenDatabase, from: &Path) -> anyhow::Result<()> {
    let Some(owner_url) = database.owner_url() else {
        bail!("there is no owner-url beside database-url, and only the owner makes tables; give --owner-url");
    };
    let tools = Tools::find(database.tools()).await?;
    let empty = leadhand_store::is_empty(owner_url).await.context("the database can't be looked at as its owner")?;
    ensure!(
        empty,
        "this database holds tables already, and nothing is written over; restore into a data directory or a database \
         that is new, then point the server there"
    );
    let dump = from.join(DUMP);
    let file = File::open(&dump).with_context(|| format!("{} can't be read", dump.display()))?;
    tools.restore(owner_url, file).await
}

/// Every shop is verified, and every journal ends where the backup says.
async fn prove(open: &OpenApp, manifest: &Manifest, out: &mut dyn Write) -> anyhow::Result<bool> {
    let mut sound = verify_shops(&open.app, None, out).await?;
    let mut found = open.app.shops().await?;
    let mut wanted: Vec<ShopId> = manifest.shops.iter().map(|shop| shop.shop).collect();
    found.sort_unstable();
    wanted.sort_unstable();
    if found != wanted {
        writeln!(out, "  the backup speaks of {} shop(s) and {} are there", wanted.len(), found.len())?;
        sound = false;
    }
    for shop in manifest.shops.iter().filter(|shop| found.contains(&shop.shop)) {
        let head = open.app.head(shop.shop).await?;
        if (head.number, head.fact_id) != (shop.number, shop.fact_id) {
            writeln!(out, "  shop {}: ends at fact {} and should end at {}", shop.shop, head.number, shop.number)?;
            sound = false;
        }
    }
    Ok(sound)
}
