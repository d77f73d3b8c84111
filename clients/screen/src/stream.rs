//! The wall as a stream of server-sent events (WHATWG HTML, 9.2): the whole at first, then what changed.

use crate::frame::{Frame, Seen};
use crate::hub::Hub;
use axum::response::sse::Event;
use futures::Stream;
use futures::stream::unfold;
use serde::Serialize;
use std::collections::BTreeMap;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{OwnedSemaphorePermit, watch};
use tokio::time::{Instant, timeout};
use tokio_util::sync::CancellationToken;

/// A browser hears at least this often that the screen lives.
const BEAT_EVERY: Duration = Duration::from_secs(4);
/// A browser that lost the stream comes again after this long.
const RETRY: Duration = Duration::from_secs(1);

/// What an event holds.
#[derive(Serialize)]
struct Word<'a> {
    /// The pages' edition: a page of another one loads itself anew.
    edition: &'a str,
    /// Whether everything that was shown before is to be forgotten.
    whole: bool,
    /// The server's moment in milliseconds.
    now: i64,
    /// For how many milliseconds the server has not been heard; nothing while it is.
    silent: Option<u64>,
    /// The journal number.
    number: i64,
    /// The shop's zone.
    zone: &'a str,
    /// Style classes of the bays' grid.
    layout: &'a str,
    /// The bays' parts in their order.
    order: &'a [String],
    /// The parts that changed.
    parts: BTreeMap<&'a str, &'a str>,
}

/// One browser.
struct Browser {
    frames: watch::Receiver<Arc<Frame>>,
    seen: Option<Seen>,
    greeted: bool,
    edition: Arc<str>,
    stop: CancellationToken,
    _place: OwnedSemaphorePermit,
}

/// The events for one browser, from what it has seen on.
pub fn events(
    hub: &Hub,
    seen: Option<Seen>,
    edition: Arc<str>,
    place: OwnedSemaphorePermit,
    stop: CancellationToken,
) -> impl Stream<Item = Result<Event, Infallible>> + Send + use<> {
    let browser = Browser { frames: hub.watch(), seen, greeted: false, edition, stop, _place: place };
    unfold(browser, async |mut browser| browser.next().await.map(|event| (Ok(event), browser)))
}

impl Browser {
    async fn next(&mut self) -> Option<Event> {
        if !std::mem::replace(&mut self.greeted, true) {
            return Some(self.word().retry(RETRY));
        }
        let stop = self.stop.clone();
        match timeout(BEAT_EVERY, stop.run_until_cancelled(self.frames.changed())).await {
            Err(_) | Ok(Some(Ok(()))) => Some(self.word()),
            // The screen is stopping.
            Ok(None | Some(Err(_))) => None,
        }
    }

    fn word(&mut self) -> Event {
        let frame = self.frames.borrow_and_update().clone();
        let (whole, parts) = frame.since(self.seen.as_ref());
        let at = Instant::now();
        let word = Word {
            edition: &self.edition,
            whole,
            now: frame.now(at).as_millisecond(),
            silent: frame.silent_for(at),
            number: frame.number,
            zone: frame.zone.iana_name().unwrap_or("UTC"),
            layout: &frame.layout,
            order: &frame.order,
            parts,
        };
        let id = frame.id();
        self.seen = Seen::parse(&id);
        let data = serde_json::to_string(&word).unwrap_or_default();
        Event::default().event("wall").id(id).data(data)
    }
}
