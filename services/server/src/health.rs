//! What the gRPC health service says: serving while the database answers, and not serving from
//! the beginning of a shutdown on.

use leadhand_app::App;
use leadhand_app::access::{OPERATOR, PERMISSIONS};
use std::collections::BTreeSet;
use std::time::Duration;
use tokio_util::sync::CancellationToken;
use tonic_health::ServingStatus;
use tonic_health::server::HealthReporter;

const LOOK_EVERY: Duration = Duration::from_secs(2);
const ANSWER_WITHIN: Duration = Duration::from_secs(2);

/// The server as a whole, which has no name, and every service of the contract.
fn names() -> BTreeSet<&'static str> {
    let paths = PERMISSIONS.iter().map(|(path, _)| path).chain(OPERATOR);
    std::iter::once("").chain(paths.filter_map(|path| path.split('/').nth(1))).collect()
}

/// Says that all services are in this state.
pub async fn say(reporter: &HealthReporter, status: ServingStatus) {
    for name in names() {
        reporter.set_service_status(name, status).await;
    }
}

/// Ends the streams of those who watch the health.
pub async fn end_watching(mut reporter: HealthReporter) {
    for name in names() {
        reporter.clear_service_status(name).await;
    }
}

/// Looks at the database until told to stop.
pub async fn watch(app: App, reporter: HealthReporter, stop: CancellationToken) {
    let mut was = true;
    loop {
        tokio::select! {
            () = stop.cancelled() => return,
            () = tokio::time::sleep(LOOK_EVERY) => {}
        }
        let is = matches!(tokio::time::timeout(ANSWER_WITHIN, app.ping()).await, Ok(Ok(())));
        if is != was && !stop.is_cancelled() {
            tracing::warn!(serving = is, "the database {}", if is { "answers again" } else { "does not answer" });
            say(&reporter, if is { ServingStatus::Serving } else { ServingStatus::NotServing }).await;
        }
        was = is;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // gRPC health checking protocol: the empty name is the server as a whole.
    #[test]
    fn every_service_has_a_health() {
        let names = names();
        assert!(names.contains("") && names.contains("leadhand.v1.BoardService"), "{names:?}");
        assert_eq!(names.len(), 18);
    }
}
