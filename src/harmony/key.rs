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
        if let Some(signature) = signature_of_mode(&self.0) {
            return Some(signature.to_string());
        }
        if let Some(count) = signs(&self.0) {
            return Some(KeyDeclaration::Signature(count.clamp(-7, 7)).to_string());
        }
        let long = self.0.chars().count() > 2;
        let near = || nearest(&self.0, known.iter().map(String::as_str)).map(str::to_string);
        long.then(near).flatten()
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
    /// Reads keys as people type them: `G minor`, `Gm`, `G min`, `B♭ major`, `B flat`, `F sharp minor`, a bare `C` (major);
    /// and signatures: `3 flats`, `one sharp`, `2#`, `no sharps or flats`. Spaces and the case of words are free. At most
    /// seven sharps or flats.
    fn from_str(text: &str) -> Result<KeyDeclaration, KeyError> {
        let short: String = text.chars().take(40).collect();
        let signature = signature(&short).map(KeyDeclaration::Signature);
        let key = || named_key(&short).map(KeyDeclaration::Key);
        signature.or_else(key).ok_or_else(|| key_error(text))
    }
}

/// A signature that there is.
fn signature(text: &str) -> Option<i8> {
    signs(text).filter(|count| (-7..=7).contains(count))
}

/// How many sharps a text names, in figures or words; flats are negative.
fn signs(text: &str) -> Option<i8> {
    const NUMBERS: [&str; 8] = ["no", "one", "two", "three", "four", "five", "six", "seven"];
    let lower = text.to_lowercase();
    let words: Vec<&str> = lower.split_whitespace().collect();
    let (count, sign) = match words.as_slice() {
        ["no", "sharps", "or", "flats"] | ["no", "flats", "or", "sharps"] => return Some(0),
        [count, sign] => (*count, *sign),
        [both] => both.split_at(both.find(|sign: char| !sign.is_ascii_digit())?),
        _ => return None,
    };
    let sign = match sign {
        "flat" | "flats" | "b" | "♭" => -1,
        "sharp" | "sharps" | "#" | "♯" => 1,
        _ => return None,
    };
    let in_words = NUMBERS.iter().position(|number| *number == count);
    let count = in_words.map_or_else(|| count.parse::<i8>().ok(), |number| Some(number as i8));
    count.filter(|count| *count >= 0).map(|count| count * sign)
}

/// The tonic at the beginning of a text and what follows it; a small letter is forgiven.
fn tonic(text: &str) -> Option<(Pitch, &str)> {
    const SIGNS: [(&str, i8); 6] = [
        ("flat", -1),
        ("sharp", 1),
        ("b", -1),
        ("♭", -1),
        ("#", 1),
        ("♯", 1),
    ];
    let text = text.trim();
    let first = text.chars().next()?;
    let letter = Letter::ALL
        .into_iter()
        .find(|letter| letter.as_char() == first.to_ascii_uppercase())?;
    let mut rest = &text[first.len_utf8()..];
    let mut alter = 0;
    loop {
        // `F sharp`, `B-flat`.
        let apart = rest.trim_start_matches([' ', '-']);
        let found = SIGNS.iter().find_map(|(sign, step)| {
            let from = if sign.len() > 3 { apart } else { rest };
            let begins = from.get(..sign.len())?.eq_ignore_ascii_case(sign);
            begins.then(|| (&from[sign.len()..], *step))
        });
        match found {
            Some((after, step)) if alter * step >= 0 => (rest, alter) = (after, alter + step),
            _ => break,
        }
    }
    (-2..=2)
        .contains(&alter)
        .then_some((Pitch::new(letter, alter), rest))
}

/// A key by its tonic and mode.
fn named_key(text: &str) -> Option<Key> {
    let (tonic, rest) = tonic(text)?;
    let mode = rest.trim().trim_end_matches('.');
    let mode = match mode.to_lowercase().as_str() {
        // A small letter alone may mean minor: that is for the writer to say.
        "" if text
            .trim()
            .starts_with(|sign: char| sign.is_ascii_uppercase()) =>
        {
            Mode::Major
        }
        _ if mode == "M" => Mode::Major,
        "major" | "maj" | "ma" => Mode::Major,
        "minor" | "min" | "mi" | "m" | "-" => Mode::Minor,
        _ => return None,
    };
    let key = Key::new(tonic, mode);
    (-12..=12).contains(&key.fifths()).then_some(key)
}

/// The signature of a mode of the major scale: it is what a chart in `D Dorian` declares.
fn signature_of_mode(text: &str) -> Option<KeyDeclaration> {
    const MODES: [(&str, i8); 7] = [
        ("lydian", 1),
        ("ionian", 0),
        ("mixolydian", -1),
        ("dorian", -2),
        ("aeolian", -3),
        ("phrygian", -4),
        ("locrian", -5),
    ];
    let (tonic, rest) = tonic(text)?;
    let name = rest.trim().to_lowercase();
    let (_, flatter) = MODES.iter().find(|(mode, _)| *mode == name)?;
    let fifths = Key::new(tonic, Mode::Major).fifths() + flatter;
    (-7..=7)
        .contains(&fifths)
        .then_some(KeyDeclaration::Signature(fifths))
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
        // What people type. Common practice, no source.
        let cases = [
            ("G minor", "G minor"),
            ("b♭ Major", "Bb major"),
            ("C Minor", "C minor"),
            ("Am", "A minor"),
            ("A m", "A minor"),
            ("am", "A minor"),
            ("F sharp minor", "F# minor"),
            ("F-sharp minor", "F# minor"),
            ("f# minor", "F# minor"),
            ("F♯m", "F# minor"),
            ("C min", "C minor"),
            ("C min.", "C minor"),
            ("Cmin", "C minor"),
            ("C mi", "C minor"),
            ("C-", "C minor"),
            ("C", "C major"),
            (" C ", "C major"),
            ("Bb", "Bb major"),
            ("B flat", "Bb major"),
            ("B flat major", "Bb major"),
            ("Bflat", "Bb major"),
            ("B-flat", "Bb major"),
            ("C maj", "C major"),
            ("Cmaj", "C major"),
            ("CM", "C major"),
            ("C Major", "C major"),
            ("EB MAJOR", "Eb major"),
            ("bb minor", "Bb minor"),
            ("b minor", "B minor"),
            ("Ebm", "Eb minor"),
            ("3 flats", "3 flats"),
            ("1 SHARP", "1 sharp"),
            ("two flats", "2 flats"),
            ("one sharp", "1 sharp"),
            ("3b", "3 flats"),
            ("2#", "2 sharps"),
            ("4 ♭", "4 flats"),
            ("no sharps or flats", "no sharps or flats"),
            ("no flats", "no sharps or flats"),
            ("0 flats", "no sharps or flats"),
        ];
        assert!(cases.len() >= 40);
        for (text, canonical) in cases {
            let read: KeyDeclaration = text.parse().unwrap_or_else(|e| panic!("{text}: {e}"));
            assert_eq!(read.to_string(), canonical, "{text}");
        }
    }

    #[test]
    fn what_is_no_key_is_refused_with_a_hint() {
        let cases = [
            ("", None),
            ("a", None),
            ("H", None),
            ("H minor", Some("B minor")),
            ("8 flats", Some("7 flats")),
            ("99 sharps", Some("7 sharps")),
            ("G minr", Some("G minor")),
            ("G minor major", Some("G minor")),
            ("D Dorian", Some("no sharps or flats")),
            ("Eb mixolydian", Some("4 flats")),
            ("C#b major", Some("C# major")),
        ];
        for (text, near) in cases {
            let error = text.parse::<KeyDeclaration>().unwrap_err();
            assert_eq!(error.nearest().as_deref(), near, "{text}");
        }
        let error = "G minr".parse::<KeyDeclaration>().unwrap_err();
        assert!(error.to_string().ends_with("(nearest: \"G minor\")"));
    }
}
