//! What leadhandd does besides serving. Data go to standard output, everything else to the log.

use crate::backup::refuse_missing;
use crate::cli::{InitArgs, VerifyArgs};
use crate::compose::{OpenApp, OpenDatabase};
use crate::configuration::Configuration;
use crate::progress::Bar;
use anyhow::{Context, bail};
use leadhand_app::verify::Report;
use leadhand_app::{App, NewShop};
use leadhand_facts::ShopId;
use std::fs::{File, OpenOptions};
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

/// Makes a shop and its first lead's token, beside a running server or without one.
pub async fn init(configuration: &Configuration, args: &InitArgs, out: &mut dyn Write) -> anyhow::Result<()> {
    // The file first: a token that can't be written down is lost, and the shop with it.
    let file = args.token_file.as_deref().map(TokenFile::create).transpose()?;
    let open = OpenApp::for_a_command(configuration).await?;
    let opened = open.app.open_shop(&args.shop, &args.zone, &args.lead).await;
    let said = match opened {
        Ok(shop) => say_opened(&shop, file, out),
        Err(error) => Err(error.into()),
    };
    let closed = open.close().await;
    said.and(closed)
}

fn say_opened(opened: &NewShop, file: Option<TokenFile<'_>>, out: &mut dyn Write) -> anyhow::Result<()> {
    writeln!(out, "shop {}", opened.shop)?;
    writeln!(out, "lead {}", opened.lead)?;
    match file {
        Some(file) => {
            let path = file.path;
            file.keep(&opened.secret)?;
            writeln!(out, "token in {}", path.display())?;
        }
        None => writeln!(out, "token {}", opened.secret)?,
    }
    Ok(())
}

/// A new file for a secret, which only its owner reads; gone again unless it is kept.
pub(crate) struct TokenFile<'a> {
    path: &'a Path,
    file: File,
    kept: bool,
}

impl<'a> TokenFile<'a> {
    pub(crate) fn create(path: &'a Path) -> anyhow::Result<Self> {
        let file = OpenOptions::new().write(true).create_new(true).mode(0o600).open(path);
        let failed = || {
            let path = path.display();
            format!(
                "the token can't be written to a new file {path}; nothing was made, give a path where there is none"
            )
        };
        Ok(Self { path, file: file.with_context(failed)?, kept: false })
    }

    pub(crate) fn keep(mut self, secret: &str) -> anyhow::Result<()> {
        let written = writeln!(self.file, "{secret}").and_then(|()| self.file.sync_all());
        let path = self.path.display();
        written.with_context(|| {
            format!("what was asked for was made, but its token could not be written to {path}; make another")
        })?;
        self.kept = true;
        Ok(())
    }
}

impl Drop for TokenFile<'_> {
    fn drop(&mut self) {
        if !self.kept
            && let Err(error) = std::fs::remove_file(self.path)
        {
            tracing::warn!(%error, "the empty file {} could not be removed", self.path.display());
        }
    }
}

/// Brings the tables up to date.
pub async fn migrate(configuration: &Configuration, out: &mut dyn Write) -> anyhow::Result<()> {
    let database = OpenDatabase::for_a_command(&configuration.database).await?;
    let migrated = database.migrate().await;
    let closed = database.close().await;
    if !migrated? {
        bail!("there is no owner-url beside database-url, so nothing was migrated; give --owner-url");
    }
    closed?;
    writeln!(out, "the tables are up to date (migration {})", leadhand_store::newest_migration())?;
    Ok(())
}

/// Proves that the tables are what the journals add up to; `false` when they are not.
pub async fn verify(configuration: &Configuration, args: &VerifyArgs, out: &mut dyn Write) -> anyhow::Result<bool> {
    refuse_missing(&configuration.database)?;
    let open = OpenApp::for_a_command(configuration).await?;
    let verified = verify_shops(&open.app, args.shop.map(ShopId), out).await;
    let closed = open.close().await;
    let sound = verified?;
    closed?;
    Ok(sound)
}

pub(crate) async fn verify_shops(app: &App, only: Option<ShopId>, out: &mut dyn Write) -> anyhow::Result<bool> {
    let mut shops = app.shops().await?;
    if let Some(only) = only {
        shops.retain(|shop| *shop == only);
        if shops.is_empty() {
            bail!("there is no shop {only} in this database; without --shop every shop is verified");
        }
    }
    if shops.is_empty() {
        writeln!(out, "there is no shop in this database, so there was nothing to verify")?;
    }
    let mut sound = true;
    for shop in shops {
        let report = verified(app, shop).await?;
        say_verified(shop, &report, out)?;
        sound &= report.faults.is_empty();
    }
    Ok(sound)
}

/// Verifies a shop, and shows how far it is.
pub(crate) async fn verified(app: &App, shop: ShopId) -> anyhow::Result<Report> {
    let bar = Bar::over(0, "verifying");
    Ok(app.verify_watched(shop, |done, all| bar.reached(done, all)).await?)
}

pub(crate) fn say_verified(shop: ShopId, report: &Report, out: &mut dyn Write) -> anyhow::Result<()> {
    let Report { facts, rows, faults } = report;
    let verdict = if faults.is_empty() { "no fault".to_owned() } else { format!("{} fault(s)", faults.len()) };
    writeln!(out, "shop {shop}: {facts} facts, {rows} rows, {verdict}")?;
    for fault in faults {
        writeln!(out, "  {fault}")?;
    }
    Ok(())
}
