//! What is taken for otherwise, from the wire.

use super::time::{instant_needed, instant_some};
use super::{fields, invalid};
use crate::call::Call;
use leadhand_app::AppError;
use leadhand_domain::plan::what_if::{CHANGES_MAX, Change};
use leadhand_facts::{JobNo, PersonId, StageKey, Window};
use leadhand_proto::v1::{PlanChange, PlanChangeKind as Kind};

/// Changes in their order.
pub async fn changes(call: &Call, said: &[PlanChange]) -> Result<Vec<Change>, AppError> {
    if said.len() > CHANGES_MAX {
        let why = format!("it has {} entries; ask with at most {CHANGES_MAX} at a time", said.len());
        return Err(invalid("changes", why));
    }
    let mut found = Vec::with_capacity(said.len());
    for (at, one) in said.iter().enumerate() {
        found.push(change(call, &One { at, said: one }).await?);
    }
    Ok(found)
}

struct One<'a> {
    at: usize,
    said: &'a PlanChange,
}

impl One<'_> {
    fn field(&self, name: &str) -> String {
        format!("changes[{}].{name}", self.at)
    }

    /// Refuses what a change of this kind does not take.
    fn takes(&self, taken: &[&str]) -> Result<(), AppError> {
        let said = self.said;
        let all = [
            ("job", said.job != 0),
            ("stage", !said.stage.is_empty()),
            ("person", !said.person.is_empty()),
            ("bay", !said.bay.is_empty()),
            ("from_at", said.from_at.is_some()),
            ("until_at", said.until_at.is_some()),
            ("priority", said.priority != 0),
        ];
        match all.iter().find(|(name, given)| *given && !taken.contains(name)) {
            Some((name, _)) => Err(invalid(self.field(name), "a change of this kind does not take it; leave it out")),
            None => Ok(()),
        }
    }

    fn job(&self) -> Result<JobNo, AppError> {
        let wrong = |_| invalid(self.field("job"), "it is not a job's number; give 1 or more");
        fields::job(self.said.job).map_err(wrong)
    }

    fn stage(&self) -> Result<StageKey, AppError> {
        fields::key(&self.field("stage"), &self.said.stage)
    }

    fn window(&self) -> Result<Window, AppError> {
        let from = instant_needed(&self.field("from_at"), self.said.from_at)?;
        Ok(Window { from, until: instant_needed(&self.field("until_at"), self.said.until_at)? })
    }

    async fn person(&self, call: &Call) -> Result<PersonId, AppError> {
        let field = self.field("person");
        let found = call.person_known(&field, &self.said.person).await?;
        found.ok_or_else(|| invalid(field, "it is missing; give the person's id or name"))
    }
}

async fn change(call: &Call, one: &One<'_>) -> Result<Change, AppError> {
    let kind = Kind::try_from(one.said.kind).unwrap_or(Kind::Unspecified);
    let until = || instant_some(&one.field("until_at"), one.said.until_at);
    Ok(match kind {
        Kind::Unspecified => return Err(invalid(one.field("kind"), "it is missing, or not one that is known here")),
        Kind::PartsFrom => {
            one.takes(&["job", "stage", "from_at"])?;
            let at = instant_some(&one.field("from_at"), one.said.from_at)?;
            Change::PartsFrom { job: one.job()?, stage: one.stage()?, at }
        }
        Kind::BlockerEnds => {
            one.takes(&["job", "stage", "until_at"])?;
            Change::BlockerEnds { job: one.job()?, stage: one.stage()?, at: until()? }
        }
        Kind::OneMoreHand => {
            one.takes(&["person", "from_at", "until_at"])?;
            Change::OneMoreHand { window: one.window()?, like: one.person(call).await? }
        }
        Kind::Away => {
            one.takes(&["person", "from_at", "until_at"])?;
            Change::Away { window: one.window()?, person: one.person(call).await? }
        }
        Kind::BayClosed => {
            one.takes(&["bay", "from_at", "until_at"])?;
            Change::BayClosed { bay: fields::key(&one.field("bay"), &one.said.bay)?, window: one.window()? }
        }
        Kind::RollOut => {
            one.takes(&["job"])?;
            Change::RollOut { job: one.job()? }
        }
        Kind::Promise => {
            one.takes(&["job", "until_at"])?;
            Change::Promise { job: one.job()?, at: until()? }
        }
        Kind::Priority => {
            one.takes(&["job", "priority"])?;
            Change::Priority { job: one.job()?, priority: one.said.priority }
        }
        Kind::Overtime => {
            one.takes(&["person", "from_at", "until_at"])?;
            Change::Overtime { window: one.window()?, person: one.person(call).await? }
        }
        Kind::Without => {
            one.takes(&["job"])?;
            Change::Without { job: one.job()? }
        }
    })
}
