//! From the TOML document to a draft of the template: top, options and stages.
//!
//! The document is walked by hand, because a deserialiser stops at its first error. A field that
//! is wrong leaves a stand-in behind; the fault that was told keeps the draft from being used.

use super::fault::Faults;
use super::fields::{Fields, LIST_MAX, Shape, Value, check_key, integer_of, shorten, string_of, type_of};
use super::ladders;
use super::steps::{self, StepSite};
use leadhand_facts::template::{AfterSpec, Condition, Minutes, StageSpec, Template, TemplateOption};
use leadhand_facts::words::{BayKind, StageKind};
use leadhand_facts::{OptionKey, StageKey, TemplateKey};
use std::collections::BTreeSet;
use toml::de::DeTable;

/// Most stages of a template.
pub const STAGES_MAX: usize = 500;
/// Most steps of a stage.
pub const STEPS_MAX: usize = 200;
/// Most minutes of a stage or of a wait: a year.
pub const MINUTES_MAX: i32 = 525_600;
/// Most persons that a stage may ask for at a time.
pub const HANDS_MAX: i32 = 50;

const TOP: &[&str] = &["key", "title", "options", "stage", "ladder"];
const OPTION: &[&str] = &["title", "default"];
const AFTER: &[&str] = &["stage", "wait"];
const STAGE: &[&str] = &[
    "key",
    "title",
    "kind",
    "minutes",
    "bays",
    "skills",
    "hands",
    "tools",
    "after",
    "may-leave",
    "in-one-go",
    "when",
    "step",
];

/// A template as read so far, and where its parts stand in the file.
pub(super) struct Draft {
    pub(super) template: Template,
    pub(super) stages: Vec<StageSite>,
}

/// Where the parts of a stage stand.
pub(super) struct StageSite {
    pub(super) at: usize,
    pub(super) key: usize,
    pub(super) after: Vec<usize>,
    pub(super) when: usize,
    pub(super) tools: usize,
    pub(super) steps: Vec<StepSite>,
}

pub(super) fn walk(document: &DeTable<'_>, faults: &mut Faults<'_>) -> Draft {
    let top = Fields::of(document, 0, "the template".to_owned());
    top.only(TOP, faults);
    let (key, _) = top.key("key", "key = \"head-gasket\"", faults);
    let (title, _) = top.text("title", Shape::Line, "title = \"…\"", faults);
    let options = walk_options(&top, faults);
    let listed = top.find("stage");
    if listed.is_none_or(|stages| stages.get_ref().as_array().is_some_and(|stages| stages.is_empty())) {
        let at = listed.map_or(0, |stages| stages.span().start);
        faults.absent(at, "the template has no stages; add at least one [[stage]]".to_owned());
    }
    let (mut stages, mut sites) = (Vec::new(), Vec::new());
    for (index, value) in top.list("stage", STAGES_MAX, faults).into_iter().enumerate() {
        if let Some((stage, site)) = walk_stage(value, index, faults) {
            stages.push(stage);
            sites.push(site);
        }
    }
    let ladders = ladders::walk(&top, faults);
    let template = Template { key: TemplateKey(key), title, options, stages, ladders };
    Draft { template, stages: sites }
}

/// The options in the order of the file.
fn walk_options(top: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Vec<TemplateOption> {
    let Some(value) = top.find("options") else { return Vec::new() };
    let Some(table) = value.get_ref().as_table() else {
        top.wrong_type(
            "options",
            value,
            "a table with a table for each option, such as [options.machine-shop]",
            faults,
        );
        return Vec::new();
    };
    let mut entries: Vec<_> = table.iter().collect();
    entries.sort_by_key(|(name, _)| name.span().start);
    if let Some((name, _)) = entries.get(LIST_MAX) {
        faults.at(name.span().start, format!("the template has {} options; at most {LIST_MAX} fit", entries.len()));
    }
    let mut options = Vec::new();
    for (name, value) in entries.iter().take(LIST_MAX) {
        let at = name.span().start;
        check_key(name.get_ref(), at, "the name of an option", faults);
        let what = format!("option '{}'", shorten(name.get_ref()));
        let Some(fields) = Fields::of_value(value, what, faults) else { continue };
        fields.only(OPTION, faults);
        let (title, _) = fields.text("title", Shape::Line, "title = \"…\"", faults);
        let default = fields.flag("default", false, faults);
        options.push(TemplateOption { key: OptionKey(name.get_ref().to_string()), title, default });
    }
    options
}

fn walk_stage(value: &Value<'_>, index: usize, faults: &mut Faults<'_>) -> Option<(StageSpec, StageSite)> {
    let number = index + 1;
    let mut fields = Fields::of_value(value, format!("stage {number}"), faults)?;
    if let Some(key) = fields.find("key").and_then(|key| key.get_ref().as_str()) {
        fields.what = format!("stage '{}'", shorten(key));
    }
    fields.only(STAGE, faults);
    let (key, key_at) = fields.key("key", "key = \"drain\"", faults);
    let (title, _) = fields.text("title", Shape::Line, "title = \"…\"", faults);
    let kind = kind_of(&fields, faults);
    let minutes = minutes_of(&fields, faults);
    let (after, after_sites) = after_of(&fields, faults);
    let (when, when_at) = condition_of(&fields, faults);
    let (steps, step_sites) = steps::walk(&fields, STEPS_MAX, faults);
    let stage = StageSpec {
        key: StageKey(key),
        title,
        kind,
        minutes,
        bays: bays_of(&fields, faults),
        skills: skills_of(&fields, faults),
        hands: hands_of(&fields, kind, faults),
        tools: fields.texts("tools", faults),
        after,
        may_leave: fields.flag("may-leave", false, faults),
        in_one_go: in_one_go(&fields, kind, faults),
        when,
        steps,
    };
    let (at, tools) = (fields.at, fields.place("tools"));
    let site = StageSite { at, key: key_at, after: after_sites, when: when_at, tools, steps: step_sites };
    Some((stage, site))
}

/// Whether a stage is done in one go, which only work can be.
fn in_one_go(fields: &Fields<'_, '_>, kind: StageKind, faults: &mut Faults<'_>) -> bool {
    let said = fields.flag("in-one-go", false, faults);
    if let (true, StageKind::Wait, Some(value)) = (said, kind, fields.find("in-one-go")) {
        let label = fields.label("in-one-go");
        faults.at(value.span().start, format!("{label} is for work; a wait goes on by itself, so leave it out"));
    }
    said
}

fn kind_of(fields: &Fields<'_, '_>, faults: &mut Faults<'_>) -> StageKind {
    let Some(value) = fields.find("kind") else { return StageKind::Work };
    let label = fields.label("kind");
    let Some(word) = string_of(value, &label, faults) else { return StageKind::Work };
    StageKind::from_word(word).unwrap_or_else(|| {
        unknown_word(word, &label, StageKind::ALL.iter().map(|kind| kind.word()), value.span().start, faults);
        StageKind::Work
    })
}

/// Says that a word is none of the allowed ones, and lists those.
pub(super) fn unknown_word(
    word: &str,
    label: &str,
    allowed: impl Iterator<Item = &'static str>,
    at: usize,
    faults: &mut Faults<'_>,
) {
    let allowed: Vec<&str> = allowed.collect();
    let near = super::nearest::suggestion(word, allowed.iter().copied());
    let shown = shorten(word);
    faults.at(at, format!("{label} is '{shown}', but has to be one of {}{near}", allowed.join(", ")));
}

fn minutes_of(fields: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Minutes {
    let nothing = Minutes { low: 0, likely: 0, high: 0 };
    let example = "minutes = [low, likely, high], such as minutes = [15, 25, 40]";
    let Some(value) = fields.required("minutes", example, faults) else { return nothing };
    let at = value.span().start;
    let label = fields.label("minutes");
    let Some(array) = value.get_ref().as_array().filter(|array| array.len() == 3) else {
        faults.at(at, format!("{label} must be a list of three whole numbers: [low, likely, high]"));
        return nothing;
    };
    let mut points = [0; 3];
    for (point, entry) in points.iter_mut().zip(array.iter()) {
        match integer_of(entry).and_then(|number| i32::try_from(number).ok()) {
            Some(number) if (0..=MINUTES_MAX).contains(&number) => *point = number,
            _ => {
                let found = if entry.get_ref().is_integer() { "another" } else { type_of(entry) };
                let entry_at = entry.span().start;
                faults.at(entry_at, format!("{label} must hold whole numbers from 0 to {MINUTES_MAX}, not {found}"));
                return nothing;
            }
        }
    }
    let [low, likely, high] = points;
    if low > likely || likely > high {
        faults.at(at, format!("{label} is [{low}, {likely}, {high}], but low, likely and high must not fall"));
    }
    Minutes { low, likely, high }
}

fn hands_of(fields: &Fields<'_, '_>, kind: StageKind, faults: &mut Faults<'_>) -> i32 {
    let usual = i32::from(kind == StageKind::Work);
    let Some(value) = fields.find("hands") else { return usual };
    let label = fields.label("hands");
    let at = value.span().start;
    match (integer_of(value).and_then(|number| i32::try_from(number).ok()), kind) {
        (Some(0), StageKind::Work) => {
            faults.at(at, format!("{label} is 0, but work needs somebody; use 1 or more, or kind = \"wait\""));
        }
        (Some(1..), StageKind::Wait) => {
            faults
                .at(at, format!("{label} must be 0, since a wait needs nobody; leave it out, or use kind = \"work\""));
        }
        (Some(hands), _) if (0..=HANDS_MAX).contains(&hands) => return hands,
        _ => faults.at(at, format!("{label} must be a whole number from 1 to {HANDS_MAX}")),
    }
    usual
}

fn bays_of(fields: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Vec<BayKind> {
    let label = format!("an entry of {}", fields.label("bays"));
    let mut bays = Vec::new();
    for value in fields.list("bays", LIST_MAX, faults) {
        let at = value.span().start;
        let Some(word) = string_of(value, &label, faults) else { continue };
        match BayKind::from_word(word) {
            Some(kind) if bays.contains(&kind) => faults.at(at, format!("{label} is '{kind}' again; once is enough")),
            Some(kind) => bays.push(kind),
            None => unknown_word(word, &label, BayKind::ALL.iter().map(|kind| kind.word()), at, faults),
        }
    }
    bays
}

/// Skills are compared letter by letter with those of persons, so blanks around them are faults.
pub(super) fn skills_of(fields: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Vec<String> {
    let skills = fields.texts("skills", faults);
    let at = fields.find("skills").map_or(fields.at, |value| value.span().start);
    let label = fields.label("skills");
    let mut seen = BTreeSet::new();
    for skill in &skills {
        if skill.trim() != skill {
            faults.at(at, format!("{label} has '{}' with a blank around it; take the blank out", shorten(skill)));
        }
        if !seen.insert(skill) {
            faults.at(at, format!("{label} has '{}' twice; once is enough", shorten(skill)));
        }
    }
    skills
}

fn after_of(fields: &Fields<'_, '_>, faults: &mut Faults<'_>) -> (Vec<AfterSpec>, Vec<usize>) {
    let mut found = Vec::new();
    if let Some(value) = fields.find("after").filter(|value| !value.get_ref().is_array()) {
        let wanted = "a list, such as [\"…\"] or [{ stage = \"…\", wait = 30 }]";
        fields.wrong_type("after", value, wanted, faults);
        return (Vec::new(), Vec::new());
    }
    for value in fields.list("after", STAGES_MAX, faults) {
        let what = format!("an entry of {}", fields.label("after"));
        if let Some(key) = value.get_ref().as_str() {
            found.push((AfterSpec { stage: StageKey(key.to_owned()), wait_minutes: 0 }, value.span().start));
        } else if value.get_ref().is_table() {
            let Some(entry) = Fields::of_value(value, what, faults) else { continue };
            entry.only(AFTER, faults);
            let Some(stage) = entry.required("stage", "stage = \"…\"", faults) else { continue };
            let Some(key) = string_of(stage, &entry.label("stage"), faults) else { continue };
            let wait_minutes = wait_of(&entry, faults);
            found.push((AfterSpec { stage: StageKey(key.to_owned()), wait_minutes }, stage.span().start));
        } else {
            let wanted = "a stage's key in quotes, or { stage = \"…\", wait = minutes }";
            faults.at(value.span().start, format!("{what} must be {wanted}, but it is {}", type_of(value)));
        }
    }
    found.into_iter().unzip()
}

fn wait_of(entry: &Fields<'_, '_>, faults: &mut Faults<'_>) -> i32 {
    let Some(value) = entry.find("wait") else { return 0 };
    let wait = integer_of(value).and_then(|number| i32::try_from(number).ok());
    wait.filter(|wait| (0..=MINUTES_MAX).contains(wait)).unwrap_or_else(|| {
        let label = entry.label("wait");
        let how = "such as { stage = \"…\", wait = 30 }";
        faults.at(value.span().start, format!("{label} must be whole minutes from 0 to {MINUTES_MAX}, {how}"));
        0
    })
}

/// `when = "option"`, or `when = "!option"` for jobs without it.
pub(super) fn condition_of(fields: &Fields<'_, '_>, faults: &mut Faults<'_>) -> (Option<Condition>, usize) {
    let Some(value) = fields.find("when") else { return (None, fields.at) };
    let at = value.span().start;
    let Some(text) = string_of(value, &fields.label("when"), faults) else { return (None, at) };
    let (option, on) = text.strip_prefix('!').map_or((text, true), |option| (option, false));
    (Some(Condition { option: OptionKey(option.to_owned()), on }), at)
}
