//! What is played on, and how it is tuned, by the notes that were heard.

use super::sine::power_at;
use crate::device::Strings;

/// Notes that are kept: the newest.
const KEPT: usize = 64;
/// The notes agree on a tuning where their mean direction is so long (N. I. Fisher, "Statistical Analysis of Circular Data",
/// 1993, on the mean resultant length; from memory): 1 is all the same, 0 anything.
const AGREE: f64 = 0.6;
/// Fewer notes say nothing of the tuning, or of the strings.
const NOTES: usize = 4;
/// A guitar's lowest string may be tuned down by a tone, and be a quarter tone flat besides.
const DOWN_SEMITONES: f32 = 2.5;
/// So many notes below that, and such a share of all, are no chance: a guitar's name is an octave too low now and then.
const LOW_NOTES: usize = 3;
const LOW_SHARE: f32 = 0.25;

/// So much of a note's power is in its fundamental at the least, in dB: under that it is the beat of several strings, or an octave
/// too low.
const FUNDAMENTAL_DB: f32 = -24.0;

/// A note that was heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PlayedNote {
    /// Its exact MIDI number.
    pub(super) exact: f32,
    /// Its loudest 10 ms, in dB of full scale.
    pub(super) level_db: f32,
    /// Whether its fundamental sounds.
    pub(super) is_whole: bool,
}

impl PlayedNote {
    /// A note of `hz`, whose sound is `sound` when it has its name.
    pub(super) fn new(exact: f32, level_db: f32, (sound, turn): (&[f32], f64)) -> PlayedNote {
        let power = sound.iter().map(|s| s * s).sum::<f32>() / sound.len().max(1) as f32;
        let share_db = 10.0 * (power_at(sound, turn) / power.max(1e-12) + 1e-12).log10();
        PlayedNote {
            exact,
            level_db,
            is_whole: share_db > FUNDAMENTAL_DB,
        }
    }
}

/// The newest notes.
#[derive(Debug, Clone, Default)]
pub(super) struct PlayedNotes {
    notes: Vec<PlayedNote>,
    at: usize,
}

impl PlayedNotes {
    pub(super) fn push(&mut self, note: PlayedNote) {
        if self.notes.len() < KEPT {
            self.notes.push(note);
        } else {
            self.notes[self.at % KEPT] = note;
        }
        self.at += 1;
    }

    /// The notes that are louder than what is no playing.
    pub(super) fn above(&self, level_db: f32) -> Vec<PlayedNote> {
        let notes = self.notes.iter().copied();
        notes.filter(|note| note.level_db > level_db).collect()
    }
}

/// How loud one plays: the middle of the notes.
pub(super) fn level_db(notes: &[PlayedNote]) -> Option<f32> {
    let mut levels: Vec<f32> = notes.iter().map(|note| note.level_db).collect();
    levels.sort_by(f32::total_cmp);
    levels.get(levels.len() / 2).copied()
}

/// How far the notes lie from the nearest ones of the scale, in cents: the mean direction, for 50 above is 50 below.
pub(super) fn mean_cents(notes: &[PlayedNote]) -> Option<f32> {
    if notes.len() < NOTES {
        return None;
    }
    let turns = notes
        .iter()
        .map(|note| std::f64::consts::TAU * f64::from(note.exact));
    let (x, y) = turns.fold((0.0, 0.0), |(x, y), turn| (x + turn.cos(), y + turn.sin()));
    let agreed = x.hypot(y) / notes.len() as f64;
    let cents = y.atan2(x) * 100.0 / std::f64::consts::TAU;
    (agreed > AGREE).then_some(cents as f32)
}

/// What seems to be plugged in, where the guitar's lowest string is `lowest_hz`.
pub(super) fn which(notes: &[PlayedNote], a4_hz: f32, lowest_hz: f32) -> Option<Strings> {
    let lowest = 69.0 + 12.0 * (lowest_hz / a4_hz).log2() - DOWN_SEMITONES;
    let low = notes.iter().filter(|note| note.exact < lowest);
    let (low, doubtful): (Vec<&PlayedNote>, Vec<&PlayedNote>) = low.partition(|note| note.is_whole);
    let (low, count) = (low.len(), notes.len() - doubtful.len());
    let share = low as f32 / count.max(1) as f32;
    match count >= NOTES {
        true if low >= LOW_NOTES && share >= LOW_SHARE => Some(Strings::Bass),
        true if share < LOW_SHARE / 2.0 => Some(Strings::Guitar),
        _ => None,
    }
}
