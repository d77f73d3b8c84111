//! Properties: what is written reads back the same, and no text whatever makes the reader panic.

use leadhand_domain::template::{FAULTS_MAX, check, expand, items_named, parse, write};
use leadhand_facts::reading::{ReadingDetail, ReadingSpec};
use leadhand_facts::safety::{Fill, FluidSpec, Hold, StepSafety};
use leadhand_facts::strip::{Ladder, PositionDetail, PositionSpec, Rung, Tighten};
use leadhand_facts::template::{
    AfterSpec, Caution, Condition, Minutes, Need, StageSpec, StepSpec, Template, TemplateOption,
};
use leadhand_facts::words::{
    BayKind, Feature, Hazard, Keep, Manner, PositionKind, Reach, ReadingKind, ReadingUnit, Renew, SignalWord,
    StageKind, VehicleState,
};
use leadhand_facts::{
    FluidKey, ItemKey, LadderKey, Measure, OptionKey, PositionKey, Quantity, ReadingKey, StageKey, Unit,
};
use proptest::collection::{btree_set, vec};
use proptest::option::of as option;
use proptest::prelude::*;
use proptest::sample::{Index, select, subsequence};
use std::collections::{BTreeMap, BTreeSet};

fn key() -> impl Strategy<Value = String> {
    "[A-Za-z0-9][A-Za-z0-9._-]{0,20}"
}

/// Text with what needs care in TOML: quotes, backslashes, `#`, letters beyond ASCII.
fn line() -> impl Strategy<Value = String> {
    r#"[a-zA-Zé€"'\\#\[\]{}=,.🔧-]( ?["'\\a-z#=🔧]){0,20}"#
}

fn paragraph() -> impl Strategy<Value = String> {
    vec(line(), 1..4).prop_map(|lines| lines.join("\n"))
}

fn condition(options: Vec<OptionKey>) -> BoxedStrategy<Option<Condition>> {
    if options.is_empty() {
        return Just(None).boxed();
    }
    proptest::option::of((select(options), any::<bool>()).prop_map(|(option, on)| Condition { option, on })).boxed()
}

fn needs() -> impl Strategy<Value = Vec<Need>> {
    let amount = (1..=1_000_000_000_000_i64, select(Unit::ALL.to_vec()));
    proptest::collection::btree_map(key(), amount, 0..3).prop_map(|needs| {
        let need = |(item, (quantity, unit)): (String, (i64, Unit))| Need {
            item: item.as_str().into(),
            quantity: Quantity(quantity),
            unit,
        };
        needs.into_iter().map(need).collect()
    })
}

fn step() -> impl Strategy<Value = StepSpec> {
    let caution = (select(SignalWord::ALL), paragraph()).prop_map(|(word, text)| Caution { word, text });
    let measured = (vec(reading(), 0..3), option(paragraph()));
    let shared = btree_set(key(), 0..3);
    (paragraph(), vec(line(), 0..8), shared, vec(caution, 0..3), needs(), vec(position(), 0..3), measured, safety())
        .prop_map(|(instruction, tools, shared, mut cautions, needs, mut positions, (readings, follow_up), safety)| {
            cautions.sort_by_key(|caution| caution.word);
            // As the file lists them.
            positions.sort_by_key(|position| position.detail.manner);
            let shared_tools = shared.iter().map(|key| key.as_str().into()).collect();
            StepSpec {
                instruction,
                tools,
                shared_tools,
                cautions,
                needs,
                safety,
                positions,
                readings,
                follow_up,
                when: None,
            }
        })
}

/// A reading without its key, which the whole template gives; its parts go together.
fn reading() -> impl Strategy<Value = ReadingSpec> {
    let measure = || (-Measure::MAX..=Measure::MAX).prop_map(Measure);
    let limits = (option(measure()), option(measure()), option((0..=100 * Measure::ONE).prop_map(Measure)));
    let held = (option((0..=Measure::MAX).prop_map(Measure)), option(1..=525_600_i32));
    let words = (option(line()), option(line()), btree_set(line(), 0..4));
    let closed = (select(ReadingKind::ALL), select(ReadingUnit::ALL));
    (line(), closed, limits, held, words).prop_map(|(what, (kind, unit), (one, other, spread), held, words)| {
        let (method, instrument, labels) = words;
        let is_held = kind == ReadingKind::PressureHeld;
        let labels: Vec<String> = if is_held { vec![] } else { labels.into_iter().collect() };
        let grid = kind == ReadingKind::Flatness && labels.len() > 1;
        let (low, high) =
            if one.is_some() && other.is_some() { (one.min(other), one.max(other)) } else { (one, other) };
        let spread = spread.filter(|_| !is_held && !grid && kind != ReadingKind::LeakDown && labels.len() > 1);
        let (drop, minutes) = if is_held { held } else { (None, None) };
        let low = low.filter(|_| !grid);
        let detail = ReadingDetail { kind, unit, labels, low, high, spread, drop, minutes, method, instrument };
        ReadingSpec { key: ReadingKey(String::new()), what, detail }
    })
}

/// What makes a step safe. It needs nothing that a vehicle does not come with, so that no order contradicts itself.
fn safety() -> impl Strategy<Value = StepSafety> {
    let sets = subsequence(VehicleState::ALL.to_vec(), 0..4).prop_map(|states| {
        let harmless = |state: &VehicleState| state.feature() == Feature::Temperature;
        states.into_iter().find(harmless).into_iter().collect::<Vec<_>>()
    });
    let needs = subsequence(Feature::ALL.to_vec(), 0..4).prop_map(|features| {
        let untouched = features.into_iter().filter(|feature| *feature != Feature::Temperature);
        untouched.map(Feature::initial).collect::<Vec<_>>()
    });
    let hold =
        option((line(), any::<bool>(), any::<bool>()).prop_map(|(what, second, whole)| Hold { what, second, whole }));
    let hazards = subsequence(Hazard::ALL.to_vec(), 0..4);
    let fluid = (line(), option(1..=1_000_000_i64)).prop_map(|(what, expected_ml)| FluidSpec {
        key: FluidKey(String::new()),
        what,
        expected_ml,
        back: None,
    });
    let skills = btree_set(line(), 0..3).prop_map(|skills| skills.into_iter().collect());
    (needs, sets, hold, hazards, vec(fluid, 0..3), skills).prop_map(|(needs, sets, hold, hazards, fluids, skills)| {
        StepSafety { needs, sets, hold, hazards, fluids, fill: None, skills, only_here: false }
    })
}

/// A position without its key and without what it names, which the whole template gives.
fn position() -> impl Strategy<Value = PositionSpec> {
    let tighten =
        prop_oneof![(1..=2_000_000_i64).prop_map(Tighten::TorqueMilli), (1..=360_i32).prop_map(Tighten::AngleDegrees)];
    let words = (option(line()), option(line()), option(line()), vec(line(), 0..3));
    let closed =
        (select(PositionKind::ALL), select(Manner::ALL), option(select(Reach::ALL)), option(select(Keep::ALL)));
    let renew = (select(Renew::ALL), line(), option(key()));
    let more = (any::<bool>(), any::<bool>(), option(1..=10_080_i32));
    // An angle counts from a torque.
    let tighten = vec(tighten, 0..4).prop_map(|stages: Vec<Tighten>| {
        stages.into_iter().skip_while(|stage| matches!(stage, Tighten::AngleDegrees(_))).collect::<Vec<_>>()
    });
    (line(), 1..=1_000_i32, words, closed, renew, tighten, more).prop_map(
        |(
            what,
            count,
            (size, head, location, how),
            (kind, manner, reach, keep),
            (renew, check, item),
            tighten,
            (second_check, tags, cure_minutes),
        )| {
            let check = (renew == Renew::Check).then_some(check);
            let plain = PositionDetail::plain(kind, manner, count);
            let item = item.map(ItemKey);
            let plain = PositionDetail { item, cure_minutes, tags, ..plain };
            let detail =
                PositionDetail { size, head, location, reach, keep, renew, check, tighten, how, second_check, ..plain };
            PositionSpec { key: PositionKey(String::new()), what, detail }
        },
    )
}

fn stage() -> impl Strategy<Value = StageSpec> {
    let minutes = vec(0..=525_600_i32, 3).prop_map(|mut points| {
        points.sort_unstable();
        Minutes { low: points[0], likely: points[1], high: points[2] }
    });
    let lists = (subsequence(BayKind::ALL.to_vec(), 0..=4), btree_set(line(), 0..3), vec(line(), 0..3));
    let kind = (select(StageKind::ALL), 1..=50_i32, any::<bool>(), any::<bool>());
    (line(), minutes, lists, kind, vec(step(), 0..4)).prop_map(|(title, minutes, lists, kind, steps)| StageSpec {
        key: StageKey(String::new()),
        title,
        kind: kind.0,
        minutes,
        bays: lists.0,
        skills: lists.1.into_iter().collect(),
        hands: if kind.0 == StageKind::Work { kind.1 } else { 0 },
        tools: lists.2,
        after: Vec::new(),
        may_leave: kind.2,
        in_one_go: kind.3 && kind.0 == StageKind::Work,
        when: None,
        steps,
    })
}

/// A ladder with any rungs, of which at most one is the last safe try.
fn ladder() -> impl Strategy<Value = Vec<Rung>> {
    let caution = (select(SignalWord::ALL), paragraph()).prop_map(|(word, text)| Caution { word, text });
    let rung = (line(), vec(line(), 0..3), vec(caution, 0..3), btree_set(line(), 0..3), option(1..=10_080_i32));
    (vec(rung, 1..4), any::<Index>()).prop_map(|(rungs, last)| {
        let last = last.index(rungs.len() + 1);
        let rung = |(at, (measure, tools, mut cautions, skills, soak_minutes)): (usize, RungParts)| {
            cautions.sort_by_key(|caution| caution.word);
            let skills = skills.into_iter().collect();
            Rung { measure, tools, cautions, skills, soak_minutes, last_safe: at == last }
        };
        rungs.into_iter().enumerate().map(rung).collect()
    })
}

type RungParts = (String, Vec<String>, Vec<Caution>, BTreeSet<String>, Option<i32>);
type Parts = (String, String, Vec<TemplateOption>, Vec<String>, Vec<Vec<Rung>>);
type Link = (Index, bool, i32);

/// Options in any order, which the file keeps.
fn options() -> impl Strategy<Value = Vec<TemplateOption>> {
    let options = proptest::collection::btree_map(key(), (line(), any::<bool>()), 0..4).prop_map(|options| {
        let option =
            |(key, (title, default)): (String, (String, bool))| TemplateOption { key: OptionKey(key), title, default };
        options.into_iter().map(option).collect::<Vec<_>>()
    });
    options.prop_shuffle()
}

/// A template without fault: each stage but the first may come after an earlier one.
fn template() -> impl Strategy<Value = Template> {
    let parts = (key(), line(), options(), btree_set(key(), 1..6), vec(ladder(), 0..3));
    parts.prop_flat_map(|(key, title, options, keys, ladders)| {
        let known: Vec<OptionKey> = options.iter().map(|option| option.key.clone()).collect();
        let keys: Vec<String> = keys.into_iter().collect();
        let count = keys.len();
        let links = vec((any::<Index>(), any::<bool>(), 0..=525_600_i32), count);
        let conditions = vec(condition(known), count);
        let parts = Just((key, title, options, keys, ladders));
        (parts, vec(stage(), count), links, conditions).prop_map(build)
    })
}

fn build(
    (parts, mut stages, links, conditions): (Parts, Vec<StageSpec>, Vec<Link>, Vec<Option<Condition>>),
) -> Template {
    let (key, title, options, keys, ladders) = parts;
    let named = |(number, rungs)| Ladder { key: LadderKey(format!("ladder-{number}")), rungs };
    let ladders: Vec<Ladder> = ladders.into_iter().enumerate().map(named).collect();
    for (at, stage) in stages.iter_mut().enumerate() {
        stage.key = StageKey(keys[at].clone());
        let (before, linked, wait_minutes) = &links[at];
        if at > 0 {
            // The first stage is unconditional, so that a job always has one.
            stage.when.clone_from(&conditions[at]);
            if *linked {
                let stage_before = StageKey(keys[before.index(at)].clone());
                stage.after.push(AfterSpec { stage: stage_before, wait_minutes: *wait_minutes });
            }
        } else if let Some(step) = stage.steps.first_mut() {
            step.when.clone_from(&conditions[at]);
        }
    }
    name_positions(&mut stages, ladders.last().map(|ladder| &ladder.key));
    name_fluids(&mut stages);
    Template { key: key.as_str().into(), title, options, stages, ladders }
}

/// Each lies behind the one before it in its stage, and goes back in a stage right behind its own.
fn name_positions(stages: &mut [StageSpec], ladder: Option<&LadderKey>) {
    let links: Vec<(StageKey, StageKey)> = stages
        .iter()
        .flat_map(|stage| stage.after.iter().map(|after| (after.stage.clone(), stage.key.clone())))
        .collect();
    let mut known: Vec<PositionKey> = Vec::new();
    let steps = stages.iter_mut().flat_map(|stage| &mut stage.steps);
    for (at, reading) in steps.flat_map(|step| &mut step.readings).enumerate() {
        reading.key = ReadingKey(format!("r-{at}"));
    }
    for stage in stages {
        let back = links.iter().find(|(before, _)| *before == stage.key).map(|(_, after)| after.clone());
        let mut holds = false;
        for position in stage.steps.iter_mut().flat_map(|step| &mut step.positions) {
            position.key = PositionKey(format!("p-{}", known.len()));
            let last = known.last().filter(|_| holds);
            position.detail.behind = last.cloned().into_iter().collect();
            holds = true;
            position.detail.back.clone_from(&back);
            position.detail.ladder = ladder.cloned();
            known.push(position.key.clone());
        }
    }
}

/// Each has a key of its own, and goes back in the last stage.
fn name_fluids(stages: &mut [StageSpec]) {
    let last = stages.last().map(|stage| stage.key.clone());
    let fluids = stages.iter_mut().flat_map(|stage| &mut stage.steps).flat_map(|step| &mut step.safety.fluids);
    for (at, fluid) in fluids.enumerate() {
        fluid.key = FluidKey(format!("f-{at}"));
        fluid.back.clone_from(&last);
    }
    let mut steps = stages.iter_mut().flat_map(|stage| &mut stage.steps).collect::<Vec<_>>();
    let any = steps.iter().any(|step| !step.safety.fluids.is_empty());
    if let Some(step) = steps.last_mut().filter(|_| any) {
        step.safety.fill = Some(Fill { fluid: "f-0".into(), reckoned: None });
    }
}

fn valid_file() -> String {
    let path = format!("{}/../../deploy/demo-shop/templates/front-brakes.toml", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).expect("the template is there")
}

/// Reads a text every way there is; whatever it says, faults lie in the file and in order.
fn survives(text: &str) {
    let none = BTreeMap::new();
    let _ = items_named(text);
    let _ = check(text, &none);
    match parse(text) {
        Ok(parsed) => {
            assert_eq!(parse(&write(&parsed.template)).expect("written without fault").template, parsed.template);
        }
        Err(faults) => {
            let lines = text.matches('\n').count() + 1;
            assert!(!faults.is_empty() && faults.len() <= FAULTS_MAX + 1);
            assert!(faults.iter().all(|fault| (1..=lines).contains(&fault.line) && fault.column > 0), "{faults:?}");
            assert!(faults.is_sorted_by_key(|fault| (fault.line, fault.column)));
            assert!(faults.iter().all(|fault| !fault.message.is_empty()));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_written_reads_back_the_same(template in template()) {
        let text = write(&template);
        match parse(&text) {
            Ok(parsed) => prop_assert_eq!(parsed.template, template),
            Err(faults) => prop_assert!(false, "{}\n{:?}", text, faults),
        }
    }

    #[test]
    fn what_is_expanded_only_comes_after_what_is_there(template in template(), on in vec(any::<bool>(), 4)) {
        let options = template.options.iter().zip(&on).filter(|(_, on)| **on).map(|(option, _)| option.key.clone());
        let stages = expand(&template, &options.collect());
        prop_assert!(!stages.is_empty());
        for stage in &stages {
            for after in &stage.after {
                prop_assert!(stages.iter().any(|other| other.stage == after.stage && other.ordinal < stage.ordinal));
            }
        }
    }

    #[test]
    fn any_text_is_survived(text in any::<String>()) {
        survives(&text);
    }

    #[test]
    fn anything_like_toml_is_survived(
        text in r#"([a-z]{1,5}|[\[\]{}=,."'#\n !-]|stage|step|options|key = |\[\[stage\]\]\n|[0-9]){0,60}"#,
    ) {
        survives(&text);
    }

    #[test]
    fn a_file_with_a_piece_cut_out_or_put_in_is_survived(
        from in any::<Index>(),
        length in 0..80_usize,
        piece in r#"[\[\]{}="'#\n,0-9a-z\\]{0,6}"#,
    ) {
        let letters: Vec<char> = valid_file().chars().collect();
        let from = from.index(letters.len());
        let until = (from + length).min(letters.len());
        let (before, behind) = (&letters[..from], &letters[until..]);
        let text: String = before.iter().copied().chain(piece.chars()).chain(behind.iter().copied()).collect();
        survives(&text);
    }

    #[test]
    fn a_file_with_lines_moved_is_survived(from in any::<Index>(), to in any::<Index>(), count in 1..20_usize) {
        let mut lines: Vec<String> = valid_file().lines().map(str::to_owned).collect();
        let from = from.index(lines.len());
        let moved: Vec<String> = lines.drain(from..(from + count).min(lines.len())).collect();
        let to = to.index(lines.len() + 1);
        lines.splice(to..to, moved);
        survives(&lines.join("\n"));
    }
}
