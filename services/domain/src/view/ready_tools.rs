//! What a ready list says of fasteners, of what will not move, and of tools that are to be in calibration.

use super::ready::{Place, SharedLine};
use super::tools::tool_line;
use crate::look;
use crate::reading;
use crate::state::State;
use crate::strip;
use crate::template::{hexagon, shared_as};
use crate::toolbox::{self, Collected};
use leadhand_facts::rows::{PositionRow, StageRow, StepRow, ToolRow};
use leadhand_facts::strip::Tighten;
use leadhand_facts::words::{Manner, PositionKind};
use leadhand_facts::{Instant, JobNo, StepNo, ToolKey};
use std::collections::BTreeMap;

/// What a plain tool says that has to be calibrated.
const CALIBRATED: &str = "in calibration";

/// Fasteners that one tool turns.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FastenerLine {
    /// The tool: `12 mm socket`, else the head as it is listed; empty where no head is.
    pub tool: String,
    /// How many of them.
    pub count: i32,
    /// Which: `7 of manifold-nuts, M8 x 1.25 x 25`.
    pub of: Vec<String>,
    /// Where the first of them comes off, or goes back.
    pub first: Place,
}

/// Whether a tool of a stage or step is one that the shop lends, called by its key or its name.
pub(super) fn is_shared(state: &State, words: &str) -> bool {
    shared_as(state.tools.iter(), words).is_some()
}

/// The shared tools of these stages, each where its job needs it first: those that steps name as such, and those that a stage or
/// a step names among its tools, as plans take them.
pub(super) fn shared_of(
    state: &State,
    rows: &[&StageRow],
    steps: &[(Place, &StepRow)],
    now: Instant,
) -> Vec<SharedLine> {
    let called = |words: &String| shared_as(state.tools.iter(), words).map(|row| &row.tool);
    let whole = rows.iter().enumerate().flat_map(|(stage, row)| {
        let at = Place { stage, step: StepNo(0) };
        row.tools.iter().filter_map(called).map(move |tool| (tool, row.job, at))
    });
    let of_steps = steps.iter().flat_map(|(at, step)| {
        let named = step.tools.iter().filter_map(called);
        step.shared_tools.iter().chain(named).map(move |tool| (tool, step.job, *at))
    });
    let mut first: BTreeMap<(&ToolKey, JobNo), Place> = BTreeMap::new();
    for (tool, job, at) in whole.chain(of_steps) {
        let place = first.entry((tool, job)).or_insert(at);
        *place = at.min(*place);
    }
    let used = |key: &ToolKey| state.tools.get(&(key.clone(),)).filter(|row: &&ToolRow| row.retired_n.is_none());
    let mut lines: Vec<SharedLine> = first
        .into_iter()
        .map(|((key, job), first)| {
            let tool = used(key).map(|row| tool_line(state, row, now)).ok_or_else(|| key.clone());
            let here = tool.as_ref().is_ok_and(|line| line.loan.as_ref().is_some_and(|loan| loan.job == Some(job)));
            SharedLine { tool, first, here }
        })
        .collect();
    lines.sort_by_key(|line| line.first);
    lines
}

/// The fasteners that are left to come off in these stages, or to go back, by tool, in the order in which they are met.
pub(super) fn fasteners(state: &State, rows: &[&StageRow]) -> Vec<FastenerLine> {
    let mut lines: BTreeMap<String, FastenerLine> = BTreeMap::new();
    for (at, row, count) in met(state, rows) {
        if row.detail.kind != PositionKind::Fastener || row.detail.manner == Manner::In || count < 1 {
            continue;
        }
        let tool = tool_of(row);
        let size = row.detail.size.as_ref().map(|size| format!(", {size}")).unwrap_or_default();
        let line = lines.entry(tool.clone()).or_insert(FastenerLine { tool, count: 0, of: Vec::new(), first: at });
        line.count += count;
        line.of.push(format!("{count} of {}{size}", row.position));
        line.first = line.first.min(at);
    }
    let mut all: Vec<FastenerLine> = lines.into_values().collect();
    all.sort_by(|one, other| (one.first, &one.tool).cmp(&(other.first, &other.tool)));
    all
}

/// The socket of a hexagon, else the head as it is listed.
fn tool_of(row: &PositionRow) -> String {
    let head = row.detail.head.clone().unwrap_or_default();
    hexagon(&head).map_or(head, |width| format!("{width} mm socket"))
}

/// What is still to come off in these stages, and what is off and goes back in them; with how many.
fn met<'s>(state: &'s State, rows: &[&StageRow]) -> Vec<(Place, &'s PositionRow, i32)> {
    let mut all = Vec::new();
    for (stage, of) in rows.iter().enumerate() {
        for row in strip::positions(state, of.job) {
            if row.stage == of.stage && row.off_n.is_none() {
                all.push((Place { stage, step: row.step.unwrap_or(StepNo(0)) }, row, row.detail.count));
            } else if row.detail.back.as_ref() == Some(&of.stage) && row.off_n.is_some() {
                all.push((Place { stage, step: StepNo(0) }, row, strip::places_left(row)));
            }
        }
    }
    all.sort_by(|one, other| (one.0, &one.1.position).cmp(&(other.0, &other.1.position)));
    all
}

/// What the work asks for beside the tools that steps name: what is put in, what torques and angles are reached with, and the
/// instruments of readings. What a tool of the stage is called after is not said again.
pub(super) fn of_work(state: &State, rows: &[&StageRow]) -> Vec<(String, Place)> {
    let mut all = Vec::new();
    for (at, row, count) in met(state, rows) {
        let named = |word: &str| tools_of(state, rows[at.stage]).iter().any(|tool| tool.to_lowercase().contains(word));
        if row.detail.manner == Manner::In {
            let what = row.what.clone().unwrap_or_else(|| row.position.to_string());
            let going_in = row.off_n.is_none() && count > 0 && !named(&what.to_lowercase());
            all.extend(going_in.then(|| (format!("to be put in: {count} \u{d7} {what}"), at)));
            continue;
        }
        if row.off_n.is_none() || count < 1 {
            continue;
        }
        let torque = |stage: &Tighten| matches!(stage, Tighten::TorqueMilli(_));
        if row.detail.tighten.iter().any(torque) && !named("torque wrench") {
            all.push(("torque wrench".to_owned(), at));
        }
        if row.detail.tighten.iter().any(|stage| !torque(stage)) && !named("angle") {
            all.push(("angle gauge".to_owned(), at));
        }
    }
    for (stage, of) in rows.iter().enumerate() {
        let left = reading::of_stage(state, of.job, &of.stage).filter(|row| row.taken_n.is_none());
        all.extend(left.filter_map(|row| {
            let place = Place { stage, step: row.step.unwrap_or(StepNo(0)) };
            Some((row.detail.instrument.clone()?, place))
        }));
    }
    all
}

/// The tools of ladders that are laid out beforehand: where the template names a ladder, and where something soaks or was
/// tried already.
pub(super) fn stuck_tools(state: &State, rows: &[&StageRow]) -> Vec<Collected<Place>> {
    let expected = |row: &PositionRow| {
        let tried = strip::attempts(state, row.job, &row.position).next().is_some();
        row.off_n.is_none() && (row.detail.ladder.is_some() || row.soak_until.is_some() || tried)
    };
    let stuck = met(state, rows).into_iter().filter(|(_, row, _)| expected(row));
    let tools = stuck.flat_map(|(at, row, _)| {
        let rungs = strip::ladder_of(state, row).into_iter();
        rungs.flat_map(move |rung| rung.tools.into_iter().map(move |tool| (tool, at)))
    });
    toolbox::collect(tools.collect::<Vec<_>>())
}

/// Says of tools that are to be in calibration what the shop knows of its own ones: written behind the tool, and as missing
/// where none of them is in calibration.
pub(super) fn calibrations(state: &State, tools: &mut [Collected<Place>], now: Instant) -> Vec<(Place, String)> {
    let mut missing = Vec::new();
    for line in tools {
        let known: Vec<(&ToolRow, bool)> =
            known_as(state, &line.text).map(|row| (row, tool_line(state, row, now).out_of_calibration)).collect();
        if known.is_empty() {
            continue;
        }
        let told = |(row, over): &(&ToolRow, bool)| {
            let due = row.calibration_due.as_deref().unwrap_or_default();
            if *over {
                format!("'{}' is OUT of calibration since {due}", row.tool)
            } else {
                format!("'{}' is, until {due}", row.tool)
            }
        };
        let said: Vec<String> = known.iter().map(told).collect();
        if known.iter().all(|(_, over)| *over) {
            missing.push((line.first, format!("the calibration of {}: {}", line.text, said.join(", "))));
        }
        line.text = format!("{}: {}", line.text, said.join(", "));
    }
    missing
}

/// The shop's own tools that a template's words mean: called so, of that size, with a day until which they are calibrated.
pub(crate) fn known_as<'s>(state: &'s State, words: &str) -> impl Iterator<Item = &'s ToolRow> + use<'s> {
    let words = words.to_lowercase();
    let asked = words.contains(CALIBRATED);
    state.tools.iter().filter(move |row| {
        let what = row.what.as_deref().unwrap_or_default().to_lowercase();
        let named = words.starts_with(&row.name.to_lowercase()) && words.contains(&what);
        asked && named && row.retired_n.is_none() && row.calibration_due.is_some()
    })
}

/// The tools of a stage and its steps that are left, as words.
pub(crate) fn tools_of(state: &State, stage: &StageRow) -> Vec<String> {
    let steps = look::steps(state, stage.job, &stage.stage);
    let left = steps.filter(|step| step.state == leadhand_facts::words::StepState::Pending);
    stage.tools.iter().chain(left.flat_map(|step| &step.tools)).cloned().collect()
}
