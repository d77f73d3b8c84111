//! What stages need in hand before they begin: tools by size, shared tools, goods, people, hold points; each by the step
//! that needs it first, and what is missing of it.

use super::parts::Title;
pub use super::ready_tools::FastenerLine;
use super::ready_tools::{calibrations, fasteners, is_shared, of_work, shared_of, stuck_tools};
use super::to_get::{Consumable, ToGet, absorbent, at_stages};
use super::tools::ToolLine;
use crate::condition;
use crate::hazard::HIGH_VOLTAGE_SKILL;
use crate::look;
use crate::plan::hours;
use crate::plan::view::{PlannedWork, planned_work};
use crate::state::State;
use crate::strip;
use crate::telling::amount;
use crate::toolbox::{self, Collected};
use leadhand_facts::rows::{StageRow, StepRow};
use leadhand_facts::words::{PlaceKind, StepState};
use leadhand_facts::{Instant, ItemKey, JobNo, PersonId, Quantity, StageKey, StepNo, TextId, ToolKey, Unit};
use std::collections::{BTreeMap, BTreeSet};

/// How a hold point begins in the words of a step, whatever the case of its letters.
const HOLD: &str = "hold point";

/// A stage of the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadyStage {
    /// Its job.
    pub job: JobNo,
    /// Its key.
    pub stage: StageKey,
    /// Its title.
    pub title: Title,
    /// Where, by whom and when the accepted plan has it.
    pub planned: Option<PlannedWork>,
}

/// Where something is needed: which stage of the list, and which step of it; step 0 is the stage as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Which stage of the list, from 0.
    pub stage: usize,
    /// The step.
    pub step: StepNo,
}

/// A shared tool that is needed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SharedLine {
    /// The tool, and who has it; nothing more than the key when the shop does not know it.
    pub tool: Result<ToolLine, ToolKey>,
    /// Where it is needed first.
    pub first: Place,
    /// Whether the job that needs it has it.
    pub here: bool,
}

/// An item that is needed, summed over the steps that are left.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GoodsLine {
    /// The item.
    pub item: ItemKey,
    /// Its name, as far as the item is known.
    pub name: Option<String>,
    /// Its unit.
    pub unit: Unit,
    /// Where it is needed first.
    pub first: Place,
    /// How much is needed in all.
    pub wanted: Quantity,
    /// How much the jobs have got.
    pub issued: Quantity,
    /// How much is set aside for them.
    pub reserved: Quantity,
    /// How much is short.
    pub short: Quantity,
    /// How much lies in bins and is set aside for nobody.
    pub free: Quantity,
    /// Which other jobs have some of it set aside.
    pub held_by: Vec<(JobNo, Quantity)>,
}

impl GoodsLine {
    /// How much was never put on the list of the parts room.
    pub fn unlisted(&self) -> Quantity {
        Quantity((self.wanted.0 - self.issued.0 - self.reserved.0 - self.short.0).max(0))
    }

    /// How much is not to be had.
    pub fn missing(&self) -> Quantity {
        Quantity(self.short.0 + (self.unlisted().0 - self.free.0).max(0))
    }

    /// Where it stands, in words: `1 at the job, 2 set aside, 1 short`.
    pub fn standing(&self) -> String {
        let unlisted = self.unlisted();
        let at_hand = Quantity(unlisted.0.min(self.free.0.max(0)));
        let nowhere = Quantity(unlisted.0 - at_hand.0);
        let parts = [
            (self.issued, "at the job"),
            (self.reserved, "set aside"),
            (self.short, "short"),
            (at_hand, "on hand, not set aside yet"),
            (nowhere, "not on hand"),
        ];
        let said = parts.into_iter().filter(|(quantity, _)| quantity.is_positive());
        said.map(|(quantity, what)| format!("{} {what}", amount(quantity, Some(self.unit))))
            .collect::<Vec<_>>()
            .join(", ")
    }
}

/// Somebody who could do a stage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Able {
    /// Who.
    pub person: PersonId,
    /// The text with the name.
    pub name: TextId,
    /// Whether the person has hours now, as plans take them: the own shift, else the shop's hours, and overtime.
    pub on_shift: bool,
    /// What the person is clocked on to now.
    pub on: Option<(JobNo, StageKey)>,
}

/// Whom a stage needs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PeopleLine {
    /// Which stage of the list, from 0.
    pub stage: usize,
    /// The step that asks for a skill of its own; 0 for the stage as a whole.
    pub step: StepNo,
    /// Persons needed, whoever only looks as a second one among them.
    pub hands: i32,
    /// Skills asked for.
    pub skills: Vec<String>,
    /// Everybody who works on vehicles and has them all, those on shift first.
    pub able: Vec<Able>,
    /// How many of them are on shift, or clocked on to something.
    pub there: usize,
    /// Whether fewer than the hands asked for are there.
    pub lacking: bool,
}

impl PeopleLine {
    /// Whom it asks for, in words: `one person with the skill 'engine'`.
    pub fn asked(&self) -> String {
        let persons = if self.hands == 1 { "one person".to_owned() } else { format!("{} persons", self.hands) };
        let quoted: Vec<String> = self.skills.iter().map(|skill| format!("'{skill}'")).collect();
        let quoted: Vec<&str> = quoted.iter().map(String::as_str).collect();
        match quoted.len() {
            0 => persons,
            1 => format!("{persons} with the skill {}", quoted[0]),
            _ => format!("{persons} with the skills {}", toolbox::listed(&quoted)),
        }
    }

    /// Why it lacks somebody, in the words of a plan that has no place for the stage.
    fn lack(&self) -> String {
        match (self.able.is_empty(), self.skills.is_empty()) {
            (true, true) => format!("{}, and nobody works on vehicles: give somebody a skill or a shift", self.asked()),
            (true, false) => format!("{}, and nobody in the shop has that: give it to somebody", self.asked()),
            (false, _) => format!("{}, and {} on shift now", self.asked(), self.there()),
        }
    }

    /// How many of those who can are there, in words.
    fn there(&self) -> String {
        match self.there {
            0 => "nobody who can is".to_owned(),
            1 => "only 1 who can is".to_owned(),
            many => format!("only {many} who can are"),
        }
    }
}

/// A step at which somebody stops and looks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HoldLine {
    /// Where.
    pub place: Place,
    /// What it says.
    pub words: Title,
}

/// Something that is missing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Missing {
    /// Where it is needed first.
    pub first: Place,
    /// Whether that step is the next one of its stage.
    pub next: bool,
    /// What is missing and who has it, but for the name of a person.
    pub text: String,
    /// The text with the name of the person who has it.
    pub person: Option<TextId>,
    /// New pieces that are missing, which the text goes on about.
    pub pieces: Option<ToGet>,
}

/// All that stages need.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadyList {
    /// The journal number at which it is true.
    pub number: i64,
    /// When it was made.
    pub at: Instant,
    /// The stages, in their order.
    pub stages: Vec<ReadyStage>,
    /// Tools that nobody lends, collected by size.
    pub tools: Vec<Collected<Place>>,
    /// Fasteners that come off or go back, by the tool that turns them.
    pub fasteners: Vec<FastenerLine>,
    /// Tools of the ladders by which something is tried that will not move.
    pub stuck_tools: Vec<Collected<Place>>,
    /// Shared tools.
    pub shared: Vec<SharedLine>,
    /// Parts, consumables and fluids.
    pub goods: Vec<GoodsLine>,
    /// What is used up and stands in no stock.
    pub consumables: Vec<Consumable>,
    /// Persons.
    pub people: Vec<PeopleLine>,
    /// Hold points.
    pub holds: Vec<HoldLine>,
    /// What is missing, in the order in which it is needed.
    pub missing: Vec<Missing>,
}

impl ReadyList {
    /// Every text that it refers to.
    pub fn text_ids(&self) -> BTreeSet<TextId> {
        let titles = self.stages.iter().filter_map(|stage| stage.title.text);
        let lent = self.shared.iter().filter_map(|line| line.tool.as_ref().ok()?.person);
        let able = self.people.iter().flat_map(|line| line.able.iter().map(|able| able.name));
        let holds = self.holds.iter().filter_map(|line| line.words.text);
        let pieces = self.missing.iter().filter_map(|line| line.pieces.as_ref()?.what.text);
        let planned = self.stages.iter().flat_map(|stage| &stage.planned).flat_map(|planned| &planned.people);
        titles.chain(planned.copied().flatten()).chain(lent).chain(able).chain(holds).chain(pieces).collect()
    }
}

/// The items that these stages still need: what has to be loaded of the stock.
pub fn items_of(state: &State, stages: &[(JobNo, StageKey)]) -> BTreeSet<ItemKey> {
    let steps = stages.iter().flat_map(|(job, stage)| left(state, *job, stage));
    steps.flat_map(|step| step.needs.iter().map(|need| need.item.clone())).collect()
}

fn left<'a>(state: &'a State, job: JobNo, stage: &'a StageKey) -> impl Iterator<Item = &'a StepRow> {
    look::steps(state, job, stage).filter(|step| step.state == StepState::Pending)
}

/// What these stages still need. A stage that has ended needs nothing.
pub fn ready_list(state: &State, stages: &[(JobNo, StageKey)], now: Instant) -> ReadyList {
    let rows: Vec<&StageRow> = stages
        .iter()
        .filter_map(|(job, stage)| state.stages.get(&(*job, stage.clone())))
        .filter(|row| !look::is_ended(row))
        .collect();
    let mut steps: Vec<(Place, &StepRow)> = Vec::new();
    for (at, row) in rows.iter().enumerate() {
        steps.extend(left(state, row.job, &row.stage).map(|step| (Place { stage: at, step: step.step }, step)));
    }
    let whole = rows
        .iter()
        .enumerate()
        .flat_map(|(at, row)| row.tools.iter().map(move |tool| (tool.clone(), Place { stage: at, step: StepNo(0) })));
    let of_steps = steps.iter().flat_map(|(at, step)| step.tools.iter().map(|tool| (tool.clone(), *at)));
    let shared = shared_of(state, &rows, &steps, now);
    let plain = whole.chain(of_steps).filter(|(words, _)| !is_shared(state, words));
    let goods = goods_of(state, &steps);
    let people = rows.iter().enumerate().filter_map(|(at, row)| people_of(state, at, row, now));
    let own = steps.iter().filter_map(|(at, step)| people_of_step(state, *at, step, now));
    let mut people: Vec<PeopleLine> = people.chain(own).collect();
    people.sort_by_key(|line| (line.stage, line.step));
    let stage = |row: &&StageRow| ReadyStage {
        job: row.job,
        stage: row.stage.clone(),
        title: Title::of_stage(row),
        planned: planned_work(state, row),
    };
    let mut list = ReadyList {
        number: state.head,
        at: now,
        stages: rows.iter().map(stage).collect(),
        tools: toolbox::collect(plain.chain(of_work(state, &rows))),
        fasteners: fasteners(state, &rows),
        stuck_tools: stuck_tools(state, &rows),
        shared,
        consumables: absorbent(&rows, &steps, &goods).into_iter().collect(),
        goods,
        people,
        holds: steps.iter().filter_map(|(at, step)| hold_of(*at, step)).collect(),
        missing: Vec::new(),
    };
    let uncalibrated = calibrations(state, &mut list.tools, now);
    list.missing = missing_of(&list, &steps, uncalibrated);
    // Nobody reserves what has no item, so nobody else would miss it.
    let to_get = at_stages(state, &rows).into_iter().map(|(first, piece)| {
        let text = format!("('{}'), to be got: no item of the stock is named", piece.position);
        Missing { first, next: true, text, person: None, pieces: Some(piece) }
    });
    list.missing.extend(to_get);
    list.missing.sort_by_key(|line| line.first);
    list
}

fn goods_of(state: &State, steps: &[(Place, &StepRow)]) -> Vec<GoodsLine> {
    let mut lines: BTreeMap<&ItemKey, GoodsLine> = BTreeMap::new();
    let own: BTreeSet<JobNo> = steps.iter().map(|(_, step)| step.job).collect();
    for (at, step) in steps {
        for need in &step.needs {
            let line = lines.entry(&need.item).or_insert_with(|| goods_line(state, &need.item, need.unit, *at, &own));
            line.wanted.0 += need.quantity.0;
            let demand = state.demands.get(&(step.job, step.stage.clone(), step.step, need.item.clone()));
            if let Some(demand) = demand {
                line.issued.0 += demand.issued.0;
                line.reserved.0 += demand.reserved.0;
                line.short.0 += demand.short.0;
            }
        }
    }
    let mut lines: Vec<GoodsLine> = lines.into_values().collect();
    lines.sort_by(|one, other| (one.first, &one.item).cmp(&(other.first, &other.item)));
    lines
}

fn goods_line(state: &State, item: &ItemKey, unit: Unit, first: Place, own: &BTreeSet<JobNo>) -> GoodsLine {
    let row = state.items.get(&(item.clone(),));
    let is_bin = |place| state.places.get(&(place,)).is_some_and(|row| row.kind == PlaceKind::Bin);
    let bins = state.holds.iter().filter(|hold| hold.item == *item && is_bin(hold.place.clone()));
    let free = bins.map(|hold| hold.on_hand.0 - hold.expired.0 - hold.reserved.0).sum();
    let mut held: BTreeMap<JobNo, i64> = BTreeMap::new();
    for row in state.reservations.iter().filter(|row| row.item == *item && row.quantity.is_positive()) {
        if !own.contains(&row.job) {
            *held.entry(row.job).or_default() += row.quantity.0;
        }
    }
    GoodsLine {
        item: item.clone(),
        name: row.map(|row| row.name.clone()),
        unit: row.map_or(unit, |row| row.unit),
        first,
        wanted: Quantity::ZERO,
        issued: Quantity::ZERO,
        reserved: Quantity::ZERO,
        short: Quantity::ZERO,
        free: Quantity(free),
        held_by: held.into_iter().map(|(job, quantity)| (job, Quantity(quantity))).collect(),
    }
}

fn people_of(state: &State, at: usize, row: &StageRow, now: Instant) -> Option<PeopleLine> {
    let place = Place { stage: at, step: StepNo(0) };
    // What is looked at by a second person takes one.
    let hands = if strip::asks_for_two(state, row) { row.hands.max(2) } else { row.hands };
    (row.hands > 0).then(|| who_can(state, place, hands, &row.skills, now))
}

/// Whoever does a step that asks for skills of its own, for a second pair of eyes, or is about high voltage.
fn people_of_step(state: &State, at: Place, step: &StepRow, now: Instant) -> Option<PeopleLine> {
    let mut skills = step.safety.skills.clone();
    let live = HIGH_VOLTAGE_SKILL.to_owned();
    if condition::is_about_high_voltage(step) && !skills.contains(&live) {
        skills.push(live);
    }
    let second = step.safety.hold.as_ref().is_some_and(|hold| hold.second);
    let stage = state.stages.get(&(step.job, step.stage.clone()));
    // Who looks has the skills of the stage, too.
    let of_stage = stage.into_iter().filter(|_| second).flat_map(|stage| &stage.skills);
    for skill in of_stage {
        if !skills.contains(skill) {
            skills.push(skill.clone());
        }
    }
    let hands = if second { 2 } else { 1 };
    (second || !skills.is_empty()).then(|| who_can(state, at, hands, &skills, now))
}

fn who_can(state: &State, place: Place, hands: i32, skills: &[String], now: Instant) -> PeopleLine {
    let has = |own: &[String]| skills.iter().all(|skill| own.contains(skill));
    let mut able: Vec<Able> = state
        .persons
        .iter()
        .filter(|person| hours::works_on_vehicles(state, person) && has(&person.skills))
        .map(|person| Able {
            person: person.person,
            name: person.name,
            on_shift: hours::is_there(state, person.person, now),
            on: look::clocking_of(state, person.person).map(|on| (on.job, on.stage.clone())),
        })
        .collect();
    able.sort_by_key(|able| (!able.on_shift, able.person));
    let enough = |count: usize| i32::try_from(count).is_ok_and(|count| count >= hands);
    let there = able.iter().filter(|able| able.on_shift || able.on.is_some()).count();
    let (Place { stage, step }, skills) = (place, skills.to_vec());
    PeopleLine { stage, step, hands, skills, able, there, lacking: !enough(there) }
}

/// A hold point; a step that only says in its words that it is one is told as well.
fn hold_of(place: Place, step: &StepRow) -> Option<HoldLine> {
    if let Some(hold) = &step.safety.hold {
        return Some(HoldLine { place, words: Title::of(Some(&hold.what), None) });
    }
    let words = step.instruction.as_ref()?;
    let begins = words.get(..HOLD.len()).is_some_and(|start| start.eq_ignore_ascii_case(HOLD));
    begins.then(|| HoldLine { place, words: Title::of(Some(words), None) })
}

fn missing_of(list: &ReadyList, steps: &[(Place, &StepRow)], uncalibrated: Vec<(Place, String)>) -> Vec<Missing> {
    let is_next =
        |place: Place| steps.iter().find(|(at, _)| at.stage == place.stage).is_some_and(|(at, _)| *at == place);
    let mut all = Vec::new();
    for line in list.shared.iter().filter(|line| !line.here) {
        let (text, person) = match &line.tool {
            Err(key) => (format!("shared tool '{key}', which the shop does not use any more"), None),
            Ok(tool) => match &tool.loan {
                None => continue,
                Some(loan) => {
                    let what = format!("shared tool '{}'", loan.tool);
                    (loan.job.map_or_else(|| what.clone(), |job| format!("{what}, which job {job} has")), tool.person)
                }
            },
        };
        // What the stage as a whole asks for is wanted from its start on.
        let next = line.first.step == StepNo(0) || is_next(line.first);
        all.push(Missing { first: line.first, next, text, person, pieces: None });
    }
    for line in &list.shared {
        let over = line.tool.as_ref().ok().filter(|tool| tool.out_of_calibration);
        let Some((tool, due)) = over.and_then(|tool| Some((&tool.row.tool, tool.row.calibration_due.as_ref()?))) else {
            continue;
        };
        let text = format!("the calibration of shared tool '{tool}', which counted until {due}");
        all.push(Missing { first: line.first, next: is_next(line.first), text, person: None, pieces: None });
    }
    for (first, text) in uncalibrated {
        all.push(Missing { first, next: is_next(first), text, person: None, pieces: None });
    }
    for line in list.goods.iter().filter(|line| line.missing().is_positive()) {
        let held: Vec<String> = line
            .held_by
            .iter()
            .map(|(job, quantity)| format!("job {job} has {} set aside", amount(*quantity, Some(line.unit))))
            .collect();
        let held = if held.is_empty() { String::new() } else { format!("; {}", held.join(", ")) };
        let called = line.name.as_ref().filter(|name| **name != line.item.0);
        let called = called.map_or_else(String::new, |name| format!(" ({name})"));
        let text = format!("{} of '{}'{called}{held}", amount(line.missing(), Some(line.unit)), line.item);
        all.push(Missing { first: line.first, next: is_next(line.first), text, person: None, pieces: None });
    }
    for line in list.people.iter().filter(|line| line.lacking) {
        let text = line.lack();
        let first = Place { stage: line.stage, step: line.step };
        all.push(Missing { first, next: line.step == StepNo(0) || is_next(first), text, person: None, pieces: None });
    }
    all.sort_by_key(|line| line.first);
    all
}
