//! Readings: how they came out is worked out here anew, and nothing is handed over on one that is open.

use super::Found;
use crate::tables::Tables;
use leadhand_facts::reading::OffLimit;
use leadhand_facts::rows::{BlockerRow, JobRow, ReadingRow, RemarkRow, StageRow};
use leadhand_facts::words::{Decision, JobState, ReadingKind, ReadingUnit, StageState, Verdict};
use leadhand_facts::{JobNo, Measure, ReadingKey};
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn check(tables: &Tables, found: &mut Found) {
    let standing: BTreeSet<(JobNo, ReadingKey)> = tables
        .rows::<BlockerRow>()
        .filter(|row| row.cleared_at.is_none())
        .filter_map(|row| Some((row.job, row.reading.clone()?)))
        .collect();
    // What a lead let go of, for vehicles that were handed over; nothing, when it was all of it.
    let gone: BTreeMap<JobNo, Option<BTreeSet<&str>>> = tables
        .rows::<JobRow>()
        .filter(|job| job.state == JobState::Completed)
        .map(|job| {
            let lines = job.overruled.iter().map(|line| line.line.as_str()).collect();
            (job.job, job.overridden.is_none().then_some(lines))
        })
        .collect();
    for row in tables.rows::<ReadingRow>() {
        traced(row, found);
        came_out(row, found);
        held(tables, row, &standing, found);
        if let Some(Some(overruled)) = gone.get(&row.job) {
            handed_over(tables, row, overruled, found);
        }
    }
    for row in tables.rows::<RemarkRow>() {
        let agrees = row.withdrawn_n.is_some() == row.withdrawn_reason.is_some();
        found.law("remark", row, agrees && row.remark.0 > 0, || "it is withdrawn without a reason".to_owned());
    }
}

fn traced(row: &ReadingRow, found: &mut Found) {
    let taken = row.taken_n.is_some();
    let whole = taken == row.taken_at.is_some() && taken == row.verdict.is_some() && taken != row.figures.is_empty();
    let person = taken || row.taken_by.is_none();
    found.law("reading", row, whole && person, || "it was taken, or was not, and its columns say both".to_owned());
    let decided = [row.decided_at.is_some(), row.decided_n.is_some(), row.decided_by.is_some()];
    let whole = decided.iter().all(|said| *said == row.decision.is_some())
        && row.decision.is_some() == row.decided_reason.is_some()
        && (row.decision.is_none() || row.verdict == Some(Verdict::Out));
    found.law("reading", row, whole, || "a decision about it is there in part, or about what was in limits".to_owned());
}

/// The figures against the limits, by ways of its own.
fn came_out(row: &ReadingRow, found: &mut Found) {
    let Some(verdict) = row.verdict else { return };
    let off = off_limits(row);
    let detail = &row.detail;
    let bounds = [detail.low, detail.high, detail.spread, detail.drop];
    let free = bounds.iter().all(Option::is_none) && detail.minutes.is_none();
    let wanted = match (free, off.is_empty()) {
        (true, _) => Verdict::Free,
        (false, true) => Verdict::In,
        (false, false) => Verdict::Out,
    };
    let noted: BTreeSet<OffLimit> = row.off_limits.iter().copied().collect();
    let same = verdict == wanted && (free && noted.is_empty() || noted == off);
    found.law("reading", row, same, || format!("it is kept as {verdict}, and by its figures it is {wanted}"));
}

fn off_limits(row: &ReadingRow) -> BTreeSet<OffLimit> {
    let (detail, figures) = (&row.detail, &row.figures);
    let by_pressure = detail.kind == ReadingKind::LeakDown && detail.unit != ReadingUnit::Percent;
    let mut off = BTreeSet::new();
    let number = |at: usize| i32::try_from(at).unwrap_or(i32::MAX);
    if detail.kind == ReadingKind::PressureHeld {
        let value = |at: usize| figures.get(at).map_or(0, |figure| figure.0);
        bounds(&mut off, 0, value(0), detail.low, detail.high);
        if detail.drop.is_some_and(|drop| value(1) < value(0) - drop.0) {
            off.insert(OffLimit::Drop);
        }
        if detail.minutes.is_some_and(|least| value(2) < i64::from(least) * Measure::ONE) {
            off.insert(OffLimit::Short);
        }
        return off;
    }
    if by_pressure {
        for (at, pair) in figures.chunks(2).enumerate() {
            let (before, behind) = (i128::from(pair[0].0), pair.get(1).map_or(0, |figure| i128::from(figure.0)));
            // 100 (P1 - P2) / P1 <= limit is 100 * 10^6 * P2 >= (100 * 10^6 - limit) * P1, with all in millionths.
            let whole = 100 * i128::from(Measure::ONE);
            let kept = |limit: Measure| (whole - i128::from(limit.0)) * before;
            if detail.high.is_some_and(|high| whole * behind < kept(high)) {
                off.insert(OffLimit::High(number(at)));
            }
            if detail.low.is_some_and(|low| whole * behind > kept(low)) {
                off.insert(OffLimit::Low(number(at)));
            }
        }
        return off;
    }
    let mut sorted: Vec<i64> = figures.iter().map(|figure| figure.0).collect();
    sorted.sort_unstable();
    let (least, most) = (sorted.first().copied().unwrap_or(0), sorted.last().copied().unwrap_or(0));
    if detail.kind == ReadingKind::Flatness && figures.len() > 1 {
        if detail.high.is_some_and(|high| least + high.0 < most) {
            off.insert(OffLimit::Range);
        }
        return off;
    }
    for (at, figure) in figures.iter().enumerate() {
        bounds(&mut off, number(at), figure.0, detail.low, detail.high);
    }
    // The lowest is to reach (100 % - spread) of the highest.
    let share = |spread: Measure| 100 * i128::from(Measure::ONE) - i128::from(spread.0);
    if detail.spread.is_some_and(|s| i128::from(least) * 100 * i128::from(Measure::ONE) < share(s) * i128::from(most)) {
        off.insert(OffLimit::Spread);
    }
    off
}

fn bounds(off: &mut BTreeSet<OffLimit>, at: i32, figure: i64, low: Option<Measure>, high: Option<Measure>) {
    if low.is_some_and(|low| low.0 > figure) {
        off.insert(OffLimit::Low(at));
    }
    if high.is_some_and(|high| high.0 < figure) {
        off.insert(OffLimit::High(at));
    }
}

/// What is out of its limits holds its stage up until a lead decides, and nothing else does so in its name.
fn held(tables: &Tables, row: &ReadingRow, standing: &BTreeSet<(JobNo, ReadingKey)>, found: &mut Found) {
    let stage = tables.get::<StageRow>(&(row.job, row.stage.clone())).map(|stage| stage.state);
    let waits = row.verdict == Some(Verdict::Out) && row.decision.is_none() && stage == Some(StageState::Active);
    let stands = standing.contains(&(row.job, row.reading.clone()));
    found.law("reading-holds", row, waits == stands, || {
        if waits { "it is out of its limits and holds nothing up" } else { "a blocker stands for it without need" }
            .to_owned()
    });
}

fn handed_over(tables: &Tables, row: &ReadingRow, overruled: &BTreeSet<&str>, found: &mut Found) {
    let skipped =
        tables.get::<StageRow>(&(row.job, row.stage.clone())).is_some_and(|stage| stage.state == StageState::Skipped);
    let let_go = |kind: &str| overruled.contains(format!("{kind}:{}", row.reading).as_str());
    let missing = row.taken_n.is_none() || row.decision == Some(Decision::Again);
    let measured = !missing || skipped || let_go("reading-missing");
    found.law("reading-taken", row, measured, || "it was not taken before the vehicle went".to_owned());
    let out = !missing && row.verdict == Some(Verdict::Out) && row.decision != Some(Decision::Accept);
    found.law("reading-taken", row, !out || let_go("reading-out"), || {
        "it was out of its limits when the vehicle went".to_owned()
    });
}
