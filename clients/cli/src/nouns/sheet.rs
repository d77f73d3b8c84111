//! `leadhand job sheet`: what a customer takes home in writing.

use super::{sheet_html, sheet_text};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::out;
use clap::{Args, ValueEnum};
use leadhand_sdk::v1::{GetHandOverSheetRequest, GetHandOverSheetResponse, RemarkKind, SheetPosition};
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
    if said.is_empty() {
        return None;
    }
    let note = if one.note.is_empty() { String::new() } else { format!(" ({})", one.note) };
    Some(format!("{}: {}{note}", one.what, said.join(", ")))
}

/// What was renewed at a position.
pub fn renewed(one: &SheetPosition) -> Option<String> {
    let always = if one.always_renewed { ", always renewed at this work" } else { "" };
    (one.renewed > 0).then(|| format!("{}: {} new{always}", one.what, one.renewed))
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
    all
}

/// Signs under the sheet.
pub const SIGNATURES: [&str; 2] = ["For the workshop", "Received by"];

#[cfg(test)]
pub mod tests {
    use super::*;
    use leadhand_sdk::v1::{
        HandOverLine, Reading, ReadingDetail, SheetCaution, SheetOverruled, SheetPart, SheetRemark, SheetStage,
        SheetStep, SignalWord, Verdict,
    };

    /// A sheet with something in every part; each text is hostile.
    pub fn full(text: &str) -> GetHandOverSheetResponse {
        let t = || text.to_owned();
        let step = SheetStep { instruction: t(), done: true, ..SheetStep::default() };
        let skipped = SheetStep { instruction: t(), left_out: t(), skipped: true, ..SheetStep::default() };
        let reading = Reading {
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
        };
        let position = SheetPosition {
            what: t(),
            missing: 1,
            damaged: 1,
            unplanned: true,
            renewed: 2,
            left_out: 1,
            always_renewed: true,
            note: t(),
            reason: t(),
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
            readings: vec![reading],
            overruled: vec![SheetOverruled { line: t(), reason: t(), by: t() }],
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

    pub fn head() -> Head {
        Head { opened: "2031-03-03 08:00".into(), closed: "2031-03-04 16:00".into() }
    }

    #[test]
    fn what_is_told_of_a_position_is_what_was_not_as_it_should_be() {
        let plain = SheetPosition { what: "Airbox".into(), ..SheetPosition::default() };
        assert_eq!((found(&plain), renewed(&plain)), (None, None));
        let nuts = SheetPosition { missing: 1, damaged: 2, renewed: 3, note: "two stripped".into(), ..plain };
        assert_eq!(found(&nuts).unwrap(), "Airbox: 1 missing before we began, 2 damaged (two stripped)");
        assert_eq!(renewed(&nuts).unwrap(), "Airbox: 3 new");
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
