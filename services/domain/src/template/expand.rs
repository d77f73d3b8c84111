//! What a template becomes on a job: its options applied, its steps numbered anew.

use crate::hazard;
use leadhand_facts::fact::{JobAfter, JobStage, JobStep, Wording};
use leadhand_facts::reading::JobReading;
use leadhand_facts::strip::JobPosition;
use leadhand_facts::template::{Condition, Need, StageSpec, StepSpec, Template};
use leadhand_facts::words::{BayKind, Renew, StageKind};
use leadhand_facts::{ItemKey, OptionKey, Quantity, StageKey, StepNo, Unit};
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;
use thiserror::Error;

/// Why options can't be chosen like this.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum OptionRefusal {
    /// The template has no such option.
    #[error("template '{template}' has no option '{option}'; {}", offer(.known))]
    Unknown {
        /// The template's key.
        template: String,
        /// The option asked for.
        option: OptionKey,
        /// Those it has.
        known: Vec<OptionKey>,
    },
    /// An option was asked for both ways.
    #[error("option '{option}' is asked for both with and without; choose one")]
    Both {
        /// The option.
        option: OptionKey,
    },
}

fn offer(known: &[OptionKey]) -> String {
    let known: Vec<&str> = known.iter().map(OptionKey::as_str).collect();
    if known.is_empty() { "it has none".to_owned() } else { format!("its options are {}", known.join(", ")) }
}

/// The options of a job: those on by default, with some more and without some others.
pub fn chosen_options(
    template: &Template,
    with: &[OptionKey],
    without: &[OptionKey],
) -> Result<BTreeSet<OptionKey>, OptionRefusal> {
    let known: Vec<OptionKey> = template.options.iter().map(|option| option.key.clone()).collect();
    if let Some(option) = with.iter().chain(without).find(|option| !known.contains(option)) {
        return Err(OptionRefusal::Unknown { template: template.key.0.clone(), option: option.clone(), known });
    }
    if let Some(option) = with.iter().find(|option| without.contains(option)) {
        return Err(OptionRefusal::Both { option: option.clone() });
    }
    let by_default = template.options.iter().filter(|option| option.default).map(|option| option.key.clone());
    let mut on: BTreeSet<OptionKey> = by_default.chain(with.iter().cloned()).collect();
    on.retain(|option| !without.contains(option));
    Ok(on)
}

/// The stages of a job with these options on.
///
/// A stage that is left out hands what it came after on to what comes after it. The wait in
/// front of it is kept; a wait behind it was for its own sake and goes with it. Where several
/// ways lead to the same stage, the longest wait counts.
pub fn expand(template: &Template, on: &BTreeSet<OptionKey>) -> Vec<JobStage> {
    let mut links = Links::of(template, on);
    let kept = template.stages.iter().filter(|stage| holds(stage.when.as_ref(), on));
    let numbered = (1..).zip(kept);
    let mut stages: Vec<JobStage> =
        numbered.map(|(ordinal, stage)| job_stage(stage, ordinal, links.before(stage), on)).collect();
    number_tags(&mut stages);
    want_renewed(&mut stages);
    stages
}

/// Kinds of bay in which work can begin: those of the stages of work before which nothing but waits comes. None when one of
/// them can be done anywhere.
pub fn first_bays(stages: &[JobStage]) -> Vec<BayKind> {
    let mut waits: BTreeSet<&StageKey> = BTreeSet::new();
    let mut first: Vec<&JobStage> = Vec::new();
    // What comes before a stage stands before it.
    for stage in stages {
        if !stage.after.iter().all(|after| waits.contains(&after.stage)) {
            continue;
        }
        if stage.kind == StageKind::Wait {
            waits.insert(&stage.stage);
        } else {
            first.push(stage);
        }
    }
    if first.iter().any(|stage| stage.bays.is_empty()) {
        return Vec::new();
    }
    let kinds: BTreeSet<BayKind> = first.iter().flat_map(|stage| stage.bays.iter().copied()).collect();
    kinds.into_iter().collect()
}

/// Pairs of tags are numbered through the job, so that no two ends bear the same.
fn number_tags(stages: &mut [JobStage]) {
    let mut next = 1;
    for position in stages.iter_mut().flat_map(|stage| &mut stage.positions).filter(|one| one.detail.tags) {
        position.detail.tag = Some(next);
        next += position.detail.count;
    }
}

/// What is always renewed is wanted by the stage in which it goes back, unless some step asks for the item already: so
/// it is reserved, or short, long before.
fn want_renewed(stages: &mut [JobStage]) {
    let renewed: Vec<(StageKey, ItemKey, i32)> = stages
        .iter()
        .flat_map(|stage| &stage.positions)
        .filter(|one| one.detail.renew == Renew::Always)
        .filter_map(|one| Some((one.detail.back.clone()?, one.detail.item.clone()?, one.detail.count)))
        .collect();
    let needs = stages.iter().flat_map(|stage| &stage.steps).flat_map(|step| &step.needs);
    let asked: BTreeSet<ItemKey> = needs.map(|need| need.item.clone()).collect();
    for (back, item, count) in renewed {
        let Some(stage) = stages.iter_mut().find(|stage| stage.stage == back) else { continue };
        if asked.contains(&item) {
            continue;
        }
        if stage.steps.is_empty() {
            let instruction = Wording::Template("Fit what is always renewed".to_owned());
            stage.steps.push(JobStep::plain(StepNo(1), instruction));
        }
        let needs = &mut stage.steps[0].needs;
        match needs.iter_mut().find(|need| need.item == item) {
            Some(need) => need.quantity = Quantity(need.quantity.0 + i64::from(count)),
            None => needs.push(Need { item, quantity: Quantity(i64::from(count)), unit: Unit::Piece }),
        }
    }
}

fn holds(condition: Option<&Condition>, on: &BTreeSet<OptionKey>) -> bool {
    condition.is_none_or(|when| on.contains(&when.option) == when.on)
}

fn job_stage(stage: &StageSpec, ordinal: i32, after: Vec<JobAfter>, on: &BTreeSet<OptionKey>) -> JobStage {
    let kept = stage.steps.iter().filter(|step| holds(step.when.as_ref(), on));
    JobStage {
        stage: stage.key.clone(),
        ordinal,
        title: Wording::Template(stage.title.clone()),
        kind: stage.kind,
        minutes: stage.minutes,
        bays: stage.bays.clone(),
        skills: stage.skills.clone(),
        hands: stage.hands,
        tools: stage.tools.clone(),
        after,
        may_leave: stage.may_leave,
        in_one_go: stage.in_one_go,
        unplanned: false,
        positions: (1..).zip(kept.clone()).flat_map(|(number, step)| positions(step, number)).collect(),
        readings: (1..).zip(kept.clone()).flat_map(|(number, step)| readings(step, number)).collect(),
        steps: (1..).zip(kept).map(|(number, step)| job_step(step, number)).collect(),
    }
}

fn positions(step: &StepSpec, number: i32) -> impl Iterator<Item = JobPosition> {
    step.positions.iter().map(move |position| JobPosition {
        position: position.key.clone(),
        step: Some(StepNo(number)),
        what: Wording::Template(position.what.clone()),
        detail: position.detail.clone(),
        unplanned: false,
    })
}

fn readings(step: &StepSpec, number: i32) -> impl Iterator<Item = JobReading> {
    step.readings.iter().map(move |reading| JobReading {
        reading: reading.key.clone(),
        step: Some(StepNo(number)),
        what: Wording::Template(reading.what.clone()),
        detail: reading.detail.clone(),
        unplanned: false,
    })
}

fn job_step(step: &StepSpec, number: i32) -> JobStep {
    JobStep {
        step: StepNo(number),
        instruction: Wording::Template(step.instruction.clone()),
        tools: step.tools.clone(),
        shared_tools: step.shared_tools.clone(),
        cautions: hazard::cautions(&step.cautions, &step.safety.hazards),
        needs: step.needs.clone(),
        follow_up: step.follow_up.clone(),
        safety: step.safety.clone(),
        unplanned: false,
        fits: None,
    }
}

/// Who comes before whom when some stages are left out. Stages are told by their place in the
/// template.
struct Links<'t> {
    template: &'t Template,
    index: BTreeMap<&'t StageKey, usize>,
    left_out: Vec<bool>,
    /// What stages that are left out hand on, worked out once each: stages and waits.
    handed_on: BTreeMap<usize, Rc<[(usize, i32)]>>,
}

impl<'t> Links<'t> {
    fn of(template: &'t Template, on: &BTreeSet<OptionKey>) -> Self {
        Self {
            template,
            index: template.stages.iter().enumerate().map(|(at, stage)| (&stage.key, at)).collect(),
            left_out: template.stages.iter().map(|stage| !holds(stage.when.as_ref(), on)).collect(),
            handed_on: BTreeMap::new(),
        }
    }

    /// The kept stages that a stage comes after, in the order written.
    fn before(&mut self, stage: &StageSpec) -> Vec<JobAfter> {
        let ways = self.ways(stage);
        let key = |at: usize| self.template.stages[at].key.clone();
        ways.into_iter().map(|(at, wait_minutes)| JobAfter { stage: key(at), wait_minutes }).collect()
    }

    fn ways(&mut self, stage: &StageSpec) -> Vec<(usize, i32)> {
        let mut longest: BTreeMap<usize, i32> = BTreeMap::new();
        let mut order = Vec::new();
        for after in &stage.after {
            let Some(at) = self.index.get(&after.stage).copied() else { continue };
            let ways = if self.left_out[at] { self.hand_on(at) } else { Rc::from([(at, after.wait_minutes)]) };
            for (way, wait) in ways.iter().copied() {
                let known = longest.entry(way).or_insert_with(|| {
                    order.push(way);
                    wait
                });
                *known = wait.max(*known);
            }
        }
        order.into_iter().map(|way| (way, longest[&way])).collect()
    }

    fn hand_on(&mut self, at: usize) -> Rc<[(usize, i32)]> {
        if let Some(known) = self.handed_on.get(&at) {
            return Rc::clone(known);
        }
        // Checked templates have no rings; should one come here all the same, it ends here.
        self.handed_on.insert(at, Rc::from([]));
        let template = self.template;
        let ways: Rc<[(usize, i32)]> = self.ways(&template.stages[at]).into();
        self.handed_on.insert(at, Rc::clone(&ways));
        ways
    }
}
