//! `leadhand strip`: what will not move, what soaks, what is not alike.

use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::out::{self, Table, clean};
use crate::words::{parse, word};
use clap::Args;
use leadhand_sdk::v1::{
    Attempt, AttemptOutcome, GetStripRequest, GetStripResponse, NextRung, Position, RecordAttemptRequest, SignalWord,
    SoakPositionRequest, SplitPositionRequest,
};
use std::fmt::Write;

/// An attempt.
#[derive(Debug, Args)]
pub struct Try {
    /// The job's number
    job: i64,
    /// The position
    position: String,
    /// What came of it: moved, not-moved, rounded, broken or thread-gone
    #[arg(value_parser = parse::<AttemptOutcome>)]
    outcome: AttemptOutcome,
    /// The rung of its ladder; the next one when left out
    #[arg(long, default_value_t = 0, hide_default_value = true)]
    rung: i32,
    /// How many pieces; all that have not moved when left out
    #[arg(long, default_value_t = 0, hide_default_value = true)]
    pieces: i32,
    /// From the last safe try on: the item that a new one is, where the position names none
    #[arg(long, default_value = "", hide_default_value = true)]
    item: String,
    /// From the last safe try on: how to get out what breaks
    #[arg(long, default_value = "", hide_default_value = true, value_name = "WORDS")]
    plan: String,
    /// What else is to be said
    #[arg(long, default_value = "", hide_default_value = true, value_name = "WORDS")]
    note: String,
    /// It holds its stage up: raise a blocker
    #[arg(long)]
    blocked: bool,
    /// The lead's reason to have it tried without what the rung asks for
    #[arg(long, default_value = "", hide_default_value = true, value_name = "REASON")]
    r#override: String,
}

/// A split.
#[derive(Debug, Args)]
pub struct Split {
    /// The job's number
    job: i64,
    /// The position
    position: String,
    /// How many of its places are different
    count: i32,
    /// The key of the part; made from the position's when left out
    #[arg(long, default_value = "", hide_default_value = true)]
    key: String,
    /// What the part is called
    #[arg(long, default_value = "", hide_default_value = true)]
    what: String,
    /// Thread and length, or size
    #[arg(long, default_value = "", hide_default_value = true)]
    size: String,
    /// Form and size of the head
    #[arg(long, default_value = "", hide_default_value = true)]
    head: String,
    /// Which holes
    #[arg(long, default_value = "", hide_default_value = true)]
    location: String,
}

/// Records an attempt, and says what is next.
pub async fn attempt(app: &App, asked: Try) -> Outcome {
    let (job, position, moved) = (asked.job, asked.position.clone(), asked.outcome == AttemptOutcome::Moved);
    let request = RecordAttemptRequest {
        write: app.write().await?,
        job,
        position: asked.position,
        rung: asked.rung,
        outcome: asked.outcome.into(),
        pieces: asked.pieces,
        item: asked.item,
        plan: asked.plan,
        note: asked.note,
        blocked: asked.blocked,
        override_reason: asked.r#override,
    };
    let answer = app.client.record_attempt(request).await?;
    let stuck = answer.next.is_none() && !moved;
    let end = if stuck { "; that was the last rung of its ladder: call the lead, or have it machined" } else { "" };
    let next = answer.next.as_ref().map_or_else(|| end.to_owned(), |next| format!("; next: {}", next_text(next)));
    let said = format!("attempt {} at {position} of job {job} is recorded{next}", answer.attempt);
    app.done(&answer, answer.receipt.as_ref(), Some(&answer.attempt.to_string()), &said)?;
    match &answer.next {
        Some(next) => warn_of(app, job, position, next.rung).await,
        None => Ok(()),
    }
}

/// What can hurt on the next rung, before anybody goes on to it.
async fn warn_of(app: &App, job: i64, position: String, rung: i32) -> Outcome {
    let book = app.client.get_strip(GetStripRequest { job, ladder_of: position, ..Default::default() }).await?;
    for one in book.ladder.iter().filter(|one| one.rung == rung) {
        if one.last_safe {
            out::note("rung of the last safe try: a new one on the shelf and a plan first");
        }
        for caution in &one.cautions {
            out::note(&clean(&format!("{}: {}", word::<SignalWord>(caution.word), caution.text)));
        }
    }
    Ok(())
}

/// `rung 3: … (only Flint may)`.
fn next_text(next: &NextRung) -> String {
    let may = match (next.yours, next.who.as_slice()) {
        (true, _) => String::new(),
        (false, []) => " (nobody here has the skill)".to_owned(),
        (false, who) => format!(" (only {} may)", who.join(", ")),
    };
    format!("rung {}: {}{may}", next.rung, next.measure)
}

/// Lets something soak.
pub async fn soak(app: &App, job: i64, position: String, minutes: i32) -> Outcome {
    let said = match minutes {
        0 => format!("{position} of job {job} no longer soaks"),
        minutes => format!("{position} of job {job} soaks for {minutes} min"),
    };
    let request = SoakPositionRequest { write: app.write().await?, job, position, minutes };
    let answer = app.client.soak_position(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

/// Splits a position.
pub async fn split(app: &App, asked: Split) -> Outcome {
    let (job, position, count) = (asked.job, asked.position.clone(), asked.count);
    let request = SplitPositionRequest {
        write: app.write().await?,
        job,
        position: asked.position,
        part: asked.key,
        what: asked.what,
        count,
        size: asked.size,
        head: asked.head,
        location: asked.location,
    };
    let answer = app.client.split_position(request).await?;
    let said = format!("{count} of {position} of job {job} are {} now", answer.position);
    app.done(&answer, answer.receipt.as_ref(), Some(&answer.position), &said)
}

/// The position with this key, or a failure that says where to look.
fn find<'b>(book: &'b GetStripResponse, job: i64, position: &str) -> Result<&'b Position, Failure> {
    let missing =
        || Failure::Missing(format!("job {job} has no position '{position}'; see 'leadhand strip show {job}'"));
    book.positions.iter().find(|one| one.position == position).ok_or_else(missing)
}

/// The ladder of a position, with what was tried.
pub async fn ladder(app: &App, job: i64, position: String) -> Outcome {
    let request = GetStripRequest { job, ladder_of: position.clone(), ..Default::default() };
    let book = app.client.get_strip(request).await?;
    if app.out.is_json() {
        return out::json(&book);
    }
    let zone = app.zone().await?;
    let one = find(&book, job, &position)?;
    for rung in &book.ladder {
        let mark = if rung.last_safe { "  << last safe try: a new one on the shelf and a plan first" } else { "" };
        out::line(&clean(&format!("{:>3}  {}{mark}", rung.rung, rung.measure)))?;
        let soak = if rung.soak_minutes > 0 { format!("{} min", rung.soak_minutes) } else { String::new() };
        for (name, what) in [("tools", rung.tools.join(", ")), ("skills", rung.skills.join(", ")), ("soak", soak)] {
            if !what.is_empty() {
                out::line(&clean(&format!("     {name:<7} {what}")))?;
            }
        }
        for caution in &rung.cautions {
            out::line(&clean(&format!("     {}: {}", word::<SignalWord>(caution.word), caution.text)))?;
        }
        for tried in one.attempts.iter().filter(|tried| tried.rung == rung.rung) {
            out::line(&clean(&format!("     > {}", tried_text(tried, &moment::show(tried.at.as_ref(), zone)))))?;
        }
    }
    if let Some(next) = &one.next {
        out::line(&clean(&format!("next: {}", next_text(next))))?;
    }
    out::line("The manufacturer's data, local codes and licensed practice come before all of this.")
}

/// `attempt 2, 09:10, Flint: 1 piece(s) not-moved`.
fn tried_text(tried: &Attempt, at: &str) -> String {
    let who = if tried.person.is_empty() { "nobody named" } else { &tried.person };
    let outcome = word::<AttemptOutcome>(tried.outcome);
    let mut said = format!("attempt {}, {at}, {who}: {} piece(s) {outcome}", tried.attempt, tried.pieces);
    for (name, words) in [("plan", &tried.plan), ("note", &tried.note), ("override", &tried.override_reason)] {
        if !words.is_empty() {
            let _ = write!(said, "; {name}: {words}");
        }
    }
    said
}

/// What is still attached to something that is to be lifted away.
pub async fn attached(app: &App, job: i64, position: String) -> Outcome {
    let book = app.client.get_strip(GetStripRequest { job, ..Default::default() }).await?;
    if app.out.is_json() {
        return out::json(&book);
    }
    let one = find(&book, job, &position)?;
    let mut table = Table::new("positions", &["position", "what", "places#"])
        .when_empty(format!("nothing hangs on {position} of job {job} any more: it can be lifted away"));
    for key in &one.still_attached {
        let other = find(&book, job, key)?;
        table.row([key.clone(), other.what.clone(), other.count.to_string()]);
    }
    app.out.table(&table)
}
