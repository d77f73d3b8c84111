//! A draft from a job that left something out says what does not hold together, and where. The rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::command::*;
use leadhand_domain::template::{draft, parse, write};
use leadhand_facts::words::Role;
use leadhand_facts::*;

const TEMPLATE: &str = r#"
key = "starter"
title = "Starter motor"

[[stage]]
key = "renew"
title = "Renew"
minutes = [10, 20, 30]

[[stage.step]]
do = "Battery off"
state = { sets = ["battery isolated"] }

[[stage.step]]
do = "Change the starter"
state = { needs = ["battery isolated"] }
"#;

fn drafted(skips: bool) -> (String, String) {
    let mut bench = Bench::new(TEMPLATE);
    bench.acts(bench.flint, Role::Lead);
    if skips {
        let (stage, step, reason) = ("renew".into(), StepNo(1), "there was no battery in it".into());
        bench.must(SkipStep { job: JOB, stage, step, reason });
    }
    let template = draft::draft(&bench.shop.state, JOB, &"starter-2".into(), &|_| String::new()).unwrap();
    (draft::file(&template), write(&template))
}

#[test]
fn what_a_draft_lacks_stands_on_top_of_it_with_its_line() {
    let (file, plain) = drafted(true);
    assert!(file.ends_with(&plain) && file.starts_with("# this draft does not hold together yet"), "{file}");
    let faults = parse(&file).map(|_| ()).unwrap_err();
    let told = faults.iter().map(|fault| format!("# line {}: {}", fault.line, fault.message)).collect::<Vec<_>>();
    let on_top: Vec<&str> = file.lines().skip(1).take_while(|line| line.starts_with('#')).collect();
    assert_eq!(on_top, told, "the lines are those of the file as it is");
    assert!(told.iter().any(|one| one.contains("battery isolated")), "{told:?}");
    let (file, plain) = drafted(false);
    assert_eq!(file, plain, "a draft without fault is only itself");
}
