//! Setting a fill aside for its job: one step says what goes in and takes it from stock, each litre once however often it is
//! asked. Which step that is and what it still needs is said in [`crate::fill`].

use super::cover::{Touched, cover, reduce, settle_blockers, shrink_shortage};
use super::expire::expire_item;
use super::{find, reserve, shelf};
use crate::answer::{FillAside, FillShare, Made, Notice};
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
use leadhand_facts::words::{FluidKind, ReservationChange};
use leadhand_facts::{Fact, ItemKey, JobNo, Mixture, PlaceKey, Quantity, StageKey, StepNo, Unit};
use std::collections::{BTreeMap, BTreeSet};

type Place = (StageKey, StepNo);

/// What the one step has to say and to take.
struct Wanted {
    fill: Fill,
    needs: Vec<Need>,
    cautions: Vec<Caution>,
}

/// From which items is poured, and how much of each.
type Poured = BTreeMap<ItemKey, (Quantity, Unit)>;

pub(super) fn set_aside(session: &mut Session, asked: &SetFillAside) -> Result<Made, Refusal> {
    form::text("recipe", &asked.recipe)?;
    if !(0..=FLUID_MAX_ML).contains(&asked.millilitres) {
        return Err(Refusal::invalid("millilitres", format!("it is not from 0 to {FLUID_MAX_ML} mL")));
    }
    look::open_job(session.state, session.context, asked.job)?;
    if let Some(stage) = &asked.stage {
        look::stage(session.state, asked.job, stage)?;
    }
    let unit = find::item(session.state, &asked.item)?.unit;
    let row = fluid(session.state, asked)?;
    let books = FillBooks::of(session.state, &row, &asked.item);
    refuse(session.state, asked, &books)?;
    let needed = needed(asked, &books, unit)?;
    let whole = whole_litres(asked, &books, (needed, unit));
    let filling = books.filling.cloned();
    let elsewhere: Vec<Place> = books.elsewhere.iter().map(|step| (step.stage.clone(), step.step)).collect();
    let wanted = wanted(session.state, asked, &books, (needed, unit), row.filled_ml);
    let more = Quantity((books.asked_elsewhere(&asked.item) - needed.0).max(0));
    let items: BTreeSet<ItemKey> = wanted.fill.reckoned.iter().flat_map(|own| own.from.clone()).collect();
    let (own, changed) = match filling {
        Some(step) => (Some((step.stage.clone(), step.step)), say_anew(session, &step, asked, wanted)?),
        // Other steps ask for all of it.
        None if wanted.needs.is_empty() => (None, false),
        None => (Some(add(session, asked, &row, wanted)?), true),
    };
    session.notices.extend(whole);
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

/// A fill whose step is done is over, and what is set aside at one strength, or of what nobody says what it is, is no part of
/// a fill with another.
fn refuse(state: &State, asked: &SetFillAside, books: &FillBooks<'_>) -> Result<(), Refusal> {
    if let Some(done) = books.done {
        let (stage, step, fluid) = (done.stage.clone(), done.step, asked.fluid.clone());
        return Err(Refusal::FillDone { stage, step, fluid });
    }
    let before = books.filling.and_then(fill::reckoned).and_then(|earlier| earlier.mixture);
    let strength = |mixture: Option<Mixture>| mixture.map(|mixture| mixture.poured);
    if asked.millilitres == 0 || books.kept.is_empty() {
        return Ok(());
    }
    let kept = told(books.kept.iter().map(|(item, quantity, unit)| (item, (*quantity, *unit))));
    let mut both = std::iter::once(&asked.item).chain(books.kept.iter().map(|(item, ..)| item));
    if let Some(unsaid) = both.find(|item| fill::kind_of(state, item).is_none()) {
        return Err(Refusal::FillUnsaid { kept, item: asked.item.clone(), unsaid: unsaid.clone() });
    }
    if strength(before) == strength(asked.mixture) {
        return Ok(());
    }
    let at = |mixture| match strength(mixture) {
        Some(strength) => format!("at {strength} %"),
        None => "at a strength that was not kept".to_owned(),
    };
    let (item, before, now) = (asked.item.clone(), at(before), at(asked.mixture));
    Err(Refusal::FillStrength { kept, before, item, now })
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
        let kept = if unit == Unit::Piece { "pieces" } else { unit.code() };
        let why = format!("'{}' is kept in {kept} and not by volume; name another item", asked.item);
        Refusal::invalid("item", why)
    })
}

/// Says so where more is set aside than goes in, because the item is kept in whole litres: of packs it is said with them.
fn whole_litres(asked: &SetFillAside, books: &FillBooks<'_>, item: (Quantity, Unit)) -> Option<Notice> {
    let (litres, unit) = item;
    let millilitres = (asked.millilitres - books.kept_ml()).max(0);
    let rounded = unit == Unit::Litre && asked.drawn_ml.is_none() && fill::millilitres(litres, unit) > millilitres;
    rounded.then(|| Notice::WholeLitres { item: asked.item.clone(), millilitres, litres })
}

/// How much of which items the filling is poured from.
fn poured_from(state: &State, asked: &SetFillAside, books: &FillBooks<'_>, item: (Quantity, Unit)) -> Poured {
    let (needed, unit) = item;
    let earlier = books.filling.and_then(fill::reckoned);
    let mut poured: Poured = books.kept.iter().map(|(item, amount, unit)| (item.clone(), (*amount, *unit))).collect();
    if asked.millilitres == 0 {
        let before = books.filling.into_iter().flat_map(|step| &step.needs);
        poured = before.filter(|need| is_poured(state, asked, earlier, need)).filter_map(drawn(state, books)).collect();
    } else if needed.is_positive() {
        poured.insert(asked.item.clone(), (needed, unit));
    }
    poured
}

fn wanted(
    state: &State,
    asked: &SetFillAside,
    books: &FillBooks<'_>,
    item: (Quantity, Unit),
    filled_ml: i64,
) -> Wanted {
    let elsewhere = books.asked_elsewhere(&asked.item);
    let before = books.filling.map(|step| step.needs.clone()).unwrap_or_default();
    let earlier = books.filling.and_then(fill::reckoned);
    let poured = poured_from(state, asked, books, item);
    // Of what is not poured in, such as a filter, the step takes what it took.
    let beside = |need: &&Need| !is_poured(state, asked, earlier, need) && !is_water(state, asked, need);
    let mut needs: Vec<Need> = before.iter().filter(beside).cloned().collect();
    let own = |(item, (quantity, unit)): (&ItemKey, &(Quantity, Unit))| {
        let elsewhere = if *item == asked.item && asked.millilitres > 0 { elsewhere } else { 0 };
        let quantity = Quantity(quantity.0 - elsewhere);
        quantity.is_positive().then(|| Need { item: item.clone(), quantity, unit: *unit })
    };
    needs.extend(poured.iter().filter_map(own));
    let instead = earlier.map_or_else(|| before.clone(), |earlier| earlier.instead.clone());
    needs.extend(water(state, asked, books, before.iter().chain(&instead)));
    let mut own_cautions = own_cautions(asked, books, earlier);
    let never_drawn = never_drawn(state, books, filled_ml);
    let reckoned = if let Some(earlier) = earlier.filter(|_| asked.millilitres == 0 && !poured.is_empty()) {
        // All that is in was drawn: what was reckoned for it holds.
        let from = poured.into_keys().collect();
        own_cautions.extend(earlier.gainsaid.iter().map(|one| one.caution.clone()));
        ReckonedFill { from, cautions: own_cautions.clone(), poured: never_drawn, ..earlier.clone() }
    } else {
        let others = if elsewhere > 0 { ", with what other steps take of it" } else { "" };
        let from = told(poured.iter().map(|(item, amount)| (item, *amount)));
        let from = if from.is_empty() { from } else { format!(", from {from}{others}") };
        let recipe = format!("{}{from}", asked.recipe);
        let (from, cautions) = (poured.into_keys().collect(), own_cautions.clone());
        let (mixture, poured) = (asked.mixture, never_drawn);
        let pours_ml = asked.millilitres.saturating_add(mixture.map_or(0, |mixture| mixture.water_ml));
        let (says, gainsaid) = (fill::said_by(state, &asked.item), Vec::new());
        let now =
            ReckonedFill { recipe, from, mixture, instead, cautions, poured, filled_ml, pours_ml, says, gainsaid };
        // The same reckoning again is no second one: what it found to be in stays what it was.
        earlier.filter(|earlier| is_same(earlier, &now)).cloned().unwrap_or(now)
    };
    let mut cautions = lasting_cautions(books, earlier);
    cautions.extend(own_cautions);
    cautions.sort_by_key(|caution| caution.word);
    Wanted { fill: Fill { fluid: asked.fluid.clone(), reckoned: Some(reckoned) }, needs, cautions }
}

/// What the step is to mind whatever is reckoned for it.
fn lasting_cautions(books: &FillBooks<'_>, earlier: Option<&ReckonedFill>) -> Vec<Caution> {
    let all = books.filling.map(|step| step.cautions.clone()).unwrap_or_default();
    all.into_iter().filter(|caution| earlier.is_none_or(|earlier| !earlier.cautions.contains(caution))).collect()
}

/// What this reckoning adds to that.
fn own_cautions(asked: &SetFillAside, books: &FillBooks<'_>, earlier: Option<&ReckonedFill>) -> Vec<Caution> {
    let lasting = lasting_cautions(books, earlier);
    asked.cautions.iter().filter(|caution| !lasting.contains(caution)).cloned().collect()
}

/// Whether two reckonings say the same, whatever was in the system at each, and however much the item said of itself: what does
/// not agree with the earlier one is kept there.
fn is_same(earlier: &ReckonedFill, now: &ReckonedFill) -> bool {
    let (poured, filled_ml, says) = (earlier.poured.clone(), earlier.filled_ml, earlier.says);
    *earlier == ReckonedFill { poured, filled_ml, says, ..now.clone() }
}

/// What went in since the earlier reckoning and was not drawn for it, with what that one says of those before.
fn never_drawn(state: &State, books: &FillBooks<'_>, filled_ml: i64) -> Vec<Need> {
    let Some((step, earlier)) = books.filling.and_then(|step| Some((step, fill::reckoned(step)?))) else {
        return Vec::new();
    };
    let mut all = earlier.poured.clone();
    let mut in_since = (filled_ml - earlier.filled_ml).max(0);
    for need in step.needs.iter().filter(|need| earlier.from.contains(&need.item)) {
        // What was drawn is in first.
        in_since -= fill::millilitres(issued(state, step, &need.item), need.unit);
        let left = Quantity(need.quantity.0 - issued(state, step, &need.item).0);
        let Some(went) = in_unit(in_since.max(0), need.unit) else { continue };
        let quantity = left.min(went);
        if quantity.is_positive() {
            in_since -= fill::millilitres(quantity, need.unit);
            all.push(Need { quantity, ..need.clone() });
        }
    }
    all
}

/// How much of which item, in words.
fn told<'a>(amounts: impl Iterator<Item = (&'a ItemKey, (Quantity, Unit))>) -> String {
    let told = amounts.map(|(item, (quantity, unit))| format!("{} of {item}", amount(quantity, Some(unit))));
    told.collect::<Vec<_>>().join(" and ")
}

/// Whether a step's need is of what is poured in: of the item itself, of one that it was poured from before, or of another
/// that says to be the same fluid, as a template lists one.
fn is_poured(state: &State, asked: &SetFillAside, earlier: Option<&ReckonedFill>, need: &Need) -> bool {
    let own = fill::kind_of(state, &asked.item);
    need.item == asked.item
        || earlier.is_some_and(|earlier| earlier.from.contains(&need.item))
        || own.is_some() && own == fill::kind_of(state, &need.item)
}

/// Whether a step's need is of the water that a mixture takes.
fn is_water(state: &State, asked: &SetFillAside, need: &Need) -> bool {
    asked.mixture.is_some() && fill::kind_of(state, &need.item) == Some(FluidKind::Water)
}

/// What was drawn of a need of the filling.
fn drawn<'a>(state: &'a State, books: &'a FillBooks<'_>) -> impl Fn(&Need) -> Option<(ItemKey, (Quantity, Unit))> + 'a {
    move |need| {
        let issued = issued(state, books.filling?, &need.item);
        issued.is_positive().then(|| (need.item.clone(), (issued, need.unit)))
    }
}

fn issued(state: &State, step: &StepRow, item: &ItemKey) -> Quantity {
    let wanter = Wanter { job: step.job, stage: step.stage.clone(), step: step.step };
    shelf::demand(state, &wanter, item).map_or(Quantity::ZERO, |demand| demand.issued)
}

/// The water that goes in, where the step takes any from stock or did before anything was reckoned, and never less than was
/// drawn of it.
fn water<'a>(
    state: &State,
    asked: &SetFillAside,
    books: &FillBooks<'_>,
    mut listed: impl Iterator<Item = &'a Need>,
) -> Option<Need> {
    let mixture = asked.mixture?;
    let need = listed.find(|need| is_water(state, asked, need) && need.item != asked.item)?;
    let drawn = books.filling.map_or(Quantity::ZERO, |step| issued(state, step, &need.item));
    let quantity = in_unit(mixture.water_ml, need.unit).unwrap_or(need.quantity).max(drawn);
    quantity.is_positive().then(|| Need { quantity, ..need.clone() })
}

/// Lets the step say and take this, where that is something else; what was drawn for it is not taken back by a word.
fn say_anew(session: &mut Session, step: &StepRow, asked: &SetFillAside, wanted: Wanted) -> Result<bool, Refusal> {
    let Wanted { fill, needs, cautions } = wanted;
    if step.safety.fill.as_ref() == Some(&fill) && same(&step.needs, &needs) {
        return Ok(false);
    }
    let (state, earlier) = (&*session.state, fill::reckoned(step));
    let drawn = |need: &&Need| {
        is_poured(state, asked, earlier, need) && issued(state, step, &need.item).is_positive() && asked.millilitres > 0
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
    let end = if asked.mixture.is_some() { "run it warm, and measure" } else { "go by the level" };
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
