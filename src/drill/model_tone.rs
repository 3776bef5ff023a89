//! When the model tone sounds, and where it finds no room.

use super::help::Model;
use super::model::Stage;
use super::places::{LapChordView, bar_of, bars_under, offset, room as room_of};
use super::targets::{LayOut, TargetSet, lay_out};
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

/// Something of a stage that finds no room over a chord.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoRoom {
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

impl fmt::Display for Lack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Lack::Model => write!(f, "model left out"),
            Lack::Place(place) => write!(f, "place {place} moved"),
            Lack::Notes(1) => write!(f, "1 note left out"),
            Lack::Notes(count) => write!(f, "{count} notes left out"),
        }
    }
}

impl fmt::Display for NoRoom {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: bar {} chord {}", self.what, self.bar, self.chord)
    }
}

/// Everything that finds no room in any pass of a stage over a lap: each chord and lack once, by chord.
pub fn check(stage: &Stage, chords: &[LapChordView<'_>], seed: u64) -> Vec<NoRoom> {
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
        for set in model_room(model, &targets, chords) {
            tell(set, Lack::Model);
        }
        for (set, target) in targets.iter().enumerate() {
            if target.notes.is_empty() {
                continue;
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
    let wanted = stage.figure.len().max(named.len());
    let complete = target.notes.len() == wanted;
    for place in named {
        let kept = target.notes.iter().any(|note| note.place == *place);
        let fits = offset(place, chord.meter) < room_of(named, chord.meter, chord.len);
        if !fits || (complete && !kept) {
            tell(Lack::Place(place.text.clone()));
        }
    }
    if !complete {
        tell(Lack::Notes(wanted - target.notes.len()));
    }
}
