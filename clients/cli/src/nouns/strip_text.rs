//! The strip book as people read it.

use super::reading_text;
use crate::app::App;
use crate::failure::Outcome;
use crate::moment;
use crate::out::{self, Table, clean};
use crate::words::word;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{
    AttemptOutcome, GetReadingsRequest, GetStripResponse, Keep, Manner, Position, PositionStanding, Reach, Reading,
    RefitLine, Renew, Tightness, WentBack,
};
use std::fmt::Write;

/// The width of a book that goes to no terminal.
const WIDTH: usize = 80;

/// Every position in a table.
pub async fn positions(app: &App, book: &GetStripResponse) -> Outcome {
    let zone = app.zone().await?;
    let header = ["position", "what", "places#", "stage", "off", "kept", "back", "open"];
    let mut table = Table::new("positions", &header);
    for one in &book.positions {
        let open = book.open.iter().filter(|line| line.position == one.position);
        let open: Vec<&str> = open.map(|line| line.text.split_once(": ").map_or("", |(_, what)| what)).collect();
        table.row([
            one.position.clone(),
            described(one) + &stuck(one, zone),
            one.count.to_string(),
            one.stage.clone(),
            off_or_to_come(one),
            kept(one),
            back(one),
            open.join("; "),
        ]);
    }
    // Where nobody says how wide it is, it is as wide as a terminal at least is.
    let width = Some(app.out.width.unwrap_or(WIDTH));
    if table.nothing().is_some() || table.fits(width) {
        return app.out.table(&table);
    }
    out::put(&blocks(book, zone, width))
}

/// The same a position at a time, for a terminal on which a row of the table would not stand.
fn blocks(book: &GetStripResponse, zone: &TimeZone, width: Option<usize>) -> String {
    const COLUMN: usize = 8;
    let mut text = String::new();
    for one in &book.positions {
        let open = book.open.iter().filter(|line| line.position == one.position);
        let open: Vec<&str> = open.map(|line| line.text.split_once(": ").map_or("", |(_, what)| what)).collect();
        let head = format!("{}: {}, {} in {}{}", one.position, described(one), one.count, one.stage, stuck(one, zone));
        text.push_str(&out::beside("", 0, &head, width));
        for (name, what) in
            [("off", off_or_to_come(one)), ("kept", kept(one)), ("back", back(one)), ("OPEN", open.join("; "))]
        {
            if !what.is_empty() {
                text.push_str(&out::beside(&format!("  {name}"), COLUMN, &what, width));
            }
        }
    }
    text
}

/// What it is called, and what the hand needs to know of it.
fn described(one: &Position) -> String {
    let mut all = vec![one.what.clone()];
    all.extend([&one.size, &one.head, &one.location].into_iter().filter(|text| !text.is_empty()).cloned());
    if one.renew() == Renew::Always {
        all.push("always renew".to_owned());
    }
    if one.reach != 0 {
        all.push(reached(one.reach()).to_owned());
    }
    if one.unplanned {
        all.push("met on the way".to_owned());
    }
    if !one.came_with.is_empty() {
        all.push(format!("came out with {}", one.came_with));
    }
    if let (Some(first), Some(last)) = (one.tags.first(), one.tags.last()) {
        all.push(if first == last { format!("tag {first}") } else { format!("tags {first} to {last}") });
    }
    all.join(", ")
}

/// From where it is reached.
fn reached(reach: Reach) -> &'static str {
    match reach {
        Reach::Unspecified => "",
        Reach::Top => "from above",
        Reach::Under => "from below",
        Reach::WheelArch => "through the wheel arch",
        Reach::Inside => "from inside",
    }
}

/// What is done with it and what comes before that, while nothing of it was said: `comes off for access, behind rail`.
pub fn to_come(one: &Position) -> String {
    if one.off_at.is_some() {
        return String::new();
    }
    let manner = match one.manner() {
        Manner::In => "to be put in",
        Manner::Aside => "to be moved aside",
        Manner::Access => "comes off for access",
        Manner::Off | Manner::Unspecified => "comes off",
    };
    if one.behind.is_empty() { manner.to_owned() } else { format!("{manner}, behind {}", one.behind.join(", ")) }
}

/// `12 × Sump bolts`: as many as there are places for, once that was said.
pub fn counted(one: &Position) -> String {
    let said = if one.manner() == Manner::In { one.found } else { one.found + one.missing };
    let pieces = if one.off_at.is_some() { said } else { one.count };
    format!("{pieces} × {}", described(one))
}

/// What was different, and what was repaired before: what whoever fits it has to know.
pub fn remarked(one: &Position) -> Vec<String> {
    let repair = if one.repair.is_empty() { String::new() } else { format!("repaired before: {}", one.repair) };
    [one.note.clone(), repair].into_iter().filter(|said| !said.is_empty()).collect()
}

/// What soaks, and what was tried.
fn stuck(one: &Position, zone: &TimeZone) -> String {
    let mut said = String::new();
    if let Some(until) = &one.soak_until {
        let state = if one.soaked { "soaked, ready since" } else { "soaking until" };
        let _ = write!(said, ", {state} {}", moment::show(Some(until), zone));
    }
    if let Some(last) = one.attempts.last() {
        let _ = write!(said, ", tried {} time(s), last {}", last.attempt, word::<AttemptOutcome>(last.outcome));
    }
    said
}

fn off_or_to_come(one: &Position) -> String {
    if one.off_at.is_some() { off(one) } else { to_come(one) }
}

fn off(one: &Position) -> String {
    if one.off_at.is_none() {
        return String::new();
    }
    let verb = match one.manner() {
        Manner::In => "in",
        Manner::Aside => "aside",
        _ => "off",
    };
    let mut said = format!("{} {verb}", one.found);
    for (count, what) in [(one.missing, "missing before"), (one.damaged, "damaged")] {
        if count > 0 {
            let _ = write!(said, ", {count} {what}");
        }
    }
    if one.standing() == PositionStanding::OffInOwnHole {
        said.push_str(", NOT REFITTED: loose in its own hole");
    }
    for words in remarked(one) {
        let _ = write!(said, " ({words})");
    }
    for gone in &one.overruled {
        let _ = write!(said, "; OVERRULED: {} ({})", gone.text, gone.reason);
    }
    said
}

fn kept(one: &Position) -> String {
    let how = word::<Keep>(one.keep);
    match (how.is_empty(), one.kept_at.is_empty()) {
        (_, true) => how,
        (true, false) => one.kept_at.clone(),
        (false, false) => format!("{how}: {}", one.kept_at),
    }
}

fn back(one: &Position) -> String {
    if one.back_at.is_none() {
        return String::new();
    }
    let came = if one.manner() == Manner::In { "out" } else { "refitted" };
    let counts = [
        (one.refitted, came),
        (one.renewed, "renewed"),
        (one.left_out, "left out"),
        (one.scrapped, "thrown away"),
        (one.kept, "kept"),
    ];
    let mut said: Vec<String> =
        counts.into_iter().filter(|(count, _)| *count > 0).map(|(count, what)| format!("{count} {what}")).collect();
    if matches!(one.tightness(), Tightness::Loose | Tightness::Finger) && one.manner() != Manner::In {
        said.push(tightness(one));
    }
    if !one.checked_by.is_empty() {
        said.push(format!("looked at by {}", one.checked_by));
    }
    said.join(", ")
}

fn tightness(one: &Position) -> String {
    tight(one.tightness)
}

/// `finger-tight`, not `finger`.
pub fn tight(tightness: i32) -> String {
    if tightness == i32::from(Tightness::Finger) { "finger-tight".to_owned() } else { word::<Tightness>(tightness) }
}

/// What was recorded of a position that went back, and what is open of it still.
pub fn went_back(line: &WentBack, job: i64) -> String {
    let came = if line.put_in { "out" } else { "refitted" };
    let counts = [
        (line.refitted, came),
        (line.renewed, "renewed"),
        (line.left_out, "left out"),
        (line.scrapped, "thrown away"),
        (line.kept, "kept"),
    ];
    let mut said: Vec<String> =
        counts.into_iter().filter(|(count, _)| *count > 0).map(|(count, what)| format!("{count} {what}")).collect();
    if line.tightness != 0 {
        said.push(tight(line.tightness));
    }
    let mut text = format!("{}: {}", line.position, said.join(", "));
    let pieces = if line.put_in { "still in" } else { "piece(s) that came off" };
    let open = [(line.places_left, "place(s)"), (line.pieces_left, pieces)].into_iter().filter(|(left, _)| *left > 0);
    let open: Vec<String> = open.map(|(left, what)| format!("{left} {what}")).collect();
    if !open.is_empty() {
        let _ = write!(text, "; open: {}", open.join(", "));
    }
    if line.tightness_unsaid && line.tightness == i32::from(Tightness::Finger) {
        let _ = write!(text, "; nobody said how tight: 'leadhand strip tighten {job} {}' when it is", line.position);
    }
    text
}

/// What stands against handing the vehicle over.
pub fn open(app: &App, book: &GetStripResponse) -> Outcome {
    let mut table = Table::new("open lines: the strip book balances", &["about", "open", "who overrules"]);
    for line in &book.open {
        let may = if line.r#final { "nobody" } else { "a lead, with a reason" };
        let (about, what) = line.text.split_once(": ").unwrap_or((line.position.as_str(), line.text.as_str()));
        table.row([about.to_owned(), what.to_owned(), may.to_owned()]);
    }
    app.out.table(&table)
}

/// The refit as a list to go by.
pub async fn refit(app: &App, job: i64, book: &GetStripResponse) -> Outcome {
    if book.refit.is_empty() {
        out::note("nothing came off yet, so there is nothing to put back");
        return Ok(());
    }
    let zone = app.zone().await?;
    let readings = app.client.get_readings(GetReadingsRequest { job }).await?.readings;
    out::line(clean_lines(&refit_text(book, &readings, zone, app.out.width)).trim_end_matches('\n'))
}

fn refit_text(book: &GetStripResponse, readings: &[Reading], zone: &TimeZone, width: Option<usize>) -> String {
    let mut text = String::new();
    for (number, line) in book.refit.iter().enumerate() {
        let one = book.positions.iter().find(|one| one.position == line.position);
        let mark = if line.done { "done" } else { "    " };
        let what = one.map(counted).unwrap_or_default();
        let at = if line.stage.is_empty() { String::new() } else { format!("  [{}]", line.stage) };
        let head = format!("{:>3} {mark}  ", number + 1);
        text.push_str(&out::beside(&head, head.len(), &format!("{}: {what}{at}", line.position), width));
        if let (Some(one), false) = (one, line.done) {
            details(&mut text, one, line);
        }
        if let Some(until) = &line.cures_until {
            let _ = writeln!(text, "           waits     cures until {}", moment::show(Some(until), zone));
        }
        // Behind the last that goes back in a stage stands what is measured there.
        if book.refit[number + 1..].iter().all(|later| later.stage != line.stage) {
            text.push_str(&measured(readings, &line.stage));
        }
    }
    text
}

/// What is measured in a stage, and at which step.
fn measured(readings: &[Reading], stage: &str) -> String {
    let mut text = String::new();
    for one in readings.iter().filter(|one| !stage.is_empty() && one.stage == stage) {
        let at = if one.step == 0 { format!("in {stage}") } else { format!("at step {} of {stage}", one.step) };
        let limits = if one.limits.is_empty() { String::new() } else { format!(", {}", one.limits) };
        let figures = if one.figures.is_empty() { "not measured".to_owned() } else { reading_text::figures(one) };
        let _ = writeln!(text, "           measure   {} ({}), {at}{limits}: {figures}", one.what, one.reading);
    }
    text
}

/// What the refit says now that it did not say before.
pub fn changes(app: &App, book: &GetStripResponse) -> Outcome {
    let mut table = Table::new("changes of the refit since then", &["position", "change"]);
    // What only went to another place because of the others is told in one row.
    let moved = |text: &str| text == "goes back at another place now";
    for line in book.changes.iter().filter(|line| !moved(&line.text)) {
        table.row([line.position.clone(), line.text.clone()]);
    }
    let others: Vec<&str> =
        book.changes.iter().filter(|line| moved(&line.text)).map(|line| line.position.as_str()).collect();
    match others.as_slice() {
        [] => {}
        [one] => table.row([(*one).to_owned(), "goes back at another place now".to_owned()]),
        all => table.row([format!("{} others", all.len()), format!("go back at other places now: {}", all.join(", "))]),
    }
    app.out.table(&table)
}

/// New pieces, and whether they will be there.
fn new_part(line: &RefitLine) -> String {
    let Some(part) = &line.part else { return String::new() };
    if part.item.is_empty() {
        return format!("{}, of no item of the stock: get them and say where they came from", part.pieces);
    }
    let asked = match part.stage.as_str() {
        "" => "no stage asks for it: add a step that does".to_owned(),
        stage => format!("asked for by step {} of {stage}", part.step),
    };
    let counts = [(part.issued, "given"), (part.reserved, "set aside"), (part.short, "SHORT")];
    let mut counts: Vec<String> =
        counts.into_iter().filter(|(count, _)| *count > 0).map(|(count, what)| format!("{count} {what}")).collect();
    if !part.listed {
        counts.push("not reserved yet".to_owned());
    }
    format!("{} of {}, {}; {asked}", part.pieces, part.item, counts.join(", "))
}

fn details(text: &mut String, one: &Position, refit: &RefitLine) {
    let mut line = |name: &str, what: String| {
        if !what.is_empty() {
            let _ = writeln!(text, "           {name:<9} {what}");
        }
    };
    line("after", refit.after.join(", "));
    line("new", new_part(refit));
    line("from", kept(one));
    line("tighten", super::reckon::stages(&one.tighten, &one.tighten_beside));
    line("how", one.how.join("; "));
    for said in remarked(one) {
        line("note", said);
    }
    line("check", one.check.clone());
    line("state", if one.tightness == 0 { String::new() } else { format!("now {}", tightness(one)) });
    let cure = if one.cure_minutes > 0 {
        format!("{} min to cure before it is put to use", one.cure_minutes)
    } else {
        String::new()
    };
    line("waits", cure);
    let second = if one.second_check { "by somebody else than who fits it" } else { "" };
    line("looked at", second.to_owned());
}

fn clean_lines(text: &str) -> String {
    text.lines().map(|line| clean(line) + "\n").collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::OpenLine;

    #[test]
    fn what_went_back_is_said_with_what_is_open_of_it() {
        let covers =
            WentBack { position: "covers".into(), put_in: true, refitted: 3, pieces_left: 1, ..Default::default() };
        assert_eq!(went_back(&covers, 6), "covers: 3 out; open: 1 still in");
        let nuts = WentBack {
            position: "nuts".into(),
            refitted: 4,
            renewed: 2,
            scrapped: 1,
            tightness: Tightness::Finger.into(),
            tightness_unsaid: true,
            places_left: 1,
            ..Default::default()
        };
        assert_eq!(
            went_back(&nuts, 6),
            "nuts: 4 refitted, 2 renewed, 1 thrown away, finger-tight; open: 1 place(s); \
             nobody said how tight: 'leadhand strip tighten 6 nuts' when it is"
        );
        let rail =
            WentBack { position: "rail".into(), refitted: 1, tightness: Tightness::Final.into(), ..Default::default() };
        assert_eq!(went_back(&rail, 6), "rail: 1 refitted, final");
    }

    fn bolts() -> Position {
        Position {
            position: "sbolts".into(),
            what: "Sump bolts".into(),
            stage: "strip".into(),
            count: 12,
            reach: Reach::Under.into(),
            manner: Manner::Access.into(),
            behind: vec!["undertray".into()],
            ..Default::default()
        }
    }

    #[test]
    fn before_the_work_the_book_says_what_is_done_and_behind_what() {
        let cover = Position { manner: Manner::In.into(), what: "Cover".into(), count: 1, behind: vec![], ..bolts() };
        let book = GetStripResponse { positions: vec![bolts(), cover], ..Default::default() };
        let told = blocks(&book, &TimeZone::UTC, None);
        assert!(told.contains("Sump bolts, from below, 12 in strip"), "{told}");
        assert!(told.contains("comes off for access, behind undertray") && told.contains("to be put in\n"), "{told}");
    }

    #[test]
    fn the_refit_says_how_many_what_was_different_and_what_is_measured() {
        let off = Position {
            off_at: Some(prost_types::Timestamp::default()),
            found: 11,
            missing: 1,
            note: "the one from the lowest hole is longer".into(),
            repair: "insert in hole 2".into(),
            ..bolts()
        };
        let line = RefitLine { position: "sbolts".into(), stage: "refit".into(), ..Default::default() };
        let book = GetStripResponse { positions: vec![off], refit: vec![line], ..Default::default() };
        let torque = Reading {
            reading: "torque".into(),
            what: "Torque reached".into(),
            stage: "refit".into(),
            step: 3,
            ..Default::default()
        };
        let elsewhere = Reading { stage: "strip".into(), ..torque.clone() };
        let told = refit_text(&book, &[elsewhere, torque], &TimeZone::UTC, None);
        assert!(told.contains("sbolts: 12 × Sump bolts, from below  [refit]"), "{told}");
        for words in ["note      the one from the lowest hole is longer", "note      repaired before: insert in hole 2"]
        {
            assert!(told.contains(words), "{told}");
        }
        assert!(told.ends_with("measure   Torque reached (torque), at step 3 of refit: not measured\n"), "{told}");
        assert_eq!(told.matches("measure").count(), 2, "once, and in \u{201c}not measured\u{201d}: {told}");
    }

    #[test]
    fn on_a_narrow_terminal_each_position_has_lines_of_its_own() {
        let one = Position {
            position: "manifold-nuts".into(),
            what: "Nuts and bolts of the inlet manifold".into(),
            size: "M8 x 1.25 x 25".into(),
            stage: "strip".into(),
            count: 7,
            found: 5,
            missing: 1,
            off_at: Some(prost_types::Timestamp::default()),
            kept_at: "tray 2".into(),
            ..Default::default()
        };
        let open = OpenLine {
            position: "manifold-nuts".into(),
            text: "manifold-nuts: 0 of 6 place(s)".into(),
            r#final: false,
        };
        let book = GetStripResponse { positions: vec![one], open: vec![open], ..Default::default() };
        assert_eq!(
            blocks(&book, &TimeZone::UTC, Some(50)),
            "manifold-nuts: Nuts and bolts of the inlet\n\
             manifold, M8 x 1.25 x 25, 7 in strip\n  \
             off   5 off, 1 missing before\n  \
             kept  tray 2\n  \
             OPEN  0 of 6 place(s)\n"
        );
    }
}
