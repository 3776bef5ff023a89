//! Keys and key signatures.

use super::{Letter, Pitch, ScaleName};
use crate::fault::nearest;
use std::fmt;
use std::str::FromStr;

/// Major or minor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mode {
    Major,
    /// Minor: the sixth and seventh move, the third does not.
    Minor,
}

/// A key: a tonic and a mode.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Key {
    pub tonic: Pitch,
    pub mode: Mode,
}

/// What a chart declares: a key, or a bare signature that leaves the mode open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum KeyDeclaration {
    /// `"G minor"`.
    Key(Key),
    /// `"3 flats"` is -3, `"1 sharp"` is 1, `"no sharps or flats"` is 0.
    Signature(i8),
}

/// A text that is no key; its message names the nearest key.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "\"{0}\" is no key (such as \"G minor\", \"Bb major\", \"3 flats\", \"no sharps or flats\"){near}",
    near = self.nearest().map(|near| format!(" (nearest: \"{near}\")")).unwrap_or_default()
)]
pub struct KeyError(pub String);

impl KeyError {
    /// The nearest key, if one is near enough to be meant.
    pub fn nearest(&self) -> Option<String> {
        let known: Vec<String> = (-7..=7)
            .flat_map(|fifths| {
                [
                    Key::of_signature(fifths, Mode::Major).to_string(),
                    Key::of_signature(fifths, Mode::Minor).to_string(),
                    KeyDeclaration::Signature(fifths).to_string(),
                ]
            })
            .collect();
        nearest(&self.0, known.iter().map(String::as_str)).map(str::to_string)
    }
}

/// The letters in the order in which sharps are added to a signature.
const SHARPS: [Letter; 7] = [
    Letter::F,
    Letter::C,
    Letter::G,
    Letter::D,
    Letter::A,
    Letter::E,
    Letter::B,
];

/// The place of a pitch on the line of fifths, C at 0, G at 1, F at -1.
fn line_of_fifths(pitch: Pitch) -> i32 {
    let at = SHARPS
        .iter()
        .position(|letter| *letter == pitch.letter)
        .unwrap_or(1);
    at as i32 - 1 + 7 * i32::from(pitch.alter)
}

/// The pitch at a place on the line of fifths.
fn on_line_of_fifths(place: i32) -> Pitch {
    let letter = SHARPS[(place + 1).rem_euclid(7) as usize];
    Pitch::new(letter, (place + 1).div_euclid(7) as i8)
}

impl Key {
    /// A key from its tonic and mode.
    pub const fn new(tonic: Pitch, mode: Mode) -> Key {
        Key { tonic, mode }
    }

    /// The key of a signature: sharps positive, flats negative.
    pub fn of_signature(fifths: i8, mode: Mode) -> Key {
        let shift = if mode == Mode::Minor { 3 } else { 0 };
        Key::new(on_line_of_fifths(i32::from(fifths) + shift), mode)
    }

    /// Its signature: sharps positive, flats negative. Beyond seven for keys that nobody prints (`G# major`
    /// is 8).
    pub fn fifths(self) -> i8 {
        let shift = if self.mode == Mode::Minor { 3 } else { 0 };
        (line_of_fifths(self.tonic) - shift) as i8
    }

    /// The relative key: the same signature, the other mode.
    pub fn relative(self) -> Key {
        let mode = match self.mode {
            Mode::Major => Mode::Minor,
            Mode::Minor => Mode::Major,
        };
        Key::of_signature(self.fifths(), mode)
    }

    /// The seven notes of the signature from the tonic up (natural minor for a minor key).
    pub fn notes(self) -> Vec<Pitch> {
        match self.mode {
            Mode::Major => ScaleName::Ionian,
            Mode::Minor => ScaleName::Aeolian,
        }
        .over(self.tonic)
    }
}

impl KeyDeclaration {
    /// The signature: sharps positive, flats negative.
    pub fn fifths(self) -> i8 {
        match self {
            KeyDeclaration::Key(key) => key.fifths(),
            KeyDeclaration::Signature(fifths) => fifths,
        }
    }
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mode = match self.mode {
            Mode::Major => "major",
            Mode::Minor => "minor",
        };
        write!(f, "{} {mode}", self.tonic)
    }
}

impl fmt::Display for KeyDeclaration {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            KeyDeclaration::Key(key) => key.fmt(f),
            KeyDeclaration::Signature(0) => f.write_str("no sharps or flats"),
            KeyDeclaration::Signature(fifths) => {
                let word = if *fifths < 0 { "flat" } else { "sharp" };
                let many = if fifths.abs() == 1 { "" } else { "s" };
                write!(f, "{} {word}{many}", fifths.abs())
            }
        }
    }
}

impl FromStr for Key {
    type Err = KeyError;
    /// Reads a tonic and `major` or `minor`.
    fn from_str(text: &str) -> Result<Key, KeyError> {
        match text.parse()? {
            KeyDeclaration::Key(key) => Ok(key),
            KeyDeclaration::Signature(_) => Err(key_error(text)),
        }
    }
}

impl FromStr for KeyDeclaration {
    type Err = KeyError;
    /// Reads `G minor`, `Bb major`, `B♭ major`, `3 flats`, `1 sharp`, `no sharps or flats`; spaces and case
    /// of the words are free. At most seven sharps or flats.
    fn from_str(text: &str) -> Result<KeyDeclaration, KeyError> {
        let words: Vec<&str> = text.split_whitespace().take(6).collect();
        let lower: Vec<String> = words.iter().map(|word| word.to_lowercase()).collect();
        let lower: Vec<&str> = lower.iter().map(String::as_str).collect();
        match lower.as_slice() {
            ["no", "sharps" | "flats"]
            | ["no", "sharps", "or", "flats"]
            | ["no", "flats", "or", "sharps"] => {
                return Ok(KeyDeclaration::Signature(0));
            }
            [count, sign @ ("flat" | "flats" | "sharp" | "sharps")] => {
                if let Some(count) = count.parse::<i8>().ok().filter(|n| (0..=7).contains(n)) {
                    let sign = if sign.starts_with("flat") { -1 } else { 1 };
                    return Ok(KeyDeclaration::Signature(count * sign));
                }
            }
            [_, mode @ ("major" | "minor")] => {
                let mode = if *mode == "major" {
                    Mode::Major
                } else {
                    Mode::Minor
                };
                if let Some(tonic) = tonic(words[0]) {
                    let key = Key::new(tonic, mode);
                    if (-12..=12).contains(&key.fifths()) {
                        return Ok(KeyDeclaration::Key(key));
                    }
                }
            }
            _ => {}
        }
        Err(key_error(text))
    }
}

/// A tonic, with a small letter forgiven.
fn tonic(text: &str) -> Option<Pitch> {
    let mut chars = text.chars();
    let first = chars.next()?.to_ascii_uppercase();
    format!("{first}{}", chars.as_str()).parse().ok()
}

fn key_error(text: &str) -> KeyError {
    KeyError(text.chars().take(64).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_have_their_signatures() {
        // The circle of fifths, common practice, no source.
        let cases = [
            ("C major", 0, "A minor"),
            ("G major", 1, "E minor"),
            ("Bb major", -2, "G minor"),
            ("Cb major", -7, "Ab minor"),
            ("C# major", 7, "A# minor"),
            ("Eb major", -3, "C minor"),
            ("F# major", 6, "D# minor"),
        ];
        for (major, fifths, minor) in cases {
            let key: Key = major.parse().unwrap();
            assert_eq!(key.fifths(), fifths, "{major}");
            assert_eq!(key.relative().to_string(), minor);
            assert_eq!(key.relative().relative(), key);
        }
        let notes: Vec<String> = "Ab major"
            .parse::<Key>()
            .unwrap()
            .notes()
            .iter()
            .map(Pitch::to_string)
            .collect();
        assert_eq!(notes.join(" "), "Ab Bb C Db Eb F G");
    }

    #[test]
    fn declarations_are_read() {
        let cases = [
            ("G minor", "G minor"),
            ("b♭ Major", "Bb major"),
            ("3 flats", "3 flats"),
            ("1 SHARP", "1 sharp"),
            ("no sharps or flats", "no sharps or flats"),
            ("0 flats", "no sharps or flats"),
        ];
        for (text, canonical) in cases {
            let read: KeyDeclaration = text.parse().unwrap();
            assert_eq!(read.to_string(), canonical);
        }
        for text in ["", "G", "H minor", "8 flats", "-1 sharps", "G minor major"] {
            assert!(text.parse::<KeyDeclaration>().is_err(), "{text}");
        }
        let error = "G minr".parse::<KeyDeclaration>().unwrap_err();
        assert_eq!(error.nearest().as_deref(), Some("G minor"));
        assert!(error.to_string().ends_with("(nearest: \"G minor\")"));
    }
}
