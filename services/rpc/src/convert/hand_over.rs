//! The hand-over list, the sheet and the end of a shift on the wire.

use super::reading::reading;
use super::time::{stamp, timestamp};
use super::{enums, fields, tool};
use leadhand_app::{AppError, HandOver, LooseEnds, Told, Words};
use leadhand_domain::command::Override;
use leadhand_domain::condition;
use leadhand_domain::fill::reckoned;
use leadhand_domain::hand_over::{Line, Subject, told_by_kind};
use leadhand_domain::telling::amount;
use leadhand_domain::view::hand_over::{Gone, LooseJob, Part, Sheet, looked_at_by};
use leadhand_facts::rows::{
    BlockerRow, FluidRow, PositionRow, ReadingRow, RemarkRow, StageRow, StepRow, ToldRow, WayRow,
};
use leadhand_facts::words::{Cause, JobState, Manner, RemarkKind, Renew, StageState, StepState, VehicleState};
use leadhand_facts::{Instant, Measure, PersonId, Quantity, Unit};
use leadhand_proto::v1;
use std::collections::BTreeMap;

/// What comes before everything on a sheet.
const DEFERENCE: &str = "This sheet says what this workshop did, found and measured. The manufacturer's data and \
    instructions, local codes and licensed practice come first; where they ask for more than stands here, they count.";

/// Lines that are overruled, each with its reason.
pub fn overrides(said: Vec<v1::Override>) -> Result<Vec<Override>, AppError> {
    fields::bounded("overrides", &said)?;
    Ok(said.into_iter().map(|one| Override { line: one.line, reason: fields::text_some(one.reason) }).collect())
}

/// What stands against a hand-over.
pub fn list(found: &HandOver) -> v1::CheckHandOverResponse {
    v1::CheckHandOverResponse { lines: found.lines.iter().map(line).collect(), open: found.open, number: found.number }
}

fn line(line: &Line) -> v1::HandOverLine {
    v1::HandOverLine {
        line: line.key(),
        kind: line.kind().to_owned(),
        about: line.about(),
        text: line.to_string(),
        remedy: enums::remedy(line.remedy()),
        todo: line.todo().to_string(),
        advice: line.todo().advice.to_owned(),
        commands: line.todo().commands.iter().map(|command| (*command).to_owned()).collect(),
    }
}

/// A whole sheet.
pub fn sheet(told: &Told<Sheet>) -> v1::GetHandOverSheetResponse {
    let (sheet, words) = (&told.view, &told.words);
    let overruled = sheet.overruled.iter().map(|one| gone(one, told));
    // Who measured is no business of whoever drives the vehicle; who decided is.
    let readings = sheet.readings.readings.iter().map(|row| reading(row, &sheet.readings.readings, words, &told.names));
    let cautions = sheet.cautions.iter();
    let cautions = cautions.map(|one| v1::SheetCaution { word: enums::signal_word(one.word), text: one.text.clone() });
    v1::GetHandOverSheetResponse {
        shop: words.get(sheet.shop).to_owned(),
        job: sheet.job.job.0,
        title: words.either(sheet.job.title.as_deref(), sheet.job.title_text).to_owned(),
        vehicle: words.get(sheet.label).to_owned(),
        plate: words.get(sheet.plate).to_owned(),
        opened_at: Some(timestamp(sheet.job.opened_at)),
        closed_at: stamp(sheet.job.closed_at),
        cancelled: sheet.job.state == JobState::Cancelled,
        stages: sheet.stages.iter().map(|(row, steps)| stage(row, steps, told)).collect(),
        parts: sheet.parts.iter().map(part).collect(),
        fluids: sheet.fluids.iter().map(|row| fluid(row, sheet, words)).collect(),
        positions: sheet.positions.iter().map(|row| position(row, told)).collect(),
        readings: readings.map(|one| v1::Reading { taken_by: String::new(), ..one }).collect(),
        overruled: overruled.collect(),
        remarks: remarks(sheet, words),
        told: sheet.told.iter().map(|row| told_so(row, words)).collect(),
        cautions: cautions.collect(),
        open: sheet
            .open
            .iter()
            .map(|(one, about)| v1::HandOverLine { text: in_words(one, about, words), ..line(one) })
            .collect(),
        deference: DEFERENCE.to_owned(),
        number: told.number,
    }
}

/// A line as somebody reads it who knows no key.
fn in_words(line: &Line, about: &Subject, words: &Words) -> String {
    let name = words.either(about.own.as_deref(), about.text);
    line.told_of(if name.is_empty() { &about.key } else { name })
}

fn gone(one: &Gone, told: &Told<Sheet>) -> v1::SheetOverruled {
    let (kind, about) = one.line.line.split_once(':').unwrap_or((&one.line.line, ""));
    let text = if let Some((line, subject)) = &one.open {
        in_words(line, subject, &told.words)
    } else {
        let name = one.about.as_ref().map(|about| told.words.either(about.own.as_deref(), about.text));
        let name = name.filter(|name| !name.is_empty()).unwrap_or(about);
        format!("{name}: {}", told_by_kind(kind))
    };
    v1::SheetOverruled {
        line: one.line.line.clone(),
        reason: told.words.get(Some(one.line.reason)).to_owned(),
        by: one.line.by.and_then(|by| told.names.get(&by)).cloned().unwrap_or_default(),
        text,
        kind: kind.to_owned(),
    }
}

fn name(told: &Told<Sheet>, person: Option<PersonId>) -> String {
    person.and_then(|person| told.names.get(&person)).cloned().unwrap_or_default()
}

fn stage(row: &StageRow, steps: &[StepRow], told: &Told<Sheet>) -> v1::SheetStage {
    let words = &told.words;
    v1::SheetStage {
        title: words.either(row.title.as_deref(), row.title_text).to_owned(),
        done: row.state == StageState::Finished,
        left_out: words.get(row.reason).to_owned(),
        steps: steps.iter().map(|step| of_step(step, told)).collect(),
        skipped: row.state == StageState::Skipped,
    }
}

fn of_step(row: &StepRow, told: &Told<Sheet>) -> v1::SheetStep {
    let words = &told.words;
    let way = told.view.ways.iter().find(|way| (&way.stage, way.step) == (&row.stage, row.step));
    let by = way.and_then(|way| way.decided_by).and_then(|by| told.names.get(&by));
    v1::SheetStep {
        other_way: way.map(|way| words.get(Some(way.note)).to_owned()).unwrap_or_default(),
        other_way_reason: way.map(|way| words.get(Some(way.reason)).to_owned()).unwrap_or_default(),
        other_way_by: by.cloned().unwrap_or_default(),
        another_way: way.is_some(),
        looked_at_by: name(told, looked_at_by(row)),
        instruction: words.either(row.instruction.as_deref(), row.instruction_text).to_owned(),
        done: row.state == StepState::Done,
        left_out: words.get(row.reason).to_owned(),
        unplanned: row.unplanned,
        skipped: row.state == StepState::Skipped,
        reckoned: reckoned(row).map(|fill| fill.recipe.clone()).unwrap_or_default(),
    }
}

fn part(part: &Part) -> v1::SheetPart {
    v1::SheetPart {
        item: part.item.to_string(),
        name: part.name.clone().unwrap_or_default(),
        amount: amount(part.quantity, part.unit),
    }
}

/// What a fluid was mixed to by its filling that was reckoned and is done, where that is what went in; the last, where there
/// are several.
fn mixed(row: &FluidRow, sheet: &Sheet) -> Option<String> {
    let done = sheet.stages.iter().flat_map(|(_, steps)| steps).filter(|step| step.state == StepState::Done);
    let fills = done.filter_map(|step| step.safety.fill.as_ref()).filter(|fill| fill.fluid == row.fluid);
    let last = fills.filter_map(|fill| fill.reckoned.as_ref()).rfind(|own| own.mixture.is_some())?;
    // What went in otherwise is mixed to what nobody measured.
    let mixture = last.mixture.filter(|_| last.is_in(row.filled_ml) && last.gainsaid.is_empty())?;
    // A tenth of a per cent is as fine as it is shown where it is reckoned.
    let tenths = (mixture.whole.0 + Measure::ONE / 20) / (Measure::ONE / 10);
    let whole = Measure(tenths * (Measure::ONE / 10));
    let freezes = mixture.freezes.map(|celsius| format!(", liquid down to {celsius} °C")).unwrap_or_default();
    Some(format!("{whole} % by volume{freezes}"))
}

fn fluid(row: &FluidRow, sheet: &Sheet, words: &Words) -> v1::SheetFluid {
    let told = |millilitres: i64| amount(Quantity(millilitres), Some(Unit::Millilitre));
    v1::SheetFluid {
        what: row.what.clone().unwrap_or_else(|| row.fluid.to_string()),
        drained: told(row.drained_ml),
        filled: told(row.filled_ml),
        note: words.get(row.note).to_owned(),
        mixed: mixed(row, sheet).unwrap_or_default(),
    }
}

fn position(row: &PositionRow, told: &Told<Sheet>) -> v1::SheetPosition {
    let words = &told.words;
    let tried = told.view.attempts.iter().filter(|one| one.position == row.position);
    v1::SheetPosition {
        repair: words.get(row.repair).to_owned(),
        attempts: tried.map(|one| format!("{} {}", one.pieces, one.outcome.word().replace('-', " "))).collect(),
        looked_at_by: name(told, row.checked_by),
        what: words.either(row.what.as_deref(), row.what_text).to_owned(),
        missing: row.missing,
        damaged: row.damaged,
        unplanned: row.unplanned,
        renewed: row.renewed,
        left_out: row.left_out,
        kept: row.kept,
        always_renewed: row.detail.renew == Renew::Always,
        note: words.get(row.note).to_owned(),
        reason: words.get(row.reason).to_owned(),
    }
}

/// What was said, then what steps leave to be watched.
fn remarks(sheet: &Sheet, words: &Words) -> Vec<v1::SheetRemark> {
    let said = sheet.remarks.iter().map(|row: &RemarkRow| v1::SheetRemark {
        remark: row.remark.0,
        what: enums::remark_kind(row.what),
        words: words.get(Some(row.words)).to_owned(),
    });
    let watched = sheet.follow_ups.iter().map(|text| v1::SheetRemark {
        remark: 0,
        what: enums::remark_kind(RemarkKind::FollowUp),
        words: text.clone(),
    });
    said.chain(watched).collect()
}

fn told_so(row: &ToldRow, words: &Words) -> v1::SheetTold {
    v1::SheetTold {
        told_at: Some(timestamp(row.told_at)),
        words: words.get(Some(row.words)).to_owned(),
        promised_at: stamp(row.promised_at),
    }
}

/// What is open at the end of a shift.
pub fn loose_ends(told: &Told<LooseEnds>) -> v1::GetLooseEndsResponse {
    let jobs = told.view.jobs.iter().map(|job| loose_job(job, &told.words)).collect();
    let overdue_tools = told.view.tools.iter().map(|line| tool::line(line, &told.words)).collect();
    v1::GetLooseEndsResponse { jobs, number: told.number, overdue_tools }
}

fn loose_job(job: &LooseJob, words: &Words) -> v1::LooseJob {
    v1::LooseJob {
        bay: job.bay.as_ref().map(ToString::to_string).unwrap_or_default(),
        job: job.job.job.0,
        vehicle: words.get(job.label).to_owned(),
        title: words.either(job.job.title.as_deref(), job.job.title_text).to_owned(),
        half_done: job.half_done.iter().map(|(stage, steps)| half_done(stage, steps, words)).collect(),
        loose: job.loose.iter().map(|row| loose(row, words)).collect(),
        still_in: job.still_in.iter().map(|row| still_in(row, words)).collect(),
        readings: job.readings.iter().map(|row| held_by(row, words)).collect(),
        kept: kept(&job.kept, words),
        calls: held(job, words, |cause| cause == Cause::Safety),
        blockers: held(job, words, |cause| cause != Cause::Safety),
        states: job.states.iter().map(|state| odd(*state)).collect(),
        fluids: job.fluids.iter().map(not_full).collect(),
        soaking: job.soaking.iter().map(|row| thing(row, row.soak_until, words)).collect(),
        curing: job.curing.iter().map(|(row, until)| thing(row, Some(*until), words)).collect(),
        ways: job.ways.iter().map(|row| way(row, words)).collect(),
        live: job.live.iter().map(|(state, rows)| live(*state, rows, words)).collect(),
    }
}

fn held(job: &LooseJob, words: &Words, which: impl Fn(Cause) -> bool) -> Vec<String> {
    job.blockers.iter().filter(|row| which(row.cause)).map(|row| blocker(row, words)).collect()
}

fn what<'a>(row: &'a PositionRow, words: &'a Words) -> &'a str {
    words.either(row.what.as_deref(), row.what_text)
}

fn half_done(stage: &StageRow, steps: &[StepRow], words: &Words) -> String {
    let title = words.either(stage.title.as_deref(), stage.title_text);
    match steps {
        [] => format!("{title}: every step is done, not finished yet"),
        [next, rest @ ..] => {
            let next = words.either(next.instruction.as_deref(), next.instruction_text);
            let more = if rest.is_empty() { String::new() } else { format!(", and {} after that", rest.len()) };
            format!("{title}: next is \u{201c}{next}\u{201d}{more}")
        }
    }
}

fn loose(row: &PositionRow, words: &Words) -> String {
    let how = row.tightness.map(|tightness| tightness.to_string()).unwrap_or_default();
    format!("{} ({}): only {how}", what(row, words), row.position)
}

fn still_in(row: &PositionRow, words: &Words) -> String {
    let pieces = leadhand_domain::strip::pieces_left(row);
    format!("{} ({}): {pieces} still in", what(row, words), row.position)
}

/// `fuel-pressure live while Rail, Rail bolts are off, still in, not tight or curing`.
fn live(state: VehicleState, rows: &[PositionRow], words: &Words) -> String {
    let names: Vec<&str> = rows.iter().map(|row| what(row, words)).collect();
    let are = if names.len() == 1 { "is" } else { "are" };
    format!("{state} while {} {are} off, still in, not tight or curing", names.join(", "))
}

fn way(row: &WayRow, words: &Words) -> String {
    let (note, reason) = (words.get(Some(row.note)), words.get(Some(row.reason)));
    format!("step {} of stage {}: {note}, because {reason}", row.step, row.stage)
}

fn thing(row: &PositionRow, until: Option<Instant>, words: &Words) -> v1::SoakingThing {
    let what = format!("{} ({})", what(row, words), row.position);
    v1::SoakingThing { what, until: until.map(timestamp) }
}

fn held_by(row: &ReadingRow, words: &Words) -> String {
    let what = words.either(row.what.as_deref(), row.what_text);
    let off: Vec<String> = row.off_limits.iter().map(|off| leadhand_domain::reading::told(&row.detail, *off)).collect();
    format!("{what} ({}): {}", row.reading, off.join("; "))
}

fn blocker(row: &BlockerRow, words: &Words) -> String {
    let note = words.get(row.note);
    let reading = row.reading.as_ref().map(|reading| format!(", reading {reading} is out of its limits"));
    let item = row.item.as_ref().map(|item| format!(", {item} is missing"));
    let tool = row.tool.as_ref().map(|tool| format!(", another job has shared tool {tool}"));
    let more = reading.or(item).or(tool);
    let more = more.unwrap_or_else(|| if note.is_empty() { String::new() } else { format!(", {note}") });
    let cause = match row.cause {
        Cause::Safety => "NOT SAFE, it waits for the lead".to_owned(),
        cause => cause.word().replace('-', " "),
    };
    format!("stage {}: {cause}{more}", row.stage)
}

/// `battery isolated; it goes connected`.
fn odd(state: VehicleState) -> String {
    match state.feature().rest() {
        Some(rest) => format!("{state}; it goes {}", rest.value()),
        None => state.to_string(),
    }
}

fn not_full(row: &FluidRow) -> String {
    let told = |millilitres: i64| amount(Quantity(millilitres), Some(Unit::Millilitre));
    let name = row.what.clone().unwrap_or_else(|| row.fluid.to_string());
    let left = condition::still_in(row).map(|left| format!(", {} did not come out and are still in", told(left)));
    let left = left.unwrap_or_default();
    format!("{name}: {} out, {} back in{left}", told(row.drained_ml), told(row.filled_ml))
}

/// What is off, by where it is kept. Nobody said where: that is said as well.
fn kept(rows: &[PositionRow], words: &Words) -> Vec<v1::KeptThings> {
    let mut places: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for row in rows {
        let at = words.get(row.kept_at);
        let how = row.keep.map(|keep| keep.word().replace('-', " "));
        let place = match (how, at.is_empty()) {
            (Some(how), true) => how,
            (Some(how), false) => format!("{how}: {at}"),
            (None, false) => at.to_owned(),
            (None, true) if row.detail.manner == Manner::Aside => "moved aside, where it hangs".to_owned(),
            (None, true) => "nobody said where".to_owned(),
        };
        // Where places were empty before, less lies there than goes back.
        let left = leadhand_domain::strip::pieces_left(row);
        if left > 0 {
            let mut thing = format!("{left} \u{d7} {}", what(row, words));
            // Whoever takes over fits it by what was seen when it came off.
            let repair = words.get(row.repair);
            let repaired = if repair.is_empty() { String::new() } else { format!("repaired before: {repair}") };
            let said = [words.get(row.note), repaired.as_str()].into_iter().filter(|said| !said.is_empty());
            let said = said.collect::<Vec<_>>().join("; ");
            if !said.is_empty() {
                thing = format!("{thing} ({said})");
            }
            places.entry(place).or_default().push(thing);
        }
    }
    places.into_iter().map(|(place, things)| v1::KeptThings { place, things }).collect()
}
