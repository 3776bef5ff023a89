//! Dominants: where one goes decides its second, then where it stands in the key.

use super::context::{AfterHalfDiminished, DominantToMinor, Habits};
use super::function::{Neighbours, Reading, SIGNATURE, Sound, reading};
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

/// A dominant: where it goes decides, then where it stands.
pub(super) fn dominant(mode: Mode, degree: u8, around: &Neighbours, habits: &Habits) -> Reading {
    let at = usize::from(degree);
    let minor_scale = dominant_to_minor(habits);
    let cost = dominant_cost(mode, degree, around);
    let main = matches!(degree, 0 | 5 | 7);
    let numeral = match (mode, degree) {
        (Mode::Major, 7) => "V7",
        (Mode::Minor, 10) => "bVII7",
        _ if around.blues && main => SEVENTHS[at],
        (Mode::Major, _) if around.falls_a_fifth().is_some() => SECONDARY[at],
        (Mode::Minor, _) if around.falls_a_fifth().is_some() => SECONDARY_IN_MINOR[at],
        (Mode::Major, 2 | 4 | 9 | 11) => SECONDARY[at],
        _ => SEVENTHS[at],
    };
    let own_five = mode == Mode::Major && degree == 7 && around.home;
    if around.after_half_diminished_two() && half_diminished_counts(own_five, around, habits) {
        return reading(
            cost,
            numeral,
            minor_scale,
            "a half-diminished two stands before it: flat nine",
        );
    }
    let Some(after) = around.falls_a_fifth() else {
        return standing_dominant(mode, degree, around, numeral, cost, minor_scale);
    };
    let main = around.blues && main;
    if after.is_minor() && !main {
        let to_two = mode == Mode::Major && degree == 9;
        if to_two && !habits.flat_nine_to_two {
            let why = "dominant of the two: the key's own natural nine";
            return reading(cost, numeral, natural_nine(mode, degree), why);
        }
        let why = "it goes to a minor chord: flat nine";
        return reading(cost, numeral, minor_scale, why);
    }
    if around.flat_nine_sounds_before() && !after.is_dominant() && !main {
        let why = "a diminished chord with its flat nine leads to it: flat nine";
        return reading(cost, numeral, minor_scale, why);
    }
    if mode == Mode::Minor && degree == 10 || degree == 7 || main {
        return standing_dominant(mode, degree, around, numeral, cost, minor_scale);
    }
    let lydian = degree == 5 || mode == Mode::Major && degree == 10;
    let scale = if lydian {
        Scale::LydianDominant
    } else {
        natural_nine(mode, degree)
    };
    let why = "it goes to major or to another dominant: natural nine";
    reading(cost, numeral, scale, why)
}

/// Whether a half-diminished two before a dominant gives it a flat nine: where it goes to minor in any case.
fn half_diminished_counts(own_five: bool, around: &Neighbours, habits: &Habits) -> bool {
    let to_minor = around.falls_a_fifth().is_some_and(Sound::is_minor);
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

/// A dominant that does not fall a fifth, or whose place in the key decides.
fn standing_dominant(
    mode: Mode,
    degree: u8,
    around: &Neighbours,
    numeral: &'static str,
    cost: f32,
    minor_scale: Scale,
) -> Reading {
    match (mode, degree) {
        (_, 0 | 5 | 7) if around.blues => reading(
            cost,
            numeral,
            Scale::Mixolydian,
            "a blues: natural nine on every main degree",
        ),
        (Mode::Minor, 7)
            if around
                .falls_a_fifth()
                .is_some_and(|after| !after.is_minor()) =>
        {
            reading(
                cost,
                numeral,
                natural_nine(mode, 7),
                "it goes to major or to another dominant: natural nine",
            )
        }
        (Mode::Minor, 7) => reading(
            cost,
            numeral,
            minor_scale,
            "dominant of the minor key: flat nine",
        ),
        (Mode::Major, 7) => reading(cost, numeral, Scale::Mixolydian, SIGNATURE),
        (Mode::Minor, 10) => reading(cost, numeral, Scale::Mixolydian, SIGNATURE),
        (Mode::Major, 4 | 11) => reading(
            cost,
            numeral,
            minor_scale,
            "dominant of a minor degree of the key: flat nine",
        ),
        (Mode::Minor, 2) => reading(
            cost,
            numeral,
            minor_scale,
            "the minor key's own notes: flat nine",
        ),
        (_, 0 | 2 | 9) => reading(
            cost,
            numeral,
            natural_nine(mode, degree),
            "a dominant that goes to no minor chord: natural nine",
        ),
        (_, 1 | 8 | 3 | 6) if around.falls_a_semitone() => reading(
            cost,
            numeral,
            Scale::LydianDominant,
            "tritone substitute: natural nine and sharp four",
        ),
        _ => reading(
            cost,
            numeral,
            Scale::LydianDominant,
            "a dominant from outside the key: natural nine and sharp four",
        ),
    }
}

fn dominant_cost(mode: Mode, degree: u8, around: &Neighbours) -> f32 {
    let falls = around.falls_a_fifth().is_some();
    let slides = around.falls_a_semitone();
    match (mode, degree) {
        (_, 0 | 5) if around.blues => 0.0,
        (_, 7) => 0.0,
        (Mode::Minor, 10) => 0.1,
        (_, 0) => {
            if falls {
                0.5
            } else {
                0.9
            }
        }
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
