//! A picture of every page, for people to look at: in light and dark, on a wall, a desk and a phone, with nothing in the
//! shop, on a usual day, and full.

use crate::chrome::{DESK, PHONE, Size, WALL};
use crate::hand::Hand;
use crate::pages::{self, Shop};
use crate::scene::Scene;
use leadhand_sdk::v1::Role;
use std::path::{Path, PathBuf};

/// Into which folder; without it no picture is taken. `deploy/screenshots` sets it.
const FOLDER: &str = "LEADHAND_TEST_PICTURES";
const COOLANT: &str = include_str!("../../deploy/demo-shop/templates/coolant-service.toml");
const LEAD_PIN: &str = "6194027";
/// A page that scrolls is shown down to here.
const LONGEST: u64 = 3200;

fn folder() -> Option<PathBuf> {
    let folder = std::env::var_os(FOLDER).map(PathBuf::from);
    match &folder {
        Some(folder) => std::fs::create_dir_all(folder).unwrap(),
        None => eprintln!("skipped: {FOLDER} names no folder for pictures (deploy/screenshots sets it)"),
    }
    folder
}

/// Pictures of these pages; how many there are.
async fn take(hand: &Hand, folder: &Path, state: &str, all: &[(&str, String)]) -> usize {
    let mut taken = 0;
    for scheme in ["light", "dark"] {
        hand.chrome.prefer(scheme, "no-preference").await;
        for size in [WALL, DESK, PHONE] {
            // On a wall hangs the shop screen.
            for (name, path) in all.iter().filter(|(name, _)| size.name != WALL.name || *name == "wall") {
                hand.chrome.resize(size).await;
                hand.open(path).await;
                hand.until("return document.readyState === 'complete'", &[]).await;
                let height = hand.ask("return document.documentElement.scrollHeight", &[]).await.as_u64().unwrap();
                let height = u32::try_from(height.clamp(u64::from(size.height), LONGEST)).unwrap();
                hand.chrome.resize(Size { height, ..size }).await;
                let png = hand.chrome.client.screenshot().await.unwrap();
                assert!(png.starts_with(b"\x89PNG"), "{name}");
                std::fs::write(folder.join(format!("{state}-{name}-{}-{scheme}.png", size.name)), png).unwrap();
                taken += 1;
            }
        }
    }
    taken
}

async fn signed_in(scene: &Scene) -> Option<Hand> {
    let hand = Hand::at(scene.screen, DESK).await?;
    let heron = scene.person_as("Heron", LEAD_PIN, Role::Lead, &["engine"]).await;
    hand.sign_in(&heron, LEAD_PIN, "/desk").await;
    Some(hand)
}

fn named(all: &[(&'static str, &str)]) -> Vec<(&'static str, String)> {
    all.iter().map(|(name, path)| (*name, (*path).to_owned())).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn of_a_shop_with_nothing_in_it() {
    let Some(folder) = folder() else { return };
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = signed_in(&scene).await else { return };
    let all = named(&[
        ("wall", "/"),
        ("bay", "/bay/lift-1"),
        ("desk", "/desk"),
        ("desk-new", "/desk/new"),
        ("parts", "/parts"),
        ("time", "/time"),
        ("sign-in", "/sign-in"),
    ]);
    assert_eq!(take(&hand, &folder, "empty", &all).await, 2 * (1 + 7 + 7));
}

#[tokio::test(flavor = "multi_thread")]
async fn of_a_usual_day() {
    let Some(folder) = folder() else { return };
    let Some(shop) = Shop::open(DESK).await else { return };
    let all = shop.all();
    assert_eq!(take(&shop.hand, &folder, "usual", &all).await, 2 * (1 + 2 * all.len()));
}

#[tokio::test(flavor = "multi_thread")]
async fn of_a_full_shop() {
    let Some(folder) = folder() else { return };
    let scene = Scene::open(Role::Technician).await;
    scene.publish(&[COOLANT]).await;
    let Some(hand) = signed_in(&scene).await else { return };
    pages::fill(&scene).await;
    let all = named(&[
        ("wall", "/"),
        ("bay", "/bay/bay-7"),
        ("bay-held-up", "/bay/lift-1"),
        ("desk", "/desk"),
        ("parts", "/parts"),
        ("time", "/time"),
    ]);
    hand.open("/").await;
    hand.until("return document.querySelectorAll('#bays .tile').length === 24", &[]).await;
    assert_eq!(take(&hand, &folder, "full", &all).await, 2 * (1 + 6 + 6));
}
