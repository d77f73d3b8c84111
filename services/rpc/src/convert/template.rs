//! Templates and their networks.

use super::time::timestamp;
use super::{count, enums};
use leadhand_app::AppError;
use leadhand_domain::network::{Network, Timed};
use leadhand_domain::template::{self, Fault, expand};
use leadhand_facts::OptionKey;
use leadhand_facts::rows::TemplateRow;
use leadhand_facts::template::{Template, TemplateOption};
use leadhand_proto::v1;
use std::collections::BTreeSet;

/// A template in a list.
pub fn summary(row: &TemplateRow) -> v1::TemplateSummary {
    v1::TemplateSummary {
        template: row.template.to_string(),
        title: row.title.clone(),
        revision: row.revision,
        stages: count(row.doc.stages.len()),
        published_at: Some(timestamp(row.published_at)),
    }
}

/// An option of a template.
pub fn option(option: &TemplateOption) -> v1::TemplateOption {
    v1::TemplateOption { option: option.key.to_string(), title: option.title.clone(), on_by_default: option.default }
}

/// A fault in a template file.
pub fn fault(fault: &Fault) -> v1::TemplateFault {
    v1::TemplateFault { line: count(fault.line), column: count(fault.column), message: fault.message.clone() }
}

/// The network of a checked template with every option at its default.
pub fn network(template: &Template) -> Result<v1::Network, AppError> {
    let network = Network::of_stages(&expand(template, &by_default(template)))
        .map_err(|error| AppError::Internal(format!("template '{}' has no network: {error}", template.key)))?;
    Ok(v1::Network {
        elapsed_minutes: network.elapsed.minutes(),
        elapsed_sd_minutes: network.variance.deviation_minutes(),
        labour_minutes: network.labour.minutes(),
        critical_path: network.critical_path.iter().map(ToString::to_string).collect(),
        stages: network.stages.iter().map(stage).collect(),
    })
}

fn by_default(template: &Template) -> BTreeSet<OptionKey> {
    template.options.iter().filter(|option| option.default).map(|option| option.key.clone()).collect()
}

/// Kinds of bay in which its work can begin, with every option at its default; none: in any.
pub fn first_bays(template: &Template) -> Vec<i32> {
    template::first_bays(&expand(template, &by_default(template))).into_iter().map(enums::bay_kind).collect()
}

fn stage(timed: &Timed) -> v1::NetworkStage {
    v1::NetworkStage {
        stage: timed.key.to_string(),
        expected_minutes: timed.expected.minutes(),
        earliest_start: timed.earliest_start.minutes(),
        earliest_finish: timed.earliest_finish.minutes(),
        latest_start: timed.latest_start.minutes(),
        latest_finish: timed.latest_finish.minutes(),
        slack: timed.slack.minutes(),
    }
}
