//! `leadhand item` and `leadhand place`.

use crate::app::App;
use crate::failure::Outcome;
use clap::Subcommand;
use leadhand_sdk::v1::{AddItemRequest, AddPlaceRequest, SetItemSupplierRequest};

/// Items of stock.
#[derive(Debug, Subcommand)]
pub enum ItemCommand {
    /// List an item
    Add {
        /// Its key, such as gasket-head
        item: String,
        /// The unit in which it is kept: 1 for pieces, mL, L, g, kg, mm or m
        #[arg(long, default_value = "1")]
        unit: String,
        /// Its name; the key when left out
        #[arg(long)]
        name: Option<String>,
    },
    /// Say from which supplier an item comes; the last word holds
    Supplier {
        /// The item
        item: String,
        /// The supplier's key, or none for nobody in particular
        supplier: String,
    },
}

/// Bins of the parts room.
#[derive(Debug, Subcommand)]
pub enum PlaceCommand {
    /// List a bin
    Add {
        /// Its key, such as a-03
        place: String,
        /// Its name; the key when left out
        #[arg(long)]
        name: Option<String>,
    },
}

/// Runs it.
pub async fn run_item(app: &App, command: ItemCommand) -> Outcome {
    let (item, unit, name) = match command {
        ItemCommand::Add { item, unit, name } => (item, unit, name),
        ItemCommand::Supplier { item, supplier } => return comes_from(app, item, supplier).await,
    };
    let said = format!("item {item} is listed in {}", crate::quantity::unit_name(&unit));
    let name = name.unwrap_or_else(|| item.clone());
    let answer = app.client.add_item(AddItemRequest { write: app.write().await?, item, name, unit }).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

async fn comes_from(app: &App, item: String, supplier: String) -> Outcome {
    let said =
        format!("item {item} comes from {}", if supplier == "none" { "nobody in particular" } else { &supplier });
    let supplier = if supplier == "none" { String::new() } else { supplier };
    let request = SetItemSupplierRequest { write: app.write().await?, item, supplier };
    let answer = app.client.set_item_supplier(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

/// Runs it.
pub async fn run_place(app: &App, command: PlaceCommand) -> Outcome {
    let PlaceCommand::Add { place, name } = command;
    let said = format!("bin {place} is listed");
    let name = name.unwrap_or_else(|| place.clone());
    let answer = app.client.add_place(AddPlaceRequest { write: app.write().await?, place, name }).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}
