//! Everything that is kept about somebody, as one JSON object.

use super::{PAGE, all_pages};
use crate::app::App;
use crate::failure::Outcome;
use crate::out;
use leadhand_sdk::v1::{GetCustomerDataRequest, GetPersonDataRequest};
use serde_json::Value;

/// Prints what is kept about a person.
pub async fn of_person(app: &App, person: String) -> Outcome {
    let request = GetPersonDataRequest { person, page_size: PAGE, page_token: String::new() };
    whole(crate::json::of(&all_pages!(app, get_person_data, request, facts))?)
}

/// Prints what is kept about a customer.
pub async fn of_customer(app: &App, customer: String) -> Outcome {
    let request = GetCustomerDataRequest { customer, page_size: PAGE, page_token: String::new() };
    whole(crate::json::of(&all_pages!(app, get_customer_data, request, facts))?)
}

/// Every page is there, so nothing is said of pages.
fn whole(mut answer: Value) -> Outcome {
    if let Some(fields) = answer.as_object_mut() {
        fields.remove("next_page_token");
    }
    out::value(&answer)
}
