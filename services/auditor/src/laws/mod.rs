//! The laws of the books, proved over rows: those that a journal adds up to, or those read from
//! a database. They hold between commands, not between the facts of one.

mod condition;
mod jobs;
mod plan;
mod readings;
mod shop;
mod stock;
mod strip;
mod suppliers;
mod time;
mod tools;

use crate::compare::json_of;
use crate::fold::{Books, Overrides};
use crate::tables::{Kept, Tables};
use serde_json::Value;

/// A row that breaks a law.
#[derive(Debug, Clone, PartialEq)]
pub struct Violation {
    /// The law, as one of [`LAWS`].
    pub law: &'static str,
    /// The table of the row.
    pub table: &'static str,
    /// Its key as a JSON array.
    pub key: Value,
    /// What is wrong.
    pub sentence: String,
}

impl std::fmt::Display for Violation {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { law, table, key, sentence } = self;
        write!(f, "law '{law}' is broken in table '{table}' by {key}: {sentence}")
    }
}

/// Every law, with what it says.
pub const LAWS: &[(&str, &str)] = &[
    ("hold", "in a held place on hand without the expired part >= reserved >= 0, and the expired part >= 0"),
    ("on-hand", "on hand is the sum of the place's balances of the item, its expired part that of expired lots"),
    ("reserved", "reserved is the sum of the reservations of the item at the place"),
    ("lot-zero", "every lot sums to zero over all places, and every movement is of a positive quantity"),
    (
        "balance",
        "a balance is what its movements add up to; it is marked as held as its place is; no held one is negative",
    ),
    (
        "demand",
        "a demand's reserved and short are the sums of its reservations and shortages; 0 <= issued <= what was \
                moved to it by issues; reserved + short <= what is still wanted, max(wanted - issued, 0)",
    ),
    ("shortage", "a shortage is over exactly when its quantity is 0"),
    ("stay", "a bay holds one vehicle and a vehicle is in one bay at any instant; no stay is empty"),
    (
        "clocking",
        "a person is clocked on to one stage at any instant; no clocking is empty; an ended stage has no open one",
    ),
    ("blocker", "a blocker is not cleared before it began; the job counts its blockers"),
    (
        "stage-state",
        "a stage's state agrees with its times, which are in order; it is waiting only when pending and ready",
    ),
    (
        "stage-end",
        "nothing about an ended stage is later than its end: not when it was ready, no clocking, step or blocker of it",
    ),
    ("place", "work on a stage that asks for kinds of bay lies within stays of the job's vehicle in such bays"),
    (
        "precedence",
        "a stage is ready only after all that comes before it, with the waits after what was finished, which may \
                    be cut short only by its end; it is started only when ready, unless a lead overrode that",
    ),
    ("step", "a step's state agrees with its times"),
    ("windows", "open windows do not overlap, nor do those of a person's shifts; none is empty"),
    ("job-state", "a closed job has a time, not before it opened; the shop counts its jobs; each has its place"),
    (
        "job-closed",
        "a closed job has no open clocking, reservation, shortage or stay; a completed one has no unfinished \
                    stage and no open blocker",
    ),
    (
        "position",
        "no count of a position is negative; no more of its places are settled than there are, no more of its pieces \
                    than came off; nothing goes back that was not off",
    ),
    ("tags", "no two ends of a job's tagged positions bear the same number"),
    (
        "attempt",
        "no more pieces of a position moved than it has; the last safe try had a plan, unless a lead overrode that",
    ),
    ("second-check", "nobody looks at their own work; before a vehicle goes, somebody did where that is asked for"),
    ("put-in-is-out", "before a vehicle goes, all that was put in for the work is out"),
    (
        "strip-places",
        "before a vehicle goes, found + missing = refitted + renewed + left out, unless a lead overrode that",
    ),
    ("strip-pieces", "before a vehicle goes, what came off = refitted + scrapped + kept, unless a lead overrode that"),
    ("strip-fewer", "before a vehicle goes, as many were found or missing as are listed, unless a lead overrode that"),
    ("strip-cured", "before a vehicle goes, every sealant has cured, unless a lead overrode that"),
    ("strip-tight", "before a vehicle goes, every fastener that is back is tight, unless a lead overrode that"),
    (
        "came-apart",
        "a job whose vehicle had come apart from the one before is handed over with a lead's word about that",
    ),
    ("tool", "a shared tool is lent to one job or person at any instant; no loan is empty; a retired tool is not lent"),
    ("tool-blocker", "a blocker of an open job for a shared tool stands only while another job has the tool"),
    (
        "reading",
        "a reading came out as its figures and limits say; what is decided about it is decided whole, and about what is \
                    out of limits",
    ),
    ("reading-holds", "a reading out of its limits holds up its stage while it is under way, until a lead decides"),
    (
        "reading-taken",
        "before a vehicle goes, every reading was taken and is in its limits or accepted, unless its stage was left out \
                    or a lead overrode that",
    ),
    ("remark", "a remark is withdrawn with a reason"),
    ("supplier", "an item names a supplier that is listed"),
    (
        "plan",
        "what is planned or pinned is of open jobs; nobody, no bay and no vehicle is planned in two places at once",
    ),
    ("told", "what was told was told to one, promises what lay ahead, and is withdrawn with a reason"),
    ("asked", "a correction that was asked for says when the work was or that the entry goes, and is decided whole"),
    (
        "vehicle-state",
        "a state is one of its feature's, so is the one before it, and the step that brought it about is whole",
    ),
    ("at-rest", "before a vehicle goes, its states are as they have to be, unless a lead overrode that"),
    (
        "hold-point",
        "a hold point is passed by somebody, after the work before it in its stage, and where another is to look, not by \
                    who did that work",
    ),
    ("hold-passed", "before a vehicle goes, every hold point is passed, unless a lead overrode that"),
    (
        "fluid",
        "no amount of a fluid is negative, and something was said of it exactly when there are amounts or a time",
    ),
    (
        "step-said",
        "before a vehicle goes, something was said of what is put in or asks for a second check, when its step was done",
    ),
    (
        "renewed-taken",
        "before a vehicle goes, what was renewed in it was given out to its job, unless a lead overrode that",
    ),
    (
        "fill-drawn",
        "before a vehicle goes, what its fills were poured from was given out to its job, unless a lead overrode that",
    ),
    (
        "fluid-over",
        "before a vehicle goes, no fluid is in by more than it holds and came out, unless a lead overrode that",
    ),
    ("fluid-said", "before a vehicle goes, what a step drained was said, unless a lead overrode that"),
    ("fluid-back", "before a vehicle goes, no less of a fluid went in than came out, unless a lead overrode that"),
    (
        "own-way",
        "a decision names who made it and when, after the proposal; before a vehicle goes there is one, unless a lead overrode that",
    ),
    (
        "forgotten",
        "the name of a forgotten person is erased, so are name, contact and note of a forgotten customer, who has \
                    no vehicle and no open job",
    ),
];

/// Every law over what a journal adds up to.
pub fn check_books(books: &Books) -> Vec<Violation> {
    check_tables(books.tables(), books.overrides())
}

/// Every law over tables from anywhere. Which stages a lead allowed to start early is in no
/// table: it comes from the facts.
pub fn check_tables(tables: &Tables, overrides: &Overrides) -> Vec<Violation> {
    let mut found = Found::default();
    stock::check(tables, &mut found);
    time::check(tables, &mut found);
    jobs::check(tables, overrides, &mut found);
    strip::check(tables, &mut found);
    readings::check(tables, &mut found);
    tools::check(tables, &mut found);
    condition::check(tables, &mut found);
    suppliers::check(tables, &mut found);
    plan::check(tables, &mut found);
    shop::check(tables, &mut found);
    found.0
}

/// The violations found so far.
#[derive(Default)]
struct Found(Vec<Violation>);

impl Found {
    /// Notes a violation unless `holds`.
    fn law<R: Kept>(&mut self, law: &'static str, row: &R, holds: bool, sentence: impl FnOnce() -> String) {
        if !holds {
            debug_assert!(LAWS.iter().any(|(name, _)| *name == law), "law '{law}' is not in the list");
            self.0.push(Violation { law, table: R::TABLE, key: json_of(&row.key()), sentence: sentence() });
        }
    }
}
