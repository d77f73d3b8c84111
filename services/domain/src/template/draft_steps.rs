//! The steps of a drafted template, with what came off, what was measured and what was drained at each.

use crate::hazard;
use crate::look;
use crate::state::State;
use crate::{condition, reading, strip};
use leadhand_facts::reading::ReadingSpec;
use leadhand_facts::rows::{FluidRow, PositionRow, StageRow, StepRow};
use leadhand_facts::safety::{FluidSpec, StepSafety};
use leadhand_facts::strip::{Ladder, PositionDetail, PositionSpec};
use leadhand_facts::template::{StageSpec, StepSpec, Template};
use leadhand_facts::words::{Renew, StepState};
use leadhand_facts::{JobNo, LadderKey, PositionKey, StepNo, TextId};
use std::collections::BTreeSet;

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

/// The template by which a job goes, as far as it is loaded.
fn revision(state: &State, job: JobNo) -> Option<&Template> {
    let row = state.jobs.get(&(job,))?;
    Some(&state.templates.get(&(row.template.clone()?, row.revision?))?.doc)
}

/// The ladders that positions of these stages go by.
pub(super) fn ladders(state: &State, job: JobNo, stages: &[StageSpec]) -> Vec<Ladder> {
    let steps = stages.iter().flat_map(|stage| &stage.steps);
    let named: BTreeSet<&LadderKey> =
        steps.flat_map(|step| &step.positions).filter_map(|one| one.detail.ladder.as_ref()).collect();
    let known = revision(state, job).into_iter().flat_map(|revision| &revision.ladders);
    known.filter(|ladder| named.contains(&ladder.key)).cloned().collect()
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

fn as_it_was(step: &StepRow, words: Words<'_>) -> StepSpec {
    StepSpec {
        tools: step.tools.clone(),
        shared_tools: step.shared_tools.clone(),
        cautions: hazard::own(&step.cautions, &step.safety.hazards),
        needs: step.needs.clone(),
        safety: step.safety.clone(),
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
        let listed = self.listed();
        let place = |row: &PositionRow| listed.iter().position(|key| **key == row.position).unwrap_or(usize::MAX);
        let mut found: Vec<_> = own.map(|row| ((row.added_n, place(row)), self.position(row))).collect();
        // As its template has them, so that what is written reads back the same; else as they were met.
        found.sort_by_key(|(met, position)| (position.detail.manner, *met));
        found.into_iter().map(|(_, position)| position).collect()
    }

    /// The positions of the template by which the job goes, in its order.
    fn listed(&self) -> Vec<&PositionKey> {
        let stages = revision(self.state, self.stage.job).into_iter().flat_map(|revision| &revision.stages);
        stages.flat_map(|stage| &stage.steps).flat_map(|step| &step.positions).map(|one| &one.key).collect()
    }

    fn position(&self, row: &PositionRow) -> PositionSpec {
        let check = (row.detail.renew == Renew::Check).then(|| row.detail.check.clone());
        let ladders = revision(self.state, row.job).map(|revision| revision.ladders.as_slice()).unwrap_or_default();
        // Numbers of tags belong to the job; what came out with what, to that day.
        let detail = PositionDetail {
            ladder: row.detail.ladder.clone().filter(|key| ladders.iter().any(|ladder| ladder.key == *key)),
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
