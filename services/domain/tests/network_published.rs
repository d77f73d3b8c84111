//! Published networks, computed from templates. Sources stand in `vectors/README.md`.

use leadhand_domain::network::{Activity, Network, Sixths};
use leadhand_domain::template::{chosen_options, expand, parse};
use std::collections::BTreeSet;

/// The rows of a vector file as maps from column to text.
fn rows(file: &str) -> Vec<std::collections::HashMap<String, String>> {
    let path = format!("{}/tests/vectors/{file}", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::Reader::from_path(&path).expect("the vectors are committed");
    reader.deserialize().map(|row| row.expect("each row has its columns")).collect()
}

fn number(row: &std::collections::HashMap<String, String>, column: &str) -> f64 {
    row[column].parse().expect("a number")
}

fn near(found: f64, printed: f64, tolerance: f64, what: &str) {
    assert!((found - printed).abs() <= tolerance, "{what}: found {found}, printed {printed}");
}

/// A template file with one stage a row.
fn template_of(key: &str, rows: &[std::collections::HashMap<String, String>], [id, a, m, b]: [&str; 4]) -> String {
    let mut text = format!("key = \"{key}\"\ntitle = \"{key}\"\n");
    for row in rows {
        let after: Vec<String> = row["pred"].split_whitespace().map(|p| format!("\"{p}\"")).collect();
        let kind = if row.get("kind").is_some_and(|kind| kind == "wait") { "wait" } else { "work" };
        let (id, points) = (&row[id], [a, m, b].map(|column| row[column].as_str()).join(", "));
        let names = format!("[[stage]]\nkey = \"{id}\"\ntitle = \"{id}\"\nkind = \"{kind}\"\n");
        text.push_str(&names);
        let times = format!("minutes = [{points}]\nafter = [{}]\n", after.join(", "));
        text.push_str(&times);
    }
    text
}

fn network_of(text: &str) -> Network {
    let template = parse(text).expect("the template has no fault").template;
    let on = chosen_options(&template, &[], &[]).expect("no option is asked for");
    Network::of_stages(&expand(&template, &on)).expect("a template's stages are a network")
}

fn path(network: &Network) -> String {
    let keys: Vec<&str> = network.critical_path.iter().map(leadhand_facts::StageKey::as_str).collect();
    keys.join("-")
}

fn check_rows(network: &Network, rows: &[std::collections::HashMap<String, String>], tolerance: f64) {
    assert_eq!(network.stages.len(), rows.len());
    for (timed, row) in network.stages.iter().zip(rows) {
        let columns = [
            ("ES", timed.earliest_start),
            ("EF", timed.earliest_finish),
            ("LS", timed.latest_start),
            ("LF", timed.latest_finish),
            ("slack", timed.slack),
            ("te", timed.expected),
        ];
        for (column, found) in columns {
            near(found.minutes(), number(row, column), tolerance, &format!("{} {column}", timed.key));
        }
        near(timed.variance.square_minutes(), number(row, "var"), tolerance, &format!("{} var", timed.key));
        assert_eq!(timed.is_critical(), row["critical"] == "yes", "{} critical", timed.key);
    }
}

#[test]
fn the_two_pert_networks_come_out_as_published() {
    let activities = rows("pert_activities.csv");
    let totals = rows("pert_totals.csv");
    assert_eq!(totals.len(), 3);
    for total in &totals {
        let net: Vec<_> = activities.iter().filter(|row| row["net"] == total["net"]).cloned().collect();
        let network = network_of(&template_of(&total["net"], &net, ["id", "a", "m", "b"]));
        check_rows(&network, &net, 5e-7);
        assert_eq!(path(&network), total["critical_path"]);
        near(network.elapsed.minutes(), number(total, "te_total"), 5e-9, "elapsed");
        near(network.variance.square_minutes(), number(total, "variance"), 5e-9, "variance");
        near(network.variance.deviation_minutes(), number(total, "sd"), 5e-10, "deviation");
        near(network.chance_by(number(total, "due")), number(total, "P_on_time"), 5e-10, "chance");
    }
}

/// Heizer and Render, Operations Management, the paper-mill case (read through a public copy):
/// A-C-E-G-H of 15, slack only on B, D and F; variance 28/9 from three-point values from memory.
#[test]
fn the_paper_mill_is_exact() {
    let net: Vec<_> = rows("pert_activities.csv").into_iter().filter(|row| row["net"] == "papermill").collect();
    let network = network_of(&template_of("papermill", &net, ["id", "a", "m", "b"]));
    assert_eq!(network.elapsed, Sixths(15 * 6));
    assert_eq!(network.variance.0, 28 * 4);
    let slack: Vec<(&str, i64)> =
        network.stages.iter().filter(|s| !s.is_critical()).map(|s| (s.key.as_str(), s.slack.0)).collect();
    assert_eq!(slack, [("B", 6), ("D", 6), ("F", 36)]);
}

/// A textbook's seven activities, printed as 24, variance 5 and P(≤ 28) = 0.9633; exactly
/// 0.963181 by scipy. Only the totals were printed, so the chance is checked on a network that has them.
#[test]
fn a_printed_chance_is_met() {
    let stage = |key: &str, low, likely, high, after: &str| {
        format!("[[stage]]\nkey = \"{key}\"\ntitle = \"x\"\nminutes = [{low}, {likely}, {high}]\nafter = [{after}]\n")
    };
    // Variances 4 and 1 make 5; expected 14 and 10 make 24.
    let text = format!(
        "key = \"k\"\ntitle = \"t\"\n{}{}",
        stage("first", 8, 14, 20, ""),
        stage("second", 7, 10, 13, "\"first\"")
    );
    let network = network_of(&text);
    assert_eq!((network.elapsed, network.variance.0), (Sixths(24 * 6), 5 * 36));
    near(network.chance_by(28.0), 0.963_181, 5e-7, "chance");
}

fn check_head_gasket_totals(network: &Network, name: impl Fn(&str) -> String) {
    let totals = rows("workflow_totals.csv");
    let total = |quantity: &str| {
        totals.iter().find(|row| row["quantity"] == quantity).expect("the total is there")["value"].clone()
    };
    let value = |quantity: &str| total(quantity).parse::<f64>().expect("a number");
    let printed: Vec<String> = total("critical_path").split('-').map(name).collect();
    assert_eq!(path(network), printed.join("-"));
    near(network.elapsed.minutes(), value("elapsed_te_min"), 1e-6, "elapsed");
    near(network.variance.square_minutes(), value("elapsed_var"), 1e-4, "variance");
    near(network.variance.deviation_minutes(), value("elapsed_sd"), 1e-6, "deviation");
    near(network.labour.minutes(), value("labour_te_min"), 1e-6, "labour");
    near(network.labour_variance.deviation_minutes(), value("labour_sd"), 1e-7, "labour deviation");
}

#[test]
fn the_head_gasket_workflow_comes_out_as_computed_apart() {
    let stages = rows("workflow_head_gasket.csv");
    let network = network_of(&template_of("head-gasket", &stages, ["id", "a_min", "m_min", "b_min"]));
    check_rows(&network, &stages, 5.1e-5);
    check_head_gasket_totals(&network, str::to_owned);
}

#[test]
fn the_demo_shops_head_gasket_template_is_that_workflow() {
    let path = format!("{}/../../deploy/demo-shop/templates/head-gasket-20.toml", env!("CARGO_MANIFEST_DIR"));
    let template = parse(&std::fs::read_to_string(path).expect("the template is there")).expect("no fault").template;
    let on = chosen_options(&template, &[], &[]).expect("defaults");
    let stages = expand(&template, &on);
    let network = Network::of_stages(&stages).expect("a network");
    let vectors = rows("workflow_head_gasket.csv");
    check_rows(&network, &vectors, 5.1e-5);
    let key = |id: &str| {
        let at = vectors.iter().position(|row| row["id"] == id).expect("the stage is there");
        stages[at].stage.0.clone()
    };
    check_head_gasket_totals(&network, key);

    // Without the machine shop its two stages fall out, and the decision leads to the parts check.
    let on = chosen_options(&template, &[], &["machine-shop".into()]).expect("an option of it");
    let stages = expand(&template, &on);
    assert_eq!(stages.len(), 23);
    let prepare = stages.iter().find(|stage| stage.stage.as_str() == "prepare").expect("it stays");
    let before: BTreeSet<&str> = prepare.after.iter().map(|after| after.stage.as_str()).collect();
    assert_eq!(before, BTreeSet::from(["order-parts", "inspect-block", "re-quote"]));
}

#[test]
fn a_network_without_stages_takes_no_time() {
    let network = Network::of(&[] as &[Activity]).expect("nothing is a network");
    assert_eq!((network.elapsed, network.critical_path.len()), (Sixths(0), 0));
    near(network.chance_by(0.0), 1.0, 0.0, "chance");
}
