//! What a drill asks for over a chart, in all its passes: so that what it never asks for can be seen.

use super::pass::as_drilled;
use super::standing::distinct_chords;
use super::{Loop, Material, Standing};
use crate::chart::Lap;
use crate::drill::{
    DegreeWord, LayOut, Phase, Stage, TargetNote, TargetSet, lay_out, quality_word,
};
use crate::fretboard::{Neck, NeckPlace, places_in_reach, places_of};
use crate::harmony::ChordInContext;
use crate::time::UsPerQuarter;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// How often each of some things was asked for.
pub type Counts<T> = BTreeMap<T, u64>;

/// Passes of a stage that are looked at: more show nothing new.
const MOST_PASSES: u32 = 256;

/// What a drill asks for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Coverage {
    pub stages: usize,
    /// Passes in which something is played or sung.
    pub passes: u64,
    pub notes: u64,
    /// For each set of two to four degrees ("1 2 3") the orders in which they come.
    pub orders: BTreeMap<String, Counts<String>>,
    /// Where figures begin in the bar, by how many notes they have.
    pub starts: BTreeMap<usize, Counts<String>>,
    /// Octaves of the notes, as scientific pitch notation numbers them.
    pub octaves: Counts<i32>,
    pub strings: Counts<u8>,
    /// The lowest fret that a finger has in a figure, from the first on.
    pub positions: Counts<u8>,
    /// Tonics of the keys, as pitch classes.
    pub keys: Counts<u8>,
    /// Where roots lie.
    pub roots: Places,
    /// Where thirds lie.
    pub thirds: Places,
    /// How often each degree (1 to 7) is asked for over each kind of chord; all degrees of the kinds that the chart has.
    pub degrees: BTreeMap<&'static str, [u64; 7]>,
}

/// Where the notes of one degree lie on the neck.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Places {
    /// By string and fret.
    pub asked: Counts<(u8, u8)>,
    /// By the note's pitch class, string and fret: all places up to the twelfth fret of the notes that occur, and how often
    /// each is asked for.
    pub of_notes: Counts<(u8, u8, u8)>,
}

impl Places {
    fn add(&mut self, neck: &Neck, note: &TargetNote, place: Option<NeckPlace>) {
        let class = note.midi % 12;
        for place in places_in_reach(neck, class) {
            self.of_notes
                .entry((class, place.string, place.fret))
                .or_default();
        }
        let Some(place) = place else { return };
        *self.asked.entry((place.string, place.fret)).or_default() += 1;
        if let Some(count) = self.of_notes.get_mut(&(class, place.string, place.fret)) {
            *count += 1;
        }
    }

    /// How many places of the notes that occur were asked for, of how many.
    pub fn visited(&self) -> (usize, usize) {
        let visited = self.of_notes.values().filter(|count| **count > 0).count();
        (visited, self.of_notes.len())
    }
}

impl Coverage {
    /// Adds what the drill of a material asks for over all of its form, on this neck.
    pub fn add(&mut self, material: &Arc<Material>, neck: &Neck, seed: u64) {
        self.stages = self.stages.max(material.drill.stages.len());
        for context in material.contexts.iter().filter_map(ChordInContext::symbol) {
            self.degrees
                .entry(quality_word(context.quality()))
                .or_default();
        }
        for stage in 0..material.drill.stages.len() {
            let here = Standing {
                looping: Loop::Form,
                stage,
                ..Standing::first()
            };
            let stage = here.stage_of(material);
            let passes = if stage.pulse {
                stage.passes.min(MOST_PASSES)
            } else {
                1
            };
            for pass in 0..passes {
                if !matches!(stage.cycle.phase(pass), Phase::Listen) || !stage.pulse {
                    let standing = Standing {
                        pass,
                        ..here.clone()
                    };
                    self.add_pass(material, &standing, neck, seed);
                }
            }
        }
    }

    fn add_pass(&mut self, material: &Arc<Material>, standing: &Standing, neck: &Neck, seed: u64) {
        let material = standing.walked(material);
        let stage = standing.stage_now(&material);
        let lap = standing.lap(&material);
        self.passes += 1;
        if let Some(key) = material.key() {
            *self.keys.entry(key.tonic.class()).or_default() += 1;
        }
        let views = as_drilled(&lap, &material.contexts);
        let tempo = UsPerQuarter::from_qpm(material.form.tempo_qpm);
        let over = LayOut {
            chords: &views,
            pass: standing.turn(&material),
            seed,
            tempo,
            range: neck.range(),
        };
        let mut sets = lay_out(&stage, &over);
        let places = places_of(neck, &mut sets, &stage, standing.turn(&material));
        let held = held(&stage, &material, &lap);
        for (index, (set, places)) in sets.iter().zip(&places).enumerate() {
            if held.as_ref().is_none_or(|held| held.contains(&index)) {
                self.add_set(&stage, set, places, views[index].context, neck);
            }
        }
    }

    fn add_set(
        &mut self,
        stage: &Stage,
        set: &TargetSet,
        places: &[Option<NeckPlace>],
        context: &ChordInContext,
        neck: &Neck,
    ) {
        let (Some(first), Some(symbol)) = (set.notes.first(), context.symbol()) else {
            return;
        };
        let count = self.starts.entry(set.notes.len().min(4)).or_default();
        *count.entry(start(first)).or_default() += 1;
        self.add_order(stage, set);
        let fretted = places.iter().flatten().map(|place| place.fret);
        if let Some(lowest) = fretted.filter(|fret| *fret > 0).min() {
            *self.positions.entry(lowest).or_default() += 1;
        }
        let by_degree = self
            .degrees
            .entry(quality_word(symbol.quality()))
            .or_default();
        for (note, place) in set.notes.iter().zip(places) {
            self.notes += 1;
            *self
                .octaves
                .entry(i32::from(note.midi / 12) - 1)
                .or_default() += 1;
            if let Some(count) = by_degree.get_mut(usize::from(note.degree.number - 1) % 7) {
                *count += 1;
            }
            if let Some(place) = place {
                *self.strings.entry(place.string).or_default() += 1;
            }
            match note.degree.number {
                1 => self.roots.add(neck, note, *place),
                3 => self.thirds.add(neck, note, *place),
                _ => {}
            }
        }
    }

    fn add_order(&mut self, stage: &Stage, set: &TargetSet) {
        let is_plain = stage
            .figure
            .iter()
            .all(|note| note.approach.is_none() && note.or[0].is_none());
        let numbers: Vec<u8> = set.notes.iter().map(|note| note.degree.number).collect();
        let distinct: BTreeSet<u8> = numbers.iter().copied().collect();
        let is_whole = numbers.len() == stage.figure.len() && distinct.len() == numbers.len();
        if is_plain && is_whole && (2..=4).contains(&numbers.len()) {
            let told = |numbers: &mut dyn Iterator<Item = u8>| {
                numbers
                    .map(|number| number.to_string())
                    .collect::<Vec<String>>()
                    .join(" ")
            };
            let of = told(&mut distinct.into_iter());
            let orders = self.orders.entry(of).or_default();
            *orders.entry(told(&mut numbers.into_iter())).or_default() += 1;
        }
    }

    /// What a stage of open choice leaves to the player is asked for in no order and at no place; these are its degrees.
    pub fn open_degrees(material: &Material) -> BTreeSet<u8> {
        let open = material
            .drill
            .stages
            .iter()
            .filter(|stage| stage.is_open_choice());
        let number = |word: &DegreeWord| match word {
            DegreeWord::InScale(number) => (*number - 1) % 7 + 1,
            DegreeWord::Absolute(degree) => (degree.number - 1) % 7 + 1,
        };
        open.flat_map(|stage| &stage.degrees).map(number).collect()
    }
}

/// Out of time each distinct chord is held once.
fn held(stage: &Stage, material: &Material, lap: &Lap) -> Option<Vec<usize>> {
    (!stage.pulse).then(|| distinct_chords(stage, material, lap))
}

/// Where a figure begins; a push is the half beat before the bar.
fn start(first: &TargetNote) -> String {
    match first.place.is_push() {
        true => "4&".to_string(),
        false => first.place.to_string(),
    }
}
