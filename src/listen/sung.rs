//! The pitch of a voice: the middle of what swings round it, whatever the octave.
//!
//! A sung note swings by half a semitone and more, five or six times a second, and readings of a choir fall into other
//! octaves. So readings are taken as directions on a circle of one octave, and their mean over about one swing is the
//! note: its length says how well they agree (the mean resultant of directional statistics; K. V. Mardia and P. E.
//! Jupp, "Directional Statistics", 2000, section 2.3, from memory).

use std::f32::consts::TAU;

/// Readings that are kept: a swing at 5.5 Hz and a little more, at hops of 1.33 ms.
const KEPT: usize = 150;
/// Means are compared with the one so many hops before.
const BEFORE: usize = 75;
/// A reading counts from this clarity on: less than a string's, for the agreement is asked for besides.
const CLEAR: f32 = 0.6;
/// So many of the readings that are kept must count ...
const LEAST: usize = KEPT * 45 / 100;
/// ... and agree so well: a swing of 60 cents to either side gives 0.975.
const AGREE: f32 = 0.9;
/// The middle has come to rest when it moves no more than this, in cents.
const REST_CENTS: f32 = 12.0;
/// Between two notes it may be on its way still: it must rest longer there.
const BETWEEN_CENTS: f32 = 35.0;
/// So many hops: 0.2 s.
const LONG: usize = 150;
/// The lowest and the highest octave of a reading, from MIDI 0.
const OCTAVES: usize = 12;

/// The readings of the last swing.
#[derive(Debug)]
pub(super) struct Sung {
    /// Pitch in MIDI notes; NaN where nothing is clear.
    readings: [f32; KEPT],
    means: [f32; BEFORE],
    at: usize,
    mean_at: usize,
    /// Hops since something began.
    age: usize,
    /// Hops since the middle came to rest.
    resting: usize,
    newest: Option<f32>,
}

/// The middle of the last swing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Middle {
    pub(super) midi: f32,
    /// Whether it has stopped moving.
    pub(super) rests: bool,
}

impl Sung {
    pub(super) fn new() -> Sung {
        Sung {
            readings: [f32::NAN; KEPT],
            means: [f32::NAN; BEFORE],
            at: 0,
            mean_at: 0,
            age: 0,
            resting: 0,
            newest: None,
        }
    }

    /// Something new begins: what was before says nothing about it.
    pub(super) fn forget(&mut self) {
        *self = Sung::new();
    }

    /// The middle after one more reading of `midi` (in MIDI notes, NaN for none) and its clarity; none where the
    /// readings do not agree, or are too few.
    pub(super) fn push(&mut self, midi: f32, clarity: f32) -> Option<Middle> {
        let counts = clarity > CLEAR && (0.0..128.0).contains(&midi);
        self.readings[self.at] = if counts { midi } else { f32::NAN };
        self.at = (self.at + 1) % KEPT;
        self.age = (self.age + 1).min(KEPT);
        let middle = self.middle();
        self.newest = middle;
        let before = std::mem::replace(&mut self.means[self.mean_at], middle.unwrap_or(f32::NAN));
        self.mean_at = (self.mean_at + 1) % BEFORE;
        let Some(midi) = middle.filter(|_| self.age == KEPT) else {
            self.resting = 0;
            return None;
        };
        // Not a number is not at rest.
        let still = fold(midi - before).abs() * 100.0 < REST_CENTS;
        self.resting = if still { self.resting + 1 } else { 0 };
        let between = (midi - midi.round()).abs() * 100.0 > BETWEEN_CENTS;
        let rests = self.resting > if between { LONG } else { 0 };
        Some(Middle { midi, rests })
    }

    /// The middle of what there is so far, at rest or not, in MIDI notes.
    pub(super) fn newest(&self) -> Option<f32> {
        self.newest
    }

    fn middle(&self) -> Option<f32> {
        let (mut x, mut y, mut count) = (0.0_f32, 0.0_f32, 0_usize);
        for midi in self.readings.iter().filter(|midi| !midi.is_nan()) {
            let (sin, cos) = (midi * TAU / 12.0).sin_cos();
            (x, y, count) = (x + cos, y + sin, count + 1);
        }
        if count < LEAST || x.hypot(y) < AGREE * count as f32 {
            return None;
        }
        let class = (y.atan2(x) * 12.0 / TAU).rem_euclid(12.0);
        Some(class + 12.0 * self.octave(class))
    }

    /// The octave in which most readings lie.
    fn octave(&self, class: f32) -> f32 {
        let mut counts = [0_u16; OCTAVES];
        for midi in self.readings.iter().filter(|midi| !midi.is_nan()) {
            let octave = ((midi - class) / 12.0)
                .round()
                .clamp(0.0, OCTAVES as f32 - 1.0);
            counts[octave as usize] += 1;
        }
        let most = (0..OCTAVES).max_by_key(|octave| counts[*octave]);
        most.unwrap_or(0) as f32
    }
}

/// A distance in semitones without its octaves: -6 to 6.
pub(super) fn fold(semitones: f32) -> f32 {
    semitones - 12.0 * (semitones / 12.0).round()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sings each of `notes` for 0.4 s, swinging by `cents`; the middles at rest, as they come, without repetitions.
    fn middles(notes: &[f32], cents: f32, octaves: bool) -> Vec<i32> {
        let mut sung = Sung::new();
        let mut told = Vec::new();
        for hop in 0..notes.len() * 300 {
            let seconds = hop as f32 * 0.001_334;
            let swing = cents / 100.0 * (TAU * 5.5 * seconds).sin();
            let other = if octaves && hop % 3 == 0 { 12.0 } else { 0.0 };
            let middle = sung.push(notes[hop / 300] + swing + other, 0.9);
            if let Some(middle) = middle.filter(|middle| middle.rests) {
                let midi = middle.midi.round() as i32;
                if told.last() != Some(&midi) {
                    told.push(midi);
                }
            }
        }
        told
    }

    #[test]
    fn the_middle_is_the_note_however_it_swings() {
        let cases: [(&[f32], f32, &[i32]); 5] = [
            (&[57.0], 0.0, &[57]),
            (&[57.0, 58.0], 30.0, &[57, 58]),
            (&[57.0, 58.0, 57.0], 60.0, &[57, 58, 57]),
            (&[57.2, 60.2], 60.0, &[57, 60]),
            (&[47.0, 59.0], 60.0, &[47, 59]),
        ];
        for (notes, cents, told) in cases {
            assert_eq!(middles(notes, cents, false), told, "{notes:?} {cents}");
        }
        // A third of the readings an octave too high.
        assert_eq!(middles(&[47.0, 48.0], 40.0, true), [47, 48]);
    }

    #[test]
    fn what_does_not_agree_is_no_note() {
        let mut sung = Sung::new();
        // Quarter tones all around.
        let told = (0..2000).filter_map(|hop| sung.push(40.0 + (hop * 7 % 24) as f32 / 2.0, 0.9));
        assert_eq!(told.count(), 0);
        let mut sung = Sung::new();
        let unclear = (0..2000).filter_map(|_| sung.push(57.0, 0.5));
        assert_eq!(unclear.count(), 0);
    }
}
