//! Streams of server-sent events (WHATWG HTML, 9.2). The wall's: the whole at first, then what changed. A bay page's:
//! only where the shop is, so that the page asks for itself anew when it may have changed.

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

/// What an event for a bay's page holds.
#[derive(Debug, PartialEq, Eq, Serialize)]
struct Beat<'a> {
    /// The pages' edition.
    edition: &'a str,
    /// The server's moment in milliseconds.
    now: i64,
    /// For how many milliseconds the server has not been heard; nothing while it is.
    silent: Option<u64>,
    /// The journal number; -1 before anything was heard.
    number: i64,
    /// Since which turn of the wall the bay's part is as it is: it changes with time alone too.
    turn: u64,
}

/// What the page of a bay is told.
fn beat<'a>(frame: &Frame, bay: &str, edition: &'a str, at: Instant) -> Beat<'a> {
    Beat {
        edition,
        now: frame.now(at).as_millisecond(),
        silent: frame.silent_for(at),
        number: if frame.turn == 0 { -1 } else { frame.number },
        turn: frame.parts.get(&format!("bay-{bay}")).map_or(0, |part| part.changed),
    }
}

/// One browser.
struct Browser {
    /// The bay whose page it shows; nothing for the wall.
    bay: Option<String>,
    frames: watch::Receiver<Arc<Frame>>,
    seen: Option<Seen>,
    greeted: bool,
    edition: Arc<str>,
    stop: CancellationToken,
    _place: OwnedSemaphorePermit,
}

/// The events for one browser: of a bay's page, or of the wall from what it has seen on.
pub fn events(
    hub: &Hub,
    bay: Option<String>,
    seen: Option<Seen>,
    edition: Arc<str>,
    place: OwnedSemaphorePermit,
    stop: CancellationToken,
) -> impl Stream<Item = Result<Event, Infallible>> + Send + use<> {
    let browser = Browser { bay, frames: hub.watch(), seen, greeted: false, edition, stop, _place: place };
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
        if let Some(bay) = &self.bay {
            let beat = beat(&frame, bay, &self.edition, Instant::now());
            return Event::default().event("beat").data(serde_json::to_string(&beat).unwrap_or_default());
        }
        let (whole, parts) = frame.since(self.seen.as_ref());
        let at = Instant::now();
        let word = Word {
            edition: &self.edition,
            whole,
            now: frame.now(at).as_millisecond(),
            silent: frame.silent_for(at),
            number: frame.number,
            zone: frame.zone_name(),
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frame::Hearing;
    use crate::render::Rendered;
    use jiff::Timestamp;

    fn rendered(lift: &str) -> Rendered {
        let parts = [("bay-lift-1", lift), ("bay-pit", "van")].map(|(name, html)| (name.to_owned(), html.to_owned()));
        Rendered { parts: parts.into(), ..Rendered::default() }
    }

    #[tokio::test(start_paused = true)]
    async fn a_bays_page_is_told_when_anything_happened_and_when_its_bay_alone_changed_with_time() {
        let at = Instant::now();
        let empty = Frame::empty("a1", Timestamp::UNIX_EPOCH, at);
        assert_eq!(
            beat(&empty, "lift-1", "e", at),
            Beat { edition: "e", now: 0, silent: Some(0), number: -1, turn: 0 },
            "nothing was heard, so nothing is newer than the page"
        );
        let shown = Frame { number: 7, hearing: Hearing::Live, ..empty }.next(rendered("van"));
        let told = beat(&shown, "lift-1", "e", at);
        assert_eq!((told.number, told.turn, told.silent), (7, 1, None));
        let later = shown.next(rendered("van, late"));
        assert_eq!((beat(&later, "lift-1", "e", at).turn, beat(&later, "pit", "e", at).turn), (2, 1));
        let lost = Frame { hearing: Hearing::Lost(at), ..later };
        assert_eq!(beat(&lost, "pit", "e", at + BEAT_EVERY).silent, Some(4000));
    }
}
