//! The shop screen: one subscription for all, whole at first, then what changed, and honest about whether it is live.

use crate::http::{Events, get};
use crate::scene::Scene;
use leadhand_sdk::v1::Role;
use serde_json::Value;

fn part<'a>(word: &'a Value, name: &str) -> Option<&'a str> {
    word["parts"][name].as_str()
}

fn shows(word: &Value, name: &str, words: &str) -> bool {
    part(word, name).is_some_and(|html| html.contains(words))
}

#[tokio::test(flavor = "multi_thread")]
async fn one_subscription_feeds_every_browser_and_a_change_reaches_each_once() {
    let scene = Scene::open(Role::Viewer).await;
    let job = scene.job("green estate", "lift-1", 3).await;
    scene.job("blue saloon", "lift-2", 3).await;
    let mut browsers = Vec::new();
    for _ in 0..20 {
        let mut events = Events::open(scene.screen, None).await;
        let first = events.until(|word| shows(word, "bay-lift-1", "green estate") && word["silent"].is_null()).await;
        browsers.push((events, part(&first, "bay-lift-2").map(str::to_owned)));
    }
    let streams = scene.server.metric("leadhand_streams{rpc=\"WatchBoard\"}").await.unwrap();
    assert!((streams - 1.0).abs() < f64::EPSILON, "{streams} subscriptions");
    scene.held_up(job).await;
    for (events, other) in &mut browsers {
        let word = events.until(|word| shows(word, "bay-lift-1", "HELD UP")).await;
        assert!(shows(&word, "head", "1 held up"), "{word}");
        assert_eq!(word["whole"], false);
        // What is likely changes as time goes by, so it may be another; the same is not sent again.
        let sent = part(&word, "bay-lift-2").map(str::to_owned);
        assert!(sent.is_none() || sent != *other, "what did not change is not sent");
        assert_eq!(word["order"], serde_json::json!(["bay-lift-1", "bay-lift-2"]));
        assert!(events.id.starts_with(&format!("{}.", word["number"])), "{} at {}", events.id, word["number"]);
        // Until the next sign of life nothing of it comes a second time.
        let next = events.until(|_| true).await;
        assert!(part(&next, "bay-lift-1").is_none(), "{next}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_browser_goes_on_where_it_was_and_gets_the_whole_from_another_screen() {
    let mut scene = Scene::open(Role::Viewer).await;
    let job = scene.job("green estate", "lift-1", 3).await;
    scene.job("blue saloon", "lift-2", 3).await;
    let mut events = Events::open(scene.screen, None).await;
    events.until(|word| shows(word, "bay-lift-2", "blue saloon")).await;
    let seen = events.id.clone();
    drop(events);
    scene.held_up(job).await;
    let mut watcher = Events::open(scene.screen, None).await;
    watcher.until(|word| shows(word, "bay-lift-1", "HELD UP")).await;
    let mut again = Events::open(scene.screen, Some(&seen)).await;
    let missed = again.next().await.unwrap();
    assert_eq!(missed["whole"], false);
    assert!(shows(&missed, "bay-lift-1", "HELD UP") && part(&missed, "bay-lift-2").is_none(), "{missed}");
    scene.another_screen().await;
    let mut elsewhere = Events::open(scene.screen, Some(&again.id)).await;
    let whole = elsewhere.until(|word| part(word, "bay-lift-1").is_some()).await;
    assert!(part(&whole, "bay-lift-2").is_some() && part(&whole, "outside").is_some(), "{whole}");
    // The stream of the one that was ended is over, and not just silent.
    while watcher.next().await.is_some() {}
}

#[tokio::test(flavor = "multi_thread")]
async fn a_server_that_is_not_heard_is_told_and_nothing_is_missed_when_it_is_back() {
    let mut scene = Scene::open(Role::Viewer).await;
    let job = scene.job("green estate", "lift-1", 3).await;
    let mut events = Events::open(scene.screen, None).await;
    events.until(|word| shows(word, "bay-lift-1", "green estate") && word["silent"].is_null()).await;
    scene.server.kill9().unwrap();
    let lost = events.until(|word| !word["silent"].is_null()).await;
    assert!(lost["parts"].as_object().unwrap().is_empty(), "what was shown stays: {lost}");
    let page = get(scene.screen, "/", "").await;
    assert!(page.body.contains("green estate") && !page.body.contains("data-silent=\"\""), "{}", page.body);
    assert!(get(scene.screen, "/healthz", "").await.body.contains("no word from the server for"));
    scene.server.start().await.unwrap();
    scene.held_up(job).await;
    let back = events.until(|word| word["silent"].is_null() && shows(word, "bay-lift-1", "HELD UP")).await;
    assert_eq!(back["order"], serde_json::json!(["bay-lift-1"]));
    assert!(get(scene.screen, "/healthz", "").await.body.starts_with("ok, live at "));
}

#[tokio::test(flavor = "multi_thread")]
async fn the_page_holds_the_whole_shop_without_a_script_and_nothing_from_elsewhere() {
    let scene = Scene::open(Role::Viewer).await;
    let evil = "<script>alert(1)</script>";
    let job = scene.job(evil, "lift-1", 3).await;
    scene.held_up(job).await;
    Events::open(scene.screen, None).await.until(|word| shows(word, "bay-lift-1", "HELD UP")).await;
    let page = get(scene.screen, "/", "").await;
    assert_eq!(page.status, 200);
    assert!(page.body.contains("&#60;script&#62;alert(1)") && !page.body.contains(evil), "{}", page.body);
    assert!(page.body.contains(" s</time>") || page.body.contains(" min</time>"), "lengths of time without a script");
    let policy = page.header("content-security-policy").unwrap();
    for rule in ["default-src 'none'", "script-src 'self'", "form-action 'self'", "frame-ancestors 'none'"] {
        assert!(policy.contains(rule), "{policy}");
    }
    assert_eq!(page.header("x-content-type-options"), Some("nosniff"));
    assert_eq!(page.header("cache-control"), Some("no-store"));
    let links: Vec<&str> =
        page.body.split("src=\"").chain(page.body.split("href=\"")).filter_map(|rest| rest.split('"').next()).collect();
    assert!(links.iter().all(|link| !link.contains("//")), "{links:?}");
    // What stands in the policy is kept by the page itself: no styles and no scripts within it.
    assert!(!page.body.contains(" style=") && !page.body.contains(" onclick") && !page.body.contains("<script>"));
    for file in ["base.css", "shop.css", "shop.js"] {
        let asset = get(scene.screen, &format!("/assets/{file}"), "").await;
        assert!(asset.status == 200 && asset.header("cache-control").unwrap().contains("immutable"), "{file}");
    }
    assert_eq!(get(scene.screen, "/nowhere", "").await.status, 404);
}
