//! A template drafted from a job as it went, so that the next one need not start from nothing.

use crate::look;
use crate::refusal::Refusal;
use crate::state::State;
use crate::template::{draft_steps, parse, write};
use leadhand_facts::rows::StageRow;
use leadhand_facts::template::{AfterSpec, Minutes, StageSpec, Template};
use leadhand_facts::words::{StageKind, StageState};
use leadhand_facts::{Instant, JobNo, StageKey, TemplateKey, TextId};
use std::collections::{BTreeMap, BTreeSet};

/// The words that a draft of this job needs.
pub fn texts(state: &State, job: JobNo) -> BTreeSet<TextId> {
    let own = state.jobs.get(&(job,)).and_then(|row| row.title_text);
    let stages = look::stages(state, job);
    let words = stages.flat_map(|stage| {
        let steps = look::steps(state, job, &stage.stage).filter_map(|step| step.instruction_text);
        let measured = crate::reading::of_stage(state, job, &stage.stage).filter_map(|row| row.what_text);
        steps.chain(measured).chain(stage.title_text)
    });
    let positions = crate::strip::positions(state, job).filter_map(|row| row.what_text);
    words.chain(positions).chain(own).collect()
}

/// Drafts a template: stages and steps that were skipped are left out, unplanned ones taken in.
/// A stage without an estimate gets the minutes that were worked on it.
pub fn draft(
    state: &State,
    job: JobNo,
    key: &TemplateKey,
    words: &dyn Fn(TextId) -> String,
) -> Result<Template, Refusal> {
    crate::check::key("template", key.as_str())?;
    let row = look::job(state, job)?;
    let said = |own: &Option<String>, text: Option<TextId>, other: &str| {
        let typed = || text.map(words).filter(|words| !words.is_empty());
        own.clone().or_else(typed).unwrap_or_else(|| other.to_owned())
    };
    let title = said(&row.title, row.title_text, "A job as it went");
    let kept: Vec<&StageRow> =
        look::stages_in_order(state, job).into_iter().filter(|stage| stage.state != StageState::Skipped).collect();
    if kept.is_empty() {
        return Err(Refusal::NothingToDo { what: format!("draft from: job {job} has no stage") });
    }
    let stages = kept.iter().map(|stage| StageSpec {
        key: stage.stage.clone(),
        title: said(&stage.title, stage.title_text, stage.stage.as_str()),
        kind: stage.kind,
        minutes: minutes(state, stage),
        bays: stage.bays.clone(),
        skills: stage.skills.clone(),
        hands: stage.hands,
        tools: stage.tools.clone(),
        after: before(state, stage),
        may_leave: stage.may_leave,
        in_one_go: stage.in_one_go,
        when: None,
        steps: draft_steps::steps(state, stage, &kept, words),
    });
    let (options, stages): (Vec<_>, Vec<StageSpec>) = (Vec::new(), stages.collect());
    let ladders = draft_steps::ladders(state, job, &stages);
    Ok(Template { key: key.clone(), title, options, stages, ladders })
}

/// The draft as a file. Where something was left out that the rest needs, it says so on top: what is wrong, and where.
pub fn file(template: &Template) -> String {
    let text = write(template);
    let Err(faults) = parse(&text) else { return text };
    let head =
        ["this draft does not hold together yet, since the job left something out; mend this, and check it again:"];
    // Each fault has a line of its own above the file, so it stands that much further down.
    let down = faults.len() + head.len();
    let told = faults.iter().map(|fault| {
        let message = fault.message.split_whitespace().collect::<Vec<_>>().join(" ");
        format!("line {}: {message}", fault.line + down)
    });
    let lines = head.map(str::to_owned).into_iter().chain(told).map(|line| format!("# {line}\n"));
    lines.chain([text]).collect::<Vec<_>>().concat()
}

/// What comes before a stage. A skipped one passes on what came before it, with both waits; of several ways to a stage
/// the longest wait counts.
fn before(state: &State, stage: &StageRow) -> Vec<AfterSpec> {
    let mut longest: BTreeMap<StageKey, i32> = BTreeMap::new();
    let mut open: Vec<(StageKey, i32)> = vec![(stage.stage.clone(), 0)];
    while let Some((key, waited)) = open.pop() {
        for row in look::afters(state, stage.job, &key) {
            let wait = waited.saturating_add(row.wait_minutes).min(crate::check::MINUTES_MAX);
            if longest.get(&row.after).is_none_or(|known| *known < wait) {
                longest.insert(row.after.clone(), wait);
                open.extend(is_skipped(state, stage.job, &row.after).then(|| (row.after.clone(), wait)));
            }
        }
    }
    let kept = longest.into_iter().filter(|(key, _)| !is_skipped(state, stage.job, key));
    kept.map(|(stage, wait_minutes)| AfterSpec { stage, wait_minutes }).collect()
}

fn is_skipped(state: &State, job: JobNo, stage: &StageKey) -> bool {
    state.stages.get(&(job, stage.clone())).is_some_and(|row| row.state == StageState::Skipped)
}

fn minutes(state: &State, stage: &StageRow) -> Minutes {
    let planned = Minutes { low: stage.low, likely: stage.likely, high: stage.high };
    if planned.high > 0 {
        return planned;
    }
    let took_us: i64 = match stage.kind {
        StageKind::Work => state
            .clockings
            .iter()
            .filter(|row| row.job == stage.job && row.stage == stage.stage)
            .filter_map(|row| Some(row.until_at?.since_us(row.from_at)))
            .sum(),
        StageKind::Wait => {
            stage.ended_at.zip(stage.started_at).map_or(0, |(end, start): (Instant, Instant)| end.since_us(start))
        }
    };
    let took = i32::try_from(took_us / leadhand_facts::instant::MINUTE_US).unwrap_or(crate::check::MINUTES_MAX).max(1);
    Minutes { low: took, likely: took, high: took }
}
