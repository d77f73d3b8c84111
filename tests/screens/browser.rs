//! A person at a browser: signs in, follows links, chooses tiles and touches buttons, and each of these is counted.

use crate::http::{Answer, get, post};
use std::cell::Cell;
use std::net::SocketAddr;

pub const PIN: &str = "4831905";

/// A browser with its cookie.
pub struct Browser {
    pub at: SocketAddr,
    pub cookie: String,
    touches: Cell<usize>,
}

/// A form on a page.
struct Form {
    /// Where it goes; empty for the page's own address.
    action: String,
    /// What it holds before anybody touches it.
    fields: Vec<(String, String)>,
    text: String,
}

/// The value of an attribute in a tag.
fn attribute(tag: &str, name: &str) -> Option<String> {
    let from = tag.find(&format!(" {name}=\""))? + name.len() + 3;
    Some(plain(tag[from..].split('"').next()?))
}

/// Text without the escapes that pages put in.
fn plain(text: &str) -> String {
    let escapes = [("&#34;", "\""), ("&#39;", "'"), ("&#60;", "<"), ("&#62;", ">"), ("&#38;", "&")];
    escapes.iter().fold(text.to_owned(), |text, (from, to)| text.replace(from, to))
}

fn forms(page: &str) -> Vec<Form> {
    let form = |text: &str| {
        let text = text.split("</form>").next().unwrap_or_default();
        let head = text.split('>').next().unwrap_or_default();
        let inputs = text.split("<input").skip(1).map(|tag| tag.split('>').next().unwrap_or_default());
        let held = inputs.filter(|tag| {
            !tag.contains("type=\"radio\"") && !tag.contains("type=\"checkbox\"") || tag.contains(" checked")
        });
        let fields =
            held.filter_map(|tag| Some((attribute(tag, "name")?, attribute(tag, "value").unwrap_or_default())));
        Form { action: attribute(head, "action").unwrap_or_default(), fields: fields.collect(), text: text.to_owned() }
    };
    page.split("<form").skip(1).map(form).collect()
}

impl Browser {
    /// Signs in by tile and PIN.
    pub async fn sign_in(at: SocketAddr, person: &str, pin: &str, to: &str) -> (Self, Answer) {
        let page = get(at, &format!("/sign-in?person={person}&to={to}"), "").await;
        let cookie = page.cookie().unwrap();
        let proof = page.field("<form", "proof");
        let answer =
            post(at, "/sign-in", &cookie, &[("proof", &proof), ("person", person), ("pin", pin), ("to", to)]).await;
        let cookie = answer.cookie().unwrap_or(cookie);
        (Self { at, cookie, touches: Cell::new(0) }, answer)
    }

    /// A page as it is, which nobody has to touch for.
    pub async fn page(&self, path: &str) -> Answer {
        get(self.at, path, &self.cookie).await
    }

    /// A page behind a link that stands on another one: a touch.
    pub async fn follow(&self, from: &Answer, path: &str) -> Answer {
        assert!(from.body.contains(&format!("href=\"{path}\"")), "no way to {path}: {}", from.body);
        self.touches.set(self.touches.get() + 1);
        let page = self.page(path).await;
        assert_eq!(page.status, 200, "{path}: {}", page.body);
        page
    }

    /// How many touches there were so far.
    pub fn touches(&self) -> usize {
        self.touches.get()
    }

    /// Chooses tiles of the first form that does this and holds these, and touches its button. Every choice is a touch,
    /// and so is the button.
    pub async fn press(&self, page: &Answer, act: &str, holds: &[&str], chosen: &[(&str, &str)]) -> Answer {
        self.press_button(page, act, holds, chosen, None).await
    }

    /// The same with a button that says something by itself.
    pub async fn press_button(
        &self,
        page: &Answer,
        act: &str,
        holds: &[&str],
        chosen: &[(&str, &str)],
        button: Option<(&str, &str)>,
    ) -> Answer {
        let does = |form: &Form| form.fields.iter().any(|(name, value)| name == "act" && value == act);
        let found =
            forms(&page.body).into_iter().find(|form| does(form) && holds.iter().all(|one| form.text.contains(one)));
        let form = found.unwrap_or_else(|| panic!("no form for {act} with {holds:?}: {}", page.body));
        let mut fields = form.fields.clone();
        for (name, value) in chosen {
            let offered = form.text.contains(&format!("name=\"{name}\""));
            assert!(offered, "nothing called {name} can be chosen: {}", form.text);
            fields.retain(|(known, _)| known != name);
            fields.push(((*name).to_owned(), (*value).to_owned()));
        }
        if let Some((name, value)) = button {
            fields.push((name.to_owned(), value.to_owned()));
        }
        self.touches.set(self.touches.get() + 1 + chosen.len());
        let to = if form.action.is_empty() { page.path.clone() } else { form.action };
        let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
        let first = post(self.at, &to, &self.cookie, &fields).await;
        // Touched twice: the same request counts once.
        let second = post(self.at, &to, &self.cookie, &fields).await;
        assert_eq!(first.status, second.status, "{}", second.body);
        first
    }

    /// Touches the first form that does this on the page of a bay; what is said is the button's.
    pub async fn touch(&self, bay: &str, act: &str, button: &[(&str, &str)]) -> Answer {
        let page = self.page(&format!("/bay/{bay}")).await;
        self.press_button(&page, act, &[], &[], button.first().copied()).await
    }

    /// Touches a form that holds this.
    pub async fn touch_at(&self, bay: &str, act: &str, holds: &str) -> Answer {
        let page = self.page(&format!("/bay/{bay}")).await;
        self.press(&page, act, &[holds], &[]).await
    }
}
