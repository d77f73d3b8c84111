//! One batch: begin, look up repeats, decide one after the other, write, commit, answer.

use super::Submission;
use super::catch_up::Kept;
use super::judge::{Decided, Gathered, Judge, Verdict, barred, named};
use super::loading::{context_of, load_ahead, load_for};
use super::repeat::repeat;
use super::together::Together;
use crate::error::AppError;
use crate::hub::Hub;
use leadhand_domain::command::{Command, ForgetCustomer, ForgetPerson};
use leadhand_domain::names;
use leadhand_domain::need::Need;
use leadhand_domain::state::{AnyRow, State};
use leadhand_facts::{PersonId, RequestId, ShopId, TextId};
use leadhand_store::{AcceptedRequest, Batch, Store, StoreError};
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;
use tracing::{Instrument, Span};

/// How often a batch whose commit broke is tried again; its request ids tell what took effect.
const COMMIT_TRIES: u32 = 4;

/// Pause before such a try.
const COMMIT_PAUSE: Duration = Duration::from_millis(250);

/// A shop's line, with what it remembers from batch to batch.
pub(super) struct Line {
    store: Store,
    hub: Arc<Hub>,
    together: Arc<Together>,
    judge: Judge,
    kept: Option<Kept>,
}

impl Line {
    pub(super) fn new(store: Store, hub: Arc<Hub>, together: Arc<Together>, judge: Judge) -> Self {
        Self { store, hub, together, judge, kept: None }
    }

    /// Decides, commits and answers these commands. False when the shop could not be had in time: whoever waits
    /// behind them would wait as long for the same answer.
    pub(super) async fn run(&mut self, waiting: Vec<Submission>) -> bool {
        let mut had = true;
        for waiting in batches(waiting) {
            if had {
                had = self.run_batch(waiting).await;
            } else {
                come_again(waiting);
            }
        }
        had
    }

    async fn run_batch(&mut self, waiting: Vec<Submission>) -> bool {
        let waiting = in_time(waiting);
        if waiting.is_empty() {
            return true;
        }
        metrics::histogram!("leadhand_batch_commands").record(u32::try_from(waiting.len()).unwrap_or(u32::MAX));
        let span = span_of(self.judge.shop, &waiting);
        let begun = tokio::time::Instant::now();
        let (waiting, attempted) = self.with_others_or_alone(waiting).instrument(span).await;
        metrics::histogram!("leadhand_batch_duration_seconds").record(begun.elapsed().as_secs_f64());
        match attempted {
            Ok(verdicts) => {
                for (one, verdict) in waiting.into_iter().zip(verdicts) {
                    answer(one, verdict);
                }
            }
            Err(error) if waiting.len() > 1 && error.may_be_one_commands() => {
                // The database caught what the rules let through: one by one, only the culprit
                // is refused.
                tracing::warn!(%error, shop = %self.judge.shop, "batch refused by the database; running it one by one");
                self.one_by_one(waiting).await;
            }
            Err(error) => {
                let had = !matches!(error, StoreError::Busy | StoreError::Exhausted);
                let verdict = self.failed(error);
                for one in waiting {
                    answer(one, Err(verdict.clone()));
                }
                return had;
            }
        }
        true
    }

    async fn one_by_one(&mut self, waiting: Vec<Submission>) {
        for one in waiting {
            // Those before it may have taken long.
            for one in in_time(vec![one]) {
                let verdict = self.alone(&one).await;
                answer(one, verdict);
            }
        }
    }

    async fn alone(&mut self, one: &Submission) -> Verdict {
        let one = std::slice::from_ref(one);
        let span = span_of(self.judge.shop, one);
        match self.attempt_until_known(one, None).instrument(span).await {
            Ok(mut verdicts) => verdicts.pop().unwrap_or(Err(AppError::Unknown)),
            Err(error) => Err(self.failed(error)),
        }
    }

    /// What passes by itself, such as a statement that took too long, is no defect of a rule, although
    /// it may be one command's doing.
    fn failed(&self, error: StoreError) -> AppError {
        if error.may_be_one_commands() && !error.is_passing() {
            return self.judge.defect(error.to_string());
        }
        error.into()
    }

    /// Commits these together with what other shops write just now, or else by themselves.
    async fn with_others_or_alone(
        &mut self,
        waiting: Vec<Submission>,
    ) -> (Vec<Submission>, Result<Vec<Verdict>, StoreError>) {
        let together = self.together.clone();
        let _here = together.enter();
        let (waiting, shared) = together.share(&self.judge, &mut self.kept, waiting).await;
        let attempted = match shared {
            None => self.attempt_until_known(&waiting, None).await,
            Some(Err(unknown @ StoreError::CommitUnknown(_))) => {
                tokio::time::sleep(COMMIT_PAUSE).await;
                self.attempt_until_known(&waiting, Some(unknown)).await
            }
            Some(known) => known,
        };
        (waiting, attempted)
    }

    /// A commit that broke is *unknown*. The batch is run again: the request ids of what took
    /// effect are found, and the rest is decided anew.
    async fn attempt_until_known(
        &mut self,
        waiting: &[Submission],
        mut unknown: Option<StoreError>,
    ) -> Result<Vec<Verdict>, StoreError> {
        for _ in 0..COMMIT_TRIES {
            match self.attempt(waiting).await {
                Err(error @ StoreError::CommitUnknown(_)) => unknown = Some(error),
                // While an earlier try is unknown, "unavailable" must not pass for "nothing done".
                Err(error) if unknown.is_some() && error.is_passing() => {}
                other => return other,
            }
            tokio::time::sleep(COMMIT_PAUSE).await;
        }
        Err(unknown.unwrap_or(StoreError::BrokenBatch))
    }

    async fn attempt(&mut self, waiting: &[Submission]) -> Result<Vec<Verdict>, StoreError> {
        let mut batch = self.store.begin(self.judge.shop).await?;
        let mut state = self.state(&mut batch).await?;
        let ids: Vec<RequestId> = waiting.iter().map(|one| one.write.request).collect();
        let mut gathered = Gathered::default();
        let seen = batch.request(&ids).await?;
        let seen: BTreeMap<RequestId, AcceptedRequest> = seen.into_iter().map(|one| (one.request, one)).collect();
        let fresh = waiting.iter().filter(|one| !seen.contains_key(&one.write.request));
        load_ahead(&mut batch, &mut state, fresh.collect()).await?;
        let mut verdicts = Vec::with_capacity(waiting.len());
        for one in waiting {
            let known = seen.get(&one.write.request).or_else(|| gathered.requests.get(&one.write.request));
            verdicts.push(match known {
                Some(known) => repeat(&mut batch, one, known).await?,
                None => self.fresh(&mut batch, &mut state, one, &mut gathered).await?,
            });
        }
        self.commit(batch, state, gathered).await?;
        Ok(verdicts)
    }

    /// What is kept, brought to the batch's head, or nothing yet. A fact that can't be read stops
    /// the batch, and the next one too: this program is too old to go on with this shop.
    async fn state(&mut self, batch: &mut Batch) -> Result<State, StoreError> {
        let anew = State::at(batch.head.number);
        let Some(kept) = &self.kept else { return Ok(anew) };
        let facts = kept.since(batch).await?;
        // Whatever goes wrong from here on, what was kept is gone.
        let kept = self.kept.take();
        Ok(kept.zip(facts).and_then(|(kept, facts)| kept.forward(&facts)).unwrap_or(anew))
    }

    async fn fresh(
        &self,
        batch: &mut Batch,
        state: &mut State,
        one: &Submission,
        gathered: &mut Gathered,
    ) -> Result<Verdict, StoreError> {
        let context = context_of(one, gathered.next(batch.now));
        let command = match &one.command {
            Command::ForgetPerson(ForgetPerson { person, .. }) => {
                let texts = texts_of(batch, state, Need::PersonTexts(*person)).await?;
                &ForgetPerson { person: *person, texts }.into()
            }
            Command::ForgetCustomer(ForgetCustomer { customer, .. }) => {
                let texts = texts_of(batch, state, Need::CustomerTexts(*customer)).await?;
                &ForgetCustomer { customer: *customer, texts }.into()
            }
            as_asked => as_asked,
        };
        load_for(batch, state, one.shown, command, &context).await?;
        if let Some(error) = barred(state, one, batch.now) {
            return Ok(Err(error));
        }
        if let Some((name, own)) = named(&one.command) {
            let names = names_of(batch, state, gathered, own).await?;
            if let Err(refusal) = names::tell_apart(name, names.iter().map(String::as_str)) {
                return Ok(Err(refusal.into()));
            }
        }
        Ok(self.judge.judge(state, one, command, &context, gathered))
    }

    async fn commit(&mut self, mut batch: Batch, state: State, gathered: Gathered) -> Result<(), StoreError> {
        let (decided, before) = (Decided::new(state, gathered), batch.head.fact_id);
        if decided.wrote() {
            batch.write(&decided.written()).await?;
        }
        // A repeat's answer was read under the head's lock and is committed as well, so that it
        // waits for a synchronous standby like the first one did.
        batch.commit().await?;
        self.kept = decided.committed(&self.hub, self.judge.shop, before);
        Ok(())
    }
}

/// A batch stands below one of its commands, and follows from the others. Below one that somebody
/// called, if there is any: the timer's are in no trace.
fn span_of(shop: ShopId, waiting: &[Submission]) -> Span {
    let first = waiting.iter().find(|one| one.shown.is_some()).or(waiting.first());
    let parent = first.and_then(|one| one.span.id());
    let span = tracing::info_span!(parent: parent.clone(), "batch", %shop, commands = waiting.len());
    for other in waiting.iter().filter_map(|one| one.span.id()).filter(|id| Some(id) != parent.as_ref()) {
        span.follows_from(other);
    }
    span
}

/// Which texts somebody is known by has to be read from the journal, so whoever forgets one begins a
/// batch: what was decided before is in the journal by then.
fn batches(waiting: Vec<Submission>) -> Vec<Vec<Submission>> {
    let mut batches: Vec<Vec<Submission>> = Vec::new();
    for one in waiting {
        match batches.last_mut() {
            Some(batch) if !matches!(one.command, Command::ForgetPerson(_) | Command::ForgetCustomer(_)) => {
                batch.push(one);
            }
            _ => batches.push(vec![one]),
        }
    }
    batches
}

/// Every text by which somebody who is forgotten could be known: names, labels, words typed. Nobody adds to
/// them while the head is locked.
async fn texts_of(batch: &mut Batch, state: &mut State, need: Need) -> Result<Vec<TextId>, StoreError> {
    let mut texts = Vec::new();
    for row in batch.load(std::slice::from_ref(&need)).await? {
        if let AnyRow::TextRow(row) = &row {
            texts.push(row.text);
        }
        state.load(row);
    }
    state.note_loaded(need);
    Ok(texts)
}

/// The names of the shop's other persons, as the database and the commands before in this batch have them.
async fn names_of(
    batch: &mut Batch,
    state: &State,
    gathered: &Gathered,
    own: Option<PersonId>,
) -> Result<Vec<String>, StoreError> {
    let others = state.persons.iter().filter(|row| !row.forgotten && Some(row.person) != own);
    let texts: Vec<TextId> = others.map(|row| row.name).collect();
    let fresh = gathered.texts.iter().map(|(text, _)| text).filter(|text| texts.contains(&text.id));
    let mut names: Vec<String> = fresh.map(|text| text.body.clone()).collect();
    names.extend(batch.texts(&texts).await?.into_iter().map(|text| text.body));
    Ok(names)
}

/// Those whose clients still wait; the others are told that they were too late.
fn in_time(waiting: Vec<Submission>) -> Vec<Submission> {
    let now = tokio::time::Instant::now();
    let (late, waiting): (Vec<_>, Vec<_>) =
        waiting.into_iter().partition(|one| one.write.deadline.is_some_and(|deadline| deadline <= now));
    for one in late {
        answer(one, Err(AppError::DeadlineQueued));
    }
    waiting
}

/// Tells these that the shop is busy; nothing of theirs was begun.
pub(super) fn come_again(waiting: Vec<Submission>) {
    for one in in_time(waiting) {
        answer(one, Err(AppError::Busy));
    }
}

fn answer(one: Submission, verdict: Verdict) {
    let outcome = match &verdict {
        Ok(outcome) if outcome.repeated => "repeated",
        Ok(outcome) if outcome.dry_run => "tried",
        Ok(_) => "accepted",
        Err(AppError::Refused { .. }) => "refused",
        Err(_) => "failed",
    };
    one.span.record("outcome", outcome);
    metrics::counter!("leadhand_commands_total", "command" => one.command.name(), "outcome" => outcome).increment(1);
    // A client that went away does not hear the answer; it is in the journal all the same.
    let _ = one.reply.send(verdict);
}
