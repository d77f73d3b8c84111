//! The direction of dependencies, from `cargo metadata`.

use std::collections::{BTreeMap, BTreeSet};

use cargo_metadata::{DependencyKind, Metadata, MetadataCommand, Package, PackageId};

use crate::tree;

/// Which rooms of the house each room may know; the test package may know all of them.
const MAY_KNOW: [(&str, &[&str]); 15] = [
    ("leadhand-facts", &[]),
    ("leadhand-domain", &["leadhand-facts"]),
    ("leadhand-auditor", &["leadhand-facts"]),
    ("leadhand-planner", &["leadhand-facts"]),
    ("leadhand-reckoner", &["leadhand-facts"]),
    ("leadhand-store", &["leadhand-facts", "leadhand-domain", "leadhand-auditor"]),
    (
        "leadhand-app",
        &[
            "leadhand-facts",
            "leadhand-domain",
            "leadhand-auditor",
            "leadhand-planner",
            "leadhand-reckoner",
            "leadhand-store",
        ],
    ),
    ("leadhand-rpc", &["leadhand-facts", "leadhand-domain", "leadhand-reckoner", "leadhand-app", "leadhand-proto"]),
    (
        "leadhand-server",
        &[
            "leadhand-facts",
            "leadhand-domain",
            "leadhand-store",
            "leadhand-app",
            "leadhand-rpc",
            "leadhand-proto",
            "leadhand-tls",
        ],
    ),
    ("leadhand-proto", &[]),
    ("leadhand-sdk", &["leadhand-proto"]),
    ("leadhand-cli", &["leadhand-pictures", "leadhand-sdk", "leadhand-proto"]),
    // A listener for both, which knows nothing of the shop.
    ("leadhand-tls", &[]),
    ("leadhand-pictures", &["leadhand-sdk"]),
    ("leadhand-screen", &["leadhand-pictures", "leadhand-sdk", "leadhand-tls"]),
];

/// What a room's own tests may know besides: domain and planner are proved by the auditor.
const TESTS_MAY_KNOW: [(&str, &str); 3] = [
    ("leadhand-domain", "leadhand-auditor"),
    ("leadhand-planner", "leadhand-auditor"),
    ("leadhand-server", "leadhand-sdk"),
];

const TEST_PACKAGE: &str = "leadhand-tests";

/// No clock, no network, no database, no chance: not even through somebody else.
const PURE: [&str; 5] =
    ["leadhand-facts", "leadhand-domain", "leadhand-auditor", "leadhand-planner", "leadhand-reckoner"];
const IMPURE: [&str; 6] = ["tokio", "tonic", "sqlx", "sqlx-core", "rand", "hyper"];

/// Who may name these crates.
const NAMED_BY: [(&str, &[&str]); 2] = [
    ("sqlx", &["leadhand-store", TEST_PACKAGE]),
    ("tonic", &["leadhand-proto", "leadhand-rpc", "leadhand-server", "leadhand-sdk", "leadhand-cli", TEST_PACKAGE]),
];

fn metadata() -> Metadata {
    MetadataCommand::new()
        .manifest_path(tree::root().join("Cargo.toml"))
        .other_options(["--locked".to_owned()])
        .exec()
        .expect("cargo metadata")
}

fn house(metadata: &Metadata) -> Vec<&Package> {
    metadata.workspace_packages().into_iter().filter(|package| package.name.as_str() != TEST_PACKAGE).collect()
}

#[test]
fn every_room_knows_only_what_lies_below_it() {
    let metadata = metadata();
    let rooms: BTreeSet<&str> = metadata.workspace_packages().iter().map(|package| package.name.as_str()).collect();
    let may_know: BTreeMap<&str, &[&str]> = MAY_KNOW.into();
    let mut wrong = Vec::new();
    for package in house(&metadata) {
        let name = package.name.as_str();
        let Some(allowed) = may_know.get(name) else {
            wrong.push(format!("{name} has no line in MAY_KNOW; say which rooms it may know"));
            continue;
        };
        for dependency in package.dependencies.iter().filter(|dependency| rooms.contains(dependency.name.as_str())) {
            let known = dependency.name.as_str();
            let for_tests = dependency.kind == DependencyKind::Development && TESTS_MAY_KNOW.contains(&(name, known));
            if !allowed.contains(&known) && !for_tests {
                wrong.push(format!("{name} must not know {known}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_line_of_the_table_is_a_room() {
    let metadata = metadata();
    let rooms: BTreeSet<&str> = metadata.workspace_packages().iter().map(|package| package.name.as_str()).collect();
    for (name, allowed) in MAY_KNOW {
        assert!(rooms.contains(name), "MAY_KNOW names {name}, which is no package of this workspace");
        for known in allowed {
            assert!(rooms.contains(known), "MAY_KNOW lets {name} know {known}, which is no package of this workspace");
        }
    }
}

#[test]
fn pure_rooms_reach_nothing_impure_by_any_way() {
    let metadata = metadata();
    for room in PURE {
        let reached = reached_from(&metadata, room);
        assert!(reached.contains(room), "{room} is no package of this workspace");
        let impure: Vec<_> = IMPURE.iter().filter(|name| reached.contains(**name)).collect();
        assert!(
            impure.is_empty(),
            "{room} must stay pure, but reaches {impure:?}; see `cargo tree -p {room} -i <crate>`"
        );
    }
}

/// The control of the test above: it can see what it looks for.
#[test]
fn the_store_is_seen_to_reach_sqlx_and_tokio() {
    let reached = reached_from(&metadata(), "leadhand-store");
    for name in ["sqlx", "sqlx-core", "tokio"] {
        assert!(reached.contains(name), "leadhand-store should reach {name}");
    }
}

#[test]
fn sql_and_transport_are_named_only_where_they_belong() {
    let metadata = metadata();
    for (library, allowed) in NAMED_BY {
        for package in metadata.workspace_packages() {
            let names = package.dependencies.iter().any(|dependency| dependency.name == library);
            assert!(!names || allowed.contains(&package.name.as_str()), "{} must not know {library}", package.name);
        }
    }
}

/// The names of all crates that are compiled into a package, itself included.
fn reached_from(metadata: &Metadata, name: &str) -> BTreeSet<String> {
    let resolve = metadata.resolve.as_ref().expect("cargo metadata resolves");
    let nodes: BTreeMap<&PackageId, _> = resolve.nodes.iter().map(|node| (&node.id, node)).collect();
    let mut open: Vec<&PackageId> =
        metadata.packages.iter().filter(|package| package.name.as_str() == name).map(|package| &package.id).collect();
    let mut seen: BTreeSet<&PackageId> = BTreeSet::new();
    while let Some(id) = open.pop() {
        if seen.insert(id) {
            open.extend(nodes[id].deps.iter().filter(|dep| is_normal(dep)).map(|dep| &dep.pkg));
        }
    }
    metadata
        .packages
        .iter()
        .filter(|package| seen.contains(&package.id))
        .map(|package| package.name.to_string())
        .collect()
}

fn is_normal(dependency: &cargo_metadata::NodeDep) -> bool {
    dependency.dep_kinds.iter().any(|kind| kind.kind == DependencyKind::Normal)
}
