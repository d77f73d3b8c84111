//! Failed attempts to come in, counted on this replica: by address, and by the secret that was sent.
//!
//! A shop behind one address goes on working while something behind the same address guesses. Beyond the
//! limit a secret that was valid here a short while ago is looked at as ever, and one that failed a short
//! while ago is refused unseen. Any other has to come a second time, a second later, before it takes one of
//! the few looks that the address still has: who guesses sends another each time and takes none, who holds
//! a valid token comes again by itself. Everything is bounded, and the oldest goes first.

use std::collections::{BTreeMap, HashMap};
use std::hash::Hash;
use std::net::IpAddr;
use std::time::Duration;
use tokio::time::Instant;

/// Failures are counted over this long.
const WINDOW: Duration = Duration::from_mins(1);
/// A secret that was valid here within this long is looked at in any case.
const REMEMBERED: Duration = Duration::from_mins(10);
/// Beyond the limit an address has one look in this time, and a new secret waits this long for its own.
pub const TURN: Duration = Duration::from_secs(1);
/// Looks of all addresses beyond the limit, in the same time.
const TURNS_MAX: u32 = 20;
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
    /// Not yet: it has to come again after [`TURN`].
    Later {
        /// How many failures there were, when this is the first that is put off for them.
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
    /// The last look beyond the limit.
    turn: Option<Instant>,
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
            *self = Self { since: Some(now), count: 0, told: false, turn: self.turn };
        }
        self.count = self.count.saturating_add(1);
    }

    /// How many there were, for the first who asks.
    fn tell(&mut self, count: u32) -> Option<u32> {
        (!std::mem::replace(&mut self.told, true)).then_some(count)
    }
}

/// Looks of all addresses beyond the limit.
#[derive(Default)]
struct Turns {
    since: Option<Instant>,
    taken: u32,
}

impl Turns {
    fn take(&mut self, now: Instant) -> bool {
        if self.since.is_none_or(|since| now.duration_since(since) >= TURN) {
            *self = Self { since: Some(now), taken: 0 };
        }
        let free = self.taken < TURNS_MAX;
        self.taken += u32::from(free);
        free
    }
}

/// Who failed how often.
pub struct Attempts {
    most: u32,
    addresses: Bounded<IpAddr, Failures>,
    secrets: Bounded<String, Failures>,
    valid: Bounded<String, Option<Instant>>,
    /// Secrets that were put off, since when.
    waiting: Bounded<String, Option<Instant>>,
    turns: Turns,
}

impl Attempts {
    /// Up to so many failures a minute are looked at.
    pub fn new(most: u32) -> Self {
        Self {
            most,
            addresses: Bounded::new(),
            secrets: Bounded::new(),
            valid: Bounded::new(),
            waiting: Bounded::new(),
            turns: Turns::default(),
        }
    }

    /// Whether the secret with this hash, sent from this address, is looked at.
    pub fn ask(&mut self, now: Instant, from: Option<IpAddr>, hash: &str) -> Verdict {
        let recently = |at: &Option<Instant>| at.is_some_and(|at| now.duration_since(at) < REMEMBERED);
        if self.valid.get(&hash.to_owned()).is_some_and(recently) {
            return Verdict::Look;
        }
        let hash = hash.to_owned();
        let (failed, left) = self.secrets.get(&hash).map_or((0, Duration::ZERO), |failures| failures.now(now));
        let wait = left.as_secs().max(1);
        if failed > self.most {
            return Verdict::Refuse { wait, tell: self.secrets.touch(&hash).tell(failed) };
        }
        let count_of = |from: &IpAddr| self.addresses.get(from).map_or(0, |failures| failures.now(now).0);
        let Some((from, count)) = from.map(|from| (from, count_of(&from))).filter(|(_, count)| *count > self.most)
        else {
            return Verdict::Look;
        };
        let failures = self.addresses.touch(&from);
        let tell = failures.tell(count);
        if failed > 0 {
            return Verdict::Refuse { wait, tell };
        }
        let over = |at: Option<Instant>| at.is_some_and(|at| now.duration_since(at) >= TURN);
        let since = self.waiting.get(&hash).copied().flatten();
        if over(since) && (failures.turn.is_none() || over(failures.turn)) && self.turns.take(now) {
            failures.turn = Some(now);
            return Verdict::Look;
        }
        if since.is_none() {
            *self.waiting.touch(&hash) = Some(now);
        }
        Verdict::Later { tell }
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
            self.waiting.forget(&hash.to_owned());
        }
        few
    }

    /// Notes that a secret is valid.
    pub fn valid(&mut self, now: Instant, hash: &str) {
        *self.valid.touch(&hash.to_owned()) = Some(now);
        self.waiting.forget(&hash.to_owned());
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

    fn put_off(verdict: &Verdict) -> bool {
        matches!(verdict, Verdict::Later { .. })
    }

    /// So many wrong calls of one address, each with another secret.
    fn noise(attempts: &mut Attempts, at: Instant, calls: usize) {
        for n in 0..calls {
            attempts.failed(at, Some(address(1)), Some(&format!("bad {n}")));
        }
    }

    #[test]
    fn beyond_the_limit_an_address_is_put_off_and_one_line_stands_for_all() {
        let (now, mut attempts) = (Instant::now(), Attempts::new(30));
        for n in 0..31 {
            assert_eq!(attempts.ask(now, Some(address(1)), &format!("secret {n}")), Verdict::Look, "{n}");
            assert!(attempts.failed(now, Some(address(1)), Some(&format!("secret {n}"))), "{n}");
        }
        let later = now + Duration::from_secs(20);
        assert_eq!(attempts.ask(later, Some(address(1)), "other"), Verdict::Later { tell: Some(31) });
        assert_eq!(attempts.ask(later, Some(address(1)), "other"), Verdict::Later { tell: None }, "too soon");
        let known = Verdict::Refuse { wait: 40, tell: None };
        assert_eq!(attempts.ask(later, Some(address(1)), "secret 7"), known, "what failed is not looked at again");
        assert!(!attempts.failed(later, Some(address(1)), None), "one line stands for all");
        assert_eq!(attempts.ask(later, Some(address(2)), "other"), Verdict::Look, "another address");
        assert_eq!(attempts.ask(later, None, "other"), Verdict::Look, "an address that nobody knows");
        assert_eq!(attempts.ask(now + WINDOW, Some(address(1)), "other"), Verdict::Look, "the minute is over");
    }

    #[test]
    fn a_new_valid_secret_gets_in_while_others_go_on_guessing() {
        let (now, mut attempts) = (Instant::now(), Attempts::new(30));
        noise(&mut attempts, now, 100);
        assert!(put_off(&attempts.ask(now, Some(address(1)), "good")));
        // A hundred new guesses a second, before and after it comes again.
        let mut looked = 0;
        for n in 0..300 {
            let at = now + Duration::from_millis(10 * (n + 1));
            if attempts.ask(at, Some(address(1)), &format!("guess {n}")) == Verdict::Look {
                looked += 1;
                attempts.failed(at, Some(address(1)), Some(&format!("guess {n}")));
            }
            if n == 99 {
                assert_eq!(attempts.ask(at, Some(address(1)), "good"), Verdict::Look, "the second try");
                attempts.valid(at, "good");
            }
        }
        assert_eq!(looked, 0, "a guess that is sent once is never looked at");
        assert_eq!(attempts.ask(now + TURN * 2, Some(address(1)), "good"), Verdict::Look, "valid a while ago");
    }

    #[test]
    fn an_address_has_a_look_a_second_and_all_together_have_twenty() {
        let (now, mut attempts) = (Instant::now(), Attempts::new(0));
        let many = 200;
        for n in 0..many {
            attempts.failed(now, Some(address(n)), None);
            for secret in ["a", "b"] {
                assert!(put_off(&attempts.ask(now, Some(address(n)), &format!("{secret} {n}"))));
            }
        }
        for second in 1..4 {
            let at = now + TURN * second;
            let mut looked = [0, 0];
            for n in 0..many {
                for (i, secret) in ["a", "b"].into_iter().enumerate() {
                    looked[i] +=
                        u32::from(attempts.ask(at, Some(address(n)), &format!("{secret} {n}")) == Verdict::Look);
                }
            }
            assert_eq!(looked, [TURNS_MAX, 0], "one of each address");
        }
        let alone = attempts.ask(now + TURN * 4, Some(address(0)), "b 0");
        assert_eq!(alone, Verdict::Look);
        assert!(put_off(&attempts.ask(now + TURN * 4, Some(address(0)), "a 0")), "the look is taken");
    }

    #[test]
    fn whoever_was_valid_a_while_ago_goes_on_behind_the_same_address() {
        let (now, mut attempts) = (Instant::now(), Attempts::new(2));
        attempts.valid(now, "good");
        noise(&mut attempts, now, 5);
        assert!(put_off(&attempts.ask(now, Some(address(1)), "unknown")));
        assert_eq!(attempts.ask(now, Some(address(1)), "good"), Verdict::Look);
        let long_after = now + REMEMBERED;
        noise(&mut attempts, long_after, 5);
        assert!(put_off(&attempts.ask(long_after, Some(address(1)), "good")), "that is too long ago");
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
            assert!(put_off(&attempts.ask(now, Some(from), &format!("new {n}"))));
        }
        let waiting = attempts.waiting.entries.len();
        let sizes = [attempts.addresses.entries.len(), attempts.secrets.entries.len(), attempts.valid.entries.len()];
        assert_eq!((sizes, waiting), ([ENTRIES_MAX; 3], ENTRIES_MAX));
        assert_eq!(attempts.addresses.order.len(), ENTRIES_MAX);
        let from = |n: u32| Some(IpAddr::from(n.to_be_bytes()));
        assert_eq!(attempts.ask(now, from(0), "x"), Verdict::Look, "the first is forgotten");
        assert!(put_off(&attempts.ask(now, from(5), "x")));
    }
}
