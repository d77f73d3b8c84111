//! The check makes the reckoner's vectors anew, and passes over them only where there is nothing to make them with.

use std::{
    fs::{Permissions, set_permissions, write},
    os::unix::fs::PermissionsExt,
    path::Path,
    process::{Command, Output},
};

use crate::tree;

/// The script, by a python that ends with one number when it is asked whether it can, and with another when it compares.
fn remade(folder: &Path, can: i32, compared: i32) -> Output {
    let python = folder.join("python");
    let text = format!("#!/bin/sh\ncase \"$*\" in *--can) exit {can} ;; esac\necho compared\nexit {compared}\n");
    write(&python, text).expect("a python is written");
    set_permissions(&python, Permissions::from_mode(0o755)).expect("it may run");
    run(&python)
}

fn run(python: &Path) -> Output {
    let mut script = Command::new(tree::root().join("deploy/remake-vectors"));
    script.env("LEADHAND_REFERENCE_PYTHON", python).output().expect("the script runs")
}

fn says(output: &Output, part: &str) -> bool {
    String::from_utf8_lossy(&output.stderr).contains(part)
}

#[test]
fn only_a_missing_package_passes_over_the_vectors() {
    let folder = tempfile::tempdir().expect("a folder");
    let missing = remade(folder.path(), 3, 1);
    assert!(missing.status.success() && says(&missing, "skipped: "), "{missing:?}");
    assert!(missing.stdout.is_empty(), "it compares nothing: {missing:?}");
    for broken in [1, 2, 127] {
        let output = remade(folder.path(), broken, 0);
        assert_eq!(output.status.code(), Some(1), "{output:?}");
        assert!(says(&output, &format!("ended with {broken}")) && output.stdout.is_empty(), "{output:?}");
    }
    let same = remade(folder.path(), 0, 0);
    assert!(same.status.success() && same.stdout == b"compared\n" && !says(&same, "skipped"), "{same:?}");
    let differs = remade(folder.path(), 0, 1);
    assert_eq!(differs.status.code(), Some(1), "{differs:?}");
    let none = run(&folder.path().join("nowhere"));
    assert!(none.status.success() && says(&none, "skipped: there is no "), "{none:?}");
}

#[test]
fn the_check_makes_them_anew() {
    let check = tree::text(Path::new("deploy/check")).expect("the check is there");
    assert!(check.lines().any(|line| line == "deploy/remake-vectors"), "nothing in the check compares the vectors");
}
