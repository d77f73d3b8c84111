//! Setting a fill aside for its job: one step says what goes in and takes it from stock, each litre once however often it is
//! asked. Which step that is and what it still needs is said in [`crate::fill`].

use super::cover::{Touched, cover, reduce, settle_blockers, shrink_shortage};
use super::expire::expire_item;
use super::{find, reserve, shelf};
use crate::answer::{FillAside, FillShare, Made};
use crate::check as form;
use crate::command::SetFillAside;
use crate::decide::{flow, steps};
use crate::fill::{self, FillBooks, asked, in_unit};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::telling::amount;
use crate::template::FLUID_MAX_ML;
use leadhand_facts::fact::{JobStep, Wanter, Wording};
use leadhand_facts::rows::{FluidRow, ReservationRow, Row, StepRow};
use leadhand_facts::safety::{Fill, ReckonedFill, StepSafety};
use leadhand_facts::template::{Caution, Need};
use leadhand_facts::words::ReservationChange;
use leadhand_facts::{Fact, ItemKey, JobNo, PlaceKey, Quantity, StageKey, StepNo, Unit};
use std::collections::{BTreeMap, BTreeSet};

type Place = (StageKey, StepNo);

/// What the one step has to say and to take.
struct Wanted {
    fill: Fill,
    needs: Vec<Need>,
    cautions: Vec<Caution>,
}

pub(super) fn set_aside(session: &mut Session, asked: &SetFillAside) -> Result<Made, Refusal> {
    form::text("recipe", &asked.recipe)?;
    if !(1..=FLUID_MAX_ML).contains(&asked.millilitres) {
        return Err(Refusal::invalid("millilitres", format!("it is not from 1 to {FLUID_MAX_ML} mL")));
    }
    look::open_job(session.state, session.context, asked.job)?;
    if let Some(stage) = &asked.stage {
        look::stage(session.state, asked.job, stage)?;
    }
    let unit = find::item(session.state, &asked.item)?.unit;
    let row = fluid(session.state, asked)?;
    let books = FillBooks::of(session.state, &row, &asked.item);
    let needed = needed(asked, &books, unit)?;
    let filling = books.filling.cloned();
    let elsewhere: Vec<Place> = books.elsewhere.iter().map(|step| (step.stage.clone(), step.step)).collect();
    let wanted = wanted(asked, &books, (needed, unit));
    let more = Quantity((books.asked_elsewhere(&asked.item) - needed.0).max(0));
    let items: BTreeSet<ItemKey> = wanted.fill.reckoned.iter().flat_map(|own| own.from.clone()).collect();
    let (own, changed) = match filling {
        Some(step) => (Some((step.stage.clone(), step.step)), say_anew(session, &step, &asked.item, wanted)?),
        // Other steps ask for all of it.
        None if wanted.needs.is_empty() => (None, false),
        None => (Some(add(session, asked, &row, wanted)?), true),
    };
    for (stage, step) in own.iter().chain(&elsewhere) {
        settle(session, asked.job, stage, *step)?;
    }
    flow::settle_blockers(session, asked.job)?;
    let places: Vec<Place> = own.iter().chain(&elsewhere).cloned().collect();
    let shares = shares(session.state, asked.job, &places, &items);
    let elsewhere = i32::try_from(elsewhere.len()).unwrap_or(i32::MAX);
    let (stage, step) = own.unzip();
    Ok(Made::Fill(FillAside { stage, step, changed, shares, elsewhere, more, item: asked.item.clone(), unit }))
}

fn fluid(state: &State, asked: &SetFillAside) -> Result<FluidRow, Refusal> {
    fill::fluid(state, asked.job, &asked.fluid).cloned().ok_or_else(|| Refusal::Unknown {
        what: "fluid",
        which: format!("{}' of job '{}", asked.fluid, asked.job),
        todo: "`leadhand job show` lists them",
    })
}

/// How much of the item is needed in all, beside what other items have for it.
fn needed(asked: &SetFillAside, books: &FillBooks<'_>, unit: Unit) -> Result<Quantity, Refusal> {
    let rest = (asked.millilitres - books.kept_ml()).max(0);
    if asked.drawn_ml.is_some_and(|drawn| drawn < rest) {
        let why = "more has to come from them than when they were chosen; ask again";
        return Err(Refusal::invalid("packs", why));
    }
    let drawn = asked.drawn_ml.filter(|_| rest > 0).unwrap_or(rest);
    in_unit(drawn, unit).ok_or_else(|| {
        let why = format!("'{}' is kept in '{}' and not by volume; name another item", asked.item, unit.code());
        Refusal::invalid("item", why)
    })
}

fn wanted(asked: &SetFillAside, books: &FillBooks<'_>, item: (Quantity, Unit)) -> Wanted {
    let (needed, unit) = item;
    let elsewhere = books.asked_elsewhere(&asked.item);
    let mut poured: BTreeMap<&ItemKey, (Quantity, Unit)> =
        books.kept.iter().map(|(item, quantity, unit)| (item, (*quantity, *unit))).collect();
    if needed.is_positive() {
        poured.insert(&asked.item, (needed, unit));
    }
    let told = |(item, (quantity, unit)): (&&ItemKey, &(Quantity, Unit))| {
        format!("{} of {item}", amount(*quantity, Some(*unit)))
    };
    let told: Vec<String> = poured.iter().map(told).collect();
    let others = if elsewhere > 0 { ", with what other steps take of it" } else { "" };
    let recipe = format!("{}, from {}{others}", asked.recipe, told.join(" and "));
    let from: Vec<ItemKey> = poured.keys().map(|item| (*item).clone()).collect();
    let before = books.filling.map(|step| step.needs.clone()).unwrap_or_default();
    let earlier = books.filling.and_then(fill::reckoned);
    // Of what is not poured in, such as a filter, the step takes what it took.
    let of_fill =
        |need: &Need| need.item == asked.item || earlier.is_some_and(|earlier| earlier.from.contains(&need.item));
    let mut needs: Vec<Need> = before.iter().filter(|need| !of_fill(need)).cloned().collect();
    let own = |(item, (quantity, unit)): (&ItemKey, (Quantity, Unit))| {
        let elsewhere = if *item == asked.item { elsewhere } else { 0 };
        let quantity = Quantity(quantity.0 - elsewhere);
        quantity.is_positive().then(|| Need { item: item.clone(), quantity, unit })
    };
    needs.extend(poured.into_iter().filter_map(own));
    let instead = earlier.map_or(before, |earlier| earlier.instead.clone());
    let reckoned = Some(ReckonedFill { recipe, from, instead });
    let mut cautions = books.filling.map(|step| step.cautions.clone()).unwrap_or_default();
    cautions.extend(asked.cautions.iter().filter(|caution| !cautions.contains(caution)).cloned().collect::<Vec<_>>());
    cautions.sort_by_key(|caution| caution.word);
    Wanted { fill: Fill { fluid: asked.fluid.clone(), reckoned }, needs, cautions }
}

/// Lets the step say and take this, where that is something else; what was drawn for it is not taken back by a word.
fn say_anew(session: &mut Session, step: &StepRow, item: &ItemKey, wanted: Wanted) -> Result<bool, Refusal> {
    let Wanted { fill, needs, cautions } = wanted;
    if step.safety.fill.as_ref() == Some(&fill) && same(&step.needs, &needs) {
        return Ok(false);
    }
    let from = fill::reckoned(step).map(|reckoned| reckoned.from.clone()).unwrap_or_default();
    let drawn = |need: &&Need| {
        let wanter = Wanter { job: step.job, stage: step.stage.clone(), step: step.step };
        let own = need.item == *item || from.contains(&need.item);
        own && shelf::demand(session.state, &wanter, &need.item).is_some_and(|demand| demand.issued.is_positive())
    };
    if let Some(need) = step.needs.iter().find(drawn) {
        let (stage, step, item) = (step.stage.clone(), step.step, need.item.clone());
        return Err(Refusal::FillDrawn { stage, step, item });
    }
    let (job, stage, step) = (step.job, step.stage.clone(), step.step);
    session.emit(Fact::FillReckoned { job, stage, step, fill, needs, cautions })?;
    Ok(true)
}

fn same(one: &[Need], other: &[Need]) -> bool {
    let sorted = |needs: &[Need]| needs.iter().cloned().collect::<BTreeSet<_>>();
    sorted(one) == sorted(other)
}

/// A step of its own, where none of the job fills the fluid.
fn add(session: &mut Session, asked: &SetFillAside, row: &FluidRow, wanted: Wanted) -> Result<Place, Refusal> {
    let Some(stage) = asked.stage.clone().or_else(|| row.back.clone()) else {
        let why = format!("no step of the job fills '{}', and it goes back in no stage; name one", row.fluid);
        return Err(Refusal::invalid("stage", why));
    };
    let stage = steps::open_stage(session, asked.job, &stage)?;
    let step = steps::next_number(&stage)?;
    let what = row.what.clone().unwrap_or_else(|| row.fluid.to_string());
    let end = if asked.mixed { "run it warm, and measure" } else { "go by the level" };
    let instruction = Wording::Template(format!("Fill in again: {what}; {end}."));
    let Wanted { fill, needs, cautions } = wanted;
    let safety = StepSafety { fill: Some(fill), ..StepSafety::default() };
    let step = JobStep { needs, cautions, safety, unplanned: true, ..JobStep::plain(step, instruction) };
    let place = (stage.stage.clone(), step.step);
    session.emit(Fact::StepAdded { job: asked.job, stage: stage.stage, step })?;
    Ok(place)
}

/// Lets the stock book follow what a step takes: what is too much is free for whoever is short of it, what is missing is set
/// aside or short.
fn settle(session: &mut Session, job: JobNo, stage: &StageKey, step: StepNo) -> Result<(), Refusal> {
    let row = look::step(session.state, job, stage, step)?.clone();
    let wanter = Wanter { job, stage: stage.clone(), step };
    let listed = shelf::demands(session.state, job).filter(|demand| (&demand.stage, demand.step) == (stage, step));
    let listed: Vec<(ItemKey, Quantity)> = listed.map(|demand| (demand.item.clone(), demand.wanted)).collect();
    let mut touched = Touched::new();
    for (item, before) in listed {
        expire_item(session, &item, &mut touched)?;
        let now = Quantity(asked(&row, &item));
        if now < before {
            shrink(session, &wanter, &item, now, &mut touched)?;
        }
    }
    settle_blockers(session, &touched)?;
    reserve::want(session, job, stage, step)
}

fn shrink(
    session: &mut Session,
    wanter: &Wanter,
    item: &ItemKey,
    now: Quantity,
    touched: &mut Touched,
) -> Result<(), Refusal> {
    let Some(demand) = shelf::demand(session.state, wanter, item) else { return Ok(()) };
    let mut over = demand.reserved.0 + demand.short.0 + demand.issued.0 - now.0;
    if let Some(row) = shelf::shortage_of(session.state, wanter, item).cloned() {
        let by = Quantity(row.quantity.0.min(over));
        if by.is_positive() {
            shrink_shortage(session, &row, by, touched)?;
            over -= by.0;
        }
    }
    let held = shelf::reservations(session.state, item).filter(|row| shelf::wanter_of(row) == *wanter);
    let held: Vec<ReservationRow> = held.cloned().collect();
    for row in held {
        let by = Quantity(row.quantity.0.min(over));
        if by.is_positive() {
            reduce(session, &row, by, ReservationChange::Released)?;
            over -= by.0;
        }
    }
    let wanted = now.max(demand.issued);
    session.emit(Fact::DemandSet { wanter: wanter.clone(), item: item.clone(), wanted })?;
    cover(session, item, touched)
}

/// What each step takes of what is poured in, and from which bins that comes.
fn shares(state: &State, job: JobNo, places: &[Place], items: &BTreeSet<ItemKey>) -> Vec<FillShare> {
    let steps = places.iter().filter_map(|(stage, step)| look::step(state, job, stage, *step).ok());
    let all = steps.flat_map(|step| items.iter().map(move |item| (step, item)));
    all.filter_map(|(step, item)| share(state, step, item)).collect()
}

fn share(state: &State, step: &StepRow, item: &ItemKey) -> Option<FillShare> {
    let need = step.needs.iter().find(|need| need.item == *item)?;
    let (_, stage, number) = step.key();
    let wanter = Wanter { job: step.job, stage: stage.clone(), step: number };
    let demand = shelf::demand(state, &wanter, item);
    let figure = |of: fn(&leadhand_facts::rows::DemandRow) -> Quantity| demand.as_ref().map_or(Quantity::ZERO, of);
    let own = shelf::reservations(state, item).filter(|row| shelf::wanter_of(row) == wanter);
    let mut bins: Vec<(PlaceKey, Quantity)> =
        own.filter(|row| row.quantity.is_positive()).map(|row| (row.place.clone(), row.quantity)).collect();
    bins.sort();
    Some(FillShare {
        stage,
        step: number,
        item: item.clone(),
        unit: need.unit,
        wanted: need.quantity,
        reserved: figure(|demand| demand.reserved),
        issued: figure(|demand| demand.issued),
        short: figure(|demand| demand.short),
        bins,
    })
}
