//! Auditing time: nobody is in two places, late entries lie where they happened, labels add up.

use crate::clock::{ago, length, us};
use crate::shop::{Shop, finish, reason, start, stopped};
use leadhand_proto::v1;
use leadhand_sdk::{Client, WriteContextExt, new_write};
use prost_types::Timestamp;

/// Flint's day, entered late; minutes before `now`.
async fn enter_day(shop: &Shop, flint: &Client, now: Timestamp) -> i64 {
    let at = |minutes| Some(v1::WriteContext { happened_at: Some(ago(now, minutes)), ..new_write() });
    let asked = v1::OpenJobRequest {
        write: at(300),
        template: "front-brakes".into(),
        vehicle_label: "white van".into(),
        ..Default::default()
    };
    let job = shop.lead.open_job(asked).await.unwrap().job;
    let assign = v1::AssignJobRequest { write: at(299), job, bay: "lift-1".into(), ..Default::default() };
    shop.lead.assign_job(assign).await.unwrap();
    let started = |minutes, stage: &str| {
        let (write, stage) = (at(minutes), stage.into());
        v1::StartStageRequest { write, job, stage, ..Default::default() }
    };
    let finished = |minutes, stage: &str| {
        let (write, stage) = (at(minutes), stage.into());
        v1::FinishStageRequest { write, job, stage, as_listed: true }
    };
    flint.start_stage(started(290, "book-in")).await.unwrap();
    flint.finish_stage(finished(270, "book-in")).await.unwrap();
    flint.start_stage(started(260, "lift")).await.unwrap();
    let (write, stage, cause) = (at(250), "lift".into(), v1::Cause::Tool.into());
    let raise = v1::RaiseBlockerRequest { write, job, stage, cause, ..Default::default() };
    flint.raise_blocker(raise).await.unwrap();
    flint.clock_off(v1::ClockOffRequest { write: at(245) }).await.unwrap();
    let clear = v1::ClearBlockerRequest { write: at(200), job, blocker: 1, note: String::new() };
    flint.clear_blocker(clear).await.unwrap();
    // The vehicle stands firm on its lifting points: passed by its number, in one's own name.
    let (write, stage, steps) = (at(190), "lift".into(), vec![1, 2]);
    flint.tick_steps(v1::TickStepsRequest { write, job, stage, steps, ..Default::default() }).await.unwrap();
    for (reading, figure) in [("pads", "2.4"), ("discs", "20.6")] {
        let (reading, figures) = (reading.to_owned(), vec![figure.to_owned(); 2]);
        let asked = v1::RecordReadingRequest { write: at(185), job, reading, figures, ..Default::default() };
        flint.record_reading(asked).await.unwrap();
    }
    flint.finish_stage(finished(180, "lift")).await.unwrap();
    job
}

#[tokio::test(flavor = "multi_thread")]
async fn a_day_entered_late_adds_up_and_leads_to_its_facts() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &["brakes"]).await;
    let moss = shop.technician("Moss", &["brakes"]).await;
    let now = flint.who_am_i(v1::WhoAmIRequest {}).await.unwrap().server_time.unwrap();
    let job = enter_day(&shop, &flint, now).await;
    let late = |from, until| v1::RecordWorkRequest {
        write: Some(new_write()),
        job,
        stage: "lift".into(),
        from_at: Some(ago(now, from)),
        until_at: Some(ago(now, until)),
        ..Default::default()
    };
    moss.record_work(late(230, 220)).await.unwrap();
    assert_eq!(reason(moss.record_work(late(225, 210)).await), "PERSON_ELSEWHERE");
    let asked = v1::AuditTimeRequest { by: v1::AuditBy::Stage.into(), job, with_segments: true, ..Default::default() };
    let audit = shop.elsewhere.audit_time(asked).await.unwrap();
    let lift = audit.lines.iter().find(|line| line.about == "lift").unwrap();
    let minute = 60_000_000;
    // Ready at -270, started at -260, ended at -180; Flint worked 15 minutes of it, Moss 10.
    assert_eq!(us(lift.elapsed), 90 * minute);
    assert_eq!(us(lift.worked), (15 + 10) * minute);
    assert_eq!(us(lift.labour), (15 + 10) * minute);
    let head = shop.head().await;
    for line in audit.lines.iter().chain(&audit.total) {
        let parts = us(line.worked) + us(line.outside) + us(line.blocked) + us(line.wait) + us(line.idle);
        assert_eq!(parts, us(line.elapsed), "{}", line.about);
        let segments: i64 = line.segments.iter().map(|part| length(part.from_at, part.until_at)).sum();
        assert!(line.segments.is_empty() || segments == us(line.elapsed), "{}", line.about);
        assert!(line.numbers.iter().all(|number| (1..=head).contains(number)));
    }
    let source = {
        let asked = v1::GetTemplateRequest { template: "front-brakes".into(), revision: 1 };
        shop.lead.get_template(asked).await.unwrap().source
    };
    shop.lead.publish_template(v1::PublishTemplateRequest { write: Some(new_write()), source }).await.unwrap();
    shop.job("front-brakes", "black van").await;
    for (template, lines) in
        [("", vec!["front-brakes"]), ("front-brakes", vec!["front-brakes revision 1", "front-brakes revision 2"])]
    {
        let by = v1::AuditBy::Template.into();
        let asked = v1::AuditTimeRequest { by, template: template.into(), ..Default::default() };
        let found = shop.lead.audit_time(asked).await.unwrap().lines;
        assert_eq!(found.iter().map(|line| line.about.as_str()).collect::<Vec<_>>(), lines);
    }
    for by in [v1::AuditBy::Job, v1::AuditBy::Template, v1::AuditBy::Cause] {
        let asked = v1::AuditTimeRequest { by: by.into(), ..Default::default() };
        assert!(!shop.lead.audit_time(asked).await.unwrap().lines.is_empty(), "{by:?}");
    }
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn starting_a_second_stage_moves_the_person_over() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &["brakes", "engine"]).await;
    let jobs = [shop.job("front-brakes", "white van").await, shop.job("head-gasket-20", "green estate").await];
    start(&flint, jobs[0], "book-in").await.unwrap();
    let receipt = start(&flint, jobs[1], "book-in").await.unwrap().receipt.unwrap();
    assert!(receipt.notices.iter().any(|notice| notice.code == "MOVED_OVER"), "{:?}", receipt.notices);
    let on = |job: v1::GetJobResponse| job.stages[0].persons.len();
    assert_eq!((on(shop.whole_job(jobs[0]).await), on(shop.whole_job(jobs[1]).await)), (0, 1));
    finish(&flint, jobs[1], "book-in").await.unwrap();
    assert_eq!(reason(flint.clock_off(v1::ClockOffRequest { write: Some(new_write()) }).await), "NOT_CLOCKED_ON");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn clocking_on_and_off_is_of_a_stage_under_way() {
    let shop = Shop::open().await;
    let (flint, job) = (shop.technician("Flint", &[]).await, shop.blank_job(&["look"]).await);
    let on = || v1::ClockOnRequest { write: Some(new_write()), job, stage: "look".into(), ..Default::default() };
    let off = || v1::ClockOffRequest { write: Some(new_write()) };
    stopped(flint.clock_on(on()).await, "STAGE_STATE", "look");
    start(&shop.lead, job, "look").await.unwrap();
    flint.clock_on(on()).await.unwrap();
    stopped(flint.clock_on(on()).await, "ON_ALREADY", "look");
    let persons = async || shop.stage(job, "look").await.persons.into_iter().map(|on| on.name).collect::<Vec<_>>();
    assert_eq!(persons().await, ["Wren", "Flint"], "two may be on one stage");
    flint.clock_off(off()).await.unwrap();
    stopped(flint.clock_off(off()).await, "NOT_CLOCKED_ON", "clock");
    assert_eq!(persons().await, ["Wren"]);
    finish(&flint, job, "look").await.unwrap();
    assert_eq!(persons().await, Vec::<String>::new(), "whoever is on is off when it is finished");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn two_replicas_never_have_one_person_on_two_stages() {
    let shop = Shop::open().await;
    shop.technician("Flint", &[]).await;
    let jobs = [shop.blank_job(&["look"]).await, shop.blank_job(&["look"]).await];
    for job in jobs {
        start(&shop.lead, job, "look").await.unwrap();
    }
    let before = shop.head().await;
    for round in 0..8 {
        let on = |job| v1::ClockOnRequest {
            write: Some(new_write().for_person("Flint")),
            job,
            stage: "look".into(),
            ..Default::default()
        };
        let (here, there) = tokio::join!(shop.lead.clock_on(on(jobs[0])), shop.elsewhere.clock_on(on(jobs[1])));
        assert!(here.is_ok() || there.is_ok(), "{here:?} {there:?}");
        for lost in [here.err(), there.err()].into_iter().flatten() {
            // Who is on that stage since the last round stays there, unless the other call came in between.
            assert!(["ON_ALREADY", "PERSON_ELSEWHERE"].contains(&lost.reason.as_str()), "round {round}: {lost}");
        }
        let mut on = 0;
        for job in jobs {
            on += shop.stage(job, "look").await.persons.iter().filter(|on| on.name == "Flint").count();
        }
        assert_eq!(on, 1, "round {round}");
    }
    // In the journal too, every stretch ends before the next begins.
    let kinds: Vec<String> = shop.facts_after(before).await.into_iter().map(|fact| fact.kind).collect();
    assert!(
        kinds.iter().zip(["clocked_on", "clocked_off"].into_iter().cycle()).all(|(is, want)| is == want),
        "{kinds:?}"
    );
    assert!(kinds.len() > 8, "the person went to and fro: {kinds:?}");
    shop.verified().await;
}
