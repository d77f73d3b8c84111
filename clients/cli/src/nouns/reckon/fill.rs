//! What to fill in again, and setting it aside for the job: each litre once, however often it is asked.

use super::job::told_of;
use super::{or_none, text};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::out;
use crate::quantity;
use clap::Args;
use leadhand_sdk::v1::{
    AddStepRequest, Answer, Caution, GetJobRequest, GetJobResponse, Need, PackSize, ReckonFillRequest,
    ReckonPacksRequest, ReserveStockRequest, Stage, StageState, StepState,
};
use std::collections::BTreeSet;

/// A fill after a drain.
#[derive(Debug, Args)]
pub struct Fill {
    /// What the system holds; what should come out of it by the job's book when left out
    #[arg(long, required_unless_present = "job", value_name = "VOLUME")]
    capacity: Option<String>,
    /// What the drain left behind, in block and heater; by the job what did not come out when left out
    #[arg(long, required_unless_present = "job", value_name = "VOLUME")]
    left: Option<String>,
    /// How strong that is, by volume; plain water when left out
    #[arg(long, value_name = "SHARE")]
    left_strength: Option<String>,
    /// A strength by volume such as 50%, or a freezing point such as -30C
    #[arg(long, value_name = "SHARE|TEMPERATURE", allow_hyphen_values = true)]
    target: String,
    /// So many degrees more to be safe, for a freezing point: 5K, or 5 for degrees Celsius
    #[arg(long, value_name = "DEGREES")]
    margin: Option<String>,
    /// How strong it is what is poured in; pure concentrate when left out
    #[arg(long, value_name = "SHARE")]
    poured: Option<String>,
    /// Take capacity and what is left from the drain that was recorded on this job
    #[arg(long)]
    job: Option<i64>,
    /// Which fluid of the job; the only one, or coolant, when left out
    #[arg(long, requires = "job", value_name = "KEY")]
    fluid: Option<String>,
    /// Set so much of this item aside for the job, as a step of the stage
    #[arg(long, requires_all = ["job", "stage"], value_name = "ITEM")]
    reserve: Option<String>,
    /// The stage whose step it is
    #[arg(long, requires = "reserve")]
    stage: Option<String>,
    /// A size in which it is drawn, perhaps with how many are there, such as 5L=2; once for each
    #[arg(long = "pack", requires = "reserve", value_parser = super::coolant::parse_pack, value_name = "VOLUME[=COUNT]")]
    packs: Vec<PackSize>,
}

/// What to fill in, and perhaps set aside at once.
pub async fn fill(app: &App, asked: Fill) -> Outcome {
    let request = ReckonFillRequest {
        capacity: or_none(asked.capacity),
        left: or_none(asked.left),
        left_strength: or_none(asked.left_strength),
        target: asked.target,
        margin: or_none(asked.margin),
        poured_strength: or_none(asked.poured),
        job: asked.job.unwrap_or_default(),
        fluid: or_none(asked.fluid),
    };
    let answer = app.client.reckon_fill(request).await?;
    let (Some(item), Some(job), Some(stage)) = (asked.reserve, asked.job, asked.stage) else {
        return if app.out.is_json() {
            out::json(&answer)
        } else {
            text::show(app, &answer.answer.unwrap_or_default())
        };
    };
    // Of an item that is not there, or is no fluid, nothing is worked out.
    let unit = by_volume(app, &item).await?;
    let found = answer.answer.unwrap_or_default();
    if !app.out.is_json() {
        text::show(app, &found)?;
    }
    if found.figures.iter().any(|figure| figure.name == "add" && figure.value <= 0.0) {
        out::note(&format!("nothing is to be added, so nothing of {item} is set aside"));
        return Ok(());
    }
    let (quantity, drawn) = drawn(app, &found, &unit, asked.packs).await?;
    let (add, water) = (told_of(&found, "add")?, told_of(&found, "water")?);
    let instruction = format!("Pour in {add} of {item} and {water} of water{drawn}; run it warm, and measure.");
    set_aside(app, job, stage, (instruction, found.cautions), Need { item, quantity, unit }).await
}

/// The unit in which an item is kept, where that is one of volume.
async fn by_volume(app: &App, item: &str) -> Outcome<String> {
    let unit = app.unit(item).await?;
    if in_unit(1, &unit).is_none() {
        let todo = "name the item of the fluid, or reserve it by a step of its own";
        return Err(Failure::Usage(format!("{item} is kept in '{unit}' and not by volume; {todo}")));
    }
    Ok(unit)
}

/// How much is drawn for what is to be poured in, in the item's unit, and in which packs.
async fn drawn(app: &App, found: &Answer, unit: &str, packs: Vec<PackSize>) -> Outcome<(i64, String)> {
    let add = found.figures.iter().find(|figure| figure.name == "add");
    let add = add.ok_or_else(|| Failure::Defect("the server's answer does not say how much to add".to_owned()))?;
    let (litres, told) = if packs.is_empty() {
        (add.value, String::new())
    } else {
        let request = ReckonPacksRequest { needed: format!("{} L", add.value), packs };
        let answer = app.client.reckon_packs(request).await?.answer.unwrap_or_default();
        let drawn = answer.figures.iter().find(|figure| figure.name == "drawn").map_or(0.0, |figure| figure.value);
        let packs = answer.lists.iter().find(|list| list.name == "packs").map(|list| list.entries.join(", "));
        (drawn, packs.map(|packs| format!(", drawn as {packs}")).unwrap_or_default())
    };
    let quantity = whole_millilitres(litres).and_then(|millilitres| in_unit(millilitres, unit));
    let quantity =
        quantity.ok_or_else(|| Failure::Defect(format!("{litres} L are no amount that stock is kept in")))?;
    Ok((quantity, told))
}

/// Never less than what was reckoned.
fn whole_millilitres(litres: f64) -> Option<i64> {
    let millilitres = (litres * 1e3 - 1e-6).ceil().max(1.0);
    format!("{millilitres:.0}").parse().ok()
}

/// In the unit in which an item is kept, rounded up.
fn in_unit(millilitres: i64, unit: &str) -> Option<i64> {
    match unit {
        "mL" => Some(millilitres),
        "L" => Some((millilitres + 999) / 1000),
        _ => None,
    }
}

/// A step of the stage that asks for what no step of the job asks for yet, and the reservation of all of it.
async fn set_aside(
    app: &App,
    job: i64,
    stage: String,
    (mut instruction, cautions): (String, Vec<Caution>),
    mut need: Need,
) -> Outcome {
    let whole = app.client.get_job(GetJobRequest { job }).await?;
    if !whole.stages.iter().any(|one| one.stage == stage) {
        return Err(Failure::Missing(format!(
            "job {job} has no stage '{stage}'; 'leadhand job show {job}' lists them"
        )));
    }
    let booked = booked(&whole, &need.item);
    let (item, unit) = (need.item.clone(), need.unit.clone());
    for one in &booked {
        out::note(&one.told(job, &item, &unit));
    }
    let asked: i64 = booked.iter().map(|one| one.quantity).sum();
    let needed = need.quantity;
    need.quantity -= asked;
    let mut stages: Vec<String> = booked.iter().map(|one| one.stage.clone()).collect();
    let mut by = "what the job asks for already".to_owned();
    if need.quantity > 0 {
        if asked > 0 {
            instruction = format!("In all, with what other steps ask for already: {instruction}");
        }
        let (stage, needs) = (stage.clone(), vec![need]);
        let write = app.write().await?;
        let request =
            AddStepRequest { write, job, stage: stage.clone(), instruction, needs, cautions, ..Default::default() };
        by = format!("step {} of {stage}", app.client.add_step(request).await?.step);
        stages.push(stage);
    } else if need.quantity < 0 {
        let more = quantity::show(-need.quantity, &unit);
        out::note(&format!(
            "that is {more} more than is needed now; 'leadhand step skip' takes back a step that is too much"
        ));
    }
    let mut done = BTreeSet::new();
    stages.retain(|stage| done.insert(stage.clone()));
    let mut short = 0;
    let mut last = None;
    // Reserving twice what a job needs reserves it once, so a repeat needs no id of its own.
    for stage in stages {
        let answer = app.client.reserve_stock(ReserveStockRequest { job, stage, ..Default::default() }).await?;
        short += answer.lines.iter().filter(|line| line.item == item).map(|line| line.short).sum::<i64>();
        last = Some(answer);
    }
    let answer = last.unwrap_or_default();
    let (amount, lacking) = (quantity::show(needed.max(asked), &unit), quantity::show(short, &unit));
    let said = if short > 0 { format!("are needed, and {lacking} are SHORT,") } else { "are set aside".to_owned() };
    let sentence = format!("{amount} of {item} {said} for job {job}: {by}");
    app.done(&answer, answer.receipt.as_ref(), None, &sentence)
}

/// What a step that is still to be done asks for of an item.
#[derive(Debug, PartialEq, Eq)]
struct Booked {
    stage: String,
    step: i32,
    quantity: i64,
    /// Set aside or given already.
    secured: i64,
}

impl Booked {
    fn told(&self, job: i64, item: &str, unit: &str) -> String {
        let (quantity, secured) = (quantity::show(self.quantity, unit), quantity::show(self.secured, unit));
        let Self { stage, step, .. } = self;
        format!(
            "booked already: step {step} of {stage} of job {job} asks for {quantity} of {item}, {secured} of it set aside"
        )
    }
}

/// What the steps of a job that are still to be done ask for of an item, whatever their stage.
fn booked(whole: &GetJobResponse, item: &str) -> Vec<Booked> {
    let ahead = |stage: &&Stage| ![StageState::Finished, StageState::Skipped].contains(&stage.state());
    let mut found = Vec::new();
    for stage in whole.stages.iter().filter(ahead) {
        for step in stage.steps.iter().filter(|step| step.state() == StepState::Pending) {
            let needs = || step.needs.iter().filter(|need| need.item == item);
            let quantity = needs().map(|need| need.quantity).sum();
            if quantity > 0 {
                let secured = needs().map(|need| need.reserved + need.issued).sum();
                found.push(Booked { stage: stage.stage.clone(), step: step.step, quantity, secured });
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{Step, StepNeed};

    #[test]
    fn what_is_drawn_is_never_less_than_what_is_poured() {
        assert_eq!(whole_millilitres(3.5), Some(3_500));
        assert_eq!(whole_millilitres(3.500_2), Some(3_501));
        assert_eq!(whole_millilitres(0.1 + 0.2), Some(300));
        assert_eq!((in_unit(3_501, "L"), in_unit(3_501, "mL"), in_unit(1, "1")), (Some(4), Some(3_501), None));
    }

    #[test]
    fn what_any_step_asks_for_already_is_not_asked_for_twice() {
        let need =
            |item: &str, quantity, reserved| StepNeed { item: item.into(), quantity, reserved, ..Default::default() };
        let step =
            |number, state: StepState, needs| Step { step: number, state: state.into(), needs, ..Default::default() };
        let stage = |key: &str, state: StageState, steps| Stage {
            stage: key.into(),
            state: state.into(),
            steps,
            ..Default::default()
        };
        let fill = vec![
            step(1, StepState::Done, vec![need("coolant", 9_000, 0)]),
            step(2, StepState::Pending, vec![need("coolant", 3_000, 2_000), need("water", 100, 0)]),
        ];
        let drain = vec![step(1, StepState::Pending, vec![need("coolant", 500, 0)])];
        let stages = vec![
            stage("fill", StageState::Ready, fill),
            stage("drain", StageState::NotYet, drain.clone()),
            stage("flush", StageState::Finished, drain.clone()),
            stage("bleed", StageState::Skipped, drain),
        ];
        let whole = GetJobResponse { stages, ..Default::default() };
        let line = |stage: &str, step, quantity, secured| Booked { stage: stage.into(), step, quantity, secured };
        assert_eq!(booked(&whole, "coolant"), [line("fill", 2, 3_000, 2_000), line("drain", 1, 500, 0)]);
        assert!(booked(&whole, "oil").is_empty());
        let told = line("fill", 2, 3_000, 2_000).told(7, "coolant", "mL");
        assert!(told.contains("step 2 of fill of job 7") && told.contains("set aside"), "{told}");
    }
}
