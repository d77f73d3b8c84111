//! The three files that are the shop.

use anyhow::{Context, ensure};
use leadhand_facts::text::{TEXT_MAX, TextBody};
use leadhand_facts::upcast;
use leadhand_facts::{Entry, FactId, Instant, PersonId, PrincipalId, RequestId, ShopId, Stored};
use leadhand_store::Head;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::Path;

/// What is there.
pub(super) const SHOP: &str = "shop.json";
/// The facts.
pub(super) const JOURNAL: &str = "journal.jsonl";
/// The words.
pub(super) const TEXTS: &str = "texts.jsonl";
/// The form of the files; a program reads those up to its own. Since 2 a fact may say on whose word it was
/// recorded, which an older program would drop without a word.
const FORM: u32 = 2;

/// What is there.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Content {
    /// The form of the files.
    pub form: u32,
    /// The version of the program that wrote them.
    pub made_by: String,
    /// The shop.
    pub shop: ShopId,
    /// Facts.
    pub facts: i64,
    /// The last fact's id.
    pub fact_id: Option<FactId>,
    /// When the last fact was recorded.
    pub recorded_at: Instant,
    /// Texts that were not erased.
    pub texts: usize,
    /// Rows of the derived tables.
    pub rows: usize,
}

impl Content {
    /// Of a shop of which nothing was written yet.
    pub fn of(shop: ShopId, head: &Head) -> Self {
        let made_by = env!("CARGO_PKG_VERSION").to_owned();
        let Head { fact_id, recorded_at, .. } = *head;
        Self { form: FORM, made_by, shop, facts: 0, fact_id, recorded_at, texts: 0, rows: 0 }
    }

    /// Reads what an export says of itself.
    pub fn read(directory: &Path) -> anyhow::Result<Self> {
        let path = directory.join(SHOP);
        let said = std::fs::read_to_string(&path)
            .with_context(|| format!("{} is no export: {} can't be read", directory.display(), path.display()))?;
        let content: Self = serde_json::from_str(&said)
            .with_context(|| format!("{} is damaged, or of a newer leadhandd", path.display()))?;
        ensure!(
            content.form <= FORM,
            "the export in {} was made by leadhandd {}, which is newer than this one; take it in with that version",
            directory.display(),
            content.made_by
        );
        Ok(content)
    }
}

/// A fact as a line of the file.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Line {
    number: i64,
    fact_id: FactId,
    recorded_at: Instant,
    happened_at: Instant,
    principal: Option<PrincipalId>,
    person: Option<PersonId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    proved: Option<PersonId>,
    request: RequestId,
    #[serde(flatten)]
    fact: Stored,
}

impl Line {
    /// Of a fact.
    pub fn of(entry: Entry) -> Result<Self, serde_json::Error> {
        let Entry { number, fact_id, recorded_at, happened_at, principal, person, proved, request, fact } = entry;
        let fact = upcast::store(&fact)?;
        Ok(Self { number, fact_id, recorded_at, happened_at, principal, person, proved, request, fact })
    }

    fn entry(self) -> anyhow::Result<Entry> {
        let Self { number, fact_id, recorded_at, happened_at, principal, person, proved, request, fact } = self;
        let fact = upcast::read(fact)?;
        Ok(Entry { number, fact_id, recorded_at, happened_at, principal, person, proved, request, fact })
    }
}

/// The facts in order.
pub(super) fn journal(directory: &Path) -> anyhow::Result<impl Iterator<Item = anyhow::Result<Entry>> + Send> {
    let name = directory.join(JOURNAL).display().to_string();
    let lines = lines::<Line>(directory, JOURNAL)?;
    Ok(lines.zip(1..).map(move |(line, at)| {
        line.and_then(Line::entry).with_context(|| format!("line {at} of {name} is no fact that this leadhandd knows"))
    }))
}

/// The words of texts, each once, and each fit to be kept.
pub(super) fn texts(directory: &Path) -> anyhow::Result<Vec<TextBody>> {
    let (mut texts, mut seen) = (Vec::new(), BTreeSet::new());
    for (text, at) in lines::<TextBody>(directory, TEXTS)?.zip(1..) {
        let text = text?;
        let salted = text.salt.len() == 32 && text.salt.bytes().all(|digit| matches!(digit, b'0'..=b'9' | b'a'..=b'f'));
        let kept = !text.body.contains('\0') && text.body.chars().count() <= TEXT_MAX;
        let once = seen.insert(text.id);
        ensure!(
            salted && kept && once,
            "line {at} of {} is no text that can be kept, or is there twice; export the shop again",
            directory.join(TEXTS).display()
        );
        texts.push(text);
    }
    Ok(texts)
}

fn lines<T: DeserializeOwned>(
    directory: &Path,
    name: &str,
) -> anyhow::Result<impl Iterator<Item = anyhow::Result<T>> + Send + use<T>> {
    let path = directory.join(name);
    let failed = move |at: usize| format!("line {at} of {} is damaged; export the shop again", path.display());
    let path = directory.join(name);
    let file = File::open(&path).with_context(|| format!("{} can't be read", path.display()))?;
    let lines = BufReader::new(file).lines().zip(1..);
    Ok(lines.map(move |(line, at)| {
        let line = line.with_context(|| failed(at))?;
        serde_json::from_str(&line).with_context(|| failed(at))
    }))
}
