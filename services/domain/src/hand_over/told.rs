//! Lines in sentences: several of them, and one of which only the kind is known.

use super::Line;

/// Something came off out of its order.
pub const OFF_ORDER: &str = "off-order";
/// Something came off while the vehicle was not as its step asks.
pub const OFF_UNSAFE: &str = "off-unsafe";
/// Something went back or came out out of its order.
pub const BACK_ORDER: &str = "back-order";
/// The old one went back where it is always renewed.
pub const OLD_PART: &str = "old-part";
/// A damaged or broken one went back.
pub const SPOILT_PART: &str = "spoilt-part";
/// Places of something that holds stay empty.
pub const LEFT_EMPTY: &str = "left-empty";
/// It came off or went back by somebody without the skill that its stage asks for.
pub const UNSKILLED: &str = "unskilled";

/// What was open, by the kind of a line alone: for one that is no longer in the list.
pub fn told_by_kind(kind: &str) -> &'static str {
    match kind {
        OFF_ORDER => "came off or was put in out of its order",
        OFF_UNSAFE => "came off while the vehicle was not as its step asks, or before its hold point was passed",
        BACK_ORDER => "went back or came out out of its order",
        OLD_PART => "the old one went back, and it is always renewed",
        SPOILT_PART => "one that is damaged or broken went back",
        LEFT_EMPTY => "places of it were left empty",
        UNSKILLED => "done without the skill that its stage asks for",
        "places" => "places were empty",
        "pieces" => "pieces that came off were not accounted for",
        "not-tight" => "not tightened to the end",
        "cures" => "its sealant had not cured",
        "not-taken" => "fitted new, and not taken from stock",
        "not-drawn" => "its fill was done, and not taken from stock",
        "fill-otherwise" => "its fill was reckoned with another fluid or strength than it says",
        "came-apart" => "the job before was called off with the vehicle apart",
        "state" => "not as it has to be",
        "hold" => "a hold point was not passed",
        "fluid" => "less went in than came out",
        "fluid-unsaid" => "nobody said what came out or went in",
        "fewer" => "fewer were found than its template lists",
        "fluid-over" => "more went in than should be in it",
        "way" => "no lead decided on the way that is not the book's",
        "reading-missing" => "not measured",
        "reading-out" => "out of its limits",
        _ => "it was open",
    }
}

/// How many lines a sentence names that goes with a list of them all.
const NAMED_FIRST: usize = 3;

/// How many lines there are, and the first of them: who reads on has the list.
pub fn told_first(lines: &[Line]) -> String {
    let first = lines.iter().take(NAMED_FIRST).map(Line::to_string).collect::<Vec<_>>().join("; ");
    match lines.len().saturating_sub(NAMED_FIRST) {
        0 => first,
        more => format!("{} lines are open: {first}; and {more} more", lines.len()),
    }
}

/// Lines as one sentence tells them; where not all of them are a lead's to overrule, each says whose it is.
pub fn told(lines: &[Line]) -> String {
    let mixed = lines.iter().any(|line| line.remedy() != lines[0].remedy());
    let mut said: Vec<String> = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        // The places and the pieces of a position are told together.
        let goes_on = at > 0 && line.unbalanced().is_some() && line.unbalanced() == lines[at - 1].unbalanced();
        match said.last_mut().filter(|_| goes_on) {
            Some(last) => *last = format!("{last}, and {}", line.open()),
            None => said.push(line.to_string()),
        }
        let ends =
            lines.get(at + 1).is_none_or(|next| next.unbalanced().is_none() || next.unbalanced() != line.unbalanced());
        if let Some(last) = said.last_mut().filter(|_| mixed && ends) {
            last.push_str(line.remedy().told());
        }
    }
    said.join("; ")
}
