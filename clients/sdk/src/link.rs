//! A stream that is opened again when it ends, breaks or falls silent.

use crate::client::Client;
use crate::error::SdkError;
use crate::retry::{Backoff, Trouble};
use std::future::Future;
use tokio::time::{Instant, sleep, timeout};
use tonic::{Code, Response, Status, Streaming};

/// What came of listening.
pub(crate) enum Heard<M> {
    /// The server's word.
    Message(M),
    /// The stream is lost since then; listening again opens it anew.
    Lost { since: Instant, why: String },
    /// It can't be resumed.
    Ended(SdkError),
}

/// The state of one such stream.
pub(crate) struct Link<M> {
    stream: Option<Streaming<M>>,
    backoff: Option<Backoff>,
    started: Instant,
    last_word: Option<Instant>,
    said_lost: bool,
}

impl<M> Link<M> {
    /// Not open yet.
    pub(crate) fn new() -> Self {
        Self { stream: None, backoff: None, started: Instant::now(), last_word: None, said_lost: false }
    }

    /// Drops the stream, so that the next listening opens it anew.
    pub(crate) fn drop_stream(&mut self) {
        self.stream = None;
        self.backoff.get_or_insert_with(Backoff::new);
    }

    /// Waits for the next word; opens the stream where there is none.
    pub(crate) async fn hear<F, Fut>(&mut self, client: &Client, open: F) -> Heard<M>
    where
        F: Fn() -> Fut,
        Fut: Future<Output = Result<Response<Streaming<M>>, Status>>,
    {
        loop {
            let lost = match self.one_word(client, &open).await {
                Ok(message) => {
                    self.last_word = Some(Instant::now());
                    self.backoff = None;
                    self.said_lost = false;
                    return Heard::Message(message);
                }
                Err(lost) => lost,
            };
            self.drop_stream();
            let never_heard = self.last_word.is_none();
            if !lost.resumable || (never_heard && self.started.elapsed() > client.endpoint().budget) {
                return Heard::Ended(lost.error);
            }
            if !std::mem::replace(&mut self.said_lost, true) {
                return Heard::Lost { since: self.last_word.unwrap_or(self.started), why: lost.error.message };
            }
        }
    }

    async fn one_word<F, Fut>(&mut self, client: &Client, open: &F) -> Result<M, LostStream>
    where
        F: Fn() -> Fut,
        Fut: Future<Output = Result<Response<Streaming<M>>, Status>>,
    {
        if self.stream.is_none() {
            if let Some(backoff) = &mut self.backoff {
                sleep(backoff.wait()).await;
            }
            let opened = timeout(client.endpoint().deadline, open())
                .await
                .unwrap_or_else(|_| Err(Status::deadline_exceeded("no answer in time")));
            self.stream = Some(opened.map_err(|status| LostStream::by(client, &status))?.into_inner());
        }
        let Some(stream) = &mut self.stream else {
            return Err(LostStream::by(client, &Status::unavailable("the stream is not open")));
        };
        let silence = client.endpoint().silence();
        match timeout(silence, stream.message()).await {
            Ok(Ok(Some(message))) => Ok(message),
            Ok(Ok(None)) => Err(LostStream::by(client, &Status::unavailable("it ended the stream"))),
            Ok(Err(status)) => Err(LostStream::by(client, &status)),
            Err(_) => Err(LostStream {
                resumable: true,
                error: SdkError::local(Code::Unavailable, format!("no word from the server for {silence:?}")),
            }),
        }
    }
}

struct LostStream {
    resumable: bool,
    error: SdkError,
}

impl LostStream {
    /// A stream is only read, so more may be tried again than with a call: a server that is too
    /// busy, or that dropped a reader who fell behind, is simply asked later.
    fn by(client: &Client, status: &Status) -> Self {
        let trouble = Trouble::of(status);
        let resumable = trouble != Trouble::Refused || status.code() == Code::ResourceExhausted;
        Self { resumable, error: client.explain(status, trouble) }
    }
}
