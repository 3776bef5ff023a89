//! Dominants: whose nine is in force.

use super::habits::{AfterHalfDiminished, Habits};
use super::rule::{Rule, Ruled};
use super::sound::{ChordSound, Neighbours};
use super::{Key, Mode, ScaleName as Scale};

/// What rules say of a dominant.
pub(super) fn dominant(key: Key, degree: u8, around: &Neighbours, habits: &Habits) -> Ruled {
    let mode = key.mode;
    let flat_nine = habits.dominant_scale();
    if around.blues && matches!(degree, 0 | 5 | 7) {
        return Some((Scale::Mixolydian, Rule::Blues));
    }
    let own_five = mode == Mode::Major && degree == 7 && around.home == Some(key);
    if around.after_half_diminished_two() && half_diminished_counts(own_five, around, habits) {
        return Some((flat_nine, Rule::AfterHalfDiminished));
    }
    let after = around.falls_a_fifth();
    if after.is_some_and(ChordSound::is_minor) && to_minor(mode, degree, habits) {
        return Some((flat_nine, Rule::ToMinor));
    }
    if around.five_of_major(mode, degree) {
        return Some((Scale::Mixolydian, Rule::PassingTwoFive));
    }
    if !has_own_flat_nine(mode, degree) {
        return None;
    }
    if after.is_some_and(ChordSound::is_dominant) && !habits.flat_nine_to_dominant {
        return Some((Scale::MixolydianFlat6, Rule::ToDominant));
    }
    Some((flat_nine, Rule::OwnNotes))
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
