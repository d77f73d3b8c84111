//! Batches of several shops that wait at the same moment share a transaction: with many shops nearly every batch is of one
//! command, which would pay for all of a transaction. What does not fit is left to the shop's own line, and so is everything
//! of a transaction that the database refuses: no shop fails by another's doing.

use super::Submission;
use super::catch_up::Kept;
use super::judge::{Decided, Judge, Judged, Verdict, may_share};
use crate::hub::Hub;
use leadhand_store::{Joint, Known, Store, StoreError, Taken};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use tokio::sync::{Mutex, mpsc, oneshot};
use tracing::{Instrument, Span};

/// Shops in one transaction at most.
const SHOPS_MOST: usize = 32;

/// Transactions at a time: one is decided and written while another waits for the disk. What comes meanwhile gathers.
const AT_A_TIME: usize = 2;

/// Where lines meet.
pub(super) struct Together {
    waiting: mpsc::UnboundedSender<Part>,
    /// Lines that have a batch just now.
    busy: AtomicUsize,
}

/// A shop's batch on its way.
struct Part {
    judge: Judge,
    kept: Kept,
    waiting: Vec<Submission>,
    span: Span,
    back: oneshot::Sender<Back>,
}

/// What a line gets back: what it gave, and what became of it, unless the line has to do it by itself.
struct Back {
    kept: Option<Kept>,
    waiting: Vec<Submission>,
    done: Option<Result<Vec<Verdict>, StoreError>>,
}

/// What its line has to do by itself.
type Left = (oneshot::Sender<Back>, Back);

/// A part that is decided.
struct Ready {
    judge: Judge,
    waiting: Vec<Submission>,
    back: oneshot::Sender<Back>,
    taken: Taken,
    decided: Decided,
    verdicts: Vec<Verdict>,
}

/// A line that has a batch, for as long as this lives.
pub(super) struct Here<'a>(&'a AtomicUsize);

impl Drop for Here<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::Relaxed);
    }
}

impl Together {
    /// Where nothing waits yet. Needs a tokio runtime; what runs in it ends when this is dropped.
    pub(super) fn start(store: &Store, hub: &Arc<Hub>) -> Self {
        let (waiting, heard) = mpsc::unbounded_channel();
        let heard = Arc::new(Mutex::new(heard));
        for _ in 0..AT_A_TIME {
            tokio::spawn(run(store.clone(), hub.clone(), heard.clone()));
        }
        Self { waiting, busy: AtomicUsize::new(0) }
    }

    /// A line has a batch.
    pub(super) fn enter(&self) -> Here<'_> {
        self.busy.fetch_add(1, Ordering::Relaxed);
        Here(&self.busy)
    }

    /// Has these decided and committed with other shops' if there are any just now and everything is loaded. Gives them
    /// back, and what became of them unless the line has to go on by itself.
    pub(super) async fn share(
        &self,
        judge: &Judge,
        kept: &mut Option<Kept>,
        waiting: Vec<Submission>,
    ) -> (Vec<Submission>, Option<Result<Vec<Verdict>, StoreError>>) {
        let fits = self.busy.load(Ordering::Relaxed) > 1 && waiting.iter().all(|one| may_share(&one.command));
        let Some(own) = kept.take_if(|kept| fits && kept.fact_id.is_some()) else { return (waiting, None) };
        let (back, answer) = oneshot::channel();
        let part = Part { judge: judge.clone(), kept: own, waiting, span: Span::current(), back };
        if let Err(mpsc::error::SendError(part)) = self.waiting.send(part) {
            *kept = Some(part.kept);
            return (part.waiting, None);
        }
        let Ok(back) = answer.await else {
            // Whoever waits learns that the outcome is unknown, as when a line breaks off.
            return (Vec::new(), Some(Ok(Vec::new())));
        };
        *kept = back.kept;
        (back.waiting, back.done)
    }
}

async fn run(store: Store, hub: Arc<Hub>, heard: Arc<Mutex<mpsc::UnboundedReceiver<Part>>>) {
    loop {
        let mut parts = Vec::new();
        if heard.lock().await.recv_many(&mut parts, SHOPS_MOST).await == 0 {
            return;
        }
        let span = tracing::info_span!(parent: None, "joint", shops = parts.len());
        for id in parts.iter().filter_map(|part| part.span.id()) {
            span.follows_from(id);
        }
        commit(&store, &hub, parts).instrument(span).await;
    }
}

/// Decides and commits what fits, and gives everything back.
async fn commit(store: &Store, hub: &Hub, parts: Vec<Part>) {
    let known: Vec<Known> = parts.iter().filter_map(Part::known).collect();
    let joint = match store.begin_joint(&known).await {
        Ok(joint) => joint,
        Err(error) => {
            for Part { kept, waiting, back, .. } in parts {
                give(back, Back { kept: Some(kept), waiting, done: error.for_each_shop().map(Err) });
            }
            return;
        }
    };
    let (mut ready, mut left) = (Vec::new(), Vec::new());
    for part in parts {
        match joint.taken.iter().copied().find(|taken| taken.shop == part.judge.shop) {
            Some(taken) => match part.decide(taken) {
                Ok(one) => ready.push(one),
                Err(part) => left.push(*part),
            },
            None => left.push(part.untouched()),
        }
    }
    let done = write(joint, &ready).await;
    for one in ready {
        one.end(hub, &done);
    }
    // Their heads are free again.
    for (back, part) in left {
        give(back, part);
    }
}

async fn write(joint: Joint, ready: &[Ready]) -> Result<(), StoreError> {
    if ready.is_empty() {
        return joint.rollback().await;
    }
    let wrote = ready.iter().filter(|one| one.decided.wrote());
    let all: Vec<_> = wrote.map(|one| (one.taken, one.decided.written())).collect();
    joint.commit(&all).await
}

/// A line that broke off hears nothing; what was committed is in its journal all the same.
fn give(to: oneshot::Sender<Back>, back: Back) {
    let _ = to.send(back);
}

impl Part {
    fn known(&self) -> Option<Known> {
        let requests = self.waiting.iter().map(|one| one.write.request).collect();
        let (shop, number) = (self.judge.shop, self.kept.state.head);
        self.kept.fact_id.map(|fact_id| Known { shop, number, fact_id, requests })
    }

    /// The line goes on by itself with all that it had.
    fn untouched(self) -> Left {
        (self.back, Back { kept: Some(self.kept), waiting: self.waiting, done: None })
    }

    fn decide(self, taken: Taken) -> Result<Ready, Box<Left>> {
        let Self { judge, kept: Kept { mut state, fact_id }, waiting, back, .. } = self;
        match judge.all(&mut state, &waiting, taken.now) {
            Judged::All(verdicts, gathered) => {
                let decided = Decided::new(state, gathered);
                Ok(Ready { judge, waiting, back, taken, decided, verdicts })
            }
            Judged::Lacking { touched } => {
                let kept = (!touched).then_some(Kept { state, fact_id });
                Err(Box::new((back, Back { kept, waiting, done: None })))
            }
        }
    }
}

impl Ready {
    fn end(self, hub: &Hub, done: &Result<(), StoreError>) {
        let Self { judge, waiting, back, taken, decided, verdicts } = self;
        let (kept, done) = match done {
            Ok(()) => (decided.committed(hub, judge.shop, taken.head.fact_id), Some(Ok(verdicts))),
            // One of the shops may have brought it about: each by itself will show which.
            Err(error) => (None, error.for_each_shop().map(Err)),
        };
        give(back, Back { kept, waiting, done });
    }
}
