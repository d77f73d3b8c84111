//! What stands against handing a job over, before anybody tries; remarks for the sheet; and the end of a shift.

use super::tool;
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::out::{self, Table};
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{
    CheckHandOverRequest, GetLooseEndsRequest, HandOverLine, LooseJob, MakeRemarkRequest, Override, RemarkKind, Remedy,
    SoakingThing, ToolLine, WithdrawRemarkRequest,
};

/// Says what stands against it; the exit code says whether anything does.
pub async fn dry_run(app: &App, job: i64) -> Outcome {
    let found = app.client.check_hand_over(CheckHandOverRequest { job }).await?;
    let mut open = found.lines.len();
    if app.out.is_json() {
        out::json(&found)?;
    } else if !found.open {
        out::note(&format!("job {job} is closed already"));
    } else if found.lines.is_empty() {
        out::note(&format!("nothing stands against handing job {job} over"));
    } else {
        open = rows(&found.lines).len();
        let mut table = Table::new("open lines", &["line", "open", "who overrules", "to do"]);
        for row in rows(&found.lines) {
            table.row(row);
        }
        app.out.table(&table)?;
    }
    if !found.open {
        return Err(Failure::Found(format!("job {job} can't be handed over: it is closed already")));
    }
    match open {
        0 => Ok(()),
        count => Err(Failure::Found(format!("job {job} can't be handed over yet: {count} line(s) are open"))),
    }
}

/// What is open, without what it is about.
fn what(line: &HandOverLine) -> &str {
    line.text.split_once(": ").map_or(line.text.as_str(), |(_, what)| what)
}

/// One row for each, and one for the places and the pieces of a position, which are one thing to whoever reads.
fn rows(lines: &[HandOverLine]) -> Vec<[String; 4]> {
    let mut rows: Vec<[String; 4]> = Vec::new();
    let unbalanced = |line: &HandOverLine| matches!(line.kind.as_str(), "places" | "pieces");
    for (at, line) in lines.iter().enumerate() {
        let before = at.checked_sub(1).map(|before| &lines[before]);
        let goes_on = before.is_some_and(|other| other.about == line.about && unbalanced(other) && unbalanced(line));
        match rows.last_mut().filter(|_| goes_on) {
            Some([keys, open, _, todo]) => {
                *keys = format!("{keys}, {}", line.line);
                *open = format!("{open}; {}", what(line));
                *todo = format!("{todo}; {}", line.todo);
            }
            None => {
                rows.push([line.line.clone(), what(line).to_owned(), remedy(line).to_owned(), line.todo.clone()]);
            }
        }
    }
    rows
}

fn remedy(line: &HandOverLine) -> &'static str {
    match line.remedy() {
        Remedy::Lead => "a lead, with a reason",
        Remedy::End => "nobody: end it",
        Remedy::Nobody | Remedy::Unspecified => "nobody",
    }
}

/// A line that is overruled, as it is typed: `places:airbox=the customer brings it`, or `places:airbox` beside one reason
/// for several.
pub fn parse_override(text: &str) -> Result<Override, String> {
    let wanted =
        "write LINE=REASON, or LINE beside --override REASON, with a line of `leadhand job complete --dry-run`";
    let (line, reason) = text.split_once('=').map_or((text, None), |(line, reason)| (line, Some(reason)));
    if line.trim().is_empty() || reason.is_some_and(|reason| reason.trim().is_empty()) {
        return Err(wanted.to_owned());
    }
    let reason = reason.unwrap_or_default();
    Ok(Override { line: line.trim().to_owned(), reason: reason.trim().to_owned() })
}

/// Says something that is to stand on the sheet.
pub async fn remark(app: &App, job: i64, what: RemarkKind, words: String) -> Outcome {
    let request = MakeRemarkRequest { write: app.write().await?, job, what: what.into(), words };
    let answer = app.client.make_remark(request).await?;
    let said = format!("remark {} stands on the sheet of job {job}", answer.remark);
    app.done(&answer, answer.receipt.as_ref(), Some(&answer.remark.to_string()), &said)
}

/// Withdraws a remark.
pub async fn withdraw(app: &App, job: i64, remark: i32, reason: String) -> Outcome {
    let request = WithdrawRemarkRequest { write: app.write().await?, job, remark, reason };
    let answer = app.client.withdraw_remark(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &format!("remark {remark} of job {job} is withdrawn"))
}

/// What is open at the end of a shift, one block a job.
pub async fn shift_end(app: &App, job: Option<i64>) -> Outcome {
    let found = app.client.get_loose_ends(GetLooseEndsRequest { job: job.unwrap_or(0) }).await?;
    if app.out.is_json() {
        return out::json(&found);
    }
    if found.jobs.is_empty() && found.overdue_tools.is_empty() {
        out::note("nothing is loose, put in, out of its limits, held up or half done, and every vehicle is as it goes");
        return Ok(());
    }
    let zone = app.zone().await?;
    let mut blocks: Vec<String> = found.jobs.iter().map(|job| block(job, zone, app.out.width)).collect();
    blocks.extend(tools_out(&found.overdue_tools, app.out.width));
    out::put(&blocks.join("\n"))
}

/// Shared tools that nobody brought back.
fn tools_out(tools: &[ToolLine], width: Option<usize>) -> Option<String> {
    let line = |line: &ToolLine| {
        let tool = line.tool.clone().unwrap_or_default();
        out::beside("", 2, &format!("{} ({}): {}", tool.tool, tool.name, tool::with(line)), width)
    };
    let lines: String = tools.iter().map(line).collect();
    (!lines.is_empty()).then(|| format!("shared tools that did not come back\n{lines}"))
}

fn block(job: &LooseJob, zone: &TimeZone, width: Option<usize>) -> String {
    const COLUMN: usize = 16;
    let place = if job.bay.is_empty() { "outside" } else { &job.bay };
    let mut text = String::new();
    let head = format!("{}: job {}, {}, {}", place, job.job, job.vehicle, job.title);
    text.push_str(&out::beside("", 0, &head, width));
    let mut part = |name: &str, lines: &[String]| {
        for (at, line) in lines.iter().enumerate() {
            let name = if at == 0 { format!("  {name}") } else { String::new() };
            text.push_str(&out::beside(&name, COLUMN, line, width));
        }
    };
    let kept = job.kept.iter().map(|kept| format!("{}: {}", kept.place, kept.things.join(", ")));
    // What can hurt somebody who takes over comes first.
    part("CALLED THE LEAD", &job.calls);
    part("LIVE", &job.live);
    part("NOT TIGHT", &job.loose);
    part("STILL IN", &job.still_in);
    part("VEHICLE", &job.states);
    part("FLUIDS", &job.fluids);
    part("out of limits", &job.readings);
    part("held up", &job.blockers);
    part("half done", &job.half_done);
    let until = |one: &SoakingThing| format!("{} until {}", one.what, moment::show(one.until.as_ref(), zone));
    part("curing", &job.curing.iter().map(until).collect::<Vec<_>>());
    part("soaking", &job.soaking.iter().map(until).collect::<Vec<_>>());
    part("other way", &job.ways);
    part("kept", &kept.collect::<Vec<_>>());
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{KeptThings, Loan, Tool};

    #[test]
    fn a_line_goes_with_its_reason() {
        let read = parse_override("places:airbox = on order, a = b").unwrap();
        assert_eq!((read.line.as_str(), read.reason.as_str()), ("places:airbox", "on order, a = b"));
        let alone = parse_override("places:airbox").unwrap();
        assert_eq!((alone.line.as_str(), alone.reason.as_str()), ("places:airbox", ""));
        for wrong in ["", "=why", "places:airbox= "] {
            assert!(parse_override(wrong).unwrap_err().contains("LINE=REASON"), "{wrong}");
        }
    }

    #[test]
    fn the_places_and_the_pieces_of_a_position_are_one_row() {
        let line = |kind: &str, about: &str, what: &str| HandOverLine {
            line: format!("{kind}:{about}"),
            kind: kind.into(),
            about: about.into(),
            text: format!("{about}: {what}"),
            remedy: Remedy::Lead.into(),
            todo: "fit it".into(),
            ..Default::default()
        };
        let stage = HandOverLine { remedy: Remedy::End.into(), ..line("stage", "airbox", "active") };
        let lines =
            [line("places", "airbox", "0 of 1"), line("pieces", "airbox", "none"), line("pieces", "rail", "x"), stage];
        let rows = rows(&lines);
        let keys: Vec<&str> = rows.iter().map(|row| row[0].as_str()).collect();
        assert_eq!(keys, ["places:airbox, pieces:airbox", "pieces:rail", "stage:airbox"]);
        assert_eq!((rows[0][1].as_str(), rows[0][2].as_str()), ("0 of 1; none", "a lead, with a reason"));
        assert_eq!(rows[2][2], "nobody: end it");
    }

    #[test]
    fn a_tool_that_a_closed_job_still_has_is_told() {
        let tool = Tool { tool: "k3-pin".into(), name: "Locking pin".into(), ..Default::default() };
        let loan = Loan { job: 11, bay: "floor-1".into(), ..Default::default() };
        let line = ToolLine { tool: Some(tool), loan: Some(loan), overdue: true, ..Default::default() };
        assert_eq!(
            tools_out(&[line], None).unwrap(),
            "shared tools that did not come back\n  k3-pin (Locking pin): job 11 in floor-1, OVERDUE: that job is over\n"
        );
        assert_eq!(tools_out(&[], None), None);
    }

    #[test]
    fn a_block_says_first_what_can_hurt_and_nothing_that_is_not() {
        let kept = vec![KeptThings { place: "tray: tray 2".into(), things: vec!["6 × nuts".into()] }];
        let job = LooseJob {
            bay: "lift-1".into(),
            job: 7,
            vehicle: "van\u{1b}[31m".into(),
            title: "Top end".into(),
            loose: vec!["bolts: only finger-tight".into(), "nuts: only loose".into()],
            states: vec!["battery isolated; it goes connected".into()],
            kept,
            ..LooseJob::default()
        };
        assert_eq!(
            block(&job, &TimeZone::UTC, None),
            "lift-1: job 7, van [31m, Top end\n  NOT TIGHT     bolts: only finger-tight\n                nuts: only loose\n  \
             VEHICLE       battery isolated; it goes connected\n  \
             kept          tray: tray 2: 6 × nuts\n"
        );
        assert!(block(&LooseJob::default(), &TimeZone::UTC, None).starts_with("outside: job 0"));
    }
}
