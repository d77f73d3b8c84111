//! From the TOML document to what makes a step safe: states, hold point, hazards, fluids.

use super::amount;
use super::fault::Faults;
use super::fields::{Fields, LIST_MAX, Shape, Value, check_key, shorten, string_of};
use super::walk::{skills_of, unknown_word};
use leadhand_facts::safety::{Fill, FluidSpec, Hold, StepSafety};
use leadhand_facts::words::{Hazard, VehicleState};
use leadhand_facts::{FluidKey, StageKey, Unit};

const STATE: &[&str] = &["needs", "sets"];
const FLUID: &[&str] = &["key", "what", "expected", "back"];
/// Most millilitres of a fluid: a thousand litres.
pub(crate) const FLUID_MAX_ML: i64 = 1_000_000;

/// Said where a list has two states of which only one can be.
pub(crate) fn two_of_a_feature(state: VehicleState, other: VehicleState) -> String {
    format!("is '{state}', and '{other}' stands there as well; name one of them")
}

/// Said where something stands in a list twice.
pub(crate) fn once_is_enough(word: &str) -> String {
    format!("is '{word}' again; once is enough")
}

/// Where the parts stand.
#[derive(Default)]
pub(super) struct SafetySite {
    pub(super) needs: Vec<usize>,
    pub(super) sets: Vec<usize>,
    pub(super) fluids: Vec<FluidSite>,
    pub(super) fills: usize,
}

/// Where the parts of a fluid stand.
pub(super) struct FluidSite {
    pub(super) key: usize,
    pub(super) back: usize,
}

pub(super) fn walk(step: &Fields<'_, '_>, faults: &mut Faults<'_>) -> (StepSafety, SafetySite) {
    let mut site = SafetySite::default();
    let mut safety = StepSafety {
        hold: hold_of(step, faults),
        hazards: hazards_of(step, faults),
        skills: skills_of(step, faults),
        ..Default::default()
    };
    if let Some(fields) =
        step.find("state").and_then(|value| Fields::of_value(value, format!("the state of {}", step.what), faults))
    {
        fields.only(STATE, faults);
        (safety.needs, site.needs) = states_of(&fields, "needs", faults);
        (safety.sets, site.sets) = states_of(&fields, "sets", faults);
    }
    for value in step.list("fluid", LIST_MAX, faults) {
        if let Some((fluid, at)) = fluid_of(step, value, faults) {
            safety.fluids.push(fluid);
            site.fluids.push(at);
        }
    }
    (safety.fill, site.fills) = fills_of(step, faults);
    (safety, site)
}

/// The fluid that a step fills again.
fn fills_of(step: &Fields<'_, '_>, faults: &mut Faults<'_>) -> (Option<Fill>, usize) {
    let Some(value) = step.find("fills") else { return (None, step.at) };
    let (at, label) = (value.span().start, step.label("fills"));
    let Some(key) = string_of(value, &label, faults) else { return (None, at) };
    check_key(key, at, &label, faults);
    (Some(Fill { fluid: FluidKey(key.to_owned()), reckoned: None }), at)
}

fn states_of(fields: &Fields<'_, '_>, name: &str, faults: &mut Faults<'_>) -> (Vec<VehicleState>, Vec<usize>) {
    let label = format!("an entry of {}", fields.label(name));
    let (mut states, mut sites): (Vec<VehicleState>, Vec<usize>) = (Vec::new(), Vec::new());
    for value in fields.list(name, LIST_MAX, faults) {
        let at = value.span().start;
        let Some(word) = string_of(value, &label, faults) else { continue };
        let Some(state) = VehicleState::from_word(word) else {
            unknown_word(word, &label, VehicleState::ALL.iter().map(|state| state.word()), at, faults);
            continue;
        };
        if let Some(other) = states.iter().find(|other| other.feature() == state.feature()) {
            faults.at(at, format!("{label} {}", two_of_a_feature(state, *other)));
            continue;
        }
        states.push(state);
        sites.push(at);
    }
    (states, sites)
}

fn hold_of(step: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Option<Hold> {
    let second = step.flag("second", false, faults);
    let whole = step.flag("whole", false, faults);
    if step.find("hold").is_none() {
        for (field, said) in [("second", "who passes"), ("whole", "what has to be done at")] {
            if let Some(value) = step.find(field).filter(|_| if field == "second" { second } else { whole }) {
                let (at, what) = (value.span().start, step.label(field));
                faults.at(at, format!("{what} says {said} a hold point, and there is none; add hold = \"…\""));
            }
        }
        return None;
    }
    let (what, _) = step.text("hold", Shape::Line, "hold = \"vehicle supported\"", faults);
    Some(Hold { what, second, whole })
}

fn hazards_of(step: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Vec<Hazard> {
    let label = format!("an entry of {}", step.label("hazard"));
    let mut hazards = Vec::new();
    for value in step.list("hazard", LIST_MAX, faults) {
        let at = value.span().start;
        let Some(word) = string_of(value, &label, faults) else { continue };
        match Hazard::from_word(word) {
            Some(hazard) if hazards.contains(&hazard) => {
                faults.at(at, format!("{label} {}", once_is_enough(hazard.word())));
            }
            Some(hazard) => hazards.push(hazard),
            None => unknown_word(word, &label, Hazard::ALL.iter().map(|hazard| hazard.word()), at, faults),
        }
    }
    hazards.sort();
    hazards
}

fn fluid_of(step: &Fields<'_, '_>, value: &Value<'_>, faults: &mut Faults<'_>) -> Option<(FluidSpec, FluidSite)> {
    let mut fields = Fields::of_value(value, format!("a fluid of {}", step.what), faults)?;
    if let Some(key) = fields.find("key").and_then(|key| key.get_ref().as_str()) {
        fields.what = format!("fluid '{}'", shorten(key));
    }
    fields.only(FLUID, faults);
    let (key, key_at) = fields.key("key", "key = \"coolant\"", faults);
    let (what, _) = fields.text("what", Shape::Line, "what = \"Coolant\"", faults);
    let (mut back, mut back_at) = (None, fields.at);
    if let Some(value) = fields.find("back") {
        back_at = value.span().start;
        let label = fields.label("back");
        if let Some(key) = string_of(value, &label, faults) {
            check_key(key, back_at, &label, faults);
            back = Some(StageKey(key.to_owned()));
        }
    }
    let expected_ml = expected_of(&fields, faults);
    let fluid = FluidSpec { key: FluidKey(key), what, expected_ml, back };
    Some((fluid, FluidSite { key: key_at, back: back_at }))
}

fn expected_of(fields: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Option<i64> {
    let value = fields.find("expected")?;
    let (at, label) = (value.span().start, fields.label("expected"));
    let text = string_of(value, &label, faults)?;
    match amount::read(text) {
        Ok((millilitres, Unit::Millilitre)) if (1..=FLUID_MAX_ML).contains(&millilitres) => Some(millilitres),
        Ok(_) => {
            let shown = shorten(text);
            faults.at(at, format!("{label} is '{shown}', but has to be from 1 mL to 1000 L, such as \"7 L\""));
            None
        }
        Err(wrong) => {
            faults.at(at, format!("{label} is '{}' and {wrong}", shorten(text)));
            None
        }
    }
}
