//! The shop screen on a wall: true by itself, honest when it is not, and whole at a glance.

use crate::chrome::WALL;
use crate::hand::Hand;
use crate::pages;
use crate::scene::Scene;
use leadhand_sdk::v1::Role;

const COOLANT: &str = include_str!("../../deploy/demo-shop/templates/coolant-service.toml");

const TILES: &str = "return [...document.querySelectorAll('#bays .tile')].map((tile) => tile.dataset.part).join(' ')";

#[tokio::test(flavor = "multi_thread")]
async fn the_board_shows_what_another_client_did_and_nobody_touches_it() {
    let scene = Scene::open(Role::Viewer).await;
    let job = scene.job("green estate", "lift-1", 3).await;
    let Some(hand) = Hand::at(scene.screen, WALL).await else { return };
    hand.open("/").await;
    hand.see("green estate").await;
    // Noted by the page itself, so that a load of the whole page would be seen.
    hand.ask("window.same = true", &[]).await;
    scene.held_up(job).await;
    hand.until("return document.querySelector('.tile.held-up') !== null", &[]).await;
    hand.see("1 held up").await;
    assert_eq!(hand.ask("return window.same === true", &[]).await, true);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_server_that_was_killed_is_told_and_nothing_is_missed_or_doubled_when_it_is_back() {
    let mut scene = Scene::open(Role::Viewer).await;
    let job = scene.job("green estate", "lift-1", 3).await;
    scene.job("blue saloon", "lift-2", 3).await;
    let Some(hand) = Hand::at(scene.screen, WALL).await else { return };
    hand.open("/").await;
    hand.see("blue saloon").await;
    scene.server.kill9().unwrap();
    hand.until("return document.body.classList.contains('stale')", &[]).await;
    hand.see("NO WORD FOR").await;
    assert!(hand.sees("green estate").await, "what was known stays to be read");
    scene.server.start().await.unwrap();
    scene.held_up(job).await;
    scene.job("white van", "floor-1", 3).await;
    hand.until("return !document.body.classList.contains('stale')", &[]).await;
    hand.until("return document.querySelector('[data-part=bay-floor-1] h2')?.innerText.includes('white van')", &[])
        .await;
    hand.see("1 held up").await;
    let tiles = hand.ask(TILES, &[]).await;
    let mut tiles: Vec<&str> = tiles.as_str().unwrap().split(' ').collect();
    tiles.sort_unstable();
    assert_eq!(tiles, ["bay-floor-1", "bay-lift-1", "bay-lift-2"]);
}

/// What is wider or higher than what it stands in, and would be cut off: of each its words.
const CUT: &str = "
    const cut = (one) => one.scrollWidth > one.clientWidth + 1 || one.scrollHeight > one.clientHeight + 1;
    const parts = document.querySelectorAll('#outside, #bring, h1, .counts, .tile h2, .tile h2 a, .state, .state p, #live, .free, .list h2, .list .what');
    return [...parts].filter((one) => one.checkVisibility() && cut(one)).map((one) => one.className + ': ' + one.innerText);";

/// Of each bay on which somebody works: whether every name stands whole where it is not cut off.
const NAMES: &str = "
    const shown = (who) => {
        const room = who.closest('.rest').getBoundingClientRect();
        return [...who.getClientRects()].every((box) => box.left >= room.left - 1 && box.right <= room.right + 1 && box.top >= room.top - 1 && box.bottom <= room.bottom + 1);
    };
    const all = [...document.querySelectorAll('.tile .stage .who')];
    return [all.length, all.filter((who) => !shown(who)).map((who) => who.closest('.tile').dataset.part + ' ' + who.innerText)];";

#[tokio::test(flavor = "multi_thread")]
async fn who_is_on_it_is_read_on_every_wall_of_many_bays() {
    for bays in [20, 24] {
        let scene = Scene::open(Role::Viewer).await;
        let Some(hand) = Hand::at(scene.screen, WALL).await else { return };
        scene.publish(&[COOLANT]).await;
        pages::fill_bays(&scene, bays).await;
        hand.open("/").await;
        let whole = format!("return document.querySelectorAll('#bays .tile').length === {bays}");
        hand.until(&whole, &[]).await;
        let on = if bays == 20 { 10 } else { 12 };
        hand.until(&format!("return document.querySelectorAll('.tile .stage .who').length === {on}"), &[]).await;
        assert_eq!(hand.ask(NAMES, &[]).await, serde_json::json!([on, []]), "{bays} bays");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn so_many_bays_fit_on_a_wall_and_none_is_cut_off() {
    let scene = Scene::open(Role::Viewer).await;
    let Some(hand) = Hand::at(scene.screen, WALL).await else { return };
    scene.publish(&[COOLANT]).await;
    pages::fill(&scene).await;
    hand.open("/").await;
    hand.until("return document.querySelectorAll('#bays .tile').length === 24", &[]).await;
    hand.see("6 held up").await;
    let size = "const all = document.documentElement; return [all.scrollHeight <= innerHeight, all.scrollWidth <= innerWidth, innerWidth, innerHeight]";
    assert_eq!(hand.ask(size, &[]).await, serde_json::json!([true, true, 1920, 1080]));
    assert_eq!(hand.ask(CUT, &[]).await, serde_json::json!([]));
    let inside = "return [...document.querySelectorAll('#bays .tile')].every((tile) => { const box = tile.getBoundingClientRect(); return box.top >= 0 && box.left >= 0 && box.bottom <= innerHeight && box.right <= innerWidth && box.height > 60; })";
    assert_eq!(hand.ask(inside, &[]).await, true, "each stands on the screen as a whole");
}
