//! From the TOML document to positions: what a step takes off, moves aside, takes off only for access, or puts in.

use super::amount;
use super::fault::Faults;
use super::fields::{Fields, LIST_MAX, Shape, Value, check_key, integer_of, shorten, string_of};
use super::ladders;
use super::walk::unknown_word;
use leadhand_facts::strip::{PositionDetail, PositionSpec, Tighten};
use leadhand_facts::words::{Keep, Manner, PositionKind, Reach, Renew};
use leadhand_facts::{ItemKey, LadderKey, PositionKey, StageKey};

/// The list of a step for each manner.
const LISTS: [(&str, Manner); 4] =
    [("off", Manner::Off), ("aside", Manner::Aside), ("access", Manner::Access), ("in", Manner::In)];
const POSITION: &[&str] = &[
    "key",
    "what",
    "kind",
    "count",
    "size",
    "head",
    "where",
    "on",
    "behind",
    "reach",
    "keep",
    "renew",
    "check",
    "back",
    "tighten",
    "how",
    "second-check",
    "item",
    "cure",
    "tags",
    "ladder",
];
/// Most minutes of a cure: a week.
pub const CURE_MAX: i64 = 7 * 24 * 60;
/// How a stage of tightening is written.
pub const TIGHTEN_FORM: &str =
    "a torque such as \"25 N.m\" (up to 2000) or \"70 lbf.ft\", or an angle such as \"90 deg\" (up to 360)";
/// What is wrong with an angle that stands first.
pub const ANGLE_FIRST: &str =
    "an angle counts from a torque, and none comes before it; begin with the torque to which it is tightened first";
/// What goes together.
pub const CHECK_AND_RENEW: &str =
    "the check that decides is written with renew = \"check\", and only then; give both or neither";
/// Most places of a position.
const COUNT_MAX: i64 = 1_000;

/// Where the parts of a position stand.
pub(super) struct PositionSite {
    pub(super) key: usize,
    pub(super) on: usize,
    pub(super) behind: Vec<usize>,
    pub(super) back: usize,
    pub(super) item: Option<(ItemKey, usize)>,
    pub(super) ladder: usize,
}

pub(super) fn walk(step: &Fields<'_, '_>, faults: &mut Faults<'_>) -> (Vec<PositionSpec>, Vec<PositionSite>) {
    let mut found = Vec::new();
    for (name, manner) in LISTS {
        for value in step.list(name, LIST_MAX, faults) {
            found.extend(walk_one(step, name, manner, value, faults));
        }
    }
    found.into_iter().unzip()
}

fn walk_one(
    step: &Fields<'_, '_>,
    list: &str,
    manner: Manner,
    value: &Value<'_>,
    faults: &mut Faults<'_>,
) -> Option<(PositionSpec, PositionSite)> {
    let mut fields = Fields::of_value(value, format!("an entry of '{list}' of {}", step.what), faults)?;
    if let Some(key) = fields.find("key").and_then(|key| key.get_ref().as_str()) {
        fields.what = format!("position '{}'", shorten(key));
    }
    fields.only(POSITION, faults);
    let (key, key_at) = fields.key("key", "key = \"intake-nuts\"", faults);
    let (what, _) = fields.text("what", Shape::Line, "what = \"Intake manifold nuts\"", faults);
    let usual = if manner == Manner::In { PositionKind::Aid } else { PositionKind::Part };
    let kind = word(&fields, "kind", PositionKind::from_word, PositionKind::ALL.iter().map(|w| w.word()), faults);
    let (attached_to, on) = other(&fields, "on", faults);
    let (behind, behind_at) = others(&fields, faults);
    if manner == Manner::In && fields.find("behind").is_none() {
        let why = "is put in and says not behind what: name in behind what has to come off before it goes in, and waits until it is out again, or write behind = [] when it stands alone";
        faults.at(fields.at, format!("{} {why}", fields.what));
    }
    let (back, back_at) = other(&fields, "back", faults);
    let (item, item_at) = other(&fields, "item", faults);
    let item = item.map(ItemKey);
    let (ladder, ladder_at) = other(&fields, "ladder", faults);
    let renew = word(&fields, "renew", Renew::from_word, Renew::ALL.iter().map(|w| w.word()), faults);
    let check = line(&fields, "check", faults);
    let renew = renew.unwrap_or(if check.is_some() { Renew::Check } else { Renew::Reuse });
    if check.is_some() != (renew == Renew::Check) {
        faults.at(fields.at, format!("{}: {CHECK_AND_RENEW}", fields.what));
    }
    let detail = PositionDetail {
        size: size(&fields, "size", faults),
        head: size(&fields, "head", faults),
        location: line(&fields, "where", faults),
        attached_to: attached_to.map(PositionKey),
        behind,
        reach: word(&fields, "reach", Reach::from_word, Reach::ALL.iter().map(|w| w.word()), faults),
        keep: word(&fields, "keep", Keep::from_word, Keep::ALL.iter().map(|w| w.word()), faults),
        renew,
        check,
        back: back.map(StageKey),
        tighten: tighten_of(&fields, faults),
        how: fields.texts("how", faults),
        second_check: fields.flag("second-check", false, faults),
        item: item.clone(),
        cure_minutes: ladders::minutes(&fields, "cure", CURE_MAX, faults),
        ladder: ladder.map(LadderKey),
        tags: fields.flag("tags", false, faults),
        ..PositionDetail::plain(kind.unwrap_or(usual), manner, count_of(&fields, faults))
    };
    let item = item.map(|item| (item, item_at));
    let site = PositionSite { key: key_at, on, behind: behind_at, back: back_at, item, ladder: ladder_at };
    Some((PositionSpec { key: PositionKey(key), what, detail }, site))
}

fn word<W>(
    fields: &Fields<'_, '_>,
    name: &str,
    from: impl Fn(&str) -> Option<W>,
    allowed: impl Iterator<Item = &'static str>,
    faults: &mut Faults<'_>,
) -> Option<W> {
    let value = fields.find(name)?;
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

/// A thread, a length or a head.
fn size(fields: &Fields<'_, '_>, name: &str, faults: &mut Faults<'_>) -> Option<String> {
    let text = line(fields, name, faults)?;
    if let Some(why) = fault_of_size(&text) {
        faults.at(fields.at, format!("{} is '{}': {why}", fields.label(name), shorten(&text)));
    }
    Some(text)
}

/// What is wrong with a size that begins with a number; words are anybody's own.
pub fn fault_of_size(text: &str) -> Option<&'static str> {
    let mut words = text.split_whitespace();
    let number = words.next()?.replace(',', ".").parse::<f64>().ok()?;
    // Gauges of wire begin with 0 as well.
    let measured = words.next().is_none_or(|unit| matches!(unit, "mm" | "x" | "in"));
    (number <= 0.0 && measured).then_some("a size is more than 0; write it as the tool or the drawing has it")
}

/// The key of something else.
fn other(fields: &Fields<'_, '_>, name: &str, faults: &mut Faults<'_>) -> (Option<String>, usize) {
    let Some(value) = fields.find(name) else { return (None, fields.at) };
    let at = value.span().start;
    let label = fields.label(name);
    let key = string_of(value, &label, faults);
    if let Some(key) = key {
        check_key(key, at, &label, faults);
    }
    (key.map(str::to_owned), at)
}

fn others(fields: &Fields<'_, '_>, faults: &mut Faults<'_>) -> (Vec<PositionKey>, Vec<usize>) {
    let label = format!("an entry of {}", fields.label("behind"));
    let (mut keys, mut sites) = (Vec::new(), Vec::new());
    for value in fields.list("behind", LIST_MAX, faults) {
        let at = value.span().start;
        let Some(key) = string_of(value, &label, faults) else { continue };
        let key = PositionKey(key.to_owned());
        if keys.contains(&key) {
            faults.at(at, format!("{label} is '{}' again; once is enough", shorten(key.as_str())));
            continue;
        }
        keys.push(key);
        sites.push(at);
    }
    (keys, sites)
}

fn count_of(fields: &Fields<'_, '_>, faults: &mut Faults<'_>) -> i32 {
    let Some(value) = fields.find("count") else { return 1 };
    let count = integer_of(value).filter(|count| (1..=COUNT_MAX).contains(count));
    count.and_then(|count| i32::try_from(count).ok()).unwrap_or_else(|| {
        let label = fields.label("count");
        faults.at(value.span().start, format!("{label} must be a whole number from 1 to {COUNT_MAX}"));
        1
    })
}

fn tighten_of(fields: &Fields<'_, '_>, faults: &mut Faults<'_>) -> Vec<Tighten> {
    let label = format!("an entry of {}", fields.label("tighten"));
    let mut stages = Vec::new();
    for value in fields.list("tighten", LIST_MAX, faults) {
        let Some(text) = string_of(value, &label, faults) else { continue };
        if let Some(stage) = read_tighten(text) {
            stages.push(stage);
        } else {
            faults.at(value.span().start, format!("{label} is '{}'; write {TIGHTEN_FORM}", shorten(text)));
        }
    }
    if matches!(stages.first(), Some(Tighten::AngleDegrees(_))) {
        faults.at(fields.at, format!("{label}: {ANGLE_FIRST}"));
    }
    stages
}

/// Torques in other units, exactly, by the definitions of pound, inch and standard gravity: so many parts of 10^16 N.m.
const TORQUES: [(&str, i128); 4] = [
    ("N.m", 10_000_000_000_000_000),
    ("lbf.ft", 13_558_179_483_314_004),
    ("lbf.in", 1_129_848_290_276_167),
    ("kgf.m", 98_066_500_000_000_000),
];

/// How manuals write the same besides.
const SPELT: [(&str, &str); 10] = [
    ("ft.lb", "lbf.ft"),
    ("ft.lbf", "lbf.ft"),
    ("lb.ft", "lbf.ft"),
    ("ft-lb", "lbf.ft"),
    ("ft-lbf", "lbf.ft"),
    ("lb-ft", "lbf.ft"),
    ("in.lb", "lbf.in"),
    ("in.lbf", "lbf.in"),
    ("lb.in", "lbf.in"),
    ("in-lb", "lbf.in"),
];

/// `25 N.m`, by its UCUM code, `70 lbf.ft` as manuals have it, or `90 deg`. What is no whole number of thousandths of a
/// newton metre is rounded half up to one.
pub fn read_tighten(text: &str) -> Option<Tighten> {
    let (number, code) = text.split_once(' ')?;
    let stage = if code == "deg" {
        let degrees = amount::thousandths(number).filter(|milli| milli % 1000 == 0)? / 1000;
        Tighten::AngleDegrees(i32::try_from(degrees).ok()?)
    } else {
        let code = SPELT.iter().find(|(spelt, _)| *spelt == code).map_or(code, |(_, code)| *code);
        let (_, parts) = TORQUES.iter().find(|(known, _)| *known == code)?;
        let milli = (i128::from(amount::thousandths(number)?) * parts * 2 + TORQUES[0].1) / (TORQUES[0].1 * 2);
        Tighten::TorqueMilli(i64::try_from(milli).ok()?)
    };
    is_tightening(stage).then_some(stage)
}

/// Whether a stage of tightening is in its range.
pub fn is_tightening(stage: Tighten) -> bool {
    match stage {
        Tighten::TorqueMilli(milli) => (1..=2_000_000).contains(&milli),
        Tighten::AngleDegrees(degrees) => (1..=360).contains(&degrees),
    }
}

/// As it is written in a template.
pub fn written(stage: Tighten) -> String {
    match stage {
        Tighten::AngleDegrees(degrees) => format!("{degrees} deg"),
        Tighten::TorqueMilli(milli) if milli % 1000 == 0 => format!("{} N.m", milli / 1000),
        Tighten::TorqueMilli(milli) => {
            let rest = format!("{:03}", milli % 1000);
            format!("{}.{} N.m", milli / 1000, rest.trim_end_matches('0'))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // UCUM: N.m is the newton metre, deg the degree of plane angle.
    #[test]
    fn tightening_is_read_exactly_and_written_back() {
        for (text, stage) in [
            ("25 N.m", Tighten::TorqueMilli(25_000)),
            ("7.5 N.m", Tighten::TorqueMilli(7_500)),
            ("0.001 N.m", Tighten::TorqueMilli(1)),
            ("90 deg", Tighten::AngleDegrees(90)),
        ] {
            assert_eq!(read_tighten(text), Some(stage), "{text}");
            assert_eq!(written(stage), text);
        }
        // Factors: NIST SP 811, Appendix B.
        for (text, milli) in
            [("70 lbf.ft", 94_907), ("100 lbf.in", 11_298), ("4.5 kgf.m", 44_130), ("22.125 lbf.ft", 29_997)]
        {
            assert_eq!(read_tighten(text), Some(Tighten::TorqueMilli(milli)), "{text}");
        }
        // 35 ft.lb, and 47.454 N.m: the same factor.
        for spelt in ["ft.lb", "ft.lbf", "lb.ft", "ft-lb", "ft-lbf", "lb-ft"] {
            assert_eq!(read_tighten(&format!("35 {spelt}")), Some(Tighten::TorqueMilli(47_454)), "{spelt}");
        }
        for spelt in ["in.lb", "in.lbf", "lb.in", "in-lb"] {
            assert_eq!(read_tighten(&format!("100 {spelt}")), Some(Tighten::TorqueMilli(11_298)), "{spelt}");
        }
        for wrong in [
            "1476 lbf.ft",
            "70 ft",
            "70 lbf",
            "25",
            "25 Nm",
            "25N.m",
            "-1 N.m",
            "0 N.m",
            "2001 N.m",
            "0.0005 N.m",
            "361 deg",
            "0 deg",
            "90.5 deg",
            "",
        ] {
            assert_eq!(read_tighten(wrong), None, "{wrong}");
        }
    }
}
