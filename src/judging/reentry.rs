//! Trading: the band drops out for some bars while the player keeps the place, and it is heard where the player comes
//! back.
//!
//! # Why is the place of a return told by the beginning of a phrase?
//!
//! Whoever waited through four silent bars begins one
//! where the first beat is thought to be. In a line without a rest nothing but the note next to the beat can tell, and it
//! gets the benefit of the doubt; so does a pickup of up to a beat (`judging/reentry.rs`).

use crate::judging::verdict::HeardNote;

/// A phrase begins after so many beats without a new note.
const REST_BEATS: f64 = 1.5;
/// A phrase may begin so many beats before the band comes back and still mean its first beat: a pickup.
const PICKUP_BEATS: f64 = 1.25;

/// Where the band comes back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct BandReturn {
    pub(crate) at_ms: f64,
    pub(crate) beat_ms: f64,
    /// The length of its bar.
    pub(crate) bar_ms: f64,
}

/// Where the player was when the band came back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reentry {
    /// The band's first beat, in ms of the audio clock.
    pub at_ms: f64,
    /// How much later the player was, in whole beats; 0: in the right place; none: no note told it.
    pub beats: Option<i32>,
    /// The same in ms.
    pub late_ms: Option<f64>,
}

/// Where the player came back, from clear notes in the order of time. The note that begins a phrase is taken for the
/// band's first beat, but for a pickup to it; in a line without a rest only the note next to that beat can tell.
/// From a bar before to a bar after.
pub(crate) fn came_back(band: &BandReturn, notes: &[&HeardNote]) -> Reentry {
    let late = |note: &HeardNote| (note.onset_ms - band.at_ms) / band.beat_ms;
    let reach = band.bar_ms / band.beat_ms + 0.5;
    let nearest = |a: &f64, b: &f64| a.abs().total_cmp(&b.abs());
    let on_it = notes.iter().map(|note| late(note)).min_by(nearest);
    let on_it = on_it.filter(|late| late.abs() <= 0.5);
    let begins = notes.iter().enumerate().filter_map(|(index, note)| {
        let before = index.checked_sub(1).map(|before| late(notes[before]));
        let at = late(note);
        // Who plays the first beat and rests then has come back already.
        let rested = before.is_none_or(|before| at - before >= REST_BEATS && before < -0.5);
        (rested && at.abs() < reach).then_some(at)
    });
    let found = match begins.min_by(nearest) {
        Some(begin) if (-PICKUP_BEATS..0.0).contains(&begin) => on_it.or(Some(begin)),
        Some(begin) => Some(begin),
        None => on_it,
    };
    Reentry {
        at_ms: band.at_ms,
        beats: found.map(|late| late.round() as i32),
        late_ms: found.map(|late| late * band.beat_ms),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_beginning_of_a_phrase_tells_the_place() {
        let band = BandReturn {
            at_ms: 8_000.0,
            beat_ms: 500.0,
            bar_ms: 2_000.0,
        };
        // Onsets in beats from the band's return, and how many beats late the player is told to be.
        for (beats, expected) in [
            (&[][..], None),
            (&[0.05], Some(0)),
            (&[-0.4], Some(0)),
            (&[1.0], Some(1)),
            (&[-2.0], Some(-2)),
            (&[4.0], Some(4)),
            (&[-4.0, -3.0, -2.0], Some(-4)),
            (&[4.6], None),
            // A pickup to the first beat, and a note that begins a beat early.
            (&[-1.0, -0.5, 0.0], Some(0)),
            (&[-1.0, 1.5], Some(-1)),
            // Two beats of pickup are a phrase that begins early.
            (&[-2.0, -1.0, 0.0], Some(-2)),
            // A line without a rest, and one that rests after the first beat.
            (&[-3.0, -2.0, -1.0, 0.02, 1.0], Some(-3)),
            (&[-5.0, -4.0, -3.0, -2.0, -1.0, 0.02, 1.0], Some(0)),
            (&[-5.0, -4.0, -3.0, -2.0, -1.0, 0.0, 2.0], Some(0)),
            // The last phrase ended long before.
            (&[-8.0, -7.0, 2.1], Some(2)),
            (&[-8.0, -7.0], None),
        ] {
            let note = |beat: &f64| HeardNote {
                onset_ms: band.at_ms + beat * band.beat_ms,
                off_ms: None,
                midi: 60,
                cents: 0.0,
                confidence: 0.9,
                also: None,
                struck: true,
            };
            let notes: Vec<HeardNote> = beats.iter().map(note).collect();
            let notes: Vec<&HeardNote> = notes.iter().collect();
            let back = came_back(&band, &notes);
            assert_eq!(back.beats, expected, "{beats:?}");
            assert_eq!(back.late_ms.is_some(), expected.is_some());
        }
    }
}
