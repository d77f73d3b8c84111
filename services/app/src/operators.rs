//! Operators: who makes shops and helps a lead who lost the token. Each request is taken once: the ids
//! of what it makes follow from the operator and the request, so that a repeat finds them.

use crate::App;
use crate::access::{OPERATOR_TOKEN, Operator, new_secret, token_hash};
use crate::chance::random_id;
use crate::error::AppError;
use crate::read::nobody;
use crate::writer::{NameOf, Named, Outcome, Sender, Write};
use leadhand_domain::answer::Made;
use leadhand_domain::check;
use leadhand_domain::command::{AddPerson, Command, OpenShop, ReplaceLead};
use leadhand_domain::decide::check_opening;
use leadhand_domain::names;
use leadhand_domain::refusal::Refusal;
use leadhand_facts::rows::PersonRow;
use leadhand_facts::words::Role;
use leadhand_facts::{Instant, PersonId, PrincipalId, RequestId, ShopId};
use leadhand_store::{OpenedShop, OperatorInfo};
use uuid::Uuid;

/// A shop that an operator opened.
#[derive(Debug, Clone)]
pub struct OperatedShop {
    /// Its id.
    pub shop: ShopId,
    /// The lead.
    pub lead: PersonId,
    /// The secret of the lead's token; none when the request was repeated.
    pub secret: Option<String>,
}

/// An operator's new token.
#[derive(Debug, Clone)]
pub struct NewOperator {
    /// Its id.
    pub operator: PrincipalId,
    /// The secret; it is kept nowhere.
    pub secret: String,
}

impl App {
    /// Makes an operator's token.
    pub async fn issue_operator(&self, label: &str, expires_at: Option<Instant>) -> Result<NewOperator, AppError> {
        check::name("label", label)?;
        let (secret, prefix) = new_secret(&*self.entropy, OPERATOR_TOKEN);
        let operator = PrincipalId(random_id(&*self.entropy));
        self.store.issue_operator(operator, label, (&prefix, &token_hash(&secret)), expires_at).await?;
        Ok(NewOperator { operator, secret })
    }

    /// Every operator's token, oldest first.
    pub async fn operators(&self) -> Result<Vec<OperatorInfo>, AppError> {
        Ok(self.store.operators().await?)
    }

    /// Revokes an operator's token; `false` when there is none.
    pub async fn revoke_operator(&self, operator: PrincipalId) -> Result<bool, AppError> {
        Ok(self.store.revoke_operator(operator).await?)
    }

    /// Every shop, without anything that is said in it.
    pub async fn opened_shops(&self) -> Result<Vec<OpenedShop>, AppError> {
        Ok(self.store.opened_shops().await?)
    }

    /// Opens a shop with its first lead, for an operator.
    pub async fn operate_open(
        &self,
        who: &Operator,
        request: RequestId,
        name: &str,
        zone: &str,
        lead: &str,
    ) -> Result<OperatedShop, AppError> {
        check_opening(name, zone, lead)?;
        let shop = ShopId(Uuid::new_v5(&who.operator.0, request.0.as_bytes()));
        self.store.open_head(shop).await?;
        let part = |part: &str| RequestId(Uuid::new_v5(&shop.0, part.as_bytes()));
        let open = OpenShop { name: name.to_owned(), zone: zone.to_owned() };
        self.operate(who, shop, part("open"), open.into()).await?;
        let lead = AddPerson { name: lead.to_owned(), skills: Vec::new() };
        let added = self.operate(who, shop, part("lead"), lead.into()).await?;
        let Made::Person(lead) = added.answer.made else {
            return Err(AppError::Internal("a person was added without an id".to_owned()));
        };
        let (issue, secret) = self.new_token(Role::Lead, Some(lead), None, None);
        let issued = self.operate(who, shop, part("token"), issue.into()).await?;
        Ok(OperatedShop { shop, lead, secret: (!issued.repeated).then_some(secret) })
    }

    /// Issues a lead's token for a person of a shop, by id or name; the shop's first lead when nobody is
    /// named. The others of that person are revoked when asked.
    pub async fn replace_lead_token(
        &self,
        who: &Operator,
        request: RequestId,
        shop: ShopId,
        person: Option<&str>,
        revoke_others: bool,
    ) -> Result<(Outcome, PersonId, Option<String>), AppError> {
        let (person, named) = self.lead_meant(shop, person).await?;
        let (issue, secret) = self.new_token(Role::Lead, Some(person), None, None);
        let (token, principal, prefix, hash) = (issue.token, issue.principal, issue.prefix, issue.hash);
        let replace = ReplaceLead { person, token, principal, prefix, hash, revoke_others };
        let write = Write { named: named.into_iter().collect(), ..Write::of(request) };
        let outcome = self.operate_with(who, shop, write, replace.into()).await?;
        if !outcome.repeated {
            return Ok((outcome, person, Some(secret)));
        }
        // Whoever was meant then may be called otherwise by now.
        let (_, tokens) = self.leads(shop).await?;
        let made = tokens.iter().find(|row| outcome.answer.made == Made::Token(row.token));
        let person = made.and_then(|row| row.person).unwrap_or(person);
        Ok((outcome, person, None))
    }

    async fn operate(
        &self,
        who: &Operator,
        shop: ShopId,
        request: RequestId,
        command: Command,
    ) -> Result<Outcome, AppError> {
        self.operate_with(who, shop, Write::of(request), command).await
    }

    async fn operate_with(
        &self,
        who: &Operator,
        shop: ShopId,
        write: Write,
        command: Command,
    ) -> Result<Outcome, AppError> {
        self.writers.submit(shop, command, Sender::operator(who.operator), write).await
    }

    /// Who is to be lead, and by which name. That there is nobody of that name counts later, unless it is a repeat.
    async fn lead_meant(&self, shop: ShopId, named: Option<&str>) -> Result<(PersonId, Option<Named>), AppError> {
        let unknown = |what, which, todo| Refusal::Unknown { what, which, todo };
        let opened =
            self.store.opened_shops().await?.iter().any(|known| known.shop == shop && known.opened_at.is_some());
        if !opened {
            return Err(unknown("shop", shop.to_string(), "`leadhand operator shops` shows them").into());
        }
        if let Some(id) = named.and_then(|named| Uuid::try_parse(named).ok()) {
            return Ok((PersonId(id), None));
        }
        let (view, tokens) = self.leads(shop).await?;
        let there = |row: &&PersonRow| !row.forgotten;
        let (bearers, found): (Vec<Uuid>, Option<Uuid>) = if let Some(named) = named {
            let folded = names::folded(named);
            let called = |row: &&PersonRow| names::folded(view.words.get(Some(row.name))) == folded;
            let all: Vec<Uuid> = view.persons.iter().filter(there).filter(called).map(|row| row.person.0).collect();
            let first = all.first().copied();
            (all, first)
        } else {
            // The first lead has no name here that others could have by now.
            let mut leads = tokens.iter().filter(|token| token.role == Role::Lead).filter_map(|token| token.person);
            let is_there = |id: &PersonId| view.persons.iter().filter(there).any(|row| row.person == *id);
            (Vec::new(), leads.find(is_there).map(|person| person.0))
        };
        let nowhere = match named {
            Some(named) => unknown("person", named.to_owned(), "ask the shop for the name as it is written there"),
            None => unknown("lead", "of this shop".to_owned(), "name the person who is to be lead"),
        };
        let of = NameOf::Person;
        let id = found.unwrap_or_else(|| nobody(shop, of, named.unwrap_or_default()));
        let unknown = found.is_none().then_some(nowhere);
        Ok((PersonId(id), Some(Named { of, id, bearers, unknown })))
    }
}
