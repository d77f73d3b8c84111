//! Quantities of stock: whole numbers of the item's unit, never floating point.

use serde::{Deserialize, Serialize};

/// An amount in the unit of its item. Books hold these; sums are checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Quantity(pub i64);

/// The largest quantity that one line may carry: sums of a million lines still fit.
pub const QUANTITY_MAX: i64 = 1_000_000_000_000;

impl Quantity {
    /// Nothing.
    pub const ZERO: Self = Self(0);

    /// The sum, `None` when it does not fit.
    pub fn plus(self, other: Self) -> Option<Self> {
        self.0.checked_add(other.0).map(Self)
    }

    /// The difference, `None` when it does not fit.
    pub fn minus(self, other: Self) -> Option<Self> {
        self.0.checked_sub(other.0).map(Self)
    }

    /// Whether there is something.
    pub fn is_positive(self) -> bool {
        self.0 > 0
    }
}

impl std::fmt::Display for Quantity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// The unit in which an item is counted, by its UCUM code (The Unified Code for Units of Measure).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
pub enum Unit {
    /// Pieces, `1`.
    #[default]
    #[serde(rename = "1")]
    Piece,
    /// Millilitres, `mL`.
    #[serde(rename = "mL")]
    Millilitre,
    /// Litres, `L`, for what is only ever handled by the litre.
    #[serde(rename = "L")]
    Litre,
    /// Grams, `g`.
    #[serde(rename = "g")]
    Gram,
    /// Kilograms, `kg`.
    #[serde(rename = "kg")]
    Kilogram,
    /// Millimetres, `mm`.
    #[serde(rename = "mm")]
    Millimetre,
    /// Metres, `m`.
    #[serde(rename = "m")]
    Metre,
}

impl Unit {
    /// Every unit, in the order in which a refusal lists them.
    pub const ALL: [Self; 7] =
        [Self::Piece, Self::Millilitre, Self::Litre, Self::Gram, Self::Kilogram, Self::Millimetre, Self::Metre];

    /// The UCUM code.
    pub fn code(self) -> &'static str {
        match self {
            Self::Piece => "1",
            Self::Millilitre => "mL",
            Self::Litre => "L",
            Self::Gram => "g",
            Self::Kilogram => "kg",
            Self::Millimetre => "mm",
            Self::Metre => "m",
        }
    }

    /// The unit with this UCUM code.
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|unit| unit.code() == code)
    }
}
