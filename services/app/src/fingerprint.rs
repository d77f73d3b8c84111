//! A request id takes effect once; the fingerprint tells a repeat from another request.
//!
//! It is salted, so that the words of a command can't be guessed from it while it is kept, and
//! it is dropped when one of those words is erased.

use crate::chance::Entropy;
use leadhand_domain::command::{
    Command, ForgetCustomer, ForgetPerson, IssueToken, ReplaceLead, RotateToken, SetBadge, SetPin, SignIn,
};
use leadhand_facts::{Instant, PersonId, PrincipalId, TokenId};
use sha2::{Digest, Sha256};
use uuid::Uuid;

const SALT: usize = 16;

/// What of a request has to be the same when it is repeated.
pub(crate) struct Asked<'a> {
    pub(crate) command: &'a Command,
    pub(crate) principal: Option<PrincipalId>,
    pub(crate) person: Option<PersonId>,
    pub(crate) happened_at: Option<Instant>,
    /// Persons who are taken for others: the first of each pair is found in the request, the second is tried.
    pub(crate) stand_ins: Vec<(PersonId, PersonId)>,
}

impl Asked<'_> {
    /// A new fingerprint: a salt and the salted hash.
    pub(crate) fn fingerprint(&self, entropy: &dyn Entropy) -> Vec<u8> {
        let mut salt = [0; SALT];
        entropy.fill(&mut salt);
        self.salted(&salt)
    }

    /// Whether this is what was asked before. A dropped fingerprint fits everything.
    pub(crate) fn fits(&self, fingerprint: Option<&[u8]>) -> bool {
        fingerprint.is_none_or(|known| known.get(..SALT).is_some_and(|salt| self.salted(salt) == known))
    }

    fn salted(&self, salt: &[u8]) -> Vec<u8> {
        let mut command = serde_json::to_string(&without_chance(self.command)).unwrap_or_default();
        let mut acting = self.person;
        for (found, tried) in &self.stand_ins {
            command = command.replace(&found.to_string(), &tried.to_string());
            acting = acting.map(|person| if person == *found { *tried } else { person });
        }
        let at = self.happened_at.map(|at| at.0.to_be_bytes()).unwrap_or_default();
        let hash = Sha256::new()
            .chain_update(salt)
            .chain_update(self.command.name())
            .chain_update(command)
            .chain_update(self.principal.map_or(Uuid::nil(), |principal| principal.0))
            .chain_update(acting.map_or(Uuid::nil(), |person| person.0))
            .chain_update(at)
            .finalize();
        [salt, &hash].concat()
    }
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
