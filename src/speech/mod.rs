//! Phrases (pure) and the espeak-ng renderer with its cache.

/// What to say, from the fullest form to the shortest.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct PhraseSet {
    /// All of it ("D, F sharp, A"); empty: nothing to say.
    pub full: String,
    /// Shortened ("D major"); empty: there is no shorter form that could not be heard as something else.
    pub short: String,
}

/// SHIM
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FormLimit {
    /// SHIM
    Notes,
}
/// SHIM
pub fn form_limit(_: f64, _: f64) -> FormLimit { FormLimit::Notes }
/// SHIM
pub fn target_phrases(_: &[crate::drill::TargetNote], _: &crate::harmony::ChordSymbol, _: FormLimit) -> PhraseSet { PhraseSet::default() }
/// SHIM
pub fn announcement(_: &str) -> PhraseSet { PhraseSet::default() }
