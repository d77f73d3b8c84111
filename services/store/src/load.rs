//! Loading the rows that needs name. Needs of one kind are loaded together, so that a batch of
//! commands costs as many round trips as it has kinds of need.

mod customers;
mod jobs;
mod plan;
mod shop;
mod stock;
mod time;
mod tools;

use crate::errors::StoreError;
use leadhand_domain::need::Need;
use leadhand_domain::state::AnyRow;
use leadhand_facts::{Instant, ShopId};
use serde_json::Value;
use sqlx::PgConnection;
use uuid::Uuid;

/// A row of some table, columns by name.
struct Loaded {
    table: String,
    row: Value,
}

/// Needs, sorted by kind.
#[derive(Default)]
#[allow(clippy::struct_excessive_bools, reason = "each says whether a need of that kind was named")]
struct Sorted {
    shop: bool,
    tokens: bool,
    sign_ins: Vec<Uuid>,
    open_jobs: bool,
    open_windows: Option<Instant>,
    shift_windows: Vec<(Uuid, Instant)>,
    all_templates: bool,
    latest_templates: Vec<String>,
    templates: Vec<(String, i32)>,
    jobs: Vec<i64>,
    bay_stays: Vec<(String, Instant)>,
    vehicle_stays: Vec<(Uuid, Instant)>,
    vehicle_jobs: Vec<Uuid>,
    person_clockings: Vec<(Uuid, Instant)>,
    items: Vec<String>,
    stock: Vec<String>,
    clockings: Vec<i64>,
    waits_over: Option<Instant>,
    lots_expired: Option<String>,
    person_texts: Vec<Uuid>,
    person_names: Vec<Uuid>,
    customers: Vec<Uuid>,
    customer_books: Vec<Uuid>,
    customer_texts: Vec<Uuid>,
    vehicle_histories: Vec<Uuid>,
    bay_misfits: Vec<(String, String)>,
    tool_loans: Vec<(String, Instant)>,
    last_loans: Vec<(String, Option<Instant>)>,
    tools_wanted: Vec<String>,
    fills_from: Vec<String>,
    plan: bool,
    overtime: Option<Instant>,
}

impl Sorted {
    fn new(needs: &[Need]) -> Self {
        let mut sorted = Self::default();
        for need in needs {
            sorted.add(need);
        }
        sorted
    }

    fn add(&mut self, need: &Need) {
        match need {
            Need::Shop => self.shop = true,
            Need::Tokens => self.tokens = true,
            Need::SignIn(session) => self.sign_ins.push(session.0),
            Need::OpenJobs => self.open_jobs = true,
            Need::OpenWindows(after) => self.open_windows = Some(self.open_windows.map_or(*after, |at| at.min(*after))),
            Need::ShiftWindows(person, after) => self.shift_windows.push((person.0, *after)),
            Need::LatestTemplate(key) => self.latest_templates.push(key.0.clone()),
            Need::LatestTemplates => self.all_templates = true,
            Need::Template(key, revision) => self.templates.push((key.0.clone(), *revision)),
            Need::Job(job) => self.jobs.push(job.0),
            Need::BayStays(bay, after) => self.bay_stays.push((bay.0.clone(), *after)),
            Need::VehicleStays(vehicle, after) => self.vehicle_stays.push((vehicle.0, *after)),
            Need::VehicleJobs(vehicle) => self.vehicle_jobs.push(vehicle.0),
            Need::PersonClockings(person, after) => self.person_clockings.push((person.0, *after)),
            Need::Clocking(number) => self.clockings.push(*number),
            Need::Items(items) => self.items.extend(items.iter().map(|item| item.0.clone())),
            Need::Stock(item) => self.stock.push(item.0.clone()),
            Need::WaitsOver(until) => self.waits_over = Some(self.waits_over.map_or(*until, |at| at.max(*until))),
            Need::LotsExpired(day) => self.lots_expired = self.lots_expired.take().max(Some(day.clone())),
            Need::PersonTexts(person) => self.person_texts.push(person.0),
            Need::PersonName(person) => self.person_names.push(person.0),
            Need::Customer(customer) => self.customers.push(customer.0),
            Need::CustomerBooks(customer) => {
                self.customers.push(customer.0);
                self.customer_books.push(customer.0);
            }
            Need::CustomerTexts(customer) => self.customer_texts.push(customer.0),
            Need::VehicleHistory(vehicle) => self.vehicle_histories.push(vehicle.0),
            Need::BayMisfits(bay, kind) => self.bay_misfits.push((bay.0.clone(), kind.word().to_owned())),
            Need::ToolLoans(tool, after) => self.tool_loans.push((tool.0.clone(), *after)),
            Need::LastLoan(tool, before) => self.last_loans.push((tool.0.clone(), *before)),
            Need::Plan => self.plan = true,
            Need::Overtime(after) => self.overtime = Some(self.overtime.map_or(*after, |at| at.min(*after))),
            Need::ToolWanted(tool) => self.tools_wanted.push(tool.0.clone()),
            Need::FillsFrom(item) => self.fills_from.push(item.0.clone()),
        }
    }
}

/// Loads the rows that needs name.
#[tracing::instrument(level = "debug", skip_all, fields(%shop, needs = needs.len()))]
pub(crate) async fn load(conn: &mut PgConnection, shop: ShopId, needs: &[Need]) -> Result<Vec<AnyRow>, StoreError> {
    let wanted = Sorted::new(needs);
    let mut found = Vec::new();
    shop::load(conn, shop, &wanted, &mut found).await?;
    customers::load(conn, shop, &wanted, &mut found).await?;
    time::load(conn, shop, &wanted, &mut found).await?;
    jobs::load(conn, shop, &wanted, &mut found).await?;
    tools::load(conn, shop, &wanted, &mut found).await?;
    plan::load(conn, shop, &wanted, &mut found).await?;
    stock::load(conn, shop, &wanted, &mut found).await?;
    found.into_iter().map(typed).collect()
}

fn typed(loaded: Loaded) -> Result<AnyRow, StoreError> {
    let Loaded { table, row } = loaded;
    match AnyRow::from_value(&table, row) {
        Some(row) => row.map_err(|source| StoreError::Row { table, source }),
        None => Err(StoreError::NoSuchTable(table)),
    }
}

/// Runs a query of [`Loaded`] rows with the shop and these parameters, and adds what it finds.
macro_rules! gather {
    ($conn:expr, $found:expr, $sql:expr $(, $parameter:expr)* $(,)?) => {
        $found.extend(sqlx::query_as!(Loaded, $sql $(, $parameter)*).fetch_all(&mut *$conn).await?)
    };
}
use gather;
