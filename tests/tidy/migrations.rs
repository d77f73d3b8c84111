//! Migrations carry their time, a verb and a noun in their name, and their reason in their first comment; and an older
//! replica can go on beside what they add. Outside source: common practice ("expand, then contract").

use std::path::Path;

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
fn what_a_migration_adds_an_older_replica_can_leave_alone_and_what_it_takes_away_is_announced() {
    let migrations = tree::files().into_iter().filter(|path| path.starts_with("migrations"));
    let wrong: Vec<String> = migrations
        .flat_map(|path| {
            let faults = side_by_side(&tree::text(&path).unwrap_or_default());
            faults.into_iter().map(move |fault| format!("{}: {fault}", path.display()))
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What an older replica could not live with.
fn side_by_side(sql: &str) -> Vec<String> {
    let code: Vec<&str> = sql.lines().map(|line| line.split("--").next().unwrap_or_default()).collect();
    let code = code.join(" ").to_uppercase();
    let statements = || code.split(';').map(|statement| statement.split_whitespace().collect::<Vec<_>>().join(" "));
    let mut faults = Vec::new();
    for statement in statements().filter(|statement| statement.starts_with("ALTER TABLE")) {
        for column in statement.split("ADD COLUMN ").skip(1) {
            let column = column.split(", ADD ").next().unwrap_or_default();
            if column.contains("NOT NULL") && !column.contains("DEFAULT") {
                faults.push(format!("an older replica can't fill the column {column}; give it a DEFAULT"));
            }
        }
    }
    let takes_away =
        ["DROP TABLE", "DROP COLUMN", "DROP FUNCTION", " RENAME ", " SET NOT NULL", " TYPE ", "REVOKE UPDATE"];
    let contracts = statements().any(|statement| takes_away.iter().any(|words| statement.contains(words)));
    if contracts && !code.contains("CREATE OR REPLACE FUNCTION LEAST_PROGRAM()") {
        faults
            .push("it takes something away, so it has to raise least_program() to the migration before it".to_owned());
    }
    faults
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
    assert_eq!(side_by_side("ALTER TABLE bay ADD COLUMN a text, ADD COLUMN b int NOT NULL DEFAULT 0;"), [""; 0]);
    assert_eq!(side_by_side("ALTER TABLE bay ADD COLUMN a text NOT NULL, ADD COLUMN b int DEFAULT 0").len(), 1);
    for contracts in ["ALTER TABLE bay DROP COLUMN a", "ALTER TABLE a\n  RENAME TO b", "ALTER TABLE a ALTER b TYPE int"]
    {
        assert_eq!(side_by_side(contracts).len(), 1, "{contracts}");
        let announced = format!("{contracts}; CREATE OR REPLACE FUNCTION least_program() RETURNS bigint");
        assert_eq!(side_by_side(&announced), [""; 0], "{contracts}");
    }
}

/// The list is written when a release is made, like the contract's published image.
#[test]
fn an_older_replica_notices_every_kind_of_fact_that_it_does_not_know() {
    let path = Path::new("services/facts/published.txt");
    let listed = tree::files().iter().any(|file| file == path);
    let published = listed.then(|| tree::text(path)).flatten().unwrap_or_default();
    let wrong = leadhand_facts::upcast::unnoticed(&published);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
