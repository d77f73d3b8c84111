//! `leadhand clock ask`, `asked` and `answer`: corrections that wait for a lead.

use super::super::{PAGE, all_pages};
use super::{Answer, Ask};
use crate::app::App;
use crate::failure::Outcome;
use crate::moment;
use crate::out::Table;
use leadhand_sdk::v1::{
    AskCorrectionRequest, AskedCorrection, Clocking, DecideCorrectionRequest, ListAskedCorrectionsRequest,
};

pub(super) async fn ask(app: &App, what: Ask) -> Outcome {
    let request = AskCorrectionRequest {
        from_at: app.moment_if(what.from.as_deref()).await?,
        until_at: app.moment_if(what.until.as_deref()).await?,
        write: app.write().await?,
        entry: what.entry,
        job: what.job.unwrap_or(0),
        stage: what.stage.unwrap_or_default(),
        withdraw: what.withdraw,
        reason: what.reason,
    };
    let answer = app.client.ask_correction(request).await?;
    let said = format!(
        "correction {} of job {} waits for a lead; the entry stays as it is until then",
        answer.ask, answer.job
    );
    app.done(&answer, answer.receipt.as_ref(), Some(&answer.ask.to_string()), &said)
}

pub(super) async fn answer(app: &App, what: Answer) -> Outcome {
    let (job, ask) = (what.job, what.ask);
    let said = if what.take {
        format!("correction {ask} of job {job} is made as asked; what was entered first stays in the journal")
    } else {
        format!("correction {ask} of job {job} is declined; the entry stays as it is")
    };
    let (write, override_reason) = (app.write().await?, what.r#override);
    let request = DecideCorrectionRequest { write, job, ask, take: what.take, reason: what.reason, override_reason };
    let answer = app.client.decide_correction(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

pub(super) async fn list(app: &App, job: i64) -> Outcome {
    let request = ListAskedCorrectionsRequest { job, page_size: PAGE, ..Default::default() };
    let answer = all_pages!(app, list_asked_corrections, request, corrections);
    if app.out.is_json() {
        return crate::out::json(&answer);
    }
    let zone = app.zone().await?;
    let mut table = Table::new("corrections", &["job#", "#", "person", "entered", "asked for", "why", "answer"])
        .when_empty("no correction waits for a lead");
    for row in &answer.corrections {
        let entered = row.as_entered.as_ref().map_or_else(|| "gone since".to_owned(), |entry| time(entry, zone));
        let wanted = row.wanted.as_ref().map_or_else(|| "gone altogether".to_owned(), |wanted| time(wanted, zone));
        let (job, ask) = (row.job.to_string(), row.ask.to_string());
        table.row([job, ask, row.name.clone(), entered, wanted, row.reason.clone(), answered(row)]);
    }
    app.out.table(&table)
}

/// What was decided in the last day of what the caller asked for, beside the caller's time.
pub(super) async fn tell_decided(app: &App) -> Outcome {
    let since = moment::now() - jiff::SignedDuration::from_hours(24);
    let decided_from_at = Some(moment::to_wire(since));
    let request = ListAskedCorrectionsRequest { decided_from_at, page_size: PAGE, ..Default::default() };
    for row in app.client.list_asked_corrections(request).await?.corrections.iter().filter(|row| row.decided) {
        let (job, ask, answer) = (row.job, row.ask, answered(row));
        crate::out::note(&format!("correction {ask} of job {job} that you asked for was {answer}"));
    }
    Ok(())
}

/// Stage and times of an entry.
fn time(entry: &Clocking, zone: &jiff::tz::TimeZone) -> String {
    let until = entry.until_at.as_ref().map_or_else(|| "goes on".to_owned(), |at| moment::show(Some(at), zone));
    format!("{}/{} {} to {until}", entry.job, entry.stage, moment::show(entry.from_at.as_ref(), zone))
}

fn answered(row: &AskedCorrection) -> String {
    match (row.decided, row.taken) {
        (false, _) => "waits".to_owned(),
        (true, true) => format!("taken by {}: {}", row.decided_by, row.answer),
        (true, false) => format!("declined by {}: {}", row.decided_by, row.answer),
    }
}
