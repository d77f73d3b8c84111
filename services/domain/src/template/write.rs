//! Writing a template as a file that reads back to the same.

use leadhand_facts::reading::ReadingSpec;
use leadhand_facts::safety::{FluidSpec, StepSafety};
use leadhand_facts::strip::{Ladder, PositionSpec};
use leadhand_facts::template::{AfterSpec, Caution, Condition, Need, StageSpec, StepSpec, Template, TemplateOption};
use leadhand_facts::words::{Keep, Manner, Reach, StageKind, VehicleState};
use leadhand_facts::{ItemKey, LadderKey, PositionKey, StageKey};
use std::collections::BTreeMap;
use toml::Value;

/// Remarks that stand above parts of a file, as comments.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Marks {
    /// Above steps, by stage and place in it, from 0.
    pub steps: BTreeMap<(StageKey, usize), String>,
    /// Above positions.
    pub positions: BTreeMap<PositionKey, String>,
}

/// The file of a template. Whatever [`super::parse`] accepts comes back the same from it.
pub fn write(template: &Template) -> String {
    write_marked(template, &Marks::default())
}

/// The same, with remarks.
pub fn write_marked(template: &Template, marks: &Marks) -> String {
    let mut out = String::new();
    line(&mut out, "key", &quoted(template.key.as_str()));
    line(&mut out, "title", &quoted(&template.title));
    for option in &template.options {
        write_option(&mut out, option);
    }
    for stage in &template.stages {
        write_stage(&mut out, stage, marks);
    }
    for ladder in &template.ladders {
        write_ladder(&mut out, ladder);
    }
    out
}

fn line(out: &mut String, name: &str, value: &str) {
    out.push_str(name);
    out.push_str(" = ");
    out.push_str(value);
    out.push('\n');
}

fn write_option(out: &mut String, option: &TemplateOption) {
    out.push_str("\n[options.");
    out.push_str(&bare(option.key.as_str()));
    out.push_str("]\n");
    line(out, "title", &quoted(&option.title));
    line(out, "default", if option.default { "true" } else { "false" });
}

fn write_stage(out: &mut String, stage: &StageSpec, marks: &Marks) {
    out.push_str("\n[[stage]]\n");
    line(out, "key", &quoted(stage.key.as_str()));
    line(out, "title", &quoted(&stage.title));
    if stage.kind == StageKind::Wait {
        line(out, "kind", &quoted(stage.kind.word()));
    } else if stage.hands != 1 {
        line(out, "hands", &stage.hands.to_string());
    }
    let minutes = stage.minutes;
    line(out, "minutes", &format!("[{}, {}, {}]", minutes.low, minutes.likely, minutes.high));
    list(out, "bays", &stage.bays, |bay| quoted(bay.word()));
    list(out, "skills", &stage.skills, |skill| quoted(skill));
    list(out, "tools", &stage.tools, |tool| quoted(tool));
    list(out, "after", &stage.after, after);
    if stage.may_leave {
        line(out, "may-leave", "true");
    }
    if stage.in_one_go {
        line(out, "in-one-go", "true");
    }
    condition(out, stage.when.as_ref());
    for (at, step) in stage.steps.iter().enumerate() {
        mark(out, marks.steps.get(&(stage.key.clone(), at)));
        write_step(out, step, marks);
    }
}

/// A remark above what comes next. Control characters would end a comment, or be no TOML.
fn mark(out: &mut String, mark: Option<&String>) {
    if let Some(words) = mark {
        out.push_str("\n# ");
        out.extend(words.chars().map(|c| if c.is_control() { ' ' } else { c }));
    }
}

fn write_step(out: &mut String, step: &StepSpec, marks: &Marks) {
    out.push_str("\n[[stage.step]]\n");
    line(out, "do", &quoted(&step.instruction));
    list(out, "tools", &step.tools, |tool| quoted(tool));
    list(out, "shared-tools", &step.shared_tools, |tool| quoted(tool.as_str()));
    list(out, "caution", &step.cautions, caution);
    list(out, "hazard", &step.safety.hazards, |hazard| quoted(hazard.word()));
    list(out, "needs", &step.needs, need);
    write_safety(out, &step.safety);
    condition(out, step.when.as_ref());
    if let Some(follow_up) = &step.follow_up {
        line(out, "follow-up", &quoted(follow_up));
    }
    // In the order in which they are read back.
    for manner in Manner::ALL {
        for position in step.positions.iter().filter(|position| position.detail.manner == *manner) {
            mark(out, marks.positions.get(&position.key));
            write_position(out, position);
        }
    }
    for reading in &step.readings {
        write_reading(out, reading);
    }
}

fn write_reading(out: &mut String, reading: &ReadingSpec) {
    let detail = &reading.detail;
    out.push_str("\n[[stage.step.reading]]\n");
    line(out, "key", &quoted(reading.key.as_str()));
    line(out, "what", &quoted(&reading.what));
    line(out, "kind", &quoted(detail.kind.word()));
    line(out, "unit", &quoted(detail.unit.word()));
    list(out, "of", &detail.labels, |label| quoted(label));
    let limits = [("low", detail.low), ("high", detail.high), ("spread", detail.spread), ("drop", detail.drop)];
    for (name, limit) in limits.into_iter().filter_map(|(name, limit)| Some((name, limit?))) {
        line(out, name, &quoted(&limit.to_string()));
    }
    if let Some(minutes) = detail.minutes {
        line(out, "minutes", &minutes.to_string());
    }
    for (name, text) in [("method", &detail.method), ("instrument", &detail.instrument)] {
        if let Some(text) = text {
            line(out, name, &quoted(text));
        }
    }
}

fn write_safety(out: &mut String, safety: &StepSafety) {
    let words = |states: &[VehicleState]| {
        let words: Vec<String> = states.iter().map(|state| quoted(state.word())).collect();
        words.join(", ")
    };
    let states = [("needs", &safety.needs), ("sets", &safety.sets)];
    let states = states.into_iter().filter(|(_, states)| !states.is_empty());
    let states: Vec<String> = states.map(|(name, states)| format!("{name} = [{}]", words(states))).collect();
    if !states.is_empty() {
        line(out, "state", &format!("{{ {} }}", states.join(", ")));
    }
    list(out, "skills", &safety.skills, |skill| quoted(skill));
    if let Some(hold) = &safety.hold {
        line(out, "hold", &quoted(&hold.what));
        if hold.second {
            line(out, "second", "true");
        }
        if hold.whole {
            line(out, "whole", "true");
        }
    }
    list(out, "fluid", &safety.fluids, fluid);
    if let Some(fill) = &safety.fill {
        line(out, "fills", &quoted(fill.fluid.as_str()));
    }
}

fn fluid(fluid: &FluidSpec) -> String {
    let mut fields = vec![format!("key = {}", quoted(fluid.key.as_str())), format!("what = {}", quoted(&fluid.what))];
    fields.extend(fluid.expected_ml.map(|expected| format!("expected = \"{expected} mL\"")));
    fields.extend(fluid.back.as_ref().map(|back| format!("back = {}", quoted(back.as_str()))));
    format!("{{ {} }}", fields.join(", "))
}

fn write_position(out: &mut String, position: &PositionSpec) {
    let detail = &position.detail;
    out.push_str("\n[[stage.step.");
    out.push_str(detail.manner.word());
    out.push_str("]]\n");
    line(out, "key", &quoted(position.key.as_str()));
    line(out, "what", &quoted(&position.what));
    line(out, "kind", &quoted(detail.kind.word()));
    if detail.count != 1 {
        line(out, "count", &detail.count.to_string());
    }
    let texts = [("size", &detail.size), ("head", &detail.head), ("where", &detail.location)];
    let words = [
        ("on", detail.attached_to.as_ref().map(PositionKey::as_str)),
        ("reach", detail.reach.map(Reach::word)),
        ("keep", detail.keep.map(Keep::word)),
        ("renew", Some(detail.renew.word())),
        ("check", detail.check.as_deref()),
        ("back", detail.back.as_ref().map(StageKey::as_str)),
        ("item", detail.item.as_ref().map(ItemKey::as_str)),
        ("ladder", detail.ladder.as_ref().map(LadderKey::as_str)),
    ];
    let all = texts.into_iter().map(|(name, text)| (name, text.as_deref())).chain(words);
    for (name, text) in all.filter_map(|(name, text)| Some((name, text?))) {
        line(out, name, &quoted(text));
    }
    if detail.manner == Manner::In && detail.behind.is_empty() {
        line(out, "behind", "[]");
    }
    list(out, "behind", &detail.behind, |key| quoted(key.as_str()));
    list(out, "tighten", &detail.tighten, |stage| quoted(&super::positions::written(*stage)));
    list(out, "how", &detail.how, |text| quoted(text));
    if detail.second_check {
        line(out, "second-check", "true");
    }
    if let Some(minutes) = detail.cure_minutes {
        line(out, "cure", &minutes.to_string());
    }
    if detail.tags {
        line(out, "tags", "true");
    }
}

fn write_ladder(out: &mut String, ladder: &Ladder) {
    out.push_str("\n[[ladder]]\n");
    line(out, "key", &quoted(ladder.key.as_str()));
    for rung in &ladder.rungs {
        out.push_str("\n[[ladder.rung]]\n");
        line(out, "do", &quoted(&rung.measure));
        list(out, "tools", &rung.tools, |tool| quoted(tool));
        list(out, "caution", &rung.cautions, caution);
        list(out, "skills", &rung.skills, |skill| quoted(skill));
        if let Some(minutes) = rung.soak_minutes {
            line(out, "soak", &minutes.to_string());
        }
        if rung.last_safe {
            line(out, "last-safe", "true");
        }
    }
}

fn condition(out: &mut String, when: Option<&Condition>) {
    if let Some(when) = when {
        let text = format!("{}{}", if when.on { "" } else { "!" }, when.option);
        line(out, "when", &quoted(&text));
    }
}

fn list<T>(out: &mut String, name: &str, entries: &[T], show: impl Fn(&T) -> String) {
    let shown: Vec<String> = entries.iter().map(show).collect();
    match shown.as_slice() {
        [] => {}
        [one] if !one.starts_with('{') => line(out, name, &format!("[{one}]")),
        _ if entries.len() <= 6 && shown.iter().all(|entry| !entry.starts_with('{') && entry.len() < 30) => {
            line(out, name, &format!("[{}]", shown.join(", ")));
        }
        _ => line(out, name, &format!("[\n    {},\n]", shown.join(",\n    "))),
    }
}

fn after(after: &AfterSpec) -> String {
    let stage = quoted(after.stage.as_str());
    if after.wait_minutes == 0 { stage } else { format!("{{ stage = {stage}, wait = {} }}", after.wait_minutes) }
}

fn caution(caution: &Caution) -> String {
    format!("{{ word = {}, text = {} }}", quoted(caution.word.word()), quoted(&caution.text))
}

fn need(need: &Need) -> String {
    let (item, unit) = (quoted(need.item.as_str()), quoted(need.unit.code()));
    format!("{{ item = {item}, quantity = {}, unit = {unit} }}", need.quantity)
}

fn quoted(text: &str) -> String {
    Value::String(text.to_owned()).to_string()
}

/// A key of TOML, in quotes only where it needs them.
fn bare(key: &str) -> String {
    let plain = key.bytes().all(|byte| byte.is_ascii_alphanumeric() || b"_-".contains(&byte));
    if plain { key.to_owned() } else { quoted(key) }
}
