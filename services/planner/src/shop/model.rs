//! The input of a plan in the planner's own numbers, with what can never be placed and why.

use super::calendar::{Clock, Span, common, join};
use super::moves;
use leadhand_facts::plan::{PlanInput, PlanJob, PlanStage, StageNow, VehicleNow};
use leadhand_facts::template::Minutes;
use leadhand_facts::words::{NoPlace, StageKind};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// A technician's minutes.
pub(crate) struct Person {
    /// Shift while the shop is open.
    pub normal: Vec<Span>,
    /// The same and overtime.
    pub all: Vec<Span>,
    /// How many skills, for ties: the least versatile goes first.
    pub versatility: usize,
}

/// A stage that is to be placed.
#[allow(clippy::struct_excessive_bools, reason = "each is a word of the template")]
pub(crate) struct Stage {
    pub job: usize,
    /// Where it stands in its job's input.
    pub row: usize,
    pub minutes: i32,
    pub in_bay: bool,
    pub may_leave: bool,
    pub may_pause: bool,
    pub hands: usize,
    /// Who could be on it, the least versatile first.
    pub crew: Rc<[u32]>,
    /// Who has to be: it was started by them, or the lead said so.
    pub fixed: Vec<u32>,
    /// Bays that fit it.
    pub bays: Rc<[u32]>,
    /// Bays that fit it and what follows until the vehicle may leave.
    pub visit_bays: Rc<[u32]>,
    pub tools: Vec<u32>,
    /// Stages before it, with the minutes to wait after them.
    pub preds: Vec<(u32, i32)>,
    /// Earliest start by all that is no stage.
    pub release: i32,
    pub started: bool,
    /// Whether it was started, also when it waits for what holds it up.
    pub begun: bool,
    /// Whether somebody is clocked on to it.
    pub on: bool,
    /// Whether it is a wait that holds no tool: putting it off is good for nothing.
    pub idle: bool,
    /// Longest way behind its start, in minutes of work and wait.
    pub tail: i64,
    /// Where the accepted plan has it: start, bay, people.
    pub accepted: Option<Accepted>,
}

impl Stage {
    /// When it is placed among those that were started: what somebody is clocked on to first, then what is somebody's.
    pub fn turn(&self) -> Option<u8> {
        let turn = if self.on { 0 } else { 2 - u8::from(!self.fixed.is_empty()) };
        self.started.then_some(turn)
    }

    /// Whether it is a wait that needs nobody and no bay, and was not started.
    fn moves_freely(&self) -> bool {
        self.hands == 0 && !self.in_bay && !self.started
    }
}

/// What the accepted plan says of a stage.
pub(crate) struct Accepted {
    pub from: i32,
    pub bay: Option<u32>,
    pub people: Vec<u32>,
    /// Whether a change counts.
    pub counts: bool,
}

/// A job's numbers.
pub(crate) struct Job {
    pub promised: Option<i64>,
    pub weight: i64,
    pub moving: i32,
    /// Its stages that are to be placed.
    pub stages: Vec<u32>,
    pub in_bay: Option<u32>,
    pub outside: bool,
    /// Whether the vehicle may leave the bay it is in, as things are.
    pub may_leave: bool,
    /// Stages that were begun: until they are over, the vehicle stays where it is.
    pub begun: u32,
    /// The latest end of what is over.
    pub ended: i32,
    /// Whether some stage can never be placed.
    pub broken: bool,
}

/// Why a stage can't be placed at all, in a word and in a sentence.
pub(crate) type Never = (NoPlace, String);

/// Everything, numbered.
pub(crate) struct Model<'i> {
    pub input: &'i PlanInput,
    pub clock: Clock,
    /// The shop's hours.
    pub open: Vec<Span>,
    /// The same, and everybody's overtime: when vehicles are moved.
    pub moves: Vec<Span>,
    pub people: Vec<Person>,
    pub stages: Vec<Stage>,
    pub jobs: Vec<Job>,
    /// Spans in which tools are away, and bays closed.
    pub tools_away: Vec<Vec<Span>>,
    /// Who has them then: a stage that they are on may use them.
    pub tools_with: Vec<Option<u32>>,
    pub bays_closed: Vec<Vec<Span>>,
    /// Waits that stand in no bay and were not started, where one of them holds a shared tool: they begin when they can.
    pub waits: Vec<u32>,
    /// How many stages could be in each bay, for ties.
    pub wanted: Vec<usize>,
    /// Stages that can't be placed at all: job, row, why.
    pub never: Vec<(usize, usize, Never)>,
    lists: Lists,
}

/// Lists of people and bays, each kept once: most stages have one of a few, and a large shop's are long.
#[derive(Default)]
struct Lists(RefCell<BTreeSet<Rc<[u32]>>>);

impl Lists {
    fn one(&self, list: Vec<u32>) -> Rc<[u32]> {
        let mut kept = self.0.borrow_mut();
        if let Some(same) = kept.get(list.as_slice()) {
            return Rc::clone(same);
        }
        let list: Rc<[u32]> = list.into();
        kept.insert(Rc::clone(&list));
        list
    }
}

/// Most people on a stage at a time.
pub(crate) const MOST_HANDS: usize = 8;

/// Planned minutes: the mean of the three points, rounded up; common practice (PERT).
pub(crate) fn planned(minutes: Minutes) -> i32 {
    let sum = i64::from(minutes.low) + 4 * i64::from(minutes.likely) + i64::from(minutes.high);
    i32::try_from((sum.max(0) + 5) / 6).unwrap_or(i32::MAX)
}

/// What is looked up by name while the model is made.
pub(super) struct Names<'i> {
    pub people: BTreeMap<leadhand_facts::PersonId, u32>,
    pub bays: BTreeMap<&'i str, u32>,
    pub tools: BTreeMap<&'i str, u32>,
}

pub(super) fn number(i: usize) -> u32 {
    u32::try_from(i).unwrap_or(u32::MAX)
}

impl<'i> Model<'i> {
    pub fn new(input: &'i PlanInput) -> Self {
        let clock = Clock::new(input.at, input.until);
        let shop = clock.spans(&input.shop);
        let people = input.technicians.iter().map(|t| {
            let normal = common(&shop, &clock.spans(&t.shifts));
            let all = join(normal.iter().copied().chain(clock.spans(&t.overtime)).collect());
            Person { normal, all, versatility: t.skills.len() }
        });
        let people: Vec<Person> = people.collect();
        let names = Names {
            people: input.technicians.iter().enumerate().map(|(i, t)| (t.person, number(i))).collect(),
            bays: input.bays.iter().enumerate().map(|(i, b)| (b.bay.as_str(), number(i))).collect(),
            tools: input.tools.iter().enumerate().map(|(i, t)| (t.tool.as_str(), number(i))).collect(),
        };
        let mut model = Self {
            clock,
            moves: moves::hours(&shop, &people),
            people,
            open: shop,
            stages: Vec::new(),
            jobs: Vec::new(),
            tools_away: input.tools.iter().map(|t| clock.covering(&t.away)).collect(),
            tools_with: input.tools.iter().map(|t| names.people.get(&t.with?).copied()).collect(),
            bays_closed: input.bays.iter().map(|b| clock.covering(&b.closed)).collect(),
            waits: Vec::new(),
            wanted: vec![0; input.bays.len()],
            never: Vec::new(),
            lists: Lists::default(),
            input,
        };
        for job in &input.jobs {
            model.add_job(job, &names);
        }
        model.take_accepted(&names);
        if model.stages.iter().any(|s| s.moves_freely() && !s.tools.is_empty()) {
            model.waits =
                (0..number(model.stages.len())).filter(|&i| model.stages[i as usize].moves_freely()).collect();
        }
        for stage in &model.stages {
            for &bay in stage.bays.iter() {
                model.wanted[bay as usize] += 1;
            }
        }
        model
    }

    fn add_job(&mut self, job: &PlanJob, names: &Names<'i>) {
        let j = self.jobs.len();
        let in_bay = match &job.vehicle {
            VehicleNow::Bay(bay) => names.bays.get(bay.as_str()).copied(),
            VehicleNow::Away | VehicleNow::Outside => None,
        };
        let ended = |s: &PlanStage| s.now.over();
        // Work counts, in a bay or not; what was left out does not.
        let work = || job.stages.iter().filter(|s| s.kind == StageKind::Work);
        let done = |s: &PlanStage| if let StageNow::Ended { at } = s.now { Some((at, s.may_leave)) } else { None };
        let last = work().filter_map(done).max();
        let begun = number(work().filter(|s| is_begun(s)).count());
        self.jobs.push(Job {
            promised: job.promised.map(|at| self.clock.promise(at)),
            weight: i64::from(job.weight.max(1)),
            moving: job.moving_minutes.max(0),
            stages: Vec::new(),
            in_bay,
            outside: job.vehicle == VehicleNow::Outside,
            may_leave: begun == 0 && last.is_none_or(|(_, may_leave)| may_leave),
            begun,
            ended: job.stages.iter().filter_map(ended).map(|at| self.clock.from(at)).max().unwrap_or(0),
            broken: false,
        });
        let order = match in_order(job) {
            Ok(order) => order,
            Err(row) => {
                let sentence = "it waits for itself; change what it comes after".to_owned();
                self.jobs[j].broken = true;
                self.never.push((j, row, (NoPlace::Ring, sentence)));
                return;
            }
        };
        let mut placed: BTreeMap<&str, Option<u32>> = BTreeMap::new();
        for row in order {
            let stage = &job.stages[row];
            if ended(stage).is_some() {
                continue;
            }
            let at = match self.stage(j, row, names, &placed) {
                Ok(made) => {
                    let at = number(self.stages.len());
                    self.stages.push(made);
                    self.jobs[j].stages.push(at);
                    Some(at)
                }
                Err(reason) => {
                    self.jobs[j].broken = true;
                    self.never.push((j, row, reason));
                    None
                }
            };
            placed.insert(stage.stage.as_str(), at);
        }
        self.finish_job(j);
    }

    fn stage(
        &self,
        j: usize,
        row: usize,
        names: &Names<'i>,
        placed: &BTreeMap<&str, Option<u32>>,
    ) -> Result<Stage, Never> {
        let job = &self.input.jobs[j];
        let s = &job.stages[row];
        let mut release = self.clock.from(job.here_from);
        let mut preds = Vec::new();
        for after in &s.after {
            let before = job.stages.iter().find(|b| b.stage == after.stage);
            match (before.map(|b| &b.now), placed.get(after.stage.as_str())) {
                (Some(StageNow::Ended { at } | StageNow::LeftOut { at }), _) => {
                    release = release.max(self.clock.from(at.plus_minutes(i64::from(after.wait_minutes))));
                }
                (_, Some(Some(p))) => preds.push((*p, after.wait_minutes.max(0))),
                (Some(_), _) => {
                    return Err((NoPlace::Behind, format!("it comes after {}, which has no place", after.stage)));
                }
                (None, _) => {}
            }
        }
        let held = s.blocker.as_ref().and_then(|b| Some(b.known()?.1));
        let known = [s.parts_from, held, s.pin.from.filter(|_| !is_begun(s))];
        let release = known.into_iter().flatten().map(|at| self.clock.from(at)).fold(release, i32::max);
        let started = matches!(s.now, StageNow::Started { .. });
        let wait = s.kind == StageKind::Wait;
        let hands = if wait { 0 } else { usize::try_from(s.hands).unwrap_or(0).max(1) };
        let fixed = Self::fixed(s, names)?;
        let fixed_none = fixed.is_empty();
        let crew = self.lists.one(self.crew(s, hands.max(fixed.len()), &fixed)?);
        let bays = self.lists.one(self.bays(j, s, names)?);
        let tools = s.tools.iter().map(|t| {
            let sentence = || (NoPlace::NoTool, format!("the shop has no shared tool {t}; add it"));
            names.tools.get(t.as_str()).copied().ok_or_else(sentence)
        });
        Ok(Stage {
            job: j,
            row,
            minutes: planned(s.minutes).max(i32::from(!wait)),
            in_bay: s.in_bay,
            may_leave: s.may_leave,
            may_pause: s.may_pause,
            hands: if wait {
                0
            } else if fixed.is_empty() {
                hands
            } else {
                fixed.len()
            },
            crew,
            fixed,
            visit_bays: Rc::clone(&bays),
            bays,
            tools: tools.collect::<Result<_, _>>()?,
            preds: if started { Vec::new() } else { preds },
            release: if started { 0 } else { release },
            started,
            begun: !wait && is_begun(s),
            on: started && s.on && !fixed_none,
            idle: wait && s.tools.is_empty(),
            tail: 0,
            accepted: None,
        })
    }

    /// What follows from all stages of a job together: tails, and the bays of whole stays.
    fn finish_job(&mut self, j: usize) {
        let stages = std::mem::take(&mut self.jobs[j].stages);
        for &i in stages.iter().rev() {
            let (minutes, preds) = (i64::from(self.stages[i as usize].minutes), self.stages[i as usize].preds.clone());
            self.stages[i as usize].tail += minutes;
            let tail = self.stages[i as usize].tail;
            for (p, lag) in preds {
                let before = &mut self.stages[p as usize];
                before.tail = before.tail.max(tail + i64::from(lag));
            }
        }
        let in_bay: Vec<u32> = stages.iter().copied().filter(|&i| self.stages[i as usize].in_bay).collect();
        for k in (0..in_bay.len()).rev() {
            let stage = &self.stages[in_bay[k] as usize];
            if stage.may_leave || k + 1 == in_bay.len() || self.lets_go(&stages, in_bay[k], in_bay[k + 1]) {
                continue;
            }
            let behind = &self.stages[in_bay[k + 1] as usize].visit_bays;
            let both: Vec<u32> = stage.bays.iter().copied().filter(|b| behind.contains(b)).collect();
            self.stages[in_bay[k] as usize].visit_bays = self.lists.one(both);
        }
        for &i in &in_bay {
            if self.stages[i as usize].visit_bays.is_empty() {
                let stage = &mut self.stages[i as usize];
                stage.visit_bays = Rc::clone(&stage.bays);
            }
        }
        self.jobs[j].stages = stages;
    }

    /// Whether work that needs no bay comes between two stages, after which the vehicle may leave.
    fn lets_go(&self, stages: &[u32], first: u32, second: u32) -> bool {
        let comes_after = |late: u32, early: u32| {
            let mut asked = vec![late];
            while let Some(i) = asked.pop() {
                let preds = &self.stages[i as usize].preds;
                if preds.iter().any(|&(p, _)| p == early) {
                    return true;
                }
                asked.extend(preds.iter().map(|&(p, _)| p));
            }
            false
        };
        let lets = |i: &u32| {
            let stage = &self.stages[*i as usize];
            stage.hands > 0 && !stage.in_bay && stage.may_leave && comes_after(*i, first) && comes_after(second, *i)
        };
        stages.iter().any(lets)
    }

    fn take_accepted(&mut self, names: &Names<'i>) {
        let rows: BTreeMap<_, _> = self.input.accepted.iter().map(|p| ((p.job, p.stage.as_str()), p)).collect();
        let shift_end = self.input.shift_end;
        for i in 0..self.stages.len() {
            let job = &self.input.jobs[self.stages[i].job];
            let Some(row) = rows.get(&(job.job, job.stages[self.stages[i].row].stage.as_str())) else { continue };
            let mut people: Vec<u32> = row.people.iter().filter_map(|p| names.people.get(p).copied()).collect();
            people.sort_unstable();
            // What has begun stays as it began.
            let open = !self.stages[i].begun && !self.stages[i].started;
            self.stages[i].accepted = Some(Accepted {
                from: self.clock.from(row.from),
                bay: row.bay.as_ref().and_then(|b| names.bays.get(b.as_str()).copied()),
                people,
                counts: open && row.from < shift_end && row.from >= self.input.at,
            });
        }
    }

    /// When a tool is away for a stage that these people are on: not while one of them has it.
    pub fn tool_away(&self, tool: u32, people: &[u32]) -> &[Span] {
        let with = self.tools_with[tool as usize];
        if with.is_some_and(|with| people.contains(&with)) { &[] } else { &self.tools_away[tool as usize] }
    }

    /// The stage's row in the input.
    pub fn row(&self, stage: usize) -> &'i PlanStage {
        let s = &self.stages[stage];
        &self.input.jobs[s.job].stages[s.row]
    }
}

/// Whether a stage was started and is not over.
fn is_begun(s: &PlanStage) -> bool {
    s.begun && s.now.over().is_none() || matches!(s.now, StageNow::Started { .. })
}

/// The rows of a job's stages, each behind those that it comes after; or one that waits for itself.
fn in_order(job: &PlanJob) -> Result<Vec<usize>, usize> {
    let keys: BTreeSet<&str> = job.stages.iter().map(|s| s.stage.as_str()).collect();
    let mut done: BTreeSet<&str> = BTreeSet::new();
    let mut order = Vec::with_capacity(job.stages.len());
    while order.len() < job.stages.len() {
        let ready = |s: &PlanStage| {
            let met = |key: &str| done.contains(key) || !keys.contains(key);
            !done.contains(s.stage.as_str()) && s.after.iter().all(|a| met(a.stage.as_str()))
        };
        let Some(row) = job.stages.iter().position(ready) else {
            return Err(job.stages.iter().position(|s| !done.contains(s.stage.as_str())).unwrap_or(0));
        };
        done.insert(job.stages[row].stage.as_str());
        order.push(row);
    }
    Ok(order)
}
