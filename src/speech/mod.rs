//! Phrases (pure) and the espeak-ng renderer with its cache.

/// What to say, from the fullest form to the shortest.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct PhraseSet {
    /// All of it ("D, F sharp, A"); empty: nothing to say.
    pub full: String,
    /// Shortened ("D major"); empty: there is no shorter form that could not be heard as something else.
    pub short: String,
}
