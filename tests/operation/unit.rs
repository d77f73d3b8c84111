//! The unit for systemd, as systemd itself judges it.

use std::process::{Command, Output};

/// Tenths of systemd's own figure of exposure, from 0 to 100; its default of "OK" ends at 50.
const EXPOSURE_MAX: &str = "--threshold=20";

fn analyze(args: &[&str]) -> Option<Output> {
    Command::new("systemd-analyze").args(args).output().ok()
}

/// A unit of the repository whose program need not be installed here.
fn judged(name: &str, unit: &str, installed: &str) {
    let start = format!("ExecStart={installed}");
    assert!(unit.contains(&start), "{name} starts {installed}");
    let dir = tempfile::TempDir::new().unwrap();
    let path = dir.path().join(name);
    std::fs::write(&path, unit.replace(&start, "ExecStart=/bin/true")).unwrap();
    let path = path.to_str().unwrap();
    let Some(verified) = analyze(&["verify", "--man=no", path]) else {
        println!("skipped: there is no systemd-analyze; install systemd");
        return;
    };
    let said = String::from_utf8_lossy(&verified.stderr);
    assert!(verified.status.success() && said.trim().is_empty(), "{name}: {said}");
    let exposed = analyze(&["security", "--offline=true", "--no-pager", EXPOSURE_MAX, path]).unwrap();
    assert!(exposed.status.success(), "{name}: {}", String::from_utf8_lossy(&exposed.stdout));
}

#[test]
fn systemd_accepts_the_units_and_finds_them_hardened() {
    let server = include_str!("../../deploy/systemd/leadhandd.service");
    judged("leadhandd.service", server, "/usr/local/bin/leadhandd serve");
    let pages = include_str!("../../deploy/systemd/leadhand-screen.service");
    judged("leadhand-screen.service", pages, "/usr/local/bin/leadhand-screen");
}

/// What the unit hands to the program is what the program reads.
#[test]
fn the_pages_are_told_where_their_token_lies() {
    let unit = include_str!("../../deploy/systemd/leadhand-screen.service");
    assert!(unit.contains("\nLoadCredential=token:/etc/leadhand/screen.token\n"));
    assert!(unit.contains("\nEnvironment=LEADHAND_TOKEN_FILE=%d/token\n"));
    let users = include_str!("../../deploy/systemd/leadhand.sysusers");
    for user in ["leadhand", "leadhand-screen"] {
        assert!(users.lines().any(|line| line.starts_with(&format!("u {user} "))), "{user} is made");
    }
}
