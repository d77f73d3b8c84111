//! What all browsers are shown, and what has changed in it since when.

use crate::render::Rendered;
use jiff::{SignedDuration, Timestamp};
use std::collections::BTreeMap;
use std::sync::Arc;
use tokio::time::Instant;

/// Whether the server behind is heard.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Hearing {
    /// Nothing came yet since the screen was started.
    Waiting(Instant),
    /// It is.
    Live,
    /// Not since then.
    Lost(Instant),
}

/// A part of the wall.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// Its HTML, without lengths of time.
    pub html: Arc<str>,
    /// The turn of the wall at which it came to be so.
    pub changed: u64,
}

/// The wall at one turn. A turn is whatever changed what is shown.
#[derive(Debug, Clone)]
pub struct Frame {
    /// Which run of the screen counts the turns.
    pub run: Arc<str>,
    /// The turn.
    pub turn: u64,
    /// The journal number at which it is true.
    pub number: i64,
    /// The server's moment of it, and when it was heard.
    pub as_of: (Timestamp, Instant),
    /// Whether the server is heard.
    pub hearing: Hearing,
    /// The shop's name.
    pub shop: Arc<str>,
    /// Style classes of the bays' grid.
    pub layout: String,
    /// The bays' parts in their order.
    pub order: Vec<String>,
    /// Every part.
    pub parts: BTreeMap<String, Part>,
    /// The board that it shows.
    pub board: Arc<leadhand_sdk::Board>,
    /// The shop's zone, once it is known: before, no time can be said.
    pub zone: Option<jiff::tz::TimeZone>,
}

/// Up to where a browser has seen the wall: journal number, run of the screen, turn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    number: i64,
    run: String,
    turn: u64,
}

impl Seen {
    /// From what a browser says; nothing when it is not an id of ours.
    pub fn parse(id: &str) -> Option<Self> {
        let mut parts = id.splitn(3, '.');
        let number = parts.next()?.parse().ok()?;
        let run = parts.next()?.to_owned();
        let turn = parts.next()?.parse().ok()?;
        Some(Self { number, run, turn })
    }
}

impl Frame {
    /// Nothing to show yet.
    pub fn empty(run: &str, now: Timestamp, heard: Instant) -> Self {
        Self {
            run: run.into(),
            turn: 0,
            number: 0,
            as_of: (now, heard),
            hearing: Hearing::Waiting(heard),
            shop: "".into(),
            layout: String::new(),
            order: Vec::new(),
            parts: BTreeMap::new(),
            board: Arc::default(),
            zone: None,
        }
    }

    /// The wall at the next turn; parts that are as before keep the turn at which they came to be so.
    pub fn next(&self, rendered: Rendered) -> Self {
        let turn = self.turn + 1;
        let parts = rendered.parts.into_iter().map(|(name, html)| {
            let part = match self.parts.get(&name) {
                Some(before) if *before.html == *html => before.clone(),
                _ => Part { html: html.into(), changed: turn },
            };
            (name, part)
        });
        Self { turn, parts: parts.collect(), layout: rendered.layout, order: rendered.order, ..self.clone() }
    }

    /// What a browser says to go on from here. It begins with the journal number; the wall also changes with time
    /// alone, so a number is not enough.
    pub fn id(&self) -> String {
        format!("{}.{}.{}", self.number, self.run, self.turn)
    }

    /// The parts that a browser lacks, and whether it has to forget all it has. Nothing when it lacks nothing.
    pub fn since(&self, seen: Option<&Seen>) -> (bool, BTreeMap<&str, &str>) {
        let known = seen.filter(|seen| *seen.run == *self.run && seen.turn <= self.turn && seen.number <= self.number);
        let after = known.map_or(0, |seen| seen.turn);
        let lacking = self.parts.iter().filter(|(_, part)| known.is_none() || part.changed > after);
        (known.is_none(), lacking.map(|(name, part)| (name.as_str(), &*part.html)).collect())
    }

    /// The moment on the server's clock, moved on by this machine's count of seconds.
    pub fn now(&self, at: Instant) -> Timestamp {
        let (as_of, heard) = self.as_of;
        let passed = SignedDuration::try_from(at.saturating_duration_since(heard)).unwrap_or_default();
        as_of.checked_add(passed).unwrap_or(as_of)
    }

    /// The last moment at which it was heard that the wall is true.
    pub fn true_at(&self, at: Instant) -> Timestamp {
        match self.hearing {
            Hearing::Live => self.now(at),
            Hearing::Waiting(since) | Hearing::Lost(since) => self.now(since),
        }
    }

    /// The zone's name; where it is not known yet there is nothing to be said in it either.
    pub fn zone_name(&self) -> &str {
        self.zone.as_ref().and_then(jiff::tz::TimeZone::iana_name).unwrap_or("UTC")
    }

    /// For how many milliseconds the server has not been heard.
    pub fn silent_for(&self, at: Instant) -> Option<u64> {
        match self.hearing {
            Hearing::Live => None,
            Hearing::Waiting(since) | Hearing::Lost(since) => {
                Some(u64::try_from(at.saturating_duration_since(since).as_millis()).unwrap_or(u64::MAX))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rendered(parts: &[(&str, &str)]) -> Rendered {
        let parts = parts.iter().map(|(name, html)| ((*name).to_owned(), (*html).to_owned())).collect();
        Rendered { parts, ..Rendered::default() }
    }

    fn frame() -> Frame {
        Frame::empty("a1", Timestamp::UNIX_EPOCH, Instant::now())
    }

    fn names(frame: &Frame, seen: Option<&str>) -> (bool, Vec<String>) {
        let (whole, parts) = frame.since(seen.and_then(Seen::parse).as_ref());
        (whole, parts.into_keys().map(str::to_owned).collect())
    }

    #[test]
    fn a_browser_gets_what_it_lacks_and_nothing_twice() {
        let first = frame().next(rendered(&[("x", "1"), ("y", "1")]));
        let second = Frame { number: 5, ..first.clone() }.next(rendered(&[("x", "2"), ("y", "1")]));
        assert_eq!(names(&second, None), (true, vec!["x".into(), "y".into()]));
        assert_eq!(names(&second, Some(&first.id())), (false, vec!["x".into()]));
        assert_eq!(names(&second, Some(&second.id())), (false, vec![]));
        assert_eq!(second.id(), "5.a1.2");
    }

    #[test]
    fn whoever_saw_another_run_or_a_later_journal_gets_the_whole() {
        let shown = Frame { number: 7, ..frame() }.next(rendered(&[("x", "1")]));
        // Another run of the screen; a journal that was restored to an earlier state; what is no id of ours.
        for seen in ["7.b2.1", "9.a1.1", "7.a1.4", "7", "", "x.a1.1", "7.a1.-1"] {
            assert_eq!(names(&shown, Some(seen)), (true, vec!["x".into()]), "{seen}");
        }
    }

    #[tokio::test(start_paused = true)]
    async fn the_servers_clock_goes_on_by_this_machines_seconds() {
        let shown = frame();
        let later = Instant::now() + std::time::Duration::from_secs(90);
        assert_eq!(shown.now(later).as_second(), 90);
        assert_eq!(shown.silent_for(later), Some(90_000));
        let lost = Frame { hearing: Hearing::Lost(later), ..shown.clone() };
        let much_later = later + std::time::Duration::from_mins(1);
        assert_eq!(lost.true_at(much_later).as_second(), 90, "true as long as it was heard");
        assert_eq!(Frame { hearing: Hearing::Live, ..lost }.true_at(much_later).as_second(), 150);
        assert_eq!(Frame { hearing: Hearing::Live, ..shown }.silent_for(later), None);
    }
}
