//! The ready list of a stage that comes next, by the step that first needs each thing.

use crate::texts::Texts;
use leadhand_sdk::quantity;
use leadhand_sdk::v1::{GetReadyListResponse, ReadyPlace};
use std::collections::BTreeMap;

/// What one step needs first.
pub struct StepNeeds {
    /// "Step 3", or the stage as a whole.
    pub step: String,
    /// Line by line.
    pub lines: Vec<Needed>,
}

/// A thing, and whether it is at hand.
pub struct Needed {
    pub what: String,
    /// Where it stands, in words; empty for what is only to be taken along.
    pub standing: String,
    /// Whether it is missing.
    pub missing: bool,
}

/// The list, step by step; what is missing is told at the step that needs it.
pub fn by_step(list: &GetReadyListResponse, t: &Texts) -> Vec<StepNeeds> {
    let mut found: BTreeMap<i32, Vec<Needed>> = BTreeMap::new();
    let mut put = |first: Option<&ReadyPlace>, needed: Needed| {
        found.entry(first.map_or(0, |first| first.step)).or_default().push(needed);
    };
    for missing in &list.missing {
        put(missing.first.as_ref(), Needed { what: missing.text.clone(), standing: t.say("missing"), missing: true });
    }
    for item in list.items.iter().filter(|item| item.short == 0) {
        let name = if item.name.is_empty() { &item.item } else { &item.name };
        let what = format!("{} {name}", quantity::show(item.wanted, &item.unit));
        put(item.first.as_ref(), Needed { what, standing: item.standing.clone(), missing: false });
    }
    for line in &list.consumables {
        put(line.first.as_ref(), Needed { what: line.text.clone(), standing: String::new(), missing: false });
    }
    // A tool whose calibration is over stands among what is missing, and once.
    let told = |text: &str| list.missing.iter().any(|missing| missing.text.contains(text));
    for tool in list.tools.iter().filter(|tool| !told(&tool.text)) {
        put(tool.first.as_ref(), Needed { what: tool.text.clone(), standing: String::new(), missing: false });
    }
    for shared in list.shared_tools.iter().filter(|shared| shared.loan.is_none() || shared.here) {
        let name = shared
            .tool
            .as_ref()
            .map_or_else(String::new, |tool| if tool.name.is_empty() { tool.tool.clone() } else { tool.name.clone() });
        let standing = if shared.here { t.say("tool-is-here") } else { t.say("tool-is-free") };
        put(shared.first.as_ref(), Needed { what: t.fill("shared-tool", "tool", &name), standing, missing: false });
    }
    for point in &list.hold_points {
        let what = t.fill("stop-and-check", "what", &point.text);
        put(point.place.as_ref(), Needed { what, standing: String::new(), missing: false });
    }
    for people in list.people.iter().filter(|people| people.hands > 1 || !people.skills.is_empty()) {
        let hands = usize::try_from(people.hands).unwrap_or_default();
        let what = [t.count("hands", hands), people.skills.join(", ")].join(" ").trim_end().to_owned();
        let able: Vec<&str> = people.able.iter().map(|one| one.name.as_str()).collect();
        put(people.place.as_ref(), Needed { what, standing: able.join(", "), missing: able.is_empty() });
    }
    let step = |step: i32| if step == 0 { t.say("whole-stage") } else { t.fill("step-n", "step", &step.to_string()) };
    found.into_iter().map(|(number, lines)| StepNeeds { step: step(number), lines }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{ReadyItem, ReadyMissing, ReadyTool};

    #[test]
    fn everything_stands_at_the_step_that_first_needs_it() {
        let at = |step| Some(ReadyPlace { step, ..ReadyPlace::default() });
        let list = GetReadyListResponse {
            tools: vec![
                ReadyTool { text: "10 mm socket".into(), first: at(4) },
                ReadyTool { text: "lamp".into(), first: at(0) },
            ],
            items: vec![
                ReadyItem { name: "Ring".into(), unit: "1".into(), wanted: 2, first: at(4), ..ReadyItem::default() },
                ReadyItem { name: "Oil".into(), wanted: 2, short: 1, first: at(4), ..ReadyItem::default() },
            ],
            missing: vec![ReadyMissing { text: "1 L Oil".into(), first: at(4), next: false }],
            ..GetReadyListResponse::default()
        };
        let shown = by_step(&list, &Texts::of("en-GB"));
        let lines = |at: usize| shown[at].lines.iter().map(|line| line.what.as_str()).collect::<Vec<_>>();
        assert_eq!(
            (shown.len(), shown[0].step.as_str(), shown[1].step.as_str()),
            (2, "the stage as a whole", "step 4")
        );
        assert_eq!(lines(0), ["lamp"]);
        assert_eq!(lines(1), ["1 L Oil", "2 Ring", "10 mm socket"], "what is missing first, and once");
        assert!(shown[1].lines[0].missing && !shown[1].lines[1].missing);
    }

    /// In the server's words, of a tool that is listed by name and out of calibration.
    #[test]
    fn a_calibration_that_is_over_is_told_once() {
        let at = Some(ReadyPlace { step: 2, ..ReadyPlace::default() });
        let tool = "torque wrench 5 to 50 N.m, in calibration: 'tw-1' is OUT of calibration since 2031-01-01";
        let missing = ReadyMissing { text: format!("the calibration of {tool}"), first: at.clone(), next: true };
        let list = GetReadyListResponse {
            tools: vec![ReadyTool { text: tool.into(), first: at }],
            missing: vec![missing],
            ..GetReadyListResponse::default()
        };
        let shown = by_step(&list, &Texts::of("en-GB"));
        assert_eq!((shown.len(), shown[0].lines.len(), shown[0].lines[0].missing), (1, 1, true));
    }
}
