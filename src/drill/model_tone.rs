//! When the model tone sounds, and where it finds no room.

use super::help::Model;
use super::places::LapChordView;
use super::targets::TargetSet;
use crate::time::{Meter, Tick};

/// One model tone: the answer to a target.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ModelTone {
    /// Index of the target set (and of its chord in the lap).
    pub set: usize,
    /// Index of the note within the set.
    pub note: usize,
    /// Where it starts in the lap. Before the lap's start where it leads to the lap's first chord: it then
    /// belongs to the end of the pass before.
    pub at: Tick,
    /// How long it sounds.
    pub len: Tick,
    pub midi: u8,
}

/// The model tones of a pass, in order of time.
///
/// `After`: two counts (half of a chord shorter than four counts) after the set's last place, done before the
/// next chord and before the first place of the next set. `Before`: done half a count before the chord, after
/// the last place of the set before. The notes of the set come in playing order, a count each or as little as
/// half a count; where that is too much, its last note sounds alone; where even that is, nothing does. (A
/// count is the beat, the dotted beat in compound meters.) Straight ticks: swing is put on when it sounds.
pub fn model_tones(
    model: Model,
    targets: &[TargetSet],
    chords: &[LapChordView<'_>],
) -> Vec<ModelTone> {
    let mut tones = Vec::new();
    for (set, (target, chord)) in targets.iter().zip(chords).enumerate() {
        let Some((from, to)) = window(model, set, targets, chords) else {
            continue;
        };
        tones.extend(fill(model, set, target, (from, to), chord.meter));
    }
    tones
}

/// The sets whose model tone finds no room, by index; sets without notes need none.
pub fn model_room(model: Model, targets: &[TargetSet], chords: &[LapChordView<'_>]) -> Vec<usize> {
    if model == Model::Off {
        return Vec::new();
    }
    let tones = model_tones(model, targets, chords);
    let sounds = |set: &usize| tones.iter().any(|tone| tone.set == *set);
    (0..targets.len())
        .filter(|set| !targets[*set].notes.is_empty() && !sounds(set))
        .collect()
}

/// From where to where the model of a set may sound; `None` where there is nothing to sound.
fn window(
    model: Model,
    set: usize,
    targets: &[TargetSet],
    chords: &[LapChordView<'_>],
) -> Option<(Tick, Tick)> {
    let chord = &chords[set];
    let (first, last) = (targets[set].notes.first()?, targets[set].notes.last()?);
    let count = chord.meter.count_ticks();
    let half = Tick(count.0 / 2);
    match model {
        Model::Off => None,
        Model::After => {
            let wait = Tick((2 * count.0).min(chord.len.0 / 2));
            let next = targets[set + 1..].iter().find_map(|set| set.notes.first());
            let end = chord.start + chord.len;
            Some((last.at + wait, next.map_or(end, |next| end.min(next.at))))
        }
        Model::Before => {
            let to = (chord.start - half).min(first.at);
            let before = targets[..set].iter().rev().find_map(|set| set.notes.last());
            // What leads to the first chord belongs to the bar before it.
            let earliest = match set.checked_sub(1) {
                Some(previous) => chords[previous].start,
                None => chord.start - chord.meter.bar_ticks(),
            };
            Some((
                before.map_or(earliest, |note| earliest.max(note.at + half)),
                to,
            ))
        }
    }
}

fn fill(
    model: Model,
    set: usize,
    target: &TargetSet,
    (from, to): (Tick, Tick),
    meter: Meter,
) -> Vec<ModelTone> {
    let count = meter.count_ticks().0;
    let half = count / 2;
    let room = (to - from).0.max(0);
    let notes = target.notes.len();
    // On the grid of half counts, so that the tones swing with the band.
    let share_of = |notes: usize| room / notes as i64 / half * half;
    let (sounding, share) = if notes > 1 && share_of(notes) >= half {
        (0..notes, share_of(notes).min(count))
    } else {
        (notes - 1..notes, share_of(1).min(2 * count))
    };
    if share < half {
        return Vec::new();
    }
    let all = share * sounding.len() as i64;
    let first = if model == Model::Before {
        to.0 - all
    } else {
        from.0
    };
    let tones = (0i64..).zip(sounding).map(|(turn, note)| ModelTone {
        set,
        note,
        at: Tick(first + share * turn),
        // A breath before whatever comes next.
        len: Tick(share - count / 16),
        midi: target.notes[note].midi,
    });
    tones.collect()
}
