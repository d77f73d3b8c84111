//! The unit for systemd, as systemd itself judges it.

use std::process::{Command, Output};

/// Tenths of systemd's own figure of exposure, from 0 to 100; its default of "OK" ends at 50.
const EXPOSURE_MAX: &str = "--threshold=20";

fn analyze(args: &[&str]) -> Option<Output> {
    Command::new("systemd-analyze").args(args).output().ok()
}

#[test]
fn systemd_accepts_the_unit_and_finds_it_hardened() {
    let unit = include_str!("../../deploy/systemd/leadhandd.service");
    // What is started need not be installed here.
    let installed = "ExecStart=/usr/local/bin/leadhandd serve";
    assert!(unit.contains(installed));
    let dir = tempfile::TempDir::new().unwrap();
    let path = dir.path().join("leadhandd.service");
    std::fs::write(&path, unit.replace(installed, "ExecStart=/bin/true")).unwrap();
    let path = path.to_str().unwrap();
    let Some(verified) = analyze(&["verify", "--man=no", path]) else {
        println!("skipped: there is no systemd-analyze; install systemd");
        return;
    };
    let said = String::from_utf8_lossy(&verified.stderr);
    assert!(verified.status.success() && said.trim().is_empty(), "{said}");
    let exposed = analyze(&["security", "--offline=true", "--no-pager", EXPOSURE_MAX, path]).unwrap();
    assert!(exposed.status.success(), "{}", String::from_utf8_lossy(&exposed.stdout));
}
