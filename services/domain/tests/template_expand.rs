//! What a template becomes on a job.

use leadhand_domain::network::{Unfinished, critical_remaining};
use leadhand_domain::template::{OptionRefusal, chosen_options, expand, parse};
use leadhand_facts::fact::{JobAfter, JobStage, Wording};
use leadhand_facts::template::Template;
use leadhand_facts::{OptionKey, StepNo};

const TEXT: &str = r#"key = "k"
title = "t"
[options.sent-out]
title = "Sent out"
default = true
[options.extra]
title = "Extra"
[[stage]]
key = "a"
title = "A"
minutes = [1, 2, 3]
[[stage.step]]
do = "only without"
when = "!extra"
[[stage.step]]
do = "always"
[[stage.step]]
do = "only with"
when = "extra"
[[stage]]
key = "b"
title = "B"
minutes = [1, 2, 3]
[[stage]]
key = "out"
title = "Out"
minutes = [1, 2, 3]
after = [{ stage = "a", wait = 30 }, { stage = "b", wait = 10 }]
when = "sent-out"
[[stage]]
key = "back"
title = "Back"
minutes = [1, 2, 3]
after = [{ stage = "out", wait = 500 }, { stage = "b", wait = 20 }]
when = "sent-out"
[[stage]]
key = "end"
title = "End"
minutes = [1, 2, 3]
after = [{ stage = "back", wait = 7 }, { stage = "a", wait = 5 }]
"#;

fn template() -> Template {
    parse(TEXT).expect("no fault").template
}

fn expanded(with: &[&str], without: &[&str]) -> Vec<JobStage> {
    let keys = |names: &[&str]| names.iter().map(|name| OptionKey::from(*name)).collect::<Vec<_>>();
    let template = template();
    let on = chosen_options(&template, &keys(with), &keys(without)).expect("known options");
    expand(&template, &on)
}

fn after(stage: &JobStage) -> Vec<(&str, i32)> {
    stage.after.iter().map(|JobAfter { stage, wait_minutes }| (stage.as_str(), *wait_minutes)).collect()
}

#[test]
fn a_stage_left_out_hands_on_what_it_came_after() {
    let stages = expanded(&[], &["sent-out"]);
    let keys: Vec<(i32, &str)> = stages.iter().map(|stage| (stage.ordinal, stage.stage.as_str())).collect();
    assert_eq!(keys, [(1, "a"), (2, "b"), (3, "end")]);
    // a: 30 through out, longer than its own 5. b: 20 through back, longer than 10 through out.
    // The 500 and the 7 went behind stages that are not there.
    assert_eq!(after(&stages[2]), [("a", 30), ("b", 20)]);
}

#[test]
fn with_its_defaults_it_stays_as_written() {
    let stages = expanded(&[], &[]);
    assert_eq!(stages.len(), 5);
    assert_eq!(after(&stages[4]), [("back", 7), ("a", 5)]);
    assert_eq!(stages[0].hands, 1);
}

#[test]
fn steps_are_numbered_anew() {
    let words = |stages: &[JobStage]| -> Vec<(StepNo, Wording)> {
        stages[0].steps.iter().map(|step| (step.step, step.instruction.clone())).collect()
    };
    let said = |text: &str| Wording::Template(text.to_owned());
    assert_eq!(words(&expanded(&[], &[])), [(StepNo(1), said("only without")), (StepNo(2), said("always"))]);
    assert_eq!(words(&expanded(&["extra"], &[])), [(StepNo(1), said("always")), (StepNo(2), said("only with"))]);
}

#[test]
fn options_are_refused_with_a_reason() {
    let template = template();
    let unknown = chosen_options(&template, &["extar".into()], &[]).expect_err("no such option");
    assert_eq!(unknown.to_string(), "template 'k' has no option 'extar'; its options are sent-out, extra");
    let both = chosen_options(&template, &["extra".into()], &["extra".into()]).expect_err("both ways");
    assert_eq!(both, OptionRefusal::Both { option: "extra".into() });
}

fn unfinished(key: &str, after: &[(&str, i32)], wait_left_minutes: i64, left_minutes: i64) -> Unfinished {
    let after = after.iter().map(|(stage, wait)| JobAfter { stage: (*stage).into(), wait_minutes: *wait }).collect();
    Unfinished { key: key.into(), after, wait_left_minutes, left_minutes }
}

/// By hand: b ends at 20, its wait of 15 makes c start at 35 and end at 45; d stands behind a
/// finished stage, waits 50 more and ends at 60.
#[test]
fn what_remains_is_the_longest_way() {
    let b = unfinished("b", &[("finished", 90)], 0, 20);
    let c = unfinished("c", &[("b", 15)], 0, 10);
    let d = unfinished("d", &[("finished", 60)], 50, 10);
    assert_eq!(critical_remaining(&[c.clone(), b.clone(), d]), 60);
    assert_eq!(critical_remaining(&[c, b]), 45);
    assert_eq!(critical_remaining(&[]), 0);
}
