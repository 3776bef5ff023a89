//! What a chord does in a key: its Roman numeral, how naturally it stands there, and its scale.

use super::dominant::dominant;
use super::habits::{DominantToMinor, Habits, MinorTonic, ThreeChord};
use super::sound::{ChordSound, Neighbours, SIGNATURE, SoundReading, reading};
use super::{Key, Mode, Quality, ScaleName as Scale};

/// The cost of a chord that has no place in the key.
const STRANGER: f32 = 3.0;

/// Reads a chord in a key.
pub(super) fn read(key: Key, around: &Neighbours, habits: &Habits) -> SoundReading {
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
const OUTSIDE: &str = "outside the key: by its own tones";

fn stranger(degree: u8, chord: ChordSound) -> SoundReading {
    let at = usize::from(degree);
    let (numeral, scale) = match chord.quality {
        Quality::MinorMajor7 => (LOWER[at], Scale::MelodicMinor),
        _ if chord.is_minor() => (LOWER[at], Scale::Dorian),
        _ if chord.is_major() => (UPPER[at], Scale::Lydian),
        _ => (UPPER[at], Scale::Mixolydian),
    };
    reading(STRANGER, numeral, scale, OUTSIDE)
}

/// Chords without a third: suspended, power.
fn open(mode: Mode, degree: u8, around: &Neighbours, habits: &Habits) -> Option<SoundReading> {
    let suspended = around.chord.quality == Quality::Suspended;
    if suspended && mode == Mode::Minor && degree == 7 {
        let to_minor = around.falls_a_fifth().is_none_or(ChordSound::is_minor);
        if to_minor && habits.dominant_to_minor == DominantToMinor::PhrygianDominant {
            let why = "dominant of the minor key: flat nine";
            return Some(reading(0.1, "V7sus", Scale::PhrygianDominant, why));
        }
    }
    let of = |cost, scale, why| Some(reading(cost, UPPER[usize::from(degree)], scale, why));
    let diatonic = match mode {
        Mode::Major => major_mode(degree),
        Mode::Minor => minor_mode(degree),
    };
    match diatonic {
        Some(Scale::Locrian) => of(1.0, Scale::Phrygian, SIGNATURE),
        Some(Scale::Dorian) if suspended && around.falls_a_fifth().is_some() => {
            of(0.2, Scale::Mixolydian, "a suspended dominant: natural nine")
        }
        // A suspension on the tonic or the four leaves the fourth in the third's place.
        Some(Scale::Ionian | Scale::Lydian) if suspended => {
            of(0.3, Scale::Mixolydian, "the fourth in the third's place")
        }
        Some(scale) => of(0.2, scale, SIGNATURE),
        None => of(1.0, Scale::Mixolydian, OUTSIDE),
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

fn augmented(mode: Mode, degree: u8, around: &Neighbours) -> SoundReading {
    let numeral = UPPER[usize::from(degree)];
    if around.chord.quality == Quality::AugmentedMajor7 {
        let at_home = mode == Mode::Minor && degree == 3;
        let why = "a raised fifth with a major seventh";
        return reading(
            if at_home { 0.3 } else { 1.0 },
            numeral,
            Scale::LydianAugmented,
            why,
        );
    }
    let cost = if matches!(degree, 0 | 7) { 0.5 } else { 1.2 };
    reading(cost, numeral, Scale::WholeTone, "a raised fifth")
}

fn half_diminished(mode: Mode, degree: u8, around: &Neighbours) -> SoundReading {
    let of = |cost, scale, why| reading(cost, HALF_DIMINISHED[usize::from(degree)], scale, why);
    // One that leads to no dominant of its own is a minor sixth chord by another name (D half-diminished is F minor
    // with its sixth below), the six of that minor.
    let by_its_sixth = |cost| {
        of(
            cost,
            Scale::LocrianNatural2,
            "a minor chord over its own sixth: natural two",
        )
    };
    let two = around.is_two();
    match (mode, degree) {
        (Mode::Minor, 9) => of(0.4, Scale::LocrianNatural2, "the six of minor: natural two"),
        (Mode::Minor, 2) => of(0.0, Scale::Locrian, "the two of minor: flat two, passing"),
        (Mode::Major, 11) => of(0.1, Scale::Locrian, SIGNATURE),
        (Mode::Major, 6) => of(0.8, Scale::Locrian, "the raised four: flat two, passing"),
        (Mode::Major, 2) if !two => by_its_sixth(0.7),
        (Mode::Major, 2) => of(
            0.7,
            Scale::Locrian,
            "the two borrowed from minor: flat two, passing",
        ),
        _ if two => of(
            0.7,
            Scale::Locrian,
            "the two of a passing minor key: flat two, passing",
        ),
        _ => by_its_sixth(1.5),
    }
}

fn diminished(mode: Mode, degree: u8, quality: Quality) -> SoundReading {
    let of = |cost, scale, why| reading(cost, DIMINISHED[usize::from(degree)], scale, why);
    let triad = quality == Quality::Diminished;
    match (mode, degree) {
        (Mode::Major, 11) if triad => of(0.2, Scale::Locrian, SIGNATURE),
        (Mode::Major, 6) if triad => {
            let why = "the leading tone of the five: flat two, passing";
            of(0.8, Scale::AlteredDoubleFlat7, why)
        }
        (Mode::Minor, 2) if triad => of(0.1, Scale::Locrian, SIGNATURE),
        (Mode::Minor, 11) => of(
            0.1,
            Scale::AlteredDoubleFlat7,
            "the leading tone of harmonic minor",
        ),
        _ => {
            let why = "passing diminished: whole and half steps";
            of(
                if degree == 11 { 0.4 } else { 0.8 },
                Scale::DiminishedWholeHalf,
                why,
            )
        }
    }
}

fn minor(mode: Mode, degree: u8, around: &Neighbours, habits: &Habits) -> Option<SoundReading> {
    let of = |cost, scale, why| Some(reading(cost, LOWER[usize::from(degree)], scale, why));
    let quality = around.chord.quality;
    let sixth = matches!(quality, Quality::Minor6 | Quality::MinorMajor7);
    let two = around.is_two() && quality != Quality::MinorMajor7;
    match (mode, degree) {
        (Mode::Minor, 0) => Some(minor_tonic(quality, habits)),
        // As a triad or with a sixth it keeps the key's own two and three above the borrowed third.
        (Mode::Major, 5) if sixth || quality == Quality::Minor => {
            of(0.8, Scale::MelodicMinor, "the four borrowed from minor")
        }
        (Mode::Major, 5) => of(0.8, Scale::Dorian, "the four borrowed from minor"),
        (Mode::Major, 2) => of(0.0, Scale::Dorian, SIGNATURE),
        (Mode::Major, 4) => {
            let scale = match habits.three_chord {
                ThreeChord::Phrygian => Scale::Phrygian,
                ThreeChord::Aeolian => Scale::Aeolian,
            };
            // Before a dominant a fifth below it may as well be the two of another key.
            of(if two { 0.5 } else { 0.1 }, scale, "the three of the key")
        }
        (Mode::Major, 9) => of(0.0, Scale::Aeolian, SIGNATURE),
        (Mode::Minor, 5) => of(0.0, Scale::Dorian, SIGNATURE),
        // A minor five before a dominant on the tonic is the two of the four.
        (Mode::Minor | Mode::Major, 7) if two => {
            Some(reading(0.6, "ii/iv", Scale::Dorian, "the two of the four"))
        }
        (Mode::Minor, 7) => of(0.2, Scale::Phrygian, SIGNATURE),
        (Mode::Major, 7) => of(0.8, Scale::Dorian, "the five borrowed from Mixolydian"),
        (Mode::Minor, 2) => of(0.5, Scale::Dorian, "the two with a natural fifth"),
        (Mode::Major, 0) if sixth => Some(SoundReading {
            cost: 1.3,
            ..minor_tonic(quality, habits)
        }),
        (Mode::Major, 0) => of(1.3, Scale::Dorian, "the tonic borrowed from minor"),
        _ if two => of(1.1, Scale::Dorian, "the two of a passing key"),
        _ => None,
    }
}

fn minor_tonic(quality: Quality, habits: &Habits) -> SoundReading {
    let natural_sixth = match habits.minor_tonic {
        MinorTonic::NaturalSixth => quality != Quality::Minor7,
        MinorTonic::NaturalSixthAlways => true,
        MinorTonic::Signature => false,
    };
    let (scale, why) = match quality {
        Quality::MinorMajor7 if natural_sixth => (
            Scale::MelodicMinor,
            "minor tonic: natural sixth and seventh",
        ),
        Quality::MinorMajor7 => (Scale::HarmonicMinor, SIGNATURE),
        Quality::Minor6 if natural_sixth => (Scale::MelodicMinor, "minor tonic: natural sixth"),
        Quality::Minor | Quality::Minor7 if natural_sixth => {
            (Scale::Dorian, "minor tonic: natural sixth")
        }
        _ => (Scale::Aeolian, SIGNATURE),
    };
    reading(0.0, "i", scale, why)
}

fn major(mode: Mode, degree: u8, around: &Neighbours, habits: &Habits) -> Option<SoundReading> {
    let of = |cost, scale, why| Some(reading(cost, UPPER[usize::from(degree)], scale, why));
    let triad = around.chord.quality == Quality::Major;
    let falls = around.falls_a_fifth().is_some();
    match (mode, degree) {
        (Mode::Major, 0) | (Mode::Minor, 3) => of(0.0, Scale::Ionian, SIGNATURE),
        (Mode::Major, 5) | (Mode::Minor, 8) => of(0.0, Scale::Lydian, SIGNATURE),
        (_, 7) | (Mode::Major, 2 | 4 | 9 | 11) if triad => {
            Some(dominant(mode, degree, around, habits))
        }
        (Mode::Minor, 10) if triad => of(0.1, Scale::Mixolydian, SIGNATURE),
        (Mode::Minor, 0 | 2) if triad && falls => Some(dominant(mode, degree, around, habits)),
        (Mode::Major, 8 | 10) => of(0.8, Scale::Lydian, "borrowed from minor"),
        (Mode::Major, 3) => of(1.0, Scale::Lydian, "borrowed from minor"),
        (_, 1) => of(0.9, Scale::Lydian, "the lowered two"),
        (Mode::Minor, 0) => of(1.2, Scale::Ionian, "the tonic borrowed from major"),
        (Mode::Minor, 5) => of(0.8, Scale::Lydian, "the four borrowed from major"),
        _ => None,
    }
}
