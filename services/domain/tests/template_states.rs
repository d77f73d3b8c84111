//! Templates that ask for vehicle states, hold points, hazards and fluids: what is read, and which orders contradict
//! themselves. What a partial order allows is worked out by hand; the rules are the project's own, common practice.

use leadhand_domain::hazard::DEFERENCE;
use leadhand_domain::template::{Fault, expand, parse, write};
use leadhand_facts::OptionKey;
use leadhand_facts::words::{Hazard, SignalWord, VehicleState};
use std::collections::BTreeSet;
use std::fmt::Write;

/// A stage of one line a step: what it needs, what it sets.
fn stage(key: &str, after: &[&str], steps: &[(&str, &str)]) -> String {
    let after: Vec<String> = after.iter().map(|key| format!("\"{key}\"")).collect();
    let mut text =
        format!("[[stage]]\nkey = \"{key}\"\ntitle = \"x\"\nminutes = [1, 2, 3]\nafter = [{}]\n", after.join(", "));
    for (needs, sets) in steps {
        let list = |states: &str| {
            let each = states.split(", ").filter(|state| !state.is_empty());
            each.map(|state| format!("\"{state}\"")).collect::<Vec<_>>().join(", ")
        };
        let (needs, sets) = (list(needs), list(sets));
        let _ = writeln!(text, "[[stage.step]]\ndo = \"x\"\nstate = {{ needs = [{needs}], sets = [{sets}] }}");
    }
    text
}

fn template(stages: &[String]) -> String {
    format!("key = \"k\"\ntitle = \"t\"\n{}", stages.concat())
}

fn faults(text: &str) -> Vec<Fault> {
    parse(text).expect_err("the template contradicts itself")
}

const OFF: (&str, &str) = ("", "battery isolated");
const ON: (&str, &str) = ("", "battery connected");
const CRANK: (&str, &str) = ("battery connected", "");

/// The battery is isolated, and a later step cranks the engine.
#[test]
fn a_later_step_that_needs_what_an_earlier_one_took_away_is_refused_with_both_lines() {
    let text = template(&[stage("a", &[], &[OFF]), stage("b", &["a"], &[("", "")]), stage("c", &["b"], &[CRANK])]);
    let found = faults(&text);
    assert_eq!(found.len(), 1, "{found:?}");
    let line_of = |part: &str| text.lines().position(|line| line.contains(part)).map(|at| at + 1);
    assert_eq!(Some(found[0].line), line_of("needs = [\"battery connected\"]"));
    let said = &found[0].message;
    assert!(said.contains("step 1 of stage 'c' needs 'battery connected'"), "{said}");
    let isolates = line_of("sets = [\"battery isolated\"]").expect("it is there");
    assert!(said.contains(&format!("step 1 of stage 'a' (line {isolates}) leaves it at 'battery isolated'")), "{said}");
    // With a step in between that connects it there is nothing to say.
    let mended = template(&[stage("a", &[], &[OFF]), stage("b", &["a"], &[ON]), stage("c", &["b"], &[CRANK])]);
    assert!(parse(&mended).is_ok());
}

#[test]
fn steps_of_a_stage_follow_each_other() {
    assert!(parse(&template(&[stage("a", &[], &[OFF, ON, CRANK])])).is_ok());
    assert_eq!(faults(&template(&[stage("a", &[], &[ON, OFF, CRANK])])).len(), 1);
    // How a vehicle comes: connected, and not isolated.
    assert!(parse(&template(&[stage("a", &[], &[CRANK, OFF])])).is_ok());
    let found = faults(&template(&[stage("a", &[], &[("battery isolated", ""), OFF])]));
    assert!(found[0].message.contains("nothing before it sets that, and a vehicle comes with 'battery connected'"));
}

/// Of two stages that may run beside each other each may come last.
#[test]
fn a_stage_that_may_run_beside_it_counts_as_the_last() {
    let beside = [stage("a", &[], &[ON]), stage("off", &["a"], &[OFF]), stage("crank", &["a"], &[CRANK])];
    let found = faults(&template(&beside));
    assert!(
        found[0].message.contains("stage 'off'") && found[0].message.contains("may be done just before it"),
        "{found:?}"
    );
    // In one order it is sound: crank first.
    let ordered = [stage("a", &[], &[ON]), stage("crank", &["a"], &[CRANK]), stage("off", &["crank"], &[OFF])];
    assert!(parse(&template(&ordered)).is_ok());
    // Two ways lead to it, and one of them leaves the battery off.
    let ways = [stage("a", &[], &[ON]), stage("b", &[], &[OFF]), stage("c", &["a", "b"], &[CRANK])];
    assert!(faults(&template(&ways))[0].message.contains("stage 'b'"));
    // Something that both ways pass through puts it right.
    let joined = [
        stage("a", &[], &[ON]),
        stage("b", &[], &[OFF]),
        stage("join", &["a", "b"], &[ON]),
        stage("c", &["join"], &[CRANK]),
    ];
    assert!(parse(&template(&joined)).is_ok());
}

/// A contradiction that only one setting of an option has, and a stage that is left out hands on its order.
#[test]
fn every_option_is_tried_both_ways() {
    let option = "[options.connect]\ntitle = \"x\"\ndefault = true\n";
    let when = |stage: String, when: &str| stage.replacen("after =", &format!("when = \"{when}\"\nafter ="), 1);
    let stages = [stage("a", &[], &[OFF]), when(stage("b", &["a"], &[ON]), "connect"), stage("c", &["b"], &[CRANK])];
    let found = faults(&(template(&stages) + option));
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].message.ends_with("'battery isolated', without option 'connect'"), "{found:?}");
    // The stage that takes it away is there with the option alone, and so is the one that gives it back.
    let stages = [
        when(stage("a", &[], &[OFF]), "connect"),
        when(stage("b", &["a"], &[ON]), "connect"),
        stage("c", &["b"], &[CRANK]),
    ];
    assert!(parse(&(template(&stages) + option)).is_ok());
}

const SAFE: &str = r#"key = "k"
title = "t"
[[stage]]
key = "drain"
title = "Drain"
minutes = [1, 2, 3]
[[stage.step]]
do = "Drain it"
caution = [{ word = "CAUTION", text = "Mind the edge." }]
hazard = ["glycol", "fuel"]
state = { needs = ["fuel-pressure live"], sets = ["coolant drained"] }
hold = "cold"
second = true
fluid = [{ key = "coolant", what = "Coolant", expected = "7 L", back = "fill" }]
[[stage]]
key = "fill"
title = "Fill"
minutes = [1, 2, 3]
after = ["drain"]
"#;

#[test]
fn what_makes_a_step_safe_is_read_written_and_comes_to_the_job() {
    let template = parse(SAFE).expect("no fault").template;
    let safety = &template.stages[0].steps[0].safety;
    assert_eq!(
        (safety.needs.as_slice(), safety.sets.as_slice()),
        ([VehicleState::FuelPressureLive].as_slice(), [VehicleState::CoolantDrained].as_slice())
    );
    assert_eq!(safety.hazards, [Hazard::Fuel, Hazard::Glycol], "gravest first");
    assert!(safety.hold.as_ref().is_some_and(|hold| hold.second && hold.what == "cold"));
    assert_eq!(safety.fluids[0].expected_ml, Some(7_000));
    assert_eq!(parse(&write(&template)).expect("no fault").template, template);
    let stages = expand(&template, &BTreeSet::<OptionKey>::new());
    let step = &stages[0].steps[0];
    let words: Vec<SignalWord> = step.cautions.iter().map(|caution| caution.word).collect();
    assert_eq!(words, [SignalWord::Danger, SignalWord::Warning, SignalWord::Caution, SignalWord::Notice]);
    assert_eq!(step.cautions.last().map(|caution| caution.text.as_str()), Some(DEFERENCE));
    assert_eq!(step.safety, *safety);
}

#[test]
fn mistakes_in_them_are_told_with_what_is_near() {
    for (right, wrong, said) in [
        ("\"glycol\"", "\"glycl\"", "did you mean 'glycol'?"),
        ("\"glycol\", ", "\"fuel\", ", "is 'fuel' again"),
        ("\"coolant drained\"", "\"coolant draind\"", "did you mean 'coolant drained'?"),
        ("\"coolant drained\"", "\"coolant drained\", \"coolant full\"", "stands there as well"),
        ("hold = \"cold\"\n", "", "there is none; add hold"),
        ("hold = \"cold\"", "hold = \"\"", "is empty"),
        ("\"7 L\"", "\"7 kg\"", "has to be from 1 mL to 1000 L"),
        ("\"7 L\"", "\"seven\"", "has to be a number, one blank and a unit"),
        ("back = \"fill\"", "back = \"fil\"", "did you mean 'fill'?"),
        ("sets =", "set =", "has no field 'set'"),
        ("second = true", "second = 1", "must be true or false"),
    ] {
        let text = SAFE.replacen(right, wrong, 1);
        assert_ne!(text, SAFE, "{right}");
        let found = faults(&text);
        assert!(found.iter().any(|fault| fault.message.contains(said)), "{wrong}: {found:?}");
    }
    // What is filled again is drained: a slip of its key would be a system of its own.
    let fills = |fluid: &str| format!("{SAFE}[[stage.step]]\ndo = \"Fill it\"\nfills = \"{fluid}\"\n");
    let filled = parse(&fills("coolant")).expect("no fault").template;
    assert_eq!(filled.stages[1].steps[0].safety.fill.as_ref().map(|fill| fill.fluid.as_str()), Some("coolant"));
    assert_eq!(parse(&write(&filled)).expect("no fault").template, filled);
    let slip = faults(&fills("coolnt"));
    assert!(slip[0].message.contains("fills 'coolnt', which no step here drains; did you mean 'coolant'?"), "{slip:?}");
    assert!(faults(&fills("Cool ant")).iter().any(|fault| fault.message.contains("fills")));
    let twice = SAFE.replacen(", back = \"fill\" }]", " }, { key = \"coolant\", what = \"Again\" }]", 1);
    assert!(faults(&twice)[0].message.contains("fluid 'coolant' is there already, in line 14"));
}
