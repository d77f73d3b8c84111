//! Commands about suppliers, about what somebody was told, and about corrections that somebody asks for.

use super::Draw;
use leadhand_domain::command::*;
use leadhand_facts::rows::{AskedRow, ClockingRow, ToldRow};
use leadhand_facts::supplier::Round;
use leadhand_facts::words::FluidKind;
use leadhand_facts::{ItemFluid, ItemKey, Measure, SupplierKey};

fn supplier(draw: &mut Draw<'_>) -> SupplierKey {
    draw.one_of(&["north", "south", "north", "south", "no key"]).unwrap_or("north").into()
}

/// Mostly a round that can be; now and then one that arrives before its cut-off, or on no day.
fn round(draw: &mut Draw<'_>, order_by_minute: i32) -> Round {
    let weekdays = draw.one_of(&[vec![1, 2, 3, 4, 5], vec![5], vec![7, 6], vec![1, 1]]).unwrap_or_default();
    let days_later = draw.one_of(&[1, 0, 3, 14]).unwrap_or(1);
    let here_minute = draw.one_of(&[840, 480, 1_439]).unwrap_or(840);
    Round { weekdays, order_by_minute, here_minute, days_later }
}

pub fn set(draw: &mut Draw<'_>) -> Command {
    let rounds = match draw.below(4) {
        0 => vec![round(draw, 630)],
        1 => vec![round(draw, 630), round(draw, 1_020)],
        2 => vec![round(draw, 630), round(draw, 630)],
        _ => Vec::new(),
    };
    SetSupplier { supplier: supplier(draw), name: draw.words("Parts round the corner"), rounds }.into()
}

pub fn set_item(draw: &mut Draw<'_>) -> Command {
    let item: ItemKey = draw.one_of(&["gasket", "seal", "gasket", "no-such"]).unwrap_or("gasket").into();
    let supplier = (draw.below(4) != 3).then(|| supplier(draw));
    SetItemSupplier { item, supplier }.into()
}

/// Mostly of what is poured in, so that fills meet items that say what they are.
pub fn set_fluid(draw: &mut Draw<'_>) -> Command {
    let item: ItemKey = draw.one_of(&["coolant", "gasket", "coolant", "no-such"]).unwrap_or("coolant").into();
    let kind = draw.one_of(&[FluidKind::Coolant, FluidKind::Oil, FluidKind::Water]).unwrap_or(FluidKind::Coolant);
    let strength = draw.one_of(&[None, None, Some(50), Some(100), Some(0)]).flatten().map(Measure::whole);
    let fluid = (!draw.rarely(4)).then_some(ItemFluid { kind, strength });
    SetItemFluid { item, fluid }.into()
}

pub fn tell(draw: &mut Draw<'_>) -> Command {
    let whom = (draw.below(3) != 2).then(|| draw.words("the driver"));
    let hours = draw.between(-1, 30);
    let promised_at = (draw.below(2) == 1).then(|| draw.now.plus_minutes(hours * 60));
    RecordTold { job: draw.job(), whom, words: draw.words("two studs are broken"), promised_at }.into()
}

pub fn withdraw(draw: &mut Draw<'_>) -> Command {
    let all: Vec<ToldRow> = draw.state.told.iter().cloned().collect();
    let Some(row) = draw.one_of(&all) else { return tell(draw) };
    WithdrawTold { job: row.job, told: row.told, reason: draw.words("it was another job") }.into()
}

/// Mostly about an entry of a job that is closed: the others are one's own to correct.
pub fn ask(draw: &mut Draw<'_>) -> Command {
    let open = |row: &ClockingRow| draw.state.jobs.get(&(row.job,)).is_some_and(|job| job.closed_at.is_none());
    let all: Vec<ClockingRow> = draw.state.clockings.iter().cloned().collect();
    let closed: Vec<ClockingRow> = all.iter().filter(|row| !open(row)).cloned().collect();
    let Some(row) = draw.one_of(&closed).or_else(|| draw.one_of(&all)) else { return tell(draw) };
    let withdraw = draw.below(4) == 0;
    let minutes = draw.between(-60, 60);
    let until_at = if withdraw { None } else { row.until_at.map(|until| until.plus_minutes(minutes)) };
    let (from_at, job, stage, reason) = (None, None, None, draw.words("went home later"));
    AskCorrection { entry: row.on_n, from_at, until_at, job, stage, withdraw, reason }.into()
}

pub fn answer(draw: &mut Draw<'_>) -> Command {
    let all: Vec<AskedRow> = draw.state.asked.iter().cloned().collect();
    let waiting: Vec<AskedRow> = all.iter().filter(|row| row.taken.is_none()).cloned().collect();
    // Mostly one that waits; now and then one that is decided.
    let chosen = if draw.rarely(6) { draw.one_of(&all) } else { draw.one_of(&waiting) };
    let Some(row) = chosen else { return ask(draw) };
    let (take, reason) = (draw.below(2) == 0, draw.words("as asked"));
    DecideCorrection { job: row.job, ask: row.ask, take, reason, override_reason: None }.into()
}
