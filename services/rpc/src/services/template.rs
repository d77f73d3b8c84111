//! Templates: how a kind of job is done.

use super::{serve, unfit};
use crate::call::Call;
use crate::convert::{count, fields, lessons, notice::receipt, page, template};
use leadhand_app::{App, AppError};
use leadhand_domain::answer::Made;
use leadhand_domain::command::PublishTemplate;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::template::write;
use leadhand_facts::{TemplateKey, is_key};
use leadhand_proto::v1;
use leadhand_proto::v1::template_service_server::TemplateService;

/// The service.
pub struct Template {
    pub(crate) app: App,
}

serve! { TemplateService for Template {
    check_template(CheckTemplateRequest) -> CheckTemplateResponse;
    publish_template(PublishTemplateRequest) -> PublishTemplateResponse;
    list_templates(ListTemplatesRequest) -> ListTemplatesResponse;
    get_template(GetTemplateRequest) -> GetTemplateResponse;
    draft_template(DraftTemplateRequest) -> DraftTemplateResponse;
    get_lessons(GetLessonsRequest) -> GetLessonsResponse;
} also {} }

async fn check_template(call: &Call, asked: v1::CheckTemplateRequest) -> Result<v1::CheckTemplateResponse, AppError> {
    match call.app.check_template(&call.who, &asked.source).await {
        Ok((checked, notes)) => Ok(v1::CheckTemplateResponse {
            faults: Vec::new(),
            network: Some(template::network(&checked)?),
            template: checked.key.to_string(),
            stages: count(checked.stages.len()),
            notes: notes.iter().map(template::fault).collect(),
        }),
        // Faults are what was asked for, not a failure.
        Err(AppError::Refused { refusal: Refusal::TemplateFaults { faults }, .. }) => {
            let faults = faults.iter().map(template::fault).collect();
            Ok(v1::CheckTemplateResponse { faults, ..v1::CheckTemplateResponse::default() })
        }
        Err(error) => Err(error),
    }
}

async fn publish_template(
    call: &Call,
    asked: v1::PublishTemplateRequest,
) -> Result<v1::PublishTemplateResponse, AppError> {
    let outcome = call.execute(asked.write, PublishTemplate { source: asked.source }).await?;
    let receipt = receipt(&outcome);
    let Made::Template { template, revision } = outcome.answer.made else { return Err(unfit("a template", &outcome)) };
    Ok(v1::PublishTemplateResponse { receipt, template: template.to_string(), revision })
}

async fn list_templates(call: &Call, asked: v1::ListTemplatesRequest) -> Result<v1::ListTemplatesResponse, AppError> {
    let place = |text: &str| is_key(text).then(|| TemplateKey::from(text));
    let after = page::read("templates", &asked.page_token, place)?;
    let found = call.app.templates(&call.who, after, page::size(asked.page_size)?).await?;
    Ok(v1::ListTemplatesResponse {
        templates: found.templates.iter().map(template::summary).collect(),
        next_page_token: page::token("templates", found.next),
    })
}

async fn get_template(call: &Call, asked: v1::GetTemplateRequest) -> Result<v1::GetTemplateResponse, AppError> {
    let key = fields::key("template", &asked.template)?;
    let revision = fields::positive_some("revision", asked.revision)?;
    let row = call.app.template(&call.who, &key, revision).await?;
    Ok(v1::GetTemplateResponse {
        summary: Some(template::summary(&row)),
        options: row.doc.options.iter().map(template::option).collect(),
        source: write(&row.doc),
        network: Some(template::network(&row.doc)?),
        first_bays: template::first_bays(&row.doc),
    })
}

async fn draft_template(call: &Call, asked: v1::DraftTemplateRequest) -> Result<v1::DraftTemplateResponse, AppError> {
    let job = fields::job(asked.job)?;
    let key = fields::key("template", &asked.template)?;
    let drafted = call.app.draft_template(&call.who, job, &key).await?;
    Ok(v1::DraftTemplateResponse { source: drafted.source })
}

async fn get_lessons(call: &Call, asked: v1::GetLessonsRequest) -> Result<v1::GetLessonsResponse, AppError> {
    let key = fields::key("template", &asked.template)?;
    Ok(lessons::taught(call.app.lessons(&call.who, &key, asked.propose).await?))
}
