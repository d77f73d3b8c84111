//! `leadhand job sheet`: what a customer takes home in writing.

use super::{sheet_html, sheet_text};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::out;
use clap::{Args, ValueEnum};
use leadhand_sdk::v1::{
    GetHandOverSheetRequest, GetHandOverSheetResponse, RemarkKind, SheetFluid, SheetOverruled, SheetPosition,
    SheetStage, SheetStep,
};
use std::path::{Path, PathBuf};

/// The form of a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Form {
    /// For the terminal
    Text,
    /// A page by itself, for the screen and for paper
    Html,
}

/// Which sheet, and where it goes.
#[derive(Debug, Args)]
pub struct Sheet {
    /// The job's number
    job: i64,
    /// The form of the sheet
    #[arg(long, value_enum, default_value_t = Form::Text)]
    format: Form,
    /// Write it into this file, which must not be there yet
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Runs it.
pub async fn run(app: &App, asked: Sheet) -> Outcome {
    let sheet = app.client.get_hand_over_sheet(GetHandOverSheetRequest { job: asked.job }).await?;
    if app.out.is_json() {
        return out::json(&sheet);
    }
    let zone = app.zone().await?;
    let head = Head {
        opened: moment::show(sheet.opened_at.as_ref(), zone),
        closed: moment::show(sheet.closed_at.as_ref(), zone),
    };
    let text = match asked.format {
        Form::Text => sheet_text::render(&sheet, &head),
        Form::Html => sheet_html::render(&sheet, &head),
    };
    match &asked.out {
        None if matches!(asked.format, Form::Text) => out::line(text.trim_end_matches('\n')),
        None => out::put(&text),
        Some(path) => {
            write(path, &text)?;
            out::note(&format!("the sheet of job {} is in {}", asked.job, path.display()));
            Ok(())
        }
    }
}

fn write(path: &Path, text: &str) -> Outcome {
    let failed = |error: std::io::Error| {
        let cure = "choose another file, or take that one away";
        Failure::Usage(format!("the sheet can't be written to {}: {error}; {cure}", path.display()))
    };
    let mut file = std::fs::File::create_new(path).map_err(failed)?;
    std::io::Write::write_all(&mut file, text.as_bytes()).map_err(failed)
}

/// Times on the shop's clock.
pub struct Head {
    /// When the job was opened.
    pub opened: String,
    /// When it was closed; empty while it is open.
    pub closed: String,
}

/// The remarks of a kind.
pub fn remarks(sheet: &GetHandOverSheetResponse, what: RemarkKind) -> Vec<&str> {
    sheet.remarks.iter().filter(|remark| remark.what() == what).map(|remark| remark.words.as_str()).collect()
}

/// What was found at a position; nothing when it was as it should be.
pub fn found(one: &SheetPosition) -> Option<String> {
    let mut said = Vec::new();
    for (count, what) in [(one.missing, "missing before we began"), (one.damaged, "damaged")] {
        if count > 0 {
            said.push(format!("{count} {what}"));
        }
    }
    if one.unplanned {
        said.push("not foreseen".to_owned());
    }
    if !one.attempts.is_empty() {
        let tries = if one.attempts.len() == 1 { "once".to_owned() } else { format!("{} times", one.attempts.len()) };
        said.push(format!("would not move, tried {tries}: {}", one.attempts.join(", then ")));
    }
    if !one.repair.is_empty() {
        said.push(format!("repaired before: {}", one.repair));
    }
    if said.is_empty() {
        return None;
    }
    let note = if one.note.is_empty() { String::new() } else { format!(" ({})", one.note) };
    Some(format!("{}: {}{note}", one.what, said.join(", ")))
}

/// What came out and went in of each fluid.
pub fn fluids(sheet: &GetHandOverSheetResponse) -> Vec<String> {
    let said = |one: &SheetFluid| {
        let note = if one.note.is_empty() { String::new() } else { format!(" ({})", one.note) };
        let mixed = if one.mixed.is_empty() { String::new() } else { format!(", reckoned to {}", one.mixed) };
        format!("{}: {} came out, {} went in{mixed}{note}", one.what, one.drained, one.filled)
    };
    sheet.fluids.iter().map(said).collect()
}

/// What was renewed at a position.
pub fn renewed(one: &SheetPosition) -> Option<String> {
    let always = if one.always_renewed { ", always renewed at this work" } else { "" };
    (one.renewed > 0).then(|| format!("{}: {} new{always}", one.what, one.renewed))
}

/// What a second person looked at, and who that was.
pub fn looked_at(sheet: &GetHandOverSheetResponse) -> Vec<String> {
    let steps = sheet.stages.iter().flat_map(|stage| &stage.steps);
    let steps = steps.map(|step| (&step.instruction, &step.looked_at_by));
    let positions = sheet.positions.iter().map(|one| (&one.what, &one.looked_at_by));
    let all = steps.chain(positions).filter(|(_, by)| !by.is_empty());
    // What a step says is a sentence, and ends before the colon.
    all.map(|(what, by)| format!("{}: looked at by {by}", what.trim_end().trim_end_matches('.'))).collect()
}

/// What was open when the vehicle went, who overruled it, and why.
pub fn overruled(sheet: &GetHandOverSheetResponse) -> Vec<String> {
    let said = |one: &SheetOverruled| {
        let what = if one.text.is_empty() { &one.line } else { &one.text };
        let by = if one.by.is_empty() { "the lead" } else { &one.by };
        let why = if one.reason.is_empty() { "no reason is kept" } else { &one.reason };
        format!("{what}. Overruled by {by}: {why}")
    };
    sheet.overruled.iter().map(said).collect()
}

/// The stages of which something was done, each with how far it came; one that was left out half-way as well.
pub fn done(sheet: &GetHandOverSheetResponse) -> impl Iterator<Item = (&SheetStage, &'static str)> {
    let any = |stage: &SheetStage| !stage.skipped || stage.steps.iter().any(|step| step.done);
    sheet.stages.iter().filter(move |stage| any(stage)).map(|stage| {
        let mark = match (stage.skipped, stage.done) {
            (true, _) => " (the rest was left out)",
            (false, false) => " (not finished)",
            (false, true) => "",
        };
        (stage, mark)
    })
}

/// How a step was done where that was not the book's way.
pub fn other_way(step: &SheetStep) -> Option<String> {
    let kept = |words: &str| if words.is_empty() { "(the words are not kept)".to_owned() } else { words.to_owned() };
    step.another_way.then(|| {
        let by = if step.other_way_by.is_empty() { "a lead" } else { &step.other_way_by };
        format!(
            "done in another way: {}; because {}; approved by {by}",
            kept(&step.other_way),
            kept(&step.other_way_reason)
        )
    })
}

/// What went in, where that was reckoned: the amounts in the step's own words do not count then.
pub fn reckoned(step: &SheetStep) -> Option<String> {
    let told = format!("reckoned for this job: {}", step.reckoned);
    (!step.reckoned.is_empty()).then_some(told)
}

/// What was left out, with its reason.
pub fn left_out(sheet: &GetHandOverSheetResponse) -> Vec<String> {
    let why = |reason: &str| if reason.is_empty() { "no reason is kept".to_owned() } else { reason.to_owned() };
    let mut all = Vec::new();
    for stage in &sheet.stages {
        if stage.skipped {
            all.push(format!("{}: {}", stage.title, why(&stage.left_out)));
            continue;
        }
        let steps = stage.steps.iter().filter(|step| step.skipped);
        all.extend(steps.map(|step| format!("{}: {}", step.instruction, why(&step.left_out))));
    }
    let positions = sheet.positions.iter().filter(|one| one.left_out > 0);
    all.extend(
        positions.map(|one| format!("{}: {} place(s) left empty: {}", one.what, one.left_out, why(&one.reason))),
    );
    let kept = sheet.positions.iter().filter(|one| one.kept > 0);
    all.extend(kept.map(|one| {
        format!("{}: {} piece(s) neither back in nor thrown away: {}", one.what, one.kept, why(&one.reason))
    }));
    all
}

/// What stands above what is open: whoever tows away a vehicle that is apart has to read it first.
pub fn open_title(sheet: &GetHandOverSheetResponse) -> &'static str {
    if sheet.cancelled { "Called off, and not whole: not to be driven" } else { "Not as it has to be" }
}

/// What is above what a lead overruled: the vehicle has gone with it, or it stands so far.
pub fn overruled_title(sheet: &GetHandOverSheetResponse) -> &'static str {
    let open = sheet.closed_at.is_none() && !sheet.cancelled;
    if open {
        "Overruled so far, on the lead\u{2019}s word"
    } else {
        "Open when the vehicle went, on the lead\u{2019}s word"
    }
}

/// What it is called.
pub fn title(sheet: &GetHandOverSheetResponse) -> &'static str {
    if sheet.cancelled { "Sheet of a job that was called off" } else { "Hand-over sheet" }
}

/// Signs under the sheet.
pub const SIGNATURES: [&str; 2] = ["For the workshop", "Received by"];

#[cfg(test)]
pub mod tests {
    use super::*;
    use leadhand_sdk::v1::{
        HandOverLine, Reading, ReadingDetail, SheetCaution, SheetPart, SheetRemark, SignalWord, Verdict,
    };

    /// A sheet with something in every part; each text is hostile.
    pub fn full(text: &str) -> GetHandOverSheetResponse {
        let t = || text.to_owned();
        let (other_way, other_way_reason, other_way_by) = (t(), t(), t());
        let step = SheetStep {
            instruction: t(),
            done: true,
            another_way: true,
            other_way,
            other_way_reason,
            other_way_by,
            looked_at_by: t(),
            ..SheetStep::default()
        };
        let skipped = SheetStep { instruction: t(), left_out: t(), skipped: true, ..SheetStep::default() };
        let position = SheetPosition {
            what: t(),
            missing: 1,
            damaged: 1,
            unplanned: true,
            renewed: 2,
            left_out: 1,
            always_renewed: true,
            kept: 1,
            note: t(),
            reason: t(),
            repair: t(),
            attempts: vec![t()],
            looked_at_by: t(),
        };
        GetHandOverSheetResponse {
            shop: t(),
            job: 7,
            title: t(),
            vehicle: t(),
            plate: t(),
            stages: vec![SheetStage { title: t(), done: true, steps: vec![step, skipped], ..SheetStage::default() }],
            parts: vec![SheetPart { item: t(), name: t(), amount: t() }],
            positions: vec![position],
            readings: vec![reading(text)],
            overruled: vec![SheetOverruled { line: t(), reason: t(), by: t(), text: t(), kind: t() }],
            remarks: vec![
                SheetRemark { remark: 1, what: RemarkKind::FollowUp.into(), words: t() },
                SheetRemark { remark: 2, what: RemarkKind::AdviceDeclined.into(), words: t() },
            ],
            cautions: vec![SheetCaution { word: SignalWord::Warning.into(), text: t() }],
            open: vec![HandOverLine { line: t(), text: t(), ..HandOverLine::default() }],
            deference: t(),
            ..GetHandOverSheetResponse::default()
        }
    }

    /// A reading out of its limits, with every text.
    fn reading(text: &str) -> Reading {
        let t = || text.to_owned();
        Reading {
            reading: "key".into(),
            what: t(),
            detail: Some(ReadingDetail { unit: t(), ..ReadingDetail::default() }),
            slots: vec![t()],
            limits: t(),
            figures: vec![t()],
            derived: vec![t()],
            verdict: Verdict::Out.into(),
            off: vec![t()],
            instrument: t(),
            note: t(),
            decision: leadhand_sdk::v1::Decision::Accept.into(),
            reason: t(),
            decided_by: t(),
            ..Reading::default()
        }
    }

    pub fn head() -> Head {
        Head { opened: "2031-03-03 08:00".into(), closed: "2031-03-04 16:00".into() }
    }

    #[test]
    fn what_is_told_of_a_position_is_what_was_not_as_it_should_be() {
        let plain = SheetPosition { what: "Airbox".into(), ..SheetPosition::default() };
        assert_eq!((found(&plain), renewed(&plain)), (None, None));
        let stud = SheetPosition {
            attempts: vec!["1 not moved".into(), "1 broken".into()],
            repair: "an insert".into(),
            ..plain.clone()
        };
        let told = "Airbox: would not move, tried 2 times: 1 not moved, then 1 broken, repaired before: an insert";
        assert_eq!(found(&stud).unwrap(), told);
        let nuts = SheetPosition { missing: 1, damaged: 2, renewed: 3, note: "two stripped".into(), ..plain };
        assert_eq!(found(&nuts).unwrap(), "Airbox: 1 missing before we began, 2 damaged (two stripped)");
        assert_eq!(renewed(&nuts).unwrap(), "Airbox: 3 new");
    }

    #[test]
    fn what_was_overruled_says_what_was_open_who_overruled_it_and_why() {
        let gone = SheetOverruled {
            line: "places:airbox".into(),
            text: "Airbox: 0 of 1 place(s) refitted, renewed or left out".into(),
            reason: "on order".into(),
            by: "Wren".into(),
            ..SheetOverruled::default()
        };
        let erased = SheetOverruled { reason: String::new(), by: String::new(), ..gone.clone() };
        let sheet = GetHandOverSheetResponse { overruled: vec![gone, erased], ..GetHandOverSheetResponse::default() };
        assert_eq!(
            overruled(&sheet),
            [
                "Airbox: 0 of 1 place(s) refitted, renewed or left out. Overruled by Wren: on order",
                "Airbox: 0 of 1 place(s) refitted, renewed or left out. Overruled by the lead: no reason is kept",
            ]
        );
    }

    #[test]
    fn whoever_looked_as_a_second_person_is_named() {
        let step =
            SheetStep { instruction: "Wheels tight.".into(), looked_at_by: "Moss".into(), ..SheetStep::default() };
        let stages = vec![SheetStage { steps: vec![step, SheetStep::default()], ..SheetStage::default() }];
        let nuts = SheetPosition { what: "Nuts".into(), looked_at_by: "Wren".into(), ..SheetPosition::default() };
        let sheet = GetHandOverSheetResponse { stages, positions: vec![nuts], ..GetHandOverSheetResponse::default() };
        assert_eq!(looked_at(&sheet), ["Wheels tight: looked at by Moss", "Nuts: looked at by Wren"]);
    }

    #[test]
    fn a_stage_that_was_left_out_half_way_does_not_hide_what_was_done() {
        let step = SheetStep { instruction: "Covers in".into(), done: true, ..SheetStep::default() };
        let half = SheetStage { title: "Refit".into(), skipped: true, steps: vec![step], ..SheetStage::default() };
        let none = SheetStage { title: "Prove".into(), skipped: true, ..SheetStage::default() };
        let sheet = GetHandOverSheetResponse { stages: vec![half, none], ..GetHandOverSheetResponse::default() };
        let told: Vec<(&str, &str)> = done(&sheet).map(|(stage, mark)| (stage.title.as_str(), mark)).collect();
        assert_eq!(told, [("Refit", " (the rest was left out)")]);
    }

    #[test]
    fn a_file_that_is_there_is_not_written_over() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("sheet.html");
        write(&path, "one").unwrap();
        assert!(matches!(write(&path, "two"), Err(Failure::Usage(why)) if why.contains("sheet.html")));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "one");
    }
}
