//! The laws of readings with rows that break them, and facts about readings that can't be.

use crate::kit::{JOB, Journal, PERSON, all, minute, strip, text};
use crate::laws::{any, broken, broken_by, edit};
use leadhand_auditor::Books;
use leadhand_facts::fact::Wording;
use leadhand_facts::reading::{JobReading, OffLimit, OverruledLine, ReadingDetail};
use leadhand_facts::rows::{BlockerRow, JobRow, ReadingRow, RemarkRow, StageRow};
use leadhand_facts::words::{Decision, JobState, ReadingKind, ReadingUnit, RemarkKind, StageState, Verdict};
use leadhand_facts::{Fact, JobNo, Measure, ReadingKey, RemarkNo};

const SOUND: [&str; 0] = [];

/// As the sample has it: 12 and 11 bar, at least 9, at most 20 % apart.
fn figures(row: &mut ReadingRow, millionths: &[i64]) {
    row.figures = millionths.iter().copied().map(Measure).collect();
}

fn off(row: &mut ReadingRow, limits: &[OffLimit]) {
    row.off_limits = limits.to_vec();
    row.verdict = Some(Verdict::Out);
}

fn decided(row: &mut ReadingRow, decision: Decision) {
    (row.decision, row.decided_reason) = (Some(decision), Some(text(103).id));
    (row.decided_at, row.decided_by, row.decided_n) = (Some(minute(17)), Some(PERSON), Some(40));
}

#[test]
fn a_reading_came_out_as_its_figures_say() {
    assert_eq!(
        broken_by(any, |row: &mut ReadingRow| figures(row, &[12_000_000, 9_600_000])),
        SOUND,
        "a share at its limit is kept"
    );
    assert_eq!(broken_by(any, |row: &mut ReadingRow| figures(row, &[12_000_000, 9_599_999])), ["reading"]);
    assert_eq!(broken_by(any, |row: &mut ReadingRow| figures(row, &[9_000_000, 8_999_999])), ["reading"]);
    assert_eq!(broken_by(any, |row: &mut ReadingRow| off(row, &[OffLimit::Low(1)])), ["reading"]);
    let wrongly = |row: &mut ReadingRow| {
        figures(row, &[12_000_000, 8_000_000]);
        off(row, &[OffLimit::Low(1)]);
        decided(row, Decision::Accept);
    };
    assert_eq!(broken_by(any, wrongly), ["reading"], "one of the limits is not named");
    let rightly = |row: &mut ReadingRow| {
        wrongly(row);
        row.off_limits.push(OffLimit::Spread);
    };
    assert_eq!(broken_by(any, rightly), SOUND);
}

#[test]
fn every_kind_is_worked_out_by_other_ways() {
    let with = |detail: ReadingDetail, numbers: &[i64], limits: &[OffLimit]| {
        broken_by(any, |row: &mut ReadingRow| {
            figures(row, numbers);
            row.detail = detail.clone();
            if limits.is_empty() {
                row.verdict = Some(Verdict::In);
            } else {
                off(row, limits);
                decided(row, Decision::Repair);
            }
        })
    };
    let leak = ReadingDetail {
        high: Some(Measure::whole(25)),
        ..ReadingDetail::plain(ReadingKind::LeakDown, ReadingUnit::Kilopascal)
    };
    // FAA AC 43.13-1B, 8-14, read through copies: 60 of 80 is 25 %.
    assert_eq!(with(leak.clone(), &[80_000_000, 60_000_000], &[]), SOUND);
    assert_eq!(with(leak.clone(), &[80_000_000, 59_999_999], &[OffLimit::High(0)]), SOUND);
    assert_eq!(with(leak, &[80_000_000, 59_999_999], &[]), ["reading"]);
    let high = Some(Measure::whole(38));
    let flat = ReadingDetail { high, ..ReadingDetail::plain(ReadingKind::Flatness, ReadingUnit::Micrometre) };
    assert_eq!(with(flat.clone(), &[0, 38_000_000, 11_000_000], &[]), SOUND);
    assert_eq!(with(flat.clone(), &[0, 38_100_000, 11_000_000], &[OffLimit::Range]), SOUND);
    assert_eq!(with(flat, &[0, 38_100_000, 11_000_000], &[OffLimit::High(1)]), ["reading"]);
    let (drop, minutes) = (Some(Measure::whole(5)), Some(10));
    let held = ReadingDetail { drop, minutes, ..ReadingDetail::plain(ReadingKind::PressureHeld, ReadingUnit::Bar) };
    assert_eq!(with(held.clone(), &[20_000_000, 15_000_000, 10_000_000], &[]), SOUND);
    assert_eq!(with(held.clone(), &[20_000_000, 14_000_000, 9_000_000], &[OffLimit::Drop, OffLimit::Short]), SOUND);
    assert_eq!(with(held, &[20_000_000, 14_000_000, 9_000_000], &[OffLimit::Drop]), ["reading"]);
}

#[test]
fn a_reading_is_taken_and_decided_whole() {
    assert_eq!(broken_by(any, |row: &mut ReadingRow| row.taken_n = None), ["reading"]);
    assert_eq!(broken_by(any, |row: &mut ReadingRow| row.taken_at = None), ["reading"]);
    assert_eq!(
        broken_by(any, |row: &mut ReadingRow| decided(row, Decision::Accept)),
        ["reading"],
        "it is in its limits"
    );
    assert_eq!(broken_by(any, |row: &mut ReadingRow| row.decided_by = Some(PERSON)), ["reading"]);
    assert_eq!(broken_by(any, |row: &mut RemarkRow| row.withdrawn_reason = None), ["remark"]);
}

#[test]
fn what_is_out_of_limits_holds_its_stage_up() {
    let out = |books: &mut Books| {
        edit(books, any, |row: &mut ReadingRow| {
            figures(row, &[12_000_000, 8_000_000]);
            off(row, &[OffLimit::Low(1), OffLimit::Spread]);
        });
    };
    assert_eq!(broken(out), SOUND, "its stage is over");
    let under_way = |books: &mut Books| {
        edit(
            books,
            |row: &StageRow| row.stage == strip(),
            |row| {
                (row.state, row.ended_at, row.ended_n) = (StageState::Active, None, None);
            },
        );
        out(books);
    };
    assert!(broken(under_way).contains(&"reading-holds"));
    let stands = |books: &mut Books| {
        edit(books, any, |row: &mut BlockerRow| {
            (row.reading, row.cleared_at, row.cleared_n) = (Some("compression".into()), None, None);
        });
    };
    assert!(
        broken(|books| {
            under_way(books);
            stands(books);
        })
        .iter()
        .all(|law| *law != "reading-holds")
    );
    assert!(broken(stands).contains(&"reading-holds"), "a blocker stands for what is in its limits");
}

#[test]
fn a_vehicle_does_not_go_on_a_reading_that_is_open() {
    let gone = |books: &mut Books, lines: &[&str]| {
        let line = |line: &&str| OverruledLine { line: (*line).into(), reason: text(9).id, by: None };
        let overruled: Vec<OverruledLine> = lines.iter().map(line).collect();
        edit(
            books,
            |row: &JobRow| row.job == JOB,
            |row| {
                (row.state, row.closed_at) = (JobState::Completed, Some(minute(50)));
                row.overruled = overruled.clone();
            },
        );
    };
    let says = |change: &dyn Fn(&mut ReadingRow), lines: &[&str]| {
        let laws = broken(|books| {
            edit(books, any, |row: &mut ReadingRow| change(row));
            gone(books, lines);
        });
        laws.contains(&"reading-taken")
    };
    let untaken = |row: &mut ReadingRow| {
        (row.taken_at, row.taken_by, row.taken_n, row.verdict) = (None, None, None, None);
        row.figures.clear();
    };
    let out = |decision: Option<Decision>| {
        move |row: &mut ReadingRow| {
            figures(row, &[12_000_000, 8_000_000]);
            off(row, &[OffLimit::Low(1), OffLimit::Spread]);
            if let Some(decision) = decision {
                decided(row, decision);
            }
        }
    };
    assert!(!says(&|_| {}, &[]));
    assert!(says(&untaken, &[]) && says(&untaken, &["reading-out:compression"]));
    assert!(!says(&untaken, &["reading-missing:compression"]));
    assert!(says(&out(None), &[]) && says(&out(Some(Decision::Repair)), &[]) && says(&out(Some(Decision::Again)), &[]));
    assert!(!says(&out(Some(Decision::Accept)), &[]));
    assert!(!says(&out(None), &["reading-out:compression"]));
    assert!(!says(&out(Some(Decision::Again)), &["reading-missing:compression"]));
}

/// The working day with a reading of `strip`, which is under way.
fn measuring() -> Journal {
    let mut journal = Journal::working();
    journal.at(1, Fact::StageReady { job: JOB, stage: strip(), ready_at: minute(1), waits: false });
    journal.at(1, Fact::StageStarted { job: JOB, stage: strip(), person: None, overridden: None });
    let detail =
        ReadingDetail { high: Some(Measure(5)), ..ReadingDetail::plain(ReadingKind::RunOut, ReadingUnit::Millimetre) };
    let what = Wording::Typed(text(100));
    let reading = JobReading { reading: "gap".into(), step: None, what, detail, unplanned: true };
    journal.at(2, Fact::ReadingAdded { job: JOB, stage: strip(), reading });
    journal
}

fn taken(figure: i64, verdict: Verdict, off_limits: Vec<OffLimit>) -> Fact {
    let (reading, figures) = (ReadingKey::from("gap"), vec![Measure(figure)]);
    Fact::ReadingTaken {
        job: JOB,
        reading,
        person: Some(PERSON),
        figures,
        verdict,
        off_limits,
        instrument: None,
        note: None,
    }
}

fn fault(minutes: i64, fact: Fact) -> String {
    let mut journal = measuring();
    journal.at(minutes, fact);
    journal.fault().to_string()
}

#[test]
fn readings_and_remarks_that_can_not_be_are_faults() {
    let decide = |decision| {
        let (reading, reason) = (ReadingKey::from("gap"), text(101));
        Fact::ReadingDecided { job: JOB, reading, person: PERSON, decision, reason }
    };
    assert!(fault(3, decide(Decision::Accept)).contains("not out of its limits"));
    let remark = |remark| {
        let (remark, person, what, words) = (RemarkNo(remark), None, RemarkKind::FollowUp, text(102));
        Fact::RemarkMade { job: JOB, remark, person, what, words }
    };
    assert!(fault(3, remark(2)).contains("should be 1"));
    let (job, what) = (JobNo(9), RemarkKind::FollowUp);
    let strayed = Fact::RemarkMade { job, remark: RemarkNo(1), person: None, what, words: text(9) };
    assert!(fault(3, strayed).contains("unknown"));
    let build = || {
        let mut journal = measuring();
        journal.at(3, taken(6, Verdict::Out, vec![OffLimit::High(0)]));
        journal.at(4, decide(Decision::Accept));
        journal
    };
    let (mut journal, mut earlier) = (build(), build());
    let books = Books::of(&journal.entries).unwrap();
    let [row] = all::<ReadingRow>(&books).try_into().unwrap();
    assert_eq!((row.decision, row.decided_by, row.taken_by), (Some(Decision::Accept), Some(PERSON), Some(PERSON)));
    earlier.late(2, 5, taken(4, Verdict::In, vec![]));
    assert!(earlier.fault().to_string().contains("before the one that it replaces"));
    journal.at(5, taken(4, Verdict::In, vec![]));
    let [row] = all::<ReadingRow>(&Books::of(&journal.entries).unwrap()).try_into().unwrap();
    assert_eq!((row.decision, row.decided_n, row.verdict), (None, None, Some(Verdict::In)));
}
