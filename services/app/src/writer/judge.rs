//! What a shop's commands come to, without asking the database: who may still come in, what the rules say, and what is to be
//! written.

use super::catch_up::Kept;
use super::loading::{context_of, missing};
use super::repeat::asked;
use super::{Outcome, Shown, Submission};
use crate::chance::{Entropy, Sealer};
use crate::error::AppError;
use crate::hub::Hub;
use leadhand_domain::answer::Answer;
use leadhand_domain::command::Command;
use leadhand_domain::context::Context;
use leadhand_domain::decide::{decide, session_counts};
use leadhand_domain::follow::note_whole;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::state::{RowChange, State};
use leadhand_facts::text::TextBody;
use leadhand_facts::{Entry, Fact, FactId, Instant, PersonId, RequestId, ShopId, TextId};
use leadhand_store::{AcceptedRequest, Written};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Rows kept in memory between batches at most.
const CACHE_ROWS: usize = 50_000;

/// What a command's caller is told.
pub(super) type Verdict = Result<Outcome, AppError>;

/// Judges a shop's commands.
#[derive(Clone)]
pub(super) struct Judge {
    pub(super) entropy: Arc<dyn Entropy>,
    pub(super) shop: ShopId,
}

/// What a batch has gathered.
#[derive(Default)]
pub(super) struct Gathered {
    pub(super) entries: Vec<Entry>,
    pub(super) texts: Vec<(TextBody, RequestId)>,
    pub(super) requests: BTreeMap<RequestId, AcceptedRequest>,
    erased: Vec<TextId>,
}

/// What became of commands for which nothing was to be loaded.
pub(super) enum Judged {
    /// All of them are decided.
    All(Vec<Verdict>, Gathered),
    /// Something has to be loaded after all, and the state may be as some of them left it.
    Lacking { touched: bool },
}

/// A batch that is decided, on its way into the database.
pub(super) struct Decided {
    state: State,
    changes: Vec<RowChange>,
    requests: Vec<AcceptedRequest>,
    gathered: Gathered,
}

impl Judge {
    /// A rule let through what it should have refused.
    pub(super) fn defect(&self, why: String) -> AppError {
        metrics::counter!("leadhand_rule_defects_total").increment(1);
        tracing::error!(why, shop = %self.shop, "a rule let through what can't be written");
        Refusal::Defect { why }.into()
    }

    /// What the rules say to a command for which everything is loaded.
    pub(super) fn judge(
        &self,
        state: &mut State,
        one: &Submission,
        command: &Command,
        context: &Context,
        gathered: &mut Gathered,
    ) -> Verdict {
        let mut sealer = Sealer::new(&*self.entropy, one.write.request);
        let first_n = state.head + 1;
        let decision = match decide(state, command, context, &mut sealer) {
            Ok(decision) => decision,
            Err(Refusal::Defect { why }) => return Err(self.defect(why)),
            Err(refusal) => return Err(AppError::refused(refusal, state)),
        };
        if one.write.dry_run {
            // The same decision as ever, taken back like one that is refused.
            state.roll_back(first_n - 1);
            let answer = Answer { number: first_n - 1, recorded_at: None, ..decision.answer };
            return Ok(Outcome { request: one.write.request, answer, repeated: false, dry_run: true });
        }
        for entry in &decision.entries {
            note_whole(state, entry);
        }
        gathered.take(self, one, decision.entries, &decision.answer, first_n, sealer.texts);
        Ok(Outcome { request: one.write.request, answer: decision.answer, repeated: false, dry_run: false })
    }

    /// Decides commands of which none was accepted before, one after the other, if nothing has to be loaded for any.
    pub(super) fn all(&self, state: &mut State, waiting: &[Submission], now: Instant) -> Judged {
        let lacks = |state: &State, one: &Submission, now| {
            !missing(state, one.shown, &one.command, &context_of(one, now)).is_empty()
        };
        // Before anything is decided the state is as it was, and worth keeping.
        if waiting.len() > 1 && waiting.iter().any(|one| lacks(state, one, now)) {
            return Judged::Lacking { touched: false };
        }
        let (mut gathered, mut verdicts) = (Gathered::default(), Vec::with_capacity(waiting.len()));
        for one in waiting {
            let at = gathered.next(now);
            if gathered.requests.contains_key(&one.write.request) || lacks(state, one, at) {
                return Judged::Lacking { touched: !gathered.entries.is_empty() };
            }
            verdicts.push(match barred(state, one, now) {
                Some(error) => Err(error),
                None => self.judge(state, one, &one.command, &context_of(one, at), &mut gathered),
            });
        }
        Judged::All(verdicts, gathered)
    }
}

/// What stands against a command, whatever the rules say.
pub(super) fn barred(state: &State, one: &Submission, now: Instant) -> Option<AppError> {
    // A token may have been revoked since it was shown, also by a command earlier in this batch.
    if one.shown.is_some_and(|shown| !counts(state, shown, now)) {
        return Some(AppError::Unauthenticated("over"));
    }
    if let Some(nobody) = one.write.named.iter().find_map(|named| named.unknown.clone()) {
        return Some(nobody.into());
    }
    if let Some(error) = &one.write.unworked {
        return Some(AppError::clone(error));
    }
    one.write.against.clone().map(|refusal| AppError::refused(refusal, state))
}

/// Whether a command may be decided while other shops wait for it: by what is loaded for it alone, neither by the journal nor
/// by the words of names, and at once.
pub(super) fn may_share(command: &Command) -> bool {
    let asks_more =
        matches!(command, Command::ForgetPerson(_) | Command::ForgetCustomer(_)) || named(command).is_some();
    let takes_long = matches!(command, Command::ImportStock(_) | Command::PublishTemplate(_));
    // The timer's always look for what is due by now.
    !asks_more && !takes_long && !matches!(command, Command::Tick(_))
}

impl Decided {
    pub(super) fn new(mut state: State, mut gathered: Gathered) -> Self {
        let changes = state.take_changes();
        let requests = std::mem::take(&mut gathered.requests).into_values().collect();
        Self { state, changes, requests, gathered }
    }

    /// Whether there is anything to write.
    pub(super) fn wrote(&self) -> bool {
        !self.requests.is_empty()
    }

    /// What is to be written.
    pub(super) fn written(&self) -> Written<'_> {
        Written {
            entries: &self.gathered.entries,
            changes: &self.changes,
            texts: &self.gathered.texts,
            requests: &self.requests,
            erased_texts: &self.gathered.erased,
        }
    }

    /// It is in the journal: whoever watches is told, and what is worth keeping is kept. `before` is the id of the fact that
    /// was the last one.
    pub(super) fn committed(self, hub: &Hub, shop: ShopId, before: Option<FactId>) -> Option<Kept> {
        let Self { state, gathered, .. } = self;
        if !gathered.entries.is_empty() {
            metrics::counter!("leadhand_facts_total").increment(gathered.entries.len() as u64);
            hub.committed(shop, state.head);
        }
        let fact_id = gathered.entries.last().map(|entry| entry.fact_id).or(before);
        (state.size() <= CACHE_ROWS).then_some(Kept { state, fact_id })
    }
}

impl Gathered {
    /// When the next command is: each has its own instant, so that one of a batch can end what another began.
    pub(super) fn next(&self, now: Instant) -> Instant {
        let last = self.entries.last().map_or(now, |entry| Instant(entry.recorded_at.0.saturating_add(1)));
        now.max(last)
    }

    fn take(
        &mut self,
        judge: &Judge,
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
                fingerprint: Some(asked.fingerprint(&*judge.entropy)),
                outline: asked.outline(&*judge.entropy, &sealed),
                answer: serde_json::to_value(answer).unwrap_or_default(),
                first_n,
                last_n,
            },
        );
        self.entries.extend(entries);
        self.texts.extend(texts);
    }
}

fn counts(state: &State, shown: Shown, now: Instant) -> bool {
    let row = state.tokens.get(&(shown.token,));
    let token = row.is_some_and(|row| row.revoked_at.is_none() && row.expires_at.is_none_or(|end| end > now));
    token && shown.session.is_none_or(|session| session_counts(state, session, now))
}

/// The name that a command gives to somebody, and to whom if not to somebody new.
pub(super) fn named(command: &Command) -> Option<(&str, Option<PersonId>)> {
    match command {
        Command::AddPerson(asked) => Some((&asked.name, None)),
        Command::RenamePerson(asked) => Some((&asked.name, Some(asked.person))),
        _ => None,
    }
}
