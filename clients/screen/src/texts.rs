//! The words on the pages, from Fluent files. The trade's words differ between languages of one people too.

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use leadhand_sdk::WireTimestamp;
use leadhand_sdk::moment::{self, DateOrder};
use std::sync::Arc;

/// Languages that there are words for; the first is spoken unless another is asked for.
pub const LOCALES: [&str; 2] = ["en-GB", "en-US"];
/// Their files, in the same order.
const FILES: [&str; 2] = [include_str!("../texts/en-GB.ftl"), include_str!("../texts/en-US.ftl")];

/// The words of one language. Cheap to clone.
#[derive(Clone)]
pub struct Texts {
    lang: &'static str,
    bundle: Arc<FluentBundle<FluentResource>>,
}

impl Texts {
    /// The words of this language; of the first one when there are none.
    pub fn of(locale: &str) -> Self {
        let at = LOCALES.iter().position(|known| *known == locale).unwrap_or(0);
        let lang = LOCALES[at];
        let mut bundle = FluentBundle::new_concurrent(lang.parse().into_iter().collect());
        // Marks around what is put in would be copied along with it; both languages run one way.
        bundle.set_use_isolating(false);
        let resource = FluentResource::try_new(FILES[at].to_owned()).unwrap_or_else(|(read, faults)| {
            tracing::error!(?faults, "the words of {lang} can't be read whole");
            read
        });
        bundle.add_resource_overriding(resource);
        Self { lang, bundle: Arc::new(bundle) }
    }

    /// The language, as HTML names it.
    pub fn lang(&self) -> &'static str {
        self.lang
    }

    /// In which order dates are said.
    pub fn order(&self) -> DateOrder {
        if self.lang == "en-US" { DateOrder::MonthFirst } else { DateOrder::DayFirst }
    }

    /// A moment, as short as it can be understood at another one.
    pub fn near(&self, at: Option<&WireTimestamp>, zone: &TimeZone, now: Timestamp) -> String {
        moment::show_near_in(at, zone, now, self.order())
    }

    /// A day of this year: with its weekday, or without.
    pub fn day(&self, day: Date, weekday: bool) -> String {
        let format = match (self.order(), weekday) {
            (DateOrder::DayFirst, true) => "%a %-d %b",
            (DateOrder::DayFirst, false) => "%-d %b",
            (DateOrder::MonthFirst, true) => "%a, %b %-d",
            (DateOrder::MonthFirst, false) => "%b %-d",
        };
        day.strftime(format).to_string()
    }

    /// The words under a key; the key itself when there are none.
    pub fn say(&self, key: &str) -> String {
        self.format(key, None)
    }

    /// The same with a number.
    pub fn count(&self, key: &str, n: usize) -> String {
        self.with(key, &[("n", FluentValue::from(n))])
    }

    /// The same with words in it.
    pub fn fill(&self, key: &str, name: &str, value: &str) -> String {
        self.with(key, &[(name, FluentValue::from(value))])
    }

    /// The same with more of both.
    pub fn with(&self, key: &str, values: &[(&str, FluentValue<'_>)]) -> String {
        let args: FluentArgs<'_> = values.iter().map(|(name, value)| (*name, value.clone())).collect();
        self.format(key, Some(&args))
    }

    /// A word of a closed vocabulary, by its name in the contract: `CAUSE_SENT_OUT` is under `cause-sent-out`.
    pub fn word(&self, contract_name: &str) -> String {
        self.say(&contract_name.to_lowercase().replace('_', "-"))
    }

    fn format(&self, key: &str, args: Option<&FluentArgs<'_>>) -> String {
        let Some(pattern) = self.bundle.get_message(key).and_then(|message| message.value()) else {
            tracing::error!(key, "there are no words under this key");
            return key.to_owned();
        };
        let mut faults = Vec::new();
        let said = self.bundle.format_pattern(pattern, args, &mut faults).into_owned();
        if !faults.is_empty() {
            tracing::error!(key, ?faults, "these words can't be put together");
        }
        said
    }
}

#[cfg(test)]
#[path = "texts_tests.rs"]
mod tests;
