//! Postgres in a container. Its label carries the work tree's key, which is how it is found and removed later: there
//! is no reaper beside it.

use std::process::{Command, Stdio};

use anyhow::{Context, Result, ensure};
use testcontainers::{
    GenericImage, ImageExt,
    core::{IntoContainerPort, Mount},
    runners::AsyncRunner,
};

use super::place;

const LABEL: &str = "leadhand.tests";
const DATA_DIR: &str = "/var/lib/postgresql/data";

/// The image to start, from `LEADHAND_TEST_IMAGE`.
pub(super) fn image() -> String {
    std::env::var("LEADHAND_TEST_IMAGE").unwrap_or_else(|_| "leadhand-postgres:15".to_owned())
}

/// Whether a Docker engine answers and has the image.
pub(super) fn available(image: &str) -> bool {
    Command::new("docker")
        .args(["image", "inspect", image])
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

/// Starts a container that outlives this process; answers with its host and port.
pub(super) async fn start(image: &str) -> Result<(String, u16)> {
    let (name, tag) = image.rsplit_once(':').unwrap_or((image, "latest"));
    let container = GenericImage::new(name, tag)
        .with_exposed_port(5432.tcp())
        .with_label(LABEL, place::key())
        // Our own image trusts by itself; an official one does when it is told to.
        .with_env_var("POSTGRES_HOST_AUTH_METHOD", "trust")
        .with_env_var("PGDATA", format!("{DATA_DIR}/cluster"))
        .with_mount(Mount::tmpfs_mount(DATA_DIR).with_mode(0o1777))
        .with_shm_size(256 << 20)
        .with_cmd(["-c", "max_connections=300", "-c", "fsync=on"])
        .start()
        .await
        .with_context(|| format!("cannot start a container from {image}"))?;
    let host = container.get_host().await.context("cannot tell the container's host")?.to_string();
    let port = container.get_host_port_ipv4(5432.tcp()).await.context("cannot tell the container's port")?;
    // Dropping the handle would remove the container, and every test process needs it after this one.
    std::mem::forget(container);
    // A name may resolve to an address family that the port is not published on.
    let host = if host == "localhost" { "127.0.0.1".to_owned() } else { host };
    Ok((host, port))
}

/// Removes this work tree's containers.
pub(super) fn remove() -> Result<()> {
    let listed = Command::new("docker")
        .args(["ps", "--all", "--quiet", "--filter"])
        .arg(format!("label={LABEL}={}", place::key()))
        .stdin(Stdio::null())
        .output();
    // Without a docker command there is nothing to remove.
    let Ok(listed) = listed else { return Ok(()) };
    let ids = String::from_utf8_lossy(&listed.stdout).into_owned();
    let ids: Vec<&str> = ids.split_whitespace().collect();
    if ids.is_empty() {
        return Ok(());
    }
    let removed = Command::new("docker")
        .args(["rm", "--force", "--volumes"])
        .args(&ids)
        .stdin(Stdio::null())
        .output()
        .context("cannot run docker rm")?;
    ensure!(
        removed.status.success(),
        "docker could not remove the tests' containers {}: {}",
        ids.join(" "),
        String::from_utf8_lossy(&removed.stderr).trim()
    );
    Ok(())
}
