//! What the books of a job ask: its tightenings, its readings, and when its wheels are checked again.

use super::{fasteners::Rubs, or_none, text};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::out::{self, beside};
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{
    Answer, GetHandOverSheetRequest, JobTightening, JudgedReading, MakeRemarkRequest, ReadingKind,
    ReckonReadingsRequest, ReckonReadingsResponse, ReckonRecheckRequest, ReckonTighteningsRequest, RemarkKind,
    SheetRemark, WithdrawRemarkRequest,
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
    rubs: Rubs,
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
    let friction = asked.rubs.friction();
    if friction.is_some() && asked.class.is_none() {
        return Err(Failure::Usage(
            "--friction counts where the torque is reckoned; say what is stamped on the head with --class".to_owned(),
        ));
    }
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
    let mut told: String = answer.tightenings.iter().map(|one| tightened(one, width, app.out.brief)).collect();
    let answers: Vec<&Answer> = answer.tightenings.iter().flat_map(answers).collect();
    told.push_str(&text::below(&answers, width, app.out.brief));
    told.push_str(&beside("first", text::COLUMN, &answer.deference, Some(width)));
    out::put(&told)
}

/// What is said of a tightening: as the job has it, what is set stage by stage, and as it is reckoned.
fn answers(one: &JobTightening) -> impl Iterator<Item = &Answer> {
    one.answer.iter().chain(one.stages.iter().filter_map(|stage| stage.setting.as_ref())).chain(&one.reckoned)
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

fn tightened(one: &JobTightening, width: usize, short: bool) -> String {
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
    let by = one.stages.iter().find_map(|stage| stage.setting.as_ref());
    put("  with", &by.map(|setting| text::from_but(setting, "torque", short)).unwrap_or_default());
    put("  how", &one.how.join("; "));
    put("  mind", &one.note);
    put("  repaired", &one.repair);
    if let Some(answer) = &one.reckoned {
        put("  reckoned", &answer.figures.first().map(text::value).unwrap_or_default());
        put("  from", &text::from(answer, short));
        let said = answer.conclusions.iter().map(|one| one.text.as_str()).collect::<Vec<_>>();
        put("  note", &said.join(" "));
    }
    put("  reckoned", &one.unreckoned);
    told
}

/// The readings of a job of one kind, judged as `how` says beside.
pub async fn readings(
    app: &App,
    of: OfJob,
    kind: ReadingKind,
    how: ReckonReadingsRequest,
    svg: Option<&Path>,
) -> Outcome {
    let (job, reading) = (of.job.unwrap_or_default(), or_none(of.reading));
    let what = crate::words::word::<ReadingKind>(kind.into());
    let request = ReckonReadingsRequest { job, reading, kind: kind.into(), picture: svg.is_some(), ..how };
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
    if let Some(why) = unjudged(&answer, job, &what) {
        if app.out.is_json() || !answer.readings.is_empty() {
            show_readings(app, &answer)?;
        }
        return Err(Failure::Found(why));
    }
    show_readings(app, &answer)
}

/// Why nothing of what was asked for is judged, and what is to be given; nothing where something is.
fn unjudged(answer: &ReckonReadingsResponse, job: i64, what: &str) -> Option<String> {
    if answer.readings.is_empty() {
        return Some(format!(
            "job {job} has no {what} that was taken and can be judged; take one with 'leadhand reading record {job}' \
             ('leadhand reading list {job}' has its readings), or type the figures in the place of --job"
        ));
    }
    let none = answer.readings.iter().all(|one| one.answer.is_none());
    none.then(|| format!("nothing of this {what} is judged; give what is missing, as it says above, and ask again"))
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
    let readings = answer.readings.chunk_by(|one, next| one.reading == next.reading);
    let blocks: Vec<String> = readings.map(|one| of_reading(one, width, app.out.brief)).collect();
    out::put(&blocks.join("\n"))
}

/// Each figure of a reading with what it was reckoned from; formula, sources and cautions of all of them once, below the last.
fn of_reading(figures: &[JudgedReading], width: usize, short: bool) -> String {
    let mut told: Vec<String> = figures.iter().map(|one| judged(one, width, short)).collect();
    let answers: Vec<&Answer> = figures.iter().filter_map(|one| one.answer.as_ref()).collect();
    if let Some(last) = answers.last() {
        let below = text::below(&answers, width, short);
        let first = beside("first", text::COLUMN, &last.deference, Some(width));
        told.push(format!("{below}{first}"));
    }
    told.join("\n")
}

fn judged(one: &JudgedReading, width: usize, short: bool) -> String {
    let of = if one.of.is_empty() { String::new() } else { format!(", {}", one.of) };
    let head = beside("", 0, &format!("{}: {}{of}", one.reading, one.what), Some(width));
    let said = match &one.answer {
        Some(answer) => format!("{}{}", text::figures(answer, width, short), text::from_line(answer, width, short)),
        None => beside("not judged", 12, &one.unjudged, Some(width)),
    };
    format!("{head}{said}")
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
    let found = answer.answer.clone().unwrap_or_default();
    let (due, after) = (told_of(&found, "due")?, told_of(&found, "after")?);
    let words = format!("{RECHECK}{due}, {after} after they were fitted.");
    if !app.out.is_json() {
        text::show(app, &found)?;
    }
    let sheet = app.client.get_hand_over_sheet(GetHandOverSheetRequest { job }).await?;
    let before = said_before(&sheet.remarks);
    if let Some(same) = before.iter().find(|remark| remark.words == words) {
        if app.out.is_json() {
            out::json(&answer)?;
        }
        out::note(&format!("remark {} of job {job} says so on the sheet already", same.remark));
        return Ok(());
    }
    for remark in before {
        let reason = format!("said anew: {due}");
        let write = app.write().await?;
        let request = WithdrawRemarkRequest { write, job, remark: remark.remark, reason };
        app.client.withdraw_remark(request).await?;
        out::note(&format!("remark {} of job {job} said another distance and is withdrawn", remark.remark));
    }
    let request = MakeRemarkRequest { write: app.write().await?, job, what: RemarkKind::FollowUp.into(), words };
    let remark = app.client.make_remark(request).await?;
    let said = format!("remark {} of job {job} says so on the sheet", remark.remark);
    app.done(&remark, remark.receipt.as_ref(), None, &said)
}

/// How a re-check of the wheels begins on the sheet, by which it is known again.
const RECHECK: &str = "Have the wheels checked again with a torque wrench at ";

/// The re-checks of the wheels that stand on a sheet.
fn said_before(remarks: &[SheetRemark]) -> Vec<&SheetRemark> {
    let again = |remark: &&SheetRemark| remark.remark > 0 && remark.words.starts_with(RECHECK);
    remarks.iter().filter(again).filter(|remark| remark.what() == RemarkKind::FollowUp).collect()
}

/// A figure in the unit in which it was asked.
fn told_of(answer: &Answer, name: &str) -> Outcome<String> {
    let figure = answer.figures.iter().find(|figure| figure.name == name);
    let figure = figure.ok_or_else(|| Failure::Defect(format!("the server's answer has no figure '{name}'")))?;
    Ok(figure.beside.as_ref().map_or_else(|| figure.text.clone(), |other| other.text.clone()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{AnswerInput, AnswerSource, Caution, FigureStanding, SignalWord, TighteningStage};

    #[test]
    fn a_recheck_is_known_again_by_its_words_and_nothing_else_is() {
        let remark = |number, what: RemarkKind, words: &str| SheetRemark {
            remark: number,
            what: what.into(),
            words: words.to_owned(),
        };
        let remarks = [
            remark(0, RemarkKind::FollowUp, &format!("{RECHECK}the next service")),
            remark(1, RemarkKind::FollowUp, &format!("{RECHECK}48260 km, 50 km after they were fitted.")),
            remark(2, RemarkKind::FollowUp, "Look at the wheels in spring."),
            remark(3, RemarkKind::AdviceDeclined, &format!("{RECHECK}48260 km")),
        ];
        assert_eq!(said_before(&remarks).iter().map(|one| one.remark).collect::<Vec<_>>(), [1], "0 is a step's");
    }

    fn answer(title: &str, formula: &str, caution: &str) -> Answer {
        let input = |name: &str, typed: &str| AnswerInput {
            name: name.into(),
            typed: typed.into(),
            taken: typed.into(),
            standing: FigureStanding::Given.into(),
            ..Default::default()
        };
        Answer {
            title: title.into(),
            formula: formula.into(),
            inputs: vec![input("torque", "25 N.m"), input("wrench", title)],
            sources: vec![AnswerSource { name: format!("source of {formula}"), ..Default::default() }],
            cautions: vec![Caution { word: SignalWord::Warning.into(), text: caution.into() }],
            deference: "The manufacturer's data come first.".into(),
            ..Default::default()
        }
    }

    #[test]
    fn each_figure_of_a_reading_says_what_it_came_from_and_all_what_to_mind() {
        let judged = |of: &str, from: &str, caution: &str| JudgedReading {
            reading: "disc".into(),
            what: "Run-out".into(),
            of: of.into(),
            answer: Some(answer(from, "highest less lowest", caution)),
            ..Default::default()
        };
        let two = [judged("left", "0.04 mm", "Stands."), judged("right", "0.06 mm", "Pump the pedal.")];
        let text = of_reading(&two, 80, false);
        for part in ["disc: Run-out, left\nfrom       torque 25 N.m; wrench 0.04 mm\n", "wrench 0.06 mm\n"] {
            assert!(text.contains(part), "{text}");
        }
        for once in
            ["\nformula    highest", "\nsource     source of", "WARNING    Stands.", "WARNING    Pump", "\nfirst "]
        {
            assert_eq!(text.matches(once).count(), 1, "{once}: {text}");
        }
        assert!(!of_reading(&two, 80, true).contains("formula"), "shortly");
    }

    #[test]
    fn a_tightening_says_by_what_it_is_set_and_its_cautions_have_their_word() {
        let stage = TighteningStage {
            text: "25 N.m".into(),
            setting: Some(answer("400 mm", "T·L", "Grip.")),
            ..Default::default()
        };
        let one = JobTightening {
            position: "cover-bolts".into(),
            stages: vec![stage],
            answer: Some(answer("", "as the job has it", "Dry threads.")),
            ..Default::default()
        };
        assert!(tightened(&one, 80, false).contains("  with     wrench 400 mm\n"), "{}", tightened(&one, 80, false));
        let below = text::below(&answers(&one).collect::<Vec<_>>(), 80, false);
        for part in [
            "formula    as the job has it; T·L",
            "source     source of as the job",
            "WARNING    Dry",
            "WARNING    Grip.",
        ] {
            assert!(below.contains(part), "{below}");
        }
        let short = text::below(&answers(&one).collect::<Vec<_>>(), 80, true);
        assert!(!short.contains("formula") && short.contains("WARNING    Grip."), "{short}");
    }

    #[test]
    fn what_is_not_judged_says_what_to_give_and_is_no_success() {
        let of = |answers: &[Option<Answer>]| {
            let one = |answer: &Option<Answer>| JudgedReading { answer: answer.clone(), ..Default::default() };
            let readings = answers.iter().map(one).collect();
            unjudged(&ReckonReadingsResponse { readings, ..Default::default() }, 12, "leak-down")
        };
        let missing = of(&[]).unwrap();
        assert!(missing.contains("job 12 has no leak-down") && missing.contains("reading record 12"), "{missing}");
        assert!(of(&[None, None]).unwrap().contains("give what is missing"));
        assert_eq!(of(&[None, Some(Answer::default())]), None, "one is judged");
    }

    #[test]
    fn a_torque_is_told_in_both_units_and_an_angle_as_it_is() {
        let texts = ["30 N.m", "90 deg"].map(str::to_owned);
        assert_eq!(stages(&texts, &["22.1 lbf.ft".to_owned(), String::new()]), "30 N.m (22.1 lbf.ft), then 90 deg");
        assert_eq!(stages(&texts, &[]), "30 N.m, then 90 deg");
    }
}
