//! Every metric that the dashboard asks for is on the page of a server that has just begun to work. Outside source: the
//! Prometheus text format, version 0.0.4 (a line a sample, its name first).

use kit::{Leadhandd, fresh_database, process};
use leadhand_sdk::v1::AddPlaceRequest;
use leadhand_sdk::{Client, Endpoint, new_write};
use std::collections::BTreeSet;
use std::path::Path;

/// Names in an expression, as the page has them.
fn asked(expression: &str) -> impl Iterator<Item = &str> {
    expression
        .split(|letter: char| !letter.is_ascii_lowercase() && letter != '_')
        .filter(|word| word.starts_with("leadhand_"))
}

#[tokio::test(flavor = "multi_thread")]
async fn the_dashboard_asks_for_what_a_server_exports() {
    let database = fresh_database().await;
    let token = process::open_shop(&database.app_url(), "Yard").await.unwrap();
    let mut server = Leadhandd::over(&database.app_url()).unwrap();
    server.start().await.unwrap();
    let lead = Client::connect(Endpoint::new(server.url()).token(token)).unwrap();
    // What took no time yet has no histogram: a call and a batch are enough for all of them.
    let asked_for = AddPlaceRequest { write: Some(new_write()), place: "bin-1".into(), name: "Bin 1".into() };
    lead.add_place(asked_for).await.unwrap();
    let page = server.page("/metrics").await.unwrap();
    let exported: BTreeSet<&str> = page.lines().filter_map(|line| line.split(['{', ' ']).next()).collect();
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let dashboard = std::fs::read_to_string(root.join("deploy/metrics/dashboard.json")).unwrap();
    let dashboard: serde_json::Value = serde_json::from_str(&dashboard).unwrap();
    let panels = dashboard["panels"].as_array().unwrap().iter();
    let targets = panels.flat_map(|panel| panel["targets"].as_array().unwrap());
    let wanted: BTreeSet<&str> = targets.flat_map(|target| asked(target["expr"].as_str().unwrap())).collect();
    assert!(wanted.len() >= 13, "{wanted:?}");
    let missing: Vec<&&str> = wanted.iter().filter(|name| !exported.contains(*name)).collect();
    assert!(missing.is_empty(), "{missing:?} are not on the page:\n{page}");
    let told = page.lines().filter(|line| line.starts_with("# HELP leadhand_")).count();
    assert!(told >= 11, "each says what it counts:\n{page}");
}
