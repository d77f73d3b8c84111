//! Corrections of time that were asked for: part of the service of time.

use super::unfit;
use crate::call::Call;
use crate::convert::time::{instant_some, stamp, timestamp};
use crate::convert::{fields, invalid, notice::receipt, page};
use leadhand_app::{AppError, AskedLine, AskedPage};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{AskCorrection, DecideCorrection};
use leadhand_facts::rows::AskedRow;
use leadhand_facts::{AskNo, PersonId};
use leadhand_proto::v1;

pub(super) async fn ask_correction(
    call: &Call,
    asked: v1::AskCorrectionRequest,
) -> Result<v1::AskCorrectionResponse, AppError> {
    let command = AskCorrection {
        entry: fields::entry(asked.entry)?,
        from_at: instant_some("from_at", asked.from_at)?,
        until_at: instant_some("until_at", asked.until_at)?,
        job: fields::job_some(asked.job)?,
        stage: fields::key_some("stage", &asked.stage)?,
        withdraw: asked.withdraw,
        reason: asked.reason,
    };
    let outcome = call.execute(asked.write, command).await?;
    let Made::Asked { job, ask } = outcome.answer.made else { return Err(unfit("a question", &outcome)) };
    Ok(v1::AskCorrectionResponse { receipt: receipt(&outcome), job: job.0, ask: ask.0 })
}

pub(super) async fn decide_correction(
    call: &Call,
    asked: v1::DecideCorrectionRequest,
) -> Result<v1::DecideCorrectionResponse, AppError> {
    let ask = fields::positive_some("ask", asked.ask)?;
    let ask = AskNo(ask.ok_or_else(|| invalid("ask", "it is not said; give its number"))?);
    let command = DecideCorrection {
        job: fields::job(asked.job)?,
        ask,
        take: asked.take,
        reason: asked.reason,
        override_reason: fields::text_some(asked.override_reason),
    };
    Ok(v1::DecideCorrectionResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

pub(super) async fn list_asked_corrections(
    call: &Call,
    asked: v1::ListAskedCorrectionsRequest,
) -> Result<v1::ListAskedCorrectionsResponse, AppError> {
    const LIST: &str = "asked-corrections";
    let size = page::size(asked.page_size)?;
    let after = page::read(LIST, &asked.page_token, page::number)?.unwrap_or(0);
    let decided_from = instant_some("decided_from_at", asked.decided_from_at)?;
    let found = call.app.asked(&call.who, fields::job_some(asked.job)?, decided_from, after, size).await?;
    let corrections = found.lines.iter().map(|line| shown(line, &found)).collect();
    Ok(v1::ListAskedCorrectionsResponse { corrections, next_page_token: page::token(LIST, found.next) })
}

fn shown(line: &AskedLine, found: &AskedPage) -> v1::AskedCorrection {
    let row = &line.row;
    let name = |person: PersonId| found.words.get(found.names.get(&person).copied()).to_owned();
    v1::AskedCorrection {
        job: row.job.0,
        ask: row.ask.0,
        entry: row.entry,
        person: row.person.to_string(),
        name: name(row.person),
        as_entered: line.entry.as_ref().map(|entry| v1::Clocking {
            entry: entry.on_n,
            person: entry.person.to_string(),
            name: name(entry.person),
            job: entry.job.0,
            stage: entry.stage.to_string(),
            from_at: Some(timestamp(entry.from_at)),
            until_at: stamp(entry.until_at),
        }),
        wanted: wanted(row),
        reason: found.words.get(Some(row.reason)).to_owned(),
        asked_at: Some(timestamp(row.asked_at)),
        decided: row.decided_n.is_some(),
        taken: row.taken == Some(true),
        decided_by: row.decided_by.map(name).unwrap_or_default(),
        decided_at: stamp(row.decided_at),
        answer: found.words.get(row.answer).to_owned(),
    }
}

fn wanted(row: &AskedRow) -> Option<v1::Clocking> {
    Some(v1::Clocking {
        job: row.to_job?.0,
        stage: row.to_stage.as_ref()?.to_string(),
        from_at: stamp(row.from_at),
        until_at: stamp(row.until_at),
        ..v1::Clocking::default()
    })
}
