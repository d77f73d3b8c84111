//! A new shop with its first lead and that lead's token, and tokens in general.

use crate::App;
use crate::access::{Principal, TOKEN, new_secret, token_hash};
use crate::chance::random_id;
use crate::error::AppError;
use crate::writer::{Outcome, Sender, Write};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{AddPerson, Command, IssueToken, OpenShop};
use leadhand_domain::decide::check_opening;
use leadhand_facts::words::Role;
use leadhand_facts::{Instant, PersonId, PrincipalId, RequestId, ShopId, TokenId};

/// A shop that was opened.
#[derive(Debug, Clone)]
pub struct NewShop {
    /// Its id.
    pub shop: ShopId,
    /// The lead.
    pub lead: PersonId,
    /// The secret of the lead's token; it is kept nowhere.
    pub secret: String,
}

impl App {
    /// Opens a shop with its first lead.
    pub async fn open_shop(&self, name: &str, zone: &str, lead: &str) -> Result<NewShop, AppError> {
        // Refused before there is a shop, or an empty one would stay behind.
        check_opening(name, zone, lead)?;
        let shop = ShopId(random_id(&*self.entropy));
        self.store.open_head(shop).await?;
        self.first(shop, OpenShop { name: name.to_owned(), zone: zone.to_owned() }.into()).await?;
        let added = self.first(shop, AddPerson { name: lead.to_owned(), skills: Vec::new() }.into()).await?;
        let Made::Person(lead) = added.answer.made else {
            return Err(AppError::Internal("a person was added without an id".to_owned()));
        };
        let (issue, secret) = self.new_token(Role::Lead, Some(lead), None, None);
        self.first(shop, issue.into()).await?;
        Ok(NewShop { shop, lead, secret })
    }

    async fn first(&self, shop: ShopId, command: Command) -> Result<Outcome, AppError> {
        let request = RequestId(random_id(&*self.entropy));
        let write = Write::of(request);
        self.writers.submit(shop, command, Sender::server(), write).await
    }

    /// Issues a token. Its secret is returned this once; a repeat of the request gets none.
    pub async fn issue_token(
        &self,
        who: &Principal,
        write: Write,
        role: Role,
        person: Option<PersonId>,
        label: Option<String>,
        expires_at: Option<Instant>,
    ) -> Result<(Outcome, Option<String>), AppError> {
        let (issue, secret) = self.new_token(role, person, label, expires_at);
        let outcome = self.execute(who, write, issue).await?;
        let secret = (!outcome.repeated).then_some(secret);
        Ok((outcome, secret))
    }

    pub(crate) fn new_token(
        &self,
        role: Role,
        person: Option<PersonId>,
        label: Option<String>,
        expires_at: Option<Instant>,
    ) -> (IssueToken, String) {
        let (secret, prefix) = new_secret(&*self.entropy, TOKEN);
        let issue = IssueToken {
            token: TokenId(random_id(&*self.entropy)),
            principal: PrincipalId(random_id(&*self.entropy)),
            person,
            label,
            role,
            prefix,
            hash: token_hash(&secret),
            expires_at,
        };
        (issue, secret)
    }
}
