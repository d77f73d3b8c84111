//! What lies where, how long it is, and what no file says.

use std::path::Path;

use crate::tree;

const LINES_MAX: usize = 499;

const TOP_LEVEL: [&str; 19] = [
    ".cargo",
    ".ci",
    ".config",
    ".gitignore",
    ".rustfmt.toml",
    ".sqlx",
    "CHANGELOG.md",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "clients",
    "clippy.toml",
    "deny.toml",
    "deploy",
    "migrations",
    "proto",
    "rust-toolchain.toml",
];
const TOP_LEVEL_ROOMS: [&str; 2] = ["services", "tests"];

/// Hosts of package and image registries, each in two halves so that this file doesn't name one either. A build takes
/// its packages from wherever the machine is configured to.
const REGISTRY_HOSTS: [(&str, &str); 12] = [
    ("crates", ".io"),
    ("static.rust-lang", ".org"),
    ("docker", ".io"),
    ("docker", ".com"),
    ("ghcr", ".io"),
    ("quay", ".io"),
    ("gcr", ".io"),
    ("pypi", ".org"),
    ("python", "hosted.org"),
    ("npmjs", ".org"),
    ("deb.debian", ".org"),
    ("buf.build", "/"),
];

#[test]
fn the_top_level_holds_only_what_belongs_there() {
    let strange: Vec<String> = tree::top_level()
        .into_iter()
        .filter(|name| !TOP_LEVEL.contains(&name.as_str()) && !TOP_LEVEL_ROOMS.contains(&name.as_str()))
        .collect();
    assert!(strange.is_empty(), "these don't belong at the top of the repository: {strange:?}");
}

#[test]
fn no_source_file_is_too_long_to_be_read_at_once() {
    let long: Vec<String> = tree::files()
        .iter()
        .filter(|path| is_source(path))
        .filter_map(|path| {
            let lines = tree::text(path)?.lines().count();
            (lines > LINES_MAX).then(|| format!("{} has {lines} lines", path.display()))
        })
        .collect();
    assert!(long.is_empty(), "split these by meaning, at most {LINES_MAX} lines each:\n{}", long.join("\n"));
}

/// Code, schema, contract and scripts; not data, and not what a tool wrote.
fn is_source(path: &Path) -> bool {
    let script = path.starts_with("deploy") && path.extension().is_none();
    let extension = path.extension().and_then(|extension| extension.to_str()).unwrap_or_default();
    script || ["rs", "proto", "sql", "sh", "py", "html", "css", "js"].contains(&extension)
}

#[test]
fn no_file_names_a_registry() {
    let mut named = Vec::new();
    for path in tree::files().iter().filter(|path| !path.ends_with("Cargo.lock")) {
        let Some(text) = tree::text(path) else { continue };
        for (start, end) in REGISTRY_HOSTS {
            let host = format!("{start}{end}");
            if text.contains(&host) {
                named.push(format!("{} names {host}", path.display()));
            }
        }
    }
    assert!(named.is_empty(), "a registry's host belongs to the machine's configuration:\n{}", named.join("\n"));
}
