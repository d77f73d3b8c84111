//! What is to be done about a line: in words for anybody, and by which commands at a command line.

use super::{Held, Line};
use crate::condition;
use crate::strip::Open;
use leadhand_facts::words::{Cause, StageState};
use std::fmt;

/// What is to be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Todo {
    /// In words, for whoever has no command line.
    pub advice: &'static str,
    /// The commands that do it, without their first word.
    pub commands: &'static [&'static str],
}

/// Both as one sentence, commands in backquotes.
impl fmt::Display for Todo {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.advice)?;
        let commands: Vec<String> = self.commands.iter().map(|command| format!("`{command}`")).collect();
        if commands.is_empty() { Ok(()) } else { write!(f, " ({})", commands.join(", ")) }
    }
}

impl Line {
    /// What is to be done about it.
    pub fn todo(&self) -> Todo {
        let (advice, commands): (&str, &[&str]) = match self {
            Self::Stage { state: StageState::Active, .. } => {
                ("finish it, or leave out what is left of it", &["stage finish", "stage skip"])
            }
            Self::Stage { .. } => ("start and finish it, or leave it out", &["stage start", "stage skip"]),
            Self::Blocker { held, cause, .. } => blocked(held, *cause),
            Self::Strip(open) => strip(open),
            Self::Condition(open) => condition(open),
            Self::Cures { .. } => {
                ("wait until it has cured, as its maker says, or a lead says why it may go before", &[])
            }
            Self::CameApart { .. } => {
                ("look at what its sheet says was off or in, and a lead says what became of it", &["job sheet"])
            }
            Self::NotTaken { .. } | Self::NotDrawn { .. } => {
                ("have it issued with how much, or a lead says whose it was", &["stock issue"])
            }
            Self::FillOtherwise { .. } => (
                "find out what is in, by label and refractometer, and a lead says so; or take its step back and fill anew",
                &["step reopen"],
            ),
            Self::ReadingMissing { .. } => ("measure it", &["reading record"]),
            Self::ReadingOut { repair: true, .. } => ("measure it again", &["reading record"]),
            Self::ReadingOut { .. } => ("measure it again, or a lead decides", &["reading record", "reading decide"]),
        };
        Todo { advice, commands }
    }
}

fn blocked(held: &Held, cause: Cause) -> (&'static str, &'static [&'static str]) {
    match (held, cause) {
        (Held::Item(_), _) => ("receive it, or skip the step that needs it", &["stock receive", "step skip"]),
        (Held::Reading(_), _) => ("measure again, or a lead decides", &["reading record", "reading decide"]),
        (Held::Tool(_), _) => ("have the tool brought back or handed on", &["tool return", "tool hand"]),
        (_, Cause::Safety) => ("a lead looks at it and clears it with a reason", &["blocker clear"]),
        _ => ("say that it goes on, once it does", &["blocker clear"]),
    }
}

fn strip(open: &Open) -> (&'static str, &'static [&'static str]) {
    match open {
        Open::Unsaid { .. } => (
            "say what came off or went in; a stage that was left out is taken up again first",
            &["strip off", "stage reopen"],
        ),
        Open::StillIn { .. } => ("take it out and say so", &["strip back"]),
        Open::NotChecked { .. } => ("somebody else than who did it looks at it", &["strip check"]),
        Open::Places { .. } => ("fit it, or say why the place stays empty", &["strip back"]),
        Open::Pieces { .. } => ("say what became of them: fitted, thrown away or kept", &["strip back"]),
        Open::Fewer { .. } => {
            ("look for the rest, in the engine too; count anew, or a lead says why there are fewer", &["strip off"])
        }
        Open::NotTight { .. } => ("tighten it and say so", &["strip tighten"]),
    }
}

fn condition(open: &condition::Open) -> (&'static str, &'static [&'static str]) {
    match open {
        condition::Open::State { .. } => ("bring the vehicle there and say so", &["vehicle state"]),
        condition::Open::Hold { left_out: true, .. } => {
            ("take its stage up again and look, or a lead says why nobody has to", &["stage reopen"])
        }
        condition::Open::Hold { .. } => ("look at it and tick it by its number", &["step done"]),
        condition::Open::Fluid { .. } => ("fill it and say how much", &["fluid in"]),
        condition::Open::FluidUnsaid { .. } => {
            ("say what came out and went in; 0 with a note where nothing did", &["fluid out", "fluid in"])
        }
        condition::Open::FluidOver { .. } => {
            ("let the surplus out and say so, or take back a wrong figure", &["fluid out", "fluid reopen"])
        }
        condition::Open::Way { .. } => ("a lead decides", &["step decide"]),
    }
}
