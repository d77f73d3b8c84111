//! What a command needs to see. The rules name it, the application loads it, until nothing is
//! missing; the state is never the whole history of a shop.

use leadhand_facts::words::BayKind;
use leadhand_facts::{BayKey, CustomerId, Instant, ItemKey, JobNo, PersonId, TemplateKey, TokenId, ToolKey, VehicleId};
use serde::{Deserialize, Serialize};

/// Rows to be loaded together, by name.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Need {
    /// The shop, its bays, persons, the bins and contra places, what was said about the calendar, its shared
    /// tools with the loans that are open, and its suppliers (tables shop, bay, person, place without the jobs' places,
    /// calendar, shared_tool, tool_loan, supplier).
    Shop,
    /// Every token, everybody's proofs, and the texts that both refer to (tables token, proof, text_ref).
    Tokens,
    /// A person's session at a device (table sign_in).
    SignIn(TokenId),
    /// Every window in which the shop is open that ends after this instant.
    OpenWindows(Instant),
    /// A person's shift windows that end after this instant.
    ShiftWindows(PersonId, Instant),
    /// The latest revision of a template.
    LatestTemplate(TemplateKey),
    /// The latest revision of every template.
    LatestTemplates,
    /// One revision of a template.
    Template(TemplateKey, i32),
    /// Everything about one job: job, its vehicle, its place, stays, stages, predecessors, steps,
    /// positions, readings, remarks, what was told, vehicle states, fluids, ways, blockers, clockings, loans of shared tools, demand,
    /// reservations and shortages, and what was planned and pinned of it.
    Job(JobNo),
    /// Loans of a shared tool that are open or end after this instant.
    ToolLoans(ToolKey, Instant),
    /// The last loan of a shared tool; with an instant, the last one that had ended by then.
    LastLoan(ToolKey, Option<Instant>),
    /// Steps of open jobs that are to be done and ask for a shared tool (rows of table step alone).
    ToolWanted(ToolKey),
    /// Steps of open jobs whose fill was reckoned to be poured from an item, done or not (rows of table step alone).
    FillsFrom(ItemKey),
    /// Stays in a bay that are open or end after this instant.
    BayStays(BayKey, Instant),
    /// Stays in a bay during which somebody worked on a stage that can't be done in a bay of this kind (rows of
    /// table stay alone).
    BayMisfits(BayKey, BayKind),
    /// A vehicle, and its stays that are open or end after this instant.
    VehicleStays(VehicleId, Instant),
    /// Open jobs of a vehicle (rows of table job alone).
    VehicleJobs(VehicleId),
    /// A person's clockings that are open or end after this instant.
    PersonClockings(PersonId, Instant),
    /// The clocking that began with this fact (row of table clocking alone).
    Clocking(i64),
    /// Whether items are listed (rows of table item alone).
    Items(Vec<ItemKey>),
    /// One item: itself, its lots that a held place still has some of, every balance of those
    /// lots, its holds, and its open reservations and open shortages with their demand.
    Stock(ItemKey),
    /// Stages that wait for a planned wait which ends at or before this instant (rows of table
    /// stage alone).
    WaitsOver(Instant),
    /// Lots that are not marked expired and whose last good day is before this local day, as far
    /// as a held place has some of them (rows of table lot alone).
    LotsExpired(String),
    /// Every text that a person's rows and the facts about that person refer to (rows of table
    /// text_ref alone), including notes typed by requests of that person, for whomever. As far as
    /// the facts are in the journal; those of the batch that is being decided are not yet.
    PersonTexts(PersonId),
    /// The text of a person's name (row of table text_ref alone).
    PersonName(PersonId),
    /// A customer, and the texts of that row (tables customer, text_ref).
    Customer(CustomerId),
    /// All that [`Need::Customer`] says, the customer's vehicles, and the rows of table job alone of the
    /// customer's jobs in any state.
    CustomerBooks(CustomerId),
    /// Every text that a customer's row, the customer's vehicles and the facts about the customer's jobs
    /// refer to (rows of table text_ref alone). As [`Need::PersonTexts`], as far as the facts are in the
    /// journal.
    CustomerTexts(CustomerId),
    /// A vehicle, the texts of its row, its customer, and the rows of table job alone of its jobs in any state.
    VehicleHistory(VehicleId),
    /// The accepted plan with all its stages, stays and jobs (tables plan, plan_stage, plan_visit, plan_job).
    Plan,
    /// Overtime that ends after this instant (table overtime_window).
    Overtime(Instant),
    /// Every row of tables job (open ones), and all that [`Need::Job`] says about each of them.
    OpenJobs,
}
