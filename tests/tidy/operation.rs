//! What those who run the server are told is so: every metric that an alert rule, the dashboard or the runbook names is
//! one that the server counts, every one that it counts is described and shown, and every alert has its section.

use std::{collections::BTreeSet, path::Path};

use serde_json::Value;

use crate::tree;

const ALERTS: &str = "deploy/metrics/alerts.yaml";
const DASHBOARD: &str = "deploy/metrics/dashboard.json";
/// What is counted and not worth a panel.
const NOT_SHOWN: [&str; 0] = [];
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

fn dashboard() -> Value {
    let text = tree::text(Path::new(DASHBOARD)).expect("the dashboard");
    serde_json::from_str(&text).expect("the dashboard is JSON")
}

fn panels(dashboard: &Value) -> Vec<&Value> {
    dashboard["panels"].as_array().expect("a dashboard has panels").iter().collect()
}

#[test]
fn the_dashboard_shows_what_is_counted_and_nothing_else() {
    let dashboard = dashboard();
    let mut shown = BTreeSet::new();
    for panel in panels(&dashboard) {
        let targets = panel["targets"].as_array().expect("a panel has targets");
        assert!(!targets.is_empty(), "{} shows nothing", panel["title"]);
        for target in targets {
            let expression = target["expr"].as_str().expect("a target has an expression");
            // Labels are chosen at the top, so that one dashboard serves every installation.
            assert!(expression.contains(r#"job="$job""#), "{} is not bound to the job", panel["title"]);
            shown.extend(metrics(expression, "leadhand_"));
        }
    }
    let left_out: BTreeSet<String> = NOT_SHOWN.iter().map(|&name| name.to_owned()).collect();
    assert!(left_out.is_disjoint(&shown), "{left_out:?} are shown");
    assert_eq!(&shown | &left_out, counted());
    let chosen = dashboard["templating"]["list"].as_array().expect("variables");
    for query in chosen.iter().filter_map(|variable| variable["query"].as_str()) {
        assert!(metrics(query, "leadhand_").is_subset(&counted()), "{query}");
    }
}

#[test]
fn the_dashboards_panels_say_what_they_show_and_do_not_cover_each_other() {
    let dashboard = dashboard();
    let panels = panels(&dashboard);
    let ids: BTreeSet<i64> = panels.iter().filter_map(|panel| panel["id"].as_i64()).collect();
    assert_eq!(ids.len(), panels.len(), "every panel has an id of its own");
    let mut taken = BTreeSet::new();
    for panel in &panels {
        let title = panel["title"].as_str().unwrap_or_default();
        assert!(!title.is_empty() && panel["description"].as_str().is_some_and(|said| said.ends_with('.')), "{title}");
        assert_eq!(panel["datasource"]["uid"], "${source}", "{title} is bound to one installation's source");
        let side = |name: &str| panel["gridPos"][name].as_i64().expect("a place on the grid");
        assert!(side("x") + side("w") <= 24, "{title} is beyond the grid's 24 columns");
        for x in side("x")..side("x") + side("w") {
            for y in side("y")..side("y") + side("h") {
                assert!(taken.insert((x, y)), "{title} covers another panel");
            }
        }
    }
}
