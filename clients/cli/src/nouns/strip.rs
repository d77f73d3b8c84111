//! `leadhand strip`: what came off, what went back, what is still in.

use super::strip_add::{self, Add};
use super::strip_seized::{self, Split, Try};
use super::{hand_over, strip_tags, strip_text};
use crate::app::App;
use crate::failure::Outcome;
use crate::out;
use crate::words::parse;
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{
    BackLine, ConfirmPositionsRequest, GetStripRequest, Keep, OffLine, PutBackRequest, ReopenPositionRequest,
    TakeOffRequest, TightenPositionsRequest, Tightness,
};

/// The strip book: what came off, what went back, what is still in.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Every position of a job, and where it stands
    Show {
        /// The job's number
        job: i64,
        /// Only what stands against handing the vehicle over
        #[arg(long)]
        open: bool,
    },
    /// The order in which everything goes back
    Refit {
        /// The job's number
        job: i64,
        /// Only what it says now that it did not say at this journal number
        #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(i64).range(1..))]
        since: Option<i64>,
    },
    /// At the end of a shift: what is loose, put in, out of its limits or half done, and where everything is kept
    ShiftEnd {
        /// Only this job
        #[arg(long)]
        job: Option<i64>,
    },
    /// What still hangs on something that is to be lifted away
    Attached {
        /// The job's number
        job: i64,
        /// The position
        position: String,
    },
    /// Print labels: a pair for each tagged place, one for each bag
    Tags {
        /// The job's number
        job: i64,
        /// Only these positions
        positions: Vec<String>,
    },
    /// What is tried, rung by rung, at something that will not move, and what was tried
    Ladder {
        /// The job's number
        job: i64,
        /// The position
        position: String,
    },
    /// Say what came of an attempt at something that will not move; prints the attempt's number
    Try(Try),
    /// Let something soak before its turn
    Soak {
        /// The job's number
        job: i64,
        /// The position
        position: String,
        /// For how many minutes; 0 when it no longer does
        minutes: i32,
    },
    /// Make a position of its own of places that are not alike the others; prints its key
    Split(Split),
    /// Say what came off, was moved aside or was put in
    Off(Off),
    /// Add what was met and nobody had listed; prints its key
    Add(Box<Add>),
    /// Say what went back, or came out again
    Back(Back),
    /// Say that what is back is tighter now, or was loosened again
    Tighten {
        /// The job's number
        job: i64,
        /// The positions
        #[arg(required = true)]
        positions: Vec<String>,
        /// How tight: loose, finger-tight or final
        #[arg(long, default_value = "final", value_parser = parse_tightness)]
        to: Tightness,
    },
    /// Look at what somebody else put back
    Check {
        /// The job's number
        job: i64,
        /// The positions
        #[arg(required = true)]
        positions: Vec<String>,
    },
    /// Take back what was said last of a position: that it is back, else that it is off
    Reopen {
        /// The job's number
        job: i64,
        /// The position
        position: String,
        /// Why
        #[arg(long)]
        reason: String,
    },
}

fn parse_tightness(text: &str) -> Result<Tightness, String> {
    parse::<Tightness>(if text == "finger-tight" { "finger" } else { text })
}

/// What came off.
#[derive(Debug, Args)]
pub struct Off {
    /// The job's number
    job: i64,
    /// The stage's key
    stage: String,
    /// The positions; the counts and words below are said of each of them
    positions: Vec<String>,
    /// And all else that is listed and was not said, as listed
    #[arg(long, required_unless_present = "positions")]
    as_listed: bool,
    /// With --as-listed: only what this step lists
    #[arg(long, default_value_t = 0, hide_default_value = true, requires = "as_listed")]
    step: i32,
    /// Pieces that were there
    #[arg(long, requires = "positions")]
    found: Option<i32>,
    /// Places that were empty before anybody began
    #[arg(long, requires = "positions")]
    missing: Option<i32>,
    /// Pieces that are damaged or broke
    #[arg(long, default_value_t = 0, hide_default_value = true, requires = "positions")]
    damaged: i32,
    /// How it is kept: own-hole, tray, bag, bench, outside or machine-shop
    #[arg(long, value_parser = parse::<Keep>, requires = "positions")]
    keep: Option<Keep>,
    /// Where, such as "tray 3"
    #[arg(long, default_value = "", hide_default_value = true, requires = "positions", value_name = "WORDS")]
    kept_at: String,
    /// What was different
    #[arg(long, default_value = "", hide_default_value = true, requires = "positions", value_name = "WORDS")]
    note: String,
    /// An earlier repair that was found on it
    #[arg(long, default_value = "", hide_default_value = true, requires = "positions", value_name = "WORDS")]
    repair: String,
    /// Studs that came out with their nuts
    #[arg(long, default_value_t = 0, hide_default_value = true, requires = "positions")]
    studs: i32,
    /// The lead's reason to take something off out of its order
    #[arg(long, default_value = "", hide_default_value = true, value_name = "REASON")]
    r#override: String,
}

/// What went back.
#[derive(Debug, Args)]
pub struct Back {
    /// The job's number
    job: i64,
    /// The stage's key
    stage: String,
    /// The positions; the counts and words below are said of each of them
    positions: Vec<String>,
    /// And all else that goes back in this stage, as listed
    #[arg(long, required_unless_present = "positions")]
    as_listed: bool,
    /// Places with a piece that came off; of what was put in, what came out
    #[arg(long, requires = "positions")]
    refitted: Option<i32>,
    /// Places with a new piece
    #[arg(long, requires = "positions")]
    renewed: Option<i32>,
    /// Places left empty
    #[arg(long, default_value_t = 0, hide_default_value = true, requires_all = ["positions", "reason"])]
    left_out: i32,
    /// Pieces thrown away
    #[arg(long, requires = "positions")]
    scrapped: Option<i32>,
    /// Pieces kept otherwise
    #[arg(long, default_value_t = 0, hide_default_value = true, requires = "positions")]
    kept: i32,
    /// How tight it is: loose, finger-tight or final. Left out, what is tightened by stages is finger-tight, until
    /// `strip tighten` says that it is done
    #[arg(long, visible_alias = "to", value_parser = parse_tightness, requires = "positions")]
    tight: Option<Tightness>,
    /// Why a place is left empty, or what else is to be said
    #[arg(long, default_value = "", hide_default_value = true, value_name = "WORDS")]
    reason: String,
    /// The lead's reason to put something back out of its order, or something old that is always renewed
    #[arg(long, default_value = "", hide_default_value = true, value_name = "REASON")]
    r#override: String,
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Show { job, open } => {
            let book = app.client.get_strip(GetStripRequest { job, ..Default::default() }).await?;
            if app.out.is_json() {
                return out::json(&book);
            }
            if open { strip_text::open(app, &book) } else { strip_text::positions(app, &book).await }
        }
        Command::Refit { job, since } => {
            let since_n = since.unwrap_or_default();
            let book = app.client.get_strip(GetStripRequest { job, since: since_n, ..Default::default() }).await?;
            match since {
                _ if app.out.is_json() => out::json(&book),
                Some(_) => strip_text::changes(app, &book),
                None => strip_text::refit(app, job, &book).await,
            }
        }
        Command::ShiftEnd { job } => hand_over::shift_end(app, job).await,
        Command::Attached { job, position } => strip_seized::attached(app, job, position).await,
        Command::Tags { job, positions } => strip_tags::print(app, job, &positions).await,
        Command::Ladder { job, position } => strip_seized::ladder(app, job, position).await,
        Command::Try(asked) => strip_seized::attempt(app, asked).await,
        Command::Soak { job, position, minutes } => strip_seized::soak(app, job, position, minutes).await,
        Command::Split(asked) => strip_seized::split(app, asked).await,
        Command::Off(asked) => off(app, asked).await,
        Command::Add(asked) => strip_add::run(app, *asked).await,
        Command::Back(asked) => back(app, asked).await,
        Command::Tighten { job, positions, to } => {
            let said = tightened(&positions, job, to);
            let request = TightenPositionsRequest { write: app.write().await?, job, positions, tightness: to.into() };
            let answer = app.client.tighten_positions(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Check { job, positions } => {
            let said = format!("you looked at {} of job {job}", listed_words(&positions));
            let request = ConfirmPositionsRequest { write: app.write().await?, job, positions };
            let answer = app.client.confirm_positions(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Reopen { job, position, reason } => {
            let said = format!("what was said last of {position} of job {job} is taken back");
            let request = ReopenPositionRequest { write: app.write().await?, job, position, reason };
            let answer = app.client.reopen_position(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
    }
}

/// `rail, airbox and all else that is listed for stage strip: off`, whatever is named and listed.
fn said_of(positions: &[String], listed: Option<&str>, what: &str) -> String {
    match (positions, listed) {
        ([], listed) => format!("all that {} is {what}", listed.unwrap_or_default()),
        ([one], None) => format!("{one} is {what}"),
        (some, None) => format!("{} are {what}", listed_words(some)),
        (some, Some(listed)) => format!("{} and all else that {listed} are {what}", some.join(", ")),
    }
}

/// `a`, `a and b`, `a, b and c`.
fn listed_words(all: &[String]) -> String {
    match all {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

fn tightened(positions: &[String], job: i64, to: Tightness) -> String {
    let verb = if positions.len() == 1 { "is" } else { "are" };
    format!("{} of job {job} {verb} {} now", listed_words(positions), strip_text::tight(to.into()))
}

async fn off(app: &App, asked: Off) -> Outcome {
    let listed = asked.as_listed.then(|| match asked.step {
        0 => format!("is listed for stage {}", asked.stage),
        step => format!("step {step} of stage {} lists", asked.stage),
    });
    // What is put in is said with the same command: it would be in, not off.
    let said = said_of(&asked.positions, listed.as_deref(), "recorded");
    let line = |position: String| OffLine {
        position,
        found: asked.found,
        missing: asked.missing,
        damaged: asked.damaged,
        keep: asked.keep.map_or(0, i32::from),
        kept_at: asked.kept_at.clone(),
        note: asked.note.clone(),
        repair: asked.repair.clone(),
        studs: asked.studs,
    };
    let request = TakeOffRequest {
        write: app.write().await?,
        job: asked.job,
        stage: asked.stage.clone(),
        step: asked.step,
        lines: asked.positions.iter().cloned().map(line).collect(),
        as_listed: asked.as_listed,
        override_reason: asked.r#override.clone(),
    };
    let answer = app.client.take_off(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

async fn back(app: &App, asked: Back) -> Outcome {
    let listed = asked.as_listed.then(|| format!("goes back in stage {}", asked.stage));
    let said = said_of(&asked.positions, listed.as_deref(), "back");
    let line = |position: String| BackLine {
        position,
        refitted: asked.refitted,
        renewed: asked.renewed,
        left_out: asked.left_out,
        scrapped: asked.scrapped,
        kept: asked.kept,
        tightness: asked.tight.map_or(0, i32::from),
        reason: asked.reason.clone(),
    };
    let request = PutBackRequest {
        write: app.write().await?,
        job: asked.job,
        stage: asked.stage.clone(),
        lines: asked.positions.iter().cloned().map(line).collect(),
        as_listed: asked.as_listed,
        override_reason: asked.r#override.clone(),
    };
    let answer = app.client.put_back(request).await?;
    let lines: Vec<String> = answer.lines.iter().map(|line| strip_text::went_back(line, asked.job)).collect();
    // One line is the whole answer; several stand below the sentence.
    if let [only] = lines.as_slice() {
        return app.done(&answer, answer.receipt.as_ref(), None, only);
    }
    app.done(&answer, answer.receipt.as_ref(), None, &said)?;
    if !app.out.is_json() {
        for line in &lines {
            out::note(&out::clean(&format!("  {line}")));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_says_what_was_meant_and_no_more() {
        let keys = |keys: &[&str]| keys.iter().map(|&key| key.to_owned()).collect::<Vec<_>>();
        assert_eq!(
            said_of(&[], Some("step 4 of stage strip lists"), "recorded"),
            "all that step 4 of stage strip lists is recorded"
        );
        assert_eq!(said_of(&keys(&["rail"]), None, "recorded"), "rail is recorded");
        assert_eq!(said_of(&keys(&["rail", "airbox"]), None, "recorded"), "rail and airbox are recorded");
        let both = said_of(&keys(&["rail"]), Some("goes back in stage refit"), "back");
        assert_eq!(both, "rail and all else that goes back in stage refit are back");
        assert_eq!(tightened(&keys(&["nuts"]), 6, Tightness::Finger), "nuts of job 6 is finger-tight now");
    }
}
