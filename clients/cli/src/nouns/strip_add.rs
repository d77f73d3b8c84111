//! `leadhand strip add`: what was met and nobody had listed, with all that a template would say of it.

use crate::app::App;
use crate::failure::Outcome;
use crate::words::parse;
use clap::Args;
use clap::builder::NonEmptyStringValueParser;
use leadhand_sdk::v1::{AddPositionRequest, Keep, Manner, PositionKind, Reach, Renew};

/// What was met.
#[derive(Debug, Args)]
#[allow(clippy::struct_excessive_bools, reason = "each is a flag of its own on the command line")]
pub struct Add {
    /// The job's number
    job: i64,
    /// The stage in which it was met
    stage: String,
    /// What it is called
    what: String,
    /// Its key; found-1, found-2, … when left out
    #[arg(long, default_value = "", hide_default_value = true)]
    key: String,
    /// What it is: fastener, connector, hose, clip, cable, earth, bracket, part, aid or unknown
    #[arg(long, value_parser = parse::<PositionKind>)]
    kind: Option<PositionKind>,
    /// What is done with it: off, aside, access (off only to get at something), in (put in for the work)
    #[arg(long, value_parser = parse::<Manner>)]
    manner: Option<Manner>,
    /// How many places
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(i32).range(1..=1_000))]
    count: i32,
    /// Thread and length, or size
    #[arg(long, default_value = "", hide_default_value = true)]
    size: String,
    /// Where on the vehicle
    #[arg(long, default_value = "", hide_default_value = true)]
    location: String,
    /// Behind what it lies; once for each. Unanswered: behind everything that came off in the stage so far
    #[arg(long = "behind", value_name = "POSITION")]
    behind: Vec<String>,
    /// It lies behind nothing
    #[arg(long, conflicts_with = "behind")]
    behind_nothing: bool,
    /// What it hangs on
    #[arg(long, default_value = "", hide_default_value = true, value_name = "POSITION")]
    on: String,
    /// How it is kept
    #[arg(long, value_parser = parse::<Keep>)]
    keep: Option<Keep>,
    /// Whether it may go back: always (renewed), check, reuse
    #[arg(long, value_parser = parse::<Renew>)]
    renew: Option<Renew>,
    /// The stage in which it goes back
    #[arg(long, default_value = "", hide_default_value = true, value_name = "STAGE")]
    back: String,
    /// What is to be said of it
    #[arg(long, default_value = "", hide_default_value = true, value_name = "WORDS")]
    note: String,
    /// Only note it: it comes off later
    #[arg(long)]
    later: bool,
    /// Give each place a pair of numbered tags, one for either end
    #[arg(long)]
    tags: bool,
    /// The item of stock that a new one is
    #[arg(long, default_value = "", hide_default_value = true)]
    item: String,
    /// Form and size of the head, as the tool has it, such as "13 mm hexagon"; a number alone is a hexagon of so many mm
    #[arg(long, default_value = "", hide_default_value = true)]
    head: String,
    /// Where it is reached from: top, under, wheel-arch or inside
    #[arg(long, value_parser = parse::<Reach>)]
    reach: Option<Reach>,
    /// A stage of its tightening, such as "40 N.m" or "60 deg"; once for each, in their order
    #[arg(long = "tighten", value_name = "STAGE")]
    tighten: Vec<String>,
    /// How it goes back, such as "sequence 2 1 3" or "thread oiled"; once for each
    #[arg(long = "how", value_name = "WORDS")]
    how: Vec<String>,
    /// Somebody else than who fits it looks at it when it is back
    #[arg(long)]
    second_check: bool,
    /// The check that decides whether it may go back
    #[arg(long, value_parser = NonEmptyStringValueParser::new(), value_name = "WORDS")]
    check: Option<String>,
    /// Minutes to wait after it is back: a sealant cures
    #[arg(long, value_name = "MINUTES", value_parser = clap::value_parser!(i32).range(1..=7 * 24 * 60))]
    cure: Option<i32>,
    /// The ladder of the job's template by which it is tried when it will not move; the usual one when left out
    #[arg(long, default_value = "", hide_default_value = true, value_name = "KEY")]
    ladder: String,
}

/// `13` as `13 mm hexagon`: what a size alone means of a head.
fn head(said: &str) -> String {
    let millimetres = !said.is_empty() && said.chars().all(|c| c.is_ascii_digit());
    if millimetres { format!("{said} mm hexagon") } else { said.to_owned() }
}

/// Adds it.
pub async fn run(app: &App, asked: Add) -> Outcome {
    let request = AddPositionRequest {
        write: app.write().await?,
        job: asked.job,
        stage: asked.stage,
        position: asked.key,
        what: asked.what,
        kind: asked.kind.map_or(0, i32::from),
        manner: asked.manner.map_or(0, i32::from),
        count: asked.count,
        size: asked.size,
        location: asked.location,
        behind: asked.behind,
        behind_nothing: asked.behind_nothing,
        attached_to: asked.on,
        keep: asked.keep.map_or(0, i32::from),
        renew: asked.renew.map_or(0, i32::from),
        back: asked.back,
        note: asked.note,
        later: asked.later,
        tags: asked.tags,
        item: asked.item,
        head: head(&asked.head),
        reach: asked.reach.map_or(0, i32::from),
        tighten: asked.tighten,
        how: asked.how,
        second_check: asked.second_check,
        check: asked.check.unwrap_or_default(),
        cure_minutes: asked.cure.unwrap_or_default(),
        ladder: asked.ladder,
    };
    let answer = app.client.add_position(request).await?;
    let said = format!("{} is in the strip book of job {}", answer.position, asked.job);
    app.done(&answer, answer.receipt.as_ref(), Some(&answer.position), &said)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_alone_is_a_hexagon() {
        assert_eq!(head("13"), "13 mm hexagon");
        assert_eq!(head("T45"), "T45");
        assert_eq!(head(""), "");
    }
}
