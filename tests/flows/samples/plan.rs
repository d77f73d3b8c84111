//! What is planned: a job that only waits, so that a plan of it needs no hours and nobody.

use super::*;

/// What a plan may say something of.
#[derive(Clone, Copy)]
pub struct Planned {
    /// A job with a wait, `dry`, and with work, `look`, that is pinned.
    job: i64,
    /// The journal's number then.
    number: i64,
    /// The minute in which it was.
    at: Timestamp,
}

/// A job to be planned, a pin, and overtime from two hours from now on.
pub(super) async fn prepare(shop: &Shop, person: &str) -> Planned {
    let job = shop.blank_job(&["look"]).await;
    let minutes = Some(v1::Minutes { low: 60, likely: 60, high: 60 });
    let (stage, title, kind) = ("dry".to_owned(), text(), v1::StageKind::Wait.into());
    let wait = v1::AddStageRequest { write: write(), job, stage, title, kind, minutes, ..Default::default() };
    shop.lead.add_stage(wait).await.unwrap();
    let (stage, people) = ("look".to_owned(), vec![person.to_owned()]);
    let pin = v1::PinStageRequest { write: write(), job, stage, people, ..Default::default() };
    shop.lead.pin_stage(pin).await.unwrap();
    let now = shop.now().await;
    let overtime = v1::OpenOvertimeRequest {
        write: write(),
        person: person.to_owned(),
        from_at: Some(later(now, 7_200_000_000)),
        until_at: Some(later(now, 10_800_000_000)),
    };
    shop.lead.open_overtime(overtime).await.unwrap();
    let now = shop.now().await;
    let at = Timestamp { seconds: now.seconds.div_euclid(60) * 60, nanos: 0 };
    Planned { job, number: shop.head().await, at }
}

impl World {
    pub(super) fn of_plans(&self) -> Vec<Sample> {
        use v1::PlanChangeKind as Kind;
        let Planned { job, number, at } = self.planned;
        let (from_at, until_at) = (Some(at), Some(later(at, 3_600_000_000)));
        let stage = v1::PlannedStage { job, stage: "dry".into(), from_at, until_at, ..Default::default() };
        let stay = v1::PlannedStay { job, bay: format!("b{}-3", self.n), from_at, until_at };
        let look = v1::PlannedNowhere { stage: "look".into(), why: v1::NoPlace::TooFew.into() };
        let hang = v1::PlannedHang { job, stage: "dry".into() };
        let ready = v1::PlannedJob {
            job,
            ready_at: None,
            likely_at: None,
            safe_at: None,
            nowhere: vec![look],
            hangs_on: vec![hang],
        };
        let plan = v1::Plan { number, made_at: Some(at), stages: vec![stage], stays: vec![stay], jobs: vec![ready] };
        let propose = |change: v1::PlanChange| {
            let (schedules, limit_ms, seed) = (5, 200, 7);
            by(Who::Lead, &v1::ProposePlanRequest { schedules, limit_ms, seed, changes: vec![change] })
        };
        let stretch = |kind: Kind| v1::PlanChange { kind: kind.into(), from_at, until_at, ..Default::default() };
        let of_job = |kind: Kind| v1::PlanChange { kind: kind.into(), job, ..Default::default() };
        let mut samples = lead! {
            AcceptPlanRequest { write: write(), plan: Some(plan), even_if_outdated: true }
            GetPlanRequest {}
            ExplainJobRequest { job: job }
            ForecastJobRequest { job: job }
            PinStageRequest { write: write(), job: job, stage: "look".into(), people: vec![self.person.clone()], from_at: self.soon() }
            UnpinStageRequest { write: write(), job: job, stage: "look".into() }
            OpenOvertimeRequest {
                write: write(), person: self.person.clone(), from_at: self.soon(), until_at: Some(later(self.now, 5_400_000_000)),
            }
            CloseOvertimeRequest { write: write(), person: self.person.clone(), at: Some(later(at, 9_000_000_000)) }
        };
        samples.extend([
            propose(v1::PlanChange { stage: "dry".into(), from_at, ..of_job(Kind::PartsFrom) }),
            propose(v1::PlanChange { priority: 1, ..of_job(Kind::Priority) }),
            propose(v1::PlanChange { person: self.person.clone(), ..stretch(Kind::Overtime) }),
            propose(v1::PlanChange { bay: format!("b{}-3", self.n), ..stretch(Kind::BayClosed) }),
        ]);
        samples
    }
}
