//! `leadhand person`.

use super::token::Keep;
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::out::{self, Table};
use crate::words::parse;
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{
    AddPersonRequest, ForgetPersonRequest, GetReadyListRequest, GetShopRequest, Person, ProofKind, RenamePersonRequest,
    Role, SetBadgeRequest, SetBadgeResponse, SetPinRequest, SetSkillsRequest, WithdrawProofRequest,
};
use serde_json::json;
use std::io::IsTerminal;
use std::path::PathBuf;

/// Persons and their skills.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Add a person; prints the id
    Add {
        /// The name
        name: String,
        /// A skill; once for each
        #[arg(long = "skill", value_name = "SKILL")]
        skills: Vec<String>,
    },
    /// Persons
    List,
    /// What a person needs in hand for the rest of the shift, and what is missing
    Ready {
        /// The person, by name or id
        person: String,
    },
    /// Say a person's name anew that was mistyped; the one before is erased
    Rename {
        /// The person, by name or id
        person: String,
        /// The name as it should be
        name: String,
        /// Why, without the name as it was
        #[arg(long)]
        reason: String,
    },
    /// Set a person's skills anew
    Skills {
        /// The person, by name or id
        person: String,
        /// The skills; none takes all away
        skills: Vec<String>,
    },
    /// Make a new badge code, with which a person signs in at a device
    Badge(Proof),
    /// Set a PIN, read from standard input, with which a person signs in at a device
    Pin(Proof),
    /// Everything that is kept about a person, as JSON: yours, or anybody's for a lead
    Data {
        /// The person, by name or id; you when left out
        #[arg(default_value = "", hide_default_value = true)]
        person: String,
    },
    /// Forget a person: the name and typed words go for ever, the figures stay
    Forget {
        /// The person, by name or id
        person: String,
    },
}

/// Whose, and what it allows.
#[derive(Debug, Args)]
pub struct Proof {
    /// The person, by name or id
    person: String,
    /// What the person may do when signed in with it: technician, parts or lead
    #[arg(long, value_parser = parse::<Role>, required_unless_present = "withdraw", conflicts_with = "withdraw")]
    role: Option<Role>,
    /// It counts no longer, and sessions that were begun with it are over
    #[arg(long)]
    withdraw: bool,
    /// A new file for the badge code, readable by you alone, instead of standard output
    #[arg(long, value_name = "FILE", conflicts_with = "withdraw")]
    into: Option<PathBuf>,
}

async fn badge(app: &App, asked: Proof) -> Outcome {
    let Some(role) = asked.role else { return withdraw(app, asked.person, ProofKind::Badge).await };
    let keep = Keep::begin(asked.into.as_deref())?;
    let said = format!("{} has a new badge code", asked.person);
    let request = SetBadgeRequest { write: app.write().await?, person: asked.person, role: role.into() };
    let answer = app.client.set_badge(request).await?;
    let shown = SetBadgeResponse { code: String::new(), ..answer.clone() };
    keep.end(app, &answer, &shown, answer.receipt.as_ref(), &answer.code, &said)
}

async fn pin(app: &App, asked: Proof) -> Outcome {
    let Some(role) = asked.role else { return withdraw(app, asked.person, ProofKind::Pin).await };
    if asked.into.is_some() {
        return Err(Failure::Usage("--into is for a badge code; a PIN is known already".to_owned()));
    }
    let pin = typed_secret("PIN")?;
    let said = format!("the PIN of {} is set", asked.person);
    let request = SetPinRequest { write: app.write().await?, person: asked.person, role: role.into(), pin };
    let answer = app.client.set_pin(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

async fn withdraw(app: &App, person: String, proof: ProofKind) -> Outcome {
    let said =
        format!("the {} of {person} counts no longer", if proof == ProofKind::Pin { "PIN" } else { "badge code" });
    let request = WithdrawProofRequest { write: app.write().await?, person, proof: proof.into() };
    let answer = app.client.withdraw_proof(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

/// A secret from standard input: never from the command line, which others can see.
pub fn typed_secret(what: &str) -> Outcome<String> {
    let read = if std::io::stdin().is_terminal() {
        rpassword::prompt_password(format!("{what}, then Enter (it is not shown): "))
    } else {
        let mut line = String::new();
        std::io::stdin().read_line(&mut line).map(|_| line)
    };
    let line = read.map_err(|error| Failure::Usage(format!("the {what} can't be read: {error}")))?;
    match line.trim() {
        "" => Err(Failure::Usage(format!("no {what} came on standard input; type it or pipe it in"))),
        secret => Ok(secret.to_owned()),
    }
}

/// Asks at a terminal whether that is meant: nothing brings back what is forgotten. A script has said what it wants.
pub fn sure_to_forget(who: &str) -> Outcome {
    if !std::io::stdin().is_terminal() {
        return Ok(());
    }
    out::note(&format!(
        "Names and words of {who} will be erased for ever; nobody can bring them back. Type {who} again to go on:"
    ));
    let mut line = String::new();
    std::io::stdin()
        .read_line(&mut line)
        .map_err(|error| Failure::Usage(format!("the answer can't be read: {error}")))?;
    if line.trim() == who { Ok(()) } else { Err(Failure::Usage("nothing was forgotten".to_owned())) }
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Add { name, skills } => {
            let said = match skills.as_slice() {
                [] => format!("{name} works here, with no skill listed"),
                skills => format!("{name} works here, with {}", skills.join(", ")),
            };
            let answer = app.client.add_person(AddPersonRequest { write: app.write().await?, name, skills }).await?;
            app.done(&answer, answer.receipt.as_ref(), Some(&answer.person), &said)
        }
        Command::Ready { person } => {
            super::ready::show(app, GetReadyListRequest { person, ..Default::default() }).await
        }
        Command::List => {
            let shop = app.client.get_shop(GetShopRequest {}).await?;
            if app.out.is_json() {
                let value = crate::json::of(&shop)?;
                return out::value(&json!({ "persons": value["persons"], "number": value["number"] }));
            }
            app.out.table(&table(shop.persons))
        }
        Command::Rename { person, name, reason } => {
            let said = format!("{person} is called {name} now; the name before is erased");
            let request = RenamePersonRequest { write: app.write().await?, person, name, reason };
            let answer = app.client.rename_person(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Skills { person, skills } => {
            let said = match skills.as_slice() {
                [] => format!("{person} has no skill listed now"),
                skills => format!("{person} has these skills now: {}", skills.join(", ")),
            };
            let answer = app.client.set_skills(SetSkillsRequest { write: app.write().await?, person, skills }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Badge(asked) => badge(app, asked).await,
        Command::Pin(asked) => pin(app, asked).await,
        Command::Data { person } => super::data::of_person(app, person).await,
        Command::Forget { person } => {
            sure_to_forget(&person)?;
            let said = format!("{person} is forgotten; the figures of the work stay");
            let answer = app.client.forget_person(ForgetPersonRequest { write: app.write().await?, person }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
    }
}

/// Persons as a table.
pub fn table(persons: Vec<Person>) -> Table {
    let mut table = Table::new("persons", &["person", "skills", "id"]);
    for person in persons {
        let name = if person.forgotten { "(forgotten)".to_owned() } else { person.name };
        table.row([name, person.skills.join(", "), person.person]);
    }
    table
}
