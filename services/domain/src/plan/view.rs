//! The accepted plan as it stands, for whoever looks at it.

use crate::look;
use crate::state::State;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::plan::{JobOutlook, ON_TIME_MINUTES};
use leadhand_facts::rows::{PlanJobRow, PlanRow, PlanStageRow, PlanVisitRow, StagePinRow, StageRow};
use leadhand_facts::words::StageState;
use leadhand_facts::{BayKey, Instant, JobNo, PersonId, TextId};
use std::collections::BTreeSet;

/// A planned stage, with how it stands now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlannedLine {
    /// What the plan says.
    pub row: PlanStageRow,
    /// Its title, when a template gave it.
    pub title: Option<String>,
    /// The text of its title, when it was typed.
    pub title_text: Option<TextId>,
    /// How it stands.
    pub state: StageState,
    /// Whether the lead pinned something of it.
    pub pinned: bool,
}

/// The accepted plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanView {
    /// When it was made and accepted.
    pub row: PlanRow,
    /// Stages, by start.
    pub stages: Vec<PlannedLine>,
    /// Stays of vehicles in bays, by start.
    pub visits: Vec<PlanVisitRow>,
    /// When each job is ready.
    pub jobs: Vec<PlanJobRow>,
}

/// The accepted plan; nothing before the first.
pub fn plan_view(state: &State) -> Option<PlanView> {
    let row = state.plan.get(&())?.clone();
    let mut stages: Vec<PlannedLine> = state.plan_stages.iter().filter_map(|row| line(state, row)).collect();
    stages.sort_by_key(|line| (line.row.from_at, line.row.until_at, line.row.job, line.row.stage.clone()));
    let mut visits: Vec<PlanVisitRow> = state.plan_visits.iter().cloned().collect();
    visits.sort_by_key(|row| (row.from_at, row.bay.clone(), row.job));
    Some(PlanView { row, stages, visits, jobs: state.plan_jobs.iter().cloned().collect() })
}

fn line(state: &State, row: &PlanStageRow) -> Option<PlannedLine> {
    let stage = state.stages.get(&(row.job, row.stage.clone()))?;
    Some(PlannedLine {
        row: row.clone(),
        title: stage.title.clone(),
        title_text: stage.title_text,
        state: stage.state,
        pinned: state.stage_pins.get(&(row.job, row.stage.clone())).is_some(),
    })
}

/// What was pinned of stages that are not over, by job.
pub fn pins(state: &State) -> Vec<StagePinRow> {
    let open = |row: &&StagePinRow| look::stage(state, row.job, &row.stage).is_ok_and(|stage| !look::is_ended(stage));
    state.stage_pins.iter().filter(open).cloned().collect()
}

/// Where, by whom and when the accepted plan has a stage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlannedWork {
    /// The bay, for a stage that needs one.
    pub bay: Option<BayKey>,
    /// The names of whoever is to be on it; nothing for somebody who was forgotten.
    pub people: Vec<Option<TextId>>,
    /// When it is to start, or to go on.
    pub from: Instant,
    /// When it is to be finished.
    pub until: Instant,
}

/// What the accepted plan says of a stage that is not over.
pub fn planned_work(state: &State, stage: &StageRow) -> Option<PlannedWork> {
    let row = state.plan_stages.get(&(stage.job, stage.stage.clone())).filter(|_| !look::is_ended(stage))?;
    let name = |person: &PersonId| state.persons.get(&(*person,)).filter(|row| !row.forgotten).map(|row| row.name);
    let people = row.people.iter().map(name).collect();
    Some(PlannedWork { bay: row.bay.clone(), people, from: row.from_at, until: row.until_at })
}

/// When the accepted plan has a job ready.
pub fn planned_job(state: &State, job: JobNo) -> Option<&PlanJobRow> {
    state.plan_jobs.get(&(job,))
}

/// What becomes of a job, with the accepted plan's own times while that still holds: nothing has moved since it was made, the
/// job is ready as it says, give or take what counts as on time, and no sooner or later than promised only by one of them. A
/// forecast is drawn anew each time, and two of one plan would differ by their chance alone.
pub fn as_planned(mut outlook: JobOutlook, planned: Option<&PlanJobRow>, moved: bool) -> JobOutlook {
    let Some(row) = planned.filter(|_| !moved) else { return outlook };
    let (Some(now), Some(ready), Some(likely), Some(safe)) = (outlook.ready, row.ready_at, row.likely_at, row.safe_at)
    else {
        return outlook;
    };
    let late_us = |ready: Instant| outlook.promised.map_or(0, |promised| ready.since_us(promised).max(0));
    let near = now.since_us(ready).abs() <= ON_TIME_MINUTES * MINUTE_US;
    if near && (late_us(now) > 0) == (late_us(ready) > 0) {
        outlook.late_minutes = late_us(ready) / MINUTE_US;
        (outlook.ready, outlook.likely, outlook.safe) = (Some(ready), Some(likely), Some(safe));
    }
    outlook
}

impl PlanView {
    /// Everybody who is planned.
    pub fn persons(&self) -> BTreeSet<PersonId> {
        self.stages.iter().flat_map(|line| line.row.people.iter().copied()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NINE: Instant = Instant(1_800_000_000 * 1_000_000);

    fn at(minutes: i64) -> Instant {
        NINE.plus_minutes(minutes)
    }

    fn drawn(ready: i64, promised: i64) -> JobOutlook {
        JobOutlook {
            job: JobNo(1),
            ready: Some(at(ready)),
            promised: Some(at(promised)),
            late_minutes: (ready - promised).max(0),
            likely: Some(at(ready + 3)),
            safe: Some(at(ready + 40)),
            hangs_on: Vec::new(),
            sentence: String::new(),
            because: Vec::new(),
        }
    }

    /// The accepted plan has the job ready at 100, likely 105 and safe 150. Another draw comes to 140, of the same plan.
    #[test]
    fn one_plan_has_one_safe_time() {
        let row = PlanJobRow {
            job: JobNo(1),
            ready_at: Some(at(100)),
            likely_at: Some(at(105)),
            safe_at: Some(at(150)),
            nowhere: Vec::new(),
            hangs_on: Vec::new(),
        };
        let safe = |outlook: JobOutlook, moved: bool| {
            let told = as_planned(outlook, Some(&row), moved);
            (told.ready, told.safe, told.late_minutes)
        };
        assert_eq!(safe(drawn(100, 300), false), (Some(at(100)), Some(at(150)), 0));
        assert_eq!(
            safe(drawn(110, 300), false),
            (Some(at(100)), Some(at(150)), 0),
            "ten minutes are no change to anybody"
        );
        assert_eq!(
            safe(drawn(110, 95), false),
            (Some(at(100)), Some(at(150)), 5),
            "late by both, and as much as the plan says"
        );
        assert_eq!(safe(drawn(116, 300), false), (Some(at(116)), Some(at(156)), 0), "it is another plan by now");
        assert_eq!(safe(drawn(100, 300), true), (Some(at(100)), Some(at(140)), 0), "something has moved");
        assert_eq!(
            safe(drawn(110, 105), false),
            (Some(at(110)), Some(at(150)), 5),
            "the promise lies between: that is told"
        );
        assert_eq!(as_planned(drawn(100, 300), None, false), drawn(100, 300));
    }
}
