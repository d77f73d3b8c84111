//! Fields of questions as people say them: a program is told `bolts[1].name`, and whoever reads the sentence "name of the
//! 2nd bolt".

/// What stands in no sentence as it is called in a question.
const SAID: &[(&str, &str)] = &[
    ("friction.thread", "friction in the thread"),
    ("friction.bearing", "friction under the head"),
    ("bearing.face", "face under the head"),
    ("bearing.hole", "hole under the head"),
    ("bearing", "face and hole under the head"),
    ("friction_least", "least friction"),
    ("friction_most", "most friction"),
    ("head_least", "least friction under the head"),
    ("head_most", "most friction under the head"),
    ("from", "height where it begins"),
    ("to", "height where it ends"),
    ("fitted_at", "distance when they were fitted"),
    ("left", "what is left in"),
];

/// What there are several of, and one of them.
const ONE_OF: &[(&str, &str)] = &[
    ("bolts", "bolt"),
    ("banks", "bank"),
    ("cylinders", "cylinder"),
    ("points", "point"),
    ("angles", "angle"),
    ("packs", "pack"),
    ("tasks", "task"),
    ("times", "time"),
    ("heard", "place where it is heard"),
    ("circumstances", "circumstance"),
    ("manufacturer", "figure of the manufacturer's"),
];

/// What is asked of one of several.
const PARTS: &[(&str, &str)] =
    &[("dry", "dry figure"), ("wet", "wet figure"), ("figure", "name"), ("on_hand", "count on hand")];

fn found<'a>(table: &[(&str, &'a str)], name: &str) -> Option<&'a str> {
    table.iter().find(|(known, _)| *known == name).map(|(_, said)| *said)
}

/// A field of a question, by its path in the contract, as people say it.
pub fn of_field(path: &str) -> String {
    if let Some(said) = found(SAID, path) {
        return said.to_owned();
    }
    let mut parts = path.split('.').rev();
    let own = parts.next().map(of_part).unwrap_or_default();
    parts.fold(own, |said, part| {
        let article = if part.ends_with(']') { "the " } else { "" };
        format!("{said} of {article}{}", of_part(part))
    })
}

fn of_part(part: &str) -> String {
    let Some((name, index)) = part.strip_suffix(']').and_then(|part| part.split_once('[')) else {
        return found(PARTS, part).map_or_else(|| part.replace('_', " "), str::to_owned);
    };
    let one = found(ONE_OF, name).unwrap_or(name);
    match index.parse::<usize>() {
        Ok(index) => format!("{} {one}", ordinal(index.saturating_add(1))),
        Err(_) => name.to_owned(),
    }
}

/// `1st`, `2nd`, `11th`.
pub fn ordinal(number: usize) -> String {
    let ending = match (number % 100, number % 10) {
        (11..=13, _) => "th",
        (_, 1) => "st",
        (_, 2) => "nd",
        (_, 3) => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_field_is_said_without_brackets_dots_and_underscores() {
        for (path, said) in [
            ("bolts[1].name", "name of the 2nd bolt"),
            ("angles[0]", "1st angle"),
            ("banks[0].cylinders[2].dry", "dry figure of the 3rd cylinder of the 1st bank"),
            ("points[].z", "z of the points"),
            ("manufacturer[0].figure", "name of the 1st figure of the manufacturer's"),
            ("friction.thread", "friction in the thread"),
            ("left_strength", "left strength"),
            ("cylinder 2, wet", "cylinder 2, wet"),
            ("the field", "the field"),
            ("", ""),
        ] {
            assert_eq!(of_field(path), said, "{path}");
        }
    }

    #[test]
    fn counting_goes_on_above_ten() {
        for (number, said) in [(1, "1st"), (3, "3rd"), (11, "11th"), (12, "12th"), (21, "21st"), (113, "113th")] {
            assert_eq!(ordinal(number), said);
        }
    }
}
