//! What will not move, over the wire: it soaks before its turn, is tried rung by rung, and before it may break a new one
//! is on the shelf and somebody has a plan; two lengths, a stud with its nut, tags; the refit says what changed. Common
//! practice, in the shop's own words.

use crate::shop::{Shop, reason, start};
use leadhand_proto::v1;
use leadhand_proto::v1::AttemptOutcome::{Broken, NotMoved};
use leadhand_sdk::{Client, new_write};

const TEMPLATE: &str = include_str!("../../deploy/demo-shop/templates/inlet-gasket.toml");

struct Bench {
    shop: Shop,
    larch: Client,
    moss: Client,
    job: i64,
}

impl Bench {
    /// Cold, relieved and isolated, looked at, and drained: then something may be opened.
    async fn made_safe(&self) {
        self.shop.fluid(self.job, "coolant", 2_000, 0).await;
        for step in 1..=3 {
            let (write, job, stage) = (Some(new_write()), self.job, "strip".into());
            let asked = v1::TickStepsRequest { write, job, stage, steps: vec![step], ..Default::default() };
            self.larch.tick_steps(asked).await.unwrap();
        }
    }

    async fn open() -> Self {
        let shop = Shop::open().await;
        let publish = v1::PublishTemplateRequest { write: Some(new_write()), source: TEMPLATE.into() };
        shop.lead.publish_template(publish).await.unwrap();
        let (larch, moss) = (shop.technician("Larch", &["engine"]).await, shop.technician("Moss", &[]).await);
        let job = shop.job("inlet-gasket", "silver coupe").await;
        shop.assign(job, "floor-1").await.unwrap();
        Self { shop, larch, moss, job }
    }

    async fn book(&self, since: i64, ladder_of: &str) -> v1::GetStripResponse {
        let ladder_of = ladder_of.to_owned();
        self.moss.get_strip(v1::GetStripRequest { job: self.job, since, ladder_of }).await.unwrap()
    }

    async fn position(&self, position: &str) -> v1::Position {
        let book = self.book(0, "").await;
        book.positions.into_iter().find(|one| one.position == position).unwrap()
    }

    fn tried(&self, rung: i32, outcome: v1::AttemptOutcome) -> v1::RecordAttemptRequest {
        v1::RecordAttemptRequest {
            write: Some(new_write()),
            job: self.job,
            position: "manifold-nuts".into(),
            rung,
            outcome: outcome.into(),
            pieces: 1,
            ..Default::default()
        }
    }

    fn off(&self, lines: Vec<v1::OffLine>) -> v1::TakeOffRequest {
        let (job, stage) = (self.job, "strip".to_owned());
        v1::TakeOffRequest { write: Some(new_write()), job, stage, lines, ..Default::default() }
    }
}

fn line(position: &str) -> v1::OffLine {
    v1::OffLine { position: position.into(), ..Default::default() }
}

#[tokio::test(flavor = "multi_thread")]
async fn what_will_not_move_is_tried_rung_by_rung() {
    let bench = Bench::open().await;
    let (job, position) = (bench.job, "manifold-nuts".to_owned());
    // Seen before the stage began: it soaks, and the job's screen says so.
    let soak = v1::SoakPositionRequest { write: Some(new_write()), job, position, minutes: 600 };
    bench.larch.soak_position(soak).await.unwrap();
    let whole = bench.moss.get_job(v1::GetJobRequest { job }).await.unwrap();
    assert_eq!(
        whole.soaking.iter().map(|one| (one.position.as_str(), one.ready)).collect::<Vec<_>>(),
        [("manifold-nuts", false)]
    );
    start(&bench.larch, job, "strip").await.unwrap();
    bench.made_safe().await;
    let position = "manifold-nuts".to_owned();
    let soaked = v1::SoakPositionRequest { write: Some(new_write()), job, position, minutes: 0 };
    bench.larch.soak_position(soaked).await.unwrap();
    let asked = bench.tried(0, NotMoved);
    let first = bench.moss.record_attempt(asked.clone()).await.unwrap();
    let again = bench.moss.record_attempt(asked).await.unwrap();
    assert_eq!((first.attempt, again.attempt), (1, 1), "a repeat takes effect once");
    assert_eq!(first.next, again.next);
    let second = bench.moss.record_attempt(bench.tried(0, NotMoved)).await.unwrap();
    let next = second.next.unwrap();
    assert_eq!((next.rung, next.yours, next.who.as_slice()), (3, false, ["Larch".to_owned()].as_slice()));
    // The nut is on the shelf; what is missing is the plan.
    let refused = bench.larch.record_attempt(bench.tried(3, NotMoved)).await;
    assert_eq!(reason(refused), "RUNG_STOPPED");
    let planned = v1::RecordAttemptRequest {
        plan: "split the nut, new stud".into(),
        note: "boss at 90 °C".into(),
        blocked: true,
        ..bench.tried(3, Broken)
    };
    bench.larch.record_attempt(planned).await.unwrap();
    let book = bench.book(0, "manifold-nuts").await;
    assert_eq!(book.ladder.len(), 4);
    assert!(book.ladder[2].last_safe && book.ladder[2].cautions[0].text.contains("fire watch"));
    let nuts = book.positions.iter().find(|one| one.position == "manifold-nuts").unwrap();
    let tried: Vec<(i32, i32, &str)> =
        nuts.attempts.iter().map(|one| (one.attempt, one.rung, one.person.as_str())).collect();
    assert_eq!(tried, [(1, 1, "Moss"), (2, 2, "Moss"), (3, 3, "Larch")]);
    assert_eq!((nuts.attempts[2].plan.as_str(), nuts.attempts[2].outcome()), ("split the nut, new stud", Broken));
    assert_eq!(nuts.next.as_ref().map(|next| next.rung), Some(4));
    let whole = bench.moss.get_job(v1::GetJobRequest { job }).await.unwrap();
    assert_eq!(whole.blockers[0].cause(), v1::Cause::SeizedOrDamaged);
    let refit = whole.stages.iter().find(|stage| stage.stage == "refit").unwrap();
    let need = refit.steps.last().unwrap().needs.first().unwrap();
    assert_eq!((need.item.as_str(), need.quantity, need.reserved), ("flange-nut-8", 1, 1));
    bench.shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn exceptions_become_positions_and_the_refit_says_what_changed() {
    let bench = Bench::open().await;
    let job = bench.job;
    start(&bench.larch, job, "strip").await.unwrap();
    bench.made_safe().await;
    assert_eq!(bench.position("rail-plugs").await.tags, [1, 2, 3, 4]);
    assert_eq!(bench.position("manifold").await.still_attached, ["manifold-nuts"]);
    let split = v1::SplitPositionRequest {
        write: Some(new_write()),
        job,
        position: "manifold-nuts".into(),
        part: "long-bolts".into(),
        count: 2,
        size: "M8 x 1.25 x 45".into(),
        location: "two lowest holes".into(),
        ..Default::default()
    };
    bench.larch.split_position(split).await.unwrap();
    assert_eq!(bench.position("manifold").await.still_attached, ["long-bolts", "manifold-nuts"]);
    let first = ["airbox", "rail-plugs", "rail-bolts", "rail"].map(line).to_vec();
    let number = bench.larch.take_off(bench.off(first)).await.unwrap().receipt.unwrap().number;
    let nuts = v1::OffLine {
        studs: 1,
        repair: "one thread has an insert".into(),
        keep: v1::Keep::OwnHole.into(),
        ..line("manifold-nuts")
    };
    bench.larch.take_off(bench.off(vec![nuts])).await.unwrap();
    let nuts = bench.position("manifold-nuts").await;
    assert_eq!(nuts.standing(), v1::PositionStanding::OffInOwnHole, "it never looks refitted");
    assert_eq!((nuts.found, nuts.repair.as_str()), (5, "one thread has an insert"));
    let stud = bench.position("manifold-nuts-stud").await;
    assert_eq!((stud.came_with.as_str(), stud.found), ("manifold-nuts", 1));
    let book = bench.book(number, "").await;
    let added: Vec<&str> = book.changes.iter().filter(|one| one.added).map(|one| one.position.as_str()).collect();
    assert_eq!(added, ["manifold-nuts-stud", "manifold-nuts"]);
    let waits = book.changes.iter().find(|one| one.position == "rail").unwrap();
    assert_eq!((waits.text.as_str(), waits.added), ("waits for manifold-nuts now", false));
    // What is always renewed is asked for by the refit since the job was opened.
    bench.larch.take_off(v1::TakeOffRequest { as_listed: true, ..bench.off(vec![]) }).await.unwrap();
    let book = bench.book(0, "").await;
    let part = book.refit.iter().find(|line| line.position == "gasket").unwrap().part.clone().unwrap();
    assert_eq!((part.item.as_str(), part.stage.as_str(), part.listed), ("intake-gasket-20", "refit", false));
    bench.shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn bad_input_names_its_field_and_changes_nothing() {
    let bench = Bench::open().await;
    let job = bench.job;
    start(&bench.larch, job, "strip").await.unwrap();
    bench.made_safe().await;
    let head = bench.shop.head().await;
    let none = bench
        .larch
        .record_attempt(v1::RecordAttemptRequest { outcome: 0, ..bench.tried(1, v1::AttemptOutcome::Moved) });
    assert_eq!(reason(none.await), "INVALID_FIELD");
    let strange = v1::RecordAttemptRequest { position: "nothing".into(), ..bench.tried(1, v1::AttemptOutcome::Moved) };
    assert_eq!(reason(bench.larch.record_attempt(strange).await), "NOT_FOUND");
    let ninth = bench.tried(9, v1::AttemptOutcome::Moved);
    assert_eq!(reason(bench.larch.record_attempt(ninth).await), "NOT_FOUND");
    let asked = v1::GetStripRequest { job, since: -1, ..Default::default() };
    assert_eq!(reason(bench.larch.get_strip(asked).await), "INVALID_FIELD");
    let asked = v1::GetStripRequest { job, ladder_of: "nothing".into(), ..Default::default() };
    assert_eq!(reason(bench.larch.get_strip(asked).await), "NOT_FOUND");
    assert_eq!(bench.shop.head().await, head);
}
