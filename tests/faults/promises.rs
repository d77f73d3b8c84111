//! The promises under kill -9: 32 clients for 5 s on three replicas with random commands, duplicates
//! and late retries, each replica killed once and Postgres too.

use crate::checker::check;
use crate::report::report;
use crate::scene::Scene;
use crate::storm::{Plan, storm};
use std::time::Duration;

/// The seed of everything random here, unless LEADHAND_FAULTS_SEED says another one.
const SEED: u64 = 1;

fn seed() -> u64 {
    std::env::var("LEADHAND_FAULTS_SEED").ok().and_then(|text| text.parse().ok()).unwrap_or(SEED)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nothing_acknowledged_is_lost_or_doubled_when_replicas_and_postgres_are_killed() {
    let mut scene = Scene::with_replicas(3, 3).await.unwrap();
    let plan = Plan {
        seed: seed(),
        clients: 32,
        lasting: Duration::from_secs(5),
        replica_kills: 3,
        postgres_kills: 1,
        rest_within: Duration::from_mins(1),
    };
    eprintln!("seed {}", plan.seed);
    let after = storm(&mut scene, &plan).await.unwrap();
    let found = check(&after.history);
    report("replicas and Postgres killed", &after, &found);

    assert_eq!(found, []);
    let (sound, said) = scene.verify().await.unwrap();
    assert!(sound, "{said}");
    // What the database's second lock or a defect would have shown.
    for defect in ["refused DEFECT", "refused INTERNAL", "refused REQUEST_ID_REUSED"] {
        assert_eq!(after.figures.count(defect), 0, "{defect}: {:?}", after.figures.outcomes);
    }
    // A storm in which nothing happened would prove nothing.
    let figures = &after.figures;
    assert!(figures.count("acknowledged") > 100, "{:?}", figures.outcomes);
    assert!(figures.count("unknown") > 0 && figures.count("refused") > 0, "{:?}", figures.outcomes);
    assert!(figures.repeats > figures.requests / 10, "{} of {}", figures.repeats, figures.requests);
}
