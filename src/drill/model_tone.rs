//! When the model tone sounds, and where it finds no room.

use super::model::{Model, Stage};
use super::places::{bar_of, bars_under, offset, room as room_of};
use super::targets::{LapChordView, LayOut, TargetSet, lay_out};
use crate::time::{Meter, Tick};
use std::fmt;

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
    /// Its MIDI key.
    pub midi: u8,
}

/// The model tones of a pass, in order of time.
///
/// `After`: two counts (half of a chord shorter than four counts) after the set's last place, done before the
/// next chord and before the first place of the next set. `Before`: done half a count before the chord, after
/// the last place of the set before. All notes of the set sound where each gets half a count, else its last
/// alone; less room than half a count: left out. (A count is the beat, the dotted beat in compound meters.)
pub fn model_tones(
    model: Model,
    targets: &[TargetSet],
    chords: &[LapChordView<'_>],
) -> Vec<ModelTone> {
    let mut tones = Vec::new();
    for set in 0..targets.len().min(chords.len()) {
        if let Some((from, to)) = room(model, set, targets, chords) {
            tones.extend(fill(set, &targets[set], from, to, chords[set].meter));
        }
    }
    tones
}

/// From where to where the model of a set may sound; `None` where there is no room, or nothing to sound.
fn room(
    model: Model,
    set: usize,
    targets: &[TargetSet],
    chords: &[LapChordView<'_>],
) -> Option<(Tick, Tick)> {
    let chord = &chords[set];
    let (first, last) = (targets[set].notes.first()?, targets[set].notes.last()?);
    let count = chord.meter.count_ticks();
    let half = Tick(count.0 / 2);
    let (from, to) = match model {
        Model::Off => return None,
        Model::After => {
            let wait = Tick((2 * count.0).min(chord.len.0 / 2));
            let next = targets[set + 1..].iter().find_map(|set| set.notes.first());
            let end = chord.start + chord.len;
            let end = next.map_or(end, |next| end.min(next.at));
            // A breath, so that the answer is over when the change comes.
            (last.at + wait, end - Tick(count.0 / 8))
        }
        Model::Before => {
            let to = (chord.start - half).min(first.at);
            let before = targets[..set].iter().rev().find_map(|set| set.notes.last());
            let earliest = match set.checked_sub(1) {
                Some(previous) => chords[previous].start,
                None => Tick(i64::MIN),
            };
            let earliest = before.map_or(earliest, |note| earliest.max(note.at + half));
            let wanted = to - Tick(count.0 * targets[set].notes.len() as i64);
            (wanted.max(earliest), to)
        }
    };
    (to - from >= half - Tick(count.0 / 8)).then_some((from, to))
}

fn fill(set: usize, target: &TargetSet, from: Tick, to: Tick, meter: Meter) -> Vec<ModelTone> {
    let count = meter.count_ticks().0;
    let notes = target.notes.len() as i64;
    let all_fit = (to - from).0 / notes >= count / 2;
    let sounding = if all_fit {
        0..target.notes.len()
    } else {
        target.notes.len() - 1..target.notes.len()
    };
    let alone = sounding.len() == 1;
    let longest = if alone { 2 * count } else { count };
    let share = ((to - from).0 / sounding.len() as i64).min(longest);
    let tones = sounding.enumerate().map(|(turn, note)| ModelTone {
        set,
        note,
        at: from + Tick(share * turn as i64),
        len: Tick(share),
        midi: target.notes[note].midi,
    });
    tones.collect()
}

/// Something of a stage that finds no room over a chord.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoRoom {
    /// What.
    pub what: Lack,
    /// The bar the chord starts in, from 1 in the lap.
    pub bar: usize,
    /// Which chord of those that start in that bar, from 1.
    pub chord: usize,
    /// Index of the chord in the lap.
    pub set: usize,
}

/// What finds no room.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Lack {
    /// The model tone is left out.
    Model,
    /// A place does not fit: its note falls on the first beat, or beside it.
    Place(String),
    /// So many notes of the figure are left out.
    Notes(usize),
}

impl fmt::Display for NoRoom {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.what {
            Lack::Model => write!(f, "model left out")?,
            Lack::Place(place) => write!(f, "place {place} moved")?,
            Lack::Notes(1) => write!(f, "1 note left out")?,
            Lack::Notes(count) => write!(f, "{count} notes left out")?,
        }
        write!(f, ": bar {} chord {}", self.bar, self.chord)
    }
}

/// Everything that finds no room in any pass of a stage over a lap: each chord and lack once, by chord.
pub fn model_room(stage: &Stage, chords: &[LapChordView<'_>], seed: u64) -> Vec<NoRoom> {
    let bars = bars_under(chords);
    let mut found: Vec<NoRoom> = Vec::new();
    let mut tell = |set: usize, what: Lack| {
        let bar = bar_of(chords[set].start, &bars);
        let before = chords[..set].iter().rev();
        let same = before.take_while(|chord| bar_of(chord.start, &bars) == bar);
        let lack = NoRoom {
            what,
            bar: bar + 1,
            chord: same.count() + 1,
            set,
        };
        if !found.contains(&lack) {
            found.push(lack);
        }
    };
    // Rotations, orders and rests repeat; more than 64 passes show nothing new in practice.
    for pass in 0..stage.passes.clamp(1, 64) {
        let over = LayOut { chords, pass, seed };
        let targets = lay_out(stage, &over);
        let model = stage.help_in(pass).model;
        let tones = model_tones(model, &targets, chords);
        for (set, target) in targets.iter().enumerate() {
            if target.notes.is_empty() {
                continue;
            }
            if model != Model::Off && !tones.iter().any(|tone| tone.set == set) {
                tell(set, Lack::Model);
            }
            lacking_places(stage, pass, &chords[set], target, |what| tell(set, what));
        }
    }
    found.sort_by_key(|lack| lack.set);
    found
}

fn lacking_places(
    stage: &Stage,
    pass: u32,
    chord: &LapChordView<'_>,
    target: &TargetSet,
    mut tell: impl FnMut(Lack),
) {
    if stage.each == super::Each::Bar {
        // A figure a bar: the stretch may be shorter than the chord, but never than the bar's part of it.
        return;
    }
    let named = stage.places_in(pass);
    for place in named {
        if offset(place, chord.meter) >= room_of(named, chord.meter, chord.len) {
            tell(Lack::Place(place.text.clone()));
        }
    }
    let wanted = stage.figure.len().max(named.len());
    if target.notes.len() < wanted {
        tell(Lack::Notes(wanted - target.notes.len()));
    }
}
