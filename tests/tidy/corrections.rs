//! The table of what takes back what stands for every writing method of the contract, and names no other.

use std::{collections::BTreeSet, path::Path};

use prost::Message;
use prost_types::FileDescriptorSet;

use crate::tree;

const TABLE: &str = "deploy/handbook/corrections.md";
const COLUMNS: usize = 5;

/// Methods whose request carries a write's circumstances.
fn writes() -> BTreeSet<String> {
    let set = FileDescriptorSet::decode(leadhand_proto::DESCRIPTOR_SET).expect("the descriptor set decodes");
    let files: Vec<_> = set.file.iter().filter(|file| file.package().starts_with("leadhand.")).collect();
    let messages = || files.iter().flat_map(|file| &file.message_type);
    let carries = |name: &str| {
        let name = name.rsplit('.').next().unwrap_or_default();
        messages().any(|message| message.name() == name && message.field.iter().any(|field| field.name() == "write"))
    };
    let methods = files.iter().flat_map(|file| &file.service).flat_map(|service| &service.method);
    methods.filter(|method| carries(method.input_type())).map(|method| method.name().to_owned()).collect()
}

/// The cells of each line of the table, without its head.
fn lines(text: &str) -> Vec<Vec<String>> {
    let rows = text.lines().filter_map(|line| line.strip_prefix("| `"));
    rows.map(|row| format!("`{row}").trim_end_matches('|').split('|').map(|cell| cell.trim().to_owned()).collect())
        .collect()
}

/// Names of methods in backticks: words in camel case.
fn methods_in(cell: &str) -> Vec<String> {
    let quoted = cell.split('`').skip(1).step_by(2);
    let camel = |word: &&str| {
        word.starts_with(|first: char| first.is_ascii_uppercase()) && word.chars().all(char::is_alphanumeric)
    };
    quoted.filter(camel).map(str::to_owned).collect()
}

/// What is wrong with a table for these methods.
fn faults(text: &str, writes: &BTreeSet<String>) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut seen = BTreeSet::new();
    for cells in lines(text) {
        let named = methods_in(&cells[0]);
        let [command] = named.as_slice() else {
            wrong.push(format!("'{}' is not one command", cells[0]));
            continue;
        };
        if cells.len() != COLUMNS || cells[2].is_empty() || cells[4].is_empty() {
            wrong.push(format!("the line of {command} should say by whom, until when and what remains"));
        }
        if !seen.insert(command.clone()) {
            wrong.push(format!("{command} stands there twice"));
        }
        let takes_back = cells.get(1).map(String::as_str).unwrap_or_default();
        if methods_in(takes_back).is_empty() && takes_back != "nothing" {
            wrong.push(format!("the line of {command} names nothing that takes it back, and does not say 'nothing'"));
        }
        let all = cells.iter().flat_map(|cell| methods_in(cell));
        wrong.extend(all.filter(|name| !writes.contains(name)).map(|name| format!("{name} is no writing method")));
    }
    wrong.extend(writes.difference(&seen).map(|name| format!("{name} is missing")));
    wrong
}

#[test]
fn every_writing_method_says_what_takes_it_back() {
    let text = tree::text(Path::new(TABLE)).expect("the table is there");
    let writes = writes();
    assert!(writes.len() > 30, "the contract has {} writing methods", writes.len());
    let faults = faults(&text, &writes);
    assert!(faults.is_empty(), "{TABLE}:\n{}", faults.join("\n"));
}

#[test]
fn the_check_refuses_what_it_should() {
    let writes: BTreeSet<String> = ["Tick", "Untick"].map(str::to_owned).into();
    let whole = "| command | back |\n|---|---|\n| `Tick` | `Untick` | lead | always | it |\n| `Untick` | nothing | nobody | | it |\n";
    assert_eq!(faults(whole, &writes), Vec::<String>::new());
    for (from, to, said) in [
        ("| `Untick` | nothing | nobody | | it |\n", "", "Untick is missing"),
        ("| `Untick` | lead", "| `Rub` | lead", "Rub is no writing method"),
        ("| nothing |", "| |", "the line of Untick names nothing"),
        ("| nobody |", "| |", "the line of Untick should say"),
        ("| `Untick` | nothing", "| `Tick` | nothing", "Tick stands there twice"),
    ] {
        let broken = whole.replace(from, to);
        assert_ne!(broken, whole);
        assert!(faults(&broken, &writes).iter().any(|fault| fault.starts_with(said)), "{said}: {broken}");
    }
}
