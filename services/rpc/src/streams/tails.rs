//! The end of a journal, read once for all who follow it. Five hundred followers that are woken by one fact would else ask
//! the database five hundred times for the same.

use crate::services::journal::Place;
use leadhand_facts::ShopId;
use leadhand_proto::v1::FollowJournalResponse;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::time::Instant;

/// A page with facts is handed on for this long: words in it may be erased later.
const FRESH: Duration = Duration::from_secs(1);
/// Shops of which a page is kept; with more, those that nobody follows are forgotten.
const MANY: usize = 1_000;

/// The last page that was read of a shop, in the hands of one follower at a time.
pub type Tail = Arc<tokio::sync::Mutex<Option<Read>>>;

/// A page that was read.
pub struct Read {
    /// Before it was read.
    pub begun: Instant,
    /// Where its reader stood.
    pub after: Place,
    /// What it was told.
    pub message: FollowJournalResponse,
    /// Where it stands then.
    pub last: Option<Place>,
}

impl Read {
    /// Whether it is what a reader who stands there would read now. `asked` is a moment before the reader looked at the
    /// head: what was written since wakes it again, but a page of before may lack what was written in between. One that
    /// has facts is asked after again in any case.
    pub fn serves(&self, place: Place, asked: Instant) -> bool {
        let fresh = !self.message.facts.is_empty() && self.begun.elapsed() < FRESH;
        self.after == place && (fresh || self.begun >= asked)
    }
}

/// The ends of all journals that are followed here.
#[derive(Default)]
pub struct Tails(Mutex<HashMap<ShopId, Tail>>);

impl Tails {
    /// The end of this shop's journal.
    pub fn of(&self, shop: ShopId) -> Tail {
        let mut tails = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if tails.len() >= MANY {
            tails.retain(|_, tail| Arc::strong_count(tail) > 1);
        }
        tails.entry(shop).or_default().clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_proto::v1::Fact;

    fn read(facts: usize) -> Read {
        let message = FollowJournalResponse { facts: vec![Fact::default(); facts], head: 7 };
        Read { begun: Instant::now(), after: Place { number: 6, fact_id: None }, message, last: None }
    }

    #[tokio::test(start_paused = true)]
    async fn a_page_serves_who_stands_where_its_reader_stood() {
        let asked = Instant::now();
        let (empty, full) = (read(0), read(1));
        let there = Place { number: 6, fact_id: None };
        assert!(empty.serves(there, asked) && full.serves(there, asked));
        assert!(!full.serves(Place { number: 5, fact_id: None }, asked));
        tokio::time::advance(FRESH / 2).await;
        // Who looked at the head since may be told of nothing although there is something by now.
        assert!(!empty.serves(there, Instant::now()));
        assert!(full.serves(there, Instant::now()));
        tokio::time::advance(FRESH).await;
        assert!(!full.serves(there, Instant::now()), "words in it may be erased by now");
    }
}
