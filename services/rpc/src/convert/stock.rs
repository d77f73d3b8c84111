//! Stock.

use super::supplier;
use super::time::timestamp;
use super::{count, enums};
use leadhand_app::{AppError, Movements, Short, Words};
use leadhand_domain::answer::{FillShare, StockLine};
use leadhand_domain::refusal::BadRow;
use leadhand_domain::view::parts::ShortageLine;
use leadhand_domain::view::stock::{ItemLine, PlaceLine};
use leadhand_facts::rows::{ItemRow, MoveRow};
use leadhand_facts::words::PlaceKind;
use leadhand_facts::{ItemFluid, JobNo, PlaceKey, Quantity};
use leadhand_proto::v1;
use leadhand_reckoner::job::millionths;
use leadhand_reckoner::{Amount, Kind};

/// Line by line what happened, with the units of these items.
pub fn lines(lines: &[StockLine], items: &[ItemRow]) -> Vec<v1::StockLine> {
    let line = |line: &StockLine| {
        let known = || items.iter().find(|item| item.item == line.item).map(|item| item.unit);
        v1::StockLine {
            stage: line.stage.as_ref().map(ToString::to_string).unwrap_or_default(),
            step: line.step.map(|step| step.0).unwrap_or_default(),
            item: line.item.to_string(),
            quantity: line.quantity.0,
            place: line.place.as_ref().map(ToString::to_string).unwrap_or_default(),
            short: line.short.0,
            held_by: line.held_by.iter().map(|(job, quantity)| holder(*job, *quantity)).collect(),
            unit: line.unit.or_else(known).map(|unit| unit.code().to_owned()).unwrap_or_default(),
            bins: bins(&line.bins),
        }
    };
    lines.iter().map(line).collect()
}

fn bins(bins: &[(PlaceKey, Quantity)]) -> Vec<v1::BinQuantity> {
    bins.iter().map(|(bin, quantity)| v1::BinQuantity { bin: bin.to_string(), quantity: quantity.0 }).collect()
}

/// What a step takes of what is poured in.
pub fn fill_share(share: &FillShare) -> v1::FillShare {
    v1::FillShare {
        stage: share.stage.to_string(),
        step: share.step.0,
        item: share.item.to_string(),
        unit: share.unit.code().to_owned(),
        quantity: share.wanted.0,
        reserved: share.reserved.0,
        issued: share.issued.0,
        short: share.short.0,
        bins: bins(&share.bins),
    }
}

fn holder(job: JobNo, quantity: Quantity) -> v1::Holder {
    v1::Holder { job: job.0, quantity: quantity.0 }
}

/// A row of an import that can't be taken over.
pub fn bad_row(row: BadRow) -> v1::BadRow {
    v1::BadRow { line: count(row.line), column: row.column, message: row.message }
}

/// A shortage, with from whom to order it.
pub fn short(short: &Short) -> v1::Shortage {
    let order = short.order.as_ref().map(supplier::order);
    v1::Shortage { order, ..shortage(&short.line, short.holds_up) }
}

/// A shortage.
pub fn shortage(line: &ShortageLine, holds_up: bool) -> v1::Shortage {
    v1::Shortage {
        job: line.job.0,
        stage: line.stage.to_string(),
        step: line.step.0,
        item: line.item.to_string(),
        name: line.name.clone().unwrap_or_default(),
        quantity: line.quantity.0,
        unit: line.unit.map(|unit| unit.code().to_owned()).unwrap_or_default(),
        since: Some(timestamp(line.since)),
        held_by: line.held_by.iter().map(|held| holder(held.job, held.quantity)).collect(),
        holds_up,
        order: None,
    }
}

/// An item's stock.
pub fn item(line: &ItemLine) -> v1::ItemStock {
    let bins = line.places.iter().filter(|place| place.kind == PlaceKind::Bin);
    v1::ItemStock {
        item: line.item.to_string(),
        name: line.name.clone(),
        unit: line.unit.code().to_owned(),
        on_hand: line.in_bins.on_hand.0,
        expired: line.in_bins.expired.0,
        reserved: line.in_bins.reserved.0,
        free: line.in_bins.free.0,
        at_jobs: line.at_jobs.0,
        places: bins.map(place).collect(),
        supplier: line.supplier.as_ref().map(ToString::to_string).unwrap_or_default(),
        fluid: line.fluid.map(item_fluid),
    }
}

fn item_fluid(fluid: ItemFluid) -> v1::ItemFluid {
    let strength = fluid.strength.map(|strength| format!("{strength} %")).unwrap_or_default();
    v1::ItemFluid { kind: enums::fluid_kind(fluid.kind), strength }
}

/// Which fluid an item is, where that is said.
pub fn read_fluid(said: Option<v1::ItemFluid>) -> Result<Option<ItemFluid>, AppError> {
    let Some(said) = said else { return Ok(None) };
    let kind = enums::read_fluid_kind("fluid.kind", said.kind)?;
    let strength = Some(said.strength.as_str()).filter(|text| !text.is_empty());
    let strength = strength.map(|text| Amount::read(Kind::Share, "fluid.strength", text)).transpose()?;
    Ok(Some(ItemFluid { kind, strength: strength.as_ref().map(millionths) }))
}

fn place(line: &PlaceLine) -> v1::PlaceStock {
    v1::PlaceStock {
        place: line.place.to_string(),
        on_hand: line.figures.on_hand.0,
        expired: line.figures.expired.0,
        reserved: line.figures.reserved.0,
        free: line.figures.free.0,
    }
}

/// An item's statement.
pub fn movements(found: &Movements) -> Vec<v1::Movement> {
    found.lines.iter().map(|(row, after)| movement(row, *after, &found.words)).collect()
}

fn movement(row: &MoveRow, on_hand_after: Quantity, words: &Words) -> v1::Movement {
    v1::Movement {
        number: row.n,
        at: Some(timestamp(row.at)),
        from_place: row.from_place.to_string(),
        to_place: row.to_place.to_string(),
        quantity: row.quantity.0,
        why: row.why.word().to_owned(),
        job: row.job.map(|job| job.0).unwrap_or_default(),
        stage: row.stage.as_ref().map(ToString::to_string).unwrap_or_default(),
        step: row.step.map(|step| step.0).unwrap_or_default(),
        reason: words.get(row.reason).to_owned(),
        on_hand_after: on_hand_after.0,
    }
}
