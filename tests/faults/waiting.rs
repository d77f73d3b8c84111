//! Waiting for a condition, with an end.

use anyhow::{Context, Result};
use std::future::Future;
use std::time::Duration;
use tokio::time::{sleep, timeout};

/// Between two looks at a condition.
const LOOK_EVERY: Duration = Duration::from_millis(20);

/// Looks again and again until there is an answer.
pub async fn until<T, F: Future<Output = Option<T>>>(
    within: Duration,
    what: &str,
    mut look: impl FnMut() -> F,
) -> Result<T> {
    let found = async {
        loop {
            if let Some(found) = look().await {
                return found;
            }
            sleep(LOOK_EVERY).await;
        }
    };
    timeout(within, found).await.with_context(|| format!("waited {within:?} in vain for {what}"))
}
