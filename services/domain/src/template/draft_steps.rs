//! The steps of a drafted template, with what came off, what was measured and what was drained at each.

use crate::fill;
use crate::hazard;
use crate::look;
use crate::state::State;
use crate::{condition, reading, strip};
use leadhand_facts::reading::ReadingSpec;
use leadhand_facts::rows::{FluidRow, PositionRow, StageRow, StepRow};
use leadhand_facts::safety::{Fill, FluidSpec, StepSafety};
use leadhand_facts::strip::{PositionDetail, PositionSpec};
use leadhand_facts::template::{Need, StepSpec};
use leadhand_facts::words::{Renew, StepState};
use leadhand_facts::{StepNo, TextId};

/// Written where it was said that a check decides and not which: whoever publishes the draft knows.
const SAY_WHICH: &str = "Say here what decides whether it goes back";
/// The step of a stage that has none of its own and in which something came off.
const AS_LISTED: &str = "Take off and measure what is listed.";

type Words<'w> = &'w dyn Fn(TextId) -> String;

/// The steps of a stage: skipped ones are left out, and so are those that only fit new pieces, since a template asks for
/// what is always renewed by itself. What belongs to no step that is kept is with the first.
pub(super) fn steps(state: &State, stage: &StageRow, kept: &[&StageRow], words: Words<'_>) -> Vec<StepSpec> {
    let own = |step: &&StepRow| step.state != StepState::Skipped && !strip::fits_new(step);
    let rows: Vec<&StepRow> = look::steps(state, stage.job, &stage.stage).filter(own).collect();
    let met = Met { state, stage, kept, words, steps: rows.iter().map(|row| row.step).collect() };
    if rows.is_empty() {
        let only = met.with(StepNo(1), plain(AS_LISTED.to_owned()));
        let empty = only.positions.is_empty() && only.readings.is_empty() && only.safety.is_empty();
        return if empty { Vec::new() } else { vec![only] };
    }
    rows.into_iter().map(|row| met.with(row.step, as_it_was(row, words))).collect()
}

fn plain(instruction: String) -> StepSpec {
    StepSpec {
        instruction,
        tools: Vec::new(),
        shared_tools: Vec::new(),
        cautions: Vec::new(),
        needs: Vec::new(),
        safety: StepSafety::default(),
        positions: Vec::new(),
        readings: Vec::new(),
        follow_up: None,
        when: None,
    }
}

/// What a step takes from stock by its book: what was reckoned for a job is that job's.
fn needs_of_book(step: &StepRow) -> Vec<Need> {
    let instead = fill::reckoned(step).map(|reckoned| &reckoned.instead).filter(|instead| !instead.is_empty());
    instead.unwrap_or(&step.needs).clone()
}

fn as_it_was(step: &StepRow, words: Words<'_>) -> StepSpec {
    let fill = step.safety.fill.as_ref().map(|fill| Fill { reckoned: None, ..fill.clone() });
    StepSpec {
        tools: step.tools.clone(),
        shared_tools: step.shared_tools.clone(),
        cautions: hazard::own(&step.cautions, &step.safety.hazards),
        needs: needs_of_book(step),
        safety: StepSafety { fill, ..step.safety.clone() },
        follow_up: step.follow_up.clone(),
        ..plain(said(step.instruction.as_ref(), step.instruction_text, "Step without words", words))
    }
}

fn said(own: Option<&String>, text: Option<TextId>, other: &str, words: Words<'_>) -> String {
    let typed = || text.map(words).filter(|words| !words.is_empty());
    own.cloned().or_else(typed).unwrap_or_else(|| other.to_owned())
}

/// What was met in a stage.
struct Met<'a> {
    state: &'a State,
    stage: &'a StageRow,
    kept: &'a [&'a StageRow],
    words: Words<'a>,
    steps: Vec<StepNo>,
}

impl Met<'_> {
    /// A step with what belongs to it.
    fn with(&self, step: StepNo, mut spec: StepSpec) -> StepSpec {
        let first = self.steps.first().is_none_or(|first| *first == step);
        spec.positions = self.positions(step, first);
        spec.readings = self.readings(step, first);
        if first {
            spec.safety.fluids.extend(self.fluids());
        }
        spec
    }

    /// Whether something of the stage belongs to this step: it is said so, or no step that is kept has it.
    fn is_of(&self, of: Option<StepNo>, step: StepNo, first: bool, happened: bool) -> bool {
        of == Some(step) || (first && happened && of.is_none_or(|of| !self.steps.contains(&of)))
    }

    fn positions(&self, step: StepNo, first: bool) -> Vec<PositionSpec> {
        let own = strip::positions(self.state, self.stage.job).filter(|row| row.stage == self.stage.stage);
        let own = own.filter(|row| self.is_of(row.step, step, first, row.step.is_none() || row.off_n.is_some()));
        let mut found: Vec<(i64, PositionSpec)> = own.map(|row| (row.added_n, self.position(row))).collect();
        // As a file has them, so that what is written reads back the same; else as they were met.
        found.sort_by_key(|(added_n, position)| (position.detail.manner, *added_n));
        found.into_iter().map(|(_, position)| position).collect()
    }

    fn position(&self, row: &PositionRow) -> PositionSpec {
        let check = (row.detail.renew == Renew::Check).then(|| row.detail.check.clone());
        // Numbers of tags and ladders belong to the job and its template; what came out with what, to that day.
        let detail = PositionDetail {
            ladder: None,
            tag: None,
            came_with: None,
            check: check.map(|check| check.unwrap_or_else(|| SAY_WHICH.to_owned())),
            ..row.detail.clone()
        };
        let what = said(row.what.as_ref(), row.what_text, row.position.as_str(), self.words);
        PositionSpec { key: row.position.clone(), what, detail }
    }

    fn readings(&self, step: StepNo, first: bool) -> Vec<ReadingSpec> {
        let own = reading::of_stage(self.state, self.stage.job, &self.stage.stage);
        let own = own.filter(|row| self.is_of(row.step, step, first, row.step.is_none() || row.taken_n.is_some()));
        let what = |what: &Option<String>, text, key: &str| said(what.as_ref(), text, key, self.words);
        own.map(|row| ReadingSpec {
            key: row.reading.clone(),
            what: what(&row.what, row.what_text, row.reading.as_str()),
            detail: row.detail.clone(),
        })
        .collect()
    }

    /// What was drained and nobody had listed: in the stage that had begun last by then, with what came out.
    fn fluids(&self) -> Vec<FluidSpec> {
        let job = self.stage.job;
        let home = |row: &FluidRow| {
            let begun = condition::stage_of_fluid(self.state, row);
            let here = self.kept.iter().find(|kept| begun.as_ref() == Some(&kept.stage)).or(self.kept.first());
            here.is_some_and(|here| here.stage == self.stage.stage)
        };
        let drained = condition::fluids(self.state, job).filter(|row| row.stage.is_none() && row.drained_ml > 0);
        let spec = |row: &FluidRow| FluidSpec {
            key: row.fluid.clone(),
            what: row.what.clone().unwrap_or_else(|| row.fluid.to_string()),
            expected_ml: Some(row.drained_ml),
            back: row.back.clone(),
        };
        drained.filter(|row| home(row)).map(spec).collect()
    }
}
