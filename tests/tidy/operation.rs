//! What those who run the server are told is so: every metric that an alert rule or the runbook names is one that the
//! server counts, every one that it counts is described, and every alert has its section.

use std::{collections::BTreeSet, path::Path};

use crate::tree;

const ALERTS: &str = "deploy/metrics/alerts.yaml";
const RUNBOOK: &str = "deploy/handbook/runbook.md";

/// Names of metrics behind this mark. Common practice: a histogram is also exposed as `_bucket`, `_sum` and `_count`.
fn metrics(text: &str, mark: &str) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for piece in text.split(mark).skip(1) {
        let name: String = piece.chars().take_while(|letter| letter.is_ascii_lowercase() || *letter == '_').collect();
        let whole = format!("leadhand_{name}");
        let base = ["_bucket", "_sum", "_count"].iter().find_map(|ending| whole.strip_suffix(ending));
        found.insert(base.map_or_else(|| whole.clone(), str::to_owned));
    }
    found
}

fn counted() -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    let sources = tree::files().into_iter().filter(|path| path.starts_with("services"));
    for text in sources.filter_map(|path| tree::text(&path)) {
        for makes in ["counter!(\"leadhand_", "gauge!(\"leadhand_", "histogram!(\"leadhand_"] {
            found.extend(metrics(&text, makes));
        }
    }
    found
}

#[test]
fn alerts_and_runbook_name_what_is_counted() {
    let counted = counted();
    assert!(counted.len() >= 10, "{counted:?}");
    let alerts = tree::text(Path::new(ALERTS)).expect("the alert rules");
    let runbook = tree::text(Path::new(RUNBOOK)).expect("the runbook");
    let watched: BTreeSet<String> = metrics(&alerts, "leadhand_");
    assert!(!watched.is_empty() && watched.is_subset(&counted), "{watched:?} are not all among {counted:?}");
    assert_eq!(metrics(&runbook, "| `leadhand_"), counted);
}

#[test]
fn every_alert_has_its_section_in_the_runbook() {
    let alerts = tree::text(Path::new(ALERTS)).expect("the alert rules");
    let runbook = tree::text(Path::new(RUNBOOK)).expect("the runbook");
    let names: Vec<&str> = alerts.lines().filter_map(|line| line.trim().strip_prefix("- alert: ")).collect();
    assert!(names.len() >= 4, "{names:?}");
    for name in &names {
        assert!(runbook.contains(&format!("\n### {name}\n")), "{RUNBOOK} says nothing of {name}");
        let link = format!("runbook: {RUNBOOK}#{}", name.to_lowercase());
        assert!(alerts.contains(&link), "{ALERTS}: {name} does not link to its section");
    }
    let sections = runbook.lines().filter_map(|line| line.strip_prefix("### "));
    assert!(sections.clone().eq(names.iter().copied()), "{:?} beside {names:?}", sections.collect::<Vec<_>>());
}
