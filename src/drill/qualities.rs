//! The words for kinds of chords, in drills and in lines that programs read.

use crate::harmony::Quality;

/// Each kind and its word.
const WORDS: [(&str, Quality); 17] = [
    ("major", Quality::Major),
    ("major 6", Quality::Major6),
    ("major 7", Quality::Major7),
    ("minor", Quality::Minor),
    ("minor 6", Quality::Minor6),
    ("minor 7", Quality::Minor7),
    ("minor major 7", Quality::MinorMajor7),
    ("dominant", Quality::Dominant),
    ("dominant #5", Quality::AugmentedSeventh),
    ("sus 4", Quality::Suspended),
    ("sus 2", Quality::SuspendedSecond),
    ("half-diminished", Quality::HalfDiminished),
    ("diminished", Quality::Diminished),
    ("diminished 7", Quality::Diminished7),
    ("augmented", Quality::Augmented),
    ("augmented major 7", Quality::AugmentedMajor7),
    ("fifth", Quality::Power),
];

/// What a kind of chord is called: "minor 7", "half-diminished".
pub fn quality_word(quality: Quality) -> &'static str {
    let found = WORDS.iter().find(|(_, known)| *known == quality);
    found.map_or("", |(word, _)| word)
}

/// The kind of chord with this name.
///
/// # Errors
/// The nearest name.
pub fn quality_named(word: &str) -> Result<Quality, &'static str> {
    if let Some((_, quality)) = WORDS.iter().find(|(known, _)| *known == word) {
        return Ok(*quality);
    }
    let near = WORDS.iter().map(|(known, _)| *known);
    let near = near.min_by_key(|known| strsim::damerau_levenshtein(known, &word.to_lowercase()));
    Err(near.unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harmony::ChordSymbol;

    #[test]
    fn each_kind_of_chord_has_a_name_that_is_read() {
        let symbols = [
            "C", "C6", "Cmaj7", "Cm", "Cm6", "Cm7", "Cm(maj7)", "C7", "C7#5", "Csus4", "Csus2",
            "Cm7b5", "Cdim", "Cdim7", "Caug", "Cmaj7#5", "C5",
        ];
        for (symbol, (word, quality)) in symbols.iter().zip(WORDS) {
            let chord: ChordSymbol = symbol.parse().expect(symbol);
            assert_eq!(chord.quality(), quality, "{symbol}");
            assert_eq!(quality_word(quality), word);
            assert_eq!(quality_named(word), Ok(quality));
        }
        assert_eq!(quality_named("half diminished"), Err("half-diminished"));
    }
}
