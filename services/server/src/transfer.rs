//! A shop as open files, out of a database and into another one.
//!
//! `shop.json` says what is there, `journal.jsonl` holds the facts, one a line, and `texts.jsonl` the words that
//! facts refer to and that can be forgotten. These three are the shop. The tables beside them, in CSV, are what the
//! facts add up to, for whoever wants to read or count with other programs; nothing reads them back.

mod files;
mod table;

use crate::backup::{FreshDirectory, refuse_missing};
use crate::cli::ExportArgs;
use crate::commands::{say_verified, verified};
use crate::compose::OpenApp;
use crate::configuration::Configuration;
use crate::progress::Bar;
use anyhow::{Context, bail, ensure};
use files::{Content, JOURNAL, Line, SHOP, TEXTS};
use leadhand_app::App;
use leadhand_facts::ShopId;
use std::io::{BufWriter, Write};
use std::path::Path;
use table::Words;

/// Writes a shop into a directory that is not there yet.
pub async fn export(configuration: &Configuration, args: &ExportArgs, out: &mut dyn Write) -> anyhow::Result<()> {
    refuse_missing(&configuration.database)?;
    let fresh = FreshDirectory::begin(&args.into)?;
    let open = OpenApp::for_a_command(configuration).await?;
    let written = write(&open.app, args.shop.map(ShopId), &fresh).await;
    let closed = open.close().await;
    let content = written?;
    closed?;
    fresh.keep()?;
    writeln!(
        out,
        "shop {}: {} facts and {} texts in {}",
        content.shop,
        content.facts,
        content.texts,
        args.into.display()
    )?;
    Ok(())
}

async fn write(app: &App, shop: Option<ShopId>, fresh: &FreshDirectory) -> anyhow::Result<Content> {
    let shop = the_shop(app, shop).await?;
    let mut reading = app.read_out(shop).await?;
    let mut content = Content::of(shop, &reading.head());
    let mut journal = BufWriter::new(fresh.file(JOURNAL)?);
    let bar = Bar::over(0, "writing");
    loop {
        let page = reading.facts().await?;
        if page.is_empty() {
            break;
        }
        for entry in page {
            writeln!(journal, "{}", serde_json::to_string(&Line::of(entry)?)?)?;
            content.facts += 1;
        }
        bar.reached(content.facts, reading.head().number);
    }
    drop(bar);
    journal.flush()?;
    let texts = reading.texts().await?;
    let mut file = BufWriter::new(fresh.file(TEXTS)?);
    for text in &texts {
        writeln!(file, "{}", serde_json::to_string(text)?)?;
    }
    file.flush()?;
    content.texts = texts.len();
    let words = Words::of(&texts);
    for name in leadhand_app::transfer::Reading::tables() {
        let rows = reading.rows(name).await?;
        content.rows += rows.len();
        table::write(fresh.file(&format!("{name}.csv"))?, rows, &words)?;
    }
    reading.end().await?;
    let mut file = fresh.file(SHOP)?;
    serde_json::to_writer_pretty(&mut file, &content)?;
    writeln!(file)?;
    Ok(content)
}

async fn the_shop(app: &App, shop: Option<ShopId>) -> anyhow::Result<ShopId> {
    let shops = app.shops().await?;
    match (shop, shops.as_slice()) {
        (Some(shop), shops) if shops.contains(&shop) => Ok(shop),
        (Some(shop), _) => bail!("there is no shop {shop} in this database; `leadhandd verify` names those that are"),
        (None, [shop]) => Ok(*shop),
        (None, []) => bail!("there is no shop in this database"),
        (None, shops) => bail!(
            "there are {} shops in this database; say which one with --shop: {}",
            shops.len(),
            shops.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
        ),
    }
}

/// Takes a shop in and verifies it; `false` when what is there afterwards is not what was exported.
pub async fn import(configuration: &Configuration, from: &Path, out: &mut dyn Write) -> anyhow::Result<bool> {
    let content = Content::read(from)?;
    let open = OpenApp::for_a_command(configuration).await?;
    let taken = take_in(&open.app, from, &content, out).await;
    let closed = open.close().await;
    let sound = taken?;
    closed?;
    Ok(sound)
}

async fn take_in(app: &App, from: &Path, content: &Content, out: &mut dyn Write) -> anyhow::Result<bool> {
    let texts = files::texts(from)?;
    ensure!(
        texts.len() == content.texts && files::journal(from)?.count() == usize::try_from(content.facts)?,
        "{} is damaged: it does not hold the {} facts and {} texts that it speaks of; export the shop again",
        from.display(),
        content.facts,
        content.texts
    );
    let last = files::journal(from)?.last().transpose()?.map(|entry| entry.fact_id);
    ensure!(
        last == content.fact_id,
        "{} is damaged: its last fact is not the one that it speaks of; export the shop again",
        from.display()
    );
    // They are folded once before the first is written, and once while they are.
    let bar = Bar::over(2 * content.facts.unsigned_abs(), "taking in");
    let facts = || Ok(files::journal(from)?.inspect(|_| bar.one()));
    app.take_in(content.shop, facts, &texts).await.context("nothing was taken in")?;
    drop(bar);
    let report = verified(app, content.shop).await?;
    say_verified(content.shop, &report, out)?;
    let head = app.head(content.shop).await?;
    let mut sound = report.faults.is_empty();
    if (head.number, head.fact_id, report.rows) != (content.facts, content.fact_id, content.rows) {
        writeln!(out, "  the export speaks of {} facts and {} rows", content.facts, content.rows)?;
        sound = false;
    }
    Ok(sound)
}
