//! What the commands of the parts room need to see. Called again until all of it is loaded.

use super::import_rows::Sheet;
use super::{expire, find, shelf};
use crate::command::{Command, SetFillAside};
use crate::context::Context;
use crate::decide::calendar;
use crate::fill;
use crate::look;
use crate::need::Need;
use crate::state::State;
use leadhand_facts::rows::StepRow;
use leadhand_facts::words::StepState;
use leadhand_facts::{ItemKey, JobNo, PlaceKey, StageKey};
use std::collections::BTreeSet;

/// Known items of an import that are looked at in one go. An import that repeats an earlier one
/// is refused after the first lot of them, and does not load the whole stock.
const KNOWN_AT_ONCE: usize = 200;

/// The needs of a command, as far as what is loaded tells; none for commands of other parts.
pub(in crate::decide) fn needs(state: &State, command: &Command, context: &Context) -> Vec<Need> {
    match command {
        Command::AddItem(asked) => vec![Need::Items(vec![asked.item.clone()])],
        Command::SetItemFluid(asked) => of_fluid(state, &asked.item),
        Command::AddPlace(_) => vec![Need::Shop],
        Command::ImportStock(asked) => of_import(state, context, &asked.csv),
        Command::ReceiveStock(asked) => of_bin(state, context, &asked.item, false),
        Command::CountStock(asked) => of_bin(state, context, &asked.item, true),
        Command::ScrapStock(asked) => of_bin(state, context, &asked.item, true),
        Command::ReserveStock(asked) => of_items(state, context, asked.job, |state| wanted_by(state, asked.job)),
        Command::SetFillAside(asked) => of_fill(state, context, asked),
        Command::IssueStock(asked) => of_items(state, context, asked.job, |state| match &asked.item {
            Some(item) => BTreeSet::from([item.clone()]),
            None => listed_by(state, asked.job),
        }),
        Command::ReturnStock(asked) => of_items(state, context, asked.job, |_| BTreeSet::from([asked.item.clone()])),
        Command::ReleaseStock(asked) => of_items(state, context, asked.job, |state| {
            let mut items = listed_by(state, asked.job);
            items.extend(asked.item.clone());
            items
        }),
        _ => Vec::new(),
    }
}

/// An item, and the jobs whose fills go by it.
fn of_fluid(state: &State, item: &ItemKey) -> Vec<Need> {
    let mut needs = vec![Need::Items(vec![item.clone()])];
    if unless_loaded(state, Need::FillsFrom(item.clone()), &mut needs) {
        let from = |step: &&StepRow| fill::reckoned(step).is_some_and(|own| own.from.contains(item));
        let jobs: BTreeSet<JobNo> = state.steps.iter().filter(from).map(|step| step.job).collect();
        needs.extend(jobs.into_iter().map(Need::Job));
    }
    needs
}

/// What the job's steps want and have, and the item that is to be poured in.
fn of_fill(state: &State, context: &Context, asked: &SetFillAside) -> Vec<Need> {
    let mut needs = of_items(state, context, asked.job, |state| {
        let mut items = wanted_by(state, asked.job);
        items.extend(listed_by(state, asked.job));
        items.extend(poured_by(state, asked.job));
        items.insert(asked.item.clone());
        items
    });
    needs.push(Need::Items(vec![asked.item.clone()]));
    needs
}

/// What steps were poured from, or would have been before it was reckoned.
fn poured_by(state: &State, job: JobNo) -> BTreeSet<ItemKey> {
    let reckoned = state.steps.iter().filter(|row| row.job == job).filter_map(fill::reckoned);
    reckoned.flat_map(|own| own.from.iter().chain(own.instead.iter().map(|need| &need.item))).cloned().collect()
}

/// What has to be seen before stock that a job holds, or is short of, is given up or used up:
/// for [`super::close_step`], [`super::release_job`] and [`super::use_up_job`].
pub(in crate::decide) fn needs_of_job(state: &State, job: JobNo, context: &Context) -> Vec<Need> {
    of_items(state, context, job, |state| listed_by(state, job))
}

/// A job with these items, of which something may be wanted for it.
pub(in crate::decide) fn needs_of_named(
    state: &State,
    context: &Context,
    job: JobNo,
    items: impl FnOnce(&State) -> BTreeSet<ItemKey>,
) -> Vec<Need> {
    of_items(state, context, job, items)
}

/// One item with the jobs that it may concern: those that are short of it and, when
/// reservations may give way, those that have some set aside.
pub(super) fn needs_of_item(state: &State, context: &Context, item: &ItemKey, displaces: bool) -> Vec<Need> {
    let mut needs = Vec::new();
    if !unless_loaded(state, Need::Stock(item.clone()), &mut needs) {
        return needs;
    }
    let today = calendar::today(state, context.now).map(|day| day.to_string());
    let expires = today.is_ok_and(|today| !expire::overdue(state, item, &today).is_empty());
    let mut jobs: BTreeSet<JobNo> = shelf::shortages(state, item).map(|row| row.job).collect();
    if displaces || expires {
        jobs.extend(shelf::reservations(state, item).map(|row| row.job));
    }
    needs.extend(jobs.into_iter().map(Need::Job));
    needs
}

/// Names a need, and says whether it is loaded.
pub(super) fn unless_loaded(state: &State, need: Need, needs: &mut Vec<Need>) -> bool {
    let loaded = state.has(&need);
    needs.push(need);
    loaded
}

fn of_bin(state: &State, context: &Context, item: &ItemKey, displaces: bool) -> Vec<Need> {
    let mut needs = vec![Need::Shop];
    needs.extend(needs_of_item(state, context, item, displaces));
    needs
}

fn of_items(
    state: &State,
    context: &Context,
    job: JobNo,
    items: impl FnOnce(&State) -> BTreeSet<ItemKey>,
) -> Vec<Need> {
    let mut needs = vec![Need::Shop];
    if unless_loaded(state, Need::Job(job), &mut needs) {
        for item in items(state) {
            needs.extend(needs_of_item(state, context, &item, false));
        }
    }
    needs
}

/// Items that the pending steps of a job want.
fn wanted_by(state: &State, job: JobNo) -> BTreeSet<ItemKey> {
    let ahead = look::stages_in_order(state, job).into_iter().filter(|stage| find::is_ahead(stage));
    let keys: Vec<StageKey> = ahead.map(|stage| stage.stage.clone()).collect();
    let mut items = BTreeSet::new();
    for stage in &keys {
        let steps = look::steps(state, job, stage).filter(|step| step.state == StepState::Pending);
        items.extend(steps.flat_map(|step| step.needs.iter().map(|need| need.item.clone())));
    }
    items
}

/// Items that a job has anything of: on its list, so also whatever lies at its place.
fn listed_by(state: &State, job: JobNo) -> BTreeSet<ItemKey> {
    let open = |sums: [i64; 3]| sums.into_iter().any(|sum| sum != 0);
    let rows = shelf::demands(state, job).filter(|row| open([row.reserved.0, row.short.0, row.issued.0]));
    rows.map(|row| row.item.clone()).collect()
}

fn of_import(state: &State, context: &Context, csv: &str) -> Vec<Need> {
    let Ok(sheet) = Sheet::read(csv) else { return Vec::new() };
    let items: BTreeSet<&ItemKey> = sheet.rows.iter().map(|row| &row.item).collect();
    let mut needs = vec![Need::Shop];
    if !unless_loaded(state, Need::Items(items.iter().map(|item| (*item).clone()).collect()), &mut needs) {
        return needs;
    }
    let known = items.into_iter().filter(|item| state.items.get(&((*item).clone(),)).is_some());
    for (at, item) in known.enumerate() {
        let due = at % KNOWN_AT_ONCE == 0;
        if due && (needs.iter().any(|need| !state.has(need)) || needs.iter().any(|need| has_moved(state, need))) {
            break;
        }
        needs.extend(needs_of_item(state, context, item, false));
    }
    needs
}

fn has_moved(state: &State, need: &Need) -> bool {
    matches!(need, Need::Stock(item) if moved(state, item))
}

/// Whether an item ever moved: a held place keeps its sums, even at 0.
pub(super) fn moved(state: &State, item: &ItemKey) -> bool {
    let first = (item.clone(), PlaceKey(String::new()));
    state.holds.from_key(first).next().is_some_and(|row| row.item == *item)
}
