//! A request id takes effect once: whoever repeats it gets the first answer, at any replica.

use crate::shop::{Shop, reason, stopped};
use futures::future::join_all;
use leadhand_proto::v1;
use leadhand_sdk::{Code, WriteContextExt, new_write};

fn open(write: &v1::WriteContext, label: &str) -> v1::OpenJobRequest {
    v1::OpenJobRequest {
        write: Some(write.clone()),
        template: "front-brakes".into(),
        vehicle_label: label.into(),
        ..Default::default()
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_first_answer_comes_again_and_nothing_happens_again() {
    let shop = Shop::open().await;
    let write = new_write();
    let first = shop.lead.open_job(open(&write, "white van")).await.unwrap();
    let receipt = first.receipt.clone().unwrap();
    assert!(!receipt.repeated);
    shop.assign(first.job, "lift-1").await.unwrap();
    let head = shop.head().await;
    for client in [&shop.lead, &shop.elsewhere] {
        let again = client.open_job(open(&write, "white van")).await.unwrap();
        let expected = v1::Receipt { repeated: true, ..receipt.clone() };
        assert_eq!((again.job, &again.vehicle, again.receipt), (first.job, &first.vehicle, Some(expected)));
    }
    assert_eq!(shop.head().await, head);
    let facts = shop.facts_after(0).await;
    let mine: Vec<i64> =
        facts.iter().filter(|fact| fact.request_id == write.request_id).map(|fact| fact.number).collect();
    assert_eq!(mine.last(), Some(&receipt.number));
    assert!(mine.is_sorted_by(|one, next| one + 1 == *next), "the facts of one request stand together: {mine:?}");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_same_id_for_something_else_is_refused() {
    let shop = Shop::open().await;
    let (flint, write) = (shop.technician("Flint", &["brakes"]).await, new_write());
    let job = shop.lead.open_job(open(&write, "white van")).await.unwrap().job;
    let head = shop.head().await;
    let now = shop.now().await;
    let other_time = v1::WriteContext { happened_at: Some(now), ..write.clone() };
    let others = [
        open(&write, "grey van"),
        open(&other_time, "white van"),
        open(&write.clone().for_person("Flint"), "white van"),
    ];
    for other in others {
        let refused = shop.elsewhere.open_job(other.clone()).await.unwrap_err();
        assert_eq!((refused.code, refused.reason.as_str()), (Code::InvalidArgument, "REQUEST_ID_REUSED"), "{other:?}");
        assert_eq!(refused.fields[0].field, "write.request_id");
    }
    let assign = v1::AssignJobRequest { write: Some(write.clone()), job, bay: "lift-1".into(), ..Default::default() };
    assert_eq!(reason(shop.lead.assign_job(assign).await), "REQUEST_ID_REUSED");
    // Somebody else's id is not one's own, whatever it is for.
    let note = v1::RaiseBlockerRequest {
        write: Some(new_write()),
        job,
        stage: "book-in".into(),
        cause: v1::Cause::Tool.into(),
        ..Default::default()
    };
    shop.lead.raise_blocker(note.clone()).await.unwrap();
    assert_eq!(reason(flint.raise_blocker(note).await), "REQUEST_ID_REUSED");
    assert_eq!(shop.head().await, head + 1);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_refused_is_decided_anew() {
    let shop = Shop::open().await;
    let jobs = [shop.job("front-brakes", "white van").await, shop.job("front-brakes", "grey van").await];
    shop.assign(jobs[0], "lift-1").await.unwrap();
    let write = Some(new_write());
    let asked = v1::AssignJobRequest { write, job: jobs[1], bay: "lift-1".into(), ..Default::default() };
    stopped(shop.lead.assign_job(asked.clone()).await, "BAY_TAKEN", "job 1");
    stopped(shop.elsewhere.assign_job(asked.clone()).await, "BAY_TAKEN", "job 1");
    shop.assign(jobs[0], "floor-1").await.unwrap();
    assert!(!shop.lead.assign_job(asked.clone()).await.unwrap().receipt.unwrap().repeated);
    assert!(shop.elsewhere.assign_job(asked).await.unwrap().receipt.unwrap().repeated);
    // With an etag too: accepted once, it is answered although the job has changed since.
    let etag = shop.whole_job(jobs[1]).await.job.unwrap().etag;
    let write = Some(v1::WriteContext { etag, ..new_write() });
    let promise = v1::PromiseJobRequest { write, job: jobs[1], priority: 2, ..Default::default() };
    assert!(!shop.lead.promise_job(promise.clone()).await.unwrap().receipt.unwrap().repeated);
    assert!(shop.lead.promise_job(promise.clone()).await.unwrap().receipt.unwrap().repeated);
    let write = promise.write.map(|write| v1::WriteContext { request_id: new_write().request_id, ..write });
    let late = shop.lead.promise_job(v1::PromiseJobRequest { write, ..promise }).await.unwrap_err();
    assert_eq!((late.code, late.reason.as_str()), (Code::Aborted, "JOB_CHANGED"));
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn sixteen_at_once_on_two_replicas_are_one() {
    let shop = Shop::open().await;
    for round in 0..4 {
        let (write, head) = (new_write(), shop.head().await);
        let calls = (0..16).map(|at| {
            let client = if at % 2 == 0 { &shop.lead } else { &shop.elsewhere };
            client.open_job(open(&write, "white van"))
        });
        let answers: Vec<v1::OpenJobResponse> = join_all(calls).await.into_iter().map(Result::unwrap).collect();
        let firsts = answers.iter().filter(|answer| !answer.receipt.as_ref().unwrap().repeated).count();
        assert_eq!(firsts, 1, "round {round}");
        assert!(answers.iter().all(|answer| (answer.job, &answer.vehicle) == (round + 1, &answers[0].vehicle)));
        let facts = shop.facts_after(head).await;
        assert!(facts.iter().all(|fact| fact.request_id == write.request_id));
        assert_eq!(facts.iter().filter(|fact| fact.kind == "job_opened").count(), 1);
        assert_eq!(facts.last().unwrap().number, answers[0].receipt.as_ref().unwrap().number);
    }
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_token_s_secret_is_shown_once() {
    let shop = Shop::open().await;
    let (write, label) = (Some(new_write()), "wall screen".to_owned());
    let role = v1::Role::Viewer.into();
    let asked = v1::IssueTokenRequest { write, role, label, ..Default::default() };
    let first = shop.lead.issue_token(asked.clone()).await.unwrap();
    assert!(first.secret.len() > 64);
    let again = shop.elsewhere.issue_token(asked).await.unwrap();
    assert!(again.receipt.unwrap().repeated);
    assert_eq!((again.secret.as_str(), again.token), ("", first.token));
    shop.with_secret(&first.secret).get_board(v1::GetBoardRequest {}).await.unwrap();
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_repeat_is_answered_although_the_name_in_it_is_gone() {
    let shop = Shop::open().await;
    shop.technician("Flint", &["brakes"]).await;
    let asked = v1::ForgetPersonRequest { write: Some(new_write()), person: "Flint".into() };
    shop.lead.forget_person(asked.clone()).await.unwrap();
    let head = shop.head().await;
    let again = shop.elsewhere.forget_person(asked.clone()).await.unwrap().receipt.unwrap();
    assert!(again.repeated);
    assert_eq!(shop.head().await, head);
    let other = v1::ForgetPersonRequest { write: Some(new_write()), ..asked };
    assert_eq!(reason(shop.lead.forget_person(other).await), "NOT_FOUND");
    shop.verified().await;
}

/// Requests that name a person, each with an id of its own.
struct Naming {
    skills: v1::SetSkillsRequest,
    shift: v1::SetShiftRequest,
    owner: v1::RaiseBlockerRequest,
    token: v1::IssueTokenRequest,
    recorded: v1::AddStepRequest,
    badge: v1::SetBadgeRequest,
    both: v1::RaiseBlockerRequest,
}

impl Naming {
    fn of(job: i64, first: &str, second: &str) -> Self {
        let (person, stage) = (|| first.to_owned(), || "strip".to_owned());
        let blocker = |write, owner: &str| v1::RaiseBlockerRequest {
            write: Some(write),
            job,
            stage: stage(),
            cause: v1::Cause::Tool.into(),
            owner: owner.into(),
            ..Default::default()
        };
        let from_day = "2031-03-03".to_owned();
        Self {
            skills: v1::SetSkillsRequest { write: Some(new_write()), person: person(), skills: vec!["brakes".into()] },
            shift: v1::SetShiftRequest { write: Some(new_write()), person: person(), from_day, week: vec![] },
            owner: blocker(new_write(), first),
            token: v1::IssueTokenRequest {
                write: Some(new_write()),
                role: v1::Role::Technician.into(),
                person: person(),
                ..Default::default()
            },
            recorded: v1::AddStepRequest {
                write: Some(new_write().for_person(first)),
                job,
                stage: stage(),
                instruction: "look".into(),
                ..Default::default()
            },
            badge: v1::SetBadgeRequest { write: Some(new_write()), person: person(), role: v1::Role::Lead.into() },
            both: blocker(new_write().for_person(second), first),
        }
    }

    /// The receipts of all of them.
    async fn sent(&self, client: &leadhand_sdk::Client) -> Vec<v1::Receipt> {
        let receipts = [
            client.set_skills(self.skills.clone()).await.unwrap().receipt,
            client.set_shift(self.shift.clone()).await.unwrap().receipt,
            client.raise_blocker(self.owner.clone()).await.unwrap().receipt,
            client.issue_token(self.token.clone()).await.unwrap().receipt,
            client.add_step(self.recorded.clone()).await.unwrap().receipt,
            client.set_badge(self.badge.clone()).await.unwrap().receipt,
            client.raise_blocker(self.both.clone()).await.unwrap().receipt,
        ];
        receipts.into_iter().map(Option::unwrap).collect()
    }
}

/// Only that they are repeats may differ from the first answers.
fn as_repeated(receipts: &[v1::Receipt]) -> Vec<v1::Receipt> {
    receipts.iter().map(|receipt| v1::Receipt { repeated: true, ..receipt.clone() }).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_repeat_that_names_somebody_forgotten_since_gets_the_first_answer() {
    let shop = Shop::open().await;
    shop.technician("Flint", &[]).await;
    shop.technician("Heron", &[]).await;
    let job = shop.blank_job(&["strip"]).await;
    let naming = Naming::of(job, "Flint", "Heron");
    let first = naming.sent(&shop.lead).await;
    assert!(first.iter().all(|receipt| !receipt.repeated));
    for person in ["Flint", "Heron"] {
        let forget = v1::ForgetPersonRequest { write: Some(new_write()), person: person.into() };
        shop.lead.forget_person(forget).await.unwrap();
    }
    let head = shop.head().await;
    assert_eq!(naming.sent(&shop.elsewhere).await, as_repeated(&first), "the names lead nowhere");
    // A new request with that name is about nobody, and the same id with something else is still refused.
    let anew = v1::SetSkillsRequest { write: Some(new_write()), ..naming.skills.clone() };
    let unknown = shop.lead.set_skills(anew.clone()).await.unwrap_err();
    assert_eq!((unknown.code, unknown.reason.as_str()), (Code::NotFound, "NOT_FOUND"));
    let other = v1::SetSkillsRequest { skills: vec!["engine".into()], ..naming.skills.clone() };
    assert_eq!(reason(shop.lead.set_skills(other).await), "REQUEST_ID_REUSED");
    let other = v1::RaiseBlockerRequest { write: naming.skills.write.clone(), ..naming.owner.clone() };
    assert_eq!(reason(shop.lead.raise_blocker(other).await), "REQUEST_ID_REUSED");
    assert_eq!(shop.head().await, head);
    // Somebody new under the name is not who was meant then.
    shop.technician("Flint", &[]).await;
    assert_eq!(naming.sent(&shop.elsewhere).await, as_repeated(&first), "the name leads to somebody else");
    assert!(!shop.lead.set_skills(anew).await.unwrap().receipt.unwrap().repeated);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_id_whose_words_were_erased_answers_no_other_request() {
    let shop = Shop::open().await;
    let job = shop.blank_job(&["strip"]).await;
    let add = v1::AddPersonRequest { write: Some(new_write()), name: "Flint".into(), skills: vec![] };
    shop.lead.add_person(add.clone()).await.unwrap();
    let forget = v1::ForgetPersonRequest { write: Some(new_write()), person: "Flint".into() };
    shop.lead.forget_person(forget).await.unwrap();
    let other = v1::RaiseBlockerRequest {
        write: add.write.clone(),
        job,
        stage: "strip".into(),
        cause: v1::Cause::Tool.into(),
        ..Default::default()
    };
    let refused = shop.lead.raise_blocker(other).await.unwrap_err();
    assert_eq!((refused.code, refused.reason.as_str()), (Code::InvalidArgument, "REQUEST_ID_REUSED"));
    shop.verified().await;
}
