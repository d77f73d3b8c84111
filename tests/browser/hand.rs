//! A hand at a real browser: looks until something is there, touches it, and counts its touches.

use crate::chrome::{Chrome, Size};
use fantoccini::Locator;
use fantoccini::elements::{Element, ElementRef};
use fantoccini::error::CmdError;
use serde_json::Value;
use std::cell::Cell;
use std::net::SocketAddr;
use std::time::Duration;

/// Nothing on a page takes so long, however busy the machine is.
const SOON: Duration = Duration::from_mins(1);
const LOOK: Duration = Duration::from_millis(50);

/// Under what WebDriver names an element (W3C WebDriver, 12.1).
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";

/// What a form's script needs to pass before a touch counts: nothing was put in place of anything just now.
const SETTLED: &str = "return document.readyState === 'complete' && !document.body.dataset.sent && \
                       (!document.body.dataset.changed || performance.now() - Number(document.body.dataset.changed) > 600)";

/// Elements that a hand may mean by these words: the innermost ones.
const NAMED: &str = "
    const [words, within] = arguments;
    const all = [...document.querySelectorAll(within + ' :is(button, a, summary, label, .choice)')];
    const seen = all.filter((one) => one.checkVisibility() && one.innerText.replace(/\\s+/g, ' ').includes(words));
    const inner = seen.filter((one) => !seen.some((other) => other !== one && one.contains(other)));
    inner.sort((a, b) => a.innerText.length - b.innerText.length);
    return inner.length ? inner[0] : null;";

/// A hand, and the screen that it is at.
pub struct Hand {
    pub chrome: Chrome,
    pub at: SocketAddr,
    touches: Cell<usize>,
}

impl Hand {
    /// At this screen; nothing where there is no browser.
    pub async fn at(screen: SocketAddr, size: Size) -> Option<Self> {
        Some(Self { chrome: Chrome::open(size).await?, at: screen, touches: Cell::new(0) })
    }

    /// How many touches there were.
    pub fn touches(&self) -> usize {
        self.touches.get()
    }

    /// Opens a page, as somebody who has it open already: no touch.
    pub async fn open(&self, path: &str) {
        self.chrome.client.goto(&format!("http://{}{path}", self.at)).await.unwrap();
    }

    /// What the script says.
    pub async fn ask(&self, script: &str, given: &[&str]) -> Value {
        let given = given.iter().map(|one| Value::from(*one)).collect();
        self.chrome.client.execute(script, given).await.unwrap()
    }

    /// Waits until the script says something that is true.
    pub async fn until(&self, script: &str, given: &[&str]) -> Value {
        let mut ticks = tokio::time::interval(LOOK);
        let there = async {
            loop {
                ticks.tick().await;
                let given = given.iter().map(|one| Value::from(*one)).collect();
                // While a page goes and another comes there is nobody to answer.
                let said = self.chrome.client.execute(script, given).await.unwrap_or(Value::Null);
                if !matches!(said, Value::Null | Value::Bool(false)) {
                    return said;
                }
            }
        };
        if let Ok(said) = tokio::time::timeout(SOON, there).await {
            return said;
        }
        panic!("never: {script} {given:?}\n{}", self.shown().await)
    }

    /// Waits until the page shows these words.
    pub async fn see(&self, words: &str) {
        self.until("return document.body.innerText.replace(/\\s+/g, ' ').includes(arguments[0])", &[words]).await;
    }

    /// Whether the page shows these words now.
    pub async fn sees(&self, words: &str) -> bool {
        let script = "return document.body.innerText.replace(/\\s+/g, ' ').includes(arguments[0])";
        self.ask(script, &[words]).await == Value::Bool(true)
    }

    /// The page's text.
    pub async fn shown(&self) -> String {
        let said =
            self.chrome.client.execute("return location.href + '\\n' + document.body.innerText", Vec::new()).await;
        said.ok().and_then(|said| said.as_str().map(str::to_owned)).unwrap_or_default()
    }

    /// Touches what this selects.
    pub async fn touch(&self, selector: &str) {
        self.press(async || self.chrome.client.find(Locator::Css(selector)).await, selector).await;
        self.touches.set(self.touches.get() + 1);
    }

    /// Touches what is called like this, somewhere below what is selected.
    pub async fn touch_at(&self, within: &str, words: &str) {
        let find = async || {
            let found = self.chrome.client.execute(NAMED, vec![words.into(), within.into()]).await?;
            let id = found[ELEMENT].as_str().ok_or_else(|| CmdError::NotW3C(found.clone()))?.to_owned();
            Ok(Element::from_element_id(self.chrome.client.clone(), ElementRef::from(id)))
        };
        self.press(find, words).await;
        self.touches.set(self.touches.get() + 1);
    }

    /// Touches what is called like this.
    pub async fn touch_words(&self, words: &str) {
        self.touch_at("body", words).await;
    }

    /// Touches something that leads to another page, and waits for that.
    pub async fn go(&self, selector: &str) {
        self.leave(async || self.touch(selector).await).await;
    }

    /// The same by its words.
    pub async fn go_words(&self, words: &str) {
        self.leave(async || self.touch_words(words).await).await;
    }

    /// The same by its words below what is selected.
    pub async fn go_at(&self, within: &str, words: &str) {
        self.leave(async || self.touch_at(within, words).await).await;
    }

    /// Does something that leads to another page, and waits for that.
    pub async fn leave(&self, doing: impl AsyncFn()) {
        self.until(SETTLED, &[]).await;
        self.ask("window.before = true", &[]).await;
        doing().await;
        self.until("return !window.before && document.readyState === 'complete'", &[]).await;
    }

    /// Presses keys where the keyboard is.
    pub async fn keys(&self, keys: &str) {
        let focused = self.chrome.client.active_element().await.unwrap();
        focused.send_keys(keys).await.unwrap();
    }

    /// Types into a field, which is one touch and no more than what is typed.
    pub async fn write(&self, selector: &str, words: &str) {
        self.touch(selector).await;
        let field = self.chrome.client.find(Locator::Css(selector)).await.unwrap();
        field.clear().await.unwrap();
        field.send_keys(words).await.unwrap();
    }

    /// Signs in by tile and PIN, which nobody counts: it lasts the shift.
    pub async fn sign_in(&self, person: &str, pin: &str, to: &str) {
        self.open(&format!("/sign-in?person={person}&to={to}")).await;
        self.chrome.client.find(Locator::Css("#pin")).await.unwrap().send_keys(pin).await.unwrap();
        self.leave(async || self.touch("button.main").await).await;
        self.touches.set(0);
    }

    /// Presses it as soon as it is there, whole and in its place; what was put in place of it meanwhile is found anew.
    async fn press(&self, find: impl AsyncFn() -> Result<Element, CmdError>, what: &str) {
        let mut ticks = tokio::time::interval(LOOK);
        let pressed = async {
            loop {
                ticks.tick().await;
                if self.chrome.client.execute(SETTLED, Vec::new()).await.unwrap_or(Value::Null) != Value::Bool(true) {
                    continue;
                }
                let Ok(found) = find().await else { continue };
                if found.click().await.is_ok() {
                    return;
                }
            }
        };
        let done = tokio::time::timeout(SOON, pressed).await.is_ok();
        assert!(done, "nothing to touch called {what}:\n{}", self.shown().await);
    }
}
