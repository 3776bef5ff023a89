//! How much a chord speaks for a key.

use super::sound::{ChordSound, Neighbours};
use super::weights::{Tenths, Weights};
use super::{Key, Mode, Quality};

/// The notes of a key, a bit each from the tonic up; minor with both its sixths and sevenths.
const MAJOR: u16 = notes(&[0, 2, 4, 5, 7, 9, 11]);
const MINOR: u16 = notes(&[0, 2, 3, 5, 7, 8, 9, 10, 11]);
pub(super) const NATURAL_MINOR: u16 = notes(&[0, 2, 3, 5, 7, 8, 10]);
const RAISED_SIXTH: u16 = notes(&[9]);
/// Degrees that can have a dominant of their own.
const TARGETS_IN_MAJOR: u16 = notes(&[0, 2, 4, 5, 7, 9]);
const TARGETS_IN_MINOR: u16 = notes(&[0, 3, 5, 7, 8, 10]);

const fn notes(list: &[u8]) -> u16 {
    let (mut bits, mut at) = (0, 0);
    while at < list.len() {
        bits |= 1 << list[at];
        at += 1;
    }
    bits
}

/// How much speaks for hearing a chord in a key.
pub(super) fn standing(key: Key, around: &Neighbours, weights: &Weights) -> Tenths {
    let tonic = key.tonic.class();
    let degree = (12 + around.chord.root - tonic) % 12;
    let tones = around.chord.above_class(tonic);
    let own = match key.mode {
        Mode::Major => MAJOR,
        Mode::Minor => MINOR,
    };
    if around.blues && matches!(degree, 0 | 5) && leads_as_dominant(around.chord) {
        return if degree == 0 {
            weights.tonic
        } else {
            weights.predominant
        };
    }
    if degree == 11 && is_rootless_dominant(around.chord) && around.rises() {
        return weights.dominant_triad;
    }
    if tones & !own == 0 {
        in_key(key.mode, degree, tones, around, weights)
    } else {
        out_of_key(key.mode, degree, tones, around, weights)
    }
}

/// Whether all its tones are the key's own (the natural ones in minor).
pub(super) fn is_of_key(key: Key, chord: ChordSound) -> bool {
    let own = match key.mode {
        Mode::Major => MAJOR,
        Mode::Minor => NATURAL_MINOR,
    };
    chord.above_class(key.tonic.class()) & !own == 0
}

fn has_major_third(chord: ChordSound) -> bool {
    chord.holds(4, chord)
}

fn has_minor_third(chord: ChordSound) -> bool {
    chord.holds(3, chord) && !has_major_third(chord)
}

fn leads_as_dominant(chord: ChordSound) -> bool {
    has_major_third(chord)
        && (chord.holds(10, chord) || matches!(chord.quality, Quality::Major | Quality::Augmented))
}

/// The dominant without its root: diminished or half-diminished on the leading tone. A diminished seventh is none, for it is
/// that of four keys alike.
fn is_rootless_dominant(chord: ChordSound) -> bool {
    matches!(chord.quality, Quality::Diminished | Quality::HalfDiminished)
}

/// A dominant with or without its seventh.
fn dominant(chord: ChordSound, weights: &Weights) -> Tenths {
    if chord.holds(10, chord) {
        weights.dominant_seventh
    } else {
        weights.dominant_triad
    }
}

fn in_key(mode: Mode, degree: u8, tones: u16, around: &Neighbours, weights: &Weights) -> Tenths {
    let chord = around.chord;
    let led = around
        .before
        .is_some_and(|before| match before.above(chord) {
            7 => has_major_third(before),
            11 => is_rootless_dominant(before),
            _ => false,
        });
    let cadence = if led { weights.cadence } else { 0 };
    match (mode, degree) {
        (Mode::Major, 0) if has_major_third(chord) => weights.tonic + cadence,
        (Mode::Minor, 0) if has_minor_third(chord) => weights.tonic + cadence,
        (_, 7) if has_major_third(chord) => dominant(chord, weights),
        (Mode::Major, 7) => weights.dominant_triad,
        // The dominant of the relative major, and chords of the melodic sixth, which other keys have by nature.
        (Mode::Minor, 10) if leads_as_dominant(chord) && chord.holds(10, chord) => {
            weights.relative_dominant
        }
        (Mode::Minor, 1..=8 | 10 | 11) if tones & RAISED_SIXTH != 0 => weights.raised_sixth,
        (_, 2 | 5) => weights.predominant,
        (Mode::Minor, _) => weights.other_in_minor,
        (Mode::Major, _) => weights.other,
    }
}

fn out_of_key(
    mode: Mode,
    degree: u8,
    tones: u16,
    around: &Neighbours,
    weights: &Weights,
) -> Tenths {
    let chord = around.chord;
    let (targets, parallel) = match mode {
        Mode::Major => (TARGETS_IN_MAJOR, NATURAL_MINOR),
        Mode::Minor => (TARGETS_IN_MINOR, MAJOR),
    };
    if leads_as_dominant(chord) {
        if degree == 7 {
            return dominant(chord, weights);
        }
        if targets & 1 << ((degree + 5) % 12) != 0 {
            return weights.explained;
        }
    }
    let two = has_minor_third(chord) && around.is_two();
    match (mode, degree) {
        _ if chord.is_diminished() || two => weights.explained,
        (Mode::Major, 0) if has_minor_third(chord) => weights.parallel_tonic,
        (Mode::Minor, 0) if has_major_third(chord) => weights.parallel_tonic,
        _ if tones & !parallel == 0 => weights.explained,
        _ => weights.stranger,
    }
}
