//! Setting a fill aside for its job. One step of the job says what goes in; asked again it says the same, and asked with
//! another target, other packs or another item it is left out and a new one says it, so that no litre is booked twice.

use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::out;
use crate::quantity;
use leadhand_sdk::new_write;
use leadhand_sdk::v1::{
    AddStepRequest, Caution, GetJobRequest, GetJobResponse, Need, PackSize, ReckonPacksRequest, ReserveStockRequest,
    ReserveStockResponse, SkipStepRequest, Stage, StageState, Step, StepNeed, StepState, StockLine, WriteContext,
};
use std::collections::{BTreeMap, BTreeSet};

/// A fill of a fluid of a job, out of an item.
pub struct Filling {
    pub job: i64,
    pub stage: String,
    pub fluid: String,
    /// What goes in, in words.
    pub recipe: String,
    /// How much of it has to be there.
    pub litres: f64,
    /// Whether water goes with it.
    pub mixed: bool,
    pub item: String,
    /// The item's unit, which is one of volume.
    pub unit: String,
    pub packs: Vec<PackSize>,
    pub cautions: Vec<Caution>,
}

/// What the job's books say of it already.
struct Books {
    /// Steps that were written here: what goes in, by their words.
    own: Vec<Booked>,
    /// Other steps that ask for the item.
    others: Vec<Booked>,
}

/// A step that is still to be done, and what of it counts here.
#[derive(Debug, Clone, PartialEq)]
struct Booked {
    stage: String,
    step: i32,
    instruction: String,
    needs: Vec<StepNeed>,
}

/// What the one step has to say and to ask for.
#[derive(Debug, PartialEq)]
struct Wanted {
    instruction: String,
    needs: Vec<Need>,
}

/// Makes the job's books say so, and reserves all of it.
pub async fn set_aside(app: &App, filling: &Filling) -> Outcome {
    let (job, item) = (filling.job, &filling.item);
    let whole = app.client.get_job(GetJobRequest { job }).await?;
    if !whole.stages.iter().any(|one| one.stage == filling.stage) {
        return Err(Failure::Missing(format!(
            "job {job} has no stage '{}'; 'leadhand job show {job}' lists them",
            filling.stage
        )));
    }
    let books = Books::of(&whole, filling);
    for one in &books.others {
        out::note(&one.told(job, item, &filling.unit));
    }
    let elsewhere = books.kept_of_others(item);
    let rest = (whole_millilitres(filling.litres)? - elsewhere.values().map(|(ml, _)| ml).sum::<i64>()).max(0);
    let (needed, packs) = drawn(app, rest, filling).await?;
    let wanted = filling.wanted(&books, &elsewhere, needed);
    let touched = write(app, filling, &books, &wanted).await?;
    let asked: i64 = books.others.iter().map(|one| one.quantity(item)).sum();
    if asked > needed {
        let more = quantity::show(asked - needed, &filling.unit);
        out::note(&format!(
            "that is {more} more than is needed now, and such a step says its own filling: read it, and have a lead decide which holds before one is left out ('leadhand step skip')"
        ));
    }
    if let Some(packs) = packs {
        out::note(&format!("in whole packs that is {packs}; the stock book counts litres and no packs"));
    }
    if rest == 0 {
        let kept = elsewhere.iter().map(|(item, (_, need))| format!("{} of {item}", shown(need)));
        let kept = kept.collect::<Vec<_>>().join(" and ");
        out::note(&format!("{kept} are set aside for it already, so nothing of {item} is"));
    }
    let items: BTreeSet<&str> = wanted.needs.iter().map(|need| need.item.as_str()).chain([item.as_str()]).collect();
    reserve(app, job, &items, touched).await
}

/// Replaces what the steps of this fill say where that is something else; gives the stages that ask for any of it.
async fn write(app: &App, filling: &Filling, books: &Books, wanted: &Wanted) -> Outcome<Vec<String>> {
    let mut stages: Vec<String> = books.others.iter().map(|one| one.stage.clone()).collect();
    if let [one] = books.own.as_slice()
        && one.says(wanted)
    {
        stages.push(one.stage.clone());
        return Ok(stages);
    }
    if let Some(drawn) = books.own.iter().find(|one| one.needs.iter().any(|need| need.issued > 0)) {
        let problem = format!(
            "step {} of {} says \"{}\", and some of that was drawn from stock already",
            drawn.step, drawn.stage, drawn.instruction
        );
        let todo = "bring it back with 'leadhand stock return', or do that step and ask again";
        return Err(Failure::Usage(format!("{problem}, so it is not changed; {todo}")));
    }
    let (job, stage) = (filling.job, filling.stage.clone());
    let mut now = "nothing is booked in its place".to_owned();
    // The new step is there before the old one is gone, so that what becomes free goes to it.
    if !wanted.needs.is_empty() {
        let request = AddStepRequest {
            write: app.write().await?,
            job,
            stage: stage.clone(),
            instruction: wanted.instruction.clone(),
            needs: wanted.needs.clone(),
            cautions: filling.cautions.clone(),
            ..Default::default()
        };
        let step = app.client.add_step(request).await?.step;
        now = format!("step {step} of {stage} says it now");
        stages.push(stage);
    }
    for old in &books.own {
        let write = app.write().await?.map(|write| WriteContext { request_id: new_write().request_id, ..write });
        let reason = format!("reckoned anew: {}", filling.recipe);
        let (stage, step) = (old.stage.clone(), old.step);
        app.client.skip_step(SkipStepRequest { write, job, stage, step, reason }).await?;
        let Booked { stage, step, instruction, .. } = old;
        out::note(&format!("step {step} of {stage} is left out, since it said \"{instruction}\"; {now}"));
    }
    Ok(stages)
}

/// Reserves what these stages ask for, and says of these items which step has how much and from which bin.
async fn reserve(app: &App, job: i64, items: &BTreeSet<&str>, stages: Vec<String>) -> Outcome {
    let (mut seen, mut lines, mut last) = (BTreeSet::new(), Vec::new(), None);
    // Reserving twice what a job needs reserves it once, so a repeat needs no id of its own.
    for stage in stages.into_iter().filter(|stage| seen.insert(stage.clone())) {
        let answer = app.client.reserve_stock(ReserveStockRequest { job, stage, ..Default::default() }).await?;
        lines.extend(answer.lines.iter().cloned());
        last = Some(answer);
    }
    let answer: ReserveStockResponse = last.unwrap_or_default();
    let whole = app.client.get_job(GetJobRequest { job }).await?;
    let steps: Vec<Booked> = ahead(&whole).collect();
    let told: Vec<String> = items.iter().filter_map(|item| secured(&steps, item, &lines, job)).collect();
    app.done(&answer, answer.receipt.as_ref(), None, &told.join("; "))
}

/// How much of an item the steps of a job ask for and have; nothing where none asks for it.
fn secured(steps: &[Booked], item: &str, lines: &[StockLine], job: i64) -> Option<String> {
    let asking: Vec<&Booked> = steps.iter().filter(|one| one.quantity(item) > 0).collect();
    let unit = asking.iter().find_map(|one| one.of(item).next()).map(|need| need.unit.clone())?;
    let own = || lines.iter().filter(move |line| line.item == item);
    let short: i64 = own().map(|line| line.short).sum();
    let said = if short > 0 {
        format!("are needed, and {} are SHORT,", quantity::show(short, &unit))
    } else {
        "are set aside".to_owned()
    };
    let amount = quantity::show(asking.iter().map(|one| one.quantity(item)).sum(), &unit);
    let steps = asking.iter().map(|one| one.share(item, &unit)).collect::<Vec<_>>().join(", ");
    Some(format!("{amount} of {item} {said} for job {job}: {steps}{}", bins(own(), &unit)))
}

/// From which bins it comes, of what was set aside just now.
fn bins<'a>(lines: impl Iterator<Item = &'a StockLine>, unit: &str) -> String {
    let mut from: BTreeMap<&str, i64> = BTreeMap::new();
    for line in lines.filter(|line| line.quantity > 0 && !line.place.is_empty()) {
        *from.entry(&line.place).or_default() += line.quantity;
    }
    let from: Vec<String> =
        from.into_iter().map(|(bin, quantity)| format!("{} from {bin}", quantity::show(quantity, unit))).collect();
    if from.is_empty() { String::new() } else { format!(" ({})", from.join(", ")) }
}

/// How much is drawn for so many millilitres, in the item's unit, and in which packs.
async fn drawn(app: &App, millilitres: i64, filling: &Filling) -> Outcome<(i64, Option<String>)> {
    let exact = || in_unit(millilitres, &filling.unit).ok_or_else(|| by_no_volume(filling));
    if filling.packs.is_empty() || millilitres == 0 {
        return Ok((exact()?, None));
    }
    let request = ReckonPacksRequest { needed: format!("{millilitres} mL"), packs: filling.packs.clone() };
    let answer = app.client.reckon_packs(request).await?.answer.unwrap_or_default();
    let drawn = answer.figures.iter().find(|figure| figure.name == "drawn").map_or(0.0, |figure| figure.value);
    let packs = answer.lists.iter().find(|list| list.name == "packs").map(|list| list.entries.join(", "));
    let drawn = in_unit(whole_millilitres(drawn)?, &filling.unit).ok_or_else(|| by_no_volume(filling))?;
    Ok((drawn, packs))
}

fn by_no_volume(filling: &Filling) -> Failure {
    Failure::Usage(format!("{} is kept in '{}' and not by volume; name another item", filling.item, filling.unit))
}

/// Never less than what was reckoned.
fn whole_millilitres(litres: f64) -> Outcome<i64> {
    let millilitres = (litres * 1e3 - 1e-6).ceil().max(1.0);
    let wrong = |_| Failure::Defect(format!("{litres} L are no amount that stock is kept in"));
    format!("{millilitres:.0}").parse().map_err(wrong)
}

/// In the unit in which an item is kept, rounded up.
fn in_unit(millilitres: i64, unit: &str) -> Option<i64> {
    match unit {
        "mL" => Some(millilitres),
        "L" => Some((millilitres + 999) / 1000),
        _ => None,
    }
}

/// Of an item that is kept by volume.
fn millilitres(quantity: i64, unit: &str) -> i64 {
    if unit == "L" { quantity.saturating_mul(1000) } else { quantity }
}

fn shown(need: &Need) -> String {
    quantity::show(need.quantity, &need.unit)
}

/// How a step begins that says what goes in of a fluid, by which it is known again.
fn head(fluid: &str) -> String {
    format!("Fill {fluid} again: ")
}

/// What the steps of a job that are still to be done say and ask for, whatever their stage.
fn ahead(whole: &GetJobResponse) -> impl Iterator<Item = Booked> {
    let left = |stage: &&Stage| ![StageState::Finished, StageState::Skipped].contains(&stage.state());
    whole.stages.iter().filter(left).flat_map(|stage| {
        let pending = stage.steps.iter().filter(|step| step.state() == StepState::Pending);
        pending.map(move |step: &Step| Booked {
            stage: stage.stage.clone(),
            step: step.step,
            instruction: step.instruction.clone(),
            needs: step.needs.clone(),
        })
    })
}

impl Books {
    fn of(whole: &GetJobResponse, filling: &Filling) -> Self {
        let begins = head(&filling.fluid);
        let (own, others): (Vec<_>, Vec<_>) = ahead(whole).partition(|one| one.instruction.starts_with(&begins));
        // The filling of another fluid out of the same item is its own.
        let of_another = |one: &Booked| one.instruction.starts_with("Fill ") && one.instruction.contains(" again: ");
        let others = others.into_iter().filter(|one| one.quantity(&filling.item) > 0 && !of_another(one));
        Self { own, others: others.collect() }
    }

    /// What this fill has set aside of other items, by item: millilitres, and the need that goes on.
    fn kept_of_others(&self, item: &str) -> BTreeMap<String, (i64, Need)> {
        let mut kept: BTreeMap<String, (i64, Need)> = BTreeMap::new();
        let needs = self.own.iter().flat_map(|one| &one.needs);
        for need in needs.filter(|need| need.item != item && need.reserved + need.issued > 0) {
            let secured = need.reserved + need.issued;
            let one = kept
                .entry(need.item.clone())
                .or_insert_with(|| (0, Need { item: need.item.clone(), quantity: 0, unit: need.unit.clone() }));
            one.0 += millilitres(secured, &need.unit);
            one.1.quantity += secured;
        }
        kept
    }
}

impl Filling {
    fn wanted(&self, books: &Books, kept: &BTreeMap<String, (i64, Need)>, needed: i64) -> Wanted {
        let asked: i64 = books.others.iter().map(|one| one.quantity(&self.item)).sum();
        let mut needs: BTreeMap<&str, Need> =
            kept.iter().map(|(item, (_, need))| (item.as_str(), need.clone())).collect();
        let mut from: BTreeMap<&str, String> = needs.iter().map(|(item, need)| (*item, shown(need))).collect();
        if needed > 0 {
            from.insert(&self.item, quantity::show(needed, &self.unit));
        }
        if needed > asked {
            let (item, unit) = (self.item.clone(), self.unit.clone());
            needs.insert(&self.item, Need { item, quantity: needed - asked, unit });
        }
        let from: Vec<String> = from.into_iter().map(|(item, amount)| format!("{amount} of {item}")).collect();
        let others = if asked > 0 { ", with what other steps ask for" } else { "" };
        let end = if self.mixed { "run it warm, and measure" } else { "go by the level" };
        let (head, recipe, from) = (head(&self.fluid), &self.recipe, from.join(" and "));
        let instruction = format!("{head}{recipe}, from {from}{others}; {end}.");
        Wanted { instruction, needs: needs.into_values().collect() }
    }
}

impl Booked {
    fn of<'a>(&'a self, item: &'a str) -> impl Iterator<Item = &'a StepNeed> {
        self.needs.iter().filter(move |need| need.item == item)
    }

    fn quantity(&self, item: &str) -> i64 {
        self.of(item).map(|need| need.quantity).sum()
    }

    /// Whether it says and asks for the same.
    fn says(&self, wanted: &Wanted) -> bool {
        let own: BTreeMap<&str, i64> = self.needs.iter().map(|need| (need.item.as_str(), need.quantity)).collect();
        let new: BTreeMap<&str, i64> = wanted.needs.iter().map(|need| (need.item.as_str(), need.quantity)).collect();
        own == new && self.instruction == wanted.instruction
    }

    fn share(&self, item: &str, unit: &str) -> String {
        format!("{} for step {} of {}", quantity::show(self.quantity(item), unit), self.step, self.stage)
    }

    fn told(&self, job: i64, item: &str, unit: &str) -> String {
        let secured = self.of(item).map(|need| need.reserved + need.issued).sum();
        let (quantity, secured) = (quantity::show(self.quantity(item), unit), quantity::show(secured, unit));
        let Self { stage, step, .. } = self;
        format!(
            "booked already: step {step} of {stage} of job {job} asks for {quantity} of {item}, {secured} of it set aside"
        )
    }
}

#[cfg(test)]
#[path = "set_aside_tests.rs"]
mod tests;
