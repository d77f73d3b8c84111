//! What the strip book, the condition of the vehicle, the readings and the hand-over of one job teach about a stage.

use super::Kind;
use super::gather::Met;
use crate::look;
use crate::state::State;
use crate::strip;
use leadhand_facts::rows::{FluidRow, PositionRow, ReadingRow, StageRow, WayRow};
use leadhand_facts::words::{Decision, Outcome, StageState};
use leadhand_facts::{FluidKey, JobNo, PositionKey, ReadingKey, StageKey, TextId};

/// Words of the template, or words that somebody typed.
type Said<'a> = dyn Fn(Option<&String>, Option<TextId>) -> String + 'a;

/// The words that these lessons need.
pub(super) fn texts(state: &State, job: JobNo) -> Vec<TextId> {
    let steps = state.steps.iter().filter(|row| row.job == job).filter_map(|row| row.overridden);
    let tried: Vec<&PositionRow> = strip::positions(state, job).filter(|row| last_try(state, row).is_some()).collect();
    let attempts = tried.iter().flat_map(|row| strip::attempts(state, job, &row.position));
    let attempts: Vec<TextId> = attempts.filter_map(|row| row.overridden).collect();
    let names = strip::positions(state, job).filter_map(|row| row.what_text);
    let ways = crate::condition::ways(state, job).map(|row| row.note);
    let readings = crate::reading::readings(state, job).flat_map(|row| [row.what_text, row.decided_reason]).flatten();
    let gone = state.jobs.get(&(job,)).into_iter().flat_map(|row| &row.overruled).map(|line| line.reason);
    steps.chain(attempts).chain(names).chain(ways).chain(readings).chain(gone).collect()
}

/// What these books teach about a stage that was done.
pub(super) fn of_stage(state: &State, stage: &StageRow, said: &Said<'_>) -> Vec<Met> {
    let met = |kind, what| Met { kind, what, minutes: 0 };
    let job = stage.job;
    let own = strip::positions(state, job).filter(|row| row.stage == stage.stage);
    let seized = own.filter_map(|row| tried(state, row, said)).map(|what| met(Kind::Seized, what));
    let ways = crate::condition::ways(state, job).filter(|row| row.stage == stage.stage);
    let ways = ways.map(|row| met(Kind::Way, way(row, said)));
    let fluids = crate::condition::fluids(state, job)
        .filter(|row| crate::condition::stage_of_fluid(state, row).as_ref() == Some(&stage.stage));
    let fluids = fluids.flat_map(fluid).map(|what| met(Kind::Fluid, what));
    let overrides = overruled(state, stage, said).into_iter().map(|what| met(Kind::Override, what));
    seized.chain(ways).chain(fluids).chain(overrides).collect()
}

fn last_try<'a>(state: &'a State, row: &PositionRow) -> Option<&'a leadhand_facts::rows::AttemptRow> {
    strip::attempts(state, row.job, &row.position).last()
}

/// How what would not move ended, by the measure that was taken last.
fn tried(state: &State, row: &PositionRow, said: &Said<'_>) -> Option<String> {
    let last = last_try(state, row)?;
    let ruin = strip::attempts(state, row.job, &row.position).filter(|one| one.outcome.is_ruin()).last();
    let what = said(row.what.as_ref(), row.what_text);
    Some(match (ruin, last.outcome) {
        (Some(ruin), _) => format!("{what}: {} at rung {} ({})", ruin.outcome, ruin.rung, ruin.measure),
        (None, Outcome::Moved) => format!("{what}: moved at rung {} ({})", last.rung, last.measure),
        (None, _) => format!("{what}: would not move up to rung {} ({})", last.rung, last.measure),
    })
}

fn way(row: &WayRow, said: &Said<'_>) -> String {
    let how = match row.approved {
        Some(true) => "done in another way",
        Some(false) => "another way was asked for and not approved",
        None => "another way was asked for, and nobody decided",
    };
    format!("step {}: {how}: {}", row.step, said(None, Some(row.note)))
}

fn fluid(row: &FluidRow) -> Vec<String> {
    if row.drained_ml + row.filled_ml == 0 {
        return Vec::new();
    }
    let name = row.what.clone().unwrap_or_else(|| row.fluid.to_string());
    let mut told = Vec::new();
    match row.expected_ml {
        None if row.stage.is_none() => told.push(format!("{name}: nobody had listed it")),
        Some(expected) if row.drained_ml > expected => told.push(format!("{name}: more came out than expected")),
        Some(expected) if (1..expected).contains(&row.drained_ml) => {
            told.push(format!("{name}: less came out than expected"));
        }
        _ => {}
    }
    if row.filled_ml < row.drained_ml {
        told.push(format!("{name}: less went in than came out"));
    }
    told
}

/// Lead's reasons at this stage: for steps, attempts and readings, and for lines of the hand-over that are about it.
fn overruled(state: &State, stage: &StageRow, said: &Said<'_>) -> Vec<String> {
    let job = stage.job;
    let reason = |text: TextId| said(None, Some(text));
    let steps = look::steps(state, job, &stage.stage)
        .filter_map(|step| Some(format!("step {}: {}", step.step, reason(step.overridden?))));
    let attempts = strip::positions(state, job).filter(|row| row.stage == stage.stage).flat_map(|row| {
        let what = said(row.what.as_ref(), row.what_text);
        let tries = strip::attempts(state, job, &row.position).filter_map(|one| one.overridden);
        tries.map(|text| format!("{what}: {}", reason(text))).collect::<Vec<_>>()
    });
    let accepted = |row: &ReadingRow| (row.decision == Some(Decision::Accept)).then_some(row.decided_reason).flatten();
    let readings = crate::reading::of_stage(state, job, &stage.stage).filter_map(|row| {
        let why = reason(accepted(row)?);
        Some(format!("{}: accepted out of its limits: {why}", said(row.what.as_ref(), row.what_text)))
    });
    let gone = state.jobs.get(&(job,)).into_iter().flat_map(|row| &row.overruled);
    let gone = gone.filter(|line| line_stage(state, job, &line.line).as_ref() == Some(&stage.stage));
    let gone = gone.map(|line| format!("at the hand-over, {}: {}", line.line, reason(line.reason)));
    steps.chain(attempts).chain(readings).chain(gone).collect()
}

/// The stage that a line of the hand-over is about; the last that was done where it is about none.
fn line_stage(state: &State, job: JobNo, line: &str) -> Option<StageKey> {
    let (kind, about) = line.split_once(':')?;
    let found = match kind {
        "places" | "pieces" | "not-tight" => {
            state.positions.get(&(job, PositionKey::from(about))).map(|row| row.stage.clone())
        }
        "reading-missing" | "reading-out" => {
            state.readings.get(&(job, ReadingKey::from(about))).map(|row| row.stage.clone())
        }
        "hold" | "way" => about.split_once('/').map(|(stage, _)| StageKey::from(stage)),
        "fluid" => state.fluids.get(&(job, FluidKey::from(about))).and_then(|row| row.stage.clone()),
        _ => None,
    };
    let done = look::stages_in_order(state, job).into_iter().filter(|stage| stage.state == StageState::Finished);
    let done: Vec<&StageRow> = done.collect();
    let found = found.filter(|stage| done.iter().any(|row| row.stage == *stage));
    found.or_else(|| done.last().map(|stage| stage.stage.clone()))
}
