//! How much a chord speaks for a key: round weights by theory, nothing fitted.
//!
//! Tonic and dominant establish a key, predominants prepare it, other chords of the key agree with it; a chord that the key
//! explains as applied or borrowed says nothing; the parallel tonic speaks against it, and so does a stranger. The choice of
//! such weights follows the way in which rule-based key finders score chords by function (D. Temperley, "The Cognition of
//! Basic Musical Structures", 2001, chapters 6 and 7: scores for each key, a penalty for change, dynamic programming; F.
//! Lerdahl, "Tonal Pitch Space", 2001: near keys are the relative, the parallel and the fifths; both from memory).

use super::sound::{ChordSound, Neighbours};
use super::{Key, Mode, Quality};

const TONIC: f32 = 3.0;
const DOMINANT_SEVENTH: f32 = 3.0;
const DOMINANT_TRIAD: f32 = 2.0;
const PREDOMINANT: f32 = 2.0;
const OTHER: f32 = 1.0;
/// Minor has more chords, by its movable sixth and seventh; so each says less.
const OTHER_IN_MINOR: f32 = 0.5;
/// An applied dominant, its two, a diminished chord, a chord borrowed from the parallel key.
const EXPLAINED: f32 = 0.0;
const PARALLEL_TONIC: f32 = -1.0;
const STRANGER: f32 = -2.0;
/// What a dominant before its tonic adds.
const CADENCE: f32 = 1.0;

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
pub(super) fn standing(key: Key, around: &Neighbours) -> f32 {
    let tonic = key.tonic.class();
    let degree = (12 + around.chord.root - tonic) % 12;
    let tones = around.chord.above_class(tonic);
    let own = match key.mode {
        Mode::Major => MAJOR,
        Mode::Minor => MINOR,
    };
    if around.blues && matches!(degree, 0 | 5) && leads_as_dominant(around.chord) {
        return if degree == 0 { TONIC } else { PREDOMINANT };
    }
    if tones & !own == 0 {
        in_key(key.mode, degree, tones, around)
    } else {
        out_of_key(key.mode, degree, tones, around)
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

/// A dominant with or without its seventh.
fn dominant(chord: ChordSound) -> f32 {
    if chord.holds(10, chord) {
        DOMINANT_SEVENTH
    } else {
        DOMINANT_TRIAD
    }
}

fn in_key(mode: Mode, degree: u8, tones: u16, around: &Neighbours) -> f32 {
    let chord = around.chord;
    let led = around
        .before
        .is_some_and(|before| before.above(chord) == 7 && has_major_third(before));
    let cadence = if led { CADENCE } else { 0.0 };
    match (mode, degree) {
        (Mode::Major, 0) if has_major_third(chord) => TONIC + cadence,
        (Mode::Minor, 0) if has_minor_third(chord) => TONIC + cadence,
        (_, 7) if has_major_third(chord) => dominant(chord),
        (Mode::Major, 7) => DOMINANT_TRIAD,
        // The dominant of the relative major, and chords of the melodic sixth, which other keys have by nature.
        (Mode::Minor, 10) if leads_as_dominant(chord) && chord.holds(10, chord) => EXPLAINED,
        (Mode::Minor, 1..=8 | 10 | 11) if tones & RAISED_SIXTH != 0 => EXPLAINED,
        (_, 2 | 5) => PREDOMINANT,
        (Mode::Minor, _) => OTHER_IN_MINOR,
        (Mode::Major, _) => OTHER,
    }
}

fn out_of_key(mode: Mode, degree: u8, tones: u16, around: &Neighbours) -> f32 {
    let chord = around.chord;
    let (targets, parallel) = match mode {
        Mode::Major => (TARGETS_IN_MAJOR, NATURAL_MINOR),
        Mode::Minor => (TARGETS_IN_MINOR, MAJOR),
    };
    if leads_as_dominant(chord) {
        if degree == 7 {
            return dominant(chord);
        }
        if targets & 1 << ((degree + 5) % 12) != 0 {
            return EXPLAINED;
        }
    }
    let two = has_minor_third(chord) && around.is_two();
    match (mode, degree) {
        _ if chord.is_diminished() || two => EXPLAINED,
        (Mode::Major, 0) if has_minor_third(chord) => PARALLEL_TONIC,
        (Mode::Minor, 0) if has_major_third(chord) => PARALLEL_TONIC,
        _ if tones & !parallel == 0 => EXPLAINED,
        _ => STRANGER,
    }
}
