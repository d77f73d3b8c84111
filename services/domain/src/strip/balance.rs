//! The law of the strip book: of the places found and those empty before, each is refitted, renewed or left out; of
//! the pieces that came off, each is refitted, thrown away or kept; what was put in is out.

use leadhand_facts::PositionKey;
use leadhand_facts::rows::PositionRow;
use leadhand_facts::words::{Manner, PositionKind, Tightness};

/// Something that is open in the strip book.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Open {
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
        matches!(self, Self::StillIn { .. } | Self::NotChecked { .. })
    }

    /// The position that it is about.
    pub fn position(&self) -> &PositionKey {
        match self {
            Self::StillIn { position, .. }
            | Self::NotChecked { position }
            | Self::Places { position, .. }
            | Self::Pieces { position, .. }
            | Self::NotTight { position, .. } => position,
        }
    }
}

impl std::fmt::Display for Open {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::StillIn { position, pieces } => write!(f, "{position}: {pieces} still in"),
            Self::NotChecked { position } => write!(f, "{position}: not looked at by a second person"),
            Self::Places { position, settled, of } => {
                write!(f, "{position}: {settled} of {of} place(s) refitted, renewed or left out")
            }
            Self::Pieces { position, settled, of } => {
                write!(f, "{position}: {settled} of {of} piece(s) that came off refitted, thrown away or kept")
            }
            Self::NotTight { position, tightness } => write!(f, "{position}: only {tightness}"),
        }
    }
}

/// Places that are not settled yet.
pub fn places_left(row: &PositionRow) -> i32 {
    row.found + row.missing - row.refitted - row.renewed - row.left_out
}

/// Pieces that came off and are nowhere yet.
pub fn pieces_left(row: &PositionRow) -> i32 {
    row.found - row.refitted - row.scrapped - row.kept
}

/// What is open about one position, gravest first. Nothing while it was never touched.
pub fn of_position(row: &PositionRow) -> Vec<Open> {
    if row.off_n.is_none() {
        return Vec::new();
    }
    let position = || row.position.clone();
    let (places, pieces) = (places_left(row), pieces_left(row));
    if row.detail.manner == Manner::In {
        return if pieces > 0 { vec![Open::StillIn { position: position(), pieces }] } else { Vec::new() };
    }
    let mut open = Vec::new();
    if row.detail.second_check && row.checked_by.is_none() {
        open.push(Open::NotChecked { position: position() });
    }
    let of = row.found + row.missing;
    if places != 0 {
        open.push(Open::Places { position: position(), settled: of - places, of });
    }
    if pieces != 0 {
        open.push(Open::Pieces { position: position(), settled: row.found - pieces, of: row.found });
    }
    if let Some(tightness) = not_tight(row) {
        open.push(Open::NotTight { position: position(), tightness });
    }
    open
}

/// How tight something is that went back and has to be tighter: a fastener, or whatever has stages of tightening.
pub(crate) fn not_tight(row: &PositionRow) -> Option<Tightness> {
    let fitted = row.detail.manner != Manner::In && row.refitted + row.renewed > 0;
    let asks = row.detail.kind == PositionKind::Fastener || !row.detail.tighten.is_empty();
    row.tightness.filter(|tightness| fitted && asks && *tightness != Tightness::Final)
}

/// What is open about all of them: first what nobody may overrule.
pub fn open<'a>(rows: impl IntoIterator<Item = &'a PositionRow>) -> Vec<Open> {
    let mut all: Vec<Open> = rows.into_iter().flat_map(of_position).collect();
    all.sort_by_key(|open| (!open.is_final(), open.position().clone()));
    all
}
