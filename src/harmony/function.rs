//! What a chord does in a key: its Roman numeral, how naturally it stands there, and its scale.

use super::context::{DominantToMinor, Habits, MinorTonic, ThreeChord};
use super::dominant::dominant;
use super::{ChordSymbol, Key, Mode, Quality, ScaleName as Scale};

/// What the analysis needs of a chord.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Sound {
    /// The root's pitch class.
    pub root: u8,
    /// The family.
    pub quality: Quality,
    /// The pitch classes that sound, one bit each.
    classes: u16,
}

impl Sound {
    pub(super) fn of(symbol: &ChordSymbol) -> Sound {
        Sound {
            root: symbol.root.class(),
            quality: symbol.quality(),
            classes: symbol.degrees.iter().fold(0, |all, degree| {
                all | 1 << degree.above(symbol.root).class()
            }),
        }
    }

    /// Whether the note so many semitones above another chord's root sounds.
    pub(super) fn holds(self, semitones: u8, above: Sound) -> bool {
        self.classes & 1 << ((above.root + semitones) % 12) != 0
    }

    pub(super) fn is_dominant(self) -> bool {
        matches!(self.quality, Quality::Dominant | Quality::AugmentedSeventh)
    }

    pub(super) fn is_minor(self) -> bool {
        matches!(
            self.quality,
            Quality::Minor
                | Quality::Minor6
                | Quality::Minor7
                | Quality::MinorMajor7
                | Quality::HalfDiminished
        )
    }

    fn is_major(self) -> bool {
        matches!(
            self.quality,
            Quality::Major | Quality::Major6 | Quality::Major7
        )
    }

    fn is_diminished(self) -> bool {
        matches!(self.quality, Quality::Diminished | Quality::Diminished7)
    }

    /// Semitones from `other`'s root up to this one's.
    pub(super) fn above(self, other: Sound) -> u8 {
        (12 + self.root - other.root) % 12
    }
}

/// A chord with the nearest chords of another root on both sides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Neighbours {
    pub chord: Sound,
    pub before: Option<Sound>,
    /// As `before`, but of a dominant the chord before its tonic where that stands between (a cadential six-four
    /// written by its own name).
    pub led_by: Option<Sound>,
    /// The chord before `before`.
    pub before_that: Option<Sound>,
    pub after: Option<Sound>,
    /// The key's home is a blues: dominants on every main degree.
    pub blues: bool,
    /// The key that the chord is read in is the home key.
    pub home: bool,
}

impl Neighbours {
    /// The next root lies a fourth up (a fifth down).
    pub(super) fn falls_a_fifth(&self) -> Option<Sound> {
        self.after.filter(|after| after.above(self.chord) == 5)
    }

    /// The next root lies a semitone down.
    pub(super) fn falls_a_semitone(&self) -> bool {
        self.after
            .is_some_and(|after| after.above(self.chord) == 11)
    }

    /// A half-diminished two stands before this dominant.
    pub(super) fn after_half_diminished_two(&self) -> bool {
        self.before.is_some_and(|before| {
            before.quality == Quality::HalfDiminished && before.above(self.chord) == 7
        })
    }

    /// More than the two of this dominant is borrowed from minor: the chord before it holds the minor third or sixth
    /// of the key too.
    pub(super) fn comes_out_of_minor(&self) -> bool {
        self.before_that
            .is_some_and(|chord| chord.holds(8, self.chord) || chord.holds(1, self.chord))
    }

    /// A diminished chord leads to this dominant that is the dominant itself with its flat nine (D dim over G7: D F
    /// Ab), so that the flat nine sounds already.
    pub(super) fn flat_nine_sounds_before(&self) -> bool {
        self.led_by.is_some_and(|before| {
            matches!(
                (before.quality, before.above(self.chord)),
                (Quality::Diminished | Quality::Diminished7, 1 | 7 | 10)
                    | (Quality::Diminished7, 4)
            )
        })
    }

    /// A dominant a fifth below follows: this may be its two.
    fn is_two(&self) -> bool {
        self.falls_a_fifth()
            .is_some_and(|after| after.is_dominant() || after.quality == Quality::Suspended)
    }
}

/// A chord read in a key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reading {
    /// The cost of hearing the chord so: 0 where it is at home.
    pub cost: f32,
    /// The Roman numeral.
    pub numeral: &'static str,
    /// The scale before the symbol's own tones are put in.
    pub scale: Scale,
    /// The reason for the scale.
    pub why: &'static str,
}

pub(super) fn reading(
    cost: f32,
    numeral: &'static str,
    scale: Scale,
    why: &'static str,
) -> Reading {
    Reading {
        cost,
        numeral,
        scale,
        why,
    }
}

/// The cost of a chord that has no place in the key.
const STRANGER: f32 = 3.0;

pub(super) const SIGNATURE: &str = "the key's own notes from the chord's root";

/// Reads a chord in a key.
pub(super) fn read(key: Key, around: &Neighbours, habits: &Habits) -> Reading {
    let degree = (12 + around.chord.root - key.tonic.class()) % 12;
    let chord = around.chord;
    let found = match chord.quality {
        _ if chord.is_dominant() => Some(dominant(key.mode, degree, around, habits)),
        Quality::Suspended | Quality::SuspendedSecond | Quality::Power => {
            open(key.mode, degree, around, habits)
        }
        Quality::Augmented | Quality::AugmentedMajor7 => Some(augmented(key.mode, degree, around)),
        Quality::HalfDiminished => Some(half_diminished(key.mode, degree, around)),
        _ if chord.is_diminished() => Some(diminished(key.mode, degree, chord.quality)),
        _ if chord.is_minor() => minor(key.mode, degree, around, habits),
        _ => major(key.mode, degree, around, habits),
    };
    found.unwrap_or_else(|| stranger(degree, chord))
}

/// Numerals of roots by semitone, for major and minor chords.
const UPPER: [&str; 12] = [
    "I", "bII", "II", "bIII", "III", "IV", "#IV", "V", "bVI", "VI", "bVII", "VII",
];
const LOWER: [&str; 12] = [
    "i", "bii", "ii", "biii", "iii", "iv", "#iv", "v", "bvi", "vi", "bvii", "vii",
];
const HALF_DIMINISHED: [&str; 12] = [
    "i m7b5",
    "bii m7b5",
    "ii m7b5",
    "biii m7b5",
    "iii m7b5",
    "iv m7b5",
    "#iv m7b5",
    "v m7b5",
    "bvi m7b5",
    "vi m7b5",
    "bvii m7b5",
    "vii m7b5",
];
const DIMINISHED: [&str; 12] = [
    "i dim", "#i dim", "ii dim", "#ii dim", "iii dim", "iv dim", "#iv dim", "v dim", "#v dim",
    "vi dim", "#vi dim", "vii dim",
];

fn stranger(degree: u8, chord: Sound) -> Reading {
    let at = usize::from(degree);
    if chord.is_minor() {
        let scale = if chord.quality == Quality::MinorMajor7 {
            Scale::MelodicMinor
        } else {
            Scale::Dorian
        };
        return reading(
            STRANGER,
            LOWER[at],
            scale,
            "outside the key: by its own tones",
        );
    }
    let scale = if chord.is_major() {
        Scale::Lydian
    } else {
        Scale::Mixolydian
    };
    reading(
        STRANGER,
        UPPER[at],
        scale,
        "outside the key: by its own tones",
    )
}

/// Chords without a third: suspended, power.
fn open(mode: Mode, degree: u8, around: &Neighbours, habits: &Habits) -> Option<Reading> {
    let suspended = around.chord.quality == Quality::Suspended;
    if suspended && mode == Mode::Minor && degree == 7 {
        let to_minor = around.falls_a_fifth().is_none_or(Sound::is_minor);
        if to_minor && habits.dominant_to_minor == DominantToMinor::PhrygianDominant {
            let why = "dominant of the minor key: flat nine";
            return Some(reading(0.1, "V7sus", Scale::PhrygianDominant, why));
        }
    }
    let at = usize::from(degree);
    let diatonic = match mode {
        Mode::Major => major_mode(degree),
        Mode::Minor => minor_mode(degree),
    };
    match diatonic {
        Some(Scale::Locrian) => Some(reading(1.0, UPPER[at], Scale::Phrygian, SIGNATURE)),
        Some(Scale::Dorian) if suspended && around.falls_a_fifth().is_some() => Some(reading(
            0.2,
            UPPER[at],
            Scale::Mixolydian,
            "a suspended dominant: natural nine",
        )),
        // A suspension on the tonic or the four leaves the fourth in the third's place.
        Some(Scale::Ionian | Scale::Lydian) if suspended => Some(reading(
            0.3,
            UPPER[at],
            Scale::Mixolydian,
            "the fourth in the third's place",
        )),
        Some(scale) => Some(reading(0.2, UPPER[at], scale, SIGNATURE)),
        None => Some(reading(
            1.0,
            UPPER[at],
            Scale::Mixolydian,
            "outside the key: by its own tones",
        )),
    }
}

/// The mode on a degree of a major key.
pub(super) fn major_mode(degree: u8) -> Option<Scale> {
    match degree {
        0 => Some(Scale::Ionian),
        2 => Some(Scale::Dorian),
        4 => Some(Scale::Phrygian),
        5 => Some(Scale::Lydian),
        7 => Some(Scale::Mixolydian),
        9 => Some(Scale::Aeolian),
        11 => Some(Scale::Locrian),
        _ => None,
    }
}

/// The mode on a degree of a natural minor key.
pub(super) fn minor_mode(degree: u8) -> Option<Scale> {
    major_mode((degree + 9) % 12)
}

fn augmented(mode: Mode, degree: u8, around: &Neighbours) -> Reading {
    let at = usize::from(degree);
    if around.chord.quality == Quality::AugmentedMajor7 {
        let cost = if mode == Mode::Minor && degree == 3 {
            0.3
        } else {
            1.0
        };
        let why = "a raised fifth with a major seventh";
        return reading(cost, UPPER[at], Scale::LydianAugmented, why);
    }
    let cost = if matches!(degree, 0 | 7) { 0.5 } else { 1.2 };
    reading(cost, UPPER[at], Scale::WholeTone, "a raised fifth")
}

fn half_diminished(mode: Mode, degree: u8, around: &Neighbours) -> Reading {
    let numeral = HALF_DIMINISHED[usize::from(degree)];
    let two = around.is_two();
    match (mode, degree) {
        (Mode::Minor, 9) => reading(
            0.4,
            numeral,
            Scale::LocrianNatural2,
            "the six of minor: natural two",
        ),
        (Mode::Minor, 2) => reading(
            0.0,
            numeral,
            Scale::Locrian,
            "the two of minor: flat two, passing",
        ),
        (Mode::Major, 11) => reading(0.1, numeral, Scale::Locrian, SIGNATURE),
        (Mode::Major, 6) => reading(
            0.8,
            numeral,
            Scale::Locrian,
            "the raised four: flat two, passing",
        ),
        (Mode::Major, 2) if !two => by_its_sixth(0.7, numeral),
        (Mode::Major, 2) => reading(
            0.7,
            numeral,
            Scale::Locrian,
            "the two borrowed from minor: flat two, passing",
        ),
        _ if two => reading(
            0.7,
            numeral,
            Scale::Locrian,
            "the two of a passing minor key: flat two, passing",
        ),
        _ => by_its_sixth(1.5, numeral),
    }
}

/// A half-diminished chord that leads to no dominant of its own is a minor sixth chord by another name (D half-diminished
/// is F minor with its sixth below), the six of that minor.
fn by_its_sixth(cost: f32, numeral: &'static str) -> Reading {
    let why = "a minor chord over its own sixth: natural two";
    reading(cost, numeral, Scale::LocrianNatural2, why)
}

fn diminished(mode: Mode, degree: u8, quality: Quality) -> Reading {
    let numeral = DIMINISHED[usize::from(degree)];
    if quality == Quality::Diminished && mode == Mode::Major && degree == 11 {
        return reading(0.2, numeral, Scale::Locrian, SIGNATURE);
    }
    if quality == Quality::Diminished && mode == Mode::Major && degree == 6 {
        let why = "the leading tone of the five: flat two, passing";
        return reading(0.8, numeral, Scale::AlteredDoubleFlat7, why);
    }
    if quality == Quality::Diminished && mode == Mode::Minor && degree == 2 {
        return reading(0.1, numeral, Scale::Locrian, SIGNATURE);
    }
    if mode == Mode::Minor && degree == 11 {
        return reading(
            0.1,
            numeral,
            Scale::AlteredDoubleFlat7,
            "the leading tone of harmonic minor",
        );
    }
    let cost = if degree == 11 { 0.4 } else { 0.8 };
    reading(
        cost,
        numeral,
        Scale::DiminishedWholeHalf,
        "passing diminished: whole and half steps",
    )
}

fn minor(mode: Mode, degree: u8, around: &Neighbours, habits: &Habits) -> Option<Reading> {
    let numeral = LOWER[usize::from(degree)];
    let quality = around.chord.quality;
    let sixth = matches!(quality, Quality::Minor6 | Quality::MinorMajor7);
    let two = around.is_two() && quality != Quality::MinorMajor7;
    let place = match (mode, degree) {
        (Mode::Minor, 0) => return Some(minor_tonic(quality, habits)),
        // As a triad or with a sixth it keeps the key's own two and three above the borrowed third.
        (Mode::Major, 5) if sixth || quality == Quality::Minor => reading(
            0.8,
            numeral,
            Scale::MelodicMinor,
            "the four borrowed from minor",
        ),
        (Mode::Major, 5) => reading(0.8, numeral, Scale::Dorian, "the four borrowed from minor"),
        (Mode::Major, 2) => reading(0.0, numeral, Scale::Dorian, SIGNATURE),
        (Mode::Major, 4) => {
            let scale = match habits.three_chord {
                ThreeChord::Phrygian => Scale::Phrygian,
                ThreeChord::Aeolian => Scale::Aeolian,
            };
            // Before a dominant a fifth below it may as well be the two of another key.
            let cost = if two { 0.5 } else { 0.1 };
            reading(cost, numeral, scale, "the three of the key")
        }
        (Mode::Major, 9) => reading(0.0, numeral, Scale::Aeolian, SIGNATURE),
        (Mode::Minor, 5) => reading(0.0, numeral, Scale::Dorian, SIGNATURE),
        // A minor five before a dominant on the tonic is the two of the four.
        (Mode::Minor | Mode::Major, 7) if two => {
            reading(0.6, "ii/iv", Scale::Dorian, "the two of the four")
        }
        (Mode::Minor, 7) => reading(0.2, numeral, Scale::Phrygian, SIGNATURE),
        (Mode::Major, 7) => reading(
            0.8,
            numeral,
            Scale::Dorian,
            "the five borrowed from Mixolydian",
        ),
        (Mode::Minor, 2) => reading(0.5, numeral, Scale::Dorian, "the two with a natural fifth"),
        (Mode::Major, 0) if sixth => Reading {
            cost: 1.3,
            ..minor_tonic(quality, habits)
        },
        (Mode::Major, 0) => reading(1.3, numeral, Scale::Dorian, "the tonic borrowed from minor"),
        _ if two => reading(1.1, numeral, Scale::Dorian, "the two of a passing key"),
        _ => return None,
    };
    Some(place)
}

fn minor_tonic(quality: Quality, habits: &Habits) -> Reading {
    let natural_sixth = match habits.minor_tonic {
        MinorTonic::NaturalSixth => quality != Quality::Minor7,
        MinorTonic::NaturalSixthAlways => true,
        MinorTonic::Signature => false,
    };
    match quality {
        Quality::MinorMajor7 if natural_sixth => reading(
            0.0,
            "i",
            Scale::MelodicMinor,
            "minor tonic: natural sixth and seventh",
        ),
        Quality::MinorMajor7 => reading(0.0, "i", Scale::HarmonicMinor, SIGNATURE),
        Quality::Minor7 if natural_sixth => {
            reading(0.0, "i", Scale::Dorian, "minor tonic: natural sixth")
        }
        Quality::Minor6 if natural_sixth => {
            reading(0.0, "i", Scale::MelodicMinor, "minor tonic: natural sixth")
        }
        Quality::Minor if natural_sixth => {
            reading(0.0, "i", Scale::Dorian, "minor tonic: natural sixth")
        }
        _ => reading(0.0, "i", Scale::Aeolian, SIGNATURE),
    }
}

fn major(mode: Mode, degree: u8, around: &Neighbours, habits: &Habits) -> Option<Reading> {
    let at = usize::from(degree);
    let numeral = UPPER[at];
    let triad = around.chord.quality == Quality::Major;
    let place = match (mode, degree) {
        (Mode::Major, 0) => reading(0.0, numeral, Scale::Ionian, SIGNATURE),
        (Mode::Major, 5) => reading(0.0, numeral, Scale::Lydian, SIGNATURE),
        (Mode::Minor, 3) => reading(0.0, numeral, Scale::Ionian, SIGNATURE),
        (Mode::Minor, 8) => reading(0.0, numeral, Scale::Lydian, SIGNATURE),
        (_, 7) if triad => return Some(dominant(mode, degree, around, habits)),
        (Mode::Minor, 10) if triad => reading(0.1, numeral, Scale::Mixolydian, SIGNATURE),
        (Mode::Major, 2 | 4 | 9 | 11) if triad => {
            return Some(dominant(mode, degree, around, habits));
        }
        (Mode::Minor, 0 | 2) if triad && around.falls_a_fifth().is_some() => {
            return Some(dominant(mode, degree, around, habits));
        }
        (Mode::Major, 8 | 10) => reading(0.8, numeral, Scale::Lydian, "borrowed from minor"),
        (Mode::Major, 3) => reading(1.0, numeral, Scale::Lydian, "borrowed from minor"),
        (_, 1) => reading(0.9, numeral, Scale::Lydian, "the lowered two"),
        (Mode::Minor, 0) => reading(1.2, numeral, Scale::Ionian, "the tonic borrowed from major"),
        (Mode::Minor, 5) => reading(0.8, numeral, Scale::Lydian, "the four borrowed from major"),
        _ => return None,
    };
    Some(place)
}
