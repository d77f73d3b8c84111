//! `leadhand step`.

use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::quantity::{self, Typed};
use crate::words::parse;
use clap::builder::NonEmptyStringValueParser;
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{
    AddStepRequest, Caution, DecideWayRequest, Hazard, Need, ProposeWayRequest, ReopenStepRequest, SignalWord,
    SkipStepRequest, TickStepsRequest, VehicleState,
};

/// Steps of a stage.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Add a step as the work goes; prints its number
    Add(Box<Add>),
    /// Tick steps: those named, or all that are left, once what they take off was said (`strip off`); a hold point is
    /// passed only when it is named
    Done {
        /// The job's number
        job: i64,
        /// The stage's key
        stage: String,
        /// The steps' numbers; all that are left when left out
        steps: Vec<i32>,
        /// The lead's reason, when the vehicle is not in a state that is needed, not whole for what the step does, or a
        /// hold point was not passed
        #[arg(long, default_value = "", hide_default_value = true, value_name = "REASON")]
        r#override: String,
    },
    /// Take back that a step was done or left out
    Reopen {
        /// The job's number
        job: i64,
        /// The stage's key
        stage: String,
        /// The step's number
        step: i32,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Say that the book's way is not safe here, and which way is; the step waits for a lead
    Propose {
        /// The job's number
        job: i64,
        /// The stage's key
        stage: String,
        /// The step's number
        step: i32,
        /// The way that is safe here
        way: String,
        /// Why the book's is not
        #[arg(long)]
        reason: String,
    },
    /// Decide, as a lead, on a way that is not the book's: it is done so, or with --no as the book says
    Decide {
        /// The job's number
        job: i64,
        /// The stage's key
        stage: String,
        /// The step's number
        step: i32,
        /// It is done as the book says
        #[arg(long)]
        no: bool,
        /// What is to be said to it
        #[arg(long, alias = "reason", default_value = "", hide_default_value = true, value_name = "WORDS")]
        note: String,
    },
    /// Leave a step out
    Skip {
        /// The job's number
        job: i64,
        /// The stage's key
        stage: String,
        /// The step's number
        step: i32,
        /// Why
        #[arg(long)]
        reason: String,
    },
}

/// What to add.
#[derive(Debug, Args)]
pub struct Add {
    /// The job's number
    job: i64,
    /// The stage's key
    stage: String,
    /// What the hand does
    instruction: String,
    /// A tool, with its size; once for each
    #[arg(long = "tool", value_name = "TOOL")]
    tools: Vec<String>,
    /// A shared tool of the shop, by its key; once for each
    #[arg(long = "shared-tool", value_name = "KEY")]
    shared_tools: Vec<String>,
    /// What it takes from stock, such as coolant=4.5L; once for each
    #[arg(long = "need", value_parser = parse_need, value_name = "ITEM=QUANTITY")]
    needs: Vec<(String, Typed)>,
    /// What to mind, such as 'WARNING: hot coolant burns'; once for each
    #[arg(long = "caution", value_parser = parse_caution, value_name = "WORD: TEXT")]
    cautions: Vec<Caution>,
    /// What can hurt, such as fuel or raised-vehicle: brings its caution; once for each
    #[arg(long = "hazard", value_parser = parse::<Hazard>, value_name = "HAZARD")]
    hazards: Vec<Hazard>,
    /// A state in which the vehicle has to be before it, such as battery-isolated; once for each
    #[arg(long = "needs", value_parser = parse::<VehicleState>, value_name = "STATE")]
    needed_states: Vec<VehicleState>,
    /// A state in which it leaves the vehicle, such as coolant-drained; once for each
    #[arg(long = "makes", value_parser = parse::<VehicleState>, value_name = "STATE")]
    set_states: Vec<VehicleState>,
    /// It is a hold point, passed by its number: what is looked at
    #[arg(long, value_parser = NonEmptyStringValueParser::new(), value_name = "WORDS")]
    hold: Option<String>,
    /// The hold point is passed by somebody else than who did the work before it
    #[arg(long, requires = "hold")]
    second_person: bool,
    /// What goes back in the stage is back and tight when the hold point is passed
    #[arg(long, requires = "hold")]
    whole: bool,
    /// A skill that it asks of whoever does it; once for each
    #[arg(long = "skill", value_name = "SKILL")]
    skills: Vec<String>,
    /// What is still to be watched afterwards, for the hand-over sheet
    #[arg(long, value_parser = NonEmptyStringValueParser::new(), value_name = "WORDS")]
    follow_up: Option<String>,
    /// The fluid of the job that it fills again, by its key: `reckon fill --reserve` then says here what goes in
    #[arg(long, value_parser = NonEmptyStringValueParser::new(), value_name = "KEY")]
    fills: Option<String>,
    /// It is about this job alone: no lesson is drawn from it, and no draft of a template has it
    #[arg(long)]
    only_here: bool,
}

fn parse_need(text: &str) -> Result<(String, Typed), String> {
    let (item, typed) = text.split_once('=').ok_or("write ITEM=QUANTITY, such as coolant=4.5L")?;
    Ok((item.trim().to_owned(), quantity::parse(typed)?))
}

fn parse_caution(text: &str) -> Result<Caution, String> {
    let (word, said) = text.split_once(':').ok_or("write WORD: TEXT, such as 'WARNING: hot coolant burns'")?;
    Ok(Caution { word: parse::<SignalWord>(word.trim())?.into(), text: said.trim().to_owned() })
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Add(what) => add(app, *what).await,
        Command::Done { job, stage, steps, r#override } => {
            let said = match steps.len() {
                0 => format!("all steps left of stage {stage} of job {job} are done"),
                1 => format!("step {} of stage {stage} of job {job} is done", steps[0]),
                many => format!("{many} steps of stage {stage} of job {job} are done"),
            };
            let request =
                TickStepsRequest { write: app.write().await?, job, stage, steps, override_reason: r#override };
            let answer = app.client.tick_steps(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Reopen { job, stage, step, reason } => {
            let said = format!("step {step} of stage {stage} of job {job} is still to be done");
            let request = ReopenStepRequest { write: app.write().await?, job, stage, step, reason };
            let answer = app.client.reopen_step(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Propose { job, stage, step, way, reason } => {
            let said = format!("step {step} of stage {stage} of job {job} waits for a lead to decide");
            let request = ProposeWayRequest { write: app.write().await?, job, stage, step, way, reason };
            let answer = app.client.propose_way(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Decide { job, stage, step, no, note } => {
            let how = if no { "the book's way stays" } else { "the other way is approved" };
            let said = format!("{how} for step {step} of stage {stage} of job {job}, which is still to be done");
            let request = DecideWayRequest { write: app.write().await?, job, stage, step, approved: !no, note };
            let answer = app.client.decide_way(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Skip { job, stage, step, reason } => {
            let said = format!("step {step} of stage {stage} of job {job} is left out");
            let request = SkipStepRequest { write: app.write().await?, job, stage, step, reason };
            let answer = app.client.skip_step(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
    }
}

async fn add(app: &App, what: Add) -> Outcome {
    let mut needs = Vec::new();
    for (item, typed) in what.needs {
        let unit = app.unit(&item).await?;
        let quantity = typed.in_unit(&unit).map_err(Failure::Usage)?;
        needs.push(Need { item, quantity, unit });
    }
    let request = AddStepRequest {
        write: app.write().await?,
        job: what.job,
        stage: what.stage,
        instruction: what.instruction,
        tools: what.tools,
        cautions: what.cautions,
        needs,
        shared_tools: what.shared_tools,
        needed_states: what.needed_states.into_iter().map(i32::from).collect(),
        set_states: what.set_states.into_iter().map(i32::from).collect(),
        hold: what.hold.unwrap_or_default(),
        hold_second: what.second_person,
        hold_whole: what.whole,
        hazards: what.hazards.into_iter().map(i32::from).collect(),
        skills: what.skills,
        follow_up: what.follow_up.unwrap_or_default(),
        fills: what.fills.unwrap_or_default(),
        only_here: what.only_here,
    };
    let answer = app.client.add_step(request).await?;
    let said = format!("step {} is added to job {}", answer.step, what.job);
    app.done(&answer, answer.receipt.as_ref(), Some(&answer.step.to_string()), &said)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn needs_and_cautions_are_read() {
        let (item, typed) = parse_need("coolant=4.5L").unwrap();
        assert_eq!((item.as_str(), typed.in_unit("mL")), ("coolant", Ok(4500)));
        assert!(parse_need("coolant 4.5L").is_err());
        let caution = parse_caution("warning: hot: mind it").unwrap();
        assert_eq!((caution.word, caution.text.as_str()), (SignalWord::Warning.into(), "hot: mind it"));
        assert!(parse_caution("careful: hot").unwrap_err().contains("DANGER"));
    }
}
