//! Customers and their vehicles, and what is kept about somebody.

use super::{serve, unfit};
use crate::call::Call;
use crate::convert::time::timestamp;
use crate::convert::{fact, fields, invalid, job, notice::receipt, page};
use leadhand_app::{About, App, AppError, Whom, Words};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{AddCustomer, Change, EditCustomer, EditVehicle, ForgetCustomer};
use leadhand_domain::refusal::Refusal;
use leadhand_facts::VehicleId;
use leadhand_facts::rows::{CustomerRow, VehicleRow};
use leadhand_proto::v1;
use leadhand_proto::v1::customer_service_server::CustomerService;

/// The service.
pub struct Customers {
    pub(crate) app: App,
}

serve! { CustomerService for Customers {
    add_customer(AddCustomerRequest) -> AddCustomerResponse;
    list_customers(ListCustomersRequest) -> ListCustomersResponse;
    get_customer(GetCustomerRequest) -> GetCustomerResponse;
    edit_customer(EditCustomerRequest) -> EditCustomerResponse;
    forget_customer(ForgetCustomerRequest) -> ForgetCustomerResponse;
    edit_vehicle(EditVehicleRequest) -> EditVehicleResponse;
    get_customer_data(GetCustomerDataRequest) -> GetCustomerDataResponse;
    get_person_data(GetPersonDataRequest) -> GetPersonDataResponse;
} also {} }

async fn add_customer(call: &Call, asked: v1::AddCustomerRequest) -> Result<v1::AddCustomerResponse, AppError> {
    let (contact, note) = (fields::text_some(asked.contact), fields::text_some(asked.note));
    let outcome = call.execute(asked.write, AddCustomer { name: asked.name, contact, note }).await?;
    let Made::Customer(customer) = outcome.answer.made else { return Err(unfit("a customer", &outcome)) };
    Ok(v1::AddCustomerResponse { receipt: receipt(&outcome), customer: customer.to_string() })
}

async fn list_customers(call: &Call, asked: v1::ListCustomersRequest) -> Result<v1::ListCustomersResponse, AppError> {
    const LIST: &str = "customers";
    let after = page::read(LIST, &asked.page_token, page::number)?.unwrap_or_default();
    let found = call.app.customers(&call.who, after, page::size(asked.page_size)?).await?;
    let customers = found.customers.iter().map(|row| customer(row, &found.words)).collect();
    Ok(v1::ListCustomersResponse { customers, next_page_token: page::token(LIST, found.next) })
}

async fn get_customer(call: &Call, asked: v1::GetCustomerRequest) -> Result<v1::GetCustomerResponse, AppError> {
    let id = call.customer_known("customer", &asked.customer).await?;
    let view = call.app.customer_view(&call.who, id).await?;
    Ok(v1::GetCustomerResponse {
        customer: Some(customer(&view.customer, &view.words)),
        vehicles: view.vehicles.iter().map(|row| vehicle(row, &view.words)).collect(),
        jobs: view.jobs.iter().map(|line| job::job_line(line, &view.words)).collect(),
    })
}

fn customer(row: &CustomerRow, words: &Words) -> v1::Customer {
    v1::Customer {
        customer: row.customer.to_string(),
        name: words.get(Some(row.name)).to_owned(),
        contact: words.get(row.contact).to_owned(),
        note: words.get(row.about).to_owned(),
        forgotten: row.forgotten,
    }
}

fn vehicle(row: &VehicleRow, words: &Words) -> v1::Vehicle {
    v1::Vehicle {
        vehicle: row.vehicle.to_string(),
        label: words.get(Some(row.label)).to_owned(),
        plate: words.get(row.plate).to_owned(),
        weight_kg: row.weight_kg.unwrap_or_default(),
    }
}

/// What becomes of something: taken away, set to what was said, or left as it is.
fn change<T>(field: &str, clear: bool, said: Option<T>) -> Result<Change<T>, AppError> {
    match (clear, said) {
        (false, None) => Ok(Change::Keep),
        (false, Some(said)) => Ok(Change::Set(said)),
        (true, None) => Ok(Change::Clear),
        (true, Some(_)) => Err(invalid(field, "something else is said in its place as well; say one or the other")),
    }
}

async fn edit_customer(call: &Call, asked: v1::EditCustomerRequest) -> Result<v1::EditCustomerResponse, AppError> {
    let command = EditCustomer {
        customer: call.customer("customer", &asked.customer).await?,
        name: fields::text_some(asked.name),
        contact: change("clear_contact", asked.clear_contact, fields::text_some(asked.contact))?,
        note: change("clear_note", asked.clear_note, fields::text_some(asked.note))?,
    };
    Ok(v1::EditCustomerResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

async fn forget_customer(
    call: &Call,
    asked: v1::ForgetCustomerRequest,
) -> Result<v1::ForgetCustomerResponse, AppError> {
    let customer = call.customer("customer", &asked.customer).await?;
    let outcome = call.execute(asked.write, ForgetCustomer { customer, texts: Vec::new() }).await?;
    Ok(v1::ForgetCustomerResponse { receipt: receipt(&outcome) })
}

async fn edit_vehicle(call: &Call, asked: v1::EditVehicleRequest) -> Result<v1::EditVehicleResponse, AppError> {
    let weight_kg = fields::positive_some("weight_kg", asked.weight_kg)?;
    let customer = call.customer_some("customer", &asked.customer).await?;
    let command = EditVehicle {
        vehicle: VehicleId(fields::id("vehicle", &asked.vehicle)?),
        label: fields::text_some(asked.label),
        plate: change("clear_plate", asked.clear_plate, fields::text_some(asked.plate))?,
        weight_kg: change("clear_weight", asked.clear_weight, weight_kg)?,
        customer: change("clear_customer", asked.clear_customer, customer)?,
        earlier_jobs: asked.earlier_jobs,
    };
    Ok(v1::EditVehicleResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

/// Fields of facts that are about who works here, or that let somebody in.
const OF_STAFF: [&str; 2] = ["person", "owner"];
const SECRET: [&str; 2] = ["hash", "secret"];

/// The facts for whoever is asked about, without these fields.
fn facts(about: &About, without: &[&str]) -> Result<Vec<v1::Fact>, AppError> {
    let each = about.entries.iter().map(|entry| {
        let mut fact = fact::fact(entry, &about.words)?;
        if let Some(body) = &mut fact.body {
            body.fields.retain(|field, _| !without.contains(&field.as_str()));
        }
        Ok(fact)
    });
    each.collect()
}

async fn get_customer_data(
    call: &Call,
    asked: v1::GetCustomerDataRequest,
) -> Result<v1::GetCustomerDataResponse, AppError> {
    const LIST: &str = "customer-data";
    let (after, size) = (page::read(LIST, &asked.page_token, page::number)?, page::size(asked.page_size)?);
    let whom = Whom::Customer(call.customer_known("customer", &asked.customer).await?);
    let about = call.app.about(&call.who, whom, after.unwrap_or_default(), size).await?;
    let mut facts = facts(&about, &OF_STAFF)?;
    // Who wrote it down is about somebody else, too.
    for fact in &mut facts {
        for whose in [&mut fact.person, &mut fact.principal, &mut fact.proved_by] {
            whose.clear();
        }
    }
    Ok(v1::GetCustomerDataResponse {
        as_of: Some(timestamp(about.at)),
        kept: about.kept.map(fact::object),
        facts,
        next_page_token: page::token(LIST, about.next),
    })
}

async fn get_person_data(call: &Call, asked: v1::GetPersonDataRequest) -> Result<v1::GetPersonDataResponse, AppError> {
    const LIST: &str = "person-data";
    let (after, size) = (page::read(LIST, &asked.page_token, page::number)?, page::size(asked.page_size)?);
    let said = call.person_known("person", &asked.person).await?;
    let person = said.or(call.who.person).ok_or(Refusal::NoPerson { what: "be asked what is kept about it" })?;
    let about = call.app.about(&call.who, Whom::Person(person), after.unwrap_or_default(), size).await?;
    Ok(v1::GetPersonDataResponse {
        as_of: Some(timestamp(about.at)),
        facts: facts(&about, &SECRET)?,
        kept: about.kept.map(fact::object),
        next_page_token: page::token(LIST, about.next),
    })
}
