//! What a chord does in a key, and the scale that follows.
//!
//! One principle: the notes at hand are the local key's own, with the chord's own tones over them (in minor a dominant
//! brings its leading tone along, so that it has the harmonic minor). The rules below speak over it where a chord stands
//! for a moment in another key than the one around it: a chord that is led to by its own dominant, a chord borrowed from
//! the parallel key. Which of them speak is a matter of habits ([`super::Habits`]), where the evidence for each stands.

use super::dominant::dominant;
use super::habits::{Habits, MinorTonic, MinorTwo, ThreeChord};
use super::numeral::{is_dominant_triad, numeral};
use super::own_notes::own_notes;
use super::rule::{Rule, Ruled};
use super::sound::Neighbours;
use super::{Key, Mode, Quality, ScaleName as Scale};

/// A chord read in a key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SoundReading {
    /// The scale before the symbol's own tones are put in.
    pub scale: Scale,
    /// What decided it.
    pub rule: Rule,
}

/// Semitones of a chord's root over a key's tonic.
fn degree_in(key: Key, around: &Neighbours) -> u8 {
    (12 + around.chord.root - key.tonic.class()) % 12
}

/// The chord's Roman numeral in a key.
pub(super) fn function(key: Key, around: &Neighbours) -> &'static str {
    numeral(key.mode, degree_in(key, around), around)
}

/// What the key alone says of a chord.
pub(super) fn by_key(key: Key, around: &Neighbours) -> Scale {
    own_notes(key.mode, degree_in(key, around), around.chord)
}

/// What key and rules say of a chord.
pub(super) fn read(key: Key, around: &Neighbours, habits: &Habits) -> SoundReading {
    let degree = degree_in(key, around);
    let chord = around.chord;
    let ruled = match chord.quality {
        _ if chord.is_dominant() || is_dominant_triad(key.mode, degree, around) => {
            dominant(key, degree, around, habits)
        }
        Quality::AugmentedMajor7 => Some((Scale::LydianAugmented, Rule::Augmented)),
        Quality::Augmented if (key.mode, degree) != (Mode::Minor, 3) => {
            Some((Scale::WholeTone, Rule::Augmented))
        }
        Quality::HalfDiminished => half_diminished(key.mode, degree, around, habits),
        _ if chord.is_diminished() => diminished(key.mode, degree, around, habits),
        _ if chord.is_major() && (key.mode, degree) == (Mode::Minor, 0) => {
            Some((Scale::Ionian, Rule::BorrowedTonic))
        }
        _ if chord.is_minor() => minor(key.mode, degree, around, habits),
        _ => None,
    };
    let ruled = habits.trial.first([ruled]);
    let (scale, rule) = ruled.unwrap_or((by_key(key, around), Rule::OwnNotes));
    SoundReading { scale, rule }
}

fn half_diminished(mode: Mode, degree: u8, around: &Neighbours, habits: &Habits) -> Ruled {
    let two = (Scale::Locrian, Rule::HalfDiminishedTwo);
    let six = (Scale::LocrianNatural2, Rule::SixOfMinor);
    let on_six = habits.natural_two_on_six && (mode, degree) == (Mode::Minor, 9);
    let rules = [around.is_two().then_some(two), on_six.then_some(six)];
    habits.trial.first(rules)
}

/// A diminished seventh on the leading tone of minor is that key's own; any other passes.
fn diminished(mode: Mode, degree: u8, around: &Neighbours, habits: &Habits) -> Ruled {
    let own = (mode, degree) == (Mode::Minor, 11) || around.chord.quality == Quality::Diminished;
    let leads = habits.flat_two_rising && around.rises();
    (!own && !leads).then_some((Scale::DiminishedWholeHalf, Rule::Diminished))
}

fn minor(mode: Mode, degree: u8, around: &Neighbours, habits: &Habits) -> Ruled {
    let two = (Scale::Dorian, Rule::PassingTwoFive);
    let rules = [
        around.two_of_major(mode, degree).then_some(two),
        minor_by_degree(mode, degree, around, habits),
    ];
    habits.trial.first(rules)
}

fn minor_by_degree(mode: Mode, degree: u8, around: &Neighbours, habits: &Habits) -> Ruled {
    let quality = around.chord.quality;
    let sixth = matches!(quality, Quality::Minor6 | Quality::MinorMajor7);
    match (mode, degree) {
        (Mode::Minor, 0) => minor_tonic(quality, habits),
        (Mode::Minor, 2) if habits.minor_two == MinorTwo::Natural => {
            Some((Scale::Dorian, Rule::MinorTwo))
        }
        (Mode::Minor, 2 | 5 | 7) | (Mode::Major, 2 | 7 | 9) => None,
        // As a triad or with a sixth it keeps the key's own two and three above the borrowed third.
        (Mode::Major, 5) if sixth || quality == Quality::Minor => {
            Some((Scale::MelodicMinor, Rule::BorrowedFour))
        }
        (Mode::Major, 5) => Some((Scale::Dorian, Rule::BorrowedFour)),
        (Mode::Major, 4) => three_chord(around, habits),
        _ if sixth => Some((Scale::MelodicMinor, Rule::Outside)),
        _ => Some((Scale::Dorian, Rule::Outside)),
    }
}

fn three_chord(around: &Neighbours, habits: &Habits) -> Ruled {
    let natural = match habits.three_chord {
        ThreeChord::Phrygian => false,
        ThreeChord::PassingTonic => around.is_passing_tonic(),
        ThreeChord::Aeolian => true,
    };
    natural.then_some((Scale::Aeolian, Rule::ThreeChord))
}

fn minor_tonic(quality: Quality, habits: &Habits) -> Ruled {
    let natural_sixth = match habits.minor_tonic {
        MinorTonic::NaturalSixth => quality != Quality::Minor7,
        MinorTonic::NaturalSixthAlways => true,
        MinorTonic::Signature => false,
    };
    match quality {
        Quality::Minor6 | Quality::MinorMajor7 => Some((Scale::MelodicMinor, Rule::MinorTonic)),
        Quality::Minor | Quality::Minor7 if natural_sixth => {
            Some((Scale::Dorian, Rule::MinorTonic))
        }
        _ => None,
    }
}
