//! Two servers in containers over one Postgres: what one is told, the other knows; one is killed, the other goes on.

use std::time::Duration;

use futures::StreamExt;
use leadhand_proto::v1::{AddBayRequest, Bay, BayKind, Cursor, GetShopRequest, IssueTokenRequest, Role};
use leadhand_sdk::Client;
use tokio::time::timeout;

use crate::composed::Composed;

const WITHIN: Duration = Duration::from_secs(30);

async fn add_bay(client: &Client, bay: &str) {
    let added = Bay { bay: bay.to_owned(), name: bay.to_owned(), kind: BayKind::Floor.into(), rated_kg: 3000 };
    client.add_bay(AddBayRequest { bay: Some(added), ..AddBayRequest::default() }).await.unwrap();
}

async fn bays(client: &Client) -> Vec<String> {
    let shop = client.get_shop(GetShopRequest::default()).await.unwrap();
    shop.bays.into_iter().map(|bay| bay.bay).collect()
}

/// The token that `leadhandd init` prints, run where the first server runs.
fn open_shop(composed: &Composed) -> String {
    let init = ["exec", "-T", "leadhandd-1", "/usr/local/bin/leadhandd", "init", "--shop", "Yard", "--zone"];
    let said = composed.compose(&[&init[..], &["Europe/Lisbon"]].concat()).unwrap();
    let token = said.lines().find_map(|line| line.strip_prefix("token ")).expect("init prints a token");
    token.to_owned()
}

/// What a container of the server may do, as the engine enforces it.
fn is_confined(composed: &Composed, service: &str) {
    let template =
        "{{.HostConfig.ReadonlyRootfs}} {{.HostConfig.CapDrop}} {{.HostConfig.SecurityOpt}} {{.Config.User}}";
    let confined = composed.inspect(service, template).unwrap();
    assert!(confined.starts_with("true [ALL] [no-new-privileges:true]"), "{service}: {confined}");
    assert!(service == "postgres" || confined.trim().ends_with(" 7420:7420"), "{service}: {confined}");
    // What it is told by its environment is not secret.
    let environment = composed.inspect(service, "{{.Config.Env}}").unwrap();
    assert!(!environment.contains("postgres://") && !environment.to_lowercase().contains("password"), "{environment}");
}

#[tokio::test(flavor = "multi_thread")]
async fn two_replicas_in_containers_share_a_shop_and_one_survives_the_other() {
    let composed = match Composed::up().unwrap() {
        Ok(composed) => composed,
        Err(why) => {
            println!("skipped: nothing was started in containers: {why}");
            return;
        }
    };
    for service in ["postgres", "leadhandd-1", "leadhandd-2"] {
        is_confined(&composed, service);
    }
    healthy(&composed, "leadhandd-1").await;
    let token = open_shop(&composed);
    let (one, two) = (composed.client(0, &token).unwrap(), composed.client(1, &token).unwrap());
    add_bay(&one, "floor-1").await;
    assert_eq!(bays(&two).await, ["floor-1"]);

    let mut heard = Box::pin(two.follow_journal(Cursor::default()));
    add_bay(&one, "floor-2").await;
    let seen = async {
        while let Some(fact) = heard.next().await {
            if format!("{:?}", fact.unwrap().body).contains("floor-2") {
                return;
            }
        }
        panic!("the stream ended");
    };
    timeout(WITHIN, seen).await.expect("replica 2 streams what was written through replica 1");

    backed_up_and_tried(&composed);
    wait_for_pages(&composed, &viewer(&one).await).await;
    composed.kill9("leadhandd-1").unwrap();
    add_bay(&two, "floor-3").await;
    assert_eq!(bays(&two).await, ["floor-1", "floor-2", "floor-3"]);
    healthy(&composed, "leadhandd-2").await;
    composed.down().unwrap();
}

/// A backup while both servers work, restored into a Postgres of its own beside them.
fn backed_up_and_tried(composed: &Composed) {
    let backup = "/backups/2031-03-07";
    composed.by_hand(&["backup", "--into", backup]).unwrap();
    let again = composed.by_hand(&["backup", "--into", backup]).unwrap_err().to_string();
    assert!(again.contains(backup), "a backup is not written over: {again}");
    let tried = ["restore", "--config", "/dev/null", "--from", backup, "--data-dir", "/tmp/tried"];
    let said = composed.by_hand(&tried).unwrap();
    assert!(said.contains("restored as of "), "{said}");
}

async fn viewer(client: &Client) -> String {
    let asked =
        IssueTokenRequest { role: Role::Viewer.into(), label: "wall screen".into(), ..IssueTokenRequest::default() };
    client.issue_token(asked).await.unwrap().secret
}

/// The pages show what the servers know, to a browser that trusts the private authority.
async fn wait_for_pages(composed: &Composed, token: &str) {
    composed.start_pages(token).unwrap();
    let mut ticks = tokio::time::interval(Duration::from_millis(300));
    let mut last = String::new();
    let shown = async {
        while !(last.contains("floor-1") && last.contains("floor-2")) {
            ticks.tick().await;
            last = composed.pages().unwrap_or_else(|error| error.to_string());
        }
    };
    assert!(timeout(WITHIN, shown).await.is_ok(), "the pages do not show the bays: {last}");
    is_confined(composed, "screen");
}

/// Waits until the engine, by the image's own probe, takes a server for healthy.
async fn healthy(composed: &Composed, service: &str) {
    let is = async {
        let mut ticks = tokio::time::interval(Duration::from_millis(300));
        loop {
            ticks.tick().await;
            if composed.inspect(service, "{{.State.Health.Status}}").unwrap().trim() == "healthy" {
                return;
            }
        }
    };
    timeout(WITHIN, is).await.unwrap_or_else(|_| panic!("{service} is not healthy within {WITHIN:?}"));
}
