//! One command on its way: the state it meets and the facts it has made so far. A fact is
//! applied as soon as it is made, so that the next rule sees it.

use crate::answer::Notice;
use crate::apply::apply;
use crate::context::{Chance, Context};
use crate::refusal::Refusal;
use crate::state::State;
use leadhand_facts::{Entry, Fact, FactId, Instant, TextRef};
use uuid::Uuid;

/// A command under decision.
pub struct Session<'a> {
    /// What is loaded, with the facts so far applied.
    pub state: &'a mut State,
    /// The circumstances.
    pub context: &'a Context,
    /// What the person should know.
    pub notices: Vec<Notice>,
    happened_at: Instant,
    entries: Vec<Entry>,
    chance: &'a mut dyn Chance,
}

impl<'a> Session<'a> {
    /// Begins; [`State::roll_back`] leads back here.
    pub fn new(state: &'a mut State, context: &'a Context, chance: &'a mut dyn Chance) -> Self {
        state.mark();
        let happened_at = context.happened_at;
        Self { state, context, notices: Vec::new(), happened_at, entries: Vec::new(), chance }
    }

    /// Makes a fact that happened at [`Self::at`].
    pub fn emit(&mut self, fact: Fact) -> Result<i64, Refusal> {
        let number = self.state.head + 1;
        let actor = self.context.actor;
        let entry = Entry {
            number,
            fact_id: FactId(self.chance.id()),
            recorded_at: self.context.now,
            happened_at: self.happened_at,
            principal: actor.principal,
            person: actor.person,
            proved: actor.proved.filter(|proved| actor.person != Some(*proved)),
            request: self.context.request,
            fact,
        };
        apply(self.state, &entry).map_err(|broken| Refusal::Defect { why: broken.to_string() })?;
        self.entries.push(entry);
        Ok(number)
    }

    /// A new random id.
    pub fn id(&mut self) -> Uuid {
        self.chance.id()
    }

    /// Seals words.
    pub fn seal(&mut self, words: &str) -> TextRef {
        self.chance.seal(words)
    }

    /// Seals words, if there are any.
    pub fn seal_some(&mut self, words: Option<&str>) -> Option<TextRef> {
        words.map(|words| self.chance.seal(words))
    }

    /// When the facts that are made now happened: when the command says, unless they were dated.
    pub fn at(&self) -> Instant {
        self.happened_at
    }

    /// Says when the facts made from here on happened.
    pub fn date(&mut self, at: Instant) {
        self.happened_at = at;
    }

    /// Tells the person something.
    pub fn notice(&mut self, notice: Notice) {
        self.notices.push(notice);
    }

    /// The facts made, in order.
    pub fn into_entries(self) -> (Vec<Entry>, Vec<Notice>) {
        (self.entries, self.notices)
    }
}
