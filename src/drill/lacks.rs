//! What of a stage finds no room over a tune: places that move, notes and model tones that are left out.

use super::figure::Each;
use super::model::Stage;
use super::model_tone::model_room;
use super::phrase::rhythm_over;
use super::places::{LapChordView, Stretch, bar_of, bars_under, offsets, stretches};
use super::range::KeyRange;
use super::targets::{LayOut, TargetSet, lay_out};
use crate::time::UsPerQuarter;
use std::fmt;

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
    /// The figure begins before there could be a silence to hear it in.
    Silence,
    /// The chord is too short for a phrase and its answer.
    Phrase,
    /// A place of a rhythm does not fit: nothing is asked for there.
    Rhythm(String),
    /// A place does not fit: its note falls on the first beat, or after it. What the drill wrote, and where it falls.
    Place(String, String),
    /// So many notes of the figure are left out.
    Notes(usize),
}

impl fmt::Display for Lack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Lack::Model => write!(f, "model left out"),
            Lack::Silence => write!(f, "no silence before the figure"),
            Lack::Phrase => write!(f, "no room for a phrase and its answer"),
            Lack::Rhythm(place) => write!(f, "place {place} left out"),
            Lack::Place(place, to) => write!(f, "place {place} moved to {to}"),
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

/// Everything that finds no room in any pass of a stage over a lap at a tempo: each chord and lack once, by chord.
pub fn check(
    stage: &Stage,
    chords: &[LapChordView<'_>],
    tempo: UsPerQuarter,
    seed: u64,
) -> Vec<NoRoom> {
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
        let over = LayOut {
            chords,
            pass,
            seed,
            tempo,
            range: KeyRange::GUITAR,
        };
        let stage = &*stage.in_turn(stage.turn_of(pass), seed);
        let targets = lay_out(stage, &over);
        let model = stage.help_in(pass).model;
        for set in model_room(model, &targets, chords) {
            tell(set, Lack::Model);
        }
        for set in without_silence(stage, &targets, chords) {
            tell(set, Lack::Silence);
        }
        for stretch in stretches(stage, chords, pass) {
            let set = stretch.chord;
            if stage.answer_phrase || stage.is_open_choice() {
                lacking_room(stage, &targets[set], &over, &stretch, |what| {
                    tell(set, what)
                });
                continue;
            }
            // A stretch of a figure a bar has no set of its own: what it would hold is laid out alone.
            let of_chord = (stage.each == Each::Chord).then(|| targets[set].notes.len());
            if of_chord != Some(0) {
                lacking_places(stage, &over, &stretch, of_chord, |what| tell(set, what));
            }
        }
    }
    found.sort_by_key(|lack| lack.set);
    found
}

/// The chords over which a stage that leaves a silence has none: the figure begins within the chord's first count.
fn without_silence(
    stage: &Stage,
    targets: &[TargetSet],
    chords: &[LapChordView<'_>],
) -> Vec<usize> {
    let begins_at_once = |(_, (set, chord)): &(usize, (&TargetSet, &LapChordView<'_>))| {
        let first = set.notes.first();
        first.is_some_and(|first| first.at <= chord.start + chord.meter.count_ticks())
    };
    let all = targets.iter().zip(chords).enumerate();
    let found = all.filter(|_| stage.silence).filter(begins_at_once);
    found.map(|(set, _)| set).collect()
}

/// What a phrase, or the rhythm of open choice, lacks over a stretch.
fn lacking_room(
    stage: &Stage,
    target: &TargetSet,
    over: &LayOut<'_>,
    stretch: &Stretch,
    mut tell: impl FnMut(Lack),
) {
    if stage.answer_phrase {
        let has_answer = target
            .notes
            .iter()
            .any(|note| (stretch.start..stretch.start + stretch.len).contains(&note.at));
        if !has_answer {
            tell(Lack::Phrase);
        }
        return;
    }
    let named = stage.places_in(over.pass);
    let placed = rhythm_over(named, stretch);
    for place in named {
        if !placed.iter().any(|(there, _)| there == place) {
            tell(Lack::Rhythm(place.text.clone()));
        }
    }
}

/// What one figure over a stretch lacks; `notes`: how many it came to, where that is known.
fn lacking_places(
    stage: &Stage,
    over: &LayOut<'_>,
    stretch: &Stretch,
    notes: Option<usize>,
    mut tell: impl FnMut(Lack),
) {
    let named = stage.places_in(over.pass);
    let wanted = stage.figure.len().max(named.len());
    let spacing = over.spacing(stage);
    let laid = offsets(named, wanted, spacing, stretch.meter, stretch.len);
    for (place, (fell, _)) in named.iter().zip(&laid) {
        if place != fell {
            tell(Lack::Place(place.text.clone(), fell.text.clone()));
        }
    }
    let left_out = wanted.saturating_sub(notes.unwrap_or(laid.len()));
    if left_out > 0 {
        tell(Lack::Notes(left_out));
    }
}
