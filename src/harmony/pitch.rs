//! Spelled pitch classes and degrees.

use std::fmt;
use std::str::FromStr;

/// The seven letters, in the order of the staff from C.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Letter {
    C,
    D,
    E,
    F,
    G,
    A,
    B,
}

impl Letter {
    /// All letters from C.
    pub const ALL: [Letter; 7] = [
        Letter::C,
        Letter::D,
        Letter::E,
        Letter::F,
        Letter::G,
        Letter::A,
        Letter::B,
    ];

    /// Semitones of the natural letter above C.
    pub fn semitones(self) -> i32 {
        [0, 2, 4, 5, 7, 9, 11][self as usize]
    }

    /// The letter `steps` staff steps up (negative: down).
    pub fn up(self, steps: i32) -> Letter {
        Letter::ALL[(self as i32 + steps).rem_euclid(7) as usize]
    }

    /// The upper-case ASCII letter.
    pub fn as_char(self) -> char {
        ['C', 'D', 'E', 'F', 'G', 'A', 'B'][self as usize]
    }
}

/// A spelled pitch class: a letter and its accidentals. F# and Gb are different pitches here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Pitch {
    pub letter: Letter,
    /// Semitones of the accidental: -1 a flat, +1 a sharp, -2 a double flat ...
    pub alter: i8,
}

/// A text that is no spelled pitch.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is no note name (a letter A to G, then flats b or sharps #)")]
pub struct PitchError(pub String);

impl Pitch {
    /// A pitch from its letter and accidental.
    pub const fn new(letter: Letter, alter: i8) -> Pitch {
        Pitch { letter, alter }
    }

    /// The pitch class, 0 (C) to 11 (B).
    pub fn class(self) -> u8 {
        (self.letter.semitones() + i32::from(self.alter)).rem_euclid(12) as u8
    }

    /// Semitones from this pitch up to `other`, 0 to 11.
    pub fn up_to(self, other: Pitch) -> u8 {
        (i32::from(other.class()) - i32::from(self.class())).rem_euclid(12) as u8
    }
}

impl FromStr for Pitch {
    type Err = PitchError;
    /// Reads `Bb`, `F#`, `Ebb`, `G##`, and the Unicode signs ♭ ♯ 𝄫 𝄪.
    fn from_str(text: &str) -> Result<Pitch, PitchError> {
        let bad = || PitchError(text.to_string());
        let mut signs = text.chars();
        let first = signs.next().ok_or_else(bad)?;
        let letter = *Letter::ALL
            .iter()
            .find(|letter| letter.as_char() == first)
            .ok_or_else(bad)?;
        let mut alter = 0i8;
        for sign in signs {
            let step = match sign {
                'b' | '♭' => -1,
                '#' | '♯' => 1,
                '𝄫' => -2,
                '𝄪' => 2,
                _ => return Err(bad()),
            };
            if alter * step < 0 || (alter + step).abs() > 5 {
                return Err(bad());
            }
            alter += step;
        }
        Ok(Pitch { letter, alter })
    }
}

impl fmt::Display for Pitch {
    /// An ASCII letter and `b` or `#` repeated: the form of files and of lines that programs read.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.alter < 0 { "b" } else { "#" };
        write!(
            f,
            "{}{}",
            self.letter.as_char(),
            sign.repeat(usize::from(self.alter.unsigned_abs()))
        )
    }
}

/// A degree measured against the major scale of the root: `b3` is a minor third, `#11` a raised eleventh.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Degree {
    /// 1 to 13.
    pub number: u8,
    /// Semitones away from the major scale's degree.
    pub alter: i8,
}

/// A text that is no degree.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is no degree (1 to 13, with flats b or sharps # before it)")]
pub struct DegreeError(pub String);

impl Degree {
    /// A degree from its number (1 to 13) and alteration.
    pub const fn new(number: u8, alter: i8) -> Degree {
        Degree { number, alter }
    }

    /// Semitones above the root, compound degrees above the octave (9 is 14).
    pub fn semitones(self) -> i32 {
        let steps = i32::from(self.number) - 1;
        12 * (steps / 7) + Letter::C.up(steps).semitones() + i32::from(self.alter)
    }

    /// The degree spelled over `root`: the flat nine of B is C.
    pub fn above(self, root: Pitch) -> Pitch {
        let letter = root.letter.up(i32::from(self.number) - 1);
        let natural = (letter.semitones() - root.letter.semitones()).rem_euclid(12);
        let wanted = self.semitones() + i32::from(root.alter);
        let alter = (wanted - natural + 6).rem_euclid(12) - 6;
        Pitch {
            letter,
            alter: alter as i8,
        }
    }

    /// The same degree within the octave: 9 is 2, 11 is 4, 13 is 6.
    pub fn simple(self) -> Degree {
        Degree {
            number: (self.number - 1) % 7 + 1,
            alter: self.alter,
        }
    }

    /// The degree that `pitch` is over `root`, within the octave.
    pub fn of(pitch: Pitch, root: Pitch) -> Degree {
        let number = (pitch.letter as i32 - root.letter as i32).rem_euclid(7) as u8 + 1;
        let alter = (i32::from(root.up_to(pitch)) - Degree::new(number, 0).semitones() + 6)
            .rem_euclid(12)
            - 6;
        Degree {
            number,
            alter: alter as i8,
        }
    }
}

impl FromStr for Degree {
    type Err = DegreeError;
    fn from_str(text: &str) -> Result<Degree, DegreeError> {
        let bad = || DegreeError(text.to_string());
        let digits = text.trim_start_matches(['b', '#', '♭', '♯']);
        let mut alter = 0i8;
        for sign in text[..text.len() - digits.len()].chars() {
            let step = if matches!(sign, 'b' | '♭') { -1 } else { 1 };
            if alter * step < 0 || alter.abs() > 1 {
                return Err(bad());
            }
            alter += step;
        }
        if !digits.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(bad());
        }
        let number = digits
            .parse::<u8>()
            .ok()
            .filter(|n| (1..=13).contains(n))
            .ok_or_else(bad)?;
        Ok(Degree { number, alter })
    }
}

impl fmt::Display for Degree {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.alter < 0 { "b" } else { "#" };
        write!(
            f,
            "{}{}",
            sign.repeat(usize::from(self.alter.unsigned_abs())),
            self.number
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_are_spelled_over_the_root() {
        // Intervals of common practice, no source.
        let cases = [
            ("B", "b9", "C"),
            ("C", "b9", "Db"),
            ("F#", "7", "E#"),
            ("Gb", "b3", "Bbb"),
            ("G#", "3", "B#"),
            ("Cb", "b7", "Bbb"),
            ("D", "#11", "G#"),
            ("E#", "3", "G##"),
            ("Bb", "b5", "Fb"),
            ("A", "13", "F#"),
        ];
        for (root, degree, spelled) in cases {
            let (root, degree): (Pitch, Degree) = (root.parse().unwrap(), degree.parse().unwrap());
            let pitch = degree.above(root);
            assert_eq!(pitch.to_string(), spelled, "{degree} of {root}");
            assert_eq!(
                Degree::of(pitch, root),
                degree.simple(),
                "{pitch} over {root}"
            );
        }
    }

    #[test]
    fn what_is_no_pitch_or_degree_is_refused() {
        for text in ["", "H", "c", "C#b", "Cx", "Cbbbbbbb", "C "] {
            assert!(text.parse::<Pitch>().is_err(), "{text}");
        }
        for text in ["", "0", "14", "b", "#b3", "3b", "bbb3", "-1", "+3"] {
            assert!(text.parse::<Degree>().is_err(), "{text}");
        }
    }
}
