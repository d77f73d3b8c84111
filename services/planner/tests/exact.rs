//! Tiny shops against every plan there is. The search here goes through all starts, people, bays and ways to roll out
//! on the grain that the shop is made of, and asks the auditor about each; it keeps only what is strictly better than
//! what the planner found. Larger ones are in `bounds`, against what was proved elsewhere.

mod kit;

use kit::{minute, tiny};
use leadhand_auditor::check_plan;
use leadhand_facts::plan::{BayVisit, Objective, Plan, PlanInput, PlanStage, PlannedStage, VehicleNow};
use leadhand_facts::words::StageKind;
use leadhand_facts::{Instant, Window};
use leadhand_planner::{Budget, propose};

const GRAIN: i64 = 30;
/// Partial plans that are looked at before a shop is given up as too large.
const MOST: u64 = 4_000;

/// Shops of the ordinary round; `LEADHAND_PLAN_SHOPS=1000` looks at more.
const SHOPS: u64 = 60;

/// A stage and what it comes after, by place in the list.
struct Item<'a> {
    job: usize,
    said: &'a PlanStage,
    minutes: i64,
    before: Vec<(usize, i64)>,
    tail: i64,
}

struct Exact<'a> {
    input: &'a PlanInput,
    items: Vec<Item<'a>>,
    rows: Vec<PlannedStage>,
    overtime: i64,
    best: Objective,
    better: Option<Plan>,
    tried: u64,
}

impl<'a> Exact<'a> {
    fn new(input: &'a PlanInput, best: Objective) -> Self {
        let mut items: Vec<Item<'a>> = Vec::new();
        for (j, job) in input.jobs.iter().enumerate() {
            let first = items.len();
            for said in &job.stages {
                let at = |key| job.stages.iter().position(|s| s.stage == key).expect("a stage") + first;
                let before = said.after.iter().map(|a| (at(a.stage.clone()), i64::from(a.wait_minutes))).collect();
                items.push(Item { job: j, said, minutes: i64::from(said.minutes.likely), before, tail: 0 });
            }
        }
        for i in (0..items.len()).rev() {
            items[i].tail += items[i].minutes;
            for (b, wait) in items[i].before.clone() {
                items[b].tail = items[b].tail.max(items[i].tail + wait);
            }
        }
        Self { input, items, rows: Vec::new(), overtime: 0, best, better: None, tried: 0 }
    }

    /// What the stages placed so far come to at least.
    fn at_least(&self) -> Objective {
        let mut objective = Objective { overtime_minutes: self.overtime, ..Objective::default() };
        let mut last = vec![0; self.input.jobs.len()];
        for (i, item) in self.items.iter().enumerate() {
            let here = minute(self.input.jobs[item.job].here_from);
            let finish = self.rows.get(i).map_or(here + item.minutes, |row| minute(row.until));
            last[item.job] = last[item.job].max(finish + item.tail - item.minutes);
        }
        for (job, last) in self.input.jobs.iter().zip(last) {
            objective.makespan_minutes = objective.makespan_minutes.max(last);
            let late = job.promised.map_or(0, |promised| (last - minute(promised)).max(0));
            objective.tardiness += i64::from(job.weight) * late;
        }
        objective
    }

    fn search(&mut self) {
        self.tried += 1;
        if self.better.is_some() || self.tried > MOST || self.at_least() >= self.best {
            return;
        }
        let i = self.rows.len();
        if i == self.items.len() {
            self.leaf(0, Vec::new());
            return;
        }
        let earliest = |(b, wait): &(usize, i64)| minute(self.rows[*b].until) + wait;
        let ready = self.items[i].before.iter().map(earliest).max().unwrap_or(0);
        let end = minute(self.input.until);
        for slot in ready.div_euclid(GRAIN)..end / GRAIN {
            let job = &self.input.jobs[self.items[i].job];
            let done = slot * GRAIN + self.items[i].tail;
            let late = job.promised.map_or(0, |promised| i64::from(job.weight) * (done - minute(promised)).max(0));
            let hopeless = self.best.overtime_minutes == 0 && late >= self.best.tardiness;
            if late > self.best.tardiness || hopeless && done >= self.best.makespan_minutes {
                return;
            }
            self.start_at(i, slot * GRAIN);
            if self.better.is_some() {
                return;
            }
        }
    }

    fn start_at(&mut self, i: usize, from: i64) {
        let item = &self.items[i];
        let said = item.said;
        let teams: Vec<Vec<usize>> = match (said.kind, said.hands) {
            (StageKind::Wait, _) => vec![Vec::new()],
            (_, 1) => (0..self.input.technicians.len()).map(|p| vec![p]).collect(),
            _ => {
                let n = self.input.technicians.len();
                (0..n).flat_map(|a| (a + 1..n).map(move |b| vec![a, b])).collect()
            }
        };
        let bays: Vec<Option<usize>> =
            if said.in_bay { (0..self.input.bays.len()).map(Some).collect() } else { vec![None] };
        let (job, minutes, pause) = (item.job, item.minutes, said.may_pause);
        for team in teams {
            for overtime in [false, true] {
                let until = if team.is_empty() {
                    Some((from + minutes, 0))
                } else {
                    self.works(&team, from, minutes, pause, overtime)
                };
                let Some((until, over)) =
                    until.filter(|&(until, over)| until <= minute(self.input.until) && (over > 0) == overtime)
                else {
                    continue;
                };
                for bay in &bays {
                    let row = PlannedStage {
                        job: self.input.jobs[job].job,
                        stage: said.stage.clone(),
                        bay: bay.map(|b| self.input.bays[b].bay.clone()),
                        people: team.iter().map(|&p| self.input.technicians[p].person).collect(),
                        tools: said.tools.clone(),
                        from: kit::at(from),
                        until: kit::at(until),
                    };
                    let free = |other: &PlannedStage| {
                        let apart = other.until <= row.from || row.until <= other.from;
                        let shared = other.people.iter().any(|p| row.people.contains(p))
                            || other.tools.iter().any(|t| row.tools.contains(t))
                            || (row.bay.is_some() && other.bay == row.bay && other.job != row.job);
                        apart || !shared
                    };
                    if self.rows.iter().all(free) {
                        self.rows.push(row);
                        self.overtime += over;
                        self.search();
                        self.overtime -= over;
                        self.rows.pop();
                    }
                }
            }
        }
    }

    /// When work that starts at a moment is over, and minutes of overtime in it, of all hands.
    fn works(&self, team: &[usize], from: i64, minutes: i64, pause: bool, overtime: bool) -> Option<(i64, i64)> {
        let holds = |windows: &[Window], t: i64| windows.iter().any(|w| w.holds(kit::at(t)));
        let normal = |p: usize, t: i64| holds(&self.input.shop, t) && holds(&self.input.technicians[p].shifts, t);
        let there = |p: usize, t: i64| normal(p, t) || overtime && holds(&self.input.technicians[p].overtime, t);
        let (mut t, mut left, mut over) = (from, minutes, vec![minutes; team.len()]);
        while left > 0 {
            if team.iter().all(|&p| there(p, t)) {
                left -= GRAIN;
            } else if t == from || !pause {
                return None;
            }
            for (over, &p) in over.iter_mut().zip(team) {
                *over -= if normal(p, t) { GRAIN } else { 0 };
            }
            t += GRAIN;
            if t > minute(self.input.until) {
                return None;
            }
        }
        Some((t, over.iter().map(|o| (*o).max(0)).sum()))
    }

    /// Every way to roll vehicles out between the stages placed, job after job.
    fn leaf(&mut self, job: usize, visits: Vec<BayVisit>) {
        if job == self.input.jobs.len() {
            let mut objective = self.at_least();
            objective.overtime_minutes += self.moved_over(&visits);
            let plan = Plan { number: self.input.number, stages: self.rows.clone(), visits };
            if objective < self.best && check_plan(self.input, &plan).is_empty() {
                self.better = Some(plan);
            }
            return;
        }
        let said = &self.input.jobs[job];
        let mut rows: Vec<PlannedStage> =
            self.rows.iter().filter(|r| r.job == said.job && r.bay.is_some()).cloned().collect();
        rows.sort_by_key(|r| (r.from, r.until));
        let open = match &said.vehicle {
            VehicleNow::Bay(bay) => {
                Some(BayVisit { job: said.job, bay: bay.clone(), from: self.input.at, until: self.input.at })
            }
            _ => None,
        };
        self.stays(job, &rows, open, visits);
    }

    fn stays(&mut self, job: usize, rows: &[PlannedStage], open: Option<BayVisit>, done: Vec<BayVisit>) {
        let Some((row, rest)) = rows.split_first() else {
            for until in self.ends(job, open.as_ref()) {
                let last = open.clone().map(|open| BayVisit { until, ..open });
                self.leaf(job + 1, done.iter().cloned().chain(last).collect());
            }
            return;
        };
        let moving = i64::from(self.input.jobs[job].moving_minutes);
        let bay = row.bay.clone().expect("in a bay");
        let enter = |from: Instant| BayVisit { job: row.job, bay: bay.clone(), from, until: row.until };
        let Some(open) = open else {
            self.stays(job, rest, Some(enter(row.from)), done);
            return;
        };
        if open.bay == bay {
            let longer = BayVisit { until: open.until.max(row.until), ..open.clone() };
            self.stays(job, rest, Some(longer), done.clone());
        }
        let Some(latest) = self.moved_by(row.from, moving) else { return };
        let goes: Vec<Instant> =
            self.ends(job, Some(&open)).into_iter().filter_map(|end| self.moves_from(end, moving)).collect();
        let by_yard = goes.iter().map(|goes| (goes.plus_minutes(moving), latest));
        let at_once = goes.iter().map(|goes| (*goes, *goes)).chain([(latest, latest)]);
        for (left, entered) in by_yard.chain(at_once) {
            if open.until <= left && left <= entered && entered <= latest && (left < entered || open.bay != bay) {
                let mut more = done.clone();
                more.push(BayVisit { until: left, ..open.clone() });
                self.stays(job, rest, Some(enter(entered)), more);
            }
        }
    }

    /// Whether somebody could move a vehicle from a moment on.
    fn can_move(&self, from: Instant, moving: i64) -> bool {
        let overtime = self.input.technicians.iter().flat_map(|one| &one.overtime);
        let there = |t: i64| self.input.shop.iter().chain(overtime.clone()).any(|w| w.holds(from.plus_minutes(t)));
        (0..moving / GRAIN).all(|k| there(k * GRAIN))
    }

    /// Minutes of overtime in which vehicles are moved between two stays.
    fn moved_over(&self, visits: &[BayVisit]) -> i64 {
        let over = |from: Instant, moving: i64| {
            let open = |t: i64| self.input.shop.iter().any(|w| w.holds(from.plus_minutes(t)));
            (0..moving / GRAIN).filter(|k| !open(k * GRAIN)).map(|_| GRAIN).sum::<i64>()
        };
        let pair = |pair: &[BayVisit]| {
            let (left, entered) = (&pair[0], &pair[1]);
            let job = self.input.jobs.iter().find(|job| job.job == left.job && job.job == entered.job);
            let moving = job.map_or(0, |job| i64::from(job.moving_minutes));
            let out = if left.until < entered.from { over(left.until.plus_minutes(-moving), moving) } else { 0 };
            out + over(entered.from, moving)
        };
        visits.windows(2).map(pair).sum()
    }

    fn moves_from(&self, at: Instant, moving: i64) -> Option<Instant> {
        let slots = (0..).map(|k| at.plus_minutes(k * GRAIN)).take_while(|from| *from < self.input.until);
        slots.into_iter().find(|from| self.can_move(*from, moving))
    }

    /// When it begins at the latest to be over by a moment.
    fn moved_by(&self, at: Instant, moving: i64) -> Option<Instant> {
        let slots = (0..).map(|k| at.plus_minutes(-moving - k * GRAIN)).take_while(|from| *from >= self.input.at);
        slots.into_iter().find(|from| self.can_move(*from, moving))
    }

    /// When a vehicle could leave a bay: at the end of its last stage there, or of a stage of its job after that.
    fn ends(&self, job: usize, open: Option<&BayVisit>) -> Vec<Instant> {
        let Some(open) = open else { return vec![self.input.at] };
        let number = self.input.jobs[job].job;
        let own = self.rows.iter().filter(|row| row.job == number).map(|row| row.until);
        let mut ends: Vec<Instant> = own.chain([open.until]).filter(|end| open.until <= *end).collect();
        ends.sort();
        ends.dedup();
        ends
    }
}

#[test]
fn tiny_shops_are_planned_as_well_as_can_be() {
    let (mut looked_at, mut missed) = (0_u64, Vec::new());
    let shops = std::env::var("LEADHAND_PLAN_SHOPS").ok().and_then(|text| text.parse().ok()).unwrap_or(SHOPS);
    for seed in 0..shops {
        let input = tiny(seed);
        let mut stop = || false;
        let (_, report) = propose(&input, 1, &mut Budget { schedules: Budget::USUAL, stop: &mut stop });
        if report.objective.unplaced > 0 || !report.unplaced.is_empty() {
            continue;
        }
        let mut exact = Exact::new(&input, report.objective);
        exact.search();
        if exact.tried > MOST {
            continue;
        }
        looked_at += 1;
        if exact.better.is_some() {
            missed.push((seed, report.objective));
        }
    }
    println!("{looked_at} of {shops} shops were looked at whole, {} could be planned better", missed.len());
    assert!(looked_at * 4 >= shops, "only {looked_at} of {shops} shops could be looked at whole");
    assert!(missed.len() as u64 * 100 <= looked_at, "of {looked_at} shops these could be planned better: {missed:#?}");
}
