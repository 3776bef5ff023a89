//! All parts together: the notes of one pass.

use super::score::Score;
use super::{bass, comping, drums, dynamics, melody, model, scene, timing};
use crate::time::{BAR_NOTES, Part, Tick, TimedNote};

/// The notes of one pass, ticks from the lap's first bar, sorted by start then part then key; swing is
/// already in the ticks. The push into what follows the lap (`next`) belongs to this pass; notes never lie
/// before the lap's start or at or after its end.
///
/// Every bar's notes fit the 128 of a [`crate::time::Bar`].
pub fn play(score: &Score<'_>) -> Vec<TimedNote> {
    let scene = scene::Scene::of(score);
    let mut notes = comping::comping(&scene);
    notes.extend(bass::bass(&scene));
    notes.extend(drums::drums(&scene));
    dynamics::level(&scene, &mut notes);
    notes.extend(melody::melody(&scene));
    notes.extend(model::model(&scene));
    notes.extend(model::phrases(&scene));
    timing::humanize(&scene, &mut notes);
    notes.retain(|note| note.at >= Tick(0) && note.at < score.lap.len);
    notes.sort_by_key(|note| (note.at, note.part, note.key));
    fit_bars(&scene, &mut notes);
    notes
}

/// Thins the melody, then the drums, then the click, of a bar that has more notes than a bar carries. No tune or meter
/// that people play comes near; thirty-two whole notes to the bar would.
fn fit_bars(scene: &scene::Scene<'_>, notes: &mut Vec<TimedNote>) {
    for bar in &scene.bars {
        for part in [Part::Melody, Part::Drums, Part::Click] {
            let from = notes.partition_point(|note| note.at < bar.start);
            let to = notes.partition_point(|note| note.at < bar.end);
            let mut surplus = (to - from).saturating_sub(BAR_NOTES);
            for i in (from..to).rev() {
                if surplus > 0 && notes[i].part == part {
                    notes.remove(i);
                    surplus -= 1;
                }
            }
        }
    }
}
