//! Tools as they are written on steps, collected for a whole stage: `socket 8 mm` here and `sockets 10 and 12 mm` there
//! are one line, `8, 10 and 12 mm sockets`. What is not understood stays as it was written.

use std::collections::BTreeMap;

/// What a hand calls by its size, with its plural. American words stand beside British ones and are kept apart: the
/// template's words come back as they were written.
const NOUNS: [(&str, &str); 8] = [
    ("socket", "sockets"),
    ("spanner", "spanners"),
    ("wrench", "wrenches"),
    ("hex key", "hex keys"),
    ("bit", "bits"),
    ("crowfoot", "crowfeet"),
    ("drift", "drifts"),
    ("drill", "drills"),
];

/// One line of a collected list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Collected<P> {
    /// What to take along.
    pub text: String,
    /// Where it is needed first.
    pub first: P,
}

/// A tool that is called by its size.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Sized {
    /// Which of [`NOUNS`].
    noun: usize,
    /// What else is said of it, such as `six-point`.
    form: String,
}

/// Collects tools in the order in which they are first needed.
pub fn collect<P: Clone + Ord>(tools: impl IntoIterator<Item = (String, P)>) -> Vec<Collected<P>> {
    let mut sized: BTreeMap<Sized, (BTreeMap<i64, String>, P)> = BTreeMap::new();
    let mut plain: BTreeMap<String, (String, P)> = BTreeMap::new();
    for (words, place) in tools {
        let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
        match read(&words) {
            Some((tool, sizes)) => {
                let entry = sized.entry(tool).or_insert_with(|| (BTreeMap::new(), place.clone()));
                entry.1 = entry.1.clone().min(place);
                entry.0.extend(sizes);
            }
            None if words.is_empty() => {}
            None => {
                let entry = plain.entry(words.to_lowercase()).or_insert_with(|| (words, place.clone()));
                entry.1 = entry.1.clone().min(place);
            }
        }
    }
    let sized = sized.into_iter().map(|(tool, (sizes, first))| Collected { text: said(&tool, &sizes), first });
    let plain = plain.into_values().map(|(text, first)| Collected { text, first });
    let mut all: Vec<Collected<P>> = sized.chain(plain).collect();
    // Stable: at the same step what has a size comes first.
    all.sort_by(|one, other| one.first.cmp(&other.first));
    all
}

/// `socket 8 mm`, `sockets 8, 10 and 12 mm`, `12 mm six-point socket`, `socket 12 mm, six-point`; nothing for anything else.
fn read(words: &str) -> Option<(Sized, BTreeMap<i64, String>)> {
    let spaced = words.to_lowercase().replace(',', " , ");
    let mut tokens: Vec<&str> = spaced.split_whitespace().collect();
    // `8mm` is `8 mm`.
    if let Some(at) = tokens.iter().position(|token| size(token.strip_suffix("mm").unwrap_or_default()).is_some()) {
        let bare = tokens[at].strip_suffix("mm")?;
        tokens.splice(at..=at, [bare, "mm"]);
    }
    let mut units = tokens.iter().enumerate().filter(|(_, token)| **token == "mm").map(|(at, _)| at);
    let unit = units.next().filter(|_| units.next().is_none())?;
    let mut from = unit;
    let mut sizes = BTreeMap::new();
    while let Some(at) = from.checked_sub(1) {
        match (size(tokens[at]), tokens[at]) {
            (Some(milli), text) => {
                sizes.insert(milli, text.to_owned());
            }
            (None, "," | "and" | "or") => {}
            _ => break,
        }
        from = at;
    }
    if sizes.is_empty() {
        return None;
    }
    let rest: Vec<&str> =
        tokens[..from].iter().chain(&tokens[unit + 1..]).copied().filter(|token| *token != ",").collect();
    // A number that is left means something that is not understood here, such as a length or how many.
    if rest.iter().any(|token| token.bytes().any(|byte| byte.is_ascii_digit())) {
        return None;
    }
    let (noun, form) = noun_of(&rest)?;
    Some((Sized { noun, form }, sizes))
}

/// The noun, and what else is said.
fn noun_of(rest: &[&str]) -> Option<(usize, String)> {
    let mut found = None;
    for (noun, (one, many)) in NOUNS.iter().enumerate() {
        for name in [one, many] {
            let name: Vec<&str> = name.split(' ').collect();
            let Some(at) = rest.windows(name.len()).position(|window| window == name) else { continue };
            // Two nouns are something else, such as a bit for a socket.
            if found.is_some() {
                return None;
            }
            let form: Vec<&str> = rest[..at].iter().chain(&rest[at + name.len()..]).copied().collect();
            found = Some((noun, form.join(" ")));
        }
    }
    found
}

/// A size in thousandths of a millimetre: a whole number, or one with up to three places.
fn size(token: &str) -> Option<i64> {
    let (whole, places) = token.split_once('.').unwrap_or((token, "0"));
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    if !digits(whole) || !digits(places) || whole.len() > 3 || places.len() > 3 {
        return None;
    }
    let thousandths: i64 = format!("{places:0<3}").parse().ok()?;
    Some(whole.parse::<i64>().ok()? * 1000 + thousandths)
}

fn said(tool: &Sized, sizes: &BTreeMap<i64, String>) -> String {
    let (one, many) = NOUNS[tool.noun];
    let sizes: Vec<&str> = sizes.values().map(String::as_str).collect();
    let noun = if sizes.len() == 1 { one } else { many };
    let form = if tool.form.is_empty() { String::new() } else { format!("{} ", tool.form) };
    format!("{} mm {form}{noun}", listed(&sizes))
}

/// `8`, `8 and 10`, `8, 10 and 12`.
pub fn listed(all: &[&str]) -> String {
    match all {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn lines(tools: &[&str]) -> Vec<String> {
        collect(tools.iter().map(|tool| (*tool).to_owned()).zip(1..)).into_iter().map(|line| line.text).collect()
    }

    #[test]
    fn sizes_are_collected_by_what_they_are_sizes_of() {
        let tools = [
            "socket 8 mm",
            "long extension",
            "socket 10 mm",
            "sockets 14 and 12 mm",
            "socket 12 mm, six-point",
            "10mm socket",
            "hex key 5 mm",
            "12 mm six-point socket",
            "long  extension",
            "spanner 13 mm",
            "5.5 mm hex key",
        ];
        assert_eq!(
            lines(&tools),
            [
                "8, 10, 12 and 14 mm sockets",
                "long extension",
                "12 mm six-point socket",
                "5 and 5.5 mm hex keys",
                "13 mm spanner",
            ]
        );
    }

    #[test]
    fn a_line_says_where_it_is_needed_first() {
        let tools = [("pan", 3), ("socket 10 mm", 2), ("socket 8 mm", 1), ("pan", 1)];
        let found = collect(tools.map(|(tool, at)| (tool.to_owned(), at)));
        let found: Vec<(&str, i32)> = found.iter().map(|line| (line.text.as_str(), line.first)).collect();
        assert_eq!(found, [("8 and 10 mm sockets", 1), ("pan", 1)]);
    }

    #[test]
    fn what_is_not_understood_stays_as_it_was_written() {
        for odd in [
            "torque wrench 5 to 50 N.m, in calibration",
            "socket 1/2 in",
            "socket bit 8 mm",
            "socket 8 mm x 2",
            "hose 16 mm, 300 mm long",
            "socket mm",
            "mm",
            "8 mm",
            "socket 8,5 mm and a bit of luck 9 mm",
            "Drain pan, 10 L",
            "socket 1000000 mm",
            "gauge 0.05 mm",
        ] {
            assert_eq!(lines(&[odd]), [odd]);
        }
        assert_eq!(lines(&[" ", ""]), Vec::<String>::new());
    }

    proptest! {
        /// Whatever is written, nothing is lost: collecting what was collected changes nothing, and the order in which
        /// steps are read does not matter.
        #[test]
        fn collecting_is_stable(
            tools in proptest::collection::vec(
                prop_oneof![
                    "[a-z0-9,. ]{0,20}",
                    (1..40_i32, prop_oneof![Just(""), Just(", six-point"), Just(", long")])
                        .prop_map(|(size, form)| format!("socket {size} mm{form}")),
                ],
                0..12,
            )
        ) {
            let placed: Vec<(String, usize)> = tools.into_iter().zip(0..).collect();
            let once = collect(placed.clone());
            let again = collect(once.iter().map(|line| (line.text.clone(), line.first)));
            prop_assert_eq!(&once, &again);
            let turned = collect(placed.into_iter().rev());
            let texts = |all: &[Collected<usize>]| {
                all.iter().map(|line| (line.text.to_lowercase(), line.first)).collect::<Vec<_>>()
            };
            prop_assert_eq!(texts(&once), texts(&turned));
        }
    }
}
