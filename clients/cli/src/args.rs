//! The command line.

use crate::failure::EXIT_CODES;
use crate::nouns::{
    bay, blocker, board, clock, customer, fluid, item, job, journal, operator, person, plan, reading, reckon, shop,
    sign_in, stage, step, stock, strip, supplier, template, time, token, tool, vehicle,
};
use crate::out::Format;
use crate::profiles;
use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;
use uuid::Uuid;

const AFTER_HELP: &str = "\
Times are written as HH:MM (today), YYYY-MM-DD HH:MM, both in the shop's zone, or in RFC 3339.
Quantities are whole numbers of the item's unit, or text with a unit such as 4.5L.
Data goes to standard output, everything else to standard error.

This program keeps records. It replaces neither the vehicle manufacturer's data nor local safety
rules nor licensed practice, which come first.";

const CONNECTION: &str = "For every command: which server, and who asks";
const ANSWER: &str = "For every command: how it answers";
const RECORD: &str = "For every command that records something";

/// The shop's jobs, bays, stock and hours from the command line.
#[derive(Debug, Parser)]
#[command(name = "leadhand", version, after_long_help = format!("{AFTER_HELP}\n\n{EXIT_CODES}"))]
pub struct Cli {
    /// What every command understands.
    #[command(flatten)]
    pub global: Global,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What every command understands.
#[derive(Debug, Clone, Args)]
pub struct Global {
    /// A profile of 'leadhand profile'; what is said beside it comes first [default: the one in use]
    #[arg(help_heading = CONNECTION, long, global = true, env = "LEADHAND_PROFILE", value_name = "NAME")]
    pub profile: Option<String>,
    /// The server [default: the profile's, else http://127.0.0.1:7420]
    #[arg(help_heading = CONNECTION, long, global = true, env = "LEADHAND_SERVER", value_name = "URL")]
    pub server: Option<String>,
    /// The file that holds the token; else LEADHAND_TOKEN_FILE names it, or LEADHAND_TOKEN is the token
    #[arg(help_heading = CONNECTION, long, global = true, value_name = "FILE")]
    pub token_file: Option<PathBuf>,
    /// PEM file of the authorities that may have signed the server's certificate [default: the machine's]
    #[arg(help_heading = CONNECTION, long, global = true, env = "LEADHAND_CA", value_name = "FILE")]
    pub ca: Option<PathBuf>,
    /// PEM file of this client's certificate, where the server asks for one
    #[arg(help_heading = CONNECTION, long, global = true,
        env = "LEADHAND_CLIENT_CERT", value_name = "FILE", requires = "client_key")]
    pub client_cert: Option<PathBuf>,
    /// PEM file of its private key
    #[arg(help_heading = CONNECTION, long, global = true,
        env = "LEADHAND_CLIENT_KEY", value_name = "FILE", requires = "client_cert")]
    pub client_key: Option<PathBuf>,
    /// How long, in seconds, to go on trying to reach the server
    #[arg(help_heading = CONNECTION, long, global = true,
        env = "LEADHAND_PATIENCE", default_value_t = 10, value_name = "SECONDS")]
    pub patience: u64,
    /// Have the calls traced, and say the id of the trace; TRACEPARENT in the environment is passed on by itself
    #[arg(help_heading = CONNECTION, long, global = true)]
    pub trace: bool,
    /// The form of the data
    #[arg(help_heading = ANSWER, long, global = true, value_enum, default_value_t = Format::Table, value_name = "FORM")]
    pub output: Format,
    /// No colour, as NO_COLOR in the environment
    #[arg(help_heading = ANSWER, long, global = true)]
    pub no_colour: bool,
    /// The request's id: repeat it to repeat a request safely
    #[arg(help_heading = RECORD, long, global = true, value_name = "UUID")]
    pub request_id: Option<Uuid>,
    /// When it happened, if earlier than now
    #[arg(help_heading = RECORD, long, global = true, value_name = "TIME")]
    pub at: Option<String>,
    /// For whom a lead records, by name or id
    #[arg(help_heading = RECORD, long = "for", global = true, value_name = "PERSON")]
    pub for_person: Option<String>,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// The shop, its hours and its calendar
    #[command(subcommand)]
    Shop(shop::Command),
    /// Who the token stands for
    Whoami,
    /// Bays
    #[command(subcommand)]
    Bay(bay::Command),
    /// Persons and their skills
    #[command(subcommand)]
    Person(person::Command),
    /// Tokens
    #[command(subcommand)]
    Token(token::Command),
    /// Sign a person in at this device
    SignIn(sign_in::SignIn),
    /// End the session in use
    SignOut,
    /// For an operator: shops, and lost lead's tokens
    #[command(subcommand)]
    Operator(operator::Command),
    /// Templates: how a kind of job is done
    #[command(subcommand)]
    Template(template::Command),
    /// Customers
    #[command(subcommand)]
    Customer(customer::Command),
    /// Vehicles
    #[command(subcommand)]
    Vehicle(vehicle::Command),
    /// Jobs
    #[command(subcommand)]
    Job(job::Command),
    /// Stages of a job
    #[command(subcommand)]
    Stage(stage::Command),
    /// Steps of a stage
    #[command(subcommand)]
    Step(step::Command),
    /// The strip book: what came off, what went back, what is still in
    #[command(subcommand)]
    Strip(strip::Command),
    /// What is measured on a job, and how it came out
    #[command(subcommand)]
    Reading(reading::Command),
    /// The ready reckoner: torque, coolant, engine condition, flatness, lifting, wheels
    Reckon(reckon::Reckon),
    /// Shared tools, and who has them
    #[command(subcommand)]
    Tool(tool::Command),
    /// Fluids of a vehicle: what came out, and what went in
    #[command(subcommand)]
    Fluid(fluid::Command),
    /// What holds a stage up
    #[command(subcommand)]
    Blocker(blocker::Command),
    /// Who works on what
    #[command(subcommand)]
    Clock(clock::Command),
    /// Items of stock
    #[command(subcommand)]
    Item(item::ItemCommand),
    /// Bins of the parts room
    #[command(subcommand)]
    Place(item::PlaceCommand),
    /// Stock: what is there, promised, given and short
    #[command(subcommand)]
    Stock(stock::Command),
    /// Suppliers, and when to order from them
    #[command(subcommand)]
    Supplier(supplier::Command),
    /// The plan: which stage, in which bay, by whom, when
    #[command(subcommand)]
    Plan(plan::Command),
    /// Where the time went
    #[command(subcommand)]
    Time(time::Command),
    /// Every bay, and what holds it up
    Board(board::BoardArgs),
    /// The numbered list of everything that happened
    #[command(subcommand)]
    Journal(journal::Command),
    /// Names for servers and tokens, for whoever has several shops
    #[command(subcommand)]
    Profile(profiles::Command),
    /// Whether program, server, token and shop are ready, and what is missing
    Doctor,
    /// Write the completions for a shell to standard output
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// Write a man page of every command into a directory
    Man {
        /// The directory
        #[arg(long, value_name = "DIR")]
        into: PathBuf,
    },
    /// What the exit codes mean
    #[command(long_about = EXIT_CODES)]
    ExitCodes,
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_sound() {
        Cli::command().debug_assert();
    }

    /// A command's own option must not be one that every command has: clap would mix them up.
    #[test]
    fn no_command_hides_an_option_of_every_command() {
        fn check(command: &clap::Command, global: &[String]) {
            for own in command.get_arguments().filter(|own| !own.is_global_set()) {
                let name = own.get_id().to_string();
                assert!(!global.contains(&name), "{} {name} is taken", command.get_name());
            }
            command.get_subcommands().for_each(|below| check(below, global));
        }
        let whole = Cli::command();
        let global = whole.get_arguments().filter(|argument| argument.is_global_set());
        let global: Vec<String> = global.map(|argument| argument.get_id().to_string()).collect();
        assert!(global.len() > 5);
        check(&whole, &global);
    }

    #[test]
    fn every_command_says_what_it_does() {
        fn check(command: &clap::Command) {
            assert!(command.get_about().is_some(), "{} says nothing", command.get_name());
            for argument in command.get_arguments() {
                assert!(argument.get_help().is_some(), "{} {} says nothing", command.get_name(), argument.get_id());
            }
            command.get_subcommands().for_each(check);
        }
        check(&Cli::command());
    }

    #[test]
    fn the_exit_codes_are_in_the_long_help() {
        assert!(Cli::command().render_long_help().to_string().contains(EXIT_CODES));
    }
}
