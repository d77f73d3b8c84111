//! Suppliers: when they take orders, when they deliver, and which item comes from whom. The last word holds.

use crate::answer::Made;
use crate::check;
use crate::command::{Command, SetItemSupplier, SetSupplier};
use crate::need::Need;
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::Fact;
use leadhand_facts::supplier::Round;

/// Most suppliers of a shop: all of them are loaded with it.
const SUPPLIERS_MAX: usize = 200;

/// Most rounds of a supplier.
const ROUNDS_MAX: usize = 20;

/// Most days between a cut-off and the arrival.
const DAYS_LATER_MAX: i32 = 14;

const DAY_MINUTES: i32 = 24 * 60;

/// What people type where an item names no supplier.
const NOBODY: &str = "none";

const WEEKDAYS: [&str; 7] = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"];

/// What these commands need to see beyond the shop.
pub(super) fn needs(command: &Command) -> Option<Need> {
    match command {
        Command::SetItemSupplier(c) => Some(Need::Items(vec![c.item.clone()])),
        _ => None,
    }
}

/// Decides what is about suppliers; nothing else.
pub(super) fn decide(session: &mut Session, command: &Command) -> Option<Result<Made, Refusal>> {
    Some(match command {
        Command::SetSupplier(c) => set(session, c),
        Command::SetItemSupplier(c) => set_item(session, c),
        _ => return None,
    })
}

fn set(session: &mut Session, asked: &SetSupplier) -> Result<Made, Refusal> {
    check::key("supplier.supplier", asked.supplier.as_str())?;
    if asked.supplier.as_str() == NOBODY {
        let why = format!("'{NOBODY}' is said of an item that comes from nobody in particular; choose another key");
        return Err(Refusal::invalid("supplier.supplier", why));
    }
    check::name("supplier.name", &asked.name)?;
    let rounds = checked(&asked.rounds)?;
    let known = session.state.suppliers.get(&(asked.supplier.clone(),));
    if known.is_some_and(|row| row.name == asked.name && row.rounds == rounds) {
        return Err(Refusal::NothingToDo { what: format!("change: supplier '{}' is kept so already", asked.supplier) });
    }
    if known.is_none() && session.state.suppliers.len() >= SUPPLIERS_MAX {
        let why = format!("the shop has {SUPPLIERS_MAX} suppliers already; say one of them anew");
        return Err(Refusal::invalid("supplier.supplier", why));
    }
    let (supplier, name) = (asked.supplier.clone(), asked.name.clone());
    session.emit(Fact::SupplierSet { supplier, name, rounds })?;
    Ok(Made::Nothing)
}

fn set_item(session: &mut Session, asked: &SetItemSupplier) -> Result<Made, Refusal> {
    let row = session.state.items.get(&(asked.item.clone(),)).ok_or_else(|| Refusal::Unknown {
        what: "item",
        which: asked.item.to_string(),
        todo: "list it first, or check the key",
    })?;
    if row.supplier == asked.supplier {
        let from = asked.supplier.as_ref().map_or_else(|| "no supplier".to_owned(), |key| format!("supplier '{key}'"));
        return Err(Refusal::NothingToDo { what: format!("change: item '{}' names {from} already", asked.item) });
    }
    if let Some(supplier) = &asked.supplier
        && session.state.suppliers.get(&(supplier.clone(),)).is_none()
    {
        let (what, todo) = ("supplier", "add the supplier first (`leadhand supplier add`), or check the key");
        return Err(Refusal::Unknown { what, which: supplier.to_string(), todo });
    }
    session.emit(Fact::ItemSupplierSet { item: asked.item.clone(), supplier: asked.supplier.clone() })?;
    Ok(Made::Nothing)
}

/// The rounds as they are kept: weekdays in order.
fn checked(asked: &[Round]) -> Result<Vec<Round>, Refusal> {
    if asked.len() > ROUNDS_MAX {
        let why = format!("it has {} rounds and at most {ROUNDS_MAX} fit; leave some out", asked.len());
        return Err(Refusal::invalid("supplier.rounds", why));
    }
    let mut rounds: Vec<Round> = Vec::with_capacity(asked.len());
    for (at, round) in asked.iter().enumerate() {
        let fault = |(field, why): (&str, String)| Refusal::invalid(format!("supplier.rounds[{at}].{field}"), why);
        let mut round = round.clone();
        round.weekdays.sort_unstable();
        fault_of(&round).or_else(|| fault_beside(&round, &rounds)).map_or(Ok(()), |wrong| Err(fault(wrong)))?;
        rounds.push(round);
    }
    Ok(rounds)
}

/// What is wrong with a round by itself: the field, and a sentence.
fn fault_of(round: &Round) -> Option<(&'static str, String)> {
    if round.weekdays.is_empty() {
        return Some(("weekdays", "no weekday is said; give at least one, from 1 Monday to 7 Sunday".to_owned()));
    }
    if let Some(day) = round.weekdays.iter().find(|day| !(1..=7).contains(*day)) {
        return Some(("weekdays", format!("{day} is no weekday; give 1 for Monday to 7 for Sunday")));
    }
    if let Some(pair) = round.weekdays.windows(2).find(|pair| pair[0] == pair[1]) {
        return Some(("weekdays", format!("{} is said twice; once is enough", weekday(pair[0]))));
    }
    for (field, minute) in [("order_by_minute", round.order_by_minute), ("here_minute", round.here_minute)] {
        if !(0..DAY_MINUTES).contains(&minute) {
            let last = DAY_MINUTES - 1;
            return Some((field, format!("{minute} is no minute of a day; give 0 for midnight to {last} for 23:59")));
        }
    }
    if !(0..=DAYS_LATER_MAX).contains(&round.days_later) {
        let why = format!("{} days do not fit; give 0 for the same day to {DAYS_LATER_MAX}", round.days_later);
        return Some(("days_later", why));
    }
    (round.days_later == 0 && round.here_minute <= round.order_by_minute).then(|| {
        let (here, by) = (clock(round.here_minute), clock(round.order_by_minute));
        ("here_minute", format!("{here} is not after the cut-off at {by} of the same day; give a later time, or on which later day it arrives"))
    })
}

/// Two rounds with one cut-off would leave open when it arrives.
fn fault_beside(round: &Round, others: &[Round]) -> Option<(&'static str, String)> {
    let same = others.iter().filter(|other| other.order_by_minute == round.order_by_minute);
    let day = same.flat_map(|other| &other.weekdays).find(|day| round.weekdays.contains(*day))?;
    let by = clock(round.order_by_minute);
    Some((
        "weekdays",
        format!("{} {by} is the cut-off of another round already; give each cut-off once", weekday(*day)),
    ))
}

fn weekday(day: i32) -> &'static str {
    usize::try_from(day - 1).ok().and_then(|at| WEEKDAYS.get(at)).copied().unwrap_or("this day")
}

fn clock(minute: i32) -> String {
    format!("{}:{:02}", minute / 60, minute % 60)
}
