//! The binary itself: where it writes, and its documented exit codes.
#![allow(clippy::unwrap_used, reason = "test code")]

use std::net::TcpListener;
use std::process::{Command, Output};

/// An address where nothing listens.
fn nowhere() -> String {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    format!("http://{}", listener.local_addr().unwrap())
}

fn leadhand(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_leadhand"))
        .args(arguments)
        .env_clear()
        .env("LEADHAND_SERVER", nowhere())
        .env("LEADHAND_PATIENCE", "0")
        .output()
        .unwrap()
}

/// Exit code, and standard error; nothing may stand on standard output.
fn failed(arguments: &[&str]) -> (i32, String) {
    let output = leadhand(arguments);
    assert!(output.stdout.is_empty(), "{}", String::from_utf8_lossy(&output.stdout));
    (output.status.code().unwrap(), String::from_utf8(output.stderr).unwrap())
}

#[test]
fn a_server_that_is_not_there_is_exit_code_5_and_one_sentence() {
    let (code, said) = failed(&["clock", "off"]);
    assert_eq!(code, 5);
    assert!(said.starts_with("leadhand: can't reach the server at http://127.0.0.1:"), "{said}");
    assert_eq!(said.lines().count(), 1, "{said}");
}

#[test]
fn the_help_of_a_correction_asks_for_the_entry_beside_what_changes() {
    for verb in ["correct", "ask"] {
        let output = leadhand(&["clock", verb, "--help"]);
        let said = String::from_utf8(output.stdout).unwrap();
        let usage = said.lines().find(|line| line.starts_with("Usage:")).unwrap();
        assert!(usage.ends_with("<ENTRY>") && usage.contains("--reason <REASON> <--from <TIME>|"), "{usage}");
    }
}

#[test]
fn a_wrong_command_line_is_exit_code_2() {
    for wrong in [
        &["fly"][..],
        &["job", "show", "twelve"],
        &["bay", "add", "a", "--kind", "ramp", "--rated-kg", "3000"],
        &["bay", "add", "a", "--kind", "two-post-lift"],
        &["bay", "set", "a", "--rated-kg", "3000", "--no-rating", "--reason", "x"],
        &["stock", "issue", "4", "--quantity", "3"],
        &["token", "issue", "--role", "lead"],
        &["shop", "day", "set", "2031-04-18"],
        &["job", "promise", "4"],
        &["bay", "set", "a", "--reason", "x"],
        &["bay", "correct", "4", "--reason", "x"],
        &["clock", "correct", "4", "--reason", "x"],
        &["clock", "ask", "4", "--reason", "x"],
        &["clock", "answer", "4", "1", "--reason", "x"],
        &["clock", "answer", "4", "1", "--take", "--decline", "--reason", "x"],
        &["strip", "add", "4", "strip", "A nut", "--cure", "20000"],
        &["--output", "csv", "board"],
        &["--request-id", "7", "clock", "off"],
        &["--server", "nowhere", "board"],
    ] {
        let (code, said) = failed(wrong);
        assert_eq!(code, 2, "{wrong:?}: {said}");
        assert!(!said.is_empty(), "{wrong:?} failed without a word");
    }
}

#[test]
fn a_token_file_that_is_not_there_or_empty_is_exit_code_4() {
    let (code, said) = failed(&["--token-file", "/nonexistent/token", "whoami"]);
    assert_eq!(code, 4);
    assert!(said.contains("/nonexistent/token"), "{said}");
    let empty = tempfile::NamedTempFile::new().unwrap();
    let (code, said) = failed(&["--token-file", empty.path().to_str().unwrap(), "whoami"]);
    assert_eq!((code, said.contains("is empty")), (4, true), "{said}");
}

#[test]
fn the_exit_codes_are_documented_in_two_places() {
    for arguments in [&["help", "exit-codes"][..], &["--help"], &["exit-codes"]] {
        let output = leadhand(arguments);
        assert_eq!(output.status.code(), Some(0));
        let text = String::from_utf8(output.stdout).unwrap();
        for code in 0..=6 {
            assert!(text.contains(&format!("\n  {code}  ")), "{code} is missing from {arguments:?}:\n{text}");
        }
    }
}

#[test]
fn an_option_without_effect_is_said() {
    let output = leadhand(&["--at", "09:00", "exit-codes"]);
    assert_eq!(output.status.code(), Some(0));
    assert!(String::from_utf8(output.stderr).unwrap().contains("--at has no effect here"));
}
