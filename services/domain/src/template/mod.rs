//! Templates as files: reading one with every fault named, writing one, and what a template
//! becomes on a job.
//!
//! ```toml
//! key = "coolant-service"
//! title = "Coolant service"
//!
//! [options.hoses]
//! title = "Renew the hoses"
//! default = false
//!
//! [[stage]]
//! key = "drain"
//! title = "Drain the coolant"
//! minutes = [10, 15, 30]                  # if all goes well, most likely, if it goes badly
//! bays = ["two-post-lift", "pit"]         # leave out for any
//! after = ["book-in", { stage = "cool", wait = 30 }]
//! may-leave = true                        # the vehicle may be rolled out after it
//! in-one-go = true                        # what was begun is left neither over a break nor overnight
//!
//! [[stage.step]]
//! do = "Open the drain over a clean pan."
//! tools = ["drain pan"]
//! shared-tools = ["cam-lock-20"]          # by their keys: the shop lends them from bay to bay
//! caution = [{ word = "WARNING", text = "Never open a hot system." }]
//! hazard = ["hot-coolant", "glycol"]         # brings their cautions, and that others come before them
//! state = { needs = ["temperature cold"], sets = ["coolant drained"] }
//! hold = "cold and depressurised"          # a stop-and-check that a person passes by name
//! second = true                           # by another than who did the work before it
//! whole = true                            # what goes back in the stage is back and tight by then
//! fluid = [{ key = "coolant", what = "Coolant", expected = "7 L", back = "fill" }]
//! fills = "coolant"                       # on the step that fills one again: by its key
//! needs = [{ item = "drain-washer-14", quantity = 1, unit = "1" }]
//! when = "hoses"                          # or "!hoses"
//! follow-up = "Look at the level after a day."   # still to be watched, for the hand-over sheet
//!
//! [[stage.step.off]]                      # or aside, access (only to get at something), in (for the work)
//! key = "lower-hose"
//! what = "Lower hose"
//! kind = "hose"
//! behind = ["undertray"]                  # what must come off before it; of what is put in: what must be in while it is off
//! on = "radiator"                         # what it hangs on
//! back = "fill"                           # the stage in which it goes back
//! tighten = ["4 N.m"]                     # stages in order: torques, also "70 lbf.ft" or "35 ft.lb", then angles such as "90 deg"
//! item = "hose-clip"                      # what a new piece of it is, in stock
//! cure = 60                               # minutes to wait after it is back
//! tags = true                             # a pair of numbered tags for each place, one for either end
//! ladder = "hose-ends"                    # what is tried when it will not move; the usual ladder without
//!
//! [[stage.step.in]]
//! key = "hose-plug"
//! what = "Plug in the hose"
//! behind = ["lower-hose"]                 # what is off before it goes in, and waits until it is out; [] when it stands alone
//! back = "fill"
//!
//! [[stage.step.reading]]                  # what the step measures
//! key = "compression"
//! what = "Compression, dry"
//! kind = "compression"                    # or leak-down, flatness, torque, angle, run-out, pressure-held, level, other
//! unit = "bar"                            # a UCUM code
//! of = ["1", "2", "3", "4"]               # a figure for each; leave out for one figure; points of a face by their place in
//!                                         # millimetres, "90_70"; the wet one of this set has the key "compression-wet"
//! low = "9.5"                             # limits: whole numbers, or figures in quotes
//! spread = 20                             # how far the lowest may lie below the highest, in per cent
//!
//! [[ladder]]
//! key = "hose-ends"
//! [[ladder.rung]]
//! do = "Warm the end with hot water and turn it"
//! skills = ["cooling"]                    # of whoever does it
//! soak = 10
//! last-safe = true                        # from here on it may break: a new one has to be there, and a plan
//! ```

mod amount;
mod checks;
pub mod draft;
mod draft_steps;
mod expand;
mod fault;
mod fields;
mod graph;
mod hexagons;
mod items;
mod ladders;
mod measures;
mod nearest;
mod order_check;
mod positions;
mod positions_check;
mod readings;
mod safety;
mod states_check;
mod steps;
mod tools;
mod walk;
mod write;

pub use expand::{OptionRefusal, chosen_options, expand, first_bays};
pub use fault::{FAULTS_MAX, Fault, Position};
pub use fields::LIST_MAX;
pub(crate) use hexagons::hexagon;
pub use items::{NeedPosition, check_items};
pub(crate) use ladders::minutes_wanted;
pub use measures::read_measure;
pub(crate) use nearest::suggestion;
pub(crate) use positions::{ANGLE_FIRST, CHECK_AND_RENEW, CURE_MAX, fault_of_size, is_tightening};
pub use positions::{TIGHTEN_FORM, read_tighten, written as tightening};
pub use readings::unfit as unfit_reading;
pub(crate) use safety::{FLUID_MAX_ML, once_is_enough, two_of_a_feature};
pub use tools::{check_shared_tools, shared_as};
pub use walk::{HANDS_MAX, MINUTES_MAX, STAGES_MAX, STEPS_MAX};
pub use write::{Marks, write, write_marked};

use fault::Faults;
use leadhand_facts::rows::ToolRow;
use leadhand_facts::template::Template;
use leadhand_facts::{ItemKey, Unit};
use std::collections::{BTreeMap, BTreeSet};
use toml::de::DeTable;
use walk::Draft;

/// Most bytes of a template file.
pub const FILE_MAX: usize = 1024 * 1024;

/// A template as read from a file without fault.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Parsed {
    /// The template.
    pub template: Template,
    /// Where each need stands: stages, steps and needs in their order.
    pub needs: Vec<NeedPosition>,
    /// What new pieces of its positions are, and where that stands.
    pub pieces: Vec<(ItemKey, Position)>,
    /// Where each shared tool stands: stages, steps and tools in their order.
    pub shared_tools: Vec<Position>,
}

/// Reads a template file, or tells all that is wrong with it as far as the file itself shows.
/// Whether the shop keeps its items is for [`check_items`].
pub fn parse(text: &str) -> Result<Parsed, Vec<Fault>> {
    let (draft, faults) = read(text);
    match draft {
        Some(draft) if faults.is_empty() => {
            let needs = items::positions(&draft, &faults);
            let pieces = items::pieces(&draft, &faults);
            let shared_tools = tools::positions(&draft, &faults);
            Ok(Parsed { template: draft.template, needs, pieces, shared_tools })
        }
        _ => Err(faults.sorted()),
    }
}

/// Reads a template file against the shop's items: gives the template with each quantity in its
/// item's unit, or all faults of the file and of its needs together.
pub fn check(text: &str, items: &BTreeMap<ItemKey, Unit>) -> Result<Template, Vec<Fault>> {
    let (draft, mut faults) = read(text);
    let Some(mut draft) = draft else { return Err(faults.sorted()) };
    items::settle(&mut draft, items, &mut faults);
    if faults.is_empty() { Ok(draft.template) } else { Err(faults.sorted()) }
}

/// What is worth a second look in a template without fault, where it stands in the file. It may be published all the
/// same. `shared` are the tools of the shop.
pub fn notes(text: &str, shared: &[ToolRow]) -> Vec<Fault> {
    let (draft, faults) = read(text);
    let Some(draft) = draft.filter(|_| faults.is_empty()) else { return Vec::new() };
    let mut notes = hexagons::notes(&draft, &faults);
    notes.extend(readings::notes(&draft, &faults));
    notes.extend(tools::notes(&draft, &faults, shared));
    notes.sort();
    notes
}

/// The items that a template file names, even one with faults: what [`check`] wants to know about.
pub fn items_named(text: &str) -> BTreeSet<ItemKey> {
    let (draft, _) = read(text);
    let sites = draft.iter().flat_map(|draft| &draft.stages).flat_map(|stage| &stage.steps);
    let needs = sites.clone().flat_map(|step| &step.needs).map(|site| site.need.item.clone());
    let pieces = sites.flat_map(|step| &step.positions).filter_map(|site| site.item.as_ref());
    let all = needs.chain(pieces.map(|(item, _)| item.clone()));
    all.filter(|item| leadhand_facts::is_key(item.as_str())).collect()
}

/// Walks the file and checks all that it shows by itself. There is no draft of a file that can't
/// be looked into at all.
fn read(text: &str) -> (Option<Draft>, Faults<'_>) {
    let mut faults = Faults::of(text);
    if text.len() > FILE_MAX {
        faults.at(0, format!("the file has {} bytes; a template has at most {FILE_MAX}", text.len()));
        return (None, faults);
    }
    let (document, errors) = DeTable::parse_recoverable(text);
    for error in errors {
        let offset = error.span().map_or(0, |span| span.start);
        faults.syntax(offset, error.message());
    }
    let draft = walk::walk(document.get_ref(), &mut faults);
    checks::check(&draft, &mut faults);
    graph::check(&draft, &mut faults);
    positions_check::check(&draft, &mut faults);
    readings::check(&draft, &mut faults);
    states_check::check(&draft, &mut faults);
    (Some(draft), faults)
}
