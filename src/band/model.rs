//! Model tones: the answer, sounded after the player's own try or before the chord. When they come is said by
//! [`crate::drill::model_tones`]; here they are put on the grid of the band.

use super::scene::Scene;
use crate::drill::{LapChordView, Model, model_tones};
use crate::time::{Part, Tick, TimedNote};

/// How loud a model tone is.
const VELOCITY: u8 = 88;

/// What the box plays first, for the player to repeat.
pub(super) fn phrases(scene: &Scene<'_>) -> Vec<TimedNote> {
    let score = scene.score;
    // The last bar's tonic, where it replaces the turnaround, has no targets.
    let end = last_end(scene);
    let called = score.targets.iter().flat_map(|set| &set.call);
    let called = called.filter_map(|note| played(scene, note.at, note.len, note.midi));
    called.filter(|note| note.at < end).collect()
}

fn last_end(scene: &Scene<'_>) -> Tick {
    match scene.bars.last() {
        Some(last) if scene.score.last_time => last.start,
        _ => scene.score.lap.len,
    }
}

/// The model tones of the lap. A tone that leads to the lap's first chord stands at the lap's end when the lap
/// loops and the player is done by then, else it is left out.
pub(super) fn model(scene: &Scene<'_>) -> Vec<TimedNote> {
    let score = scene.score;
    if score.model == Model::Off {
        return Vec::new();
    }
    let lap = score.lap;
    let chords: Option<Vec<LapChordView<'_>>> = lap
        .chords
        .iter()
        .map(|chord| {
            Some(LapChordView {
                start: chord.start,
                len: chord.len,
                meter: lap.bars.get(chord.bar)?.meter,
                context: score.contexts.get(chord.form_chord)?,
            })
        })
        .collect();
    let chords = chords.unwrap_or_default();
    let tones = model_tones(score.model, score.targets, &chords);
    let end = last_end(scene);
    let notes = score.targets.iter().flat_map(|set| &set.notes);
    let last_place = notes.map(|note| note.at).max().unwrap_or(Tick(0));
    let sets = tones.chunk_by(|one, next| one.set == next.set);
    sets.flat_map(|set| {
        let half = Tick(chords[set[0].set].meter.count_ticks().0 / 2);
        let wraps = set[0].at.0 < 0;
        let round = if wraps { lap.len } else { Tick(0) };
        let late = wraps && (!scene.loops || set[0].at + round < last_place + half);
        let sounding = if late { &[] } else { set };
        sounding
            .iter()
            .filter_map(move |tone| played(scene, tone.at + round, tone.len, tone.midi))
            .filter(|note| note.at < end)
    })
    .collect()
}

fn played(scene: &Scene<'_>, at: Tick, len: Tick, key: u8) -> Option<TimedNote> {
    let end = scene.swung(at + len).unwrap_or(scene.score.lap.len);
    let at = scene.swung(at)?;
    Some(TimedNote {
        at,
        len: Tick((end - at).0.max(1)),
        part: Part::Model,
        key,
        velocity: VELOCITY,
    })
}
