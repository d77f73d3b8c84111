//! The stages of open jobs as a plan takes them: what of their minutes is still to come, what binds them, who has them.

use super::input::arrival;
use super::parts;
use crate::look;
use crate::state::State;
use crate::template::shared_as;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::job::JobAfter;
use leadhand_facts::plan::{PlanBlocker, PlanHeld, PlanPin, PlanStage, PlanTechnician, StageNow};
use leadhand_facts::rows::{BlockerRow, ClockingRow, ShortageRow, StageRow};
use leadhand_facts::template::Minutes;
use leadhand_facts::words::{StageKind, StageState, StepState};
use leadhand_facts::{Instant, ItemKey, JobNo, PersonId, StageKey, TextId, ToolKey, Window};
use std::collections::{BTreeMap, BTreeSet};

/// Minutes of work of which nobody said how long it takes: common practice for a look at something unknown.
pub const UNKNOWN: Minutes = Minutes { low: 30, likely: 60, high: 120 };

type ByStage<'a, R> = BTreeMap<(JobNo, &'a str), Vec<&'a R>>;

fn of<'s, R>(rows: &'s ByStage<'_, R>, stage: &'s StageRow) -> &'s [&'s R] {
    let key: (JobNo, &'s str) = (stage.job, stage.stage.as_str());
    rows.get(&key).map_or(&[], Vec::as_slice)
}

/// Rows by stage.
pub(super) struct Stages<'a> {
    state: &'a State,
    at: Instant,
    technicians: BTreeMap<PersonId, &'a PlanTechnician>,
    words: &'a dyn Fn(TextId) -> String,
    clockings: ByStage<'a, ClockingRow>,
    blockers: ByStage<'a, BlockerRow>,
    shortages: ByStage<'a, ShortageRow>,
    lacking: BTreeMap<(JobNo, StageKey), BTreeSet<ItemKey>>,
}

impl<'a> Stages<'a> {
    pub fn of(
        state: &'a State,
        at: Instant,
        technicians: &'a [PlanTechnician],
        words: &'a dyn Fn(TextId) -> String,
    ) -> Self {
        let mut clockings: ByStage<'a, ClockingRow> = BTreeMap::new();
        for row in state.clockings.iter() {
            clockings.entry((row.job, row.stage.as_str())).or_default().push(row);
        }
        for rows in clockings.values_mut() {
            rows.sort_by_key(|row| (row.from_at, row.on_n));
        }
        let mut blockers: ByStage<'a, BlockerRow> = BTreeMap::new();
        for row in state.blockers.iter().filter(|row| row.cleared_at.is_none()) {
            blockers.entry((row.job, row.stage.as_str())).or_default().push(row);
        }
        let mut shortages: ByStage<'a, ShortageRow> = BTreeMap::new();
        for row in state.shortages.iter().filter(|row| row.quantity.is_positive()) {
            shortages.entry((row.job, row.stage.as_str())).or_default().push(row);
        }
        let technicians = technicians.iter().map(|one| (one.person, one)).collect();
        let lacking = parts::lacking(state);
        Self { state, at, technicians, words, clockings, blockers, shortages, lacking }
    }

    /// The stages of a job: all that are open, and the ended ones.
    pub fn of_job(&self, job: JobNo) -> Vec<PlanStage> {
        look::stages_in_order(self.state, job).into_iter().map(|row| self.stage(row)).collect()
    }

    fn stage(&self, row: &StageRow) -> PlanStage {
        let (parts_from, blocker) = self.held_up(row);
        PlanStage {
            stage: row.stage.clone(),
            title: self.title(row),
            kind: row.kind,
            minutes: self.still_to_come(row),
            in_bay: !row.bays.is_empty(),
            bays: row.bays.clone(),
            skills: self.skills(row),
            hands: row.hands,
            tools: self.tools(row),
            after: self.after(row),
            may_leave: row.may_leave,
            // What was begun goes on now, whatever it takes.
            may_pause: !row.in_one_go || row.state == StageState::Active,
            parts_from,
            blocker,
            now: self.now(row),
            begun: self.pauses(row),
            on: row.state == StageState::Active && !self.pauses(row) && !self.on(row).is_empty(),
            pin: self.pin(row),
        }
    }

    fn title(&self, row: &StageRow) -> String {
        let typed = row.title_text.map(|text| (self.words)(text)).filter(|words| !words.is_empty());
        row.title.clone().or(typed).unwrap_or_else(|| row.stage.to_string())
    }

    fn clockings<'s>(&'s self, row: &'s StageRow) -> &'s [&'s ClockingRow] {
        of(&self.clockings, row)
    }

    /// Three-point minutes without those that have passed; of what was started a minute is left at least.
    fn still_to_come(&self, row: &StageRow) -> Minutes {
        let passed_us = match row.kind {
            StageKind::Work => self.worked_us(row),
            StageKind::Wait => row.started_at.or(row.ready_at).map_or(0, |from| self.at.since_us(from).max(0)),
        };
        let passed = i32::try_from(passed_us / MINUTE_US).unwrap_or(i32::MAX);
        let least = i32::from(passed > 0 || row.state == StageState::Active);
        let left = |minutes: i32| minutes.saturating_sub(passed).max(least);
        let said = Minutes { low: row.low, likely: row.likely, high: row.high };
        let unsaid = row.kind == StageKind::Work && said == Minutes { low: 0, likely: 0, high: 0 };
        let row = if unsaid { UNKNOWN } else { said };
        Minutes { low: left(row.low), likely: left(row.likely), high: left(row.high) }
    }

    /// How long at least one person has worked on it by the moment that is planned from.
    fn worked_us(&self, row: &StageRow) -> i64 {
        let (mut reached, mut sum) = (Instant(i64::MIN), 0);
        for clocking in self.clockings(row) {
            let until = clocking.until_at.unwrap_or(self.at).min(self.at);
            sum += Window { from: clocking.from_at.max(reached), until }.length_us();
            reached = reached.max(until);
        }
        sum
    }

    /// What everybody on it has to know: its own skills, and those of its steps that are to be done. Where that would leave
    /// too few for the hands that it takes, not everybody has to know what a step asks for.
    fn skills(&self, row: &StageRow) -> Vec<String> {
        let steps = look::steps(self.state, row.job, &row.stage).filter(|step| step.state == StepState::Pending);
        let of_steps = steps.flat_map(|step| step.safety.skills.iter().cloned());
        let all: BTreeSet<String> = row.skills.iter().cloned().chain(of_steps).collect();
        let able = |one: &&&PlanTechnician| all.iter().all(|skill| one.skills.contains(skill));
        let enough = self.technicians.values().filter(able).count() >= usize::try_from(row.hands).unwrap_or(0);
        if row.hands <= 1 || enough { all.into_iter().collect() } else { row.skills.clone() }
    }

    /// Shared tools of its steps that are still to be done, and tools of it and of those that are called like a shared one.
    fn tools(&self, row: &StageRow) -> Vec<ToolKey> {
        let steps = || look::steps(self.state, row.job, &row.stage).filter(|step| step.state == StepState::Pending);
        let named = row.tools.iter().chain(steps().flat_map(|step| &step.tools));
        let keys = named.filter_map(|words| shared_as(self.state.tools.iter(), words)).map(|tool| tool.tool.clone());
        let shared = steps().flat_map(|step| step.shared_tools.iter().cloned());
        shared.chain(keys).collect::<BTreeSet<_>>().into_iter().collect()
    }

    /// What comes before it. A stage that was left out passes on what came before that one.
    fn after(&self, row: &StageRow) -> Vec<JobAfter> {
        let mut found: BTreeMap<StageKey, i32> = BTreeMap::new();
        self.gather(row.job, &row.stage, 0, &mut found);
        found.into_iter().map(|(stage, wait_minutes)| JobAfter { stage, wait_minutes }).collect()
    }

    fn gather(&self, job: JobNo, stage: &StageKey, waits: i32, found: &mut BTreeMap<StageKey, i32>) {
        for after in look::afters(self.state, job, stage) {
            let wait = waits.saturating_add(after.wait_minutes);
            if found.get(&after.after).is_some_and(|known| *known >= wait) {
                continue;
            }
            found.insert(after.after.clone(), wait);
            let before = self.state.stages.get(&(job, after.after.clone()));
            if before.is_some_and(|row| row.state == StageState::Skipped) {
                self.gather(job, &after.after, wait, found);
            }
        }
    }

    /// When its parts are there, and what holds it up. What is short, also of what nobody has asked for yet, arrives with the next delivery of its supplier; of what
    /// nobody knows that, nobody knows the end.
    fn held_up(&self, row: &StageRow) -> (Option<Instant>, Option<PlanBlocker>) {
        let key = (row.job, row.stage.as_str());
        let mut short: BTreeSet<ItemKey> =
            self.shortages.get(&key).into_iter().flatten().map(|row| row.item.clone()).collect();
        short.extend(self.lacking.get(&(row.job, row.stage.clone())).into_iter().flatten().cloned());
        let arrives = arrival(self.state, &short, self.at);
        let blockers = of(&self.blockers, row);
        let known = |blocker: &&&BlockerRow| blocker.expected_at.is_some_and(|at| at > self.at);
        // A blocker that stands for what is short ends with the delivery, unless somebody said otherwise.
        let by_delivery = |b: &&&BlockerRow| b.item.is_some() && b.expected_at.is_none() && arrives.is_ok();
        let open = || blockers.iter().filter(|blocker| !by_delivery(blocker));
        let latest = open().filter(known).max_by_key(|blocker| blocker.expected_at);
        let held = latest.and_then(|b| Some(PlanHeld { cause: self.cause(b), until: b.expected_at? }));
        let unknown = open().find(|blocker| !known(blocker)).map(|blocker| self.cause(blocker));
        let missing = arrives.as_ref().err().map(|item| format!("missing '{item}'"));
        let parts_from = arrives.ok().flatten();
        // One end that nobody knows makes the whole unknown, whatever else is known.
        let blocker = match (unknown.or(missing), held) {
            (Some(cause), beside) => Some(PlanBlocker { cause, until: None, beside }),
            (None, Some(PlanHeld { cause, until })) => Some(PlanBlocker { cause, until: Some(until), beside: None }),
            (None, None) => None,
        };
        (parts_from, blocker)
    }

    fn cause(&self, blocker: &BlockerRow) -> String {
        let over = blocker.expected_at.is_some_and(|at| at <= self.at);
        let what = match (&blocker.item, &blocker.tool) {
            (Some(item), _) => format!("missing '{item}'"),
            (_, Some(tool)) => format!("shared tool '{tool}'"),
            _ => blocker.cause.to_string(),
        };
        if over { format!("{what}, which was to be over by now") } else { what }
    }

    /// Whether it was started and is held up for a time that is known: then it goes on as one that waits, with its people.
    fn pauses(&self, row: &StageRow) -> bool {
        let (parts_from, blocker) = self.held_up(row);
        let until = blocker.and_then(|blocker| Some(blocker.known()?.1)).max(parts_from);
        row.state == StageState::Active && row.kind == StageKind::Work && until.is_some_and(|until| until > self.at)
    }

    fn now(&self, row: &StageRow) -> StageNow {
        match row.state {
            StageState::Finished => StageNow::Ended { at: row.ended_at.unwrap_or(self.at) },
            StageState::Skipped => StageNow::LeftOut { at: row.ended_at.unwrap_or(self.at) },
            StageState::Active if !self.pauses(row) => StageNow::Started { people: self.people(row) },
            StageState::Active | StageState::Pending => StageNow::Open,
        }
    }

    /// Who is on a stage that was started; else whom the lead gave it to; else who was on it last.
    fn people(&self, row: &StageRow) -> Vec<PersonId> {
        if row.kind == StageKind::Wait {
            return Vec::new();
        }
        let mut rows: Vec<&ClockingRow> = self.known_clockings(row).collect();
        rows.sort_by_key(|clocking| std::cmp::Reverse(clocking.until_at.unwrap_or(Instant(i64::MAX))));
        let on = self.on(row);
        let pinned = self.pinned_people(row);
        if !on.is_empty() || !pinned.is_empty() {
            return if on.is_empty() { pinned } else { on.into_iter().collect() };
        }
        let mut last: Vec<PersonId> = Vec::new();
        for clocking in rows {
            if last.len() < usize::try_from(row.hands).unwrap_or(0).max(1) && !last.contains(&clocking.person) {
                last.push(clocking.person);
            }
        }
        last
    }

    fn known_clockings<'s>(&'s self, row: &'s StageRow) -> impl Iterator<Item = &'s ClockingRow> {
        self.clockings(row).iter().copied().filter(|clocking| self.technicians.contains_key(&clocking.person))
    }

    /// Who is clocked on to it.
    fn on(&self, row: &StageRow) -> BTreeSet<PersonId> {
        self.known_clockings(row)
            .filter(|clocking| clocking.until_at.is_none())
            .map(|clocking| clocking.person)
            .collect()
    }

    fn pinned_people(&self, row: &StageRow) -> Vec<PersonId> {
        let pin = self.state.stage_pins.get(&(row.job, row.stage.clone()));
        let people = pin.map(|pin| pin.people.clone()).unwrap_or_default();
        people.into_iter().filter(|person| self.technicians.contains_key(person)).collect()
    }

    fn pin(&self, row: &StageRow) -> PlanPin {
        let pin = self.state.stage_pins.get(&(row.job, row.stage.clone()));
        let people = if self.pauses(row) { self.people(row) } else { self.pinned_people(row) };
        let stands = || {
            let vehicle = self.state.jobs.get(&(row.job,))?.vehicle;
            Some(look::stay_of(self.state, vehicle)?.bay.clone())
        };
        let bay = if self.pauses(row) && !row.bays.is_empty() { stands() } else { None };
        let pinned_bay = pin.and_then(|pin| pin.bay.clone()).filter(|_| !row.bays.is_empty());
        // When it was to begin says nothing any more once it has begun.
        let from = pin.filter(|_| row.state != StageState::Active).and_then(|pin| pin.from_at);
        PlanPin { bay: bay.or(pinned_bay), people, from }
    }
}
