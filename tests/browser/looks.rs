//! For gloves, for a keyboard alone, for whoever can't bear motion, and for whoever listens: how pages are handled.

use crate::chrome::{DESK, PHONE, TABLET};
use crate::hand::Hand;
use crate::pages;
use crate::scene::Scene;
use leadhand_sdk::v1::{Role, StageState};

const PIN: &str = "4831905";

/// Everything that is touched, with its size where that is less than 56 in height or width: what is below another one
/// that is touched counts as that.
const SMALL: &str = "
    const all = [...document.querySelectorAll('header :is(a, button), main :is(a, button, summary, select, input:not([type=hidden]))')];
    const small = all.filter((one) => one.checkVisibility()).filter((one) => {
        const box = (one.matches('input[type=radio], input[type=checkbox]') ? one.closest('label') : one).getBoundingClientRect();
        return box.width < 56 || box.height < 56;
    });
    return small.map((one) => { const box = one.getBoundingClientRect(); return `${one.tagName} ${one.name || ''} ${one.innerText} ${box.width} x ${box.height}`; });";
/// Whether nothing has to be pushed to the side to be seen (WCAG 2.2, 1.4.10).
const WIDE: &str = "return document.documentElement.scrollWidth <= innerWidth";

#[tokio::test(flavor = "multi_thread")]
async fn everything_that_is_touched_at_a_bay_or_a_desk_is_big_enough_for_gloves() {
    let Some(shop) = pages::Shop::open(TABLET).await else { return };
    for size in [TABLET, PHONE] {
        shop.hand.chrome.resize(size).await;
        for (name, path) in shop.of_hands() {
            shop.hand.open(&path).await;
            assert_eq!(shop.hand.ask(SMALL, &[]).await, serde_json::json!([]), "{name} on a {}", size.name);
            shop.hand.ask("document.querySelectorAll('details').forEach((one) => { one.open = true; })", &[]).await;
            assert_eq!(shop.hand.ask(SMALL, &[]).await, serde_json::json!([]), "{name} on a {}, all open", size.name);
            assert_eq!(shop.hand.ask(WIDE, &[]).await, true, "{name} scrolls to the side on a {}", size.name);
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_stage_is_done_by_keyboard_alone() {
    let scene = Scene::open(Role::Technician).await;
    let Some(hand) = Hand::at(scene.screen, DESK).await else { return };
    let flint = scene.person("Flint", PIN).await;
    let job = scene.job("green estate", "lift-1", 2).await;
    hand.open("/").await;
    hand.see("green estate").await;
    // Tab to a thing, Enter on it: nothing else is pressed. Digits go where the page has put the keyboard.
    press(&hand, "lift-1").await;
    press(&hand, "Sign in").await;
    press(&hand, "Flint").await;
    hand.until("return document.activeElement.id === 'pin'", &[]).await;
    hand.keys(PIN).await;
    hand.leave(async || hand.keys("\u{e007}").await).await;
    press(&hand, "Start").await;
    press(&hand, "Steps 1 to 2: as listed").await;
    press(&hand, "Finish the stage").await;
    let stage = scene.stage(job, "mend").await;
    assert_eq!((stage.state(), stage.steps[1].done_by.as_str()), (StageState::Finished, "Flint"));
    assert!(!flint.is_empty());
    // What the keyboard is on is seen: an outline that is not there without it.
    hand.keys("\u{e004}").await;
    let outline = "const style = getComputedStyle(document.activeElement); return [style.outlineStyle, parseFloat(style.outlineWidth) >= 2]";
    assert_eq!(hand.ask(outline, &[]).await, serde_json::json!(["solid", true]));
}

/// Tabs on until the keyboard is on what is called like this, and presses Enter.
async fn press(hand: &Hand, words: &str) {
    hand.see(words).await;
    for _ in 0..60 {
        hand.keys("\u{e004}").await;
        let on = "return document.activeElement.innerText.replace(/\\s+/g, ' ').includes(arguments[0]) && document.activeElement !== document.body";
        if hand.ask(on, &[words]).await == true {
            hand.leave(async || hand.keys("\u{e007}").await).await;
            return;
        }
    }
    panic!("the keyboard never comes to {words}: {}", hand.shown().await);
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_moves_for_whoever_asked_for_that() {
    let Some(shop) = pages::Shop::open(DESK).await else { return };
    shop.hand.chrome.prefer("light", "reduce").await;
    for (name, path) in shop.all() {
        shop.hand.open(&path).await;
        let moving = "return [...document.querySelectorAll('*')].filter((one) => { const style = getComputedStyle(one); return style.animationName !== 'none' || parseFloat(style.transitionDuration) > 0 || style.scrollBehavior === 'smooth'; }).length + document.getAnimations().length";
        assert_eq!(shop.hand.ask(moving, &[]).await, 0, "{name}");
    }
}
