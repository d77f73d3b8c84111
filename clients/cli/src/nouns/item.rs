//! `leadhand item` and `leadhand place`.

use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::words::{Word as _, parse};
use clap::Subcommand;
use leadhand_sdk::v1::{
    AddItemRequest, AddPlaceRequest, FluidKind, ItemFluid, SetItemFluidRequest, SetItemSupplierRequest,
};

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
        /// Which fluid it is: coolant, water, oil, brake-fluid, fuel, screen-wash, refrigerant, or an additive such as a
        /// flush, cleaner or sealer
        #[arg(long, value_parser = parse::<FluidKind>, value_name = "FLUID")]
        fluid: Option<FluidKind>,
        /// How strong a coolant stands on the shelf, by volume: 100% for pure concentrate, 50% for one that is mixed
        #[arg(long, requires = "fluid", value_name = "SHARE")]
        strength: Option<String>,
    },
    /// Say which fluid an item is; the last word holds
    Fluid {
        /// The item
        item: String,
        /// Which, as item add has it, or none for no fluid
        #[arg(value_parser = parse_fluid, value_name = "FLUID")]
        fluid: Said,
        /// How strong a coolant stands on the shelf, by volume: 100% for pure concentrate, 50% for one that is mixed
        #[arg(long, value_name = "SHARE")]
        strength: Option<String>,
    },
    /// Say from which supplier an item comes; the last word holds
    Supplier {
        /// The item
        item: String,
        /// The supplier's key, or none for nobody in particular
        supplier: String,
    },
}

/// A fluid, or none.
#[derive(Debug, Clone, Copy)]
pub struct Said(Option<FluidKind>);

fn parse_fluid(text: &str) -> Result<Said, String> {
    if text == "none" {
        return Ok(Said(None));
    }
    parse::<FluidKind>(text).map(|kind| Said(Some(kind))).map_err(|why| format!("{why}, and not none"))
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
    let (item, unit, name, fluid) = match command {
        ItemCommand::Add { item, unit, name, fluid, strength } => (item, unit, name, fluid_of(fluid, strength)),
        ItemCommand::Fluid { item, fluid: Said(kind), strength } => {
            if kind.is_none() && strength.is_some() {
                return Err(Failure::Usage("--strength is of a coolant; leave it out where it is no fluid".to_owned()));
            }
            return is_fluid(app, item, fluid_of(kind, strength)).await;
        }
        ItemCommand::Supplier { item, supplier } => return comes_from(app, item, supplier).await,
    };
    let said =
        format!("item {item} is listed in {}{}", crate::quantity::unit_name(&unit), told(fluid.as_ref(), ", as "));
    let name = name.unwrap_or_else(|| item.clone());
    let request = AddItemRequest { write: app.write().await?, item, name, unit, fluid };
    let answer = app.client.add_item(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

fn fluid_of(kind: Option<FluidKind>, strength: Option<String>) -> Option<ItemFluid> {
    kind.map(|kind| ItemFluid { kind: kind.into(), strength: strength.unwrap_or_default() })
}

/// Which fluid it is, behind a word that leads to it; empty where nobody says.
pub fn told(fluid: Option<&ItemFluid>, before: &str) -> String {
    let Some(fluid) = fluid else { return String::new() };
    let strength = if fluid.strength.is_empty() { String::new() } else { format!(" of {}", fluid.strength) };
    format!("{before}{}{strength}", fluid.kind().word())
}

async fn is_fluid(app: &App, item: String, fluid: Option<ItemFluid>) -> Outcome {
    let said = match &fluid {
        Some(_) => told(fluid.as_ref(), &format!("item {item} is ")),
        None => format!("item {item} is no fluid"),
    };
    let answer = app.client.set_item_fluid(SetItemFluidRequest { write: app.write().await?, item, fluid }).await?;
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
