//! A hand-over sheet for the terminal.

use super::reading_text::{concluded, decided, figures, outcome};
use super::sheet::{
    Head, SIGNATURES, done, fluids, found, left_out, looked_at, open_title, other_way, overruled, overruled_title,
    reckoned, remarks, renewed, title,
};
use crate::out::clean;
use crate::words::word;
use leadhand_sdk::v1::{GetHandOverSheetResponse, RemarkKind, SignalWord};
use std::fmt::Write;

/// The sheet as text. Parts without anything are left out.
pub fn render(sheet: &GetHandOverSheetResponse, head: &Head) -> String {
    let mut text = String::new();
    let (shop, what) = (clean(&sheet.shop), clean(&sheet.title));
    let _ = writeln!(text, "{shop}\n{}, job {}: {what}", title(sheet), sheet.job);
    let plate = if sheet.plate.is_empty() { String::new() } else { format!(", {}", clean(&sheet.plate)) };
    let _ = writeln!(text, "Vehicle: {}{plate}", clean(&sheet.vehicle));
    let closed = match (head.closed.is_empty(), sheet.cancelled) {
        (true, _) => "still open: a draft".to_owned(),
        (false, true) => format!("called off {}", head.closed),
        (false, false) => format!("handed over {}", head.closed),
    };
    let _ = writeln!(text, "Opened {}, {closed}", head.opened);
    framed(&mut text, &open_title(sheet).to_uppercase(), sheet.open.iter().map(|line| line.text.clone()));
    let gone = overruled_title(sheet).replace('\u{2019}', "'").to_uppercase();
    framed(&mut text, &gone, overruled(sheet).into_iter());
    let declined = remarks(sheet, RemarkKind::AdviceDeclined).into_iter().map(str::to_owned);
    framed(&mut text, "SAFETY ADVICE NOT TAKEN", declined);
    let cautions = sheet.cautions.iter().map(|one| format!("{}: {}", word::<SignalWord>(one.word), one.text));
    part(&mut text, "Mind", cautions);
    let watch = remarks(sheet, RemarkKind::FollowUp).into_iter().map(str::to_owned);
    part(&mut text, "Still to watch", watch);
    part(
        &mut text,
        "Done",
        done(sheet).flat_map(|(stage, mark)| {
            let steps = stage.steps.iter().filter(|step| step.done).flat_map(|step| {
                let own = std::iter::once(format!("  - {}", step.instruction));
                let own = own.chain(reckoned(step).map(|told| format!("    {told}")));
                own.chain(other_way(step).map(|way| format!("    {way}")))
            });
            std::iter::once(format!("{}{mark}", stage.title)).chain(steps).collect::<Vec<_>>()
        }),
    );
    let parts = sheet.parts.iter();
    part(&mut text, "From stock", parts.map(|one| format!("{}: {}", one.amount, name(&one.name, &one.item))));
    part(&mut text, "Fluids", fluids(sheet).into_iter());
    part(&mut text, "Renewed", sheet.positions.iter().filter_map(renewed));
    part(&mut text, "Found", sheet.positions.iter().filter_map(found));
    part(&mut text, "Looked at by a second person", looked_at(sheet).into_iter());
    part(
        &mut text,
        "Measured",
        sheet.readings.iter().flat_map(|one| {
            let limits = if one.limits.is_empty() { String::new() } else { format!("; limits: {}", one.limits) };
            let with = if one.instrument.is_empty() { String::new() } else { format!("; with {}", one.instrument) };
            let note = if one.note.is_empty() { String::new() } else { format!("; {}", one.note) };
            let taken = Some(figures(one)).filter(|said| !said.is_empty()).map(|said| format!("{said}{limits}; "));
            let first = format!("{}: {}{}{with}{note}", one.what, taken.unwrap_or_default(), outcome(one));
            let decision = Some(decided(one)).filter(|said| !said.is_empty()).map(|said| format!("  decided: {said}"));
            let judged = one.conclusions.iter().map(|one| format!("  {}", concluded(one)));
            std::iter::once(first).chain(judged).chain(decision).collect::<Vec<_>>()
        }),
    );
    part(&mut text, "Left out", left_out(sheet).into_iter());
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

/// Characters between the sides of a frame.
const INNER: usize = 76;

/// What nobody must overlook, in a frame.
fn framed(text: &mut String, title: &str, lines: impl Iterator<Item = String>) {
    let mut lines = lines.peekable();
    if lines.peek().is_none() {
        return;
    }
    let edge = "=".repeat(INNER + 4);
    let _ = writeln!(text, "\n{edge}");
    let mut put = |line: &str| {
        let pad = " ".repeat(INNER.saturating_sub(line.chars().count()));
        let _ = writeln!(text, "| {line}{pad} |");
    };
    put(title);
    for line in lines {
        let mut first = "- ";
        for part in wrapped(&clean(&line), INNER - first.len()) {
            put(&format!("{first}{part}"));
            first = "  ";
        }
    }
    let _ = writeln!(text, "{edge}");
}

/// Words in lines of at most so many characters; a word that is longer is cut.
fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let mut used = 0;
    for word in text.split_whitespace() {
        let mut word: Vec<char> = word.chars().collect();
        while !word.is_empty() {
            let gap = usize::from(used > 0);
            if used + gap + word.len() <= width {
                push(&mut lines, gap, &word);
                used += gap + word.len();
                break;
            }
            if used > 0 {
                lines.push(String::new());
                used = 0;
                continue;
            }
            let rest = word.split_off(width);
            push(&mut lines, 0, &word);
            used = width;
            word = rest;
        }
    }
    lines
}

fn push(lines: &mut [String], gap: usize, word: &[char]) {
    if let Some(last) = lines.last_mut() {
        last.push_str(&" ".repeat(gap));
        last.extend(word);
    }
}

#[cfg(test)]
mod tests {
    use super::super::sheet::tests::{full, head};
    use super::*;

    #[test]
    fn nothing_in_a_sheet_speaks_to_the_terminal() {
        let gone = GetHandOverSheetResponse {
            closed_at: Some(leadhand_sdk::WireTimestamp::default()),
            ..full("a\u{1b}[31mb\nc")
        };
        let text = render(&gone, &head());
        assert!(!text.contains('\u{1b}'), "{text}");
        for title in
            ["NOT AS IT HAS TO BE", "OPEN WHEN THE VEHICLE WENT, ON THE LEAD'S WORD", "SAFETY ADVICE NOT TAKEN"]
        {
            assert!(text.contains(&format!("=\n| {title} ")), "{title} is not framed: {text}");
        }
        for title in ["Still to watch", "Done", "Found", "Measured"] {
            assert!(text.contains(&format!("\n{title}\n")), "{title} is not there: {text}");
        }
        let draft = render(&full("a"), &head());
        assert!(
            draft.contains("| OVERRULED SO FAR, ON THE LEAD'S WORD ") && !draft.contains("WHEN THE VEHICLE WENT"),
            "{draft}"
        );
        assert!(text.contains("OUT OF LIMITS") && text.contains("accepted by"), "{text}");
    }

    #[test]
    fn a_frame_keeps_its_sides_whatever_is_in_it() {
        let mut text = String::new();
        let long = format!("{} {}", "word ".repeat(40), "x".repeat(200));
        framed(&mut text, "TITLE", [long, "short".to_owned()].into_iter());
        let widths: Vec<usize> = text.lines().skip(1).map(|line| line.chars().count()).collect();
        assert!(widths.len() > 7 && widths.iter().all(|width| *width == INNER + 4), "{text}");
        assert_eq!(text.matches("word").count(), 40);
        assert_eq!(text.matches('x').count(), 200);
        assert_eq!(wrapped("", 10), [""]);
    }

    #[test]
    fn an_empty_sheet_is_a_draft_without_empty_parts() {
        let open = Head { opened: "2031-03-03 08:00".into(), closed: String::new() };
        let text = render(&GetHandOverSheetResponse::default(), &open);
        assert!(text.contains("still open: a draft"), "{text}");
        assert!(!text.contains("Measured") && !text.contains("Found") && text.contains("Received by"), "{text}");
    }
}
