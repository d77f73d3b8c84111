//! Handshakes under way: so many at a time, and the oldest gives way, so that silent ones keep nobody out.

use std::collections::VecDeque;
use tokio::task::AbortHandle;

/// Handshakes at a time; they cost work before anybody has shown a token.
const HANDSHAKES_MAX: usize = 256;

/// Those that are not done yet, the oldest first.
#[derive(Default)]
pub(crate) struct Handshakes(VecDeque<AbortHandle>);

impl Handshakes {
    /// Begins one. What waits to be taken by a busy server counts as well: what is open stays bounded.
    pub fn begin(&mut self, handshake: impl Future<Output = ()> + Send + 'static) {
        self.0.retain(|one| !one.is_finished());
        if self.0.len() >= HANDSHAKES_MAX
            && let Some(oldest) = self.0.pop_front()
        {
            oldest.abort();
        }
        self.0.push_back(tokio::spawn(handshake).abort_handle());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;
    use tokio::sync::oneshot;
    use tokio::time::timeout;

    const WITHIN: Duration = Duration::from_secs(10);

    fn silent(handshakes: &mut Handshakes) -> oneshot::Receiver<()> {
        let (held, dropped) = oneshot::channel::<()>();
        handshakes.begin(async move {
            let _held = held;
            std::future::pending::<()>().await;
        });
        dropped
    }

    #[tokio::test(start_paused = true)]
    async fn silent_handshakes_give_way_to_the_next_one() {
        let mut handshakes = Handshakes::default();
        let mut waiting: Vec<_> = (0..HANDSHAKES_MAX).map(|_| silent(&mut handshakes)).collect();
        let (done, told) = oneshot::channel();
        handshakes.begin(async move {
            let _ = done.send(());
        });
        told.await.unwrap();
        let oldest = timeout(WITHIN, &mut waiting[0]).await;
        assert!(oldest.expect("the oldest still goes on").is_err());
        assert!(waiting[1..].iter_mut().all(|one| one.try_recv() == Err(oneshot::error::TryRecvError::Empty)));
        assert!(handshakes.0.len() <= HANDSHAKES_MAX);
    }
}
