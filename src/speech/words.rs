//! The trade's words for pitches, degrees and chords, as they are said.
//!
//! Common practice, no source. Numbers are kept for beats: degrees are words ("third"), only the figures that
//! belong to a chord's name ("minor seven") are said as such.

use crate::drill::Names;
use crate::glossary::{self, Word};
use crate::harmony::{ChordSymbol, Degree, Pitch};

/// A pitch as it is said: "F sharp", "Fis", "fa sharp".
pub fn note_name(pitch: Pitch, names: Names) -> String {
    names.note(pitch, accidental)
}

fn accidental(alter: i8) -> String {
    let sign = if alter < 0 { "flat" } else { "sharp" };
    match alter.unsigned_abs() {
        0 => String::new(),
        1 => format!(" {sign}"),
        2 => format!(" double {sign}"),
        many => format!(" {}", vec![sign; usize::from(many)].join(" ")),
    }
}

/// A degree as it is said, within the octave: "third" (the major one), "minor third", "flat second".
pub fn degree_word(degree: Degree, names: Names) -> String {
    let simple = degree.simple();
    let index = usize::from(simple.number - 1);
    if names == Names::German {
        let name = glossary::DEGREES[index].german;
        // German says great, small, pure: the seventh of a dominant is the small one.
        let kind = match (simple.number, simple.alter) {
            (_, 0) | (1, _) => "",
            (2 | 3 | 6 | 7, -1) => "kleine ",
            (_, ..=-1) => "verminderte ",
            (_, 1..) => "übermäßige ",
        };
        let kind = match (simple.number, simple.alter) {
            (7, 0) => "große ",
            (7, -1) => "",
            _ => kind,
        };
        return format!("{kind}{name}");
    }
    let name = glossary::DEGREES[index].voice;
    let kind = match (simple.number, simple.alter) {
        (7, -1) | (1..=6, 0) => "",
        (7, 0) => "major ",
        (7, -2) => "diminished ",
        (3, -1) => "minor ",
        (_, -1) => "flat ",
        (_, 1) => "sharp ",
        (_, ..=-2) => "double flat ",
        (_, _) => "double sharp ",
    };
    format!("{kind}{name}")
}

/// The one of two texts that is said in the language of `names`; syllables go with English.
pub fn say<T>(names: Names, english: T, german: T) -> T {
    match names {
        Names::German => german,
        Names::English | Names::Solfege => english,
    }
}

/// A word of the glossary as it is said.
pub fn said(word: Word, names: Names) -> &'static str {
    say(names, word.voice, word.german)
}

/// "below": the note before lies under the root.
pub fn below(names: Names) -> &'static str {
    said(glossary::BELOW, names)
}

/// A word of a chord's name: "minor", "Moll"; empty where there is no such word.
pub fn quality_word(english: &str, names: Names) -> &'static str {
    let found = glossary::QUALITIES
        .iter()
        .find(|word| word.voice == english);
    found.map_or("", |word| said(*word, names))
}

/// A number from one to twelve as it is said; `None` for others.
pub fn number_word(number: usize, names: Names) -> Option<&'static str> {
    let word = glossary::NUMBERS.get(number.checked_sub(1)?)?;
    Some(said(*word, names))
}

/// What a chord is, without its root.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpokenQuality {
    /// In full: "minor seven flat five" is "half diminished", "seven flat nine", "suspended".
    pub full: String,
    /// The one word that a player needs: "minor", "seven", "major", "half diminished".
    pub short: &'static str,
}

/// The third of a chord decides its family.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Third {
    Minor,
    Major,
    Suspended,
    None,
}

/// What a chord is, in words.
pub fn quality(symbol: &ChordSymbol, names: Names) -> SpokenQuality {
    let has = |number, alter| symbol.degrees.contains(&Degree::new(number, alter));
    let third = match () {
        () if has(3, -1) => Third::Minor,
        () if has(3, 0) => Third::Major,
        () if has(4, 0) || has(2, 0) || has(11, 0) => Third::Suspended,
        () => Third::None,
    };
    let short = short_word(third, &has);
    let mut words = vec![base_words(third, &has)];
    words.extend(alterations(third, &has));
    let full = words.join(" ");
    if names == Names::German {
        let german = |word| quality_word(word, names);
        let short = german(short);
        let full = full.split(' ').map(german).collect::<Vec<_>>().join(" ");
        let full = full.replace("halb vermindert", "halbvermindert");
        return SpokenQuality { full, short };
    }
    SpokenQuality { full, short }
}

fn short_word(third: Third, has: &dyn Fn(u8, i8) -> bool) -> &'static str {
    let seventh = has(7, -1);
    match third {
        Third::Minor if has(5, -1) && seventh => "half diminished",
        Third::Minor if has(5, -1) => "diminished",
        Third::Minor => "minor",
        Third::Major if seventh => "seven",
        Third::Major if has(5, 1) => "augmented",
        Third::Major => "major",
        Third::Suspended => "suspended",
        Third::None => "five",
    }
}

/// The name without what is altered: "minor", "major nine", "half diminished".
fn base_words(third: Third, has: &dyn Fn(u8, i8) -> bool) -> String {
    let figure = if has(13, 0) {
        "thirteen"
    } else if has(11, 0) && third != Third::Suspended {
        "eleven"
    } else if has(9, 0) {
        "nine"
    } else {
        "seven"
    };
    let (small, great) = (has(7, -1), has(7, 0));
    let six = match (has(6, 0), has(9, 0)) {
        (true, true) => " six nine",
        (true, false) => " six",
        (false, true) if !small && !great => " add nine",
        (false, _) => "",
    };
    match third {
        Third::Minor if has(5, -1) && has(7, -2) => "diminished seven".to_string(),
        Third::Minor if has(5, -1) && small => "half diminished".to_string(),
        Third::Minor if has(5, -1) && great => "diminished major seven".to_string(),
        Third::Minor if has(5, -1) => "diminished".to_string(),
        Third::Minor if great => format!("minor major {figure}"),
        Third::Minor if small => format!("minor {figure}"),
        Third::Minor => format!("minor{six}"),
        Third::Major if great => format!("major {figure}"),
        Third::Major if small => figure.to_string(),
        Third::Major if has(5, 1) && six.is_empty() => "augmented".to_string(),
        Third::Major if six.starts_with(" six") => six.trim_start().to_string(),
        Third::Major => format!("major{six}"),
        Third::Suspended if small => format!("{figure} suspended"),
        Third::Suspended => "suspended".to_string(),
        Third::None => "five".to_string(),
    }
}

fn alterations(third: Third, has: &dyn Fn(u8, i8) -> bool) -> Vec<String> {
    let seventh = has(7, -1) || has(7, 0);
    let diminished = third == Third::Minor && has(5, -1);
    let plain_augmented = !seventh && third == Third::Major;
    let all = [
        (has(5, -1) && !diminished, "flat five"),
        (has(5, 1) && !plain_augmented, "sharp five"),
        (has(9, -1), "flat nine"),
        (has(9, 1), "sharp nine"),
        (has(11, 1), "sharp eleven"),
        (has(13, -1), "flat thirteen"),
    ];
    let said: Vec<String> = all
        .iter()
        .filter(|(there, _)| *there)
        .map(|(_, words)| (*words).to_string())
        .collect();
    if said.len() >= 3 && third == Third::Major {
        return vec!["altered".to_string()];
    }
    said
}

/// A whole chord as it is said: "E flat minor seven", "C over E".
pub fn chord_words(symbol: &ChordSymbol, names: Names) -> String {
    let mut words = format!(
        "{} {}",
        note_name(symbol.root, names),
        quality(symbol, names).full
    );
    if symbol.bass != symbol.root {
        let over = said(glossary::OVER, names);
        words = format!("{words} {over} {}", note_name(symbol.bass, names));
    }
    words
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// A chord from its root, bass and degrees; the symbol's own text does not matter here.
    pub fn chord(root: &str, degrees: &str, bass: &str) -> ChordSymbol {
        ChordSymbol {
            text: String::new(),
            root: root.parse().unwrap(),
            bass: bass.parse().unwrap(),
            degrees: degrees.split(' ').map(|d| d.parse().unwrap()).collect(),
        }
    }

    #[test]
    fn pitches_are_named_in_three_ways() {
        // German names from memory (DIN 1345 has no list of them); the others are common practice, no source.
        let cases = [
            ("C", "C", "C", "do"),
            ("F#", "F sharp", "Fis", "fa sharp"),
            ("Bb", "B flat", "B", "si flat"),
            ("B", "B", "H", "si"),
            ("Ab", "A flat", "As", "la flat"),
            ("Eb", "E flat", "Es", "mi flat"),
            ("Ebb", "E double flat", "Eses", "mi double flat"),
            ("Abb", "A double flat", "Ases", "la double flat"),
            ("Bbb", "B double flat", "Heses", "si double flat"),
            ("Cb", "C flat", "Ces", "do flat"),
            ("F##", "F double sharp", "Fisis", "fa double sharp"),
            ("B#", "B sharp", "His", "si sharp"),
        ];
        for (pitch, english, german, solfege) in cases {
            let pitch: Pitch = pitch.parse().unwrap();
            let said = [Names::English, Names::German, Names::Solfege];
            let said = said.map(|names| note_name(pitch, names));
            assert_eq!(said, [english, german, solfege]);
        }
    }

    #[test]
    fn degrees_are_words() {
        let cases = [
            ("1", "root", "Grundton"),
            ("2", "second", "Sekunde"),
            ("b2", "flat second", "kleine Sekunde"),
            ("b9", "flat second", "kleine Sekunde"),
            ("3", "third", "Terz"),
            ("b3", "minor third", "kleine Terz"),
            ("#11", "sharp fourth", "übermäßige Quarte"),
            ("b5", "flat fifth", "verminderte Quinte"),
            ("13", "sixth", "Sexte"),
            ("b7", "seventh", "Septime"),
            ("7", "major seventh", "große Septime"),
            ("bb7", "diminished seventh", "verminderte Septime"),
        ];
        for (degree, english, german) in cases {
            let degree: Degree = degree.parse().unwrap();
            assert_eq!(degree_word(degree, Names::English), english);
            assert_eq!(degree_word(degree, Names::German), german);
        }
    }

    #[test]
    #[rustfmt::skip]
    fn chords_are_said_as_players_say_them() {
        // Common practice, no source.
        let cases = [
            ("C",  "1 3 5",            "C",  "C major",                        "major"),
            ("D",  "1 b3 5",           "D",  "D minor",                        "minor"),
            ("A",  "1 b3 5 b7",        "A",  "A minor seven",                  "minor"),
            ("Eb", "1 3 5 7",          "Eb", "E flat major seven",             "major"),
            ("Bb", "1 3 5 b7",         "Bb", "B flat seven",                   "seven"),
            ("A",  "1 b3 b5 b7",       "A",  "A half diminished",              "half diminished"),
            ("C#", "1 b3 b5 bb7",      "C#", "C sharp diminished seven",       "diminished"),
            ("C",  "1 3 5 b7 b9",      "C",  "C seven flat nine",              "seven"),
            ("C",  "1 3 5 b7 9 13",    "C",  "C thirteen",                     "seven"),
            ("C",  "1 3 #5",           "C",  "C augmented",                    "augmented"),
            ("C",  "1 3 #5 b7",        "C",  "C seven sharp five",             "seven"),
            ("C",  "1 3 b5 b7 b9 #9 b13", "C", "C seven altered",              "seven"),
            ("G",  "1 b3 5 6",         "G",  "G minor six",                    "minor"),
            ("G",  "1 b3 5 7",         "G",  "G minor major seven",            "minor"),
            ("F",  "1 3 5 6 9",        "F",  "F six nine",                     "major"),
            ("F",  "1 3 5 7 #11",      "F",  "F major seven sharp eleven",     "major"),
            ("F",  "1 3 5 9",          "F",  "F major add nine",               "major"),
            ("G",  "1 4 5 b7",         "G",  "G seven suspended",              "suspended"),
            ("C",  "1 3 5",            "E",  "C major over E",                 "major"),
            ("E",  "1 5",              "E",  "E five",                         "five"),
        ];
        for (root, degrees, bass, full, short) in cases {
            let symbol = chord(root, degrees, bass);
            assert_eq!(chord_words(&symbol, Names::English), full);
            assert_eq!(quality(&symbol, Names::English).short, short, "{full}");
        }
        let german = |root, degrees| chord_words(&chord(root, degrees, root), Names::German);
        assert_eq!(german("Bb", "1 b3 b5 b7"), "B halbvermindert");
        assert_eq!(german("F#", "1 b3 5 b7"), "Fis Moll sieben");
    }
}
