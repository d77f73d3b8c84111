//! Migrations carry their time, a verb and a noun in their name, and their reason in their first comment.

use crate::tree;

const REASON_MIN_CHARS: usize = 40;

#[test]
fn every_migration_is_named_by_time_verb_and_noun_and_says_why() {
    let mut wrong = Vec::new();
    let mut found = 0;
    for path in tree::files().iter().filter(|path| path.starts_with("migrations")) {
        found += 1;
        let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
        if !well_named(name) {
            wrong.push(format!("{name} should be called YYYYMMDDHHMMSS_verb_noun.sql"));
        }
        let reason = reason(&tree::text(path).unwrap_or_default());
        if reason.chars().count() < REASON_MIN_CHARS {
            wrong.push(format!("{name} should begin with a comment, \"-- Why: …\", that says why it is there"));
        }
    }
    assert!(found > 0, "there is no migration at all");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn well_named(name: &str) -> bool {
    let Some((time, words)) = name.strip_suffix(".sql").and_then(|stem| stem.split_once('_')) else { return false };
    let words: Vec<&str> = words.split('_').collect();
    time.len() == 14
        && time.bytes().all(|byte| byte.is_ascii_digit())
        && words.len() >= 2
        && words.iter().all(|word| !word.is_empty() && word.bytes().all(|byte| byte.is_ascii_lowercase()))
}

/// The comment that a file begins with, if it says that it is the reason.
fn reason(sql: &str) -> String {
    let lines: Vec<&str> = sql.lines().map_while(|line| line.strip_prefix("--")).map(str::trim).collect();
    lines.join(" ").strip_prefix("Why:").unwrap_or_default().trim().to_owned()
}

#[test]
fn the_checks_refuse_what_they_should() {
    assert!(well_named("20260102030405_create_jobs.sql"));
    for name in ["2026_create_jobs.sql", "20260102030405_jobs.sql", "20260102030405_Create_Jobs.sql", "create_jobs.sql"]
    {
        assert!(!well_named(name), "{name}");
    }
    assert_eq!(reason("-- Why: one\n-- two\n\n-- three"), "one two");
    assert_eq!(reason("-- jobs\ncreate table job ();"), "");
}
