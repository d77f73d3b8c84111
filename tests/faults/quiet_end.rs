//! A command that has done its work ends in order: what wakes the other replicas is told before the
//! connections are closed, and nothing complains of a pool that is.

use kit::process::leadhandd;
use kit::{Leadhandd, fresh_database};
use std::time::Duration;

#[tokio::test]
async fn init_and_verify_end_without_a_warning() {
    let database = fresh_database().await;
    let url = database.app_url();
    let init = ["init", "--database-url", &url, "--shop", "Yard", "--zone", "UTC"];
    for command in [&init[..], &["verify", "--database-url", &url]] {
        // The order of an end is a matter of chance when it is not kept.
        for _ in 0..5 {
            let output = leadhandd(command).await.unwrap();
            let said = String::from_utf8_lossy(&output.stderr);
            assert!(output.status.success(), "{said}");
            assert!(!said.contains("WARN") && !said.contains("ERROR"), "{} said:\n{said}", command[0]);
        }
    }
}

#[tokio::test]
async fn a_server_that_is_told_to_end_does_so_without_a_warning() {
    let database = fresh_database().await;
    let mut replica = Leadhandd::over(&database.app_url()).unwrap();
    replica.start().await.unwrap();
    let status = replica.stop(Duration::from_secs(20)).await.unwrap();
    let log = replica.log_end();
    assert!(status.success() && log.contains("stopped"), "{log}");
    assert!(!log.contains("WARN") && !log.contains("ERROR"), "{log}");
}
