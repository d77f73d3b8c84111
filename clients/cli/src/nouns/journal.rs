//! `leadhand journal`.

use crate::app::App;
use crate::failure::Outcome;
use crate::json;
use crate::moment;
use crate::out::{clean, note};
use clap::Subcommand;
use futures::StreamExt;
use jiff::tz::TimeZone;
use leadhand_sdk::JournalEvent;
use leadhand_sdk::v1::{Cursor, Fact, ReadJournalRequest};
use serde_json::Value;
use std::collections::HashMap;
use std::pin::pin;

/// The numbered list of everything that happened.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Facts that are there, a line each
    Read {
        /// The number to begin with
        #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(i64).range(0..), value_name = "N")]
        from: i64,
        /// At most this many
        #[arg(long, value_parser = clap::value_parser!(u64).range(1..))]
        limit: Option<u64>,
    },
    /// Facts that are there, and then each as it is written, a line each
    Follow {
        /// The number to begin with
        #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(i64).range(0..), value_name = "N")]
        from: i64,
    },
}

/// Runs it. As JSON each fact is an object on a line of its own, so that a journal of any length
/// can be read as it comes.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Read { from, limit } => read(app, from, limit.unwrap_or(u64::MAX)).await,
        Command::Follow { from } => follow(app, from).await,
    }
}

async fn read(app: &App, from: i64, limit: u64) -> Outcome {
    let mut after = Cursor { number: (from - 1).max(0), fact_id: String::new() };
    let mut left = limit;
    while left > 0 {
        let page_size = i32::try_from(left.min(500)).unwrap_or(500);
        let answer = app.client.read_journal(ReadJournalRequest { after: Some(after.clone()), page_size }).await?;
        for fact in &answer.facts {
            print(app, fact).await?;
            after = Cursor { number: fact.number, fact_id: fact.fact_id.clone() };
            left = left.saturating_sub(1);
        }
        if answer.facts.is_empty() || after.number >= answer.head {
            break;
        }
    }
    Ok(())
}

async fn follow(app: &App, from: i64) -> Outcome {
    let mut events =
        pin!(app.client.follow_journal_events(Cursor { number: (from - 1).max(0), fact_id: String::new() }));
    while let Some(event) = events.next().await {
        match event? {
            JournalEvent::Fact(fact) => print(app, &fact).await?,
            JournalEvent::Live => note("leadhand: the server is heard again"),
            JournalEvent::NotLive { why, .. } => note(&format!("leadhand: {}; trying again", clean(&why))),
        }
    }
    Ok(())
}

async fn print(app: &App, fact: &Fact) -> Outcome {
    if app.out.is_json() {
        return crate::out::put(&format!("{}\n", json::of(fact)?));
    }
    crate::out::line(&line(fact, app.zone().await?))
}

/// A fact on one line: number, when it happened, kind, fields. When it was recorded is said where
/// that was later by a minute or more.
fn line(fact: &Fact, zone: &TimeZone) -> String {
    let late = match (&fact.happened_at, &fact.recorded_at) {
        (Some(happened), Some(recorded)) if recorded.seconds - happened.seconds >= 60 => {
            format!(" (recorded {})", moment::show(Some(recorded), zone))
        }
        _ => String::new(),
    };
    let by = by(fact);
    let body = fact.body.as_ref().map(json::from_struct);
    let fields = match body {
        Some(Value::Object(fields)) => {
            let parts: Vec<String> =
                fields.iter().map(|(key, value)| format!("{key}={}", brief(value, &fact.words))).collect();
            short(&parts.join(" "))
        }
        _ => String::new(),
    };
    clean(
        format!(
            "{:>6}  {}{late}  {}{by}  {fields}",
            fact.number,
            moment::show(fact.happened_at.as_ref(), zone),
            fact.kind
        )
        .trim_end(),
    )
}

/// Of a fact that carries a whole template or calendar its beginning: a line is looked over, and JSON has all of it.
fn short(fields: &str) -> String {
    const MOST: usize = 400;
    if fields.chars().count() <= MOST {
        return fields.to_owned();
    }
    let kept: String = fields.chars().take(MOST).collect();
    format!("{kept}\u{2026} ({} more characters; --output json shows them)", fields.chars().count() - MOST)
}

/// Who acted, and on whose word when that was another's.
fn by(fact: &Fact) -> String {
    let by = fact.words.get(&fact.person).map(|name| format!(" by {name}")).unwrap_or_default();
    if fact.proved_by.is_empty() {
        return by;
    }
    let word = fact.words.get(&fact.proved_by).map_or("(erased)", String::as_str);
    format!("{by} on the word of {word}")
}

/// A value as people read it: names in the place of persons' ids, words in the place of texts.
fn brief(value: &Value, words: &HashMap<String, String>) -> String {
    let quoted = |said: &String| format!("\"{said}\"");
    match value {
        Value::String(text) => words.get(text).map_or_else(|| text.clone(), quoted),
        Value::Array(list) => {
            let parts: Vec<String> = list.iter().map(|value| brief(value, words)).collect();
            format!("[{}]", parts.join(", "))
        }
        Value::Object(fields) => {
            if let (Some(Value::String(id)), Some(_)) = (fields.get("id"), fields.get("hash")) {
                return words.get(id).map_or_else(|| "(erased)".to_owned(), quoted);
            }
            let parts: Vec<String> =
                fields.iter().map(|(key, value)| format!("{key}={}", brief(value, words))).collect();
            format!("{{{}}}", parts.join(" "))
        }
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use prost_types::value::Kind;
    use prost_types::{Struct, Timestamp};

    #[test]
    fn names_and_words_stand_where_their_ids_do_and_what_was_erased_is_said() {
        let words = [("p-1", "Flint"), ("t-1", "engine is cold")].map(|(id, said)| (id.to_owned(), said.to_owned()));
        let body = serde_json::json!({
            "overridden": {"id": "t-1", "hash": "ab"},
            "reason": {"id": "t-2", "hash": "cd"},
            "person": "p-1",
            "after": [{"stage": "strip", "wait": 30}],
        });
        assert_eq!(
            brief(&body, &words.into()),
            "{after=[{stage=\"strip\" wait=30}] overridden=\"engine is cold\" person=\"Flint\" reason=(erased)}"
                .replace("\"strip\"", "strip")
        );
    }

    #[test]
    fn a_long_fact_is_cut_and_says_so() {
        assert_eq!(short("bay=lift-1"), "bay=lift-1");
        let cut = short(&"x".repeat(1_000));
        assert!(cut.starts_with("xxx") && cut.ends_with("\u{2026} (600 more characters; --output json shows them)"));
    }

    #[test]
    fn on_whose_word_somebody_acted_is_said() {
        let words = [("p-1", "Teasel"), ("p-2", "Wren")].map(|(id, name)| (id.to_owned(), name.to_owned())).into();
        let own = Fact { person: "p-1".into(), words, ..Default::default() };
        assert_eq!(by(&own), " by Teasel");
        let mut on_a_word = Fact { proved_by: "p-2".into(), ..own };
        assert_eq!(by(&on_a_word), " by Teasel on the word of Wren");
        on_a_word.words.remove("p-2");
        assert_eq!(by(&on_a_word), " by Teasel on the word of (erased)");
    }

    #[test]
    fn a_fact_entered_late_says_when_it_was_recorded() {
        let text = prost_types::Value { kind: Some(Kind::StringValue("lift-1".into())) };
        let fact = Fact {
            number: 12,
            kind: "vehicle_placed".into(),
            happened_at: Some(Timestamp { seconds: 0, nanos: 0 }),
            recorded_at: Some(Timestamp { seconds: 3600, nanos: 0 }),
            body: Some(Struct { fields: [("bay".to_owned(), text)].into() }),
            ..Default::default()
        };
        assert_eq!(
            line(&fact, &TimeZone::UTC),
            "    12  1970-01-01 00:00 (recorded 1970-01-01 01:00)  vehicle_placed  bay=lift-1"
        );
    }
}
