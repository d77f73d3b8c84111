//! A request id takes effect once; the fingerprint tells a repeat from another request.
//!
//! It is salted, so that the words of a command can't be guessed from it while it is kept, and
//! it is dropped when one of those words is erased. The outline, which has none of them, stays.

use crate::chance::Entropy;
use crate::outline::{blank, blanked};
use leadhand_domain::command::{
    Command, ForgetCustomer, ForgetPerson, IssueToken, ReplaceLead, RotateToken, SetBadge, SetFillAside, SetPin, SignIn,
};
use leadhand_facts::{Instant, PersonId, PrincipalId, TokenId};
use leadhand_store::{AcceptedRequest, Outline};
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::borrow::Cow;
use uuid::Uuid;

const SALT: usize = 16;

/// What of a request has to be the same when it is repeated.
pub(crate) struct Asked<'a> {
    pub(crate) command: &'a Command,
    pub(crate) principal: Option<PrincipalId>,
    pub(crate) person: Option<PersonId>,
    pub(crate) happened_at: Option<Instant>,
    /// Persons and customers who are taken for others: the first of each pair is found in the request, the second
    /// is tried.
    pub(crate) stand_ins: Vec<(Uuid, Uuid)>,
}

impl Asked<'_> {
    /// A new fingerprint: a salt and the salted hash.
    pub(crate) fn fingerprint(&self, entropy: &dyn Entropy) -> Vec<u8> {
        self.salted(&new_salt(entropy), &self.text())
    }

    /// What stays when the words that were sealed are erased; nothing when there are none.
    pub(crate) fn outline(&self, entropy: &dyn Entropy, sealed: &[&str]) -> Option<Outline> {
        if sealed.is_empty() {
            return None;
        }
        let command = self.value();
        let blanked = blanked(self.command, &command, sealed);
        let hash = self.salted(&new_salt(entropy), &blank(command, &blanked)?);
        Some(Outline { hash, blanked })
    }

    /// Whether this is what was asked before. When the fingerprint was dropped the outline has to fit; what an older
    /// program accepted has none, and then everything fits.
    pub(crate) fn fits(&self, known: &AcceptedRequest) -> bool {
        match (&known.fingerprint, &known.outline) {
            (Some(fingerprint), _) => self.is(fingerprint, &self.text()),
            (None, Some(Outline { hash, blanked })) => {
                blank(self.value(), blanked).is_some_and(|text| self.is(hash, &text))
            }
            (None, None) => true,
        }
    }

    fn is(&self, known: &[u8], text: &str) -> bool {
        known.get(..SALT).is_some_and(|salt| self.salted(salt, text) == known)
    }

    fn text(&self) -> String {
        serde_json::to_string(&without_chance(self.command)).unwrap_or_default()
    }

    fn value(&self) -> Value {
        serde_json::to_value(without_chance(self.command)).unwrap_or_default()
    }

    fn salted(&self, salt: &[u8], text: &str) -> Vec<u8> {
        let acting = self.person.map(|person| {
            let tried = self.stand_ins.iter().find(|(found, _)| *found == person.0);
            tried.map_or(person.0, |(_, tried)| *tried)
        });
        let at = self.happened_at.map(|at| at.0.to_be_bytes()).unwrap_or_default();
        let hash = Sha256::new()
            .chain_update(salt)
            .chain_update(self.command.name())
            .chain_update(self.standing_in(text).as_bytes())
            .chain_update(self.principal.map_or(Uuid::nil(), |principal| principal.0))
            .chain_update(acting.unwrap_or_default())
            .chain_update(at)
            .finalize();
        [salt, &hash].concat()
    }

    /// The text with all stand-ins at once: one may be found where another is tried.
    fn standing_in<'t>(&self, text: &'t str) -> Cow<'t, str> {
        // JSON escapes this character, so that it stands nowhere in a text.
        let mark = |n: usize| format!("\u{0}{n}\u{0}");
        let mut text = Cow::Borrowed(text);
        for (n, (found, _)) in self.stand_ins.iter().enumerate() {
            text = text.replace(&found.to_string(), &mark(n)).into();
        }
        for (n, (_, tried)) in self.stand_ins.iter().enumerate() {
            text = text.replace(&mark(n), &tried.to_string()).into();
        }
        text
    }
}

fn new_salt(entropy: &dyn Entropy) -> [u8; SALT] {
    let mut salt = [0; SALT];
    entropy.fill(&mut salt);
    salt
}

/// The command as it was asked: what was drawn at random or looked up for it may differ from
/// try to try.
fn without_chance(command: &Command) -> Command {
    match command {
        Command::IssueToken(asked) => Command::IssueToken(IssueToken {
            token: TokenId(Uuid::nil()),
            principal: PrincipalId(Uuid::nil()),
            prefix: String::new(),
            hash: String::new(),
            ..asked.clone()
        }),
        Command::RotateToken(asked) => Command::RotateToken(RotateToken {
            new: TokenId(Uuid::nil()),
            prefix: String::new(),
            hash: String::new(),
            ..asked.clone()
        }),
        Command::ReplaceLead(asked) => Command::ReplaceLead(ReplaceLead {
            token: TokenId(Uuid::nil()),
            principal: PrincipalId(Uuid::nil()),
            prefix: String::new(),
            hash: String::new(),
            ..asked.clone()
        }),
        // What was reckoned goes by the job's books, and those move on between two tries; `asked` has all that was said.
        Command::SetFillAside(asked) => Command::SetFillAside(SetFillAside {
            fluid: "".into(),
            recipe: String::new(),
            millilitres: 0,
            mixture: None,
            drawn_ml: None,
            cautions: Vec::new(),
            ..asked.clone()
        }),
        Command::SetBadge(asked) => Command::SetBadge(SetBadge { hash: String::new(), ..asked.clone() }),
        // A quick hash over a PIN would let somebody try them all; its slow one differs from try to try.
        Command::SetPin(asked) => Command::SetPin(SetPin { secret: String::new(), ..asked.clone() }),
        Command::SignIn(asked) => Command::SignIn(SignIn {
            session: TokenId(Uuid::nil()),
            prefix: String::new(),
            hash: String::new(),
            ..asked.clone()
        }),
        Command::ForgetPerson(asked) => ForgetPerson { person: asked.person, texts: Vec::new() }.into(),
        Command::ForgetCustomer(asked) => ForgetCustomer { customer: asked.customer, texts: Vec::new() }.into(),
        other => other.clone(),
    }
}
