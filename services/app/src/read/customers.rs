//! Customers, with what is theirs.

use super::Reading;
use super::jobs::{JobLine, line_of};
use super::names::only;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use crate::writer::NameOf;
use leadhand_domain::look;
use leadhand_domain::names;
use leadhand_domain::need::Need;
use leadhand_facts::rows::{CustomerRow, VehicleRow};
use leadhand_facts::{CustomerId, TextId};
use uuid::Uuid;

/// Customers, oldest first.
#[derive(Debug, Clone)]
pub struct CustomerPage {
    /// The customers.
    pub customers: Vec<CustomerRow>,
    /// The words they refer to.
    pub words: Words,
    /// The number of the last fact of a full page: more may follow.
    pub next: Option<i64>,
}

/// A customer with vehicles and jobs.
#[derive(Debug, Clone)]
pub struct CustomerView {
    /// The customer.
    pub customer: CustomerRow,
    /// The vehicles that are the customer's now.
    pub vehicles: Vec<VehicleRow>,
    /// The customer's jobs by number.
    pub jobs: Vec<JobLine>,
    /// The words they refer to.
    pub words: Words,
}

fn texts_of(row: &CustomerRow) -> impl Iterator<Item = TextId> {
    std::iter::once(row.name).chain(row.contact).chain(row.about)
}

impl App {
    /// Customers after this fact, oldest first.
    pub async fn customers(&self, who: &Principal, after: i64, size: usize) -> Result<CustomerPage, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let limit = i64::try_from(size).unwrap_or(i64::MAX);
        let found = reading.snapshot.customers(after, limit).await?;
        reading.load(&found.into_iter().map(Need::Customer).collect::<Vec<_>>()).await?;
        let mut customers: Vec<CustomerRow> = reading.state.customers.iter().cloned().collect();
        customers.sort_by_key(|row| row.added_n);
        let next = (customers.len() == size).then(|| customers.last().map(|row| row.added_n)).flatten();
        let texts: Vec<TextId> = customers.iter().flat_map(texts_of).collect();
        let words = reading.words(texts).await?;
        Ok(CustomerPage { customers, words, next })
    }

    /// A customer with vehicles and jobs.
    pub async fn customer_view(&self, who: &Principal, customer: CustomerId) -> Result<CustomerView, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::CustomerBooks(customer)]).await?;
        let row = look::any_customer(&reading.state, customer)?.clone();
        let own = reading.state.vehicles.iter().filter(|vehicle| vehicle.customer == Some(customer));
        let vehicles: Vec<VehicleRow> = own.cloned().collect();
        let jobs: Vec<Need> = reading.state.jobs.iter().map(|job| Need::Job(job.job)).collect();
        reading.load(&jobs).await?;
        let state = &reading.state;
        let jobs: Vec<JobLine> = state.jobs.iter().map(|job| line_of(state, job.clone(), who.role)).collect();
        let of_vehicles = vehicles.iter().flat_map(|vehicle| [Some(vehicle.label), vehicle.plate]).flatten();
        let texts: Vec<TextId> =
            texts_of(&row).chain(of_vehicles).chain(jobs.iter().flat_map(JobLine::text_ids)).collect();
        let words = reading.words(texts).await?;
        Ok(CustomerView { customer: row, vehicles, jobs, words })
    }

    /// A customer by id or by name.
    pub async fn customer(&self, who: &Principal, field: &str, named: &str) -> Result<CustomerId, AppError> {
        if let Ok(id) = Uuid::try_parse(named) {
            return Ok(CustomerId(id));
        }
        let found = self.customers_called(who, named).await?;
        Ok(CustomerId(only(NameOf::Customer, field, named, &found)?))
    }

    /// All customers who have this name.
    pub(super) async fn customers_called(&self, who: &Principal, named: &str) -> Result<Vec<Uuid>, AppError> {
        let all = self.customers(who, 0, usize::MAX).await?;
        let wanted = names::folded(named);
        let is_meant = |row: &&CustomerRow| !row.forgotten && names::folded(all.words.get(Some(row.name))) == wanted;
        Ok(all.customers.iter().filter(is_meant).map(|row| row.customer.0).collect())
    }
}
