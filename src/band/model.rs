//! Model tones: the answer, sounded after the player's own try or before the chord.

use super::scene::Scene;
use super::swing;
use crate::drill::{Model, TargetNote};
use crate::time::{PPQ, Part, Tick, TimedNote};

/// How loud a model tone is.
const VELOCITY: u8 = 88;

/// A model tone as written: before swing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ModelTone {
    /// Where it starts in the lap, straight.
    pub at: Tick,
    /// How long it sounds.
    pub len: Tick,
    /// The MIDI key.
    pub key: u8,
}

/// Where the model tones of one chord stand. `start` and `end` bound the chord in the lap, `from` is the
/// earliest tick that may sound (the start of the chord before it; the lap's start for the first).
///
/// After: two beats (half of a shorter chord) after the last place, done before the change. Before: done half
/// a beat before the chord. The notes come in playing order, a beat each, or as little as half a beat where
/// the room is short. Empty where there is no room.
pub fn model_tones(
    model: Model,
    notes: &[TargetNote],
    start: Tick,
    end: Tick,
    from: Tick,
) -> Vec<ModelTone> {
    let Some(last) = notes.iter().map(|note| note.at).max() else {
        return Vec::new();
    };
    let count = notes.len() as i64;
    let half_beat = PPQ / 2;
    let (first, room) = match model {
        Model::Off => return Vec::new(),
        Model::After => {
            let wait = (end.0 - start.0).div_euclid(2).min(2 * PPQ);
            let first = last.0 + wait;
            (first, end.0 - first)
        }
        Model::Before => {
            let done = start.0 - half_beat;
            let room = done - from.0;
            let each = (room / count).clamp(0, PPQ) / half_beat * half_beat;
            (done - each * count, each * count)
        }
    };
    // On the grid of half beats, so that the tones swing with the band.
    let each = (room / count).min(PPQ) / half_beat * half_beat;
    if each < half_beat {
        return Vec::new();
    }
    (0i64..)
        .zip(notes)
        .map(|(i, note)| ModelTone {
            at: Tick(first + i * each),
            len: Tick(each),
            key: note.midi,
        })
        .collect()
}

/// The model tones of the lap.
pub(super) fn model(scene: &Scene<'_>) -> Vec<TimedNote> {
    let score = scene.score;
    let mut sounded = Vec::new();
    let mut from = Tick(0);
    // The last bar's tonic, where it replaces the turnaround, has no targets.
    for (chord, set) in scene.chords.iter().zip(score.targets) {
        if chord.sounds() && !chord.targets.is_empty() {
            let tones = model_tones(score.model, &set.notes, chord.start, chord.end, from);
            sounded.extend(tones.iter().filter_map(|tone| played(scene, *tone)));
        }
        from = chord.start;
    }
    sounded
}

fn played(scene: &Scene<'_>, tone: ModelTone) -> Option<TimedNote> {
    let at = swung_in_lap(scene, tone.at)?;
    let end = swung_in_lap(scene, tone.at + tone.len).unwrap_or(scene.score.lap.len);
    Some(TimedNote {
        at,
        len: Tick((end - at).0.max(1)),
        part: Part::Model,
        key: tone.key,
        velocity: VELOCITY,
    })
}

/// A straight tick of the lap where the band plays it.
fn swung_in_lap(scene: &Scene<'_>, at: Tick) -> Option<Tick> {
    let bar = scene
        .bars
        .iter()
        .find(|bar| at >= bar.start && at < bar.end)?;
    let score = scene.score;
    Some(bar.start + swing::swung(at - bar.start, score.feel, bar.meter, score.tempo))
}
