//! Dominants: where one goes decides its second, then where it stands in the key.

use super::habits::{AfterHalfDiminished, DominantToMinor, Habits};
use super::sound::{ChordSound, Neighbours, SIGNATURE, SoundReading, reading};
use super::{Mode, ScaleName as Scale};

const SEVENTHS: [&str; 12] = [
    "I7", "bII7", "II7", "bIII7", "III7", "IV7", "#IV7", "V7", "bVI7", "VI7", "bVII7", "VII7",
];
/// The dominant of the degree a fifth below.
const SECONDARY: [&str; 12] = [
    "V7/IV", "V7/bV", "V7/V", "V7/bVI", "V7/vi", "V7/bVII", "V7/vii", "V7", "V7/bII", "V7/ii",
    "V7/bIII", "V7/iii",
];
/// The same in minor.
const SECONDARY_IN_MINOR: [&str; 12] = [
    "V7/iv", "V7/bV", "V7/V", "V7/bVI", "V7/VI", "V7/bVII", "V7/VII", "V7", "V7/bII", "V7/ii",
    "V7/bIII", "V7/III",
];

fn dominant_to_minor(habits: &Habits) -> Scale {
    match habits.dominant_to_minor {
        DominantToMinor::PhrygianDominant => Scale::PhrygianDominant,
        DominantToMinor::Altered => Scale::Altered,
    }
}

const TO_MAJOR: &str = "it goes to major or to another dominant: natural nine";

/// A dominant: where it goes decides, then where it stands.
pub(super) fn dominant(
    mode: Mode,
    degree: u8,
    around: &Neighbours,
    habits: &Habits,
) -> SoundReading {
    let at = usize::from(degree);
    let falls = around.falls_a_fifth();
    let main = matches!(degree, 0 | 5 | 7) && around.blues;
    let numeral = match (mode, degree) {
        (Mode::Major, 7) => "V7",
        (Mode::Minor, 10) => "bVII7",
        _ if main => SEVENTHS[at],
        (Mode::Major, _) if falls.is_some() => SECONDARY[at],
        (Mode::Minor, _) if falls.is_some() => SECONDARY_IN_MINOR[at],
        (Mode::Major, 2 | 4 | 9 | 11) => SECONDARY[at],
        _ => SEVENTHS[at],
    };
    let (scale, why) = scale_of(mode, degree, around, habits);
    reading(dominant_cost(mode, degree, around), numeral, scale, why)
}

/// Its scale, and why.
fn scale_of(mode: Mode, degree: u8, around: &Neighbours, habits: &Habits) -> (Scale, &'static str) {
    let flat_nine = dominant_to_minor(habits);
    let own_five = mode == Mode::Major && degree == 7 && around.home;
    if around.after_half_diminished_two() && half_diminished_counts(own_five, around, habits) {
        return (
            flat_nine,
            "a half-diminished two stands before it: flat nine",
        );
    }
    let standing = || standing_dominant(mode, degree, around, flat_nine);
    let Some(after) = around.falls_a_fifth() else {
        return standing();
    };
    let main = matches!(degree, 0 | 5 | 7) && around.blues;
    if after.is_minor() && !main {
        let to_two = mode == Mode::Major && degree == 9;
        if to_two && !habits.flat_nine_to_two {
            let why = "dominant of the two: the key's own natural nine";
            return (natural_nine(mode, degree), why);
        }
        return (flat_nine, "it goes to a minor chord: flat nine");
    }
    if around.flat_nine_sounds_before() && !after.is_dominant() && !main {
        return (
            flat_nine,
            "a diminished chord with its flat nine leads to it: flat nine",
        );
    }
    if mode == Mode::Minor && degree == 10 || degree == 7 || main {
        return standing();
    }
    let lydian = degree == 5 || mode == Mode::Major && degree == 10;
    (
        if lydian {
            Scale::LydianDominant
        } else {
            natural_nine(mode, degree)
        },
        TO_MAJOR,
    )
}

/// Whether a half-diminished two before a dominant gives it a flat nine: where it goes to minor in any case.
fn half_diminished_counts(own_five: bool, around: &Neighbours, habits: &Habits) -> bool {
    let to_minor = around.falls_a_fifth().is_some_and(ChordSound::is_minor);
    match habits.flat_nine_after_half_diminished {
        _ if to_minor => true,
        AfterHalfDiminished::Always => true,
        AfterHalfDiminished::AwayFromHome => !own_five || around.comes_out_of_minor(),
        AfterHalfDiminished::Never => false,
    }
}

/// The scale of a dominant with a natural nine: its sixth is the key's own.
fn natural_nine(mode: Mode, degree: u8) -> Scale {
    match (mode, degree) {
        (Mode::Major, 4 | 9 | 11) | (Mode::Minor, 0 | 2 | 7) => Scale::MixolydianFlat6,
        _ => Scale::Mixolydian,
    }
}

/// The scale of a dominant that does not fall a fifth, or whose place in the key decides.
fn standing_dominant(
    mode: Mode,
    degree: u8,
    around: &Neighbours,
    flat_nine: Scale,
) -> (Scale, &'static str) {
    let to_major = around
        .falls_a_fifth()
        .is_some_and(|after| !after.is_minor());
    match (mode, degree) {
        (_, 0 | 5 | 7) if around.blues => (
            Scale::Mixolydian,
            "a blues: natural nine on every main degree",
        ),
        (Mode::Minor, 7) if to_major => (natural_nine(mode, 7), TO_MAJOR),
        (Mode::Minor, 7) => (flat_nine, "dominant of the minor key: flat nine"),
        (Mode::Major, 7) | (Mode::Minor, 10) => (Scale::Mixolydian, SIGNATURE),
        (Mode::Major, 4 | 11) => (
            flat_nine,
            "dominant of a minor degree of the key: flat nine",
        ),
        (Mode::Minor, 2) => (flat_nine, "the minor key's own notes: flat nine"),
        (_, 0 | 2 | 9) => {
            let why = "a dominant that goes to no minor chord: natural nine";
            (natural_nine(mode, degree), why)
        }
        (_, 1 | 8 | 3 | 6) if around.falls_a_semitone() => {
            let why = "tritone substitute: natural nine and sharp four";
            (Scale::LydianDominant, why)
        }
        _ => {
            let why = "a dominant from outside the key: natural nine and sharp four";
            (Scale::LydianDominant, why)
        }
    }
}

fn dominant_cost(mode: Mode, degree: u8, around: &Neighbours) -> f32 {
    let falls = around.falls_a_fifth().is_some();
    let slides = around.falls_a_semitone();
    match (mode, degree) {
        (_, 0 | 5) if around.blues => 0.0,
        (_, 7) => 0.0,
        (Mode::Minor, 10) => 0.1,
        (_, 0) if falls => 0.5,
        (_, 0) => 0.9,
        (Mode::Minor, 5) => 0.4,
        (_, 5) => 0.8,
        (_, 10) => 0.7,
        (_, 1) if slides => 0.5,
        (_, 8) if slides => 0.6,
        (_, 3 | 6) if slides => 1.0,
        (Mode::Major, 2 | 4 | 9 | 11) if falls => 0.5,
        (Mode::Minor, 2) if falls => 0.5,
        (_, 2 | 4 | 9 | 11) => 0.9,
        (_, 8) => 0.9,
        _ => 1.6,
    }
}
