//! `leadhand job told`: what somebody was told about a job, and how it is shown.

use crate::app::App;
use crate::failure::Outcome;
use crate::moment;
use crate::out::{Table, clean};
use clap::Args;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{GetJobResponse, RecordToldRequest, Shortage, ToldLine, WithdrawToldRequest};

/// What was told.
#[derive(Debug, Args)]
pub struct Told {
    /// The job's number
    job: i64,
    /// What was said
    #[arg(required_unless_present = "withdraw", conflicts_with = "withdraw")]
    words: Option<String>,
    /// Who was told, such as "the driver"; the job's customer when left out
    #[arg(long, default_value = "", hide_default_value = true, conflicts_with = "withdraw")]
    whom: String,
    /// The time that was promised with it, as it was said
    #[arg(long, value_name = "TIME", conflicts_with = "withdraw")]
    promise_at: Option<String>,
    /// Withdraw what was taken down by mistake, by its number
    #[arg(long, value_name = "NUMBER", requires = "reason")]
    withdraw: Option<i32>,
    /// Why it is withdrawn
    #[arg(long, default_value = "", hide_default_value = true, requires = "withdraw")]
    reason: String,
}

/// Runs it.
pub async fn run(app: &App, asked: Told) -> Outcome {
    let job = asked.job;
    if let Some(told) = asked.withdraw {
        let request = WithdrawToldRequest { write: app.write().await?, job, told, reason: asked.reason };
        let answer = app.client.withdraw_told(request).await?;
        let said = format!("what was told as number {told} of job {job} is withdrawn");
        return app.done(&answer, answer.receipt.as_ref(), None, &said);
    }
    let whom = if asked.whom.is_empty() { "the customer".to_owned() } else { asked.whom.clone() };
    let request = RecordToldRequest {
        promised_at: app.moment_if(asked.promise_at.as_deref()).await?,
        write: app.write().await?,
        job,
        whom: asked.whom,
        words: asked.words.unwrap_or_default(),
    };
    let answer = app.client.record_told(request).await?;
    let said = format!("what {whom} was told about job {job} is kept as number {}", answer.told);
    app.done(&answer, answer.receipt.as_ref(), Some(&answer.told.to_string()), &said)
}

/// What is to be ordered for a job, and what was told to whom.
pub fn show(app: &App, answer: &GetJobResponse, zone: &TimeZone) -> Outcome {
    for short in &answer.shortages {
        if let Some(line) = to_order(short, zone) {
            crate::out::line(&clean(&line))?;
        }
    }
    if answer.told.is_empty() {
        return Ok(());
    }
    crate::out::line("")?;
    let mut table = Table::new("told", &["#", "when", "told to", "what", "promised", "by"]);
    for line in &answer.told {
        table.row([
            line.told.to_string(),
            moment::show(line.told_at.as_ref(), zone),
            whom(line),
            words(line),
            moment::show(line.promised_at.as_ref(), zone),
            line.told_by.clone(),
        ]);
    }
    app.out.table(&table)
}

/// What is short and from whom to order it; nothing where the item names no supplier.
fn to_order(short: &Shortage, zone: &TimeZone) -> Option<String> {
    let order = super::supplier::told(short.order.as_ref()?, zone);
    let quantity = crate::quantity::show(short.quantity, &short.unit);
    Some(format!("{quantity} of {} short for step {} of {}; {order}", short.item, short.step, short.stage))
}

fn whom(line: &ToldLine) -> String {
    match (line.to_customer, line.whom.as_str()) {
        (true, _) => "the customer".to_owned(),
        (false, "") => "(forgotten)".to_owned(),
        (false, whom) => whom.to_owned(),
    }
}

fn words(line: &ToldLine) -> String {
    let words = if line.words.is_empty() { "(forgotten)" } else { &line.words };
    if line.withdrawn { format!("{words} [withdrawn: {}]", line.withdrawn_reason) } else { words.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::SupplierOrder;

    #[test]
    fn what_was_withdrawn_or_forgotten_says_so() {
        let line = ToldLine { whom: "the driver".into(), words: "ready tomorrow".into(), ..Default::default() };
        assert_eq!((whom(&line).as_str(), words(&line).as_str()), ("the driver", "ready tomorrow"));
        let reason = "another job".to_owned();
        let taken_back = ToldLine { withdrawn: true, withdrawn_reason: reason, ..line.clone() };
        assert_eq!(words(&taken_back), "ready tomorrow [withdrawn: another job]");
        let customer = ToldLine { to_customer: true, whom: String::new(), ..line };
        assert_eq!(whom(&customer), "the customer");
        assert_eq!(
            (whom(&ToldLine::default()).as_str(), words(&ToldLine::default()).as_str()),
            ("(forgotten)", "(forgotten)")
        );
    }

    #[test]
    fn what_is_short_says_from_whom_to_order_it_if_anybody() {
        let short = Shortage {
            stage: "fit".into(),
            step: 2,
            item: "hg-set-20".into(),
            quantity: 1,
            unit: "1".into(),
            ..Default::default()
        };
        assert_eq!(to_order(&short, &TimeZone::UTC), None);
        let order = Some(SupplierOrder { name: "North Parts".into(), ..Default::default() });
        let said = to_order(&Shortage { order, ..short }, &TimeZone::UTC).unwrap();
        assert_eq!(said, "1 of hg-set-20 short for step 2 of fit; order from North Parts");
    }
}
