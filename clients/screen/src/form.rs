//! What forms hold, and how what they ask for is begun and answered. Each form carries a request id, so that a double
//! touch counts once; what it asks for one after the other gets ids that follow from it.

use crate::named::named;
use crate::overrule;
use crate::pages::{Screen, said};
use crate::sessions::{Refused, Signed, Visitor};
use crate::texts::Texts;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use leadhand_sdk::v1::{Receipt, WriteContext};
use leadhand_sdk::{Code, SdkError, moment, write_with_id};
use std::str::FromStr;

/// The fields of a form, in their order.
#[derive(Debug, Clone, Default)]
pub struct Fields(pub Vec<(String, String)>);

impl Fields {
    /// The first value under a name that says anything; empty when there is none. A field that was left empty stands
    /// beside a tile of the same name that was touched.
    pub fn text(&self, name: &str) -> &str {
        let mut named = self.0.iter().filter(|(known, _)| known == name).map(|(_, value)| value.trim());
        named.find(|value| !value.is_empty()).unwrap_or_default()
    }

    /// A number; the usual one when nothing was said.
    pub fn number<N: FromStr + Default>(&self, name: &str) -> Result<N, Fault> {
        Ok(self.some(name)?.unwrap_or_default())
    }

    /// A number that may be left out. What was said and can't be read is no number that was left out.
    pub fn some<N: FromStr>(&self, name: &str) -> Result<Option<N>, Fault> {
        match self.text(name) {
            "" => Ok(None),
            typed => typed.parse().map(Some).map_err(|_| Fault::unread(name, typed)),
        }
    }

    /// What a tile says and what was typed beside it, as one sentence.
    pub fn said(&self) -> String {
        let both = [self.text("tile"), self.text("words")];
        both.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(": ")
    }

    /// Every value under a name.
    pub fn all(&self, name: &str) -> Vec<String> {
        let named = self.0.iter().filter(|(known, value)| known == name && !value.trim().is_empty());
        named.map(|(_, value)| value.trim().to_owned()).collect()
    }

    /// What a page may show again: nothing that lets anybody in, and nothing that belongs to one form alone.
    pub fn shown_again(&self) -> Self {
        const NEVER: [&str; 5] = ["proof", "request", "pin", "badge", "person"];
        Self(self.0.iter().filter(|(name, _)| !NEVER.contains(&name.as_str())).cloned().collect())
    }

    /// As the script of a page reads it.
    pub fn for_script(&self) -> String {
        serde_json::to_string(&self.0).unwrap_or_default()
    }

    /// Values of one field with commas between them.
    pub fn list<N: FromStr>(&self, name: &str) -> Vec<N> {
        self.text(name).split(',').filter_map(|one| one.trim().parse().ok()).collect()
    }
}

/// What every write of one form carries: its request id, and for the second and later ones ids that follow from it.
pub struct Writes {
    id: String,
    next: u8,
    /// For whom a lead records them; empty for whoever sends them.
    for_person: String,
}

impl Writes {
    /// From the form's id; nothing when it is none.
    pub fn of(request: &str) -> Option<Self> {
        let write = write_with_id(request.parse().ok()?);
        Some(Self { id: write.request_id, next: 0, for_person: String::new() })
    }

    /// The same, recorded for somebody.
    pub fn for_person(self, name: &str) -> Self {
        Self { for_person: name.to_owned(), ..self }
    }

    /// The context of a write about one thing of several, whatever their order is when the form is sent again.
    pub fn about(&self, what: &str) -> WriteContext {
        // FNV-1a of what it is about, over the form's own id.
        let step = |hash: u32, byte: u8| (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193);
        let hash = what.bytes().fold(0x811c_9dc5, step);
        let (head, tail) = self.id.split_at(8.min(self.id.len()));
        let head = u32::from_str_radix(head, 16).unwrap_or_default() ^ hash;
        let request_id = format!("{head:08x}{tail}");
        WriteContext { request_id, for_person: self.for_person.clone(), ..WriteContext::default() }
    }

    /// The next write's context.
    pub fn one(&mut self) -> WriteContext {
        let (head, tail) = self.id.split_at(self.id.len().saturating_sub(2));
        let tail = u8::from_str_radix(tail, 16).unwrap_or_default() ^ self.next;
        self.next = self.next.wrapping_add(1);
        let (request_id, for_person) = (format!("{head}{tail:02x}"), self.for_person.clone());
        WriteContext { request_id, for_person, ..WriteContext::default() }
    }
}

/// Why something was not done.
#[derive(Debug)]
pub enum Fault {
    /// The server refused it.
    Refused(Box<SdkError>),
    /// What was typed or touched can't be meant, in words.
    Words(String),
    /// What stands in a field is no number, or no time.
    Unread {
        /// The field.
        field: String,
        /// What stands in it.
        typed: String,
    },
}

impl From<SdkError> for Fault {
    fn from(error: SdkError) -> Self {
        Self::Refused(Box::new(error))
    }
}

impl Fault {
    /// What stands in a field can't be read.
    pub fn unread(field: &str, typed: &str) -> Self {
        Self::Unread { field: field.to_owned(), typed: typed.to_owned() }
    }

    /// In words: one sentence, and what stands against it one by one.
    pub fn words(&self, t: &Texts) -> Vec<String> {
        match self {
            Self::Words(words) => vec![words.clone()],
            Self::Refused(error) => words(error, t),
            Self::Unread { field, typed } if field == "at" => vec![t.fill("not-a-time", "typed", typed)],
            Self::Unread { field, typed } => {
                let field = t.say(label(field));
                vec![t.with("not-a-number", &[("field", field.into()), ("typed", typed.as_str().into())])]
            }
        }
    }
}

/// Under which key a page says what a field asks for.
fn label(field: &str) -> &'static str {
    match field {
        "missing" => "ask-missing",
        "damaged" => "ask-damaged",
        "studs" => "ask-studs",
        "refitted" => "ask-refitted",
        "renewed" => "ask-renewed",
        "left-out" => "ask-left-out",
        "scrapped" => "ask-scrapped",
        "came-out" => "ask-came-out",
        "pieces" => "how-many-tried",
        "found" | "count" | "typed-count" | "quantity" => "how-many",
        "weight" => "weight-kg",
        "urgency" => "urgency",
        _ => "a-number",
    }
}

/// A number as it was typed, with a point for its decimals: a comma is what a pad in many countries has in the place
/// of one. Where three digits stand behind it, it may as well part thousands, and nobody guesses by a factor of 1000.
pub fn decimal(typed: &str, t: &Texts) -> Result<String, Fault> {
    let typed = typed.trim();
    let end = typed.find(|one: char| !one.is_ascii_digit() && !matches!(one, ',' | '.' | '-')).unwrap_or(typed.len());
    let number = typed[..end].trim_start_matches('-');
    if let Some((before, after)) = number.split_once(',')
        && after.len() == 3
        && after.bytes().all(|byte| byte.is_ascii_digit())
        && (1..=3).contains(&before.len())
        && !before.starts_with('0')
    {
        let whole = format!("{before}{after}");
        let part = after.trim_end_matches('0');
        let part = format!("{before}.{}", if part.is_empty() { "0" } else { part });
        let values = [("typed", number.into()), ("whole", whole.into()), ("part", part.into())];
        return Err(Fault::Words(t.with("two-meanings", &values)));
    }
    Ok(typed.replace(',', "."))
}

/// What was done.
#[derive(Debug, Default)]
pub struct Done {
    /// What is to be said of it.
    pub notes: Vec<String>,
    /// How it is taken back, as the page of a bay understands it.
    pub undo: String,
    /// Where the person goes on; the page of the form when empty.
    pub to: String,
    /// Whether something stood against the rest of it, which the notes say.
    pub stopped: bool,
}

impl Done {
    /// With what the server said.
    pub fn told(receipt: Option<Receipt>) -> Self {
        let mut done = Self::default();
        done.hear(receipt);
        done
    }

    /// And with what it says to another write.
    pub fn hear(&mut self, receipt: Option<Receipt>) {
        self.notes.extend(receipt.unwrap_or_default().notices.into_iter().map(|notice| plain(&notice.text)));
    }

    /// What a receipt says, but for notices of a kind that the page shows by itself.
    pub fn told_without(receipt: Option<Receipt>, code: &str) -> Self {
        let mut receipt = receipt.unwrap_or_default();
        receipt.notices.retain(|notice| notice.code != code);
        Self::told(Some(receipt))
    }

    /// With a way back.
    pub fn undo(mut self, undo: impl Into<String>) -> Self {
        self.undo = undo.into();
        self
    }

    /// Going on elsewhere.
    pub fn to(mut self, to: impl Into<String>) -> Self {
        self.to = to.into();
        self
    }

    /// Saying this before all else: what was done, before what else there is to say.
    pub fn first(mut self, words: impl Into<String>) -> Self {
        self.notes.insert(0, words.into());
        self
    }

    /// Saying one thing more.
    pub fn note(mut self, words: impl Into<String>) -> Self {
        self.notes.push(words.into());
        self
    }
}

/// A form that may be carried out.
pub struct Begun {
    /// At whose browser.
    pub visitor: Visitor,
    /// As whom.
    pub signed: Signed,
    /// Under which ids.
    pub writes: Writes,
}

/// Looks whether a form comes from a page of this screen and whether somebody is signed in; an answer when not.
pub fn begin(screen: &Screen, headers: &HeaderMap, fields: &Fields, page: &str) -> Result<Begun, Box<Response>> {
    let visitor = screen.sessions.visitor(headers, moment::now());
    let old = |status| Box::new(said(screen, status, screen.texts.say("refused-old-form")));
    if !screen.sessions.proves(&visitor, fields.text("proof")) {
        return Err(old(StatusCode::FORBIDDEN));
    }
    let Some(signed) = visitor.signed.clone() else {
        return Err(Box::new(Redirect::to(&format!("/sign-in?to={page}")).into_response()));
    };
    match Writes::of(fields.text("request")) {
        Some(writes) => Ok(Begun { visitor, signed, writes }),
        None => Err(old(StatusCode::BAD_REQUEST)),
    }
}

/// Says what came of it on the next page. What was refused is shown where the person was, with what was typed.
pub async fn finish(
    screen: &Screen,
    visitor: &Visitor,
    fields: &Fields,
    page: &str,
    from: &str,
    done: Result<Done, Fault>,
) -> Response {
    match done {
        Ok(done) => {
            let done = Done { notes: named(visitor, fields, done.notes, &screen.texts).await, ..done };
            // What was done in part is answered where it was touched, like what was refused.
            let page = page.to_owned();
            let why = done.notes.clone();
            let refused = Refused { fields: fields.shown_again(), page: page.clone(), why, may: false, shown: false };
            screen.sessions.refuse(visitor, done.stopped.then_some(refused));
            screen.sessions.note(visitor, done.notes);
            let to = if done.to.is_empty() { &page } else { &done.to };
            let undo = if done.undo.is_empty() { String::new() } else { format!("?undo={}", done.undo) };
            Redirect::to(&format!("{to}{undo}")).into_response()
        }
        Err(fault) => {
            let why = named(visitor, fields, fault.words(&screen.texts), &screen.texts).await;
            screen.sessions.note(visitor, why.clone());
            let may = overrule::may_be(&fault, fields);
            let refused = Refused { fields: fields.shown_again(), page: page.to_owned(), why, may, shown: false };
            screen.sessions.refuse(visitor, Some(refused));
            Redirect::to(if from.is_empty() { page } else { from }).into_response()
        }
    }
}

/// What is said to a person in the shop of a server that gives no answer; nothing when it gave one. Names of programs and
/// addresses are for whoever runs it, and stand in this program's log.
fn unheard(error: &SdkError, t: &Texts) -> Option<String> {
    let words = silence(error.code, &error.reason, error.is_unknown_outcome()).map(|key| t.say(key));
    if words.is_some() {
        tracing::warn!("the job server is not heard: {error}");
    }
    words
}

/// Under which key. What the server says itself has a reason.
fn silence(code: Code, reason: &str, unknown: bool) -> Option<&'static str> {
    let silent = matches!(code, Code::Unavailable | Code::DeadlineExceeded) && reason.is_empty();
    silent.then_some(if unknown { "server-not-heard-unknown" } else { "server-not-heard" })
}

/// What the server says, in words for a person in the shop.
pub fn answered(error: &SdkError, t: &Texts) -> String {
    unheard(error, t).unwrap_or_else(|| plain(&error.message))
}

/// A refusal in words.
pub fn words(error: &SdkError, t: &Texts) -> Vec<String> {
    if let Some(words) = unheard(error, t) {
        return vec![words];
    }
    let each = error.fields.iter().map(|fault| fault.message.clone()).filter(|each| !error.message.contains(each));
    let message = error.fields.iter().find_map(|fault| {
        let why = error.message.strip_prefix(&format!("{}: ", fault.field))?;
        Some(format!("{}: {why}", spoken(&fault.field)))
    });
    let message = message.unwrap_or_else(|| error.message.clone());
    std::iter::once(message).chain(each).map(|words| plain(&words)).collect()
}

/// A field's path as people say it: `lines[0].kept_at` is "lines 1 kept at".
fn spoken(field: &str) -> String {
    let parts = field.split(['[', ']', '.', '_']).filter(|part| !part.is_empty());
    let said = parts.map(|part| part.parse().map_or_else(|_| part.to_owned(), |at: usize| (at + 1).to_string()));
    said.collect::<Vec<_>>().join(" ")
}

/// What a command line starts with in the server's words.
const COMMAND: &str = "`leadhand";

/// The words without hints at a command line, which nobody at a bay has: a bracket or a clause that names one goes.
pub fn plain(words: &str) -> String {
    let mut left = words.to_owned();
    while let Some(at) = left.find(COMMAND) {
        let end = left[at + 1..].find('`').map_or(left.len(), |end| at + 1 + end + 1);
        let bracket = left[..at].rfind('(').filter(|open| !left[*open..at].contains(')'));
        let closed = left[end..].find(')').map(|close| end + close + 1);
        let (from, until) = if let (Some(open), Some(close)) = (bracket, closed) {
            (open, close)
        } else {
            let clause = left[..at].rfind("; ").or_else(|| left[..at].rfind(": "));
            let until = left[end..].find("; ").map_or(left.len(), |next| end + next);
            clause.map_or((at, end), |from| (from, until))
        };
        left = format!("{}{}", left[..from].trim_end(), &left[until..]);
    }
    left.trim_start_matches("; ").to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn writes_of_one_form_have_ids_that_follow_from_it_and_differ() {
        let id = "00000000-0000-4000-8000-0000000000f0";
        let all = || {
            let mut writes = Writes::of(id).unwrap();
            (0..20).map(|_| writes.one().request_id).collect::<Vec<_>>()
        };
        let first = all();
        assert_eq!(first, all(), "a double touch sends the same");
        assert_eq!(first[0], id);
        let different: std::collections::HashSet<&String> = first.iter().collect();
        assert_eq!(different.len(), 20);
        assert!(first.iter().all(|one| one.len() == 36), "{first:?}");
        let writes = Writes::of(id).unwrap();
        let about = |what: &str| writes.about(what).request_id;
        assert_eq!(about("7:1"), about("7:1"));
        assert!(about("7:1") != about("7:2") && about("7:1").len() == 36 && about("7:1")[8..] == id[8..]);
        assert!(Writes::of("no id").is_none());
    }

    #[test]
    fn a_server_that_is_not_heard_is_told_without_names_of_programs() {
        let t = Texts::of("en-GB");
        for (code, unknown) in [(Code::Unavailable, false), (Code::DeadlineExceeded, true)] {
            let said = t.say(silence(code, "", unknown).unwrap());
            assert!(!["leadhand", "TLS", "http"].iter().any(|part| said.contains(part)), "{said}");
            assert_eq!(said.contains("nothing was done"), !unknown, "{said}");
        }
        assert_eq!(silence(Code::Unavailable, "SERVER_TOO_OLD", false), None, "what the server says itself is shown");
        assert_eq!(silence(Code::FailedPrecondition, "", false), None);
    }

    #[test]
    fn nobody_at_a_bay_is_sent_to_a_command_line() {
        for (said, shown) in [
            ("it was said already; `leadhand strip reopen` takes it back", "it was said already"),
            (
                "say it first (`leadhand strip off 7 strip --as-listed`, or each with its counts), or finish it",
                "say it first, or finish it",
            ),
            ("needs a figure; record it with `leadhand reading record`, or skip it", "needs a figure"),
            ("sign in (`leadhand sign-in`), or use `leadhand token` now", "sign in, or use now"),
            ("the lead decides (`leadhand reading decide`)", "the lead decides"),
            ("nothing of it here; do that", "nothing of it here; do that"),
            ("a `leadhand", "a"),
        ] {
            assert_eq!(plain(said), shown, "{said}");
        }
    }

    #[test]
    fn what_is_no_number_is_never_taken_for_one_that_was_left_out() {
        let t = Texts::of("en-GB");
        let fields = Fields(vec![("missing".into(), "two".into())]);
        let fault = fields.some::<i32>("missing").unwrap_err();
        let words = fault.words(&t).concat();
        assert!(words.contains("two") && words.contains(&t.say("ask-missing")), "{words}");
        assert!(fields.number::<i32>("missing").is_err());
        let named = [
            "missing", "damaged", "studs", "refitted", "renewed", "left-out", "scrapped", "came-out", "pieces",
            "found", "weight", "urgency", "rung",
        ];
        for field in named {
            assert_ne!(t.say(label(field)), label(field), "{field} has words");
        }
    }

    #[test]
    fn a_comma_is_a_point_unless_it_may_part_thousands() {
        let t = Texts::of("en-GB");
        let good = [
            ("12,4", "12.4"),
            ("1,00", "1.00"),
            ("0,125", "0.125"),
            ("1234,567", "1234.567"),
            ("24.985", "24.985"),
            ("1,5 L", "1.5 L"),
            ("1,0005", "1.0005"),
            ("1000", "1000"),
            ("four", "four"),
        ];
        for (typed, read) in good {
            assert_eq!(decimal(typed, &t).unwrap(), read, "{typed}");
        }
        for (typed, whole, part) in
            [("1,000", "1000", "1.0"), ("1,250 mL", "1250", "1.25"), ("-24,985", "24985", "24.985")]
        {
            let words = decimal(typed, &t).unwrap_err().words(&t).concat();
            assert!(words.contains(&format!("{whole} or {part}")), "{typed}: {words}");
        }
    }

    #[test]
    fn nobody_reads_the_name_of_a_field_of_the_contract() {
        assert_eq!(spoken("figures[3]"), "figures 4");
        assert_eq!(spoken("lines[0].kept_at"), "lines 1 kept at");
        assert_eq!(spoken("note"), "note");
    }

    #[test]
    fn fields_are_read_by_name() {
        let pairs = [("a", " 4 "), ("b", " "), ("b", "x"), ("b", "y"), ("c", "3,4, 5,z")];
        let fields = Fields(pairs.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect());
        assert_eq!((fields.number::<i32>("a").unwrap(), fields.text("d")), (4, ""));
        assert_eq!((fields.some::<i32>("d").unwrap(), fields.number::<i32>("d").unwrap()), (None, 0), "left out");
        assert_eq!((fields.text("b"), fields.all("b")), ("x", vec!["x".to_owned(), "y".to_owned()]));
        assert_eq!(fields.list::<i32>("c"), [3, 4, 5]);
    }
}
