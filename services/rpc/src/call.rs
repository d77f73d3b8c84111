//! What every call has in common: who calls, until when, and what comes with a write.

use crate::convert::{fields, invalid, time};
use crate::layers::auth::{From, Secret};
use crate::layers::deadline::Deadline;
use leadhand_app::access::{Operator, Principal};
use leadhand_app::{App, AppError, NameOf, Named, Outcome, Write};
use leadhand_domain::command::Command;
use leadhand_facts::{CustomerId, PersonId, RequestId};
use leadhand_proto::v1::WriteContext;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};
use tokio::time::Instant;
use tonic::Request;
use uuid::Uuid;

/// One call of a caller who was let in.
pub struct Call {
    /// The application.
    pub app: App,
    /// Who calls.
    pub who: Principal,
    /// What proved it.
    pub secret: Secret,
    /// From which address, as far as that is known.
    pub from: Option<IpAddr>,
    deadline: Option<Instant>,
    /// Whom the request has named so far.
    named: Mutex<Vec<Named>>,
}

impl Call {
    /// What the layers found out about a request.
    pub fn of<M>(app: &App, request: &Request<M>) -> Result<Self, AppError> {
        let found = request.extensions();
        let (Some(who), Some(secret)) = (found.get::<Principal>(), found.get::<Secret>()) else {
            // Nothing comes here past the layer of tokens.
            return Err(AppError::Unauthenticated("unknown"));
        };
        let deadline = found.get::<Deadline>().map(|deadline| deadline.0);
        let from = found.get::<From>().and_then(|from| from.0);
        Ok(Self { app: app.clone(), who: *who, secret: secret.clone(), from, deadline, named: Mutex::default() })
    }

    /// A person whom a view is about, by id or name, when one was said.
    pub async fn person_known(&self, field: &str, text: &str) -> Result<Option<PersonId>, AppError> {
        match fields::named(field, text)? {
            Some(named) => self.app.person(&self.who, field, named).await.map(Some),
            None => Ok(None),
        }
    }

    /// A customer whom a view is about, by id or name.
    pub async fn customer_known(&self, field: &str, text: &str) -> Result<CustomerId, AppError> {
        let named = fields::named(field, text)?.ok_or_else(|| invalid(field, NO_CUSTOMER))?;
        self.app.customer(&self.who, field, named).await
    }

    /// A person whom a write is about, by id or name, when one was said. Whether there is such a person is for the
    /// writer to say, who knows whether the request was accepted before: so this comes before [`Call::write`].
    pub async fn person_some(&self, field: &str, text: &str) -> Result<Option<PersonId>, AppError> {
        Ok(self.named(NameOf::Person, field, text).await?.map(PersonId))
    }

    /// The same, when one has to be said.
    pub async fn person(&self, field: &str, text: &str) -> Result<PersonId, AppError> {
        let found = self.person_some(field, text).await?;
        found.ok_or_else(|| invalid(field, "it is missing; give the person's id or name"))
    }

    /// A customer whom a write is about, as for [`Call::person_some`].
    pub async fn customer_some(&self, field: &str, text: &str) -> Result<Option<CustomerId>, AppError> {
        Ok(self.named(NameOf::Customer, field, text).await?.map(CustomerId))
    }

    /// The same, when one has to be said.
    pub async fn customer(&self, field: &str, text: &str) -> Result<CustomerId, AppError> {
        self.customer_some(field, text).await?.ok_or_else(|| invalid(field, NO_CUSTOMER))
    }

    async fn named(&self, of: NameOf, field: &str, text: &str) -> Result<Option<Uuid>, AppError> {
        let Some(text) = fields::named(field, text)? else { return Ok(None) };
        if let Ok(id) = Uuid::try_parse(text) {
            return Ok(Some(id));
        }
        let named = self.app.named(&self.who, of, field, text).await?;
        let id = named.id;
        self.named.lock().unwrap_or_else(PoisonError::into_inner).push(named);
        Ok(Some(id))
    }

    /// When the answer has to be on its way.
    pub fn deadline(&self) -> Option<Instant> {
        self.deadline
    }

    /// Sends a command through the shop's writer.
    pub async fn execute(&self, write: Option<WriteContext>, command: impl Into<Command>) -> Result<Outcome, AppError> {
        let write = self.write(write).await?;
        self.app.execute(&self.who, write, command).await
    }

    /// The same for a command that may be tried without being recorded.
    pub async fn execute_or_try(
        &self,
        write: Option<WriteContext>,
        command: impl Into<Command>,
    ) -> Result<Outcome, AppError> {
        self.execute_or_try_unless(write, command, None).await
    }

    /// The same for one that may not have been worked out: it is refused for that when it is new, and a repeat of what was
    /// accepted gets its first answer.
    pub async fn execute_or_try_unless(
        &self,
        write: Option<WriteContext>,
        command: impl Into<Command>,
        unworked: Option<AppError>,
    ) -> Result<Outcome, AppError> {
        let dry_run = write.as_ref().is_some_and(|write| write.dry_run);
        let write = self.write(write.map(|write| WriteContext { dry_run: false, ..write })).await?;
        let write = Write { dry_run, unworked: unworked.map(Box::new), ..write };
        self.app.execute(&self.who, write, command).await
    }

    /// What comes with a write that is recorded.
    pub async fn write(&self, said: Option<WriteContext>) -> Result<Write, AppError> {
        let said = said.unwrap_or_default();
        if said.dry_run {
            return Err(invalid("write.dry_run", NO_DRY_RUN));
        }
        if said.request_id.is_empty() {
            return Err(invalid("write.request_id", NO_REQUEST_ID));
        }
        let request = RequestId(fields::id("write.request_id", &said.request_id)?);
        let happened_at = time::instant_some("write.happened_at", said.happened_at)?;
        let etag = etag(&said.etag)?;
        let for_person = self.person_some("write.for_person", &said.for_person).await?;
        let named = std::mem::take(&mut *self.named.lock().unwrap_or_else(PoisonError::into_inner));
        Ok(Write { request, happened_at, for_person, etag, deadline: self.deadline, named, ..Write::of(request) })
    }
}

/// One call of an operator who was let in.
pub struct OperatorCall {
    /// The application.
    pub app: App,
    /// Who calls.
    pub who: Operator,
}

impl OperatorCall {
    /// What the layers found out about a request.
    pub fn of<M>(app: &App, request: &Request<M>) -> Result<Self, AppError> {
        // Nothing comes here past the layer of tokens.
        let who = request.extensions().get::<Operator>().ok_or(AppError::Unauthenticated("unknown"))?;
        Ok(Self { app: app.clone(), who: *who })
    }
}

/// The id of a request of which nothing else counts.
pub fn request_id(said: Option<WriteContext>) -> Result<RequestId, AppError> {
    let said = said.unwrap_or_default();
    let others = [
        (said.happened_at.is_some(), "write.happened_at"),
        (!said.for_person.is_empty(), "write.for_person"),
        (!said.etag.is_empty(), "write.etag"),
        (said.dry_run, "write.dry_run"),
    ];
    if let Some((_, field)) = others.iter().find(|(said, _)| *said) {
        return Err(invalid(*field, "it has no meaning for an operator; leave it out"));
    }
    if said.request_id.is_empty() {
        return Err(invalid("write.request_id", NO_REQUEST_ID));
    }
    Ok(RequestId(fields::id("write.request_id", &said.request_id)?))
}

const NO_CUSTOMER: &str = "it is missing; give the customer's id or name";

const NO_DRY_RUN: &str = "this request is always recorded; leave it out (what changes stock can be tried)";

const NO_REQUEST_ID: &str = "it is missing; draw a random UUID for each new request and repeat it with each new try";

/// The version that a client saw.
fn etag(text: &str) -> Result<Option<i64>, AppError> {
    if text.is_empty() {
        return Ok(None);
    }
    let version = text.strip_prefix('v').and_then(|digits| digits.parse().ok()).filter(|version: &i64| *version > 0);
    let wrong = "it is not an etag of a job; repeat the one that the job had, or leave it empty";
    version.map(Some).ok_or_else(|| invalid("write.etag", wrong))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn etags_are_those_that_jobs_have() {
        assert_eq!(etag("").unwrap(), None);
        assert_eq!(etag(&crate::convert::job::etag(17)).unwrap(), Some(17));
        for wrong in ["17", "v", "v-1", "v0", "v99999999999999999999"] {
            assert!(etag(wrong).unwrap_err().to_string().starts_with("write.etag: "), "{wrong}");
        }
    }
}
