//! The sending end of a stream: one message at a time, each within a deadline. A client that is
//! slower skips what came in between, one that stands still is let go, and one that left is
//! noticed at once.

use crate::status::refused;
use futures::Stream;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::timeout;
use tonic::{Code, Status};

/// How long a client may take for one message.
const TAKEN_WITHIN: Duration = Duration::from_secs(10);

/// Where a stream's messages go in.
pub struct Outlet<M> {
    messages: mpsc::Sender<M>,
    end: mpsc::Sender<Status>,
}

/// Where they come out; after the last one, why it was the last.
pub struct Messages<M> {
    taken: mpsc::Receiver<M>,
    end: mpsc::Receiver<Status>,
    ended: bool,
}

/// Why a stream's task is over.
pub enum Over {
    /// The client left.
    Left,
    /// The client is told why.
    Told(Status),
}

impl From<Status> for Over {
    fn from(status: Status) -> Self {
        Self::Told(status)
    }
}

/// The two ends of a stream.
pub fn outlet<M>() -> (Outlet<M>, Messages<M>) {
    let (messages, taken) = mpsc::channel(1);
    let (end, told) = mpsc::channel(1);
    (Outlet { messages, end }, Messages { taken, end: told, ended: false })
}

impl<M> Outlet<M> {
    /// Waits until the client can take a message; what it is may be decided then.
    pub async fn room(&self) -> Result<mpsc::Permit<'_, M>, Over> {
        match timeout(TAKEN_WITHIN, self.messages.reserve()).await {
            Ok(Ok(permit)) => Ok(permit),
            Ok(Err(_)) => Err(Over::Left),
            Err(_) => Err(Over::Told(too_slow())),
        }
    }

    /// Waits until the client leaves.
    pub async fn left(&self) {
        self.messages.closed().await;
    }

    /// Ends the stream.
    pub fn end(self, over: Over) {
        if let Over::Told(status) = over {
            // A client that left in the meantime misses nothing.
            self.end.try_send(status).ok();
        }
    }
}

/// What a stream depends on has ended, and it can begin anew.
pub fn broken() -> Status {
    refused(Code::Unavailable, "STREAM_BROKEN", "the stream broke off; connect again to go on")
}

fn too_slow() -> Status {
    let message = "the stream was not read for 10 s and was ended; connect again to go on";
    refused(Code::ResourceExhausted, "SLOW_READER", message)
}

impl<M> Stream for Messages<M> {
    type Item = Result<M, Status>;

    fn poll_next(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        if self.ended {
            return Poll::Ready(None);
        }
        match self.taken.poll_recv(cx) {
            Poll::Pending => Poll::Pending,
            Poll::Ready(Some(message)) => Poll::Ready(Some(Ok(message))),
            Poll::Ready(None) => {
                self.ended = true;
                Poll::Ready(Some(Err(self.end.try_recv().unwrap_or_else(|_| broken()))))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio_stream::StreamExt;

    #[tokio::test(start_paused = true)]
    async fn a_client_that_stands_still_is_let_go_and_told_so() {
        let (outlet, mut messages) = outlet();
        outlet.room().await.map_err(drop).unwrap().send(1);
        let begun = tokio::time::Instant::now();
        let Err(over) = outlet.room().await else { panic!("there is no room") };
        assert_eq!(begun.elapsed(), TAKEN_WITHIN);
        outlet.end(over);
        assert_eq!(messages.next().await.unwrap().unwrap(), 1);
        assert_eq!(messages.next().await.unwrap().unwrap_err().code(), Code::ResourceExhausted);
        assert!(messages.next().await.is_none());
    }

    #[tokio::test]
    async fn a_client_that_left_is_noticed() {
        let (outlet, messages) = outlet::<i32>();
        drop(messages);
        outlet.left().await;
        assert!(matches!(outlet.room().await, Err(Over::Left)));
    }
}
