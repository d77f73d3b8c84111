//! Every fault of a template file at once, each at its line and column. Common practice for
//! checkers; there is no outside source.

use leadhand_domain::template::{FAULTS_MAX, Fault, check, items_named, parse};
use leadhand_facts::{ItemKey, Unit};
use std::collections::BTreeMap;

const FAULTY: &str = r#"key = "bad key"
title = ""
colour = "red"

[options.machine-shop]
title = "To the machine shop"
default = "yes"

[[stage]]
key = "drain"
title = "Drain"
minutes = [40, 25, 15]
bays = ["two-post-lfit"]
after = ["cool", "strp"]
hands = 0

[[stage.step]]
do = "Drain it"
tols = ["pan"]
caution = [{ word = "PERIL", text = "Hot" }]
needs = [
    { item = "washer", quantity = 0, unit = "1" },
    { item = "coolant", quantity = "4.5005 L", unit = "L" },
    { item = "oil", quantity = 4, unit = "gal" },
    { item = "cloth", quantity = 1.5 },
    { item = "glove", quantity = 1 }, { item = "glove", quantity = 2 },
]
when = "machineshop"

[[stage]]
key = "cool"
title = "Cool"
kind = "wait"
minutes = [1, 2]
hands = 2
after = [{ stage = "strip", wait = -5 }]
when = "machine-shop"

[[stage.step]]
when = "!machine-shop"
do = "Never"

[[stage]]
key = "strip"
title = "Strip	it"
minutes = [1, 2, 3]
after = ["drain"]

[[stage]]
key = "drain"
title = "Again"
"#;

fn faults(text: &str) -> Vec<Fault> {
    parse(text).expect_err("the file is faulty")
}

/// The faults as `line:column` with what their message has to contain.
fn assert_faults(found: &[Fault], expected: &[(usize, usize, &str)]) {
    let shown: Vec<String> = found.iter().map(ToString::to_string).collect();
    assert_eq!(found.len(), expected.len(), "{}", shown.join("\n"));
    for (fault, (line, column, part)) in found.iter().zip(expected) {
        assert_eq!((fault.line, fault.column), (*line, *column), "{fault}");
        assert!(fault.message.contains(part), "{fault} should say: {part}");
    }
}

#[test]
fn every_fault_is_told_at_its_place() {
    let expected = [
        (1, 7, "is 'bad key', which is no key"),
        (2, 9, "is empty"),
        (3, 1, "has no field 'colour'; its fields are key, title, options, stage"),
        (7, 11, "field 'default' of option 'machine-shop' must be true or false, but it is a text"),
        (12, 11, "is [40, 25, 15], but low, likely and high must not fall"),
        (13, 9, "has to be one of two-post-lift, four-post-lift, floor, pit; did you mean 'two-post-lift'?"),
        (14, 10, "wait for each other in a ring: 'drain' after 'cool' after 'strip' after 'drain'"),
        (14, 18, "comes after 'strp', which is no stage here; did you mean 'strip'?"),
        (15, 9, "is 0, but work needs somebody"),
        (19, 1, "step 1 of stage 'drain' has no field 'tols'; did you mean 'tools'?"),
        (20, 21, "is 'PERIL', but has to be one of DANGER, WARNING, CAUTION, NOTICE"),
        (22, 35, "is 0 1, but has to be from 1 to 1000000000000"),
        (23, 36, "is '4.5005 L' and is not a whole number of mL"),
        (24, 42, "is 'gal', but has to be one of 1, mL, L, g, kg, mm, m"),
        (25, 34, "must be a whole number, or a text such as \"4.5 L\", but it is a number with a point"),
        (26, 48, "needs item 'glove' twice"),
        (28, 8, "asks for the unknown option 'machineshop'"),
        (34, 11, "must be a list of three whole numbers"),
        (35, 9, "must be 0, since a wait needs nobody"),
        (36, 36, "must be whole minutes from 0 to 525600"),
        (40, 8, "can never be reached"),
        (45, 9, "control character U+0009"),
        (49, 1, "stage 'drain' lacks the field 'minutes'"),
        (50, 7, "stage 'drain' is there already, in line 10"),
    ];
    assert_faults(&faults(FAULTY), &expected);
}

const GOOD: &str = "key = \"k\"\ntitle = \"t\"\n[[stage]]\nkey = \"a\"\ntitle = \"A\"\nminutes = [1, 2, 3]\n";

#[test]
fn what_is_not_toml_is_told_beside_the_rest() {
    let text = format!("{GOOD}hands = = 2\nkind = \"wrok\"\n[[stage]]\nkey = \"é\", x\n[[stage]]\nkey = \"a\"\n");
    let found = faults(&text);
    let lines: Vec<usize> = found.iter().map(|fault| fault.line).collect();
    assert_eq!(lines, [7, 8, 10, 12], "{found:?}");
    assert!(found[0].message.starts_with("this is not valid TOML"), "{}", found[0]);
    assert!(found[1].message.contains("did you mean 'work'?"), "{}", found[1]);
}

#[test]
fn a_key_written_twice_is_told_at_the_second() {
    let found = faults("key = \"k\"\ntitle = \"t\"\nkey = \"l\"\n[[stage]]\n");
    assert_eq!((found[0].line, found[0].column), (3, 1), "{found:?}");
    assert!(found[0].message.contains("duplicate key"), "{}", found[0]);
}

#[test]
fn columns_count_characters() {
    let found = faults(&format!("{GOOD}skills = [\"Getriebe für Öl\", 7]\n"));
    assert_faults(&found, &[(7, 30, "must be a text in quotes, but it is a whole number")]);
}

#[test]
fn an_empty_file_lacks_everything() {
    let expected = [(1, 1, "has no stages"), (1, 1, "lacks the field 'key'"), (1, 1, "lacks the field 'title'")];
    assert_faults(&faults(""), &expected);
    assert_faults(&faults("key = \"k\"\ntitle = \"t\"\nstage = []\n"), &[(3, 9, "has no stages")]);
}

#[test]
fn a_job_can_not_be_left_without_a_stage() {
    let options = "[options.x]\ntitle = \"X\"\n";
    let found = faults(&format!("{GOOD}when = \"x\"\n{options}"));
    assert_faults(&found, &[(3, 1, "every stage has a condition")]);
    let both = "[[stage]]\nkey = \"b\"\ntitle = \"B\"\nminutes = [0, 0, 0]\nwhen = \"!x\"\n";
    assert!(parse(&format!("{GOOD}when = \"x\"\n{both}{options}")).is_ok());
}

#[test]
fn two_rings_are_two_faults() {
    let stage = |key: &str, after: &str| {
        format!("[[stage]]\nkey = \"{key}\"\ntitle = \"x\"\nminutes = [0, 0, 0]\nafter = [{after}]\n")
    };
    let text = format!(
        "key = \"k\"\ntitle = \"t\"\n{}{}{}{}",
        stage("a", "\"b\""),
        stage("b", "\"a\""),
        stage("self", "\"self\""),
        stage("behind", "\"a\""),
    );
    let expected = [(7, 10, "'a' after 'b' after 'a'"), (17, 10, "'self' after 'self'")];
    assert_faults(&faults(&text), &expected);
}

#[test]
fn limits_are_told() {
    let stage = |n: usize| format!("[[stage]]\nkey = \"s{n}\"\ntitle = \"x\"\nminutes = [0, 0, 0]\n");
    let head = "key = \"k\"\ntitle = \"t\"\n";
    let stages = |count: usize| head.to_owned() + &(0..count).map(stage).collect::<String>();
    assert!(parse(&stages(500)).is_ok());
    assert_faults(&faults(&stages(501)), &[(2003, 1, "has 501 entries; at most 500 fit")]);

    let steps = |count: usize| GOOD.to_owned() + &"[[stage.step]]\ndo = \"x\"\n".repeat(count);
    assert!(parse(&steps(200)).is_ok());
    assert_faults(&faults(&steps(201)), &[(407, 1, "has 201 entries; at most 200 fit")]);

    let long = |count: usize| format!("key = \"k\"\ntitle = \"{}\"\n{}", "é".repeat(count), &GOOD[22..]);
    assert!(parse(&long(2000)).is_ok());
    assert_faults(&faults(&long(2001)), &[(2, 9, "has 2001 characters; at most 2000 fit")]);

    let comment = format!("{GOOD}# {}", "x".repeat(1024 * 1024));
    assert_faults(&faults(&comment), &[(1, 1, "a template has at most 1048576")]);

    let many = format!("{GOOD}[[stage]]\n{}", (0..300).map(|n| format!("x{n} = 1")).collect::<Vec<_>>().join("\n"));
    let found = faults(&many);
    assert_eq!(found.len(), FAULTS_MAX + 1);
    // 300 unknown fields and three that lack: what does not fit is counted.
    assert!(found[FAULTS_MAX].message.starts_with("103 more faults are not shown"), "{}", found[FAULTS_MAX]);
}

#[test]
fn needs_are_held_against_the_shops_items() {
    let step = "[[stage.step]]\ndo = \"x\"\nneeds = [\n";
    let text = format!(
        "{GOOD}{step}{}{}{}{}]\n",
        "{ item = \"coolant\", quantity = \"4 L\" },\n",
        "{ item = \"oil\", quantity = \"4.5 L\" },\n",
        "{ item = \"hg-ste\", quantity = 1 },\n",
        "{ item = \"washer\", quantity = \"2 kg\" },\n",
    );
    let items: BTreeMap<ItemKey, Unit> =
        [("coolant", Unit::Litre), ("oil", Unit::Litre), ("hg-set", Unit::Piece), ("washer", Unit::Piece)]
            .map(|(key, unit)| (ItemKey::from(key), unit))
            .into();
    let expected = [
        (11, 28, "needed as 4500 mL, but it is kept in 'L', of which this is no whole number"),
        (12, 10, "item 'hg-ste' is not on the shop's list; add it there or correct the key; did you mean 'hg-set'?"),
        (13, 31, "needed as 2000 g, but it is kept in '1', which measures something else"),
    ];
    assert_faults(&check(&text, &items).expect_err("three needs are wrong"), &expected);
    let parsed = parse(&text).expect("the file itself is sound");
    let apart = leadhand_domain::template::check_items(&parsed, &items).expect_err("three needs are wrong");
    assert_faults(&apart, &expected);
    let named: Vec<String> = items_named(&text).into_iter().map(|item| item.0).collect();
    assert_eq!(named, ["coolant", "hg-ste", "oil", "washer"]);

    // Faults of the file and of its needs come together.
    let both = check(&text.replace("do = \"x\"", "do = 7"), &items).expect_err("four faults");
    assert_eq!(both.iter().map(|fault| fault.line).collect::<Vec<_>>(), [8, 11, 12, 13]);

    // What converts exactly is turned into the item's unit.
    let fits = format!("{GOOD}{step}{{ item = \"coolant\", quantity = \"4 L\" }},\n]\n");
    let template = check(&fits, &items).expect("no fault");
    let need = &template.stages[0].steps[0].needs[0];
    assert_eq!((need.quantity.0, need.unit), (4, Unit::Litre));
}

#[test]
fn a_text_in_lines_may_have_tabs_and_a_title_may_not() {
    let step = "[[stage.step]]\ndo = \"One\\n\\ttwo\"\n";
    let parsed = parse(&format!("{GOOD}{step}")).expect("it has no fault");
    assert_eq!(parsed.template.stages[0].steps[0].instruction, "One\n\ttwo");
    let title = GOOD.replace("title = \"A\"", "title = \"A\\tB\"");
    assert_faults(&faults(&format!("{title}{step}")), &[(5, 9, "control character U+0009")]);
}

/// Ladders, what new pieces are, and minutes: each fault at its place.
#[test]
fn faults_of_ladders_and_new_pieces_are_told_at_their_places() {
    let text = format!(
        "{GOOD}{}",
        r#"[[stage.step]]
do = "x"
[[stage.step.off]]
key = "nut"
what = "Nut"
ladder = "studz"
cure = 0
item = "nutt"
tags = "yes"
[[ladder]]
key = "studs"
[[ladder.rung]]
do = "Soak"
soak = 99999
last-safe = true
[[ladder.rung]]
do = "Heat"
last-safe = true
skills = [" heat"]
[[ladder]]
key = "studs"
colour = 1
"#
    );
    let expected = [
        (12, 10, "goes by ladder 'studz', which is no [[ladder]] here; did you mean 'studs'?"),
        (13, 8, "must be whole minutes from 1 to 10080"),
        (15, 8, "must be true or false, but it is a text"),
        (20, 8, "must be whole minutes from 1 to 10080"),
        (22, 1, "a rung before it is the last safe try already"),
        (25, 10, "with a blank around it"),
        (26, 1, "ladder 'studs' has no rungs"),
        (27, 7, "ladder 'studs' is there already"),
        (28, 1, "has no field 'colour'"),
    ];
    assert_faults(&faults(&text), &expected);
    let sound = "[[stage.step]]\ndo = \"x\"\n[[stage.step.off]]\nkey = \"nut\"\nwhat = \"Nut\"\nitem = \"nutt\"\n";
    let text = format!("{GOOD}{sound}");
    assert_eq!(items_named(&text).into_iter().map(|item| item.0).collect::<Vec<_>>(), ["nutt"]);
    let items = |key: &str, unit| BTreeMap::from([(ItemKey::from(key), unit)]);
    let wrong = check(&text, &items("nut", Unit::Piece)).expect_err("it is not listed");
    assert_faults(
        &wrong,
        &[(12, 8, "item 'nutt' is not on the shop's list; add it there or correct the key; did you mean 'nut'?")],
    );
    let parsed = parse(&text).expect("the file itself is sound");
    let wrong = leadhand_domain::template::check_items(&parsed, &items("nutt", Unit::Litre)).expect_err("no piece");
    assert_faults(&wrong, &[(12, 8, "is kept in 'L', and a new piece is counted")]);
    assert!(check(&text, &items("nutt", Unit::Piece)).is_ok());
}

// An angle counts from a torque, and a key of no width turns nothing (common practice, no source).
#[test]
fn tightening_begins_with_a_torque_and_sizes_are_more_than_nothing() {
    let step = "[[stage.step]]\ndo = \"x\"\n[[stage.step.off]]\nkey = \"nut\"\nwhat = \"Nut\"\n";
    let text = |more: &str| format!("{GOOD}{step}{more}\n");
    assert_faults(&faults(&text("tighten = [\"90 deg\", \"25 N.m\"]")), &[(9, 1, "an angle counts from a torque")]);
    assert_faults(&faults(&text("head = \"0\"")), &[(9, 1, "a size is more than 0")]);
    assert_faults(&faults(&text("size = \"-3 x 20\"")), &[(9, 1, "a size is more than 0")]);
    for sound in ["tighten = [\"25 N.m\", \"90 deg\", \"90 deg\"]", "head = \"13 mm hexagon\"", "size = \"M6 x 20\""] {
        assert!(parse(&text(sound)).is_ok(), "{sound}");
    }
}

/// Two stages one after the other and a third beside them; in each a step takes off what is written for it.
fn in_stages(a: &[&str], b: &[&str], beside: &[&str]) -> String {
    let stage = |key: &str, after: &str, steps: &[&str]| {
        let steps: Vec<String> = steps.iter().map(|step| format!("[[stage.step]]\ndo = \"x\"\n{step}")).collect();
        format!("[[stage]]\nkey = \"{key}\"\ntitle = \"T\"\nminutes = [1, 2, 3]\n{after}{}", steps.concat())
    };
    let all = [
        stage("a", "", a),
        stage("b", "after = [\"a\"]\n", b),
        stage("beside", "", beside),
        stage("c", "after = [\"b\"]\n", &[]),
        stage("d", "after = [\"c\", \"beside\"]\n", &[]),
    ];
    format!("key = \"k\"\ntitle = \"t\"\n{}", all.concat())
}

// Common practice, no source: what lies in front comes off first and goes back last.
#[test]
fn nothing_comes_off_before_what_lies_in_front_of_it() {
    let off = |key: &str, more: &str| format!("[[stage.step.off]]\nkey = \"{key}\"\nwhat = \"w\"\n{more}\n");
    let inner = off("inner", "behind = [\"outer\"]");
    let outer = off("outer", "");
    let told = |text: &str| {
        let found = parse(text).err().unwrap_or_default();
        found.iter().map(|fault| fault.message.clone()).collect::<Vec<_>>()
    };
    let later = told(&in_stages(&[&inner], &[&outer], &[]));
    assert!(
        later.len() == 1 && later[0].contains("'outer', which comes off in 'b', a later stage than 'a'"),
        "{later:?}"
    );
    let step = told(&in_stages(&[&inner, &outer], &[], &[]));
    assert!(step.len() == 1 && step[0].contains("comes off at step 2, after it at step 1"), "{step:?}");
    for sound in [
        in_stages(&[&outer], &[&inner], &[]),
        in_stages(&[&outer, &inner], &[], &[]),
        in_stages(&[&format!("{inner}{outer}")], &[], &[]),
        in_stages(&[&inner], &[], &[&outer]),
    ] {
        assert_eq!(told(&sound), Vec::<String>::new(), "{sound}");
    }
    // What hangs on something is off before that is; what is only moved aside takes it along.
    let hangs = off("hose", "on = \"rail\"");
    let rail = |manner: &str| format!("[[stage.step.{manner}]]\nkey = \"rail\"\nwhat = \"w\"\n");
    assert_eq!(told(&in_stages(&[&rail("off")], &[&hangs], &[])).len(), 1);
    assert_eq!(told(&in_stages(&[&rail("aside")], &[&hangs], &[])), Vec::<String>::new());
    // And back in the other order.
    let [inner, outer] = ["c", "d"].map(|back| format!("back = \"{back}\""));
    let back = |inner: &str, outer: &str| {
        in_stages(&[&off("outer", outer)], &[&off("inner", &format!("behind = [\"outer\"]\n{inner}"))], &[])
    };
    assert_eq!(told(&back(&inner, &outer)), Vec::<String>::new());
    assert_eq!(told(&back(&inner, &inner)), Vec::<String>::new());
    let wrong = told(&back(&outer, &inner));
    assert!(wrong.len() == 1 && wrong[0].contains("goes back in 'c', where 'inner' is not yet"), "{wrong:?}");
}

#[test]
fn only_work_is_done_in_one_go() {
    let text = |kind: &str, hands: &str| {
        format!(
            "key = \"one\"\ntitle = \"One\"\n\n[[stage]]\nkey = \"bleed\"\ntitle = \"Bleed\"\n{kind}minutes = [5, 10, 15]\n\
             {hands}in-one-go = true\n"
        )
    };
    let template = parse(&text("", "")).expect("it is sound");
    assert!(template.template.stages[0].in_one_go);
    assert_faults(&faults(&text("kind = \"wait\"\n", "")), &[(9, 13, "is for work; a wait goes on by itself")]);
    assert_faults(&faults(&text("", "").replace("true", "1")), &[(8, 13, "must be true or false")]);
}

#[test]
fn a_wait_in_the_wrong_place_is_told_where_it_belongs() {
    let text = |after: &str| {
        format!(
            "key = \"one\"\ntitle = \"One\"\n\n[[stage]]\nkey = \"strip\"\ntitle = \"Strip\"\nminutes = [5, 10, 15]\n\n\
             [[stage]]\nkey = \"fit\"\ntitle = \"Fit\"\nminutes = [5, 10, 15]\n{after}\n"
        )
    };
    let entry = "{ stage = \"…\", wait = 30 }";
    assert!(parse(&text("after = [{ stage = \"strip\", wait = 30 }]")).is_ok());
    let told = |after: &str| faults(&text(after)).into_iter().map(|fault| fault.message).collect::<Vec<_>>().join("|");
    for (written, hint) in [
        ("after = [\"strip\"]\nwait = 30", format!("a wait stands with what it comes after: after = [{entry}]")),
        (
            "after = { stage = \"strip\", wait = 30 }",
            format!("must be a list, such as [\"…\"] or [{entry}], but it is"),
        ),
        ("after = [{ stage = \"strip\", wait = \"30 min\" }]", format!("such as {entry}")),
    ] {
        assert!(told(written).contains(&hint), "{}", told(written));
    }
}
