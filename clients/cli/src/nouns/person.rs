//! `leadhand person`.

use crate::app::App;
use crate::failure::Outcome;
use crate::out::Table;
use clap::Subcommand;
use leadhand_sdk::v1::{AddPersonRequest, ForgetPersonRequest, GetShopRequest, Person, SetSkillsRequest};
use serde_json::json;

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
    /// Set a person's skills anew
    Skills {
        /// The person, by name or id
        person: String,
        /// The skills; none takes all away
        skills: Vec<String>,
    },
    /// Forget a person: the name and typed words go for ever, the figures stay
    Forget {
        /// The person, by name or id
        person: String,
    },
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Add { name, skills } => {
            let said = format!("{name} is there");
            let answer = app.client.add_person(AddPersonRequest { write: app.write().await?, name, skills }).await?;
            app.done(&answer, answer.receipt.as_ref(), Some(&answer.person), &said)
        }
        Command::List => {
            let shop = app.client.get_shop(GetShopRequest {}).await?;
            if app.out.is_json() {
                let value = crate::json::of(&shop)?;
                return crate::out::value(&json!({ "persons": value["persons"], "number": value["number"] }));
            }
            app.out.table(&table(shop.persons))
        }
        Command::Skills { person, skills } => {
            let said = format!("the skills of {person} are set");
            let answer = app.client.set_skills(SetSkillsRequest { write: app.write().await?, person, skills }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Forget { person } => {
            let answer = app.client.forget_person(ForgetPersonRequest { write: app.write().await?, person }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, "the person is forgotten; the figures stay")
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
