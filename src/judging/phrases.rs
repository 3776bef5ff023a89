//! Phrases that come again: as much for whoever improvises as a count of notes.
//!
//! A phrase is some intervals with their rhythm, so that it is the same in another key and at another tempo: n-grams of
//! intervals, as patterns are looked for in transcribed solos (K. Frieler, F. Höger, M. Pfleiderer, S. Dixon, ISMIR 2018; from
//! memory). What is counted is ours: the notes that lie in a phrase which came before.

use std::collections::HashSet;

/// Intervals of a phrase: five notes are one, fewer are what every line has.
const INTERVALS: usize = 4;

/// How many of these notes (when, in beats, and which MIDI key; in the order of time) lie in a phrase that came before.
pub fn repeated_notes(notes: &[(f64, u8)]) -> usize {
    let steps: Vec<(i16, i8)> = notes
        .windows(2)
        .map(|pair| step(pair[0], pair[1]))
        .collect();
    let mut known: HashSet<&[(i16, i8)]> = HashSet::new();
    let mut is_repeated = vec![false; notes.len()];
    for (at, phrase) in steps.windows(INTERVALS).enumerate() {
        if !known.insert(phrase) {
            is_repeated[at..=at + INTERVALS].fill(true);
        }
    }
    is_repeated.into_iter().filter(|repeated| *repeated).count()
}

/// The way from a note to the next: semitones, and the time between in half octaves of a beat, so that a swung eighth is an
/// eighth and a late one, too.
fn step(from: (f64, u8), to: (f64, u8)) -> (i16, i8) {
    let beats = (to.0 - from.0).clamp(1.0 / 16.0, 16.0);
    (
        i16::from(to.1) - i16::from(from.1),
        (2.0 * beats.log2()).round() as i8,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Notes a half beat apart.
    fn line(keys: &[u8]) -> Vec<(f64, u8)> {
        (0..)
            .map(|index| f64::from(index) / 2.0)
            .zip(keys.iter().copied())
            .collect()
    }

    #[test]
    fn a_phrase_is_the_same_in_another_key_and_at_another_tempo() {
        let phrase = [60, 62, 64, 67, 65];
        let higher = phrase.map(|key| key + 5);
        let twice = line(&[phrase, higher].concat());
        assert_eq!(repeated_notes(&twice), 5);
        let slower: Vec<(f64, u8)> = twice.iter().map(|(at, key)| (at * 1.04, *key)).collect();
        assert_eq!(repeated_notes(&slower), 5);
        // Another rhythm makes it another phrase; so does another note.
        let mut other = twice.clone();
        other[7].0 += 0.3;
        assert_eq!(repeated_notes(&other), 0);
        assert_eq!(
            repeated_notes(&line(&[60, 62, 64, 67, 65, 60, 62, 64, 66, 65])),
            0
        );
        assert_eq!(repeated_notes(&twice[..4]), 0);
    }
}
