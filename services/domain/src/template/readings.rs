//! From the TOML document to readings: what a step measures, and what it has to come to.

use super::fault::{Fault, Faults};
use super::fields::{Fields, LIST_MAX, Shape, Value, integer_of, shorten, string_of};
use super::measures::read_measure;
use super::walk::{Draft, MINUTES_MAX, unknown_word};
use leadhand_facts::reading::{ReadingDetail, ReadingSpec};
use leadhand_facts::words::{ReadingKind, ReadingUnit};
use leadhand_facts::{Measure, ReadingKey};
use std::collections::BTreeMap;

const READING: &[&str] =
    &["key", "what", "kind", "unit", "of", "low", "high", "spread", "drop", "minutes", "method", "instrument"];

/// Where a reading's key stands.
pub(super) struct ReadingSite {
    pub(super) key: usize,
}

pub(super) fn walk(step: &Fields<'_, '_>, faults: &mut Faults<'_>) -> (Vec<ReadingSpec>, Vec<ReadingSite>) {
    let values = step.list("reading", LIST_MAX, faults);
    values.into_iter().filter_map(|value| walk_one(step, value, faults)).unzip()
}

fn walk_one(step: &Fields<'_, '_>, value: &Value<'_>, faults: &mut Faults<'_>) -> Option<(ReadingSpec, ReadingSite)> {
    let mut fields = Fields::of_value(value, format!("a reading of {}", step.what), faults)?;
    if let Some(key) = fields.find("key").and_then(|key| key.get_ref().as_str()) {
        fields.what = format!("reading '{}'", shorten(key));
    }
    fields.only(READING, faults);
    let (key, key_at) = fields.key("key", "key = \"compression\"", faults);
    let (what, _) = fields.text("what", Shape::Line, "what = \"Compression, dry\"", faults);
    let kinds = ReadingKind::ALL.iter().map(|word| word.word());
    let kind = word(&fields, "kind", "kind = \"compression\"", ReadingKind::from_word, kinds, faults);
    let units = ReadingUnit::ALL.iter().map(|word| word.word());
    let unit = word(&fields, "unit", "unit = \"bar\"", ReadingUnit::from_written, units, faults);
    let detail = ReadingDetail {
        labels: labels_of(&fields, faults),
        low: measure_of(&fields, "low", faults),
        high: measure_of(&fields, "high", faults),
        spread: measure_of(&fields, "spread", faults),
        drop: measure_of(&fields, "drop", faults),
        minutes: minutes_of(&fields, faults),
        method: line(&fields, "method", faults),
        instrument: line(&fields, "instrument", faults),
        ..ReadingDetail::plain(kind.unwrap_or(ReadingKind::Other), unit.unwrap_or(ReadingUnit::One))
    };
    if kind.is_some() && unit.is_some() {
        for (field, why) in unfit(&detail) {
            let field = if field == "labels" { "of" } else { field };
            let at = fields.find(field).map_or(fields.at, |value| value.span().start);
            faults.at(at, format!("{}: {why}", fields.label(field)));
        }
    }
    Some((ReadingSpec { key: ReadingKey(key), what, detail }, ReadingSite { key: key_at }))
}

/// What does not go together in a reading, each with the field that it is about; shared with readings that are added as
/// the work goes.
pub fn unfit(detail: &ReadingDetail) -> Vec<(&'static str, String)> {
    let mut wrong = Vec::new();
    let mut say = |field, why: &str| wrong.push((field, why.to_owned()));
    let held = detail.kind == ReadingKind::PressureHeld;
    if let (Some(low), Some(high)) = (detail.low, detail.high)
        && low > high
    {
        say("high", &format!("low is {low} and high is {high}; low must not be above high"));
    }
    for (field, said) in [("drop", detail.drop.is_some()), ("minutes", detail.minutes.is_some())] {
        if said && !held {
            say(field, "it is for kind pressure-held alone; take it out");
        }
    }
    if held && !detail.labels.is_empty() {
        say("labels", "a pressure that is held has the figures begin, end and minutes; take the labels out");
    }
    if detail.drop.is_some_and(|drop| drop < Measure(0)) {
        say("drop", "it is below 0; say how far the pressure may fall");
    }
    let grid = detail.kind == ReadingKind::Flatness && detail.labels.len() > 1;
    if detail.spread.is_some() && (held || grid || detail.kind == ReadingKind::LeakDown || detail.labels.len() < 2) {
        say("spread", "it compares figures of one kind; name two labels at least, or take it out");
    }
    if detail.spread.is_some_and(|spread| !(Measure(0)..=Measure::whole(100)).contains(&spread)) {
        say("spread", "it is not from 0 to 100 per cent");
    }
    if grid && detail.low.is_some() {
        say("low", "the heights of points have no least; take it out");
    }
    wrong
}

fn word<W>(
    fields: &Fields<'_, '_>,
    name: &str,
    example: &str,
    from: impl Fn(&str) -> Option<W>,
    allowed: impl Iterator<Item = &'static str>,
    faults: &mut Faults<'_>,
) -> Option<W> {
    let value = fields.required(name, example, faults)?;
    let label = fields.label(name);
    let text = string_of(value, &label, faults)?;
    let found = from(text);
    if found.is_none() {
        unknown_word(text, &label, allowed, value.span().start, faults);
    }
    found
}

fn line(fields: &Fields<'_, '_>, name: &str, faults: &mut Faults<'_>) -> Option<String> {
    fields.find(name)?;
    Some(fields.text(name, Shape::Line, "a text", faults).0)
}

fn labels_of(fields: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Vec<String> {
    let labels = fields.texts("of", faults);
    for (at, label) in labels.iter().enumerate() {
        if labels[..at].contains(label) {
            let why = format!("{} has '{}' twice; once is enough", fields.label("of"), shorten(label));
            faults.at(fields.find("of").map_or(fields.at, |value| value.span().start), why);
        }
    }
    labels
}

/// A figure as text, or a whole number. A number with a point would pass through a float, so it goes in quotes.
fn measure_of(fields: &Fields<'_, '_>, name: &str, faults: &mut Faults<'_>) -> Option<Measure> {
    let value = fields.find(name)?;
    let (at, label) = (value.span().start, fields.label(name));
    if let Some(whole) = integer_of(value).and_then(|whole| i32::try_from(whole).ok()) {
        return Some(Measure::whole(whole));
    }
    let Some(text) = value.get_ref().as_str() else {
        fields.wrong_type(name, value, "a whole number, or a figure in quotes such as \"9.5\"", faults);
        return None;
    };
    match read_measure(text) {
        Ok(measure) => Some(measure),
        Err(why) => {
            faults.at(at, format!("{label}: {why}"));
            None
        }
    }
}

fn minutes_of(fields: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Option<i32> {
    let value = fields.find("minutes")?;
    let minutes = integer_of(value).and_then(|minutes| i32::try_from(minutes).ok());
    let minutes = minutes.filter(|minutes| (1..=MINUTES_MAX).contains(minutes));
    if minutes.is_none() {
        let label = fields.label("minutes");
        faults.at(value.span().start, format!("{label} must be a whole number from 1 to {MINUTES_MAX}"));
    }
    minutes
}

/// Keys are unique in the template.
pub(super) fn check(draft: &Draft, faults: &mut Faults<'_>) {
    let mut first: BTreeMap<&ReadingKey, usize> = BTreeMap::new();
    for (stage, stage_site) in draft.template.stages.iter().zip(&draft.stages) {
        for (step, site) in stage.steps.iter().zip(&stage_site.steps) {
            let named = step.readings.iter().zip(&site.readings).filter(|(reading, _)| !reading.key.0.is_empty());
            for (reading, site) in named {
                if let Some(earlier) = first.get(&reading.key) {
                    let (key, line) = (shorten(reading.key.as_str()), faults.line_of(*earlier));
                    let cure = "give this one another key";
                    faults.at(site.key, format!("reading '{key}' is there already, in line {line}; {cure}"));
                } else {
                    first.insert(&reading.key, site.key);
                }
            }
        }
    }
}

/// Points of a face whose names do not say where they are: its range is judged, and its flatness can't be.
pub(super) fn notes(draft: &Draft, faults: &Faults<'_>) -> Vec<Fault> {
    let steps = draft.template.stages.iter().flat_map(|stage| &stage.steps);
    let sites = draft.stages.iter().flat_map(|stage| &stage.steps);
    let readings = steps.zip(sites).flat_map(|(step, site)| step.readings.iter().zip(&site.readings));
    let faces = readings.filter(|(reading, _)| reading.detail.kind == ReadingKind::Flatness);
    let noted = faces.filter_map(|(reading, site)| {
        let labels = &reading.detail.labels;
        let nowhere = labels.iter().filter(|_| labels.len() > 1).find(|label| !is_place(label))?;
        let place = faults.position(site.key);
        let message = format!(
            "reading '{}': the point '{}' does not say where it is, so that only the range of the heights is judged; name \
             points by their place in millimetres, along and across, such as 90_70",
            shorten(reading.key.as_str()),
            shorten(nowhere)
        );
        Some(Fault { line: place.line, column: place.column, message })
    });
    noted.collect()
}

/// `90_70`, `90/70` or `90 70`.
fn is_place(label: &str) -> bool {
    let parted = label.split_once(['_', '/']).or_else(|| label.trim().split_once(char::is_whitespace));
    let is_number = |part: &str| {
        let digits = part.trim().trim_start_matches('-').replacen([',', '.'], "", 1);
        !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit())
    };
    parted.is_some_and(|(along, across)| is_number(along) && is_number(across))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_that_says_where_it_is_says_two_numbers() {
        for place in ["90_70", "0/0", "0 / 90", "90 70", "-12.5_3,5"] {
            assert!(is_place(place), "{place}");
        }
        for name in ["left", "90", "a/b", "90_", "90/0 kg", "1.2.3_4", ""] {
            assert!(!is_place(name), "{name}");
        }
    }
}
