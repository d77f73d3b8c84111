//! What README.md and DEVELOPERS.md name in backticks exists.

use std::{collections::BTreeSet, path::Path};

use cargo_metadata::MetadataCommand;

use crate::tree;

const DOCUMENTS: [&str; 2] = ["README.md", "DEVELOPERS.md"];
const FILE_ENDINGS: [&str; 7] = [".rs", ".toml", ".md", ".lock", ".sql", ".proto", ".binpb"];

#[test]
fn every_path_and_crate_that_the_documents_name_exists() {
    let files = tree::files();
    let file_names: BTreeSet<&str> =
        files.iter().filter_map(|path| path.file_name().and_then(|name| name.to_str())).collect();
    let crates = names_of_crates();
    let mut missing = Vec::new();
    for document in DOCUMENTS {
        let path = Path::new(document);
        let Some(text) = files.iter().any(|file| file == path).then(|| tree::text(path)).flatten() else { continue };
        for word in quoted(&text) {
            let fine = match kind(&word) {
                Kind::Path => tree::root().join(&word).exists(),
                Kind::FileName => file_names.contains(word.as_str()),
                Kind::Crate => crates.contains(&word),
                Kind::Other => true,
            };
            if !fine {
                missing.push(format!("{document} names `{word}`, which doesn't exist"));
            }
        }
    }
    assert!(missing.is_empty(), "{}", missing.join("\n"));
}

#[derive(Debug, PartialEq)]
enum Kind {
    Path,
    FileName,
    Crate,
    Other,
}

fn kind(word: &str) -> Kind {
    let plain = word.bytes().all(|byte| byte.is_ascii_alphanumeric() || b"._-/".contains(&byte));
    // An absolute path or an HTTP path is the machine's or the server's; a method's full name is the contract's.
    let elsewhere = word.starts_with('/') || word.starts_with("leadhand.v1.") || word.starts_with("target/");
    if !plain || elsewhere {
        Kind::Other
    } else if word.contains('/') {
        Kind::Path
    } else if FILE_ENDINGS.iter().any(|ending| word.len() > ending.len() && word.ends_with(ending)) {
        Kind::FileName
    } else if word.starts_with("leadhand-") {
        Kind::Crate
    } else {
        Kind::Other
    }
}

/// What stands between single backticks, outside of fenced blocks.
fn quoted(markdown: &str) -> Vec<String> {
    let mut fenced = false;
    let mut words = Vec::new();
    for line in markdown.lines() {
        if line.trim_start().starts_with("```") {
            fenced = !fenced;
        } else if !fenced {
            words.extend(line.split('`').skip(1).step_by(2).map(str::to_owned));
        }
    }
    words
}

/// Packages and their programs.
fn names_of_crates() -> BTreeSet<String> {
    let metadata =
        MetadataCommand::new().manifest_path(tree::root().join("Cargo.toml")).no_deps().exec().expect("cargo metadata");
    let packages = metadata.workspace_packages();
    let targets = packages.iter().flat_map(|package| package.targets.iter().map(|target| target.name.clone()));
    targets.chain(packages.iter().map(|package| package.name.to_string())).collect()
}

#[test]
fn words_are_told_apart() {
    for (word, expected) in [
        ("services/facts", Kind::Path),
        ("deploy/check", Kind::Path),
        ("deny.toml", Kind::FileName),
        ("leadhand-facts", Kind::Crate),
        ("/healthz", Kind::Other),
        ("leadhand.v1.JobService/OpenJob", Kind::Other),
        ("leadhand board --live", Kind::Other),
        ("apply(state, fact)", Kind::Other),
    ] {
        assert_eq!(kind(word), expected, "{word}");
    }
    assert_eq!(quoted("a `b` c `d`\n```\n`e`\n```\n`f`"), ["b", "d", "f"]);
}
