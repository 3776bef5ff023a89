//! Scales by name.

use super::{Degree, Pitch};
use crate::fault::nearest;
use std::fmt;
use std::str::FromStr;

/// The scales that a chord can take: the modes of major, melodic minor and harmonic minor, and the
/// symmetric scales.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ScaleName {
    Ionian,
    Dorian,
    Phrygian,
    Lydian,
    Mixolydian,
    Aeolian,
    Locrian,
    MelodicMinor,
    DorianFlat2,
    LydianAugmented,
    LydianDominant,
    MixolydianFlat6,
    LocrianNatural2,
    Altered,
    HarmonicMinor,
    LocrianNatural6,
    IonianSharp5,
    DorianSharp4,
    PhrygianDominant,
    LydianSharp2,
    AlteredDoubleFlat7,
    DiminishedWholeHalf,
    DiminishedHalfWhole,
    WholeTone,
}

/// A text that is no scale name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{name}\" is no scale known here{}", nearest.as_ref().map(|near| format!(" (nearest: \"{near}\")")).unwrap_or_default())]
pub struct ScaleNameError {
    pub name: String,
    pub nearest: Option<String>,
}

/// A degree in short, so that the table below reads like a book's.
const fn d(number: u8, alter: i8) -> Degree {
    Degree::new(number, alter)
}

/// Degrees 1 to 7 from their seven alterations.
const fn seven(alter: [i8; 7]) -> [Degree; 7] {
    [
        d(1, alter[0]),
        d(2, alter[1]),
        d(3, alter[2]),
        d(4, alter[3]),
        d(5, alter[4]),
        d(6, alter[5]),
        d(7, alter[6]),
    ]
}

static IONIAN: [Degree; 7] = seven([0, 0, 0, 0, 0, 0, 0]);
static DORIAN: [Degree; 7] = seven([0, 0, -1, 0, 0, 0, -1]);
static PHRYGIAN: [Degree; 7] = seven([0, -1, -1, 0, 0, -1, -1]);
static LYDIAN: [Degree; 7] = seven([0, 0, 0, 1, 0, 0, 0]);
static MIXOLYDIAN: [Degree; 7] = seven([0, 0, 0, 0, 0, 0, -1]);
static AEOLIAN: [Degree; 7] = seven([0, 0, -1, 0, 0, -1, -1]);
static LOCRIAN: [Degree; 7] = seven([0, -1, -1, 0, -1, -1, -1]);
static MELODIC_MINOR: [Degree; 7] = seven([0, 0, -1, 0, 0, 0, 0]);
static DORIAN_FLAT_2: [Degree; 7] = seven([0, -1, -1, 0, 0, 0, -1]);
static LYDIAN_AUGMENTED: [Degree; 7] = seven([0, 0, 0, 1, 1, 0, 0]);
static LYDIAN_DOMINANT: [Degree; 7] = seven([0, 0, 0, 1, 0, 0, -1]);
static MIXOLYDIAN_FLAT_6: [Degree; 7] = seven([0, 0, 0, 0, 0, -1, -1]);
static LOCRIAN_NATURAL_2: [Degree; 7] = seven([0, 0, -1, 0, -1, -1, -1]);
/// By function: the chord keeps its major third, so the third note is a raised second.
static ALTERED: [Degree; 7] = [
    d(1, 0),
    d(2, -1),
    d(2, 1),
    d(3, 0),
    d(5, -1),
    d(6, -1),
    d(7, -1),
];
static HARMONIC_MINOR: [Degree; 7] = seven([0, 0, -1, 0, 0, -1, 0]);
static LOCRIAN_NATURAL_6: [Degree; 7] = seven([0, -1, -1, 0, -1, 0, -1]);
static IONIAN_SHARP_5: [Degree; 7] = seven([0, 0, 0, 0, 1, 0, 0]);
static DORIAN_SHARP_4: [Degree; 7] = seven([0, 0, -1, 1, 0, 0, -1]);
static PHRYGIAN_DOMINANT: [Degree; 7] = seven([0, -1, 0, 0, 0, -1, -1]);
static LYDIAN_SHARP_2: [Degree; 7] = seven([0, 1, 0, 1, 0, 0, 0]);
static ALTERED_DOUBLE_FLAT_7: [Degree; 7] = seven([0, -1, -1, -1, -1, -1, -2]);
static DIMINISHED_WHOLE_HALF: [Degree; 8] = [
    d(1, 0),
    d(2, 0),
    d(3, -1),
    d(4, 0),
    d(5, -1),
    d(6, -1),
    d(7, -2),
    d(7, 0),
];
static DIMINISHED_HALF_WHOLE: [Degree; 8] = [
    d(1, 0),
    d(2, -1),
    d(2, 1),
    d(3, 0),
    d(4, 1),
    d(5, 0),
    d(6, 0),
    d(7, -1),
];
static WHOLE_TONE: [Degree; 6] = [d(1, 0), d(2, 0), d(3, 0), d(4, 1), d(5, 1), d(7, -1)];

impl ScaleName {
    /// All scales: modes of major, of melodic minor, of harmonic minor, then the symmetric ones.
    pub const ALL: [ScaleName; 24] = [
        ScaleName::Ionian,
        ScaleName::Dorian,
        ScaleName::Phrygian,
        ScaleName::Lydian,
        ScaleName::Mixolydian,
        ScaleName::Aeolian,
        ScaleName::Locrian,
        ScaleName::MelodicMinor,
        ScaleName::DorianFlat2,
        ScaleName::LydianAugmented,
        ScaleName::LydianDominant,
        ScaleName::MixolydianFlat6,
        ScaleName::LocrianNatural2,
        ScaleName::Altered,
        ScaleName::HarmonicMinor,
        ScaleName::LocrianNatural6,
        ScaleName::IonianSharp5,
        ScaleName::DorianSharp4,
        ScaleName::PhrygianDominant,
        ScaleName::LydianSharp2,
        ScaleName::AlteredDoubleFlat7,
        ScaleName::DiminishedWholeHalf,
        ScaleName::DiminishedHalfWhole,
        ScaleName::WholeTone,
    ];

    /// The name as files and lines have it.
    pub fn name(self) -> &'static str {
        match self {
            ScaleName::Ionian => "Ionian",
            ScaleName::Dorian => "Dorian",
            ScaleName::Phrygian => "Phrygian",
            ScaleName::Lydian => "Lydian",
            ScaleName::Mixolydian => "Mixolydian",
            ScaleName::Aeolian => "Aeolian",
            ScaleName::Locrian => "Locrian",
            ScaleName::MelodicMinor => "melodic minor",
            ScaleName::DorianFlat2 => "Dorian b2",
            ScaleName::LydianAugmented => "Lydian augmented",
            ScaleName::LydianDominant => "Lydian dominant",
            ScaleName::MixolydianFlat6 => "Mixolydian b6",
            ScaleName::LocrianNatural2 => "Locrian natural 2",
            ScaleName::Altered => "altered",
            ScaleName::HarmonicMinor => "harmonic minor",
            ScaleName::LocrianNatural6 => "Locrian natural 6",
            ScaleName::IonianSharp5 => "Ionian #5",
            ScaleName::DorianSharp4 => "Dorian #4",
            ScaleName::PhrygianDominant => "Phrygian dominant",
            ScaleName::LydianSharp2 => "Lydian #2",
            ScaleName::AlteredDoubleFlat7 => "altered bb7",
            ScaleName::DiminishedWholeHalf => "diminished whole-half",
            ScaleName::DiminishedHalfWhole => "diminished half-whole",
            ScaleName::WholeTone => "whole tone",
        }
    }

    /// The degrees from the root up (six to eight), each within the octave and named by function: the
    /// altered scale has `b2 #2 3`, not `b2 b3 b4`.
    pub fn degrees(self) -> &'static [Degree] {
        match self {
            ScaleName::Ionian => &IONIAN,
            ScaleName::Dorian => &DORIAN,
            ScaleName::Phrygian => &PHRYGIAN,
            ScaleName::Lydian => &LYDIAN,
            ScaleName::Mixolydian => &MIXOLYDIAN,
            ScaleName::Aeolian => &AEOLIAN,
            ScaleName::Locrian => &LOCRIAN,
            ScaleName::MelodicMinor => &MELODIC_MINOR,
            ScaleName::DorianFlat2 => &DORIAN_FLAT_2,
            ScaleName::LydianAugmented => &LYDIAN_AUGMENTED,
            ScaleName::LydianDominant => &LYDIAN_DOMINANT,
            ScaleName::MixolydianFlat6 => &MIXOLYDIAN_FLAT_6,
            ScaleName::LocrianNatural2 => &LOCRIAN_NATURAL_2,
            ScaleName::Altered => &ALTERED,
            ScaleName::HarmonicMinor => &HARMONIC_MINOR,
            ScaleName::LocrianNatural6 => &LOCRIAN_NATURAL_6,
            ScaleName::IonianSharp5 => &IONIAN_SHARP_5,
            ScaleName::DorianSharp4 => &DORIAN_SHARP_4,
            ScaleName::PhrygianDominant => &PHRYGIAN_DOMINANT,
            ScaleName::LydianSharp2 => &LYDIAN_SHARP_2,
            ScaleName::AlteredDoubleFlat7 => &ALTERED_DOUBLE_FLAT_7,
            ScaleName::DiminishedWholeHalf => &DIMINISHED_WHOLE_HALF,
            ScaleName::DiminishedHalfWhole => &DIMINISHED_HALF_WHOLE,
            ScaleName::WholeTone => &WHOLE_TONE,
        }
    }

    /// The scale spelled over a root, from the root up.
    pub fn over(self, root: Pitch) -> Vec<Pitch> {
        self.degrees()
            .iter()
            .map(|degree| degree.above(root))
            .collect()
    }
}

impl fmt::Display for ScaleName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for ScaleName {
    type Err = ScaleNameError;
    /// Reads a name in any case, with ♭ and ♯ too.
    fn from_str(text: &str) -> Result<ScaleName, ScaleNameError> {
        let plain = text.trim().replace('♭', "b").replace('♯', "#");
        ScaleName::ALL
            .into_iter()
            .find(|scale| scale.name().eq_ignore_ascii_case(&plain))
            .ok_or_else(|| ScaleNameError {
                name: text.chars().take(64).collect(),
                nearest: nearest(
                    &plain.chars().take(64).collect::<String>(),
                    ScaleName::ALL.iter().map(|scale| scale.name()),
                )
                .map(str::to_string),
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_in_any_case_and_written_in_one() {
        for scale in ScaleName::ALL {
            assert_eq!(scale.name().parse(), Ok(scale));
            assert_eq!(scale.name().to_uppercase().parse(), Ok(scale));
        }
        assert_eq!("lydian ♯2".parse(), Ok(ScaleName::LydianSharp2));
        let error = "Misolydian".parse::<ScaleName>().unwrap_err();
        assert_eq!(error.nearest.as_deref(), Some("Mixolydian"));
    }

    #[test]
    fn scales_are_spelled_over_the_root() {
        // Modes by definition; the altered scale by function, common practice, no source.
        let cases = [
            ("B", "Phrygian dominant", "B C D# E F# G A"),
            ("C", "altered", "C Db D# E Gb Ab Bb"),
            ("Gb", "Lydian dominant", "Gb Ab Bb C Db Eb Fb"),
            ("F#", "Locrian", "F# G A B C D E"),
            ("C", "whole tone", "C D E F# G# Bb"),
            ("G", "diminished half-whole", "G Ab A# B C# D E F"),
        ];
        for (root, scale, notes) in cases {
            let (root, scale): (Pitch, ScaleName) = (root.parse().unwrap(), scale.parse().unwrap());
            let spelled: Vec<String> = scale.over(root).iter().map(Pitch::to_string).collect();
            assert_eq!(spelled.join(" "), notes, "{scale} over {root}");
        }
    }
}
