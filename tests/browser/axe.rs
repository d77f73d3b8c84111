//! WCAG 2.2 at the levels A and AA on every page, as far as a machine can tell: axe-core, read from a file.

use crate::chrome::{DESK, PHONE, Size, WALL};
use crate::pages::Shop;
use serde_json::Value;

/// Where axe-core lies. It is no part of this repository; `deploy/check` fetches it.
const FILE: &str = "LEADHAND_TEST_AXE";
const RUN: &str = "
    const done = arguments[arguments.length - 1];
    const only = { type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] };
    axe.run(document, { runOnly: only, resultTypes: ['violations'] }).then((told) => done({
        ran: told.passes.length,
        wrong: told.violations.map((one) => one.id + ': ' + one.help + '\\n' +
            one.nodes.map((node) => '    ' + node.html.slice(0, 200) + ' ' + node.any.concat(node.all).map((each) => each.message).join('; ')).join('\\n')),
    }), (error) => done({ ran: 0, wrong: [String(error)] }));";

fn axe() -> Option<String> {
    let file = std::env::var_os(FILE);
    if file.is_none() {
        assert!(!crate::chrome::is_required(), "{FILE} is not set: deploy/check fetches axe-core and sets it");
        eprintln!("skipped: {FILE} names no file of axe-core (deploy/check fetches one)");
    }
    file.map(|file| std::fs::read_to_string(file).unwrap())
}

async fn every_page(size: Size, scheme: &str) {
    let Some(axe) = axe() else { return };
    let Some(shop) = Shop::open(size).await else { return };
    shop.hand.chrome.prefer(scheme, "no-preference").await;
    let mut wrong = Vec::new();
    for (name, path) in shop.all() {
        shop.hand.open(&path).await;
        shop.hand.until("return document.readyState === 'complete'", &[]).await;
        // What is behind a touch is looked at as well.
        shop.hand.ask("document.querySelectorAll('details').forEach((one) => { one.open = true; })", &[]).await;
        shop.hand.ask(&axe, &[]).await;
        let told = shop.hand.chrome.client.execute_async(RUN, Vec::new()).await.unwrap();
        assert!(told["ran"].as_i64().is_some_and(|ran| ran > 5), "{name}: axe looked at nothing: {told}");
        let all = told["wrong"].as_array().into_iter().flatten().filter_map(Value::as_str);
        wrong.extend(all.map(|one| format!("{name}: {one}")));
    }
    assert!(wrong.is_empty(), "{} {scheme}:\n{}", size.name, wrong.join("\n"));
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_breaks_wcag_on_a_desk_in_light() {
    every_page(DESK, "light").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_breaks_wcag_on_a_desk_in_the_dark() {
    every_page(DESK, "dark").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_breaks_wcag_on_a_phone_in_light() {
    every_page(PHONE, "light").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_breaks_wcag_on_a_phone_in_the_dark() {
    every_page(PHONE, "dark").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_breaks_wcag_on_a_wall() {
    every_page(WALL, "light").await;
}

/// The control of the tests above: axe is heard, and sees what it looks for.
#[tokio::test(flavor = "multi_thread")]
async fn a_page_that_breaks_wcag_is_told() {
    let Some(axe) = axe() else { return };
    let Some(shop) = Shop::open(DESK).await else { return };
    shop.hand.open("/desk").await;
    let faint = "
        document.documentElement.removeAttribute('lang');
        const faint = document.createElement('p');
        faint.className = 'button quiet';
        faint.textContent = 'hardly seen';
        faint.setAttribute('role', 'nothing-known');
        document.querySelector('main').prepend(faint, document.createElement('button'));";
    shop.hand.ask(faint, &[]).await;
    shop.hand.ask(&axe, &[]).await;
    let told = shop.hand.chrome.client.execute_async(RUN, Vec::new()).await.unwrap().to_string();
    for rule in ["html-has-lang", "button-name", "aria-roles"] {
        assert!(told.contains(rule), "{rule}: {told}");
    }
}
