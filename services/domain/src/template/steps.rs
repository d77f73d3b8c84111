//! From the TOML document to steps: what to do, with what, minding what, taking what from stock.

use super::amount;
use super::fault::Faults;
use super::fields::{Fields, LIST_MAX, Shape, Value, integer_of, shorten, string_of};
use super::positions::{self, PositionSite};
use super::readings::{self, ReadingSite};
use super::safety::{self, SafetySite};
use super::tools;
use super::walk::{condition_of, unknown_word};
use leadhand_facts::quantity::QUANTITY_MAX;
use leadhand_facts::template::{Caution, Need, StepSpec};
use leadhand_facts::words::SignalWord;
use leadhand_facts::{ItemKey, Quantity, Unit};

const STEP: &[&str] = &[
    "do",
    "tools",
    "shared-tools",
    "caution",
    "hazard",
    "needs",
    "state",
    "skills",
    "hold",
    "second",
    "whole",
    "fluid",
    "fills",
    "when",
    "off",
    "aside",
    "access",
    "in",
    "reading",
    "follow-up",
];
const CAUTION: &[&str] = &["word", "text"];
const NEED: &[&str] = &["item", "quantity", "unit"];

/// Where the parts of a step stand.
pub(super) struct StepSite {
    pub(super) when: usize,
    pub(super) needs: Vec<NeedSite>,
    pub(super) positions: Vec<PositionSite>,
    pub(super) readings: Vec<ReadingSite>,
    pub(super) tools: usize,
    pub(super) shared_tools: Vec<usize>,
    pub(super) safety: SafetySite,
}

/// A need that was read, and where it stands; also when the rest of its template is wrong.
pub(super) struct NeedSite {
    pub(super) need: Need,
    pub(super) item: usize,
    pub(super) quantity: usize,
}

pub(super) fn walk(stage: &Fields<'_, '_>, most: usize, faults: &mut Faults<'_>) -> (Vec<StepSpec>, Vec<StepSite>) {
    let steps = stage.list("step", most, faults);
    let read = |(index, value)| walk_step(stage, index, value, faults);
    steps.into_iter().enumerate().filter_map(read).unzip()
}

fn walk_step(
    stage: &Fields<'_, '_>,
    index: usize,
    value: &Value<'_>,
    faults: &mut Faults<'_>,
) -> Option<(StepSpec, StepSite)> {
    let fields = Fields::of_value(value, format!("step {} of {}", index + 1, stage.what), faults)?;
    fields.only(STEP, faults);
    let (instruction, _) = fields.text("do", Shape::Paragraph, "do = \"…\"", faults);
    let (when, when_at) = condition_of(&fields, faults);
    let cautions = cautions_of(&fields, faults);
    let sites = needs_of(&fields, faults);
    let (positions, places) = positions::walk(&fields, faults);
    let (readings, measured) = readings::walk(&fields, faults);
    let follow_up = fields.find("follow-up").map(|_| fields.text("follow-up", Shape::Paragraph, "a text", faults).0);
    let needs = sites.iter().map(|site| site.need.clone()).collect();
    let tools = fields.texts("tools", faults);
    let (shared_tools, tool_sites) = tools::walk(&fields, faults);
    let (safety, safe) = safety::walk(&fields, faults);
    let step =
        StepSpec { instruction, tools, shared_tools, cautions, needs, safety, positions, readings, follow_up, when };
    let site = StepSite {
        when: when_at,
        needs: sites,
        positions: places,
        readings: measured,
        tools: fields.place("tools"),
        shared_tools: tool_sites,
        safety: safe,
    };
    Some((step, site))
}

/// The cautions, gravest first, whatever the order in the file.
pub(super) fn cautions_of(step: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Vec<Caution> {
    let mut cautions = Vec::new();
    for value in step.list("caution", LIST_MAX, faults) {
        let Some(fields) = Fields::of_value(value, format!("a caution of {}", step.what), faults) else { continue };
        fields.only(CAUTION, faults);
        let (text, _) = fields.text("text", Shape::Paragraph, "text = \"…\"", faults);
        let Some(typed) = fields.required("word", "word = \"WARNING\"", faults) else { continue };
        let label = fields.label("word");
        let Some(word) = string_of(typed, &label, faults) else { continue };
        if let Some(word) = SignalWord::from_word(word) {
            cautions.push(Caution { word, text });
        } else {
            let allowed = SignalWord::ALL.iter().map(|word| word.word());
            unknown_word(word, &label, allowed, typed.span().start, faults);
        }
    }
    cautions.sort_by_key(|caution| caution.word);
    cautions
}

fn needs_of(step: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Vec<NeedSite> {
    let mut sites: Vec<NeedSite> = Vec::new();
    for value in step.list("needs", LIST_MAX, faults) {
        let Some(site) = need_of(step, value, faults) else { continue };
        let item = &site.need.item;
        // One figure for a step and an item is what the parts room reserves by.
        if sites.iter().any(|earlier| earlier.need.item == *item) {
            let shown = shorten(item.as_str());
            faults.at(site.item, format!("{} needs item '{shown}' twice; add the two up in one entry", step.what));
        }
        sites.push(site);
    }
    sites
}

fn need_of(step: &Fields<'_, '_>, value: &Value<'_>, faults: &mut Faults<'_>) -> Option<NeedSite> {
    let mut fields = Fields::of_value(value, format!("a need of {}", step.what), faults)?;
    fields.only(NEED, faults);
    let (item, item_at) = fields.key("item", "item = \"hg-set\"", faults);
    if !item.is_empty() {
        fields.what = format!("the need of '{}' in {}", shorten(&item), step.what);
    }
    let unit = unit_of(&fields, faults);
    let example = "quantity = 1, or such as quantity = \"4.5 L\"";
    let quantity = fields.required("quantity", example, faults)?;
    let (amount, unit) = match quantity.get_ref().as_str() {
        Some(text) => written_quantity(&fields, text, quantity, unit?, faults)?,
        None => (plain_quantity(&fields, quantity, faults)?, unit?.unwrap_or(Unit::Piece)),
    };
    let at = quantity.span().start;
    if !(1..=QUANTITY_MAX).contains(&amount) {
        let label = fields.label("quantity");
        faults.at(at, format!("{label} is {amount} {}, but has to be from 1 to {QUANTITY_MAX}", unit.code()));
        return None;
    }
    let need = Need { item: ItemKey(item), quantity: Quantity(amount), unit };
    Some(NeedSite { need, item: item_at, quantity: at })
}

/// The unit when one is written; the outer `None` when what is written is none.
#[allow(clippy::option_option, reason = "not written and wrong are two things here")]
fn unit_of(fields: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Option<Option<Unit>> {
    let Some(value) = fields.find("unit") else { return Some(None) };
    let label = fields.label("unit");
    let code = string_of(value, &label, faults)?;
    let unit = Unit::from_code(code);
    if unit.is_none() {
        unknown_word(code, &label, Unit::ALL.iter().map(|unit| unit.code()), value.span().start, faults);
    }
    unit.map(Some)
}

fn plain_quantity(fields: &Fields<'_, '_>, value: &Value<'_>, faults: &mut Faults<'_>) -> Option<i64> {
    let amount = integer_of(value);
    if amount.is_none() {
        fields.wrong_type("quantity", value, "a whole number, or a text such as \"4.5 L\"", faults);
    }
    amount
}

/// A quantity with its unit in one text, in the unit asked for beside it, or in the smallest.
fn written_quantity(
    fields: &Fields<'_, '_>,
    text: &str,
    value: &Value<'_>,
    wanted: Option<Unit>,
    faults: &mut Faults<'_>,
) -> Option<(i64, Unit)> {
    let (at, label, shown) = (value.span().start, fields.label("quantity"), shorten(text));
    let (amount, small) = match amount::read(text) {
        Ok(read) => read,
        Err(wrong) => {
            faults.at(at, format!("{label} is '{shown}' and {wrong}"));
            return None;
        }
    };
    let Some(unit) = wanted else { return Some((amount, small)) };
    let converted = amount::convert(amount, small, unit).ok();
    if converted.is_none() {
        faults.at(at, format!("{label} is '{shown}', which is no whole number of its unit '{}'", unit.code()));
    }
    converted.map(|converted| (converted, unit))
}
