//! The changelog has the form that its readers and programs expect. Outside source: Keep a Changelog 1.1.0, "Guiding
//! Principles" and "Types of changes".

use crate::tree;
use std::path::Path;

const KINDS: [&str; 6] = ["Added", "Changed", "Deprecated", "Removed", "Fixed", "Security"];

/// `[Unreleased]`, or `[1.2.3] - 2031-03-07`.
fn is_version(heading: &str) -> bool {
    let Some((version, rest)) = heading.strip_prefix('[').and_then(|heading| heading.split_once(']')) else {
        return false;
    };
    if version == "Unreleased" {
        return rest.is_empty();
    }
    let figures = version.split('.').filter(|figure| figure.parse::<u32>().is_ok()).count();
    let day = rest.strip_prefix(" - ").unwrap_or_default();
    let dashes = day.char_indices().filter(|(_, letter)| *letter == '-').map(|(at, _)| at);
    figures == 3 && day.len() == 10 && dashes.eq([4, 7]) && day.split('-').all(|part| part.parse::<u32>().is_ok())
}

#[test]
fn versions_and_kinds_of_changes_are_named_as_agreed() {
    let text = tree::text(Path::new("CHANGELOG.md")).expect("the changelog");
    assert!(text.starts_with("# Changelog\n"), "it begins with its title");
    let versions: Vec<&str> = text.lines().filter_map(|line| line.strip_prefix("## ")).collect();
    assert_eq!(versions.first(), Some(&"[Unreleased]"), "what comes next stands first");
    for version in &versions {
        assert!(is_version(version), "'{version}' is neither [Unreleased] nor [x.y.z] - YYYY-MM-DD");
    }
    let mut kind = "";
    for line in text.lines() {
        if let Some(heading) = line.strip_prefix("### ") {
            assert!(KINDS.contains(&heading), "'{heading}' is none of {KINDS:?}");
            kind = heading;
        } else if line.starts_with("## ") {
            kind = "";
        } else if line.starts_with("- ") {
            assert!(!kind.is_empty(), "an entry stands under no kind of change: {line}");
        }
    }
    assert!(!kind.is_empty(), "the last version has no changes");
}
