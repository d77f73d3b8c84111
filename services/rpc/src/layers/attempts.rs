//! Failed attempts to come in, counted on this replica: by address, and by the secret that was sent.
//!
//! Whoever fails too often is refused without asking the database, unless the secret was valid here a
//! short while ago: a shop behind one address goes on working while something behind the same address
//! guesses. Everything is bounded, and the oldest goes first.

use std::collections::{BTreeMap, HashMap};
use std::hash::Hash;
use std::net::IpAddr;
use std::time::Duration;
use tokio::time::Instant;

/// Failures are counted over this long.
const WINDOW: Duration = Duration::from_mins(1);
/// A secret that was valid here within this long is looked at in any case.
const REMEMBERED: Duration = Duration::from_mins(10);
/// Entries of each table.
const ENTRIES_MAX: usize = 10_000;

/// Whether a secret is looked at.
#[derive(Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It is.
    Look,
    /// It is not.
    Refuse {
        /// Seconds until the next one is.
        wait: u64,
        /// How many failures there were, when this is the first that is refused for them.
        tell: Option<u32>,
    },
}

/// A table that holds no more than so many entries; what was touched longest ago goes.
struct Bounded<K, V> {
    entries: HashMap<K, (V, u64)>,
    order: BTreeMap<u64, K>,
    next: u64,
}

impl<K: Clone + Eq + Hash, V: Default> Bounded<K, V> {
    fn new() -> Self {
        Self { entries: HashMap::new(), order: BTreeMap::new(), next: 0 }
    }

    fn get(&self, key: &K) -> Option<&V> {
        self.entries.get(key).map(|(value, _)| value)
    }

    /// The entry of a key, made if it is not there.
    fn touch(&mut self, key: &K) -> &mut V {
        self.next += 1;
        let known = self.entries.get(key).map(|(_, at)| *at);
        if let Some(at) = known {
            self.order.remove(&at);
        } else if self.entries.len() >= ENTRIES_MAX
            && let Some((_, oldest)) = self.order.pop_first()
        {
            self.entries.remove(&oldest);
        }
        self.order.insert(self.next, key.clone());
        let entry = self.entries.entry(key.clone()).or_default();
        entry.1 = self.next;
        &mut entry.0
    }

    fn forget(&mut self, key: &K) {
        if let Some((_, at)) = self.entries.remove(key) {
            self.order.remove(&at);
        }
    }
}

/// Failures since a moment.
#[derive(Default)]
struct Failures {
    since: Option<Instant>,
    count: u32,
    told: bool,
}

impl Failures {
    /// How many there were within the window, and what is left of it.
    fn now(&self, now: Instant) -> (u32, Duration) {
        let left = self.since.and_then(|since| (since + WINDOW).checked_duration_since(now)).unwrap_or_default();
        if left.is_zero() { (0, left) } else { (self.count, left) }
    }

    fn add(&mut self, now: Instant) {
        let (count, _) = self.now(now);
        if count == 0 {
            *self = Self { since: Some(now), count: 0, told: false };
        }
        self.count = self.count.saturating_add(1);
    }
}

/// Who failed how often.
pub struct Attempts {
    most: u32,
    addresses: Bounded<IpAddr, Failures>,
    secrets: Bounded<String, Failures>,
    valid: Bounded<String, Option<Instant>>,
}

impl Attempts {
    /// Up to so many failures a minute are looked at.
    pub fn new(most: u32) -> Self {
        Self { most, addresses: Bounded::new(), secrets: Bounded::new(), valid: Bounded::new() }
    }

    /// Whether the secret with this hash, sent from this address, is looked at.
    pub fn ask(&mut self, now: Instant, from: Option<IpAddr>, hash: &str) -> Verdict {
        let recently = |at: &Option<Instant>| at.is_some_and(|at| now.duration_since(at) < REMEMBERED);
        if self.valid.get(&hash.to_owned()).is_some_and(recently) {
            return Verdict::Look;
        }
        let most = self.most;
        let refuse = |failures: &mut Failures| {
            let (count, left) = failures.now(now);
            (count > most).then(|| {
                let tell = (!std::mem::replace(&mut failures.told, true)).then_some(count);
                Verdict::Refuse { wait: left.as_secs().max(1), tell }
            })
        };
        let address = from.filter(|from| self.addresses.get(from).is_some());
        let by_address = address.and_then(|from| refuse(self.addresses.touch(&from)));
        let known = self.secrets.get(&hash.to_owned()).is_some();
        let by_secret = || if known { refuse(self.secrets.touch(&hash.to_owned())) } else { None };
        by_address.or_else(by_secret).unwrap_or(Verdict::Look)
    }

    /// Notes that somebody failed, with a secret or without one that could be read. Says whether that is
    /// worth a line: beyond the limit one line stands for all.
    pub fn failed(&mut self, now: Instant, from: Option<IpAddr>, hash: Option<&str>) -> bool {
        let mut few = true;
        if let Some(from) = from {
            let failures = self.addresses.touch(&from);
            failures.add(now);
            few = failures.count <= self.most.saturating_add(1);
        }
        if let Some(hash) = hash {
            self.secrets.touch(&hash.to_owned()).add(now);
            self.valid.forget(&hash.to_owned());
        }
        few
    }

    /// Notes that a secret is valid.
    pub fn valid(&mut self, now: Instant, hash: &str) {
        *self.valid.touch(&hash.to_owned()) = Some(now);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn address(last: u8) -> IpAddr {
        IpAddr::from([192, 0, 2, last])
    }

    fn refused(verdict: &Verdict) -> bool {
        matches!(verdict, Verdict::Refuse { .. })
    }

    #[test]
    fn an_address_that_fails_too_often_is_refused_for_the_rest_of_the_minute() {
        let (now, mut attempts) = (Instant::now(), Attempts::new(30));
        for n in 0..31 {
            assert_eq!(attempts.ask(now, Some(address(1)), &format!("secret {n}")), Verdict::Look, "{n}");
            assert!(attempts.failed(now, Some(address(1)), Some(&format!("secret {n}"))), "{n}");
        }
        let later = now + Duration::from_secs(20);
        assert_eq!(attempts.ask(later, Some(address(1)), "other"), Verdict::Refuse { wait: 40, tell: Some(31) });
        assert_eq!(attempts.ask(later, Some(address(1)), "other"), Verdict::Refuse { wait: 40, tell: None });
        assert!(!attempts.failed(later, Some(address(1)), None), "one line stands for all");
        assert_eq!(attempts.ask(later, Some(address(2)), "other"), Verdict::Look, "another address");
        assert_eq!(attempts.ask(later, None, "other"), Verdict::Look, "an address that nobody knows");
        assert_eq!(attempts.ask(now + WINDOW, Some(address(1)), "other"), Verdict::Look, "the minute is over");
    }

    #[test]
    fn whoever_was_valid_a_while_ago_goes_on_behind_the_same_address() {
        let (now, mut attempts) = (Instant::now(), Attempts::new(2));
        attempts.valid(now, "good");
        let noise = |attempts: &mut Attempts, at| {
            for n in 0..5 {
                attempts.failed(at, Some(address(1)), Some(&format!("bad {n}")));
            }
        };
        noise(&mut attempts, now);
        assert!(refused(&attempts.ask(now, Some(address(1)), "unknown")));
        assert_eq!(attempts.ask(now, Some(address(1)), "good"), Verdict::Look);
        let long_after = now + REMEMBERED;
        noise(&mut attempts, long_after);
        assert!(refused(&attempts.ask(long_after, Some(address(1)), "good")), "that is too long ago");
        // A secret that has failed is no good one any more.
        attempts.valid(long_after, "good");
        attempts.failed(long_after, Some(address(1)), Some("good"));
        assert!(refused(&attempts.ask(long_after, Some(address(1)), "good")));
    }

    #[test]
    fn a_secret_that_keeps_failing_is_refused_from_everywhere() {
        let (now, mut attempts) = (Instant::now(), Attempts::new(30));
        for n in 0..31 {
            attempts.failed(now, Some(address(n)), Some("one"));
        }
        assert!(refused(&attempts.ask(now, Some(address(99)), "one")));
        assert_eq!(attempts.ask(now, Some(address(99)), "two"), Verdict::Look);
    }

    #[test]
    fn the_tables_hold_so_much_and_the_oldest_goes() {
        let (now, mut attempts) = (Instant::now(), Attempts::new(0));
        for n in 0..ENTRIES_MAX + 5 {
            let from = IpAddr::from(u32::try_from(n).unwrap().to_be_bytes());
            attempts.failed(now, Some(from), Some(&n.to_string()));
            attempts.valid(now, &format!("good {n}"));
        }
        let sizes = [attempts.addresses.entries.len(), attempts.secrets.entries.len(), attempts.valid.entries.len()];
        assert_eq!(sizes, [ENTRIES_MAX; 3]);
        assert_eq!(attempts.addresses.order.len(), ENTRIES_MAX);
        let from = |n: u32| Some(IpAddr::from(n.to_be_bytes()));
        assert_eq!(attempts.ask(now, from(0), "x"), Verdict::Look, "the first is forgotten");
        assert!(refused(&attempts.ask(now, from(5), "x")));
    }
}
