//! Dominants: whose nine is in force.

use super::habits::{AfterHalfDiminished, Habits};
use super::rule::{Rule, Ruled};
use super::sound::{ChordSound, Neighbours};
use super::{Key, Mode, ScaleName as Scale};

/// What rules say of a dominant, the first that speaks; none: the key's own notes.
pub(super) fn dominant(key: Key, degree: u8, around: &Neighbours, habits: &Habits) -> Ruled {
    let mode = key.mode;
    let flat_nine = habits.dominant_scale();
    let after = around.falls_a_fifth();
    let blues = around.blues && matches!(degree, 0 | 5 | 7);
    let own_five = mode == Mode::Major && degree == 7 && around.home == Some(key);
    let after_two =
        around.after_half_diminished_two() && half_diminished_counts(own_five, around, habits);
    let minor_next = after.is_some_and(ChordSound::is_minor);
    let own_flat_nine = has_own_flat_nine(mode, degree);
    let dominant_next = after.is_some_and(ChordSound::is_dominant);
    let plain_next = own_flat_nine && dominant_next && !habits.flat_nine_to_dominant;
    let says = |holds: bool, scale: Scale, rule: Rule| holds.then_some((scale, rule));
    habits.trial.first([
        says(blues, Scale::Mixolydian, Rule::Blues),
        says(after_two, flat_nine, Rule::AfterHalfDiminished),
        says(
            minor_next && to_minor(mode, degree, habits),
            flat_nine,
            Rule::ToMinor,
        ),
        says(
            around.five_of_major(mode, degree),
            Scale::Mixolydian,
            Rule::PassingTwoFive,
        ),
        says(plain_next, Scale::MixolydianFlat6, Rule::ToDominant),
        says(own_flat_nine, flat_nine, Rule::OwnNotes),
    ])
}

/// Whether the key's own nine over this degree is flat: its five in minor, and the dominants of its minor degrees.
fn has_own_flat_nine(mode: Mode, degree: u8) -> bool {
    match mode {
        Mode::Major => matches!(degree, 4 | 11),
        Mode::Minor => matches!(degree, 2 | 7),
    }
}

/// Whether a dominant that goes to a minor chord takes that chord's key, with its flat nine: where it is the dominant of
/// that chord in this key, of its parallel tonic, or from outside the key.
fn to_minor(mode: Mode, degree: u8, habits: &Habits) -> bool {
    match (mode, degree) {
        (Mode::Major, 9) => habits.flat_nine_to_two,
        (Mode::Minor, 0) => habits.flat_nine_to_four,
        // Those of the key's minor degrees have it of their own; those of its major degrees keep their own.
        (Mode::Major, 0 | 2 | 4 | 5 | 11) | (Mode::Minor, 2 | 3 | 5 | 7 | 8 | 10) => false,
        _ => true,
    }
}

/// Whether a half-diminished two before a dominant gives it a flat nine: where it goes to minor in any case.
fn half_diminished_counts(own_five: bool, around: &Neighbours, habits: &Habits) -> bool {
    let to_minor = around.falls_a_fifth().is_some_and(ChordSound::is_minor);
    match habits.flat_nine_after_half_diminished {
        _ if to_minor => true,
        AfterHalfDiminished::Always => true,
        AfterHalfDiminished::AwayFromHome => !own_five,
        AfterHalfDiminished::Never => false,
    }
}
