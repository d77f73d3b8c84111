//! The law of the strip book: of the places found and those empty before, each is refitted, renewed or left out; of
//! the pieces that came off, each is refitted, thrown away or kept; what was put in is out.

use super::positions;
use crate::look;
use crate::state::State;
use leadhand_facts::rows::PositionRow;
use leadhand_facts::words::{Manner, StepState, Tightness};
use leadhand_facts::{ItemKey, JobNo, PositionKey, Quantity};
use std::collections::BTreeMap;

/// Something that is open in the strip book.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Open {
    /// The step that takes it off or puts it in is done, and nobody said what became of it.
    Unsaid {
        /// Of what.
        position: PositionKey,
        /// Whether it is put in for the work.
        put_in: bool,
    },
    /// What was put in is not all out.
    StillIn {
        /// Where.
        position: PositionKey,
        /// How many pieces.
        pieces: i32,
    },
    /// Nobody but who did it has looked at it.
    NotChecked {
        /// At what.
        position: PositionKey,
    },
    /// Places are empty, and nobody said that they shall be.
    Places {
        /// Which.
        position: PositionKey,
        /// How many are settled.
        settled: i32,
        /// Of how many.
        of: i32,
    },
    /// Pieces that came off are nowhere.
    Pieces {
        /// Of which position.
        position: PositionKey,
        /// How many are accounted for.
        settled: i32,
        /// Of how many.
        of: i32,
    },
    /// Fewer were found or missing than are listed: the rest is nowhere.
    Fewer {
        /// Of what.
        position: PositionKey,
        /// How many were found, or missing before.
        said: i32,
        /// How many are listed.
        of: i32,
    },
    /// It is back, and not as tight as it has to be.
    NotTight {
        /// What.
        position: PositionKey,
        /// How tight it is.
        tightness: Tightness,
    },
}

impl Open {
    /// Whether nobody may overrule it.
    pub fn is_final(&self) -> bool {
        matches!(self, Self::Unsaid { .. } | Self::StillIn { .. } | Self::NotChecked { .. })
    }

    /// The position that it is about.
    pub fn position(&self) -> &PositionKey {
        match self {
            Self::Unsaid { position, .. }
            | Self::StillIn { position, .. }
            | Self::NotChecked { position }
            | Self::Places { position, .. }
            | Self::Pieces { position, .. }
            | Self::Fewer { position, .. }
            | Self::NotTight { position, .. } => position,
        }
    }
}

impl Open {
    /// What is open, without what it is about.
    pub fn what(&self) -> String {
        match self {
            Self::Unsaid { put_in: true, .. } => {
                "put in by its step, and nobody said how many or that they are out; take \
                the stage up again and say so"
                    .to_owned()
            }
            Self::Unsaid { put_in: false, .. } => {
                "its step is done, nobody said what came off, and it asks for a second \
                check; take the stage up again and say so"
                    .to_owned()
            }
            Self::StillIn { pieces, .. } => format!("{pieces} still in"),
            Self::NotChecked { .. } => "not looked at by a second person".to_owned(),
            Self::Places { settled, of, .. } => format!("{settled} of {of} place(s) refitted, renewed or left out"),
            Self::Pieces { settled, of, .. } => {
                format!("{settled} of {of} piece(s) that came off refitted, thrown away or kept")
            }
            Self::Fewer { said, of, .. } => format!("{of} are listed, and of {said} somebody said what became of them"),
            Self::NotTight { tightness, .. } => format!("only {tightness}"),
        }
    }
}

impl std::fmt::Display for Open {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.position(), self.what())
    }
}

/// What was put in, or asks for a second check, of which nothing was said though its step is done, or of which it was taken
/// back: a stage that was left out half-way must not hide it.
pub fn unsaid(state: &State, job: JobNo) -> Vec<Open> {
    let ended = |row: &PositionRow| state.stages.get(&(job, row.stage.clone())).is_some_and(look::is_ended);
    let rows =
        positions(state, job).filter(|row| is_unsaid(state, row) && may_hide(row) && (row.taken_back || ended(row)));
    rows.map(|row| Open::Unsaid { position: row.position.clone(), put_in: row.detail.manner == Manner::In }).collect()
}

/// Whether nothing is said of it though its step is done, or any more.
pub fn is_unsaid(state: &State, row: &PositionRow) -> bool {
    let done = |step| {
        let step = state.steps.get(&(row.job, row.stage.clone(), step));
        step.is_some_and(|step| step.state == StepState::Done)
    };
    row.off_n.is_none() && (row.taken_back || row.step.is_some_and(done))
}

/// Whether nobody may overrule what it leaves open.
pub fn may_hide(row: &PositionRow) -> bool {
    row.detail.manner == Manner::In || row.detail.second_check
}

/// Items of which more went in as new pieces than were given out to the job: how many went in, and how many were given.
pub fn not_taken(state: &State, job: JobNo) -> BTreeMap<ItemKey, (i64, Quantity)> {
    let mut sums: BTreeMap<ItemKey, (i64, Quantity)> = BTreeMap::new();
    for row in positions(state, job).filter(|row| row.renewed > 0) {
        if let Some(item) = &row.detail.item {
            sums.entry(item.clone()).or_default().0 += i64::from(row.renewed);
        }
    }
    for row in state.demands.iter().filter(|row| row.job == job) {
        if let Some((_, issued)) = sums.get_mut(&row.item) {
            *issued = issued.plus(row.issued).unwrap_or(*issued);
        }
    }
    sums.retain(|_, (renewed, issued)| *renewed > issued.0);
    sums
}

/// Places that are not settled yet.
pub fn places_left(row: &PositionRow) -> i32 {
    row.found + row.missing - row.refitted - row.renewed - row.left_out
}

/// Pieces that came off and are nowhere yet.
pub fn pieces_left(row: &PositionRow) -> i32 {
    row.found - row.refitted - row.scrapped - row.kept
}

/// Whether something that somebody added by hand was not there after all: none of it was found, nor missing. Nothing waits
/// for it, and it teaches nothing. What is put in for the work never counts so: it is looked for.
pub fn never_there(row: &PositionRow) -> bool {
    let none = row.off_n.is_some() && row.found + row.missing == 0;
    none && row.unplanned && row.detail.manner != Manner::In
}

/// What is open about one position, gravest first. Nothing while it was never touched.
pub fn of_position(row: &PositionRow) -> Vec<Open> {
    if row.off_n.is_none() || never_there(row) {
        return Vec::new();
    }
    let position = || row.position.clone();
    let (places, pieces) = (places_left(row), pieces_left(row));
    let said = row.found + row.missing;
    let fewer = (said < row.detail.count).then(|| Open::Fewer { position: position(), said, of: row.detail.count });
    if row.detail.manner == Manner::In {
        let inside = (pieces > 0).then(|| Open::StillIn { position: position(), pieces });
        return inside.into_iter().chain(fewer).collect();
    }
    let mut open = Vec::new();
    // Where nothing was, nobody can look at it.
    if row.detail.second_check && row.checked_by.is_none() && row.found + row.missing > 0 {
        open.push(Open::NotChecked { position: position() });
    }
    if places != 0 {
        open.push(Open::Places { position: position(), settled: said - places, of: said });
    }
    if pieces != 0 {
        open.push(Open::Pieces { position: position(), settled: row.found - pieces, of: row.found });
    }
    open.extend(fewer);
    if let Some(tightness) = not_tight(row) {
        open.push(Open::NotTight { position: position(), tightness });
    }
    open
}

/// How tight something is that went back and has to be tighter. What nobody tightens is as it has to be, unless somebody
/// says that it is loose.
pub(crate) fn not_tight(row: &PositionRow) -> Option<Tightness> {
    let fitted = row.detail.manner != Manner::In && row.refitted + row.renewed > 0;
    row.tightness.filter(|tightness| fitted && *tightness != Tightness::Final)
}

/// What is open about all of them: first what nobody may overrule.
pub fn open<'a>(rows: impl IntoIterator<Item = &'a PositionRow>) -> Vec<Open> {
    let mut all: Vec<Open> = rows.into_iter().flat_map(of_position).collect();
    all.sort_by_key(|open| (!open.is_final(), open.position().clone()));
    all
}
