//! Who is signed in at which browser. Kept in this program's memory only: a restart signs everybody out.

use crate::form::Fields;
use axum::http::{HeaderMap, HeaderValue, header};
use jiff::Timestamp;
use leadhand_sdk::Client;
use leadhand_sdk::v1::Role;
use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Sessions at a time; the one that ends first makes room.
const SESSIONS_MAX: usize = 500;
/// What is kept to be said to a visitor; of more, the last.
const NOTES_MAX: usize = 8;
/// Decisions that somebody saw; of more, the last.
const SEEN_MAX: usize = 1000;

/// A person at a browser.
#[derive(Clone)]
pub struct Signed {
    /// The server, as this person at this screen.
    pub client: Client,
    /// The person's name.
    pub name: String,
    /// What the session allows.
    pub role: Role,
    /// When the server ends it.
    pub until: Timestamp,
}

impl Signed {
    /// Whether this person works on vehicles.
    pub fn has_hands(&self) -> bool {
        matches!(self.role, Role::Lead | Role::Technician)
    }
}

/// What a browser shows itself with.
#[derive(Clone)]
pub struct Visitor {
    /// The secret in its cookie.
    cookie: String,
    /// Whether the browser has it already.
    known: bool,
    /// Who is signed in there.
    pub signed: Option<Signed>,
}

/// A form that was refused, and was not settled since.
#[derive(Clone, Debug)]
pub struct Refused {
    /// What it holds, without what lets anybody in.
    pub fields: Fields,
    /// The page to which it belongs.
    pub page: String,
    /// Why, in words.
    pub why: Vec<String>,
    /// Whether a lead may overrule that.
    pub may: bool,
    /// Whether a page showed already what was typed.
    pub shown: bool,
}

struct Kept {
    signed: Signed,
    /// What the next page says first.
    notes: Vec<String>,
    refused: Option<Refused>,
    /// From which page somebody came to another one, by that one's address.
    came: HashMap<&'static str, String>,
}

/// Every session.
pub struct Sessions {
    /// What forms are proved with: whoever has a cookie can't work out another's.
    key: String,
    secure: bool,
    kept: Mutex<HashMap<String, Kept>>,
    /// Decisions about one's time that were seen, by the person's name: job and number.
    seen: Mutex<Vec<(String, (i64, i32))>>,
    draw: fn() -> String,
}

impl Sessions {
    /// None yet.
    pub fn new(key: String, secure: bool) -> Self {
        Self { key, secure, kept: Mutex::default(), seen: Mutex::default(), draw: crate::serve::random::<32> }
    }

    /// Whether pages go over TLS.
    pub fn secure(&self) -> bool {
        self.secure
    }

    /// A `__Host-` cookie is taken by a browser only over TLS, for this host and the whole of it.
    fn name(&self) -> &'static str {
        if self.secure { "__Host-leadhand" } else { "leadhand" }
    }

    /// Who calls, by the cookie.
    pub fn visitor(&self, headers: &HeaderMap, now: Timestamp) -> Visitor {
        let sent = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
        let mut pairs = sent.flat_map(|line| line.split(';')).filter_map(|pair| pair.trim().split_once('='));
        let found =
            pairs.find(|(name, value)| *name == self.name() && is_ours(value)).map(|(_, value)| value.to_owned());
        let Some(cookie) = found else {
            return Visitor { cookie: (self.draw)(), known: false, signed: None };
        };
        let mut kept = self.lock();
        kept.retain(|_, one| one.signed.until > now);
        let signed = kept.get(&cookie).map(|one| one.signed.clone());
        Visitor { cookie, known: true, signed }
    }

    /// What a form of this visitor carries.
    pub fn proof(&self, visitor: &Visitor) -> String {
        proof(&self.key, &visitor.cookie)
    }

    /// Whether a form carries it. Without a cookie nothing is proved.
    pub fn proves(&self, visitor: &Visitor, shown: &str) -> bool {
        let expected = self.proof(visitor);
        // In the same time wherever they differ.
        let differs = expected.bytes().zip(shown.bytes()).fold(0, |differs, (a, b)| differs | (a ^ b));
        visitor.known && expected.len() == shown.len() && differs == 0
    }

    /// Keeps a new session under a new cookie: one that was planted before is worth nothing.
    pub fn begin(&self, before: &Visitor, signed: Signed) -> Visitor {
        let cookie = (self.draw)();
        let mut kept = self.lock();
        kept.remove(&before.cookie);
        if kept.len() >= SESSIONS_MAX {
            let first = kept.iter().min_by_key(|(_, one)| one.signed.until).map(|(cookie, _)| cookie.clone());
            first.and_then(|first| kept.remove(&first));
        }
        let fresh = Kept { signed: signed.clone(), notes: Vec::new(), refused: None, came: HashMap::new() };
        kept.insert(cookie.clone(), fresh);
        Visitor { cookie, known: false, signed: Some(signed) }
    }

    /// Ends the visitor's session.
    pub fn end(&self, visitor: &Visitor) {
        self.lock().remove(&visitor.cookie);
    }

    /// Ends a session that counts no more at the server. Whoever signed in at this browser meanwhile stays.
    pub fn lapse(&self, visitor: &mut Visitor) {
        self.end(visitor);
        visitor.signed = None;
    }

    /// Says something on the visitor's next page.
    pub fn note(&self, visitor: &Visitor, words: impl IntoIterator<Item = String>) {
        if let Some(kept) = self.lock().get_mut(&visitor.cookie) {
            // A double touch is told twice and said once.
            for word in words {
                if !kept.notes.contains(&word) {
                    kept.notes.push(word);
                }
            }
            let over = kept.notes.len().saturating_sub(NOTES_MAX);
            kept.notes.drain(..over);
        }
    }

    /// What is to be said, once.
    pub fn notes(&self, visitor: &Visitor) -> Vec<String> {
        self.lock().get_mut(&visitor.cookie).map(|kept| std::mem::take(&mut kept.notes)).unwrap_or_default()
    }

    /// Keeps what was refused; nothing when something was done.
    pub fn refuse(&self, visitor: &Visitor, refused: Option<Refused>) {
        if let Some(kept) = self.lock().get_mut(&visitor.cookie) {
            kept.refused = refused;
        }
    }

    /// What was refused last.
    pub fn refused(&self, visitor: &Visitor) -> Option<Refused> {
        self.lock().get(&visitor.cookie)?.refused.clone()
    }

    /// What was typed into the form that was refused, once: a later page starts anew.
    pub fn typed(&self, visitor: &Visitor) -> Option<Fields> {
        let mut kept = self.lock();
        let refused = kept.get_mut(&visitor.cookie)?.refused.as_mut()?;
        (!std::mem::replace(&mut refused.shown, true)).then(|| refused.fields.clone())
    }

    /// A decision about one's time was seen by whoever is signed in, who need not see it again at another tablet.
    pub fn saw(&self, visitor: &Visitor, decision: (i64, i32)) {
        let Some(signed) = &visitor.signed else { return };
        let mut seen = self.seen.lock().unwrap_or_else(PoisonError::into_inner);
        seen.push((signed.name.clone(), decision));
        let over = seen.len().saturating_sub(SEEN_MAX);
        seen.drain(..over);
    }

    /// Those that were.
    pub fn seen(&self, visitor: &Visitor) -> Vec<(i64, i32)> {
        let Some(signed) = &visitor.signed else { return Vec::new() };
        let seen = self.seen.lock().unwrap_or_else(PoisonError::into_inner);
        seen.iter().filter(|(name, _)| *name == signed.name).map(|(_, decision)| *decision).collect()
    }

    /// From where somebody came to a page: what is known now, else what was known before.
    pub fn came(&self, visitor: &Visitor, page: &'static str, from: Option<&str>) -> Option<String> {
        let mut kept = self.lock();
        let came = &mut kept.get_mut(&visitor.cookie)?.came;
        if let Some(from) = from {
            came.insert(page, from.to_owned());
        }
        came.get(page).cloned()
    }

    /// What makes the browser keep the visitor's cookie, where it does not yet. It goes with the browser's session and
    /// is shown to no script and to no other site.
    pub fn cookie(&self, visitor: &Visitor) -> Option<HeaderValue> {
        let secure = if self.secure { "; Secure" } else { "" };
        let text = format!("{}={}; Path=/; HttpOnly; SameSite=Strict{secure}", self.name(), visitor.cookie);
        if visitor.known { None } else { HeaderValue::from_str(&text).ok() }
    }

    fn lock(&self) -> MutexGuard<'_, HashMap<String, Kept>> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn is_ours(value: &str) -> bool {
    value.len() == 64 && value.bytes().all(|byte| byte.is_ascii_hexdigit())
}

/// SHA-256 over key and cookie, both of fixed length, so that nothing can be shifted from one to the other.
fn proof(key: &str, cookie: &str) -> String {
    use sha2::{Digest, Sha256};
    let hash = Sha256::new().chain_update(key).chain_update(":").chain_update(cookie).finalize();
    hash.iter().fold(String::new(), |text, byte| text + &format!("{byte:02x}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::Endpoint;

    fn sessions(secure: bool) -> Sessions {
        Sessions::new("k".repeat(64), secure)
    }

    fn signed(until: i64) -> Signed {
        let client = Client::connect(Endpoint::new("http://127.0.0.1:1")).unwrap();
        Signed { client, name: "Wren".into(), role: Role::Lead, until: Timestamp::from_second(until).unwrap() }
    }

    fn at(second: i64) -> Timestamp {
        Timestamp::from_second(second).unwrap()
    }

    fn sent(sessions: &Sessions, visitor: &Visitor) -> HeaderMap {
        let text = sessions.cookie(visitor).unwrap();
        let pair = text.to_str().unwrap().split(';').next().unwrap().to_owned();
        HeaderMap::from_iter([(header::COOKIE, format!("other=1; {pair}").parse().unwrap())])
    }

    #[tokio::test]
    async fn a_cookie_is_hidden_from_scripts_and_sites_and_changes_as_somebody_signs_in() {
        let sessions = sessions(true);
        let first = sessions.visitor(&HeaderMap::new(), at(0));
        let text = sessions.cookie(&first).unwrap().to_str().unwrap().to_owned();
        assert!(text.starts_with("__Host-leadhand=") && text.ends_with("; Path=/; HttpOnly; SameSite=Strict; Secure"));
        assert!(!sessions.proves(&first, &sessions.proof(&first)), "a browser that brought no cookie proves nothing");
        let known = sessions.visitor(&sent(&sessions, &first), at(0));
        assert!(sessions.proves(&known, &sessions.proof(&first)));
        assert!(sessions.cookie(&known).is_none());
        let begun = sessions.begin(&known, signed(60));
        assert_ne!(begun.cookie, known.cookie);
        assert!(!sessions.proves(&known, &sessions.proof(&begun)));
        let again = sessions.visitor(&sent(&sessions, &begun), at(59));
        assert_eq!(again.signed.map(|signed| signed.name), Some("Wren".to_owned()));
        assert!(sessions.visitor(&sent(&sessions, &first), at(59)).signed.is_none(), "the cookie from before");
        assert!(sessions.visitor(&sent(&sessions, &begun), at(60)).signed.is_none(), "it is over");
    }

    #[tokio::test]
    async fn notes_are_said_once_and_a_session_ends() {
        let sessions = sessions(false);
        let begun = sessions.begin(&sessions.visitor(&HeaderMap::new(), at(0)), signed(60));
        let known = sessions.visitor(&sent(&sessions, &begun), at(1));
        sessions.note(&known, ["ticked".to_owned()]);
        sessions.note(&known, ["ticked".to_owned()]);
        assert_eq!(sessions.notes(&known), ["ticked"]);
        assert!(sessions.notes(&known).is_empty());
        for n in 0..40 {
            sessions.note(&known, [n.to_string()]);
        }
        assert_eq!(sessions.notes(&known), ["32", "33", "34", "35", "36", "37", "38", "39"], "the last of many");
        sessions.end(&known);
        assert!(sessions.visitor(&sent(&sessions, &begun), at(1)).signed.is_none());
    }

    #[tokio::test]
    async fn there_is_room_for_so_many_and_the_one_that_ends_first_goes() {
        let sessions = sessions(false);
        let nobody = sessions.visitor(&HeaderMap::new(), at(0));
        let first = sessions.begin(&nobody, signed(50));
        let others: Vec<Visitor> = (0..SESSIONS_MAX).map(|_| sessions.begin(&nobody, signed(90))).collect();
        assert!(sessions.visitor(&sent(&sessions, &first), at(1)).signed.is_none());
        assert!(sessions.visitor(&sent(&sessions, &others[0]), at(1)).signed.is_some());
    }

    #[test]
    fn a_proof_is_sha_256_of_key_and_cookie() {
        // FIPS 180-4, by coreutils: printf 'a:b' | sha256sum
        let expected = "6783a31eabf68ccc0660f935c0826282bdd2241f3a80a9f2d10d59aea9ebb5d8";
        assert_eq!(proof("a", "b"), expected);
    }
}
