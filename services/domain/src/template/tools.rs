//! Shared tools that the steps of a template ask for, and the shop's own.

use super::fault::{Fault, Faults, Position};
use super::fields::{Fields, LIST_MAX, check_key, shorten, string_of};
use super::nearest::suggestion;
use super::walk::Draft;
use super::{FAULTS_MAX, Parsed};
use leadhand_facts::ToolKey;
use leadhand_facts::rows::ToolRow;
use std::collections::BTreeSet;

pub(super) fn walk(step: &Fields<'_, '_>, faults: &mut Faults<'_>) -> (Vec<ToolKey>, Vec<usize>) {
    let label = format!("an entry of {}", step.label("shared-tools"));
    let (mut keys, mut sites) = (Vec::new(), Vec::new());
    for value in step.list("shared-tools", LIST_MAX, faults) {
        let at = value.span().start;
        let Some(key) = string_of(value, &label, faults) else { continue };
        check_key(key, at, &label, faults);
        let key = ToolKey(key.to_owned());
        if keys.contains(&key) {
            faults.at(at, format!("{label} is '{}' again; once is enough", shorten(key.as_str())));
            continue;
        }
        keys.push(key);
        sites.push(at);
    }
    (keys, sites)
}

/// The positions of a draft's shared tools.
pub(super) fn positions(draft: &Draft, faults: &Faults<'_>) -> Vec<Position> {
    let steps = draft.stages.iter().flat_map(|stage| &stage.steps);
    steps.flat_map(|step| &step.shared_tools).map(|offset| faults.position(*offset)).collect()
}

/// Tells every shared tool that a template names and the shop does not use.
pub fn check_shared_tools(parsed: &Parsed, known: &BTreeSet<&ToolKey>) -> Vec<Fault> {
    let steps = parsed.template.stages.iter().flat_map(|stage| &stage.steps);
    let named = steps.flat_map(|step| &step.shared_tools).zip(&parsed.shared_tools);
    let unknown = named.filter(|(tool, _)| !known.contains(tool)).take(FAULTS_MAX);
    let fault = |(tool, at): (&ToolKey, &Position)| {
        let near = suggestion(tool.as_str(), known.iter().map(|tool| tool.as_str()));
        let shown = shorten(tool.as_str());
        let todo = "list it with `leadhand tool add` or correct the key";
        let message = format!("shared tool '{shown}' is not among those that the shop uses; {todo}{near}");
        Fault { line: at.line, column: at.column, message }
    };
    unknown.map(fault).collect()
}

/// The shared tool in use that somebody's words name, if they are its key or its name.
pub fn shared_as<'s>(tools: impl IntoIterator<Item = &'s ToolRow>, words: &str) -> Option<&'s ToolRow> {
    let words = words.trim().to_lowercase();
    let named = |row: &&ToolRow| row.tool.as_str() == words || row.name.to_lowercase() == words;
    tools.into_iter().filter(|row| row.retired_n.is_none()).find(named)
}

/// Tools of a template that are a shared tool's key or name and are not named as shared, where their lists stand.
pub(super) fn notes(draft: &Draft, faults: &Faults<'_>, tools: &[ToolRow]) -> Vec<Fault> {
    let mut found = Vec::new();
    let mut note = |at: usize, named: &[String], shared: &[ToolKey]| {
        for words in named {
            let Some(tool) = shared_as(tools, words).filter(|tool| !shared.contains(&tool.tool)) else { continue };
            let place = faults.position(at);
            let (words, key) = (shorten(words), &tool.tool);
            let message = format!(
                "tool '{words}' is the shop's shared tool '{key}', and is planned as such; name it in shared-tools of the step \
                 that needs it, so that it is lent and waited for as well"
            );
            found.push(Fault { line: place.line, column: place.column, message });
        }
    };
    for (stage, site) in draft.template.stages.iter().zip(&draft.stages) {
        let of_stage: Vec<ToolKey> = stage.steps.iter().flat_map(|step| step.shared_tools.iter().cloned()).collect();
        note(site.tools, &stage.tools, &of_stage);
        for (step, site) in stage.steps.iter().zip(&site.steps) {
            note(site.tools, &step.tools, &step.shared_tools);
        }
    }
    found
}
