//! Templates are published, revision by revision.

use crate::answer::Made;
use crate::command::PublishTemplate;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::template::{Parsed, check_items, parse};
use leadhand_facts::template::Template;
use leadhand_facts::{Fact, ItemKey, Unit};
use std::collections::BTreeMap;

pub(super) fn publish(session: &mut Session, command: &PublishTemplate) -> Result<Made, Refusal> {
    let template = checked(session.state, &command.source)?;
    let key = template.key.clone();
    let latest = session.state.templates.iter().filter(|row| row.template == key).max_by_key(|row| row.revision);
    let revision = latest.map_or(0, |row| row.revision) + 1;
    session.emit(Fact::TemplatePublished { revision, template })?;
    Ok(Made::Template { template: key, revision })
}

/// A template whose items are all listed in the shop, or every fault that it has.
pub fn checked(state: &State, source: &str) -> Result<Template, Refusal> {
    let parsed: Parsed = parse(source).map_err(|faults| Refusal::TemplateFaults { faults })?;
    let items: BTreeMap<ItemKey, Unit> = state.items.iter().map(|row| (row.item.clone(), row.unit)).collect();
    check_items(&parsed, &items).map_err(|faults| Refusal::TemplateFaults { faults })
}
