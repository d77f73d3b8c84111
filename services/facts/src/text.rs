//! Text that can be forgotten. A fact holds only the id and a salted hash; the words and the
//! salt lie in a table of their own, and are erased together.

use crate::ids::TextId;
use serde::{Deserialize, Serialize};

/// A reference to an erasable text.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct TextRef {
    /// Where the words lie, while they do.
    pub id: TextId,
    /// SHA-256 of salt and words, in hexadecimal.
    pub hash: String,
}

/// A text with its words, on its way into the table or out of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TextBody {
    /// Which text.
    pub id: TextId,
    /// 16 random bytes in hexadecimal, erased with the words.
    pub salt: String,
    /// The words.
    pub body: String,
}

/// Most characters of a free text.
pub const TEXT_MAX: usize = 2_000;
