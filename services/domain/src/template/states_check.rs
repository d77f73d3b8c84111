//! An order that contradicts itself: a step that needs the vehicle in a state in which something before it does not
//! leave it.
//!
//! Stages are a partial order. For a step that needs a state of a feature, what came last before it is looked at: an
//! earlier step of its stage, else the stages before it that set the feature and have no other such stage between; where
//! there is none, how a vehicle comes. Each has to leave what is needed, and no stage that may run beside it, which comes
//! neither before nor after, may set the feature to anything else: some allowed order would put it last. So whatever is
//! refused has an allowed order that contradicts itself, and whatever passes has none.
//!
//! That is done for the options at their defaults, for each of the
//! first twenty options that have to do with states the other way alone, and for all on and all off.

use super::fault::Faults;
use super::fields::shorten;
use super::nearest::suggestion;
use super::safety::SafetySite;
use super::walk::Draft;
use leadhand_facts::safety::StepSafety;
use leadhand_facts::template::{Condition, StageSpec};
use leadhand_facts::words::{Feature, VehicleState};
use leadhand_facts::{FluidKey, OptionKey, StageKey};
use std::collections::{BTreeMap, BTreeSet};

/// Most options that are tried one by one.
const OPTIONS_MAX: usize = 20;

pub(super) fn check(draft: &Draft, faults: &mut Faults<'_>) {
    fluids(draft, faults);
    fillings(draft, faults);
    let needed = steps(draft).any(|(_, _, safety, _)| !safety.needs.is_empty());
    if !needed {
        return;
    }
    let before = before(draft);
    let mut told = BTreeSet::new();
    for (on, which) in settings(draft) {
        let mut course = Course::of(draft, &before, &on);
        let all: Vec<_> = (0..draft.template.stages.len()).flat_map(|stage| course.kept_steps(stage)).collect();
        for (stage, at) in all {
            course.look(stage, at, &which, &mut told, faults);
        }
    }
}

type Found<'d> = (usize, usize, &'d StepSafety, &'d SafetySite);

/// Every step with the numbers of its stage and itself.
fn steps(draft: &Draft) -> impl Iterator<Item = Found<'_>> {
    let stages = draft.template.stages.iter().zip(&draft.stages).enumerate();
    stages.flat_map(|(stage, (spec, site))| {
        let steps = spec.steps.iter().zip(&site.steps).enumerate();
        steps.map(move |(step, (spec, site))| (stage, step, &spec.safety, &site.safety))
    })
}

/// Fluids: each key once, and filled in a stage that is there.
fn fluids(draft: &Draft, faults: &mut Faults<'_>) {
    let keys: BTreeSet<&str> = draft.template.stages.iter().map(|stage| stage.key.as_str()).collect();
    let mut first: BTreeMap<&FluidKey, usize> = BTreeMap::new();
    for (_, _, safety, site) in steps(draft) {
        for (fluid, at) in safety.fluids.iter().zip(&site.fluids) {
            let shown = shorten(fluid.key.as_str());
            if let Some(earlier) = first.get(&fluid.key) {
                let line = faults.line_of(*earlier);
                faults.at(at.key, format!("fluid '{shown}' is there already, in line {line}; name it once"));
            } else {
                first.insert(&fluid.key, at.key);
            }
            if let Some(back) = fluid.back.as_ref().filter(|back| !keys.contains(back.as_str())) {
                let near = suggestion(back.as_str(), keys.iter().copied());
                let name = shorten(back.as_str());
                faults.absent(at.back, format!("fluid '{shown}' goes back in '{name}', which is no stage here{near}"));
            }
        }
    }
}

/// Where a template says what is drained, a step fills no other fluid: a slip of the keys would be a system of its own.
fn fillings(draft: &Draft, faults: &mut Faults<'_>) {
    let drained: BTreeSet<&str> =
        steps(draft).flat_map(|(_, _, safety, _)| &safety.fluids).map(|fluid| fluid.key.as_str()).collect();
    for (_, _, safety, site) in steps(draft).filter(|_| !drained.is_empty()) {
        if let Some(fill) = safety.fill.as_ref().filter(|fill| !drained.contains(fill.fluid.as_str())) {
            let near = suggestion(fill.fluid.as_str(), drained.iter().copied());
            let name = shorten(fill.fluid.as_str());
            faults.absent(site.fills, format!("a step fills '{name}', which no step here drains{near}"));
        }
    }
}

/// Stages as bits.
#[derive(Clone)]
struct Bits(Vec<u64>);

impl Bits {
    fn none(count: usize) -> Self {
        Self(vec![0; count.div_ceil(64)])
    }

    fn has(&self, at: usize) -> bool {
        self.0[at / 64] & (1 << (at % 64)) != 0
    }

    /// Whether it was not there yet.
    fn put(&mut self, at: usize) -> bool {
        let fresh = !self.has(at);
        self.0[at / 64] |= 1 << (at % 64);
        fresh
    }

    fn add(&mut self, other: &Self) {
        self.0.iter_mut().zip(&other.0).for_each(|(mine, theirs)| *mine |= theirs);
    }
}

/// For each stage, all that come before it by any way: also through stages that an option leaves out, which hand on what
/// they came after.
fn before(draft: &Draft) -> Vec<Bits> {
    let stages = &draft.template.stages;
    let index: BTreeMap<&StageKey, usize> = stages.iter().enumerate().map(|(at, stage)| (&stage.key, at)).collect();
    let arrows: Vec<Vec<usize>> = stages
        .iter()
        .map(|stage| stage.after.iter().filter_map(|after| index.get(&after.stage).copied()).collect())
        .collect();
    let reached = |stage: usize| {
        let mut seen = Bits::none(stages.len());
        let mut ahead = arrows[stage].clone();
        while let Some(next) = ahead.pop() {
            if seen.put(next) {
                ahead.extend(&arrows[next]);
            }
        }
        seen
    };
    (0..stages.len()).map(reached).collect()
}

/// The settings of the options that are tried, with what to say of them; the defaults first.
fn settings(draft: &Draft) -> Vec<(BTreeSet<&OptionKey>, String)> {
    let options = &draft.template.options;
    let stages = &draft.template.stages;
    // Only what has to do with states can make a difference here.
    let minds = |safety: &StepSafety| !safety.needs.is_empty() || !safety.sets.is_empty();
    let minding = stages.iter().filter(|stage| stage.steps.iter().any(|step| minds(&step.safety)));
    let conditions = minding.flat_map(|stage| {
        let of_steps = stage.steps.iter().filter(|step| minds(&step.safety)).filter_map(|step| step.when.as_ref());
        stage.when.iter().chain(of_steps)
    });
    let asked: BTreeSet<&OptionKey> = conditions.map(|when| &when.option).collect();
    let default: BTreeSet<&OptionKey> =
        options.iter().filter(|option| option.default).map(|option| &option.key).collect();
    let mut all = vec![(default.clone(), String::new())];
    let asked_for = options.iter().map(|option| &option.key).filter(|option| asked.contains(option));
    for option in asked_for.take(OPTIONS_MAX) {
        let mut other = default.clone();
        let how = if other.remove(option) { "without" } else { "with" };
        if how == "with" {
            other.insert(option);
        }
        all.push((other, format!(", {how} option '{}'", shorten(option.as_str()))));
    }
    if asked.len() > 1 {
        all.push((options.iter().map(|option| &option.key).collect(), ", with every option".to_owned()));
        all.push((BTreeSet::new(), ", without any option".to_owned()));
    }
    all
}

/// The order under one setting of the options.
struct Course<'d> {
    draft: &'d Draft,
    before: &'d [Bits],
    /// Which steps there are: none of a stage that is left out.
    kept: Vec<Vec<usize>>,
    /// Who sets a feature: stage, step, state and place in the file, in the order of the stage.
    sets: BTreeMap<Feature, BTreeMap<usize, Vec<Set>>>,
    /// What lies around a stage, worked out once each.
    around: BTreeMap<(usize, Feature), Around>,
}

#[derive(Clone, Copy)]
struct Set {
    stage: usize,
    step: usize,
    state: VehicleState,
    at: usize,
}

/// What other stages do to a feature, one of each state that they set.
#[derive(Default)]
struct Around {
    /// Those that may run beside the stage.
    beside: Vec<Set>,
    /// Those before it, with no other between.
    last: Vec<Set>,
}

impl<'d> Course<'d> {
    fn of(draft: &'d Draft, before: &'d [Bits], on: &BTreeSet<&OptionKey>) -> Self {
        let holds = |when: Option<&Condition>| when.is_none_or(|when| on.contains(&when.option) == when.on);
        let of_stage = |stage: &StageSpec| {
            let steps = stage.steps.iter().enumerate().filter(|(_, step)| holds(step.when.as_ref()));
            if holds(stage.when.as_ref()) { steps.map(|(at, _)| at).collect() } else { Vec::new() }
        };
        let kept: Vec<Vec<usize>> = draft.template.stages.iter().map(of_stage).collect();
        let mut sets: BTreeMap<Feature, BTreeMap<usize, Vec<Set>>> = BTreeMap::new();
        for (stage, step, safety, site) in steps(draft).filter(|(stage, step, ..)| kept[*stage].contains(step)) {
            for (state, at) in safety.sets.iter().zip(&site.sets) {
                let own = sets.entry(state.feature()).or_default().entry(stage).or_default();
                own.push(Set { stage, step, state: *state, at: *at });
            }
        }
        Self { draft, before, kept, sets, around: BTreeMap::new() }
    }

    fn kept_steps(&self, stage: usize) -> Vec<(usize, usize)> {
        self.kept[stage].iter().map(|step| (stage, *step)).collect()
    }

    fn look(&mut self, stage: usize, step: usize, which: &str, told: &mut BTreeSet<usize>, faults: &mut Faults<'_>) {
        let draft = self.draft;
        let safety = &draft.template.stages[stage].steps[step].safety;
        let sites = &draft.stages[stage].steps[step].safety.needs;
        for (need, at) in safety.needs.iter().zip(sites) {
            if let Some(why) = self.against(stage, step, *need, faults)
                && told.insert(*at)
            {
                let what = format!("step {} of stage '{}'", step + 1, self.name(stage));
                faults.at(*at, format!("{what} needs '{need}', but {why}{which}"));
            }
        }
    }

    fn name(&self, stage: usize) -> String {
        shorten(self.draft.template.stages[stage].key.as_str())
    }

    /// What stands against a need, if anything does.
    fn against(&mut self, stage: usize, step: usize, need: VehicleState, faults: &Faults<'_>) -> Option<String> {
        let feature = need.feature();
        if !self.around.contains_key(&(stage, feature)) {
            let around = self.look_around(stage, feature);
            self.around.insert((stage, feature), around);
        }
        let around = self.around.get(&(stage, feature))?;
        let said = |set: &Set| {
            let line = faults.line_of(set.at);
            format!("step {} of stage '{}' (line {line})", set.step + 1, self.name(set.stage))
        };
        if let Some(set) = around.beside.iter().find(|set| set.state != need) {
            return Some(format!("{} sets '{}' and may be done just before it", said(set), set.state));
        }
        let own = self.sets.get(&feature).and_then(|sets| sets.get(&stage));
        let own = own.and_then(|all| all.iter().rfind(|set| set.step < step));
        let last = own.map_or(around.last.as_slice(), std::slice::from_ref);
        if last.is_empty() {
            let comes = feature.initial();
            return (comes != need).then(|| format!("nothing before it sets that, and a vehicle comes with '{comes}'"));
        }
        let set = last.iter().find(|set| set.state != need)?;
        Some(format!("{} leaves it at '{}'", said(set), set.state))
    }

    fn look_around(&self, stage: usize, feature: Feature) -> Around {
        let mut around = Around::default();
        let Some(sets) = self.sets.get(&feature) else { return around };
        let mut covered = Bits::none(self.before.len());
        let earlier: Vec<usize> = sets.keys().copied().filter(|other| self.before[stage].has(*other)).collect();
        for other in &earlier {
            covered.add(&self.before[*other]);
        }
        let last = earlier.iter().filter(|other| !covered.has(**other));
        for set in last.filter_map(|other| sets[other].last()) {
            put(&mut around.last, *set);
        }
        let beside =
            |other: &usize| *other != stage && !self.before[stage].has(*other) && !self.before[*other].has(stage);
        for set in sets.iter().filter(|(other, _)| beside(other)).flat_map(|(_, all)| all) {
            put(&mut around.beside, *set);
        }
        around
    }
}

/// One of each state is enough.
fn put(known: &mut Vec<Set>, set: Set) {
    if known.iter().all(|other| other.state != set.state) {
        known.push(set);
    }
}
