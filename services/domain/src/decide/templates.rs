//! Templates are published, revision by revision.

use crate::answer::Made;
use crate::command::PublishTemplate;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::template::{FAULTS_MAX, Parsed, check_items, check_shared_tools, parse};
use leadhand_facts::template::Template;
use leadhand_facts::{Fact, ItemKey, ToolKey, Unit};
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn publish(session: &mut Session, command: &PublishTemplate) -> Result<Made, Refusal> {
    let template = checked(session.state, &command.source)?;
    let key = template.key.clone();
    let latest = session.state.templates.iter().filter(|row| row.template == key).max_by_key(|row| row.revision);
    let revision = latest.map_or(0, |row| row.revision) + 1;
    session.emit(Fact::TemplatePublished { revision, template })?;
    Ok(Made::Template { template: key, revision })
}

/// A template whose items and shared tools are all listed in the shop, or every fault that it has.
pub fn checked(state: &State, source: &str) -> Result<Template, Refusal> {
    let parsed: Parsed = parse(source).map_err(|faults| Refusal::TemplateFaults { faults })?;
    let items: BTreeMap<ItemKey, Unit> = state.items.iter().map(|row| (row.item.clone(), row.unit)).collect();
    let known: BTreeSet<&ToolKey> =
        state.tools.iter().filter(|row| row.retired_n.is_none()).map(|row| &row.tool).collect();
    let mut faults = check_shared_tools(&parsed, &known);
    match check_items(&parsed, &items) {
        Ok(template) if faults.is_empty() => Ok(template),
        checked => {
            faults.extend(checked.err().unwrap_or_default());
            faults.sort();
            faults.truncate(FAULTS_MAX);
            Err(Refusal::TemplateFaults { faults })
        }
    }
}
