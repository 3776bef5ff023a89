//! Names of notes and degrees as the page writes them.

use crate::drill::Names;
use crate::glossary::{DEGREES, HIGH_DEGREES};
use crate::harmony::{Degree, Pitch};

/// The sign of an accidental: ♭, ♯, 𝄫, 𝄪, more of them where a spelling needs it; empty for a natural.
pub fn accidental(alter: i8) -> String {
    let (one, two) = if alter < 0 {
        ('♭', '𝄫')
    } else {
        ('♯', '𝄪')
    };
    let count = usize::from(alter.unsigned_abs());
    let mut text: String = std::iter::repeat_n(two, count / 2).collect();
    if count % 2 == 1 {
        text.push(one);
    }
    text
}

/// A note's name: `E♭`, German `Es`, solfège `mi♭`.
pub fn note_name(pitch: Pitch, names: Names) -> String {
    names.note(pitch, accidental)
}

/// A degree as a word, whatever its alteration: `third` for both thirds. The chord says which it is.
pub fn degree_word(degree: Degree) -> &'static str {
    let index = usize::from(degree.number.clamp(1, 13)) - 1;
    match DEGREES.get(index) {
        Some(word) => word.page,
        None => HIGH_DEGREES[index - DEGREES.len()],
    }
}

/// The same with a sign where it bends: `♭second`. Third and seventh are whatever the chord has.
pub fn degree_told(degree: Degree) -> String {
    match degree.number {
        3 | 7 => degree_word(degree).to_string(),
        _ => accidental(degree.alter) + degree_word(degree),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_are_named_in_three_ways() {
        // German names as in DIN 1311-style school usage, from memory; solfège: fixed do, common practice, no source.
        let cases = [
            ("C", "C", "C", "do"),
            ("C#", "C♯", "Cis", "do♯"),
            ("Db", "D♭", "Des", "re♭"),
            ("Eb", "E♭", "Es", "mi♭"),
            ("Ebb", "E𝄫", "Eses", "mi𝄫"),
            ("E#", "E♯", "Eis", "mi♯"),
            ("F##", "F𝄪", "Fisis", "fa𝄪"),
            ("Gb", "G♭", "Ges", "sol♭"),
            ("Ab", "A♭", "As", "la♭"),
            ("Abb", "A𝄫", "Ases", "la𝄫"),
            ("B", "B", "H", "si"),
            ("Bb", "B♭", "B", "si♭"),
            ("Bbb", "B𝄫", "Heses", "si𝄫"),
            ("B#", "B♯", "His", "si♯"),
            ("Cbbb", "C𝄫♭", "Ceseses", "do𝄫♭"),
        ];
        for (pitch, english, german, solfege) in cases {
            let pitch: Pitch = pitch.parse().unwrap();
            assert_eq!(note_name(pitch, Names::English), english);
            assert_eq!(note_name(pitch, Names::German), german);
            assert_eq!(note_name(pitch, Names::Solfege), solfege);
        }
    }

    #[test]
    fn degrees_are_words() {
        let cases = [
            ("1", "root"),
            ("b2", "second"),
            ("b3", "third"),
            ("#4", "fourth"),
            ("bb7", "seventh"),
            ("b13", "thirteenth"),
        ];
        for (degree, word) in cases {
            assert_eq!(degree_word(degree.parse().unwrap()), word);
        }
    }
}
