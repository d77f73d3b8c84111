//! Templates: checked, listed, shown, drafted from a job.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::decide::checked_template;
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::template::{Fault, draft, items_named, notes};
use leadhand_facts::rows::TemplateRow;
use leadhand_facts::template::Template;
use leadhand_facts::{JobNo, TemplateKey};

/// The latest revision of each template, by key.
#[derive(Debug, Clone)]
pub struct TemplatePage {
    /// The templates.
    pub templates: Vec<TemplateRow>,
    /// The last key of a full page: more may follow.
    pub next: Option<TemplateKey>,
}

/// A template file drafted from a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DraftedTemplate {
    /// The file's text.
    pub source: String,
}

impl App {
    /// A checked template with what is worth a second look in it, or the refusal that lists its faults.
    pub async fn check_template(&self, who: &Principal, source: &str) -> Result<(Template, Vec<Fault>), AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::Shop, Need::Items(items_named(source).into_iter().collect())]).await?;
        reading.snapshot.end().await?;
        let tools: Vec<_> = reading.state.tools.iter().cloned().collect();
        Ok((checked_template(&reading.state, source)?, notes(source, &tools)))
    }

    /// The latest revision of each template after this key.
    pub async fn templates(
        &self,
        who: &Principal,
        after: Option<TemplateKey>,
        size: usize,
    ) -> Result<TemplatePage, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::LatestTemplates]).await?;
        reading.snapshot.end().await?;
        let rows =
            reading.state.templates.iter().filter(|row| after.as_ref().is_none_or(|after| row.template > *after));
        let templates: Vec<TemplateRow> = rows.take(size).cloned().collect();
        let next = (templates.len() == size).then(|| templates.last().map(|row| row.template.clone())).flatten();
        Ok(TemplatePage { templates, next })
    }

    /// One revision, or the latest.
    pub async fn template(
        &self,
        who: &Principal,
        key: &TemplateKey,
        revision: Option<i32>,
    ) -> Result<TemplateRow, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let need = match revision {
            Some(revision) => Need::Template(key.clone(), revision),
            None => Need::LatestTemplate(key.clone()),
        };
        reading.load(&[need]).await?;
        reading.snapshot.end().await?;
        let row = reading.state.templates.iter().next().cloned();
        row.ok_or_else(|| {
            let which = revision.map_or_else(|| key.to_string(), |revision| format!("{key} revision {revision}"));
            Refusal::Unknown { what: "template", which, todo: "`leadhand template list` shows them" }.into()
        })
    }

    /// A template file from a job as it went: its stages and steps, unplanned ones included.
    pub async fn draft_template(
        &self,
        who: &Principal,
        job: JobNo,
        key: &TemplateKey,
    ) -> Result<DraftedTemplate, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::Job(job)]).await?;
        let row = look::job(&reading.state, job)?;
        // What it went by says in which order things are listed, and by which ladders.
        let by = row.template.clone().zip(row.revision).map(|(key, revision)| Need::Template(key, revision));
        reading.load(&Vec::from_iter(by)).await?;
        let texts = draft::texts(&reading.state, job);
        let words = Words::load(&mut reading.snapshot, texts).await?;
        reading.snapshot.end().await?;
        let template = draft::draft(&reading.state, job, key, &|text| words.get(Some(text)).to_owned())?;
        Ok(DraftedTemplate { source: draft::file(&template) })
    }
}
