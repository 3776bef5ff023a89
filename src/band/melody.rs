//! The tune itself: the chart's melody over the lap, phrased as the band swings.

use super::scene::Scene;
use crate::time::{Part, Tick, TimedNote};

/// How loud the melody is.
const VELOCITY: u8 = 84;

/// The melody of the lap. In the last bar, where it is the tonic that rings, the melody is done.
pub(super) fn melody(scene: &Scene<'_>) -> Vec<TimedNote> {
    let score = scene.score;
    let end = match scene.bars.last() {
        Some(last) if score.last_time => last.start,
        _ => score.lap.len,
    };
    let played = score.melody.iter().filter(|note| note.start < end);
    let phrased = played.filter_map(|note| {
        let at = scene.swung(note.start)?;
        let stop = (note.start + note.len).min(end);
        let stop = scene.swung(stop).unwrap_or(end);
        Some(TimedNote {
            at,
            len: Tick((stop - at).0.max(1)),
            part: Part::Melody,
            key: note.midi,
            velocity: VELOCITY,
        })
    });
    phrased.collect()
}
