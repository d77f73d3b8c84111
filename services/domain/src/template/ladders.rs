//! From the TOML document to ladders: what is tried at something that will not move, gentle measures first.

use super::fault::Faults;
use super::fields::{Fields, LIST_MAX, Shape, integer_of, shorten};
use super::steps::cautions_of;
use super::walk::skills_of;
use leadhand_facts::LadderKey;
use leadhand_facts::strip::{Ladder, Rung};

const LADDER: &[&str] = &["key", "rung"];
const RUNG: &[&str] = &["do", "tools", "caution", "skills", "soak", "last-safe"];
/// Most rungs of a ladder.
const RUNGS_MAX: usize = 20;
/// Most minutes that a rung soaks: a week.
const SOAK_MAX: i64 = 7 * 24 * 60;

pub(super) fn walk(top: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Vec<Ladder> {
    let mut ladders: Vec<Ladder> = Vec::new();
    for (index, value) in top.list("ladder", LIST_MAX, faults).into_iter().enumerate() {
        let Some(mut fields) = Fields::of_value(value, format!("ladder {}", index + 1), faults) else { continue };
        if let Some(key) = fields.find("key").and_then(|key| key.get_ref().as_str()) {
            fields.what = format!("ladder '{}'", shorten(key));
        }
        fields.only(LADDER, faults);
        let (key, key_at) = fields.key("key", "key = \"exhaust-studs\"", faults);
        if !key.is_empty() && ladders.iter().any(|ladder| ladder.key.as_str() == key) {
            faults.at(key_at, format!("{} is there already; give this one another key", fields.what));
        }
        let rungs = rungs_of(&fields, faults);
        ladders.push(Ladder { key: LadderKey(key), rungs });
    }
    ladders
}

fn rungs_of(ladder: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Vec<Rung> {
    let mut rungs: Vec<Rung> = Vec::new();
    for (index, value) in ladder.list("rung", RUNGS_MAX, faults).into_iter().enumerate() {
        let what = format!("rung {} of {}", index + 1, ladder.what);
        let Some(fields) = Fields::of_value(value, what, faults) else { continue };
        fields.only(RUNG, faults);
        let (measure, _) = fields.text("do", Shape::Line, "do = \"Let it soak\"", faults);
        let rung = Rung {
            measure,
            tools: fields.texts("tools", faults),
            cautions: cautions_of(&fields, faults),
            skills: skills_of(&fields, faults),
            soak_minutes: minutes(&fields, "soak", SOAK_MAX, faults),
            last_safe: fields.flag("last-safe", false, faults),
        };
        if rung.last_safe && rungs.iter().any(|rung| rung.last_safe) {
            let why = "a rung before it is the last safe try already; mark one of them";
            faults.at(fields.at, format!("{}: {why}", fields.what));
        }
        rungs.push(rung);
    }
    if rungs.is_empty() {
        faults.absent(ladder.at, format!("{} has no rungs; add at least one [[ladder.rung]]", ladder.what));
    }
    rungs
}

/// Whole minutes from 1.
pub(super) fn minutes(fields: &Fields<'_, '_>, name: &str, most: i64, faults: &mut Faults<'_>) -> Option<i32> {
    let value = fields.find(name)?;
    let minutes = integer_of(value).filter(|minutes| (1..=most).contains(minutes));
    let minutes = minutes.and_then(|minutes| i32::try_from(minutes).ok());
    if minutes.is_none() {
        let label = fields.label(name);
        faults.at(value.span().start, format!("{label} {}", minutes_wanted(most)));
    }
    minutes
}

/// What minutes have to be.
pub fn minutes_wanted(most: i64) -> String {
    format!("must be whole minutes from 1 to {most}")
}
