//! An answer as people read it: the figure first, then what it was reckoned from and what to mind.

use crate::app::App;
use crate::failure::Outcome;
use crate::out::{self, beside};
use crate::words::Word;
use leadhand_sdk::v1::{
    Answer, AnswerFigure, AnswerInput, AnswerList, Caution, FigureStanding, SignalWord, SourceKind, Sureness,
};
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// An answer is read on paper, too: it is never wider than this.
const WIDTH: usize = 80;
/// Where what is said of an answer begins.
pub const COLUMN: usize = 11;
/// The widest label of a figure that is set in a column.
const LABEL_MAX: usize = 40;

/// Writes an answer.
pub fn show(app: &App, answer: &Answer) -> Outcome {
    out::put(&told(answer, width(app), app.out.brief))
}

/// How wide text is written.
pub fn width(app: &App) -> usize {
    app.out.width.map_or(WIDTH, |width| width.min(WIDTH))
}

/// An answer in lines of at most that width; shortly without formula and sources.
pub fn told(answer: &Answer, width: usize, short: bool) -> String {
    let mut text = figures(answer, width, short);
    text.push('\n');
    text.push_str(&from_line(answer, width, short));
    text.push_str(&below(&[answer], width, short));
    put(&mut text, "first", &answer.deference, width);
    text
}

/// What an answer was reckoned from, as a line of its own.
pub fn from_line(answer: &Answer, width: usize, short: bool) -> String {
    let mut text = String::new();
    put(&mut text, "from", &from(answer, short), width);
    text
}

/// Formula, sources and cautions of several answers, each once; shortly the cautions alone.
pub fn below(answers: &[&Answer], width: usize, short: bool) -> String {
    let mut text = String::new();
    if !short {
        put(&mut text, "formula", &each_once(answers.iter().map(|answer| answer.formula.clone())), width);
        let sources = answers.iter().flat_map(|answer| &answer.sources).map(|source| match kind_of(source.kind()) {
            "" => source.name.clone(),
            kind => format!("{} ({kind})", source.name),
        });
        put(&mut text, "source", &each_once(sources), width);
    }
    // What can hurt is never fine print.
    let mut cautions: Vec<&Caution> = answers.iter().flat_map(|answer| &answer.cautions).collect();
    cautions.sort_by_key(|caution| caution.word);
    let mut seen = BTreeSet::new();
    cautions.retain(|caution| seen.insert((caution.word, caution.text.as_str())));
    for caution in cautions {
        let word = SignalWord::try_from(caution.word).map_or_else(|_| "NOTICE".to_owned(), Word::word);
        put(&mut text, &word, &caution.text, width);
    }
    text
}

fn each_once(all: impl Iterator<Item = String>) -> String {
    let mut seen = BTreeSet::new();
    let kept: Vec<String> = all.filter(|one| !one.is_empty() && seen.insert(one.clone())).collect();
    kept.join("; ")
}

/// What an answer was reckoned from, in a row; shortly only what nobody said now.
pub fn from(answer: &Answer, short: bool) -> String {
    let told = |input: &&AnswerInput| !short || input.standing() != FigureStanding::Given;
    answer.inputs.iter().filter(told).map(input).collect::<Vec<_>>().join("; ")
}

/// The same without one input that stands elsewhere; nothing is left out for shortness but what is.
pub fn from_but(answer: &Answer, name: &str, short: bool) -> String {
    let others = answer.inputs.iter().filter(|input| input.name != name).cloned().collect();
    from(&Answer { inputs: others, ..Answer::default() }, short)
}

/// Figures, lists and what follows from them; shortly without what would tell more.
pub fn figures(answer: &Answer, width: usize, short: bool) -> String {
    let mut text = String::new();
    let mut figures = answer.figures.iter();
    if let Some(first) = figures.next() {
        text.push_str(&beside("", 0, &format!("{}: {}", first.label, value(first)), Some(width)));
    }
    let longest = figures.clone().map(|figure| figure.label.chars().count()).max().unwrap_or(0).min(LABEL_MAX);
    for figure in figures {
        text.push_str(&beside(&format!("  {}", figure.label), longest + 4, &value(figure), Some(width)));
    }
    for list in answer.lists.iter().filter(|list| !list.entries.is_empty()) {
        text.push_str(&listed(list, width));
    }
    for conclusion in &answer.conclusions {
        let more = if short || conclusion.tells_more.is_empty() {
            String::new()
        } else {
            format!(" To know more: {}", conclusion.tells_more)
        };
        put(&mut text, sureness(conclusion.sureness()), &format!("{}{more}", conclusion.text), width);
    }
    text
}

fn put(text: &mut String, name: &str, what: &str, width: usize) {
    if what.is_empty() {
        return;
    }
    text.push_str(&beside(name, COLUMN, what, Some(width)));
}

/// A figure with what stands beside it.
pub fn value(figure: &AnswerFigure) -> String {
    // Writing into a string does not fail.
    let mut text = figure.text.clone();
    if let Some(other) = &figure.beside {
        let _ = write!(text, " ({})", other.text);
    }
    if figure.standing() == FigureStanding::Manufacturer {
        text.push_str(", the manufacturer's");
        if !figure.reckoned_text.is_empty() {
            let _ = write!(text, "; reckoned: {}", figure.reckoned_text);
        }
    }
    text
}

fn in_words(name: &str) -> String {
    name.replace(['_', '.'], " ")
}

/// Short entries in a row, sentences below each other.
fn listed(list: &AnswerList, width: usize) -> String {
    let name = in_words(&list.name);
    let column = COLUMN.max(name.chars().count() + 2);
    let short = list.entries.iter().all(|entry| entry.chars().count() <= 12 && !entry.contains(','));
    if short {
        return beside(&name, column, &list.entries.join(", "), Some(width));
    }
    let names = std::iter::once(name.as_str()).chain(std::iter::repeat(""));
    let lines = list.entries.iter().zip(names).map(|(entry, name)| beside(name, column, entry, Some(width)));
    lines.collect()
}

/// As it was typed, and as it was taken where that says something else.
fn input(input: &AnswerInput) -> String {
    let same = input.typed.replace(' ', "") == input.taken.replace(' ', "");
    let taken = if same { String::new() } else { format!(" = {}", input.taken) };
    let whose = match input.standing() {
        FigureStanding::Usual if input.why.is_empty() => " (usual)".to_owned(),
        FigureStanding::Usual => format!(" (usual: {})", input.why),
        FigureStanding::Manufacturer => " (manufacturer's)".to_owned(),
        // How strong it is what is poured in no job says.
        FigureStanding::Job if input.name == "poured_strength" => " (as the item says)".to_owned(),
        FigureStanding::Job => " (from the job)".to_owned(),
        FigureStanding::Given | FigureStanding::Reckoned | FigureStanding::Unspecified => String::new(),
    };
    // An older server says no label.
    let label = if input.label.is_empty() { in_words(&input.name) } else { input.label.clone() };
    format!("{label} {}{taken}{whose}", input.typed)
}

fn sureness(said: Sureness) -> &'static str {
    match said {
        Sureness::Certain => "certain",
        Sureness::Likely => "likely",
        Sureness::Possible | Sureness::Unspecified => "possible",
    }
}

fn kind_of(kind: SourceKind) -> &'static str {
    match kind {
        SourceKind::Standard => "standard",
        SourceKind::StandardFromCopies => "standard, from copies",
        SourceKind::Published => "published",
        SourceKind::DataSet => "data set",
        SourceKind::Definition => "by definition",
        SourceKind::CommonPractice => "common practice",
        SourceKind::Unspecified => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{AnswerSource, Conclusion, OtherUnit};

    fn answer() -> Answer {
        let torque = AnswerFigure {
            name: "torque".into(),
            label: "Torque".into(),
            text: "58.9 N.m".into(),
            standing: FigureStanding::Reckoned.into(),
            beside: Some(OtherUnit { text: "43.5 lbf.ft".into(), ..Default::default() }),
            ..Default::default()
        };
        let preload = AnswerFigure { label: "Preload".into(), text: "36100 N".into(), ..torque.clone() };
        let input = AnswerInput {
            name: "friction.thread".into(),
            typed: "0,12".into(),
            taken: "0.12".into(),
            standing: FigureStanding::Given.into(),
            ..Default::default()
        };
        Answer {
            figures: vec![torque, AnswerFigure { beside: None, ..preload }],
            inputs: vec![input],
            conclusions: vec![Conclusion {
                text: "It holds for this friction.".into(),
                sureness: Sureness::Certain.into(),
                tells_more: "Measure the stretch of the bolt.".into(),
            }],
            formula: "T = F·k".into(),
            sources: vec![AnswerSource { name: "VDI 2230".into(), kind: SourceKind::StandardFromCopies.into() }],
            cautions: vec![Caution { word: SignalWord::Warning.into(), text: "word ".repeat(40) }],
            deference: "The manufacturer's data come first.".into(),
            ..Default::default()
        }
    }

    #[test]
    fn the_figure_stands_first_and_no_line_is_wider_than_a_page() {
        let text = told(&answer(), WIDTH, false);
        assert!(text.starts_with("Torque: 58.9 N.m (43.5 lbf.ft)\n  Preload  36100 N\n"), "{text}");
        assert!(text.contains("\nfrom       friction thread 0,12 = 0.12\n"), "{text}");
        assert!(text.contains("\nsource     VDI 2230 (standard, from copies)\nWARNING    word word"), "{text}");
        assert!(text.ends_with("first      The manufacturer's data come first.\n"), "{text}");
        assert!(text.lines().all(|line| line.chars().count() <= WIDTH), "{text}");
    }

    #[test]
    fn shortly_the_fine_print_is_left_out_and_nothing_that_can_hurt() {
        let mut answer = answer();
        let (standing, label) = (FigureStanding::Usual.into(), "friction under the head".into());
        let why = "common practice".into();
        answer.inputs.push(AnswerInput {
            typed: "0.12".into(),
            taken: "0.12".into(),
            standing,
            label,
            why,
            ..Default::default()
        });
        let text = told(&answer, WIDTH, true);
        assert!(!text.contains("formula") && !text.contains("VDI") && !text.contains("To know more"), "{text}");
        assert!(
            text.contains("\nfrom       friction under the head 0.12 (usual: common practice)\nWARNING    word"),
            "{text}"
        );
        assert!(text.contains("It holds for this friction.") && text.ends_with("data come first.\n"), "{text}");
    }

    #[test]
    fn entries_of_a_list_are_told_apart() {
        let list = |entries: &[&str]| AnswerList {
            name: "order".into(),
            entries: entries.iter().map(|one| (*one).to_owned()).collect(),
        };
        assert_eq!(listed(&list(&["earth lead", "other lead"]), WIDTH), "order      earth lead, other lead\n");
        assert_eq!(listed(&list(&["1", "3", "2"]), WIDTH), "order      1, 3, 2\n");
    }

    #[test]
    fn the_manufacturers_figure_keeps_the_reckoned_one_beside_it() {
        let mut figure = answer().figures[0].clone();
        figure.standing = FigureStanding::Manufacturer.into();
        figure.reckoned_text = "60 N.m".into();
        assert_eq!(value(&figure), "58.9 N.m (43.5 lbf.ft), the manufacturer's; reckoned: 60 N.m");
    }
}
