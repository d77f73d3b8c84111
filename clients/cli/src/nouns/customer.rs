//! `leadhand customer`.

use super::{PAGE, all_pages, data};
use crate::app::App;
use crate::failure::Outcome;
use crate::out::{self, Table, clean};
use crate::words::word;
use clap::Subcommand;
use leadhand_sdk::v1::{
    AddCustomerRequest, Customer, EditCustomerRequest, ForgetCustomerRequest, GetCustomerRequest, GetCustomerResponse,
    JobState, ListCustomersRequest,
};

/// Customers.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Add a customer; prints the id
    Add {
        /// The name
        name: String,
        /// How to reach the customer
        #[arg(long, default_value = "", hide_default_value = true)]
        contact: String,
        /// What else is to be known
        #[arg(long, default_value = "", hide_default_value = true)]
        note: String,
    },
    /// Customers, oldest first
    List,
    /// One customer with vehicles and jobs
    Show {
        /// The customer, by name or id
        customer: String,
    },
    /// Say anew what is known of a customer; the words that were there before are erased
    Edit {
        /// The customer, by name or id
        customer: String,
        /// The name
        #[arg(long, default_value = "", hide_default_value = true)]
        name: String,
        /// How to reach the customer
        #[arg(long, default_value = "", hide_default_value = true)]
        contact: String,
        /// What else is to be known
        #[arg(long, default_value = "", hide_default_value = true)]
        note: String,
        /// The contact is taken away
        #[arg(long, conflicts_with = "contact")]
        clear_contact: bool,
        /// The note is taken away
        #[arg(long, conflicts_with = "note")]
        clear_note: bool,
    },
    /// Everything that is kept about a customer, as JSON
    Data {
        /// The customer, by name or id
        customer: String,
    },
    /// Forget a customer: names, plates and all that was typed on the customer's jobs go for ever, the figures stay
    Forget {
        /// The customer, by name or id
        customer: String,
    },
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Add { name, contact, note } => {
            let said = format!("customer {name} is listed");
            let request = AddCustomerRequest { write: app.write().await?, name, contact, note };
            let answer = app.client.add_customer(request).await?;
            app.done(&answer, answer.receipt.as_ref(), Some(&answer.customer), &said)
        }
        Command::List => list(app).await,
        Command::Show { customer } => show(app, &app.client.get_customer(GetCustomerRequest { customer }).await?),
        Command::Edit { customer, name, contact, note, clear_contact, clear_note } => {
            let said = format!("customer {customer} is kept so; what was said before is erased");
            let write = app.write().await?;
            let request = EditCustomerRequest { write, customer, name, contact, note, clear_contact, clear_note };
            let answer = app.client.edit_customer(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Data { customer } => data::of_customer(app, customer).await,
        Command::Forget { customer } => {
            super::person::sure_to_forget(&customer)?;
            let said = format!("customer {customer} is forgotten; the figures of the jobs stay");
            let request = ForgetCustomerRequest { write: app.write().await?, customer };
            let answer = app.client.forget_customer(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
    }
}

fn name(customer: &Customer) -> String {
    if customer.forgotten { "(forgotten)".to_owned() } else { customer.name.clone() }
}

async fn list(app: &App) -> Outcome {
    let request = ListCustomersRequest { page_size: PAGE, page_token: String::new() };
    let answer = all_pages!(app, list_customers, request, customers);
    if app.out.is_json() {
        return out::json(&answer);
    }
    let mut table = Table::new("customers", &["customer", "contact", "note", "id"])
        .when_empty("there is no customer yet; 'leadhand customer add NAME' lists one");
    for row in answer.customers {
        table.row([name(&row), row.contact, row.note, row.customer]);
    }
    app.out.table(&table)
}

fn show(app: &App, answer: &GetCustomerResponse) -> Outcome {
    if app.out.is_json() {
        return out::json(answer);
    }
    let customer = answer.customer.clone().unwrap_or_default();
    for (what, said) in [("customer", &name(&customer)), ("contact", &customer.contact), ("note", &customer.note)] {
        if !said.is_empty() {
            out::line(&clean(&format!("{what}: {said}")))?;
        }
    }
    let mut vehicles = Table::new("vehicles", &["vehicle", "plate", "kg#", "id"])
        .when_empty("no vehicle is this customer's yet; 'leadhand vehicle edit --job JOB --customer NAME' says so");
    for row in &answer.vehicles {
        let weight = if row.weight_kg == 0 { String::new() } else { row.weight_kg.to_string() };
        vehicles.row([row.label.clone(), row.plate.clone(), weight, row.vehicle.clone()]);
    }
    app.out.table(&vehicles)?;
    let mut jobs =
        Table::new("jobs", &["job#", "vehicle", "title", "state"]).when_empty("no job was done for this customer yet");
    for job in &answer.jobs {
        jobs.row([job.job.to_string(), job.vehicle_label.clone(), job.title.clone(), word::<JobState>(job.state)]);
    }
    app.out.table(&jobs)
}
