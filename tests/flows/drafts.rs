//! A job opened blank, recorded as it goes, and kept as a draft of a template.

use crate::shop::{Shop, finish, reason, start};
use leadhand_proto::v1;
use leadhand_sdk::{Client, new_write};

async fn blank(shop: &Shop, title: &str) -> i64 {
    let asked = v1::OpenJobRequest {
        write: Some(new_write()),
        title: title.into(),
        vehicle_label: "red pick-up".into(),
        ..Default::default()
    };
    shop.lead.open_job(asked).await.unwrap().job
}

fn stage(job: i64, stage: &str, after: &[(&str, i32)]) -> v1::AddStageRequest {
    let after = after.iter().map(|(stage, wait)| v1::After { stage: (*stage).into(), wait_minutes: *wait }).collect();
    let minutes = Some(v1::Minutes { low: 5, likely: 10, high: 30 });
    let (write, stage, title) = (Some(new_write()), stage.to_owned(), format!("First {stage}"));
    v1::AddStageRequest { write, job, stage, title, after, minutes, ..Default::default() }
}

/// A draft of the job, which the check must accept.
async fn draft(shop: &Shop, job: i64, template: &str) -> String {
    let asked = v1::DraftTemplateRequest { job, template: template.into() };
    let source = shop.lead.draft_template(asked).await.unwrap().source;
    let checked = shop.lead.check_template(v1::CheckTemplateRequest { source: source.clone() }).await.unwrap();
    assert_eq!(checked.faults, Vec::new(), "{source}");
    assert_eq!(checked.template, template);
    source
}

async fn publish(shop: &Shop, source: &str) {
    let asked = v1::PublishTemplateRequest { write: Some(new_write()), source: source.into() };
    assert_eq!(shop.lead.publish_template(asked).await.unwrap().revision, 1);
}

/// The first stage was worked; then what a hand finds on the way.
async fn as_it_went(shop: &Shop, flint: &Client) -> i64 {
    let job = blank(shop, "Find the rattle").await;
    flint
        .add_stage(v1::AddStageRequest { steps: vec!["Drive and listen".into()], ..stage(job, "find", &[]) })
        .await
        .unwrap();
    start(flint, job, "find").await.unwrap();
    let (write, stage_of, need) = (Some(new_write()), "find".to_owned(), ("nitrile-gloves", 2));
    let extra = v1::AddStepRequest {
        write,
        job,
        stage: stage_of,
        instruction: "Take the shield off".into(),
        tools: vec!["socket 10 mm".into()],
        cautions: vec![v1::Caution { word: v1::SignalWord::Caution.into(), text: "Sharp edges".into() }],
        needs: vec![v1::Need { item: need.0.into(), quantity: need.1, unit: "1".into() }],
        ..Default::default()
    };
    flint.add_step(extra).await.unwrap();
    finish(flint, job, "find").await.unwrap();
    let mend = v1::AddStageRequest {
        after_last: true,
        bays: vec![v1::BayKind::TwoPostLift.into()],
        skills: vec!["engine".into()],
        steps: vec!["Renew the rubber".into(), "Never needed".into()],
        ..stage(job, "mend", &[])
    };
    flint.add_stage(mend).await.unwrap();
    assert_eq!(reason(start(flint, job, "mend").await), "NOT_IN_BAY");
    shop.assign(job, "lift-1").await.unwrap();
    start(flint, job, "mend").await.unwrap();
    let (write, stage_of, reason) = (Some(new_write()), "mend".to_owned(), "it was new".to_owned());
    flint.skip_step(v1::SkipStepRequest { write, job, stage: stage_of, step: 2, reason }).await.unwrap();
    finish(flint, job, "mend").await.unwrap();
    shop.lead
        .complete_job(v1::CompleteJobRequest { write: Some(new_write()), job, ..Default::default() })
        .await
        .unwrap();
    job
}

#[tokio::test(flavor = "multi_thread")]
async fn a_blank_job_becomes_a_template_of_what_was_done() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &["engine"]).await;
    let first = as_it_went(&shop, &flint).await;
    publish(&shop, &draft(&shop, first, "rattle").await).await;
    let next = shop.job("rattle", "grey pick-up").await;
    let (was, is) = (shop.whole_job(first).await, shop.whole_job(next).await);
    assert_eq!(is.job.unwrap().title, "Find the rattle");
    assert_eq!(is.stages.len(), 2);
    for (was, is) in was.stages.iter().zip(&is.stages) {
        assert_eq!((&is.stage, &is.title, is.minutes), (&was.stage, &was.title, was.minutes));
        assert_eq!((&is.bays, &is.skills, &is.after), (&was.bays, &was.skills, &was.after));
        // What was left out is no part of it; what was added on the way is.
        let done: Vec<&v1::Step> = was.steps.iter().filter(|step| step.state() == v1::StepState::Done).collect();
        assert_eq!(is.steps.len(), done.len());
        for (was, is) in done.iter().zip(&is.steps) {
            let needs = |step: &v1::Step| {
                step.needs.iter().map(|need| (need.item.clone(), need.quantity, need.unit.clone())).collect::<Vec<_>>()
            };
            assert_eq!((&is.instruction, &is.tools, &is.cautions), (&was.instruction, &was.tools, &was.cautions));
            assert_eq!(needs(is), needs(was));
            assert!(was.unplanned && !is.unplanned);
        }
    }
    assert_eq!(reason(start(&flint, next, "mend").await), "NOT_IN_BAY");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_stage_left_out_passes_its_waits_on_in_the_draft() {
    let shop = Shop::open().await;
    let job = blank(&shop, "Glue it").await;
    let (glue, cure, fit) =
        (stage(job, "glue", &[]), stage(job, "cure", &[("glue", 30)]), stage(job, "fit", &[("cure", 20), ("glue", 5)]));
    for asked in [glue, cure, fit] {
        shop.lead.add_stage(asked).await.unwrap();
    }
    start(&shop.lead, job, "glue").await.unwrap();
    finish(&shop.lead, job, "glue").await.unwrap();
    let (write, stage, reason) = (Some(new_write()), "cure".to_owned(), "it cures in the oven".to_owned());
    shop.lead.skip_stage(v1::SkipStageRequest { write, job, stage, reason }).await.unwrap();
    publish(&shop, &draft(&shop, job, "glued").await).await;
    let next = shop.job("glued", "grey pick-up").await;
    let stages = shop.whole_job(next).await.stages;
    assert_eq!(stages.iter().map(|stage| stage.stage.as_str()).collect::<Vec<_>>(), ["glue", "fit"]);
    // By hand: 30 minutes before what was left out and 20 after it, which is more than the 5 straight on.
    assert_eq!(stages[1].after, [v1::After { stage: "glue".into(), wait_minutes: 50 }]);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn whatever_was_typed_the_draft_is_a_template_with_the_same_words() {
    let shop = Shop::open().await;
    for (words, key) in
        ["\"\"\" ''' \\u0041 \\", "key = \"x\"\n[[stage]]\n\t# no", "عربة \u{202e}x", "[options.a]"].iter().zip(1..)
    {
        let job = blank(&shop, &words.replace(['\n', '\t'], " ")).await;
        let title = words.replace(['\n', '\t'], " ");
        let asked =
            v1::AddStageRequest { title: title.clone(), steps: vec![(*words).into()], ..stage(job, "only", &[]) };
        shop.lead.add_stage(asked).await.unwrap();
        let template = format!("odd-{key}");
        publish(&shop, &draft(&shop, job, &template).await).await;
        let next = shop.job(&template, "grey pick-up").await;
        let seen = shop.whole_job(next).await;
        assert_eq!((seen.job.unwrap().title, &seen.stages[0].title), (title.clone(), &title));
        assert_eq!(seen.stages[0].steps[0].instruction, **words);
    }
    shop.verified().await;
}
