//! The time audit for spreadsheets: exact seconds, a column each, and no totals among the rows.

use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::words::{Word, word};
use leadhand_sdk::v1::{AuditTimeResponse, Cause, Label};
use prost_types::{Duration, Timestamp};

/// A row a line of the audit.
pub fn lines(answer: &AuditTimeResponse) -> Outcome<String> {
    let causes = Cause::all();
    let mut header: Vec<String> = [
        "about",
        "title",
        "job",
        "stages",
        "elapsed_seconds",
        "worked_seconds",
        "outside_seconds",
        "blocked_seconds",
        "wait_seconds",
        "idle_seconds",
        "labour_seconds",
        "in_bay_seconds",
        "low_minutes",
        "likely_minutes",
        "high_minutes",
        "finished",
        "from",
        "until",
    ]
    .map(str::to_owned)
    .into();
    header.extend(causes.iter().map(|cause| format!("blocked_{}_seconds", cause.word().replace('-', "_"))));
    let mut rows = vec![header];
    for line in &answer.lines {
        let minutes = line.minutes.unwrap_or_default();
        let mut row = vec![
            text(&line.about),
            text(&line.title),
            if line.job > 0 { line.job.to_string() } else { String::new() },
            line.stages.to_string(),
        ];
        let times = [
            &line.elapsed,
            &line.worked,
            &line.outside,
            &line.blocked,
            &line.wait,
            &line.idle,
            &line.labour,
            &line.in_bay,
        ];
        row.extend(times.map(|time| seconds(time.as_ref())));
        row.extend([minutes.low, minutes.likely, minutes.high].map(|minutes| minutes.to_string()));
        row.push(line.finished.to_string());
        row.extend([&line.from_at, &line.until_at].map(|at| exact(at.as_ref())));
        row.extend(causes.iter().map(|cause| {
            let found = line.blocked_by.iter().find(|blocked| blocked.cause == i32::from(*cause));
            seconds(found.and_then(|blocked| blocked.time.as_ref()))
        }));
        rows.push(row);
    }
    written(rows)
}

/// A row a stretch.
pub fn segments(answer: &AuditTimeResponse) -> Outcome<String> {
    let header = ["about", "job", "stage", "from", "until", "label", "cause", "facts"].map(str::to_owned);
    let mut rows = vec![header.to_vec()];
    for line in &answer.lines {
        for segment in &line.segments {
            let numbers: Vec<String> = segment.numbers.iter().map(i64::to_string).collect();
            rows.push(vec![
                text(&line.about),
                segment.job.to_string(),
                text(&segment.stage),
                exact(segment.from_at.as_ref()),
                exact(segment.until_at.as_ref()),
                word::<Label>(segment.label),
                word::<Cause>(segment.cause),
                numbers.join(" "),
            ]);
        }
    }
    written(rows)
}

fn exact(at: Option<&Timestamp>) -> String {
    at.and_then(moment::from_wire).map(|at| at.to_string()).unwrap_or_default()
}

/// Seconds to the microsecond, without floating point.
fn seconds(time: Option<&Duration>) -> String {
    let Some(time) = time else { return "0".to_owned() };
    match time.nanos / 1000 {
        0 => time.seconds.to_string(),
        micros => format!("{}.{}", time.seconds, format!("{micros:06}").trim_end_matches('0')),
    }
}

/// Typed words that no spreadsheet takes for a formula (OWASP, CSV injection).
fn text(words: &str) -> String {
    if words.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{words}") } else { words.to_owned() }
}

fn written(rows: Vec<Vec<String>>) -> Outcome<String> {
    let defect = |error: &dyn std::fmt::Display| Failure::Defect(format!("the table can't be written as CSV: {error}"));
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.write_record(row).map_err(|error| defect(&error))?;
    }
    let bytes = writer.into_inner().map_err(|error| defect(&error))?;
    String::from_utf8(bytes).map_err(|error| defect(&error))
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{AuditLine, BlockedTime};

    #[test]
    fn a_line_is_a_row_of_exact_seconds() {
        let time = |seconds, nanos| Some(Duration { seconds, nanos });
        let line = AuditLine {
            about: "head-off".into(),
            title: "=cmd()".into(),
            job: 4,
            stages: 1,
            elapsed: time(5400, 250_000_000),
            worked: time(3600, 0),
            blocked: time(1800, 250_000_000),
            blocked_by: vec![BlockedTime { cause: Cause::Part.into(), time: time(1800, 250_000_000) }],
            ..Default::default()
        };
        let text = lines(&AuditTimeResponse { lines: vec![line], ..Default::default() }).unwrap();
        let rows: Vec<&str> = text.lines().collect();
        assert!(rows[0].starts_with("about,title,job,stages,elapsed_seconds,"), "{}", rows[0]);
        assert!(rows[0].ends_with(",blocked_bay_seconds,blocked_information_seconds"), "{}", rows[0]);
        assert_eq!(rows[1], "head-off,'=cmd(),4,1,5400.25,3600,0,1800.25,0,0,0,0,0,0,0,0,,,1800.25,0,0,0,0,0,0,0,0");
        assert_eq!(rows.len(), 2);
    }
}
