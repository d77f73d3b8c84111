//! Engine condition and the cylinder head.

use super::{answered, grid, job, or_none, text};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::out;
use crate::words::parse;
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{
    CylinderBank, CylinderReading, HeardAt, HeardOf, Ignition, ReadingKind, ReckonCompressionChangeRequest,
    ReckonCompressionRequest, ReckonFlatnessRequest, ReckonLeakDownRequest, ReckonReadingsRequest, ReckonSkimRequest,
};
use std::path::{Path, PathBuf};

/// Engine condition and the cylinder head.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// A set of compressions, judged: typed, or as the job has it
    #[command(after_help = "Examples:\n  leadhand reckon compression 12.4 12.1 8.2 12.2 --unit bar --wet 3=10.5\n  \
                            leadhand reckon compression 180psi 175psi 178psi 90psi 85psi 177psi --banks 3,3\n  \
                            leadhand reckon compression --job 12\n\n\
                            A compression of a job whose key ends in -wet is judged with the one of the same key without it, \
                            cylinder by cylinder.")]
    Compression(Compression),
    /// A leak-down test: typed, or as the job has it
    #[command(after_help = "Examples:\n  leadhand reckon leak-down 80psi 60psi --heard tailpipe\n  \
                            leadhand reckon leak-down --job 12 --heard 2=tailpipe")]
    LeakDown(LeakDown),
    /// How flat a face is: from a file, or as the job has it
    #[command(after_help = "\
A file is a grid, with places along the face in its first line and places across it in the first column:
  ,0,90,180
  0,28,9,0
  70,36,18,5
or a list of lines x,y,z below a line that says so:
  x,y,z
  0,0,28
  90,0,9
A file without such a first line is refused, since a list would pass for a grid; --as list or --as grid says which it is.
Columns may be parted by tabs or by semicolons, and then decimals by a comma.

Examples:
  leadhand reckon flatness head.csv --height um --limit 0.05mm --svg head.svg
  leadhand reckon flatness - --height um < head.csv
  leadhand reckon flatness --job 12 --svg head.svg      the points of the reading named by their places, such as 90_70")]
    Flatness(Flatness),
    /// How much may be skimmed off a head
    #[command(after_help = "Example: leadhand reckon skim --height 132.9mm --least-height 132.7mm --cut 0.1mm")]
    Skim {
        /// The height of the head now
        #[arg(long, value_name = "LENGTH")]
        height: String,
        /// The least that the maker allows
        #[arg(long, value_name = "LENGTH")]
        least_height: String,
        /// How much is to come off
        #[arg(long, value_name = "LENGTH")]
        cut: String,
    },
    /// What a skim and another gasket do to the compression ratio
    #[command(after_help = "Example: leadhand reckon ratio --bore 86mm --stroke 86mm --ratio 10:1 --cut 0.2mm")]
    Ratio(Ratio),
}

/// A set of compressions.
#[derive(Debug, Args)]
pub struct Compression {
    /// The figures, cylinder by cylinder
    #[arg(required_unless_present = "job", conflicts_with = "job", value_name = "PRESSURE")]
    dry: Vec<String>,
    /// The unit of figures that have none
    #[arg(long, default_value = "", hide_default_value = true, conflicts_with = "job")]
    unit: String,
    /// With a little oil in a cylinder: its number and the figure, such as 3=10.5; once for each
    #[arg(long, value_name = "CYLINDER=PRESSURE", conflicts_with = "job")]
    wet: Vec<String>,
    /// How many cylinders each bank has, such as 3,3, where the figures stand bank by bank in the order of the cylinders; one
    /// bank when left out
    #[arg(long, value_delimiter = ',', value_name = "COUNTS")]
    banks: Vec<usize>,
    /// How the engine lights its fuel: spark or compression. When left out by spark, and of a job only what is too little for
    /// any engine is said to be low where the job sets no least
    #[arg(long, value_parser = parse::<Ignition>)]
    ignition: Option<Ignition>,
    /// How far the lowest may lie below the highest; 20 % when left out
    #[arg(long, value_name = "SHARE", conflicts_with = "job")]
    spread: Option<String>,
    /// The least that each must have; common practice when left out
    #[arg(long, value_name = "PRESSURE", conflicts_with = "job")]
    least: Option<String>,
    /// From which rise a wet figure counts as higher; 10 % when left out
    #[arg(long, value_name = "SHARE", conflicts_with = "job")]
    rise: Option<String>,
    #[command(flatten)]
    of: job::OfJob,
}

/// A leak-down test.
#[derive(Debug, Args)]
pub struct LeakDown {
    /// Pressure before the orifice
    #[arg(required_unless_present = "job", conflicts_with = "job")]
    supply: Option<String>,
    /// Pressure in the cylinder
    #[arg(required_unless_present = "job", conflicts_with = "job")]
    cylinder: Option<String>,
    /// The orifice of the tester, where the size of the leak is wanted
    #[arg(long, value_name = "LENGTH", conflicts_with = "job")]
    orifice: Option<String>,
    /// Up to where it is sound; 20 % when left out
    #[arg(long, value_name = "SHARE", conflicts_with = "job")]
    sound: Option<String>,
    /// Where it is heard or seen: throttle, tailpipe, oil-filler, radiator or next-plug-hole; with the cylinder before it
    /// where the job has several, such as 2=tailpipe; once for each
    #[arg(long, value_parser = parse_heard, value_name = "[CYLINDER=]PLACE")]
    heard: Vec<HeardOf>,
    #[command(flatten)]
    of: job::OfJob,
}

/// A face.
#[derive(Debug, Args)]
pub struct Flatness {
    /// The file with the readings; - for standard input
    #[arg(required_unless_present = "job", conflicts_with = "job")]
    file: Option<PathBuf>,
    /// How the file is laid out, where its first line does not say it: list (lines x,y,z) or grid
    #[arg(long = "as", value_enum, value_name = "LAYOUT", conflicts_with = "job")]
    layout: Option<grid::Layout>,
    /// The unit of heights that have none, such as um
    #[arg(long, default_value = "", hide_default_value = true, value_name = "UNIT", conflicts_with = "job")]
    height: String,
    /// The unit of places that have none
    #[arg(long, default_value = "mm", value_name = "UNIT", conflicts_with = "job")]
    places: String,
    /// What the maker allows; the range of common limits when left out
    #[arg(long, value_name = "LENGTH", conflicts_with = "job")]
    limit: Option<String>,
    /// Write a picture of the surface to this file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    #[command(flatten)]
    of: job::OfJob,
}

/// A change of the compression ratio.
#[derive(Debug, Args)]
pub struct Ratio {
    /// Bore
    #[arg(long, value_name = "LENGTH")]
    bore: String,
    /// Stroke
    #[arg(long, value_name = "LENGTH")]
    stroke: String,
    /// Compression ratio before, so many to one: 10:1 or 10
    #[arg(long = "ratio", value_name = "RATIO")]
    before: String,
    /// What is skimmed off
    #[arg(long, value_name = "LENGTH")]
    cut: String,
    /// The opening of the chamber as a share of the bore's area; 100 % when left out
    #[arg(long, value_name = "SHARE")]
    chamber: Option<String>,
    /// How much thicker the new gasket is, negative when thinner
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    gasket: Option<String>,
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Compression(asked) => compression(app, asked).await,
        Command::LeakDown(asked) => leak_down(app, asked).await,
        Command::Flatness(asked) => flatness(app, asked).await,
        Command::Skim { height, least_height, cut } => {
            answered!(app, reckon_skim(ReckonSkimRequest { height, least_height, cut }))
        }
        Command::Ratio(asked) => {
            let request = ReckonCompressionChangeRequest {
                bore: asked.bore,
                stroke: asked.stroke,
                ratio: asked.before,
                cut: asked.cut,
                chamber: or_none(asked.chamber),
                gasket: or_none(asked.gasket),
            };
            answered!(app, reckon_compression_change(request))
        }
    }
}

fn parse_heard(text: &str) -> Result<HeardOf, String> {
    let (cylinder, place) = text.split_once('=').unwrap_or(("", text));
    let at = parse::<HeardAt>(place.trim())?.into();
    Ok(HeardOf { cylinder: cylinder.trim().to_owned(), at })
}

async fn compression(app: &App, asked: Compression) -> Outcome {
    if asked.of.is_said() {
        let ignition = asked.ignition.unwrap_or(Ignition::Unspecified);
        let banks = asked.banks.iter().map(|count| i32::try_from(*count).unwrap_or(i32::MAX)).collect();
        let how = ReckonReadingsRequest { ignition: ignition.into(), banks, ..Default::default() };
        return job::readings(app, asked.of, ReadingKind::Compression, how, None).await;
    }
    let mut cylinders: Vec<CylinderReading> = (1..)
        .zip(&asked.dry)
        .map(|(number, dry): (usize, &String)| CylinderReading {
            name: number.to_string(),
            dry: grid::with_unit(dry, &asked.unit),
            wet: String::new(),
        })
        .collect();
    for text in &asked.wet {
        let wrong =
            || Failure::Usage(format!("--wet {text}: write a cylinder's number and its figure, such as 3=10.5"));
        let (name, wet) = text.split_once('=').ok_or_else(wrong)?;
        let count = cylinders.len();
        let cylinder = cylinders.iter_mut().find(|one| one.name == name.trim()).ok_or_else(|| {
            Failure::Usage(format!(
                "--wet {text}: there is no cylinder '{}' among the {count} of this set",
                name.trim()
            ))
        })?;
        if !cylinder.wet.is_empty() {
            let which = name.trim();
            return Err(Failure::Usage(format!(
                "--wet {text}: cylinder {which} has a wet figure already; give one for each"
            )));
        }
        cylinder.wet = grid::with_unit(wet, &asked.unit);
    }
    let request = ReckonCompressionRequest {
        banks: banks(cylinders, &asked.banks)?,
        ignition: asked.ignition.unwrap_or(Ignition::Spark).into(),
        spread: or_none(asked.spread),
        least: or_none(asked.least),
        rise: or_none(asked.rise),
    };
    answered!(app, reckon_compression(request))
}

fn banks(mut cylinders: Vec<CylinderReading>, counts: &[usize]) -> Outcome<Vec<CylinderBank>> {
    if counts.is_empty() {
        return Ok(vec![CylinderBank { cylinders }]);
    }
    let total: usize = counts.iter().fold(0, |sum, count| sum.saturating_add(*count));
    if total != cylinders.len() {
        let problem = format!("--banks says {total} cylinders and {} figures are given", cylinders.len());
        return Err(Failure::Usage(format!("{problem}; give one figure a cylinder, bank by bank")));
    }
    Ok(counts.iter().map(|count| CylinderBank { cylinders: cylinders.drain(..count).collect() }).collect())
}

async fn leak_down(app: &App, asked: LeakDown) -> Outcome {
    if asked.of.is_said() {
        let how = ReckonReadingsRequest { heard: asked.heard, ..Default::default() };
        return job::readings(app, asked.of, ReadingKind::LeakDown, how, None).await;
    }
    if let Some(named) = asked.heard.iter().find(|one| !one.cylinder.is_empty()) {
        let which = &named.cylinder;
        return Err(Failure::Usage(format!(
            "--heard {which}=…: the figures are of one cylinder; leave out '{which}='"
        )));
    }
    let request = ReckonLeakDownRequest {
        supply: or_none(asked.supply),
        cylinder: or_none(asked.cylinder),
        orifice: or_none(asked.orifice),
        sound: or_none(asked.sound),
        heard: asked.heard.into_iter().map(|one| one.at).collect(),
    };
    answered!(app, reckon_leak_down(request))
}

async fn flatness(app: &App, asked: Flatness) -> Outcome {
    if asked.of.is_said() {
        let how = ReckonReadingsRequest::default();
        return job::readings(app, asked.of, ReadingKind::Flatness, how, asked.svg.as_deref()).await;
    }
    let file = asked.file.unwrap_or_else(|| PathBuf::from("-"));
    let points = grid::points_of(&crate::app::read_text(&file)?, asked.layout, &asked.places, &asked.height)
        .map_err(|why| Failure::Usage(format!("{}: {why}", file.display())))?;
    let request = ReckonFlatnessRequest { points, limit: or_none(asked.limit), picture: asked.svg.is_some() };
    let answer = app.client.reckon_flatness(request).await?;
    if let Some(path) = &asked.svg {
        save(path, &answer.picture)?;
    }
    if app.out.is_json() { out::json(&answer) } else { text::show(app, &answer.answer.unwrap_or_default()) }
}

/// Writes a picture to a file.
pub fn save(path: &Path, picture: &str) -> Outcome {
    std::fs::write(path, picture)
        .map_err(|error| Failure::Usage(format!("{} can't be written: {error}", path.display())))?;
    out::note(&format!("the picture is in {}", path.display()));
    Ok(())
}
