//! Chord symbols as players write them.

use super::{Degree, Pitch};
use std::fmt;
use std::str::FromStr;

/// A chord symbol, understood. `text` is what the user wrote; the page shows it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct ChordSymbol {
    /// As written, trimmed.
    pub text: String,
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
    Chord(ChordSymbol),
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

/// The families of chords that voicing, speech and analysis tell apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Quality {
    /// Major third, perfect fifth, nothing above but added colours.
    Major,
    /// Major with a sixth.
    Major6,
    /// Major with a major seventh, whatever the fifth but a raised one.
    Major7,
    /// Minor third, perfect fifth.
    Minor,
    /// Minor with a sixth.
    Minor6,
    /// Minor with a minor seventh.
    Minor7,
    /// Minor with a major seventh.
    MinorMajor7,
    /// Major third, minor seventh.
    Dominant,
    /// A dominant with a raised fifth in the symbol and no perfect one.
    AugmentedSeventh,
    /// A fourth in the third's place, with or without a seventh.
    Suspended,
    /// A second in the third's place.
    SuspendedSecond,
    /// Minor third, lowered fifth, minor seventh.
    HalfDiminished,
    /// Minor third, lowered fifth.
    Diminished,
    /// Minor third, lowered fifth, diminished (or major) seventh.
    Diminished7,
    /// Major third, raised fifth.
    Augmented,
    /// Major third, raised fifth, major seventh.
    AugmentedMajor7,
    /// Root and fifth (or less): no third.
    Power,
}

impl ChordSymbol {
    /// Whether a tone of this number is in the chord, whatever its alteration. Numbers are those of the
    /// symbol: a ninth is 9, not 2.
    pub fn has(&self, number: u8) -> bool {
        self.degree(number).is_some()
    }

    /// The first tone of this number.
    pub fn degree(&self, number: u8) -> Option<Degree> {
        self.degrees
            .iter()
            .copied()
            .find(|degree| degree.number == number)
    }

    /// Whether exactly this degree is in the chord.
    pub fn has_degree(&self, number: u8, alter: i8) -> bool {
        self.degrees.contains(&Degree::new(number, alter))
    }

    /// The chord tones spelled over the root, in the order of `degrees`.
    pub fn tones(&self) -> Vec<Pitch> {
        self.degrees
            .iter()
            .map(|degree| degree.above(self.root))
            .collect()
    }

    /// The pitch classes that sound, ascending, a bass that is no chord tone among them.
    pub fn classes(&self) -> Vec<u8> {
        let mut classes: Vec<u8> = self.tones().iter().map(|tone| tone.class()).collect();
        classes.push(self.bass.class());
        classes.sort_unstable();
        classes.dedup();
        classes
    }

    /// The family of the chord.
    pub fn quality(&self) -> Quality {
        let third = self.degree(3).map(|degree| degree.alter);
        let seventh = self.degree(7).map(|degree| degree.alter);
        let plain_fifth = self.has_degree(5, 0);
        let raised = self.has_degree(5, 1) && !plain_fifth && !self.has_degree(5, -1);
        let lowered = self.has_degree(5, -1) && !plain_fifth;
        match (third, seventh) {
            (None, _) if self.has(4) => Quality::Suspended,
            (None, _) if self.has(2) => Quality::SuspendedSecond,
            (None, None) => Quality::Power,
            (None, Some(0)) => Quality::Major7,
            (None, Some(_)) => Quality::Dominant,
            (Some(-1), Some(-1)) if lowered => Quality::HalfDiminished,
            (Some(-1), Some(-1)) => Quality::Minor7,
            (Some(-1), Some(-2)) => Quality::Diminished7,
            (Some(-1), Some(_)) if lowered => Quality::Diminished7,
            (Some(-1), Some(_)) => Quality::MinorMajor7,
            (Some(-1), None) if lowered => Quality::Diminished,
            (Some(-1), None) if self.has_degree(6, 0) => Quality::Minor6,
            (Some(-1), None) => Quality::Minor,
            (Some(_), Some(0)) if raised => Quality::AugmentedMajor7,
            (Some(_), Some(0)) => Quality::Major7,
            (Some(_), Some(_)) if raised => Quality::AugmentedSeventh,
            (Some(_), Some(_)) => Quality::Dominant,
            (Some(_), None) if raised => Quality::Augmented,
            (Some(_), None) if self.has(6) => Quality::Major6,
            (Some(_), None) => Quality::Major,
        }
    }

    /// The user's own text for the page, with ♭ ♯ for `b #`, and Δ for the ASCII stand-ins of the triangle.
    pub fn pretty(&self) -> String {
        pretty(&self.text)
    }
}

/// Signs for accidentals, where they are accidentals: after a note letter, before a figure.
fn pretty(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut out = String::with_capacity(text.len() + 8);
    let mut note = true;
    for (at, &sign) in chars.iter().enumerate() {
        let figure = chars[at + 1..]
            .iter()
            .find(|next| **next != 'b' && **next != '#')
            .is_some_and(char::is_ascii_digit);
        match sign {
            'b' if note && at > 0 && chars[at - 1] != '/' || sign == 'b' && figure => out.push('♭'),
            '#' => out.push('♯'),
            '^' | '∆' | '△' => out.push('Δ'),
            'Ø' | '⌀' => out.push('ø'),
            'h' if at > 0 && !chars[at - 1].is_ascii_lowercase() => out.push('ø'),
            other => out.push(other),
        }
        note = (at == 0 || chars[at - 1] == '/') && sign.is_ascii_uppercase()
            || note && matches!(sign, 'b' | '#' | '♭' | '♯');
    }
    out
}

impl FromStr for Harmony {
    type Err = SymbolError;
    /// Reads a chord symbol, or no chord as `N.C.`, `NC`, `n.c.`, `no chord` in any case.
    fn from_str(text: &str) -> Result<Harmony, SymbolError> {
        let plain: String = text
            .chars()
            .take(16)
            .filter(|sign| !matches!(sign, '.' | ' ' | '/' | '(' | ')' | '[' | ']'))
            .collect::<String>()
            .to_lowercase();
        if matches!(plain.as_str(), "nc" | "nochord") {
            return Ok(Harmony::Silence);
        }
        text.parse().map(Harmony::Chord)
    }
}

impl fmt::Display for Harmony {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Harmony::Chord(symbol) => symbol.fmt(f),
            Harmony::Silence => f.write_str("N.C."),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn degrees(text: &str) -> String {
        let chord: ChordSymbol = text.parse().unwrap_or_else(|e| panic!("{text}: {e}"));
        let names: Vec<String> = chord.degrees.iter().map(Degree::to_string).collect();
        names.join(" ")
    }

    #[test]
    fn what_players_write_is_read() {
        // Common practice, no source.
        let cases = [
            ("C7M", "1 3 5 7"),
            ("Cm7M", "1 b3 5 7"),
            ("C-5", "1 3 b5"),
            ("C(b5)", "1 3 b5"),
            ("C b9", "1 3 5 b9"),
            ("Cm+7", "1 b3 5 7"),
            ("C+11", "1 3 5 #11"),
            ("C13sus4(b9)", "1 4 5 b7 b9 13"),
            ("C9sus", "1 4 5 b7 9"),
            ("C11sus4", "1 4 5 b7 9"),
            ("Csus2sus4", "1 2 4 5"),
            ("C7sus4add3", "1 3 4 5 b7"),
            ("Cadd9,11", "1 3 5 9 11"),
            ("C6/9#11", "1 3 5 6 9 #11"),
            ("C7/13", "1 3 5 b7 13"),
            ("C7(13)", "1 3 5 b7 13"),
            ("C7[b9 #11]", "1 3 5 b7 b9 #11"),
            ("C7b9/b13", "1 3 5 b7 b9 b13"),
            ("Cm6(maj7)", "1 b3 5 7 13"),
            ("Cdim7(maj7)", "1 b3 b5 bb7 7"),
            ("C/9", "1 3 5 9"),
            ("Cm/maj7", "1 b3 5 7"),
            ("Cm-maj7", "1 b3 5 7"),
            ("Cm9(maj7)", "1 b3 5 7 9"),
            ("C7aug5", "1 3 #5 b7"),
            ("C∅7", "1 b3 b5 b7"),
            ("Csus4(add3)", "1 3 4 5"),
            ("Cno3rd", "1 5"),
            ("C9(omit 3, 5)", "1 b7 9"),
            ("Cmaddb6", "1 b3 5 b6"),
            ("Cm7b6", "1 b3 5 b7 b13"),
            ("Chalf-dim7", "1 b3 b5 b7"),
            ("CMI7(b5)", "1 b3 b5 b7"),
            ("C MAJ 7", "1 3 5 7"),
            ("Cmaj11", "1 3 5 7 9 11"),
            ("C13b9b5", "1 3 b5 b7 b9 13"),
            ("C7#5#9#11b13", "1 3 #5 b7 #9 #11 b13"),
        ];
        for (text, wanted) in cases {
            assert_eq!(degrees(text), wanted, "{text}");
        }
    }

    #[test]
    fn the_bass_may_be_no_chord_tone() {
        let chord: ChordSymbol = "F♯m7b5/E♭".parse().unwrap();
        assert_eq!(
            (chord.root.to_string(), chord.bass.to_string()),
            ("F#".into(), "Eb".into())
        );
        assert_eq!(chord.to_string(), "F#m7b5/Eb");
        assert_eq!(chord.classes(), [0, 3, 4, 6, 9]);
    }

    #[test]
    fn silence_has_its_spellings() {
        for text in [
            "N.C.", "NC", "N.C", "n.c.", "no chord", "No Chord", " N.C. ", "(N.C.)", "[NC]",
        ] {
            assert_eq!(text.parse(), Ok(Harmony::Silence), "{text}");
        }
    }

    #[test]
    fn what_cannot_be_read_says_where_and_what_is_nearest() {
        let cases = [
            ("", 1, None),
            ("cm7", 1, Some("Cm7")),
            ("Hm7", 1, Some("Bm7")),
            ("?", 1, None),
            ("Cmin7q", 6, Some("Cmin7")),
            ("Cmoj7", 3, Some("Cmaj7")),
            ("Cm7/", 5, Some("Cm7")),
            ("C/E/G", 4, Some("C/E")),
            ("C7(b9", 6, Some("C7(b9)")),
            ("C7b9)", 5, Some("C7b9")),
            ("C7b", 4, Some("C7")),
            ("C7b8", 3, Some("C7b9")),
            ("Cadd", 5, Some("Cadd9")),
            ("C77", 3, Some("C7")),
            ("Cmmin7", 3, Some("Cm")),
        ];
        for (text, column, nearest) in cases {
            let error = text.parse::<ChordSymbol>().unwrap_err();
            assert_eq!(error.column, column, "{text}: {error}");
            assert_eq!(error.nearest.as_deref(), nearest, "{text}: {error}");
        }
        let long = format!("C7{}", " ".repeat(80) + "b9");
        assert_eq!(long.parse::<ChordSymbol>().unwrap_err().column, 65);
    }

    #[test]
    fn the_page_shows_signs() {
        let cases = [
            ("Bbm7b5", "B♭m7♭5"),
            ("F#7#9/C#", "F♯7♯9/C♯"),
            ("Ebb7", "E♭♭7"),
            ("Abmaj7/Bb", "A♭maj7/B♭"),
            ("C^7", "CΔ7"),
            ("Ch7", "Cø7"),
            ("Calt/Bb", "Calt/B♭"),
            ("C7sus4b9", "C7sus4♭9"),
            ("D7(b9,b13)", "D7(♭9,♭13)"),
            ("Gdim7(bb7)", "Gdim7(♭♭7)"),
        ];
        for (text, page) in cases {
            assert_eq!(pretty(text), page);
        }
    }

    #[test]
    fn families() {
        let cases = [
            ("C", Quality::Major),
            ("C6/9", Quality::Major6),
            ("Cmaj9#11", Quality::Major7),
            ("Cm(add9)", Quality::Minor),
            ("Cm69", Quality::Minor6),
            ("Cm11", Quality::Minor7),
            ("CmMaj7", Quality::MinorMajor7),
            ("C7b9", Quality::Dominant),
            ("C7alt", Quality::Dominant),
            ("C+7", Quality::AugmentedSeventh),
            ("C9sus4", Quality::Suspended),
            ("Csus2", Quality::SuspendedSecond),
            ("Cø", Quality::HalfDiminished),
            ("Co", Quality::Diminished),
            ("Co7", Quality::Diminished7),
            ("Caug", Quality::Augmented),
            ("Cmaj7#5", Quality::AugmentedMajor7),
            ("C5", Quality::Power),
        ];
        for (text, quality) in cases {
            assert_eq!(
                text.parse::<ChordSymbol>().unwrap().quality(),
                quality,
                "{text}"
            );
        }
    }
}
