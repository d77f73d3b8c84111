//! What happened, as the clients and the subscribers saw it.

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::time::{Duration, Instant};
use uuid::Uuid;

/// Which of the test's shops, from 0.
pub type ShopNo = usize;

/// One try of a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Attempt {
    pub request: Uuid,
    pub shop: ShopNo,
    /// Moments on the test's own clock, which ticks at every beginning and every end.
    pub began: u64,
    pub ended: u64,
    pub outcome: Outcome,
}

/// What a client knows of a try.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    Acknowledged(Acknowledgement),
    /// The server said that nothing was changed, and why.
    Refused(String),
    /// A broken connection, a passed deadline: it may have taken effect.
    Unknown(String),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Acknowledgement {
    /// Of the last fact.
    pub number: i64,
    /// Whether the request made a fact at all.
    pub made_facts: bool,
    /// Whether the server said that this is the first answer once more.
    pub repeated: bool,
}

/// A fact of a journal, as far as it matters here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Known {
    pub number: i64,
    pub fact_id: Uuid,
    pub request: Uuid,
}

/// What a subscriber took down.
#[derive(Debug, Clone)]
pub struct Log {
    pub subscriber: String,
    pub shop: ShopNo,
    /// The number after which it began.
    pub after: i64,
    pub facts: Vec<Known>,
    /// The journal's end, up to which it was to follow.
    pub wanted: i64,
    /// Why it could not go on, if it could not.
    pub broken: Option<String>,
}

/// All of it.
#[derive(Debug, Clone, Default)]
pub struct History {
    pub attempts: Vec<Attempt>,
    /// Shop by shop, as read when everything was over.
    pub journals: Vec<Vec<Known>>,
    pub logs: Vec<Log>,
}

/// Takes the attempts down as they happen.
pub struct Recorder {
    begun: Instant,
    taken: Mutex<Taken>,
}

#[derive(Default)]
struct Taken {
    clock: u64,
    attempts: Vec<Attempt>,
    acknowledged_at: Vec<Duration>,
}

impl Recorder {
    pub fn new() -> Self {
        Self { begun: Instant::now(), taken: Mutex::default() }
    }

    /// A try begins.
    pub fn begin(&self) -> u64 {
        let mut taken = self.taken.lock().unwrap();
        taken.clock += 1;
        taken.clock
    }

    /// It ended.
    pub fn end(&self, request: Uuid, shop: ShopNo, began: u64, outcome: Outcome) {
        let mut taken = self.taken.lock().unwrap();
        taken.clock += 1;
        let ended = taken.clock;
        if matches!(outcome, Outcome::Acknowledged(_)) {
            taken.acknowledged_at.push(self.begun.elapsed());
        }
        taken.attempts.push(Attempt { request, shop, began, ended, outcome });
    }

    /// How many tries ended like that so far.
    pub fn count(&self, like: impl Fn(&Outcome) -> bool) -> usize {
        self.taken.lock().unwrap().attempts.iter().filter(|attempt| like(&attempt.outcome)).count()
    }

    /// How many were acknowledged so far.
    pub fn acknowledged(&self) -> usize {
        self.count(|outcome| matches!(outcome, Outcome::Acknowledged(_)))
    }

    /// How many were refused for this reason so far.
    pub fn refused(&self, reason: &str) -> usize {
        self.count(|outcome| matches!(outcome, Outcome::Refused(why) if why == reason))
    }

    /// The longest time in which nobody was acknowledged anything.
    pub fn longest_gap(&self) -> Duration {
        let taken = self.taken.lock().unwrap();
        taken.acknowledged_at.windows(2).map(|pair| pair[1].saturating_sub(pair[0])).max().unwrap_or_default()
    }

    pub fn attempts(&self) -> Vec<Attempt> {
        self.taken.lock().unwrap().attempts.clone()
    }
}

/// How much happened.
pub struct Figures {
    pub requests: usize,
    pub attempts: usize,
    pub repeats: usize,
    pub outcomes: BTreeMap<String, usize>,
}

impl Figures {
    pub fn of(attempts: &[Attempt]) -> Self {
        let mut tries: BTreeMap<Uuid, usize> = BTreeMap::new();
        let mut outcomes: BTreeMap<String, usize> = BTreeMap::new();
        for attempt in attempts {
            *tries.entry(attempt.request).or_default() += 1;
            let word = match &attempt.outcome {
                Outcome::Acknowledged(said) if said.repeated => "acknowledged again".to_owned(),
                Outcome::Acknowledged(_) => "acknowledged".to_owned(),
                Outcome::Refused(why) => format!("refused {why}"),
                Outcome::Unknown(why) => format!("unknown {why}"),
            };
            *outcomes.entry(word).or_default() += 1;
        }
        Self { requests: tries.len(), attempts: attempts.len(), repeats: attempts.len() - tries.len(), outcomes }
    }

    /// How many attempts ended in a way whose words begin like this.
    pub fn count(&self, begins: &str) -> usize {
        self.outcomes.iter().filter(|(word, _)| word.starts_with(begins)).map(|(_, count)| count).sum()
    }
}
