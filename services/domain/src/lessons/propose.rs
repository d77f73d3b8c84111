//! The next revision as the finished jobs suggest it: for a person to read, check and publish, never published by itself.

use super::gather::{ERASED, ExtraPosition, ExtraStep, JobLessons};
use super::lists_tool;
use crate::template::{Marks, parse, write_marked};
use leadhand_facts::safety::StepSafety;
use leadhand_facts::strip::{PositionDetail, PositionSpec};
use leadhand_facts::template::{StageSpec, StepSpec, Template};
use leadhand_facts::words::Renew;
use leadhand_facts::{JobNo, PositionKey, StageKey, ToolKey};
use std::collections::{BTreeMap, BTreeSet};

/// What is met in at least this share of the jobs is proposed: one in two.
const SHARE: usize = 2;

/// What stands above a proposed file: a published template keeps no comments, so those of its file are not here.
const HEAD: &str = "# Proposed from finished jobs. Published templates keep no comments: take over those of your own file, first of all \
    where its\n# figures come from, then read all of it and publish it.\n\n";

/// Something that was met alike in several jobs.
type Alike<T> = BTreeMap<String, (T, BTreeSet<JobNo>)>;

/// The file of the proposed revision; what is new in it has a comment above that says how often it was met.
pub fn propose(latest: &Template, jobs: &[JobLessons]) -> String {
    let mut template = latest.clone();
    let mut marks = Marks::default();
    let mut taken: BTreeSet<PositionKey> = latest
        .stages
        .iter()
        .flat_map(|stage| &stage.steps)
        .flat_map(|step| &step.positions)
        .map(|p| p.key.clone())
        .collect();
    for stage in &mut template.stages {
        let had: Vec<&JobLessons> = jobs.iter().filter(|job| job.stages.contains_key(&stage.key)).collect();
        if !had.is_empty() {
            add_tools(latest, stage, &had, &mut marks);
            add_steps(stage, &had, &mut marks);
            add_positions(latest, stage, &had, &mut taken, &mut marks);
        }
    }
    let text = format!("{HEAD}{}", write_marked(&template, &marks));
    // What is proposed has to be fit to be published; what does not fit the network of stages any more goes as it is.
    if parse(&text).is_ok() {
        return text;
    }
    let as_it_is = write_marked(latest, &Marks::default());
    let why = "# nothing is proposed: what was met does not fit the stages of this revision; add it by hand";
    format!("{HEAD}{why}\n{as_it_is}")
}

fn alike<T>(found: impl Iterator<Item = (JobNo, String, T)>, of: usize) -> Vec<(T, String)> {
    let mut all: Alike<T> = BTreeMap::new();
    for (job, words, what) in found {
        all.entry(words.to_lowercase()).or_insert_with(|| (what, BTreeSet::new())).1.insert(job);
    }
    let often = all.into_values().filter(|(_, jobs)| jobs.len() * SHARE >= of);
    often.map(|(what, jobs)| (what, format!("proposed: met in {} of {of} jobs", jobs.len()))).collect()
}

fn of_stage<'a>(had: &[&'a JobLessons], key: &StageKey) -> Vec<(JobNo, &'a super::gather::StageJob)> {
    had.iter().filter_map(|job| Some((job.job, job.stages.get(key)?))).collect()
}

fn add_steps(stage: &mut StageSpec, had: &[&JobLessons], marks: &mut Marks) {
    let found = of_stage(had, &stage.key);
    let kept = |of: &'_ super::gather::StageJob| {
        of.steps.iter().filter(|step| step.words != ERASED).cloned().collect::<Vec<_>>()
    };
    let steps = found.iter().flat_map(|(job, of)| kept(of).into_iter().map(|step| (*job, step.words.clone(), step)));
    for (step, mark) in alike(steps, had.len()) {
        let ExtraStep { words, tools, shared_tools } = step;
        marks.steps.insert((stage.key.clone(), stage.steps.len()), mark);
        stage.steps.push(StepSpec { tools, shared_tools, ..plain_step(words) });
    }
}

fn plain_step(instruction: String) -> StepSpec {
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

/// A shared tool that was fetched after the start goes to the first step, if no step names it.
fn add_tools(latest: &Template, stage: &mut StageSpec, had: &[&JobLessons], marks: &mut Marks) {
    let found = of_stage(had, &stage.key);
    let tools = found.iter().flat_map(|(job, of)| of.lent.iter().map(|tool| (*job, tool.0.clone(), tool.clone())));
    let new: Vec<(ToolKey, String)> =
        alike(tools, had.len()).into_iter().filter(|(tool, _)| !lists_tool(latest, &stage.key, tool)).collect();
    let Some(first) = stage.steps.first_mut().filter(|_| !new.is_empty()) else { return };
    let said: Vec<String> = new.iter().map(|(tool, mark)| format!("shared tool '{tool}' {mark}")).collect();
    first.shared_tools.extend(new.into_iter().map(|(tool, _)| tool));
    marks.steps.insert((stage.key.clone(), 0), said.join("; "));
}

/// Positions that were met go to a step of their own, under keys of their own.
fn add_positions(
    latest: &Template,
    stage: &mut StageSpec,
    had: &[&JobLessons],
    taken: &mut BTreeSet<PositionKey>,
    marks: &mut Marks,
) {
    let found = of_stage(had, &stage.key);
    let met = found.iter().flat_map(|(job, of)| {
        // What came out with something else, though it should have stayed, is told and is no standing work.
        let standing = |one: &&ExtraPosition| one.what != ERASED && one.detail.came_with.is_none();
        let kept = of.positions.iter().filter(standing);
        kept.map(|one| (*job, one.what.clone(), one.clone()))
    });
    let mut positions = Vec::new();
    for (ExtraPosition { key, what, detail }, mark) in alike(met, had.len()) {
        let key = free_key(&key, taken);
        marks.positions.insert(key.clone(), mark);
        positions.push(PositionSpec { key, what, detail: fit(latest, stage, detail) });
    }
    if positions.is_empty() {
        return;
    }
    positions.sort_by_key(|position| position.detail.manner);
    marks.steps.insert((stage.key.clone(), stage.steps.len()), "proposed: what was met on the way".to_owned());
    let words = "See to what earlier jobs met here and nobody had listed.";
    stage.steps.push(StepSpec { positions, ..plain_step(words.to_owned()) });
}

fn free_key(key: &PositionKey, taken: &mut BTreeSet<PositionKey>) -> PositionKey {
    let mut free = key.clone();
    for n in 2.. {
        if taken.insert(free.clone()) {
            break;
        }
        free = PositionKey(format!("{}-{n}", key.as_str().chars().take(55).collect::<String>()));
    }
    free
}

/// What a job knew of a position. What leads to others stays as far as these are in the template; what was met in that job
/// alone whoever reads the proposal says anew.
fn fit(latest: &Template, stage: &StageSpec, detail: PositionDetail) -> PositionDetail {
    let listed = |key: &PositionKey| {
        let own = stage.steps.iter().flat_map(|step| &step.positions).any(|one| one.key == *key);
        own || latest
            .stages
            .iter()
            .flat_map(|stage| &stage.steps)
            .flat_map(|step| &step.positions)
            .any(|one| one.key == *key)
    };
    let behind: Vec<PositionKey> = detail.behind.iter().filter(|key| listed(key)).cloned().collect();
    let attached_to = detail.attached_to.clone().filter(|key| listed(key));
    let renew = if detail.check.is_some() == (detail.renew == Renew::Check) { detail.renew } else { Renew::Reuse };
    let check = detail.check.filter(|_| renew == Renew::Check);
    let back = detail.back.filter(|back| latest.stages.iter().any(|stage| stage.key == *back));
    // A template has each on one line.
    let line = |words: Option<String>| words.map(|words| words.split_whitespace().collect::<Vec<_>>().join(" "));
    let (size, head, location) = (line(detail.size.clone()), line(detail.head.clone()), line(detail.location.clone()));
    PositionDetail { behind, attached_to, back, renew, check, size, head, location, ..detail }
}
