//! The steps of a drafted template, with what came off, what was measured and what was drained at each.

use crate::fill;
use crate::hazard;
use crate::look;
use crate::state::State;
use crate::{condition, reading, strip};
use leadhand_facts::reading::ReadingSpec;
use leadhand_facts::rows::{FluidRow, PositionRow, ReadingRow, StageRow, StepRow};
use leadhand_facts::safety::{Fill, FluidSpec, StepSafety};
use leadhand_facts::strip::{Ladder, PositionDetail, PositionSpec};
use leadhand_facts::template::{Need, StageSpec, StepSpec, Template};
use leadhand_facts::words::{Renew, StepState};
use leadhand_facts::{Instant, JobNo, LadderKey, PositionKey, StepNo, TextId};
use std::collections::BTreeSet;

/// Written where it was said that a check decides and not which: whoever publishes the draft knows.
const SAY_WHICH: &str = "Say here what decides whether it goes back";
/// The step of a stage that has none of its own and in which something came off.
const AS_LISTED: &str = "Take off and measure what is listed.";

type Words<'w> = &'w dyn Fn(TextId) -> String;

/// The steps of a stage: skipped ones are left out, and so are those that only fit new pieces, since a template asks for
/// what is always renewed by itself, and what was about this job alone. What belongs to no step that is kept is with the one that was under way.
pub(super) fn steps(state: &State, stage: &StageRow, kept: &[&StageRow], words: Words<'_>) -> Vec<StepSpec> {
    let own = |step: &&StepRow| step.state != StepState::Skipped && !step.safety.only_here && !strip::fits_new(step);
    let rows: Vec<&StepRow> = look::steps(state, stage.job, &stage.stage).filter(own).collect();
    let met = Met { state, stage, kept, words, steps: &rows };
    if rows.is_empty() {
        let only = met.with(StepNo(1), plain(AS_LISTED.to_owned()));
        let empty = only.positions.is_empty() && only.readings.is_empty() && only.safety.is_empty();
        return if empty { Vec::new() } else { vec![only] };
    }
    rows.iter().map(|row| met.with(row.step, as_it_was(row, words))).collect()
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

/// What a step takes from stock by its book: what was reckoned for a job is that job's.
fn needs_of_book(step: &StepRow) -> Vec<Need> {
    let instead = fill::reckoned(step).map(|reckoned| &reckoned.instead).filter(|instead| !instead.is_empty());
    instead.unwrap_or(&step.needs).clone()
}

fn as_it_was(step: &StepRow, words: Words<'_>) -> StepSpec {
    // What was to be minded for this job's reckoning alone is no word of the book.
    let reckoned = fill::reckoned(step).map(|reckoned| reckoned.cautions.as_slice()).unwrap_or_default();
    let mut cautions = hazard::own(&step.cautions, &step.safety.hazards);
    cautions.retain(|caution| !reckoned.contains(caution));
    let fill = step.safety.fill.as_ref().map(|fill| Fill { reckoned: None, ..fill.clone() });
    StepSpec {
        tools: step.tools.clone(),
        shared_tools: step.shared_tools.clone(),
        cautions,
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

/// Whether it is standing work. What came out with something else, though it should have stayed, is none, nor is what was
/// not there after all.
fn is_standing(row: &PositionRow) -> bool {
    row.detail.came_with.is_none() && !strip::never_there(row)
}

/// What was met in a stage.
struct Met<'a> {
    state: &'a State,
    stage: &'a StageRow,
    kept: &'a [&'a StageRow],
    words: Words<'a>,
    /// Its steps that are kept, in their order.
    steps: &'a [&'a StepRow],
}

impl Met<'_> {
    /// A step with what belongs to it.
    fn with(&self, step: StepNo, mut spec: StepSpec) -> StepSpec {
        spec.positions = self.positions(step);
        spec.readings = self.readings(step);
        if self.steps.first().is_none_or(|first| first.step == step) {
            spec.safety.fluids.extend(self.fluids());
        }
        spec
    }

    /// Whether something of the stage belongs to this step: it is said so, or it happened and no step that is kept has it.
    fn is_of(&self, of: Option<StepNo>, step: StepNo, happened: bool, home: impl Fn() -> usize) -> bool {
        if of.is_some_and(|of| self.steps.iter().any(|kept| kept.step == of)) {
            return of == Some(step);
        }
        happened && self.steps.get(home()).is_none_or(|home| home.step == step)
    }

    /// The step that was under way then: the first that was not yet done.
    fn under_way(&self, at: Option<Instant>) -> usize {
        let open = |step: &&StepRow| at.is_some_and(|at| step.done_at.is_none_or(|done| done >= at));
        let last = self.steps.len().saturating_sub(1);
        if at.is_none() { 0 } else { self.steps.iter().position(open).unwrap_or(last) }
    }

    /// The step to which something belongs that was met on the way: the one that was under way, and none before what has to
    /// come off first.
    fn home(&self, row: &PositionRow) -> usize {
        let earliest = self.earliest(row, &mut BTreeSet::new());
        // Nor behind what comes off after it.
        let after = |other: &&PositionRow| {
            other.detail.behind.contains(&row.position) || row.detail.attached_to.as_ref() == Some(&other.position)
        };
        let after = strip::positions(self.state, row.job).filter(after).filter(|other| other.stage == row.stage);
        let latest = after.filter_map(|other| self.listed_at(other)).min();
        latest.map_or_else(|| self.under_way(row.off_at), |latest| self.under_way(row.off_at).min(latest)).max(earliest)
    }

    /// The step of the stage that lists it.
    fn listed_at(&self, row: &PositionRow) -> Option<usize> {
        self.steps.iter().position(|kept| row.step == Some(kept.step))
    }

    /// The first step at which it can come off, by what comes off before it by whatever way.
    fn earliest(&self, row: &PositionRow, seen: &mut BTreeSet<PositionKey>) -> usize {
        let before = row.detail.behind.iter().filter_map(|key| self.state.positions.get(&(row.job, key.clone())));
        let hangs = strip::positions(self.state, row.job);
        let hangs = hangs.filter(|other| other.detail.attached_to.as_ref() == Some(&row.position));
        let first = before.chain(hangs).filter(|other| other.stage == row.stage);
        let first: Vec<&PositionRow> = first.filter(|other| seen.insert(other.position.clone())).collect();
        let at = |other: &PositionRow, seen: &mut BTreeSet<PositionKey>| {
            self.listed_at(other).unwrap_or_else(|| self.earliest(other, seen).max(self.under_way(other.off_at)))
        };
        first.into_iter().map(|other| at(other, seen)).max().unwrap_or(0)
    }

    fn positions(&self, step: StepNo) -> Vec<PositionSpec> {
        let own = strip::positions(self.state, self.stage.job).filter(|row| row.stage == self.stage.stage);
        let own = own.filter(|row| is_standing(row));
        let happened = |row: &PositionRow| row.step.is_none() || row.off_n.is_some();
        let own = own.filter(|row| self.is_of(row.step, step, happened(row), || self.home(row)));
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
        let there = if row.off_n.is_some() { row.found + row.missing } else { 0 };
        let ladders = revision(self.state, row.job).map(|revision| revision.ladders.as_slice()).unwrap_or_default();
        let stays = |key: &PositionKey| {
            let other = self.state.positions.get(&(row.job, key.clone()));
            other.is_none_or(is_standing)
        };
        // Numbers of tags belong to the job; what came out with what, to that day.
        let detail = PositionDetail {
            ladder: row.detail.ladder.clone().filter(|key| ladders.iter().any(|ladder| ladder.key == *key)),
            tag: None,
            came_with: None,
            attached_to: row.detail.attached_to.clone().filter(stays),
            behind: row.detail.behind.iter().filter(|key| stays(key)).cloned().collect(),
            count: if there > 0 { there } else { row.detail.count },
            check: check.map(|check| check.unwrap_or_else(|| SAY_WHICH.to_owned())),
            ..row.detail.clone()
        };
        let what = said(row.what.as_ref(), row.what_text, row.position.as_str(), self.words);
        PositionSpec { key: row.position.clone(), what, detail }
    }

    fn readings(&self, step: StepNo) -> Vec<ReadingSpec> {
        let own = reading::of_stage(self.state, self.stage.job, &self.stage.stage);
        let happened = |row: &ReadingRow| row.step.is_none() || row.taken_n.is_some();
        let own = own.filter(|row| self.is_of(row.step, step, happened(row), || self.under_way(row.taken_at)));
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
