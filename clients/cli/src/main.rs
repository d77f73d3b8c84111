//! The command line leadhand: the shop's jobs, bays, stock and hours.

mod app;
mod args;
mod examples;
mod failure;
mod fit;
mod flags;
mod help;
mod hours;
mod json;
mod nouns;
mod out;
mod profiles;
mod rounds;
mod shells;
mod table;
mod trace;
mod words;

use leadhand_sdk::{moment, quantity};

use crate::app::App;
use crate::args::{Cli, Command};
use crate::failure::{EXIT_CODES, Failure, Outcome};
use crate::flags::Flags;
use crate::out::Format;
use clap::FromArgMatches;
use std::process::ExitCode;

fn main() -> ExitCode {
    let command = help::command();
    let typed = command.clone().try_get_matches().unwrap_or_else(|wrong| help::exit(&wrong));
    let flags = Flags::of(&command, &typed);
    let cli = Cli::from_arg_matches(&typed).unwrap_or_else(|wrong| help::exit(&wrong));
    let runtime = match tokio::runtime::Builder::new_current_thread().enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => return end(&Failure::Defect(format!("this program can't start: {error}")), &flags),
    };
    match runtime.block_on(run(cli)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => end(&failure, &flags),
    }
}

fn end(failure: &Failure, flags: &Flags) -> ExitCode {
    out::aside(&failure.render(flags));
    ExitCode::from(failure.exit_code())
}

async fn run(cli: Cli) -> Outcome {
    let Cli { global, command } = cli;
    if global.output == Format::Csv && !matches!(command, Command::Time(_)) {
        return Err(Failure::Usage("--output csv is for 'leadhand time' only; use table or json".to_owned()));
    }
    if let Command::Profile(command) = command {
        return profiles::run(&global, command);
    }
    match command {
        Command::Completions { shell } => return shells::completions(shell),
        Command::Man { into } => return shells::man(&into),
        _ => {}
    }
    let mut app = App::new(profiles::filled(global)?)?;
    app.out.brief = matches!(&command, Command::Reckon(asked) if asked.brief);
    dispatch(&app, command).await?;
    app.note_unused();
    Ok(())
}

async fn dispatch(app: &App, command: Command) -> Outcome {
    match command {
        Command::Shop(command) => nouns::shop::run(app, command).await,
        Command::Whoami => nouns::shop::whoami(app).await,
        Command::Bay(command) => nouns::bay::run(app, command).await,
        Command::Person(command) => nouns::person::run(app, command).await,
        Command::Token(command) => nouns::token::run(app, command).await,
        Command::SignIn(asked) => nouns::sign_in::sign_in(app, asked).await,
        Command::SignOut => nouns::sign_in::sign_out(app).await,
        Command::Operator(command) => nouns::operator::run(app, command).await,
        Command::Template(command) => nouns::template::run(app, command).await,
        Command::Customer(command) => nouns::customer::run(app, command).await,
        Command::Vehicle(command) => nouns::vehicle::run(app, command).await,
        Command::Job(command) => nouns::job::run(app, command).await,
        Command::Stage(command) => nouns::stage::run(app, command).await,
        Command::Step(command) => nouns::step::run(app, command).await,
        Command::Strip(command) => nouns::strip::run(app, command).await,
        Command::Reading(command) => nouns::reading::run(app, command).await,
        Command::Reckon(asked) => nouns::reckon::run(app, asked.command).await,
        Command::Tool(command) => nouns::tool::run(app, command).await,
        Command::Fluid(command) => nouns::fluid::run(app, command).await,
        Command::Blocker(command) => nouns::blocker::run(app, command).await,
        Command::Clock(command) => nouns::clock::run(app, command).await,
        Command::Item(command) => nouns::item::run_item(app, command).await,
        Command::Place(command) => nouns::item::run_place(app, command).await,
        Command::Stock(command) => nouns::stock::run(app, command).await,
        Command::Plan(command) => nouns::plan::run(app, command).await,
        Command::Time(command) => nouns::time::run(app, command).await,
        Command::Supplier(command) => nouns::supplier::run(app, command).await,
        Command::Board(args) => nouns::board::run(app, &args).await,
        Command::Journal(command) => nouns::journal::run(app, command).await,
        Command::Doctor => nouns::doctor::run(app).await,
        // They need no server, and were seen to before.
        Command::Profile(_) | Command::Completions { .. } | Command::Man { .. } => Ok(()),
        Command::ExitCodes => out::line(EXIT_CODES),
    }
}
