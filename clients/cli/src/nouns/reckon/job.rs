//! What the books of a job ask: its tightenings, its readings, and what to fill in again.

use super::{fasteners::Contact, or_none, text};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::out::{self, beside};
use crate::quantity;
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{
    AddStepRequest, Answer, Caution, GetJobRequest, GetJobResponse, Ignition, JobTightening, JudgedReading,
    MakeRemarkRequest, Need, PackSize, ReadingKind, ReckonFillRequest, ReckonPacksRequest, ReckonReadingsRequest,
    ReckonReadingsResponse, ReckonRecheckRequest, ReckonTighteningsRequest, RemarkKind, ReserveStockRequest, StepState,
};
use std::path::Path;

/// What the books of a job ask.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// The tightenings of a job, in N.m and in lbf.ft, and what to set through an adapter
    #[command(after_help = "Examples:\n  leadhand reckon tightening 12\n  \
                            leadhand reckon tightening 12 head-bolts --wrench 400mm --adapter 50mm\n  \
                            leadhand reckon tightening 12 wheel-bolts --class 10.9 --friction 0.12")]
    Tightening(Box<Tightening>),
    /// The readings of a job, judged as far as their kind can be
    #[command(after_help = "Example: leadhand reckon readings 12")]
    Readings {
        /// The job's number
        job: i64,
    },
    /// At which distance wheel nuts are checked again; with --job it stands on the sheet as a follow-up
    #[command(after_help = "Examples:\n  leadhand reckon recheck '48210 km'\n  \
                            leadhand reckon recheck '48210 km' --after 80km --job 12")]
    Recheck {
        /// The distance that stands on the vehicle
        fitted_at: String,
        /// After how far; 50 km when left out
        #[arg(long, value_name = "DISTANCE")]
        after: Option<String>,
        /// Put it on the hand-over sheet of this job as a follow-up
        #[arg(long)]
        job: Option<i64>,
    },
}

/// Tightenings.
#[derive(Debug, Args)]
pub struct Tightening {
    /// The job's number
    job: i64,
    /// Only this position of its strip book
    position: Option<String>,
    /// Only what goes back in this stage
    #[arg(long)]
    stage: Option<String>,
    /// From the square drive of the torque wrench to the middle of its grip
    #[arg(long, requires = "adapter", value_name = "LENGTH")]
    wrench: Option<String>,
    /// From the square drive to the middle of the fastener, through an adapter
    #[arg(long, requires = "wrench", value_name = "LENGTH")]
    adapter: Option<String>,
    /// Of the adapter: 0° in line with the wrench, 90° square, 180° folded back
    #[arg(long, requires = "adapter", value_name = "ANGLE", allow_hyphen_values = true)]
    angle: Option<String>,
    /// What is stamped on the head: the torque is reckoned as well, and stands beside the manufacturer's
    #[arg(long)]
    class: Option<String>,
    /// How tight for that; 75 % of the proof load when left out
    #[arg(long, requires = "class", value_name = "FORCE|SHARE")]
    preload: Option<String>,
    #[command(flatten)]
    contact: Contact,
}

/// From which job figures are taken.
#[derive(Debug, Args)]
pub struct OfJob {
    /// Take the figures from the readings of this job
    #[arg(long)]
    job: Option<i64>,
    /// Only this reading of the job
    #[arg(long, requires = "job", value_name = "KEY")]
    reading: Option<String>,
}

impl OfJob {
    /// Whether a job is named.
    pub fn is_said(&self) -> bool {
        self.job.is_some()
    }
}

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
    /// So many degrees more to be safe, for a freezing point
    #[arg(long, value_name = "NUMBER")]
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

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Tightening(asked) => tightening(app, *asked).await,
        Command::Readings { job } => {
            let answer = app.client.reckon_readings(ReckonReadingsRequest { job, ..Default::default() }).await?;
            show_readings(app, &answer)
        }
        Command::Recheck { fitted_at, after, job } => {
            let request = ReckonRecheckRequest { fitted_at, after: or_none(after), manufacturer: Vec::new() };
            recheck(app, request, job).await
        }
    }
}

async fn tightening(app: &App, asked: Tightening) -> Outcome {
    let friction = asked.contact.friction();
    let request = ReckonTighteningsRequest {
        job: asked.job,
        position: or_none(asked.position),
        stage: or_none(asked.stage),
        wrench: or_none(asked.wrench),
        adapter: or_none(asked.adapter),
        angle: or_none(asked.angle),
        class: or_none(asked.class),
        preload: or_none(asked.preload),
        friction,
    };
    let answer = app.client.reckon_tightenings(request).await?;
    if app.out.is_json() {
        return out::json(&answer);
    }
    if answer.tightenings.is_empty() {
        out::note("nothing of this job is tightened by stages; 'leadhand strip show' has its strip book");
        return Ok(());
    }
    let width = text::width(app);
    let mut told: String = answer.tightenings.iter().map(|one| tightened(one, width)).collect();
    told.push_str(&beside("first", 11, &answer.deference, Some(width)));
    out::put(&told)
}

/// What goes back in a stage by stages of tightening, a line each; nothing where nothing does.
pub async fn of_stage(app: &App, job: i64, stage: &str) -> Outcome {
    let request = ReckonTighteningsRequest { job, stage: stage.to_owned(), ..Default::default() };
    let found = app.client.reckon_tightenings(request).await?.tightenings;
    if !found.is_empty() {
        out::line("")?;
    }
    for one in &found {
        let size = if one.size.is_empty() { String::new() } else { format!(", {}", one.size) };
        let line = format!("  tighten {}{size}: {}", one.position, staged(one));
        out::line(&out::clean(&line))?;
    }
    Ok(())
}

fn staged(one: &JobTightening) -> String {
    let texts: Vec<String> = one.stages.iter().map(|stage| stage.text.clone()).collect();
    let others: Vec<String> = one.stages.iter().map(|stage| stage.beside.clone()).collect();
    stages(&texts, &others)
}

/// A torque as the template has it, and the same in lbf.ft.
pub fn stages(tighten: &[String], beside: &[String]) -> String {
    let others = beside.iter().map(String::as_str).chain(std::iter::repeat(""));
    let both = tighten.iter().zip(others).map(|(own, other)| match other {
        "" => own.clone(),
        other => format!("{own} ({other})"),
    });
    both.collect::<Vec<_>>().join(", then ")
}

fn tightened(one: &JobTightening, width: usize) -> String {
    let size = if one.size.is_empty() { String::new() } else { format!(", {}", one.size) };
    let head = format!("{}: {} of {}{size}", one.position, one.count, one.what);
    let mut told = beside("", 0, &head, Some(width));
    let mut put = |name: &str, what: &str| {
        if !what.is_empty() {
            told.push_str(&beside(name, 11, what, Some(width)));
        }
    };
    put("  tighten", &staged(one));
    let set = one.stages.iter().filter_map(|stage| {
        let setting = stage.setting.as_ref()?.figures.first()?;
        Some(format!("{} for {}", text::value(setting), stage.text))
    });
    put("  set", &set.collect::<Vec<_>>().join(", then "));
    put("  how", &one.how.join("; "));
    if let Some(figure) = one.reckoned.as_ref().and_then(|answer| answer.figures.first()) {
        put("  reckoned", &text::value(figure));
    }
    put("  reckoned", &one.unreckoned);
    let cautions = one.stages.iter().filter_map(|stage| stage.setting.as_ref()).chain(&one.reckoned);
    let mut cautions: Vec<&str> =
        cautions.flat_map(|answer| &answer.cautions).map(|caution| caution.text.as_str()).collect();
    cautions.dedup();
    for caution in cautions {
        put("  mind", caution);
    }
    told
}

/// The readings of a job of one kind, judged.
pub async fn readings(app: &App, of: OfJob, kind: ReadingKind, ignition: Ignition, svg: Option<&Path>) -> Outcome {
    let request = ReckonReadingsRequest {
        job: of.job.unwrap_or_default(),
        reading: or_none(of.reading),
        kind: kind.into(),
        ignition: ignition.into(),
        picture: svg.is_some(),
    };
    let answer = app.client.reckon_readings(request).await?;
    if let Some(path) = svg {
        let pictures: Vec<&JudgedReading> = answer.readings.iter().filter(|one| !one.picture.is_empty()).collect();
        match pictures.as_slice() {
            [only] => super::engine::save(path, &only.picture)?,
            [] => {
                out::note("there is no picture: no surface of this job was measured by points that say where they are");
            }
            several => {
                let keys: Vec<&str> = several.iter().map(|one| one.reading.as_str()).collect();
                let which = keys.join(", ");
                return Err(Failure::Usage(format!("{which} have a picture each; choose one with --reading")));
            }
        }
    }
    show_readings(app, &answer)
}

fn show_readings(app: &App, answer: &ReckonReadingsResponse) -> Outcome {
    if app.out.is_json() {
        return out::json(answer);
    }
    if answer.readings.is_empty() {
        out::note("nothing that was measured on this job can be judged here; 'leadhand reading list' has its readings");
        return Ok(());
    }
    let width = text::width(app);
    let blocks = answer.readings.iter().enumerate().map(|(at, one)| judged(one, answer.readings.get(at + 1), width));
    out::put(&blocks.collect::<Vec<_>>().join("\n"))
}

/// What is the same of several figures of one reading stands once, below the last.
fn judged(one: &JudgedReading, next: Option<&JudgedReading>, width: usize) -> String {
    let of = if one.of.is_empty() { String::new() } else { format!(", {}", one.of) };
    let mut told = beside("", 0, &format!("{}: {}{of}", one.reading, one.what), Some(width));
    let more = next.is_some_and(|next| next.reading == one.reading && next.answer.is_some());
    match &one.answer {
        Some(answer) if more => told.push_str(&text::brief(answer, width)),
        Some(answer) => told.push_str(&text::told(answer, width)),
        None => told.push_str(&beside("not judged", 12, &one.unjudged, Some(width))),
    }
    told
}

async fn recheck(app: &App, request: ReckonRecheckRequest, job: Option<i64>) -> Outcome {
    let answer = app.client.reckon_recheck(request).await?;
    let Some(job) = job else {
        return if app.out.is_json() {
            out::json(&answer)
        } else {
            text::show(app, &answer.answer.unwrap_or_default())
        };
    };
    let found = answer.answer.unwrap_or_default();
    let (due, after) = (told_of(&found, "due")?, told_of(&found, "after")?);
    let words = format!("Have the wheels checked again with a torque wrench at {due}, {after} after they were fitted.");
    let request = MakeRemarkRequest { write: app.write().await?, job, what: RemarkKind::FollowUp.into(), words };
    let remark = app.client.make_remark(request).await?;
    if !app.out.is_json() {
        text::show(app, &found)?;
    }
    let said = format!("remark {} of job {job} says so on the sheet", remark.remark);
    app.done(&remark, remark.receipt.as_ref(), None, &said)
}

/// A figure in the unit in which it was asked.
fn told_of(answer: &Answer, name: &str) -> Outcome<String> {
    let figure = answer.figures.iter().find(|figure| figure.name == name);
    let figure = figure.ok_or_else(|| Failure::Defect(format!("the server's answer has no figure '{name}'")))?;
    Ok(figure.beside.as_ref().map_or_else(|| figure.text.clone(), |other| other.text.clone()))
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
    let found = answer.answer.unwrap_or_default();
    if !app.out.is_json() {
        text::show(app, &found)?;
    }
    if found.figures.iter().any(|figure| figure.name == "add" && figure.value <= 0.0) {
        out::note(&format!("nothing is to be added, so nothing of {item} is set aside"));
        return Ok(());
    }
    let (quantity, unit, drawn) = drawn(app, &found, &item, asked.packs).await?;
    let (add, water) = (told_of(&found, "add")?, told_of(&found, "water")?);
    let instruction = format!("Pour in {add} of {item} and {water} of water{drawn}; run it warm, and measure.");
    set_aside(app, job, stage, (instruction, found.cautions), Need { item, quantity, unit }).await
}

/// How much of an item is drawn for what is to be poured in, in the item's unit, and in which packs.
async fn drawn(app: &App, found: &Answer, item: &str, packs: Vec<PackSize>) -> Outcome<(i64, String, String)> {
    let unit = app.unit(item).await?;
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
    let quantity = whole_millilitres(litres).and_then(|millilitres| in_unit(millilitres, &unit));
    let wrong =
        || Failure::Usage(format!("{item} is kept in '{unit}' and not by volume; reserve it by a step of its own"));
    Ok((quantity.ok_or_else(wrong)?, unit, told))
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

/// A step of the stage that asks for what no step there asks for yet, and the reservation.
async fn set_aside(
    app: &App,
    job: i64,
    stage: String,
    (mut instruction, cautions): (String, Vec<Caution>),
    mut need: Need,
) -> Outcome {
    let whole = app.client.get_job(GetJobRequest { job }).await?;
    let asked = asked_for(&whole, &stage, &need.item);
    let (amount, item) = (quantity::show(need.quantity, &need.unit), need.item.clone());
    need.quantity -= asked;
    let mut by = "a step that asks for it already".to_owned();
    if need.quantity > 0 {
        if asked > 0 {
            instruction = format!("In all, in the place of what an earlier step says: {instruction}");
        }
        let (stage, needs) = (stage.clone(), vec![need]);
        let write = app.write().await?;
        let request = AddStepRequest { write, job, stage, instruction, needs, cautions, ..Default::default() };
        by = format!("step {}", app.client.add_step(request).await?.step);
    }
    // Reserving twice what a job needs reserves it once, so a repeat needs no id of its own.
    let request = ReserveStockRequest { job, stage: stage.clone(), ..Default::default() };
    let answer = app.client.reserve_stock(request).await?;
    let short = answer.lines.iter().any(|line| line.item == item && line.short > 0);
    let said = if short { "are needed and SHORT" } else { "are set aside" };
    let sentence = format!("{amount} of {item} {said} for {by} of {stage} of job {job}");
    app.done(&answer, answer.receipt.as_ref(), None, &sentence)
}

/// How much of an item the steps that are left of a stage ask for.
fn asked_for(whole: &GetJobResponse, stage: &str, item: &str) -> i64 {
    let steps = whole.stages.iter().filter(|one| one.stage == stage).flat_map(|one| &one.steps);
    let left = steps.filter(|step| step.state == i32::from(StepState::Pending));
    left.flat_map(|step| &step.needs).filter(|need| need.item == item).map(|need| need.quantity).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{Stage, Step, StepNeed};

    #[test]
    fn what_is_drawn_is_never_less_than_what_is_poured() {
        assert_eq!(whole_millilitres(3.5), Some(3_500));
        assert_eq!(whole_millilitres(3.500_2), Some(3_501));
        assert_eq!(whole_millilitres(0.1 + 0.2), Some(300));
        assert_eq!((in_unit(3_501, "L"), in_unit(3_501, "mL"), in_unit(1, "1")), (Some(4), Some(3_501), None));
    }

    #[test]
    fn what_a_step_asks_for_already_is_not_asked_for_twice() {
        let need = |item: &str, quantity| StepNeed { item: item.into(), quantity, ..Default::default() };
        let step = |state: StepState, needs| Step { state: state.into(), needs, ..Default::default() };
        let steps = vec![
            step(StepState::Done, vec![need("coolant", 9_000)]),
            step(StepState::Pending, vec![need("coolant", 3_000), need("water", 100)]),
            step(StepState::Pending, vec![need("coolant", 500)]),
        ];
        let stage = |key: &str| Stage { stage: key.into(), steps: steps.clone(), ..Default::default() };
        let whole = GetJobResponse { stages: vec![stage("fill"), stage("drain")], ..Default::default() };
        assert_eq!(asked_for(&whole, "fill", "coolant"), 3_500);
        assert_eq!(asked_for(&whole, "fill", "oil"), 0);
    }

    #[test]
    fn a_torque_is_told_in_both_units_and_an_angle_as_it_is() {
        let texts = ["30 N.m", "90 deg"].map(str::to_owned);
        assert_eq!(stages(&texts, &["22.1 lbf.ft".to_owned(), String::new()]), "30 N.m (22.1 lbf.ft), then 90 deg");
        assert_eq!(stages(&texts, &[]), "30 N.m, then 90 deg");
    }
}
