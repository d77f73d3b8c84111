//! A hand-over sheet for the terminal.

use super::reading_text::{decided, figures, outcome};
use super::sheet::{Head, SIGNATURES, found, left_out, remarks, renewed};
use crate::out::clean;
use crate::words::word;
use leadhand_sdk::v1::{GetHandOverSheetResponse, RemarkKind, SignalWord};
use std::fmt::Write;

/// The sheet as text. Parts without anything are left out.
pub fn render(sheet: &GetHandOverSheetResponse, head: &Head) -> String {
    let mut text = String::new();
    let _ = writeln!(text, "{}\nHand-over sheet, job {}: {}", clean(&sheet.shop), sheet.job, clean(&sheet.title));
    let plate = if sheet.plate.is_empty() { String::new() } else { format!(", {}", clean(&sheet.plate)) };
    let _ = writeln!(text, "Vehicle: {}{plate}", clean(&sheet.vehicle));
    let closed = match (head.closed.is_empty(), sheet.cancelled) {
        (true, _) => "still open: a draft".to_owned(),
        (false, true) => format!("called off {}", head.closed),
        (false, false) => format!("handed over {}", head.closed),
    };
    let _ = writeln!(text, "Opened {}, {closed}", head.opened);
    part(&mut text, "Not as it has to be", sheet.open.iter().map(|line| line.text.clone()));
    let declined = remarks(sheet, RemarkKind::AdviceDeclined).into_iter().map(str::to_owned);
    part(&mut text, "SAFETY ADVICE NOT TAKEN", declined);
    let cautions = sheet.cautions.iter().map(|one| format!("{}: {}", word::<SignalWord>(one.word), one.text));
    part(&mut text, "Mind", cautions);
    let watch = remarks(sheet, RemarkKind::FollowUp).into_iter().map(str::to_owned);
    part(&mut text, "Still to watch", watch);
    part(
        &mut text,
        "Done",
        sheet.stages.iter().filter(|stage| !stage.skipped).flat_map(|stage| {
            let mark = if stage.done { "" } else { " (not finished)" };
            let steps = stage.steps.iter().filter(|step| step.done).map(|step| format!("  - {}", step.instruction));
            std::iter::once(format!("{}{mark}", stage.title)).chain(steps).collect::<Vec<_>>()
        }),
    );
    let parts = sheet.parts.iter();
    part(&mut text, "Parts and fluids", parts.map(|one| format!("{}: {}", one.amount, name(&one.name, &one.item))));
    part(&mut text, "Renewed", sheet.positions.iter().filter_map(renewed));
    part(&mut text, "Found", sheet.positions.iter().filter_map(found));
    part(
        &mut text,
        "Measured",
        sheet.readings.iter().flat_map(|one| {
            let limits = if one.limits.is_empty() { String::new() } else { format!("; limits: {}", one.limits) };
            let with = if one.instrument.is_empty() { String::new() } else { format!("; with {}", one.instrument) };
            let note = if one.note.is_empty() { String::new() } else { format!("; {}", one.note) };
            let first = format!("{}: {}{limits}; {}{with}{note}", one.what, figures(one), outcome(one));
            let decision = Some(decided(one)).filter(|said| !said.is_empty()).map(|said| format!("  decided: {said}"));
            std::iter::once(first).chain(decision).collect::<Vec<_>>()
        }),
    );
    part(&mut text, "Left out", left_out(sheet).into_iter());
    part(
        &mut text,
        "Overruled by the lead",
        sheet.overruled.iter().map(|one| format!("{}: {} ({})", one.line, one.reason, one.by)),
    );
    let _ = writeln!(text, "\n{}", clean(&sheet.deference));
    for sign in SIGNATURES {
        let _ = writeln!(text, "\n{sign}, date: ______________________________");
    }
    text
}

/// What an item is called, else its key.
pub fn name<'a>(name: &'a str, item: &'a str) -> &'a str {
    if name.is_empty() { item } else { name }
}

fn part(text: &mut String, title: &str, lines: impl Iterator<Item = String>) {
    let mut lines = lines.peekable();
    if lines.peek().is_none() {
        return;
    }
    let _ = writeln!(text, "\n{title}");
    for line in lines {
        let _ = writeln!(text, "  {}", clean(&line));
    }
}

#[cfg(test)]
mod tests {
    use super::super::sheet::tests::{full, head};
    use super::*;

    #[test]
    fn nothing_in_a_sheet_speaks_to_the_terminal() {
        let text = render(&full("a\u{1b}[31mb\nc"), &head());
        assert!(!text.contains('\u{1b}'), "{text}");
        for title in ["SAFETY ADVICE NOT TAKEN", "Still to watch", "Done", "Found", "Measured", "Overruled by the lead"]
        {
            assert!(text.contains(&format!("\n{title}\n")), "{title} is not there: {text}");
        }
        assert!(text.contains("OUT OF LIMITS") && text.contains("accepted by"), "{text}");
    }

    #[test]
    fn an_empty_sheet_is_a_draft_without_empty_parts() {
        let open = Head { opened: "2031-03-03 08:00".into(), closed: String::new() };
        let text = render(&GetHandOverSheetResponse::default(), &open);
        assert!(text.contains("still open: a draft"), "{text}");
        assert!(!text.contains("Measured") && !text.contains("Found") && text.contains("Received by"), "{text}");
    }
}
