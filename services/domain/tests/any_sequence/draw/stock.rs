//! Commands of the parts room.

use super::Draw;
use leadhand_domain::command::*;
use leadhand_facts::*;

fn item(draw: &mut Draw<'_>) -> ItemKey {
    let item = draw.one_of(&["gasket", "seal", "coolant", "clip-1"]).unwrap_or("gasket");
    if draw.rarely(30) { "no-such".into() } else { item.into() }
}

fn bin(draw: &mut Draw<'_>) -> PlaceKey {
    let places = ["a", "b", "a", "b", "a", "b", "a", "b", "c-1", "supplier", "job-1", "no-such"];
    draw.one_of(&places).unwrap_or("a").into()
}

/// A few pieces, or some cups of what is kept in millilitres; now and then what can't be.
fn quantity(draw: &mut Draw<'_>, item: &ItemKey) -> Quantity {
    let few = draw.between(1, 5);
    if draw.rarely(40) {
        return Quantity(draw.one_of(&[0, -3, i64::MAX]).unwrap_or(0));
    }
    Quantity(if item.as_str() == "coolant" { few * 300 } else { few })
}

fn stage(draw: &mut Draw<'_>, job: JobNo) -> Option<StageKey> {
    (draw.below(3) == 2).then(|| draw.stage(job))
}

/// Often of what somebody waits for.
pub fn receive(draw: &mut Draw<'_>) -> Command {
    let holding_up = draw.state.blockers.iter().filter(|row| row.cleared_at.is_none());
    let waited_for: Vec<ItemKey> = holding_up.filter_map(|row| row.item.clone()).collect();
    let chosen = if draw.rarely(3) { None } else { draw.one_of(&waited_for) };
    let item = chosen.unwrap_or_else(|| item(draw));
    let expires_on = (draw.below(3) != 0).then(|| draw.day(-1, 4));
    ReceiveStock { place: bin(draw), quantity: quantity(draw, &item), item, expires_on }.into()
}

pub fn reserve(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    ReserveStock { job, stage: stage(draw, job) }.into()
}

pub fn issue(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    let item = item(draw);
    let quantity = (draw.below(2) == 0).then(|| quantity(draw, &item));
    let item = (!draw.rarely(4)).then_some(item);
    IssueStock { job, stage: stage(draw, job), item, quantity }.into()
}

/// Mostly of what lies at a job.
pub fn take_back(draw: &mut Draw<'_>) -> Command {
    let held = draw.state.holds.iter().filter(|row| row.on_hand.is_positive());
    let there: Vec<(JobNo, ItemKey)> =
        held.filter_map(|row| Some((draw.state.places.get(&(row.place.clone(),))?.job?, row.item.clone()))).collect();
    let found = if draw.rarely(4) { None } else { draw.one_of(&there) };
    let (job, item) = found.unwrap_or_else(|| (draw.job(), item(draw)));
    let quantity = Quantity(quantity(draw, &item).0.min(if draw.below(2) == 0 { 1 } else { i64::MAX }));
    ReturnStock { job, quantity, item, place: bin(draw) }.into()
}

pub fn release(draw: &mut Draw<'_>) -> Command {
    let job = draw.job();
    let item = (draw.below(2) == 0).then(|| item(draw));
    ReleaseStock { job, stage: stage(draw, job), item }.into()
}

pub fn count(draw: &mut Draw<'_>) -> Command {
    let item = item(draw);
    let counted = if draw.rarely(4) { Quantity::ZERO } else { quantity(draw, &item) };
    CountStock { place: bin(draw), item, counted, reason: draw.words("counted twice") }.into()
}

pub fn scrap(draw: &mut Draw<'_>) -> Command {
    let item = item(draw);
    ScrapStock { place: bin(draw), quantity: quantity(draw, &item), item, reason: draw.words("bent") }.into()
}

pub fn add_item(draw: &mut Draw<'_>) -> Command {
    let item = draw.one_of(&["clip-2", "clip-3", "clip-4", "gasket", "no key"]).unwrap_or("clip-2");
    AddItem { item: item.into(), name: draw.words("Clip"), unit: Unit::Piece, fluid: None }.into()
}

pub fn add_place(draw: &mut Draw<'_>) -> Command {
    let place = draw.one_of(&["c-1", "a", "job-7", "no key"]).unwrap_or("c-1");
    AddPlace { place: place.into(), name: draw.words("Bin c") }.into()
}

/// New items beside one that may have been listed without stock.
pub fn import(draw: &mut Draw<'_>) -> Command {
    let n = draw.between(1, 4);
    let mut csv = format!(
        "item,name,unit,place,quantity,expires_on\nwasher-{n},Washer,1,a,{n},\nclip-1,Clip,1,d-{n},3,{}\n",
        draw.day(0, 3)
    );
    if draw.rarely(3) {
        csv.push_str("gasket,Gasket,g,nowhere,x,\n");
    }
    ImportStock { csv }.into()
}
