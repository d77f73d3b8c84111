//! Readings and remarks, mostly sensible ones.

use super::Draw;
use leadhand_domain::command::*;
use leadhand_domain::look;
use leadhand_domain::reading::{awaits_lead, is_missing, of_stage, slots};
use leadhand_facts::reading::ReadingDetail;
use leadhand_facts::rows::{ReadingRow, RemarkRow, StageRow};
use leadhand_facts::words::{Decision, ReadingKind, ReadingUnit, RemarkKind, StageState, Verdict};
use leadhand_facts::*;

fn small(draw: &mut Draw<'_>, low: i64, high: i64) -> Measure {
    Measure::whole(i32::try_from(draw.between(low, high)).expect("a small number"))
}

/// Figures that fit the slots of a reading, mostly; a leak never gains pressure.
fn figures(draw: &mut Draw<'_>, detail: &ReadingDetail) -> Vec<Measure> {
    let wanted = slots(detail).len() + usize::from(draw.rarely(30));
    let mut all: Vec<Measure> = (0..wanted).map(|_| small(draw, 6, 12)).collect();
    if detail.kind == ReadingKind::LeakDown {
        all.chunks_exact_mut(2).for_each(|pair| pair.sort_by_key(|figure| std::cmp::Reverse(*figure)));
    }
    all
}

fn detail(draw: &mut Draw<'_>) -> ReadingDetail {
    let low = Some(small(draw, 5, 9));
    match draw.below(4) {
        0 => ReadingDetail {
            labels: vec!["1".into(), "2".into()],
            low,
            spread: Some(small(draw, 10, 40)),
            ..ReadingDetail::plain(ReadingKind::Compression, ReadingUnit::Bar)
        },
        1 => ReadingDetail {
            high: Some(small(draw, 5, 50)),
            ..ReadingDetail::plain(ReadingKind::LeakDown, ReadingUnit::Kilopascal)
        },
        2 => ReadingDetail {
            drop: Some(small(draw, 0, 3)),
            minutes: Some(7),
            ..ReadingDetail::plain(ReadingKind::PressureHeld, ReadingUnit::Kilopascal)
        },
        _ => ReadingDetail {
            labels: vec!["a".into(), "b".into(), "c".into()],
            high: Some(small(draw, 0, 6)),
            ..ReadingDetail::plain(ReadingKind::Flatness, ReadingUnit::Micrometre)
        },
    }
}

pub fn add(draw: &mut Draw<'_>) -> Command {
    let all: Vec<StageRow> = draw.state.stages.iter().filter(|row| !look::is_ended(row)).cloned().collect();
    let row = draw.one_of(&all).filter(|_| !draw.rarely(15));
    let (job, stage) = row.as_ref().map_or((JobNo(1), "strip".into()), |row| (row.job, row.stage.clone()));
    let next = row.as_ref().and_then(|row| look::next_step(draw.state, row)).map(|step| step.step);
    let detail = detail(draw);
    AddReading {
        job,
        stage,
        step: next.filter(|_| draw.below(2) == 0),
        reading: draw.rarely(8).then(|| "reading-1".into()),
        what: draw.words("what was met"),
        figures: if draw.below(2) == 0 { figures(draw, &detail) } else { vec![] },
        detail,
        instrument: draw.sometimes("gauge 2"),
        note: None,
        sure: draw.below(2) == 0,
    }
    .into()
}

fn taking(draw: &mut Draw<'_>, row: &ReadingRow) -> Command {
    RecordReading {
        job: row.job,
        reading: row.reading.clone(),
        figures: figures(draw, &row.detail),
        instrument: draw.sometimes("gauge 2"),
        note: draw.sometimes("it hisses at the tailpipe"),
        sure: draw.below(2) == 0,
    }
    .into()
}

pub fn record(draw: &mut Draw<'_>) -> Command {
    let active = |row: &&ReadingRow| {
        let stage = draw.state.stages.get(&(row.job, row.stage.clone()));
        stage.is_some_and(|stage| stage.state == StageState::Active)
    };
    let all: Vec<ReadingRow> = draw.state.readings.iter().filter(active).cloned().collect();
    match draw.one_of(&all) {
        Some(row) => taking(draw, &row),
        None => add(draw),
    }
}

pub fn decide(draw: &mut Draw<'_>) -> Command {
    let out = |row: &&ReadingRow| row.verdict == Some(Verdict::Out);
    let all: Vec<ReadingRow> = draw.state.readings.iter().filter(out).cloned().collect();
    let row = draw.one_of(&all);
    let (job, reading) = row.map_or((JobNo(1), "reading-1".into()), |row| (row.job, row.reading));
    let decision = draw.one_of(Decision::ALL).unwrap_or(Decision::Accept);
    DecideReading { job, reading, decision, reason: draw.words("the customer was asked") }.into()
}

pub fn remark(draw: &mut Draw<'_>) -> Command {
    let what = draw.one_of(RemarkKind::ALL).unwrap_or(RemarkKind::FollowUp);
    MakeRemark { job: draw.job(), what, words: draw.words("look at the level after a week") }.into()
}

pub fn withdraw(draw: &mut Draw<'_>) -> Command {
    let all: Vec<RemarkRow> = draw.state.remarks.iter().cloned().collect();
    let Some(row) = draw.one_of(&all) else { return remark(draw) };
    WithdrawRemark { job: row.job, remark: row.remark, reason: draw.words("it was another job") }.into()
}

/// What a stage that is under way wants measured or decided first.
pub fn next_in(draw: &mut Draw<'_>, row: &StageRow) -> Option<Command> {
    let own: Vec<ReadingRow> = of_stage(draw.state, row.job, &row.stage).cloned().collect();
    if let Some(out) = own.iter().find(|row| awaits_lead(row)) {
        let (job, reading) = (out.job, out.reading.clone());
        let decision = Decision::Accept;
        return Some(DecideReading { job, reading, decision, reason: "it will do".into() }.into());
    }
    let missing = own.into_iter().find(|row| row.step.is_some() && is_missing(row))?;
    Some(taking(draw, &missing))
}
