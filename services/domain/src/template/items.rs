//! The needs of a template against the items that the shop keeps.

use super::amount::{self, Inexact};
use super::fault::{Fault, Faults, Position};
use super::fields::shorten;
use super::nearest::suggestion;
use super::walk::Draft;
use super::{FAULTS_MAX, Parsed};
use leadhand_facts::quantity::QUANTITY_MAX;
use leadhand_facts::template::{Need, Template};
use leadhand_facts::{ItemKey, Quantity, Unit, is_key};
use std::collections::BTreeMap;

/// Where a need stands in its file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NeedPosition {
    /// Its item.
    pub item: Position,
    /// Its quantity.
    pub quantity: Position,
}

/// Holds a template's needs against the shop's items: gives the template with each quantity in
/// its item's unit, or tells every item that is not listed and every unit that does not fit.
pub fn check_items(parsed: &Parsed, items: &BTreeMap<ItemKey, Unit>) -> Result<Template, Vec<Fault>> {
    let mut template = parsed.template.clone();
    let mut faults = Vec::new();
    let steps = template.stages.iter_mut().flat_map(|stage| &mut stage.steps);
    for (need, position) in steps.flat_map(|step| &mut step.needs).zip(&parsed.needs) {
        if let Err(wrong) = settle_need(need, items, faults.len() < FAULTS_MAX) {
            let Position { line, column } = wrong.place(position.item, position.quantity);
            faults.push(Fault { line, column, message: wrong.message });
        }
    }
    for (item, Position { line, column }) in &parsed.pieces {
        let wrong = wrong_piece(item, items, faults.len() < FAULTS_MAX);
        faults.extend(wrong.map(|message| Fault { line: *line, column: *column, message }));
    }
    faults.sort();
    faults.truncate(FAULTS_MAX);
    if faults.is_empty() { Ok(template) } else { Err(faults) }
}

/// The positions of a draft's needs.
pub(super) fn positions(draft: &Draft, faults: &Faults<'_>) -> Vec<NeedPosition> {
    let steps = draft.stages.iter().flat_map(|stage| &stage.steps);
    let sites = steps.flat_map(|step| &step.needs);
    let position = |offset| faults.position(offset);
    sites.map(|site| NeedPosition { item: position(site.item), quantity: position(site.quantity) }).collect()
}

/// What new pieces of a draft's positions are.
pub(super) fn pieces(draft: &Draft, faults: &Faults<'_>) -> Vec<(ItemKey, Position)> {
    piece_sites(draft).map(|(item, at)| (item.clone(), faults.position(*at))).collect()
}

fn piece_sites(draft: &Draft) -> impl Iterator<Item = &(ItemKey, usize)> {
    let steps = draft.stages.iter().flat_map(|stage| &stage.steps);
    steps.flat_map(|step| &step.positions).filter_map(|site| site.item.as_ref())
}

/// What is wrong with an item that a new piece is to be.
fn wrong_piece(item: &ItemKey, items: &BTreeMap<ItemKey, Unit>, suggest: bool) -> Option<String> {
    let shown = shorten(item.as_str());
    match items.get(item) {
        Some(Unit::Piece) => None,
        Some(unit) => {
            let why = "a new piece is counted; name an item that is kept in pieces";
            Some(format!("item '{shown}' is kept in '{}', and {why}", unit.code()))
        }
        None => {
            let known = items.keys().map(ItemKey::as_str).take(if suggest { 20_000 } else { 0 });
            let near = suggestion(item.as_str(), known);
            Some(format!("item '{shown}' is not on the shop's list; add it there or correct the key{near}"))
        }
    }
}

/// As [`check_items`], on a draft that may have other faults.
pub(super) fn settle(draft: &mut Draft, items: &BTreeMap<ItemKey, Unit>, faults: &mut Faults<'_>) {
    let steps = draft.template.stages.iter_mut().flat_map(|stage| &mut stage.steps);
    let sites = draft.stages.iter().flat_map(|stage| &stage.steps).flat_map(|step| &step.needs);
    for (need, site) in steps.flat_map(|step| &mut step.needs).zip(sites) {
        // What is no key at all was told already.
        if !is_key(need.item.as_str()) {
            continue;
        }
        if let Err(wrong) = settle_need(need, items, faults.has_room()) {
            let at = wrong.place(site.item, site.quantity);
            faults.at(at, wrong.message);
        }
    }
    for (item, at) in piece_sites(draft).filter(|(item, _)| is_key(item.as_str())) {
        if let Some(message) = wrong_piece(item, items, faults.has_room()) {
            faults.at(*at, message);
        }
    }
}

struct Wrong {
    about_item: bool,
    message: String,
}

impl Wrong {
    fn place<P>(&self, item: P, quantity: P) -> P {
        if self.about_item { item } else { quantity }
    }
}

/// Puts a need into its item's unit.
fn settle_need(need: &mut Need, items: &BTreeMap<ItemKey, Unit>, suggest: bool) -> Result<(), Wrong> {
    let shown = shorten(need.item.as_str());
    let Some(kept_in) = items.get(&need.item).copied() else {
        let known = items.keys().map(ItemKey::as_str).take(if suggest { 20_000 } else { 0 });
        let near = suggestion(need.item.as_str(), known);
        let message = format!("item '{shown}' is not on the shop's list; add it there or correct the key{near}");
        return Err(Wrong { about_item: true, message });
    };
    let (amount, from, to) = (need.quantity, need.unit.code(), kept_in.code());
    let converted = amount::convert(amount.0, need.unit, kept_in);
    let why = match converted {
        Ok(quantity @ 1..=QUANTITY_MAX) => {
            need.quantity = Quantity(quantity);
            need.unit = kept_in;
            return Ok(());
        }
        Ok(_) | Err(Inexact::TooLarge) => format!("which is more than {QUANTITY_MAX} of it"),
        Err(Inexact::NotWhole) => "of which this is no whole number".to_owned(),
        Err(Inexact::OtherKind) => "which measures something else".to_owned(),
    };
    let message = format!("item '{shown}' is needed as {amount} {from}, but it is kept in '{to}', {why}");
    Err(Wrong { about_item: false, message })
}
