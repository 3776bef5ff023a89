//! Chord symbols as players write them.

use super::{Degree, Pitch};

/// A chord symbol, understood. `text` is what the user wrote; the page shows it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct ChordSymbol {
    /// As written, trimmed.
    pub text: String,
    /// The root.
    pub root: Pitch,
    /// The bass note: the root unless a slash names another.
    pub bass: Pitch,
    /// Chord tones as degrees over the root, in the order 1 3 5 (6) 7 9 11 13. A bass that is no chord tone
    /// is not among them.
    pub degrees: Vec<Degree>,
}

/// What stands at a place of a chart: a chord, or `N.C.`, the silence of the harmony.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Harmony {
    /// A chord.
    Chord(ChordSymbol),
    /// No chord.
    Silence,
}

/// Why a chord symbol could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{rule}{}", nearest.as_ref().map(|near| format!(" (nearest: {near})")).unwrap_or_default())]
pub struct SymbolError {
    /// The column of the first character that could not be read, from 1, in characters.
    pub column: usize,
    /// What was expected there.
    pub rule: String,
    /// The nearest symbol that can be read.
    pub nearest: Option<String>,
}
