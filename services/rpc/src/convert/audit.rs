//! Where the time went.

use super::time::{duration, timestamp};
use super::{enums, job};
use leadhand_app::Words;
use leadhand_domain::labels::{LabelTotals, Segment};
use leadhand_domain::view::audit::{AuditLine, AuditReport, Counts, Planned, Subject};
use leadhand_facts::Window;
use leadhand_proto::v1;
use std::collections::BTreeSet;

/// The report, line by line and added up.
pub fn report(report: &AuditReport, words: &Words, with_segments: bool) -> v1::AuditTimeResponse {
    v1::AuditTimeResponse {
        lines: report.lines.iter().map(|audited| line(audited, words, with_segments)).collect(),
        total: Some(total(&report.lines)),
        number: report.number,
        as_of: Some(timestamp(report.at)),
    }
}

fn line(line: &AuditLine, words: &Words, with_segments: bool) -> v1::AuditLine {
    let segments = if with_segments { segments(line) } else { Vec::new() };
    v1::AuditLine {
        about: about(&line.subject),
        title: job::title(&line.title, words),
        job: match &line.subject {
            Subject::Job(job) | Subject::Stage { job, .. } => job.0,
            Subject::Template { .. } | Subject::TemplateStage { .. } | Subject::Cause(_) | Subject::Lost { .. } => 0,
        },
        from_at: stretch(&line.subject).map(|window| timestamp(window.from)),
        until_at: stretch(&line.subject).map(|window| timestamp(window.until)),
        labour: duration(line.all_labour_us()),
        in_bay: line.occupied_us.and_then(duration),
        minutes: line.planned.map(minutes),
        segments,
        numbers: line.facts.iter().copied().collect(),
        ..sums(&line.totals, line.counts)
    }
}

fn about(subject: &Subject) -> String {
    match subject {
        Subject::Job(job) => job.to_string(),
        Subject::Stage { stage, .. } => stage.to_string(),
        Subject::Template { template: Some(template), revision: Some(revision) } => {
            format!("{template} revision {revision}")
        }
        Subject::Template { template: Some(template), revision: None } => template.to_string(),
        Subject::Template { .. } => "blank".to_owned(),
        Subject::TemplateStage { template, stage, .. } => {
            format!("{}/{stage}", template.as_ref().map_or("blank", leadhand_facts::TemplateKey::as_str))
        }
        Subject::Cause(cause) | Subject::Lost { cause, .. } => cause.to_string(),
    }
}

fn stretch(subject: &Subject) -> Option<Window> {
    match subject {
        Subject::Lost { window, .. } => Some(*window),
        _ => None,
    }
}

/// The parts of a line that follow from the labels.
fn sums(totals: &LabelTotals, counts: Counts) -> v1::AuditLine {
    let blocked_by = totals
        .blocked_us
        .iter()
        .map(|(cause, us)| v1::BlockedTime { cause: enums::cause(*cause), time: duration(*us) });
    v1::AuditLine {
        stages: i32::try_from(counts.stages + counts.skipped).unwrap_or(i32::MAX),
        finished: i32::try_from(counts.finished).unwrap_or(i32::MAX),
        elapsed: duration(totals.elapsed_us()),
        worked: duration(totals.worked_us),
        outside: duration(totals.outside_us),
        blocked: duration(totals.all_blocked_us()),
        blocked_by: blocked_by.collect(),
        wait: duration(totals.wait_us),
        idle: duration(totals.idle_us),
        ..v1::AuditLine::default()
    }
}

fn total(lines: &[AuditLine]) -> v1::AuditLine {
    let mut totals = LabelTotals::default();
    let mut counts = Counts::default();
    let mut planned: Option<Planned> = None;
    let mut numbers = BTreeSet::new();
    for line in lines {
        totals.add(&line.totals);
        counts.stages += line.counts.stages;
        counts.skipped += line.counts.skipped;
        counts.finished += line.counts.finished;
        if let Some(more) = line.planned {
            let sum = planned.get_or_insert_default();
            sum.low += more.low;
            sum.likely += more.likely;
            sum.high += more.high;
        }
        numbers.extend(line.facts.iter().copied());
    }
    let in_bay: Option<i64> = lines.iter().filter_map(|line| line.occupied_us).reduce(|sum, us| sum + us);
    v1::AuditLine {
        about: "total".to_owned(),
        labour: duration(lines.iter().map(AuditLine::all_labour_us).sum()),
        in_bay: in_bay.and_then(duration),
        minutes: planned.map(minutes),
        numbers: numbers.into_iter().collect(),
        ..sums(&totals, counts)
    }
}

fn minutes(planned: Planned) -> v1::Minutes {
    let fit = |minutes: i64| i32::try_from(minutes).unwrap_or(i32::MAX);
    v1::Minutes { low: fit(planned.low), likely: fit(planned.likely), high: fit(planned.high) }
}

fn segments(line: &AuditLine) -> Vec<v1::Segment> {
    let Subject::Stage { job, stage, .. } = &line.subject else { return Vec::new() };
    let segment = |segment: &Segment| v1::Segment {
        job: job.0,
        stage: stage.to_string(),
        from_at: Some(timestamp(segment.from)),
        until_at: Some(timestamp(segment.until)),
        label: enums::label(segment.label),
        cause: segment.cause.map(enums::cause).unwrap_or_default(),
        numbers: segment.facts.clone(),
    };
    line.segments.iter().map(segment).collect()
}
