//! What has to hold between the parts of a template.

use super::fault::Faults;
use super::fields::shorten;
use super::nearest::suggestion;
use super::walk::{Draft, StageSite};
use leadhand_facts::template::{Condition, StageSpec};
use std::collections::{BTreeMap, BTreeSet};

/// Checks everything but the order of the stages.
pub(super) fn check(draft: &Draft, faults: &mut Faults<'_>) {
    duplicate_stages(draft, faults);
    let known: BTreeSet<&str> = draft.template.options.iter().map(|option| option.key.as_str()).collect();
    for (stage, site) in stages(draft) {
        conditions(stage, site, &known, faults);
    }
    never_empty(draft, faults);
}

fn stages(draft: &Draft) -> impl Iterator<Item = (&StageSpec, &StageSite)> {
    draft.template.stages.iter().zip(&draft.stages)
}

fn duplicate_stages(draft: &Draft, faults: &mut Faults<'_>) {
    let mut first: BTreeMap<&str, usize> = BTreeMap::new();
    for (stage, site) in stages(draft).filter(|(stage, _)| !stage.key.0.is_empty()) {
        if let Some(earlier) = first.get(stage.key.as_str()) {
            let (key, line) = (shorten(stage.key.as_str()), faults.line_of(*earlier));
            faults.at(site.key, format!("stage '{key}' is there already, in line {line}; give this one another key"));
        } else {
            first.insert(stage.key.as_str(), site.key);
        }
    }
}

fn conditions(stage: &StageSpec, site: &StageSite, known: &BTreeSet<&str>, faults: &mut Faults<'_>) {
    let what = format!("stage '{}'", shorten(stage.key.as_str()));
    if let Some(when) = &stage.when {
        known_option(when, &what, site.when, known, faults);
    }
    for (index, (step, step_site)) in stage.steps.iter().zip(&site.steps).enumerate() {
        let Some(when) = &step.when else { continue };
        let step_what = format!("step {} of {what}", index + 1);
        known_option(when, &step_what, step_site.when, known, faults);
        let opposite = Condition { option: when.option.clone(), on: !when.on };
        if stage.when.as_ref() == Some(&opposite) {
            let (mine, stages) = (written(when), written(&opposite));
            let why = format!("it asks for '{mine}', but its stage is only there with '{stages}'");
            faults.at(step_site.when, format!("{step_what} can never be reached: {why}"));
        }
    }
}

fn known_option(when: &Condition, what: &str, at: usize, known: &BTreeSet<&str>, faults: &mut Faults<'_>) {
    let option = when.option.as_str();
    if !known.contains(option) {
        let near = suggestion(option, known.iter().copied());
        let shown = shorten(option);
        let cure = format!("add [options.{shown}] or correct the name");
        faults.absent(at, format!("field 'when' of {what} asks for the unknown option '{shown}'; {cure}{near}"));
    }
}

/// A condition as it is written.
fn written(when: &Condition) -> String {
    format!("{}{}", if when.on { "" } else { "!" }, shorten(when.option.as_str()))
}

/// A job has to have a stage, however its options are set.
fn never_empty(draft: &Draft, faults: &mut Faults<'_>) {
    let conditions: Vec<_> = draft.template.stages.iter().map(|stage| stage.when.as_ref()).collect();
    let Some(first) = draft.stages.first().filter(|_| conditions.iter().all(Option::is_some)) else { return };
    let asked: BTreeSet<_> = conditions.into_iter().flatten().map(|when| (&when.option, when.on)).collect();
    // Every stage asks for an option. Only an option asked for both ways leaves a stage for sure.
    if !asked.iter().any(|(option, on)| asked.contains(&(*option, !on))) {
        let cure = "leave 'when' out of at least one";
        faults.at(first.at, format!("every stage has a condition, so a job could be left with no stage; {cure}"));
    }
}
