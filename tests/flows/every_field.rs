//! Every field of every request of the contract, found in its descriptor: whatever bad is put into it is refused with
//! the field named and changes nothing, and whatever odd is put into it is refused for a reason or comes back as it was.

use crate::raw::{Method, broken, call, fields, methods, reason};
use crate::samples::{Sample, Who, World};
use crate::shop::Shop;
use leadhand_proto::DESCRIPTOR_SET;
use leadhand_proto::v1::Fact;
use leadhand_sdk::new_write;
use prost::Message;
use prost_reflect::{DescriptorPool, DynamicMessage, FieldDescriptor, Kind, MessageDescriptor, Value};
use std::collections::BTreeMap;
use tonic::{Code, Status};

/// A field at any depth of a request.
type Path = Vec<FieldDescriptor>;

/// A shop with a world in it, and who calls.
struct Asking {
    shop: Shop,
    worlds: usize,
    /// Whether something was accepted in this world.
    used: bool,
    samples: BTreeMap<String, Vec<Sample>>,
    tokens: BTreeMap<&'static str, String>,
    pool: DescriptorPool,
}

impl Asking {
    async fn open() -> Self {
        let shop = Shop::open().await;
        let operator = shop.app().issue_operator("Night desk", None).await.unwrap().secret;
        let device = shop.device_secret().await;
        let bearer = |secret: &str| format!("Bearer {secret}");
        let tokens = BTreeMap::from([
            ("lead", bearer(shop.secret())),
            ("device", bearer(&device)),
            ("operator", bearer(&operator)),
        ]);
        let pool = DescriptorPool::decode(DESCRIPTOR_SET).unwrap();
        let mut asking = Self { shop, worlds: 0, used: false, samples: BTreeMap::new(), tokens, pool };
        asking.anew().await;
        asking
    }

    /// Draws the samples in a new world.
    async fn anew(&mut self) {
        self.worlds += 1;
        self.used = false;
        let world = World::make(&self.shop, self.worlds).await;
        self.samples.clear();
        for sample in world.samples() {
            self.samples.entry(sample.input.clone()).or_default().push(sample);
        }
    }

    fn paths(&self, input: &str) -> Vec<Path> {
        let mut found = Vec::new();
        walk(&self.pool.get_message_by_name(input).unwrap(), &mut Vec::new(), &mut found);
        found
    }

    /// A sample in which this field has been given this value: one that says the field, if there is one.
    fn with(&self, input: &str, path: &Path, value: &Value) -> (Vec<u8>, Who) {
        let samples = self.samples.get(input).unwrap_or_else(|| panic!("there is no sample of {input}; draw one"));
        let descriptor = self.pool.get_message_by_name(input).unwrap();
        let decoded = |sample: &Sample| DynamicMessage::decode(descriptor.clone(), &*sample.bytes).unwrap();
        let says = |sample: &&Sample| said(&decoded(sample), path) == Some(true);
        let may = |sample: &&Sample| said(&decoded(sample), path).is_some();
        let sample = samples.iter().find(says).or_else(|| samples.iter().find(may));
        let sample = sample.unwrap_or_else(|| panic!("no sample of {input} says what {} is in", named(path)));
        let mut message = decoded(sample);
        if let Some(write) = message.get_field_by_name_mut("write").and_then(Value::as_message_mut) {
            write.set_field_by_name("request_id", Value::String(new_write().request_id));
        }
        put(&mut message, path, value);
        (message.encode_to_vec(), sample.who)
    }

    /// Asks, and once more in a new world when what was accepted in this one may be what stood in the way.
    async fn ask(&mut self, method: &Method, path: &Path, value: &Value) -> Answer {
        loop {
            let head = self.shop.head().await;
            let said = self.call(method, self.with(&method.input, path, value)).await;
            let facts = self.shop.facts_after(head).await;
            let own = |field: &String| names(field, path) || names_figure(field, path);
            let in_the_way = said.as_ref().is_err_and(|status| !fields(status).first().is_some_and(own));
            if in_the_way && self.used {
                self.anew().await;
                continue;
            }
            self.used |= !facts.is_empty();
            return Answer { said, facts };
        }
    }

    async fn call(&self, method: &Method, (bytes, who): (Vec<u8>, Who)) -> Result<Vec<u8>, Status> {
        let token = match who {
            Who::Lead => "lead",
            Who::Device => "device",
            Who::Operator => "operator",
        };
        call(&self.shop.lead, &method.path, Some(&self.tokens[token]), bytes).await
    }
}

/// What was answered, and what stands in the journal since.
struct Answer {
    said: Result<Vec<u8>, Status>,
    facts: Vec<Fact>,
}

/// Leaves of a message; those of a time are its seconds and nanos.
fn walk(message: &MessageDescriptor, above: &mut Path, found: &mut Vec<Path>) {
    for field in message.fields() {
        assert!(!field.is_map(), "{}: a map in a request; say here how its entries are asked", field.full_name());
        above.push(field.clone());
        match field.kind() {
            Kind::Message(inner) => walk(&inner, above, found),
            _ => found.push(above.clone()),
        }
        above.pop();
    }
}

/// The field's name as an error has it, with the first entry of each list.
fn named(path: &Path) -> String {
    let part = |field: &FieldDescriptor| format!("{}{}", field.name(), if field.is_list() { "[0]" } else { "" });
    path.iter().map(part).collect::<Vec<_>>().join(".")
}

/// Whether the field is said; nothing when the message that it is in is not.
fn said(message: &DynamicMessage, path: &[FieldDescriptor]) -> Option<bool> {
    let (field, below) = path.split_first()?;
    if below.is_empty() {
        return Some(message.has_field(field));
    }
    if !message.has_field(field) {
        // A time is said by its figures; any other message would be said without the rest that it needs.
        let time = matches!(field.kind(), Kind::Message(inner) if inner.full_name().starts_with("google.protobuf."));
        return (time && !field.is_list()).then_some(false);
    }
    let value = message.get_field(field);
    let inner = if field.is_list() { value.as_list()?.first()? } else { &*value };
    said(inner.as_message()?, below)
}

fn put(message: &mut DynamicMessage, path: &[FieldDescriptor], value: &Value) {
    let (field, below) = path.split_first().unwrap();
    if below.is_empty() {
        let value = if field.is_list() { Value::List(vec![value.clone()]) } else { value.clone() };
        message.set_field(field, value);
        return;
    }
    let inner = message.get_field_mut(field);
    let inner = if field.is_list() { &mut inner.as_list_mut().unwrap()[0] } else { inner };
    put(inner.as_message_mut().unwrap(), below, value);
}

fn without_places(name: &str) -> String {
    name.chars().filter(|c| !matches!(c, '[' | ']') && !c.is_ascii_digit()).collect()
}

/// Whether an error names this field: itself, or a line of the file that it holds.
fn names(field: &str, path: &Path) -> bool {
    let own = named(path);
    let file = field.split_once(": line ").is_some_and(|(file, _)| file == own);
    field == own || file || (field == own.trim_end_matches("[0]"))
}

/// The same for a figure, which may be wrong only together with what it is in or beside.
fn names_figure(field: &str, path: &Path) -> bool {
    let (own, field) = (without_places(&named(path)), without_places(field));
    let within = own.starts_with(&format!("{field}.")) || own.ends_with(&format!(".{field}"));
    let beside = |end: &str| own.contains(end) && field.ends_with(if end == "from_" { "until_at" } else { "from_at" });
    let parent = |name: &str| name.rsplit_once('.').map(|(parent, _)| parent.to_owned());
    let neighbour = parent(&own).is_some() && parent(&own) == parent(&field);
    own == field
        || within
        || neighbour
        || own.split('.').any(|part| part == field)
        || beside("from_")
        || beside("until_")
}

/// Words that nobody can keep.
fn bad_words() -> Vec<(&'static str, String)> {
    vec![
        ("NUL", "some\0words".to_owned()),
        ("C0", "some\u{7}words".to_owned()),
        ("escape", "\u{1b}[2Jwords".to_owned()),
        ("carriage return", "some\rwords".to_owned()),
        ("DEL", "some\u{7f}words".to_owned()),
        ("C1", "some\u{85}words".to_owned()),
        ("C1, last", "some\u{9f}words".to_owned()),
        ("long", "ß".repeat(5_000)),
    ]
}

/// What is right to be asked with a file is asked in the answer.
fn is_check(method: &Method) -> bool {
    method.path.ends_with("/CheckTemplate") || method.path.ends_with("/CheckStockImport")
}

#[tokio::test(flavor = "multi_thread")]
async fn words_that_can_not_be_kept_are_refused_in_every_field_by_its_name() {
    let asking = Asking::open().await;
    let before = asking.shop.head().await;
    let (mut cases, mut texts, mut wrong) = (0, 0, Vec::new());
    let methods = methods();
    for method in &methods {
        assert!(asking.samples.contains_key(&method.input), "there is no sample of {}; draw one", method.input);
        for path in asking.paths(&method.input) {
            let kind = path.last().unwrap().kind();
            assert!(!matches!(kind, Kind::Bytes), "{}: bytes; say here what is bad of them", method.path);
            if !matches!(kind, Kind::String) {
                continue;
            }
            texts += 1;
            for (case, words) in bad_words() {
                cases += 1;
                let answer = asking.call(method, asking.with(&method.input, &path, &Value::String(words))).await;
                // Line ends of a file may be of either kind.
                let fine_in_file = case == "carriage return" && matches!(path.last().unwrap().name(), "csv" | "source");
                let fine = match &answer {
                    Ok(_) => is_check(method),
                    Err(status) => {
                        status.code() == Code::InvalidArgument
                            && fields(status).first().is_some_and(|field| names(field, &path))
                            && !broken(status)
                    }
                };
                if !fine && !fine_in_file {
                    wrong.push(format!("{} {} {case}: {:?}", method.path, named(&path), told(&answer)));
                }
            }
        }
    }
    println!("{} methods, {texts} fields of words, {cases} cases", methods.len());
    assert!(wrong.is_empty(), "{} of {cases} are wrong:\n{}", wrong.len(), wrong.join("\n"));
    assert!(texts > 150, "only {texts} fields of words were found");
    assert_eq!(asking.shop.head().await, before, "something was changed");
    asking.shop.verified().await;
}

fn told(answer: &Result<Vec<u8>, Status>) -> String {
    match answer {
        Ok(bytes) => format!("accepted ({} bytes)", bytes.len()),
        Err(status) => format!("{:?} {} {:?}: {}", status.code(), reason(status), fields(status), status.message()),
    }
}

/// Words that look odd and are words.
const ODD: [&str; 2] = [
    "عربة \u{202e}txt.exe שלום \u{2067}x\u{2069} e\u{301} is not \u{e9}, \u{1112}\u{1161}\u{11ab}",
    "\u{1f469}\u{1f3fd}\u{200d}\u{1f527} \u{feff}\u{10ffff} '); DROP TABLE job; -- %s {} \\x00 \\u0000 $1 \" <b>",
];

#[tokio::test(flavor = "multi_thread")]
async fn odd_words_in_every_field_are_refused_for_a_reason_or_come_back_byte_for_byte() {
    let mut asking = Asking::open().await;
    let (mut cases, mut back, mut wrong) = (0, 0, Vec::new());
    for method in &methods() {
        for path in asking.paths(&method.input) {
            if !matches!(path.last().unwrap().kind(), Kind::String) {
                continue;
            }
            for words in ODD {
                cases += 1;
                let Answer { said, facts } = asking.ask(method, &path, &Value::String(words.to_owned())).await;
                let fine = match &said {
                    Err(status) => !broken(status) && facts.is_empty(),
                    // Another shop's journal is not ours to read.
                    Ok(_) if !method.writes || method.path.ends_with("/OpenShop") => facts.is_empty(),
                    Ok(_) if goes_unsaid(method, &path, &facts) => true,
                    Ok(_) => {
                        back += 1;
                        kept(&facts, words)
                    }
                };
                if !fine {
                    wrong.push(format!("{} {} {words:?}: {}", method.path, named(&path), told(&said)));
                }
            }
        }
    }
    println!("{cases} cases, {back} of them accepted and read back, in {} worlds", asking.worlds);
    assert!(wrong.is_empty(), "{} of {cases} are wrong:\n{}", wrong.len(), wrong.join("\n"));
    assert!(back > 50, "only {back} were accepted");
    asking.shop.verified().await;
}

/// What is accepted without being kept: a reason for overriding what did not stand in the way, why a count that fits
/// may differ, and who is meant: somebody may have been given these words as a name before, and then an id is kept.
fn goes_unsaid(method: &Method, path: &Path, facts: &[Fact]) -> bool {
    let counted = method.path.ends_with("/CountStock") && facts.is_empty();
    let who = ["person", "people", "for_person", "owner", "customer"].contains(&path.last().unwrap().name());
    counted || who || path[0].name() == "override_reason"
}

/// Whether the words stand in one of the facts, or beside it, byte for byte.
fn kept(facts: &[Fact], words: &str) -> bool {
    fn holds(value: &prost_types::Value, words: &str) -> bool {
        use prost_types::value::Kind::{ListValue, StringValue, StructValue};
        match &value.kind {
            Some(StringValue(text)) => text == words,
            Some(StructValue(inner)) => inner.fields.values().any(|value| holds(value, words)),
            Some(ListValue(inner)) => inner.values.iter().any(|value| holds(value, words)),
            _ => false,
        }
    }
    let body =
        |fact: &Fact| fact.body.as_ref().is_some_and(|body| body.fields.values().any(|value| holds(value, words)));
    facts.iter().any(|fact| fact.words.values().any(|kept| kept == words) || body(fact))
}

/// Figures at the ends of what a field can hold, and around 0.
fn figures(kind: &Kind) -> Vec<Value> {
    match kind {
        Kind::Int32 | Kind::Sint32 | Kind::Sfixed32 => [0, -1, i32::MIN, i32::MAX].map(Value::I32).into(),
        Kind::Int64 | Kind::Sint64 | Kind::Sfixed64 => [0, -1, i64::MIN, i64::MAX].map(Value::I64).into(),
        Kind::Uint32 | Kind::Fixed32 => [0, u32::MAX].map(Value::U32).into(),
        Kind::Uint64 | Kind::Fixed64 => [0, u64::MAX].map(Value::U64).into(),
        Kind::Enum(_) => [0, -1, 99, i32::MIN, i32::MAX].map(Value::EnumNumber).into(),
        _ => Vec::new(),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn figures_at_the_ends_of_every_field_are_refused_or_exact() {
    let mut asking = Asking::open().await;
    let (mut cases, mut figures_found, mut accepted, mut wrong) = (0, 0, 0, Vec::new());
    for method in &methods() {
        for path in asking.paths(&method.input) {
            let values = figures(&path.last().unwrap().kind());
            figures_found += usize::from(!values.is_empty());
            for value in values {
                cases += 1;
                let Answer { said, facts } = asking.ask(method, &path, &value).await;
                let unmoved = facts.is_empty();
                let unsaid = matches!(value, Value::I32(0) | Value::I64(0) | Value::EnumNumber(0));
                let fine = match &said {
                    Ok(_) => {
                        accepted += 1;
                        // What was so already is not recorded again, whenever it is said to have been.
                        let again = facts.is_empty() && path[0].name() == "write";
                        unsaid || again || !method.writes || facts.iter().any(|fact| exact(fact, &value))
                    }
                    Err(status) if status.code() == Code::InvalidArgument => {
                        let named = fields(status).first().is_some_and(|field| names_figure(field, &path));
                        unmoved && named && !broken(status)
                    }
                    Err(status) => unmoved && !broken(status),
                };
                if !fine {
                    wrong.push(format!("{} {} {value:?}: {}", method.path, named(&path), told(&said)));
                }
            }
        }
    }
    println!("{figures_found} fields of figures, {cases} cases, {accepted} of them accepted");
    assert!(wrong.is_empty(), "{} of {cases} are wrong:\n{}", wrong.len(), wrong.join("\n"));
    assert!(figures_found > 80, "only {figures_found} fields of figures were found");
    asking.shop.verified().await;
}

/// Whether the figure stands in the fact.
fn exact(fact: &Fact, value: &Value) -> bool {
    let figure = match value {
        Value::I32(figure) | Value::EnumNumber(figure) => i64::from(*figure),
        Value::I64(figure) => *figure,
        _ => return false,
    };
    format!("{:?} {:?}", fact.body, fact.happened_at).contains(&figure.to_string())
}
