//! A stage that is named twice when another is added: in front it keeps the longer wait, behind it is refused.

mod stock_kit;

use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_facts::fact::JobAfter;
use leadhand_facts::template::Minutes;
use leadhand_facts::words::StageKind;
use leadhand_facts::*;
use stock_kit::Shop;

fn extra(job: JobNo, after: Vec<JobAfter>, before: &[&str]) -> AddStage {
    AddStage {
        job,
        stage: None,
        title: "Extract what broke".into(),
        kind: StageKind::Work,
        minutes: Minutes { low: 5, likely: 10, high: 30 },
        bays: vec![],
        skills: vec![],
        hands: 1,
        tools: vec![],
        after,
        after_last: false,
        before: before.iter().map(|&stage| stage.into()).collect(),
        may_leave: false,
        in_one_go: false,
        steps: vec!["Drill it".into()],
    }
}

#[test]
fn it_keeps_the_longer_wait_in_front_and_is_refused_behind() {
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    let job = shop.job(3, &[("book-in", &[]), ("fit", &[])]);
    let after = |wait_minutes| JobAfter { stage: "book-in".into(), wait_minutes };
    for waits in [[0, 60], [60, 0]] {
        let added = shop.must(extra(job, waits.map(after).to_vec(), &[])).made;
        let Made::Stage { stage, .. } = added else { panic!("{added:?}") };
        let row = shop.state.afters.get(&(job, stage, "book-in".into())).expect("it comes after that stage");
        assert_eq!(row.wait_minutes, 60);
    }
    let behind = extra(job, vec![after(0)], &["fit", "fit"]);
    assert_eq!(shop.refused(behind).field(), Some("before[1]"));
}
