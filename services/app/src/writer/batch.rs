//! One batch: begin, look up repeats, decide one after the other, write, commit, answer.

use super::catch_up::Kept;
use super::loading::{context_of, load_ahead, load_for};
use super::repeat::{asked, repeat};
use super::{Outcome, Shown, Submission};
use crate::chance::{Entropy, Sealer};
use crate::error::AppError;
use crate::hub::Hub;
use leadhand_domain::answer::Answer;
use leadhand_domain::command::{Command, ForgetCustomer, ForgetPerson};
use leadhand_domain::decide::{decide, session_counts};
use leadhand_domain::follow::note_whole;
use leadhand_domain::names;
use leadhand_domain::need::Need;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::state::{AnyRow, State};
use leadhand_facts::text::TextBody;
use leadhand_facts::{Entry, Fact, Instant, PersonId, RequestId, ShopId, TextId};
use leadhand_store::{AcceptedRequest, Batch, Store, StoreError, Written};
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;
use tracing::{Instrument, Span};

/// Rows kept in memory between batches at most.
const CACHE_ROWS: usize = 50_000;

/// How often a batch whose commit broke is tried again; its request ids tell what took effect.
const COMMIT_TRIES: u32 = 4;

/// Pause before such a try.
const COMMIT_PAUSE: Duration = Duration::from_millis(250);

/// A shop's line, with what it remembers from batch to batch.
pub(super) struct Line {
    store: Store,
    entropy: Arc<dyn Entropy>,
    hub: Arc<Hub>,
    shop: ShopId,
    kept: Option<Kept>,
}

/// What a batch has gathered.
#[derive(Default)]
struct Gathered {
    entries: Vec<Entry>,
    texts: Vec<(TextBody, RequestId)>,
    requests: BTreeMap<RequestId, AcceptedRequest>,
    erased: Vec<TextId>,
}

type Verdict = Result<Outcome, AppError>;

impl Line {
    pub(super) fn new(store: Store, entropy: Arc<dyn Entropy>, hub: Arc<Hub>, shop: ShopId) -> Self {
        Self { store, entropy, hub, shop, kept: None }
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
        let span = span_of(self.shop, &waiting);
        let begun = tokio::time::Instant::now();
        let attempted = self.attempt_until_known(&waiting).instrument(span).await;
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
                tracing::warn!(%error, shop = %self.shop, "batch refused by the database; running it one by one");
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
        let span = span_of(self.shop, one);
        match self.attempt_until_known(one).instrument(span).await {
            Ok(mut verdicts) => verdicts.pop().unwrap_or(Err(AppError::Unknown)),
            Err(error) => Err(self.failed(error)),
        }
    }

    /// What passes by itself, such as a statement that took too long, is no defect of a rule, although
    /// it may be one command's doing.
    fn failed(&self, error: StoreError) -> AppError {
        if error.may_be_one_commands() && !error.is_passing() {
            return self.defect(error.to_string());
        }
        error.into()
    }

    /// A rule let through what it should have refused.
    fn defect(&self, why: String) -> AppError {
        metrics::counter!("leadhand_rule_defects_total").increment(1);
        tracing::error!(why, shop = %self.shop, "a rule let through what can't be written");
        Refusal::Defect { why }.into()
    }

    /// A commit that broke is *unknown*. The batch is run again: the request ids of what took
    /// effect are found, and the rest is decided anew.
    async fn attempt_until_known(&mut self, waiting: &[Submission]) -> Result<Vec<Verdict>, StoreError> {
        let mut unknown = None;
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
        let mut batch = self.store.begin(self.shop).await?;
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
        // Each command has its own instant, so that one of a batch can end what another began.
        let last = gathered.entries.last().map_or(batch.now, |entry| Instant(entry.recorded_at.0.saturating_add(1)));
        let now = batch.now.max(last);
        let context = context_of(one, now);
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
        // A token may have been revoked since it was shown, also by a command earlier in this batch.
        if one.shown.is_some_and(|shown| !counts(state, shown, batch.now)) {
            return Ok(Err(AppError::Unauthenticated("over")));
        }
        if let Some(nobody) = one.write.named.iter().find_map(|named| named.unknown.clone()) {
            return Ok(Err(nobody.into()));
        }
        if let Some(error) = &one.write.unworked {
            return Ok(Err(AppError::clone(error)));
        }
        if let Some(refusal) = one.write.against.clone() {
            return Ok(Err(AppError::refused(refusal, state)));
        }
        if let Some((name, own)) = named(&one.command) {
            let names = names_of(batch, state, gathered, own).await?;
            if let Err(refusal) = names::tell_apart(name, names.iter().map(String::as_str)) {
                return Ok(Err(refusal.into()));
            }
        }
        let mut sealer = Sealer::new(&*self.entropy, one.write.request);
        let first_n = state.head + 1;
        let decision = match decide(state, command, &context, &mut sealer) {
            Ok(decision) => decision,
            Err(Refusal::Defect { why }) => return Ok(Err(self.defect(why))),
            Err(refusal) => return Ok(Err(AppError::refused(refusal, state))),
        };
        if one.write.dry_run {
            // The same decision as ever, taken back like one that is refused.
            state.roll_back(first_n - 1);
            let answer = Answer { number: first_n - 1, recorded_at: None, ..decision.answer };
            return Ok(Ok(Outcome { request: one.write.request, answer, repeated: false, dry_run: true }));
        }
        for entry in &decision.entries {
            note_whole(state, entry);
        }
        gathered.take(self, one, decision.entries, &decision.answer, first_n, sealer.texts);
        Ok(Ok(Outcome { request: one.write.request, answer: decision.answer, repeated: false, dry_run: false }))
    }

    async fn commit(&mut self, mut batch: Batch, mut state: State, gathered: Gathered) -> Result<(), StoreError> {
        let changes = state.take_changes();
        let requests: Vec<AcceptedRequest> = gathered.requests.into_values().collect();
        let wrote = !requests.is_empty();
        if wrote {
            let written = Written {
                entries: &gathered.entries,
                changes: &changes,
                texts: &gathered.texts,
                requests: &requests,
                erased_texts: &gathered.erased,
            };
            batch.write(&written).await?;
        }
        let fact_id = batch.head.fact_id;
        // A repeat's answer was read under the head's lock and is committed as well, so that it
        // waits for a synchronous standby like the first one did.
        batch.commit().await?;
        if !gathered.entries.is_empty() {
            metrics::counter!("leadhand_facts_total").increment(gathered.entries.len() as u64);
            self.hub.committed(self.shop, state.head);
        }
        if state.size() <= CACHE_ROWS {
            self.kept = Some(Kept { state, fact_id });
        }
        Ok(())
    }
}

impl Gathered {
    fn take(
        &mut self,
        line: &Line,
        one: &Submission,
        entries: Vec<Entry>,
        answer: &Answer,
        first_n: i64,
        texts: Vec<(TextBody, RequestId)>,
    ) {
        for entry in &entries {
            match &entry.fact {
                Fact::PersonForgotten { texts, .. } | Fact::CustomerForgotten { texts, .. } => {
                    self.erased.extend(texts);
                }
                Fact::PersonRenamed { erased, .. }
                | Fact::CustomerEdited { erased, .. }
                | Fact::VehicleDescribed { erased, .. } => {
                    self.erased.extend(erased);
                }
                Fact::PinSet { erased, .. } | Fact::ProofWithdrawn { erased, .. } => self.erased.extend(erased),
                _ => {}
            }
        }
        // The timer's ids are derived from what is due: one that found nothing to do must not be used
        // up, or the thing could never be done.
        if entries.is_empty() && matches!(one.command, Command::Tick(_)) {
            return;
        }
        let last_n = entries.last().map_or(first_n - 1, |entry| entry.number);
        let sealed: Vec<&str> = texts.iter().map(|(text, _)| text.body.as_str()).collect();
        let asked = asked(one);
        self.requests.insert(
            one.write.request,
            AcceptedRequest {
                request: one.write.request,
                principal: one.actor.principal,
                fingerprint: Some(asked.fingerprint(&*line.entropy)),
                outline: asked.outline(&*line.entropy, &sealed),
                answer: serde_json::to_value(answer).unwrap_or_default(),
                first_n,
                last_n,
            },
        );
        self.entries.extend(entries);
        self.texts.extend(texts);
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

/// The name that a command gives to somebody, and to whom if not to somebody new.
fn named(command: &Command) -> Option<(&str, Option<PersonId>)> {
    match command {
        Command::AddPerson(asked) => Some((&asked.name, None)),
        Command::RenamePerson(asked) => Some((&asked.name, Some(asked.person))),
        _ => None,
    }
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

fn counts(state: &State, shown: Shown, now: Instant) -> bool {
    let row = state.tokens.get(&(shown.token,));
    let token = row.is_some_and(|row| row.revoked_at.is_none() && row.expires_at.is_none_or(|end| end > now));
    token && shown.session.is_none_or(|session| session_counts(state, session, now))
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
