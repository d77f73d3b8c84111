//! Readings of a job, judged as far as their kind can be.

use crate::answer::{Answer, Standing, Sureness};
use crate::engine::{Compression, Cylinder, Heard, Ignition, LeakDown};
use crate::head::{Flatness, Point, surface_svg};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use crate::wheels::RunOut;
use leadhand_facts::Measure;
use leadhand_facts::reading::ReadingDetail;
use leadhand_facts::rows::ReadingRow;
use leadhand_facts::words::{ReadingKind, ReadingUnit, Verdict};

/// A figure of a reading, or all of them together, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Judgement {
    /// Which figure; none when all are judged together.
    pub of: Option<String>,
    /// What came of it.
    pub answer: Result<Answer, Refusal>,
    /// A picture of the surface, where one was asked for and there is one.
    pub picture: Option<String>,
}

/// How readings are judged.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Judging {
    /// How the engine lights its fuel.
    pub ignition: Option<Ignition>,
    /// Whether pictures of surfaces are wanted.
    pub pictures: bool,
    /// How many cylinders each bank has, where the names of a compression stand bank by bank in the order of the cylinders.
    pub banks: Vec<usize>,
    /// Of which cylinder it is heard where; of the only one without a name.
    pub heard: Vec<(String, Heard)>,
}

/// The end of the key of a compression that was taken with a little oil in the cylinders: it is judged with the one whose
/// key is the same without it.
const WET: &str = "-wet";

/// A reading of a job, judged; nothing of it where it was not taken, or where it is of a kind that has no method here.
/// `others` are the readings of the job, among which the wet compression is found that belongs to a dry one.
pub fn judge(row: &ReadingRow, others: &[ReadingRow], judging: &Judging) -> Vec<Judgement> {
    if row.taken_n.is_none() || row.figures.is_empty() {
        return Vec::new();
    }
    match row.detail.kind {
        ReadingKind::Compression => compression(row, others, judging).into_iter().collect(),
        ReadingKind::LeakDown => leak_down(row, judging),
        ReadingKind::Flatness => flatness(row, judging.pictures).into_iter().collect(),
        ReadingKind::RunOut => run_out(row),
        _ => Vec::new(),
    }
}

fn amount(kind: Kind, detail: &ReadingDetail, figure: Measure) -> Result<Amount, Refusal> {
    Amount::read(kind, "reading", &format!("{figure} {}", detail.unit.shown()))
}

fn together(answer: Result<Answer, Refusal>) -> Judgement {
    Judgement { of: None, answer, picture: None }
}

/// What a label says: the figures of a reading without labels are one.
fn labelled(detail: &ReadingDetail, at: usize) -> Option<String> {
    detail.labels.get(at).cloned()
}

fn is_wet(row: &ReadingRow) -> bool {
    row.detail.kind == ReadingKind::Compression && row.reading.as_str().ends_with(WET)
}

/// Whether a dry reading can be judged: it was taken, of cylinders that have names to compare.
fn is_set(row: &ReadingRow) -> bool {
    row.detail.kind == ReadingKind::Compression && row.taken_n.is_some() && row.detail.labels.len() >= 2
}

/// The reading with which one is judged: a wet compression with its dry one, where that can be judged; any other by itself.
pub fn judged_with<'a>(row: &'a ReadingRow, others: &'a [ReadingRow]) -> &'a ReadingRow {
    if !is_wet(row) {
        return row;
    }
    others.iter().find(|other| other.reading.as_str() == dry_of(row) && is_set(other)).unwrap_or(row)
}

/// Why nothing is said of a reading that was asked for by its key, where it was not taken.
pub fn untaken(row: &ReadingRow, others: &[ReadingRow]) -> Option<Refusal> {
    if row.taken_n.is_some() && !row.figures.is_empty() {
        return None;
    }
    let key = &row.reading;
    let Some(missing) = Some(row).filter(|row| is_wet(row)).and_then(|row| missing_dry(row, others)) else {
        let problem = format!("{key} was not taken yet");
        return Some(Refusal::contradiction("reading", problem, "take it with `leadhand reading record`"));
    };
    let todo = format!("take {} dry first, then {key}", dry_of(row));
    Some(Refusal::contradiction("reading", format!("{key} was not taken yet, and {missing}"), todo))
}

/// The key of the dry reading that belongs to a wet one.
fn dry_of(wet: &ReadingRow) -> &str {
    wet.reading.as_str().strip_suffix(WET).unwrap_or(wet.reading.as_str())
}

/// What is missing of the dry reading; nothing where it can be judged.
fn missing_dry(wet: &ReadingRow, others: &[ReadingRow]) -> Option<String> {
    let dry = dry_of(wet);
    let found = others.iter().find(|other| other.reading.as_str() == dry);
    match found {
        Some(found) if is_set(found) => None,
        Some(found) if found.taken_n.is_none() => {
            Some(format!("the dry reading {dry} is missing: it was not taken yet"))
        }
        Some(_) => Some(format!("the dry reading {dry} is no compression of several cylinders")),
        None => Some(format!("the dry reading {dry} is missing: the job has none of that key")),
    }
}

/// A wet reading whose dry one is not there to be compared with says nothing, and must not pass for a dry one.
fn alone(wet: &ReadingRow, others: &[ReadingRow]) -> Option<Judgement> {
    let missing = missing_dry(wet, others)?;
    let problem = format!("{} was taken wet, and {missing}", wet.reading);
    let todo = format!("take {} dry, with the same names of cylinders", dry_of(wet));
    Some(together(Err(Refusal::contradiction("reading", problem, todo))))
}

fn compression(row: &ReadingRow, others: &[ReadingRow], judging: &Judging) -> Option<Judgement> {
    if is_wet(row) {
        return alone(row, others);
    }
    if !is_set(row) {
        return None;
    }
    Some(together(asked(row, others, judging).and_then(|asked| {
        let mut answer = asked.reckon()?;
        let taken: Vec<String> = answer.inputs.iter().map(|input| input.name.clone()).collect();
        let taken: Vec<&str> = taken.iter().map(String::as_str).filter(|name| name.starts_with("cylinder ")).collect();
        answer.said_by(&taken, Standing::Job);
        answer.said_by(&["least", "spread"], Standing::Job);
        tell_unmatched(&mut answer, row, others);
        Ok(answer)
    })))
}

/// The wet reading that goes with a dry one.
fn wet_of<'a>(row: &ReadingRow, others: &'a [ReadingRow]) -> Option<&'a ReadingRow> {
    let key = format!("{}{WET}", row.reading);
    others.iter().find(|other| is_wet(other) && other.reading.as_str() == key && other.taken_n.is_some())
}

/// Says which wet figures belong to no cylinder of the dry reading, and so were left out.
fn tell_unmatched(answer: &mut Answer, row: &ReadingRow, others: &[ReadingRow]) {
    let Some(wet) = wet_of(row, others) else { return };
    let strange: Vec<&str> =
        wet.detail.labels.iter().filter(|label| !row.detail.labels.contains(label)).map(String::as_str).collect();
    let text = if wet.detail.labels.is_empty() {
        format!("{} does not say of which cylinder it is, so it was left out.", wet.reading)
    } else if strange.is_empty() {
        return;
    } else {
        let (strange, known) = (strange.join(", "), row.detail.labels.join(", "));
        format!("{} has figures of {strange}, and {} is of {known}: they were left out.", wet.reading, row.reading)
    };
    answer.conclude_and_ask(Sureness::Certain, text, "The wet reading again, by the names of the dry one.");
}

/// In the order of the labels: one bank, or as somebody says.
fn asked(row: &ReadingRow, others: &[ReadingRow], judging: &Judging) -> Result<Compression, Refusal> {
    let detail = &row.detail;
    let wet = wet_of(row, others);
    let wet_figure = |label: &String| {
        let wet = wet?;
        let at = wet.detail.labels.iter().position(|other| other == label)?;
        wet.figures.get(at).map(|figure| amount(Kind::Pressure, &wet.detail, *figure))
    };
    let cylinder = |(label, figure): (&String, &Measure)| {
        let dry = amount(Kind::Pressure, detail, *figure)?;
        Ok(Cylinder { name: label.clone(), dry, wet: wet_figure(label).transpose()? })
    };
    let bank: Result<Vec<Cylinder>, Refusal> = detail.labels.iter().zip(&row.figures).map(cylinder).collect();
    let least = detail.low.map(|low| amount(Kind::Pressure, detail, low)).transpose()?;
    let spread = detail.spread.map(|spread| share("spread", spread)).transpose()?;
    let banks = banks(row, bank?, &judging.banks)?;
    // A bank of a V engine is not in the books, so who stands beside whom is a guess until somebody says.
    let (ignition, in_order) = (judging.ignition, !judging.banks.is_empty());
    Ok(Compression { banks, ignition, in_order, spread, least, rise: None })
}

/// The cylinders of a reading, bank by bank.
fn banks(row: &ReadingRow, mut all: Vec<Cylinder>, counts: &[usize]) -> Result<Vec<Vec<Cylinder>>, Refusal> {
    if counts.is_empty() {
        return Ok(vec![all]);
    }
    let total = counts.iter().fold(0_usize, |sum, count| sum.saturating_add(*count));
    if total != all.len() || counts.contains(&0) {
        let problem = format!("the banks have {total} cylinders, and {} has {}", row.reading, all.len());
        return Err(Refusal::contradiction(
            "banks",
            problem,
            "say how many each bank has, in the order of the reading",
        ));
    }
    Ok(counts.iter().map(|count| all.drain(..count).collect()).collect())
}

fn share(field: &str, figure: Measure) -> Result<Amount, Refusal> {
    Amount::read(Kind::Share, field, &format!("{figure} %"))
}

/// One judgement a cylinder. A leak that was given as a share is what a supply of 100 would show.
fn leak_down(row: &ReadingRow, judging: &Judging) -> Vec<Judgement> {
    let detail = &row.detail;
    if let Some(refusal) = misheard(row, judging) {
        return vec![together(Err(refusal))];
    }
    let by_share = detail.unit == ReadingUnit::Percent;
    let pairs: Vec<(Measure, Measure)> = if by_share {
        row.figures.iter().map(|leak| (Measure::whole(100), Measure(Measure::whole(100).0 - leak.0))).collect()
    } else {
        row.figures.chunks_exact(2).map(|pair| (pair[0], pair[1])).collect()
    };
    let one = |(at, pair): (usize, (Measure, Measure))| {
        let of = labelled(detail, at);
        let here = judging.heard.iter().filter(|(name, _)| name.is_empty() || of.as_ref() == Some(name));
        let answer = leak(detail, pair, here.map(|(_, heard)| *heard).collect());
        Judgement { of, answer, picture: None }
    };
    pairs.into_iter().enumerate().map(one).collect()
}

/// Why it is not known of which cylinder it is heard.
fn misheard(row: &ReadingRow, judging: &Judging) -> Option<Refusal> {
    let labels = &row.detail.labels;
    let (name, _) = judging.heard.iter().find(|(name, _)| match labels.as_slice() {
        [] => !name.is_empty(),
        [_] => !name.is_empty() && !labels.contains(name),
        _ => !labels.contains(name),
    })?;
    let known = labels.join(", ");
    let (problem, todo) = if labels.is_empty() {
        let problem = format!("{} names no cylinder, and \"{name}\" was said", row.reading);
        (problem, "say only where it is heard, such as tailpipe".to_owned())
    } else if name.is_empty() {
        let problem = format!("{} is of {known}, and nobody says of which cylinder it is heard", row.reading);
        (problem, format!("name the cylinder with the place, such as {}=tailpipe", labels[0]))
    } else {
        (format!("{} has no cylinder \"{name}\"", row.reading), format!("name one of {known}"))
    };
    Some(Refusal::contradiction("heard", problem, todo))
}

fn leak(detail: &ReadingDetail, pair: (Measure, Measure), heard: Vec<Heard>) -> Result<Answer, Refusal> {
    let (supply, cylinder) = pair;
    let by_share = detail.unit == ReadingUnit::Percent;
    let leaks = Measure(supply.0 - cylinder.0);
    if by_share && !(0..=Measure::whole(100).0).contains(&leaks.0) {
        let problem = format!("{leaks} % is no share of what goes in");
        let todo = "take it anew with `leadhand reading record`, from 0 to 100 %";
        return Err(Refusal::contradiction("reading", problem, todo));
    }
    // Only how the two compare counts.
    let gauge = ReadingDetail { unit: if by_share { ReadingUnit::Kilopascal } else { detail.unit }, ..detail.clone() };
    let asked = LeakDown {
        supply: amount(Kind::Pressure, &gauge, supply)?,
        cylinder: amount(Kind::Pressure, &gauge, cylinder)?,
        orifice: None,
        sound: detail.high.map(|sound| share("sound", sound)).transpose()?,
        heard,
    };
    let mut answer = asked.reckon()?;
    if by_share {
        // The job has the leak itself and no pressures.
        answer.inputs.retain(|input| input.name != "supply" && input.name != "cylinder");
        answer.given("leak", &share("leak", leaks)?);
        answer.inputs.rotate_right(1);
    }
    answer.said_by(&["supply", "cylinder", "leak", "sound"], Standing::Job);
    Ok(answer)
}

/// Only heights of points: one figure was judged by whatever method it was measured with.
fn flatness(row: &ReadingRow, pictures: bool) -> Option<Judgement> {
    if row.detail.labels.len() < 2 {
        return None;
    }
    let points = match points(row) {
        Ok(points) => points,
        Err(refusal) => return Some(together(Err(refusal))),
    };
    let picture = if pictures { surface_svg(&points).ok() } else { None };
    let limit = row.detail.high.map(|high| amount(Kind::Length, &row.detail, high)).transpose();
    let answer = limit.and_then(|limit| {
        let within = limit.clone();
        let mut answer = Flatness { points, limit }.reckon()?;
        answer.said_by(&["readings"], Standing::Job);
        answer.said_by(&["limit"], Standing::Job);
        if let Some(limit) = within.filter(|_| row.verdict == Some(Verdict::Out)) {
            tell_range(&mut answer, limit.value());
        }
        Ok(answer)
    });
    Some(Judgement { of: None, answer, picture })
}

/// The job's book holds a face up by the range of its heights as they were read, which a tilt alone makes large; says so
/// where the face itself is flat enough, so that nobody reads two answers.
fn tell_range(answer: &mut Answer, limit_mm: f64) {
    let of = |name: &str| answer.figure(name).map(|figure| figure.value);
    let (Some(zone), Some(range)) = (of("minimum_zone"), of("raw_range")) else { return };
    if zone <= limit_mm + 1e-9 {
        let range = Amount::of(Kind::Length, range);
        let text = format!(
            "The job says that it is out of its limits since its heights lie {range} apart as they were read, which a tilt \
             does as well. Levelled it is within the limit: the lead may accept it by this."
        );
        answer.conclude(Sureness::Certain, text);
    }
}

/// The labels of a grid say where its points are: `90_70`, or `90/70` or `90 70` in a template, is 90 mm along and 70 mm
/// across.
fn points(row: &ReadingRow) -> Result<Vec<Point>, Refusal> {
    let place = |(label, figure): (&String, &Measure)| {
        let parted = label.split_once(['_', '/']).or_else(|| label.trim().split_once(char::is_whitespace));
        let (x, y) = parted.ok_or_else(|| placeless(label))?;
        let coordinate = |text: &str| {
            Amount::read(Kind::Length, "reading", &format!("{} mm", text.trim())).map_err(|_| placeless(label))
        };
        Ok(Point { x: coordinate(x)?, y: coordinate(y)?, z: amount(Kind::Length, &row.detail, *figure)? })
    };
    row.detail.labels.iter().zip(&row.figures).map(place).collect()
}

fn placeless(label: &str) -> Refusal {
    let problem = format!("the point {label} does not say where it is");
    let todo = "name each point by its place in millimetres, along and across, such as 90_70, or use `leadhand reckon \
                flatness` with a grid";
    Refusal::contradiction("reading", problem, todo)
}

fn run_out(row: &ReadingRow) -> Vec<Judgement> {
    let detail = &row.detail;
    let one = |(at, figure): (usize, &Measure)| {
        let answer = run_out_of(detail, *figure);
        Judgement { of: labelled(detail, at), answer, picture: None }
    };
    row.figures.iter().enumerate().map(one).collect()
}

fn run_out_of(detail: &ReadingDetail, figure: Measure) -> Result<Answer, Refusal> {
    let limit = detail.high.map(|high| amount(Kind::Length, detail, high)).transpose()?;
    let mut answer = RunOut { measured: amount(Kind::Length, detail, figure)?, limit, hub: None }.reckon()?;
    answer.said_by(&["measured"], Standing::Job);
    answer.said_by(&["limit"], Standing::Job);
    Ok(answer)
}
