//! The journal by itself: dense, in order, no time ahead of its recording, no request twice.

use crate::fault::{At, Fault};
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::{Entry, Fact, FactId, Instant, RequestId};
use std::collections::{BTreeMap, BTreeSet};

/// How long a request id is remembered; it may come again afterwards.
const REQUEST_MEMORY_US: i64 = 90 * 24 * 60 * MINUTE_US;

/// Every fault of a journal's order, in the order of its facts.
///
/// - Numbers are dense from 1 and fact ids are unique.
/// - `recorded_at` never falls, and nothing happened after it was recorded.
/// - Whoever proved to be somebody is only named beside another who acted.
/// - The first fact opens the shop, and only the first.
/// - The facts of one request stand together and share `happened_at`, apart from work recorded
///   with both ends and from time that is replaced; a request id that comes again within 90 days
///   took effect twice.
pub fn check_journal<'a>(entries: impl IntoIterator<Item = &'a Entry>) -> Vec<Fault> {
    let mut order = Order::default();
    let mut faults = Vec::new();
    for entry in entries {
        order.look_at(entry, &mut faults);
    }
    faults
}

/// What has to be remembered of the entries before.
#[derive(Debug, Clone, Default)]
pub(crate) struct Order {
    last: Option<Last>,
    fact_ids: BTreeSet<FactId>,
    requests: BTreeMap<RequestId, Instant>,
}

#[derive(Debug, Clone)]
struct Last {
    number: i64,
    recorded_at: Instant,
    request: RequestId,
    /// When the request's facts happened, once one told.
    happened_at: Option<Instant>,
}

impl Order {
    /// Takes the next entry, or the first fault that it has.
    pub fn take(&mut self, entry: &Entry) -> Result<(), Fault> {
        let mut faults = Vec::new();
        self.look_at(entry, &mut faults);
        faults.into_iter().next().map_or(Ok(()), Err)
    }

    fn look_at(&mut self, entry: &Entry, faults: &mut Vec<Fault>) {
        let mut say = |holds: bool, sentence: String| {
            if !holds {
                faults.push(At::of(entry).fault("journal", sentence));
            }
        };
        let due = self.last.as_ref().map_or(1, |last| last.number + 1);
        say(entry.number == due, format!("its number should be {due}"));
        say(self.fact_ids.insert(entry.fact_id), format!("its fact id {} was there before", entry.fact_id));
        say(
            entry.happened_at <= entry.recorded_at,
            format!("it happened at {}, after it was recorded at {}", entry.happened_at, entry.recorded_at),
        );
        say(
            entry.proved.is_none() || entry.proved != entry.person,
            "who proved to be somebody stands beside the same person, and not another".to_owned(),
        );
        if let Some(last) = &self.last {
            say(
                last.recorded_at <= entry.recorded_at,
                format!("it was recorded at {}, before the fact before it at {}", entry.recorded_at, last.recorded_at),
            );
        }
        let opens = matches!(entry.fact, Fact::ShopOpened { .. });
        say(opens == self.last.is_none(), "the first fact opens the shop, and no other does".to_owned());
        self.look_at_request(entry, &mut say);
    }

    fn look_at_request(&mut self, entry: &Entry, say: &mut impl FnMut(bool, String)) {
        // Work entered late has its own times, and what it or a late clocking on replaces was withdrawn now.
        let apart =
            matches!(entry.fact, Fact::WorkRecorded { .. } | Fact::ClockingWithdrawn { replaced_by: Some(_), .. });
        let own = (!apart).then_some(entry.happened_at);
        let same = self.last.as_ref().filter(|last| last.request == entry.request);
        let earlier = same.and_then(|last| last.happened_at);
        if same.is_some() {
            say(
                own.is_none() || earlier.is_none() || own == earlier,
                format!("it did not happen when the rest of request {} did", entry.request),
            );
        } else if let Some(before) = self.requests.get(&entry.request) {
            say(
                entry.recorded_at.since_us(*before) > REQUEST_MEMORY_US,
                format!("request {} took effect before, at {before}", entry.request),
            );
        }
        self.requests.insert(entry.request, entry.recorded_at);
        self.last = Some(Last {
            number: entry.number,
            recorded_at: entry.recorded_at,
            request: entry.request,
            happened_at: own.or(earlier),
        });
    }
}
