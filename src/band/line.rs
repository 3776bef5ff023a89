//! The bass line: for every place the key that makes the best line of all. What must not happen costs so much that it happens only where nothing else exists.

use super::choice;
use super::onset::{LineTask, Onset};
use super::scene::{Scene, SceneChord};
use super::way::{self, Layer};
use super::wishes;
use crate::drill::Comping;
use crate::harmony::ChordSymbol;

/// The lowest key of the bass, E1.
pub const LOWEST: u8 = 28;
/// The highest key of the bass, D3.
pub const HIGHEST: u8 = 50;

/// Salt of the choices made here.
const SALT: u64 = 4;
/// What is paid for another note than the one that is wanted this time.
const WISHED: f64 = 3.0;
/// What an enclosure saves: the next note is met from both sides.
const ENCLOSES: f64 = 1.2;
/// Where an arching line lies in the middle, how far it rises and falls, over how many bars up and down, and what a semitone away
/// from it costs.
const ARCH: (f64, f64, f64, f64) = (38.0, 5.0, 4.0, 0.12);
/// What is paid for a note that lies a semitone below one of the comping's and is left by a leap: a minor ninth between the parts.
const RUBS: f64 = 20.0;
/// What is paid for what must not happen.
const FORBIDDEN: f64 = 10_000.0;

/// The key of a first note: always the same for a chord, so that the pass before can lead into it.
fn home(class: u8) -> u8 {
    // E1 to D#2 lies in the lower half, where a line has room both ways only from G1 on.
    let key = 24 + class;
    if key < 31 { key + 12 } else { key }
}

fn in_range(class: u8) -> impl Iterator<Item = u8> {
    (LOWEST..=HIGHEST).filter(move |key| key % 12 == class)
}

/// One key for each onset.
pub(super) fn draw(scene: &Scene<'_>, onsets: &[Onset]) -> Vec<u8> {
    if onsets.is_empty() {
        return Vec::new();
    }
    let turns = wishes::turns(scene, onsets);
    let layers = onsets.iter().zip(&turns).enumerate();
    let layers: Vec<Layer> = layers
        .map(|(i, (onset, turn))| wishing(scene, onset, *turn, layer(scene, onsets, i)))
        .collect();
    // The note after the lap, if the lap's last note is one that leads into it.
    let target = scene
        .next
        .as_ref()
        .and_then(|next| next.symbol.as_ref())
        .map(|symbol| home(symbol.bass.class()));
    let rubbing = onsets.iter().map(|onset| {
        let keys = (LOWEST..=HIGHEST).filter(|key| rubs(scene, onset, *key));
        keys.fold(0, |keys, key| keys | 1 << (key - LOWEST))
    });
    let prices = LinePrices {
        scene,
        onsets,
        target,
        rubbing: rubbing.collect(),
    };
    way::cheapest(&layers, &prices)
}

/// The keys that an onset's task allows.
fn layer(scene: &Scene<'_>, onsets: &[Onset], i: usize) -> Layer {
    let onset = &onsets[i];
    let chord = scene.chord(onset.chord);
    let Some(symbol) = &chord.symbol else {
        return vec![(LOWEST, 0.0)];
    };
    let bass = symbol.bass.class();
    let mut classes = match onset.task {
        LineTask::Approach => approach_classes(scene, onsets, i),
        task => task_classes(task, chord, symbol),
    };
    if scene.score.comping == Comping::WithoutTarget {
        // What is to be heard in the head sounds nowhere in the band; the written bass alone stays.
        classes.retain(|(class, _)| *class == bass || !chord.targets.contains(class));
    }
    classes.retain(|(class, _)| *class == bass || !is_other_third(*class, symbol));
    if classes.is_empty() {
        classes.push((bass, 0.0));
    }
    let mut layer: Layer = classes
        .into_iter()
        .flat_map(|(class, cost)| in_range(class).map(move |key| (key, cost)))
        .collect();
    layer.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    layer.dedup_by_key(|(key, _)| *key);
    let first = i == 0 && onset.task == LineTask::Root;
    if first {
        layer.retain(|(key, _)| *key == home(bass));
    }
    layer
}

/// The same keys with what is wanted this time: one pitch class is as cheap as it is, the others cost more.
fn wishing(scene: &Scene<'_>, onset: &Onset, turn: u64, mut layer: Layer) -> Layer {
    let what = match onset.task {
        LineTask::Approach => 1,
        LineTask::Tone => 2,
        LineTask::Free => 3,
        LineTask::Midway => 4,
        _ => return layer,
    };
    if scene.score.is_plain() {
        return layer;
    }
    let mut classes: Vec<u8> = layer.iter().map(|(key, _)| key % 12).collect();
    classes.sort_unstable();
    classes.dedup();
    let wanted = classes[wishes::card(scene, what, turn, classes.len())];
    for (key, cost) in &mut layer {
        *cost += if *key % 12 == wanted { 0.0 } else { WISHED };
    }
    layer
}

/// Whether a note is the third that the chord does not have, major against minor: from the bass it would be heard as the
/// chord's own.
fn is_other_third(class: u8, symbol: &ChordSymbol) -> bool {
    let has = |semitones: u8| {
        let mut degrees = symbol.degrees.iter();
        degrees.any(|degree| degree.semitones().rem_euclid(12) == i32::from(semitones))
    };
    match (class + 12 - symbol.root.class()) % 12 {
        3 => has(4) && !has(3),
        4 => has(3) && !has(4),
        _ => false,
    }
}

/// The pitch classes for a task over a chord, with their costs.
fn task_classes(task: LineTask, chord: &SceneChord<'_>, symbol: &ChordSymbol) -> Vec<(u8, f64)> {
    let (bass, root) = (symbol.bass.class(), symbol.root.class());
    let tones: Vec<(u8, u8)> = symbol
        .degrees
        .iter()
        .filter(|degree| degree.number <= 7)
        .map(|degree| (degree.number, degree.above(symbol.root).class()))
        .collect();
    let named = tones.iter().find(|(number, _)| *number == 5);
    let fifth = named.map_or((root + 7) % 12, |(_, class)| *class);
    let third = tones.iter().find(|(number, _)| *number == 3);
    let third = third.map(|(_, class)| *class);
    let all = |cost: f64| tones.iter().map(move |(_, class)| (*class, cost));
    // Over a slash bass on the fifth the root answers.
    let (answer, other) = if fifth == bass {
        (root, fifth)
    } else {
        (fifth, root)
    };
    match task {
        LineTask::Root => vec![(bass, 0.0)],
        LineTask::Again => vec![(bass, 0.0), (fifth, 60.0)],
        LineTask::Midway => third
            .map(|third| (third, 0.0))
            .into_iter()
            .chain([(bass, 0.0), (fifth, 0.0)])
            .collect(),
        LineTask::Fifth => [(answer, 0.0), (other, 6.0)]
            .into_iter()
            .chain(all(12.0))
            .collect(),
        LineTask::Answer => [(answer, 0.0), (other, 2.0), (bass, 2.0)]
            .into_iter()
            .chain(all(2.5))
            .collect(),
        LineTask::Tone => all(0.0).collect(),
        LineTask::Free | LineTask::Approach => {
            let mut classes = scale_classes(chord, root);
            classes.extend(all(0.0));
            classes
        }
    }
}

/// The scale without its flat second, which rubs when it is not passed through quickly.
fn scale_classes(chord: &SceneChord<'_>, root: u8) -> Vec<(u8, f64)> {
    chord
        .scale
        .iter()
        .filter(|semitones| **semitones != 1)
        .map(|semitones| ((root + semitones) % 12, 0.8))
        .collect()
}

/// What may lead into the note after the `i`th.
fn approach_classes(scene: &Scene<'_>, onsets: &[Onset], i: usize) -> Vec<(u8, f64)> {
    let next = match onsets.get(i + 1) {
        Some(next) => Some(scene.chord(next.chord)),
        None => scene.next.as_ref(),
    };
    let Some(target) = next.and_then(|next| next.symbol.as_ref()) else {
        return Vec::new();
    };
    let to = target.bass.class();
    [(11, 0.2), (1, 0.2), (10, 0.3), (2, 0.3), (7, 0.6)]
        .into_iter()
        .map(|(up, cost)| ((to + up) % 12, cost))
        .collect()
}

/// Whether `key` leads into `to`: a semitone, a step of either chord's scale, or the fifth over it.
fn leads(scene: &Scene<'_>, onset: &Onset, next: Option<&Onset>, key: u8, to: u8) -> bool {
    let step = |chord: &SceneChord<'_>| {
        chord.symbol.as_ref().is_some_and(|symbol| {
            let over = (key + 12 - symbol.root.class()) % 12;
            let tone =
                |degree: &crate::harmony::Degree| degree.semitones().rem_euclid(12) as u8 == over;
            chord.scale.contains(&over) || symbol.degrees.iter().any(tone)
        })
    };
    match key.abs_diff(to) {
        1 => true,
        2 => {
            let after = next
                .map(|next| scene.chord(next.chord))
                .or(scene.next.as_ref());
            step(scene.chord(onset.chord)) || after.is_some_and(step)
        }
        _ => key % 12 == (to + 7) % 12,
    }
}

/// The prices of a line.
struct LinePrices<'a> {
    scene: &'a Scene<'a>,
    onsets: &'a [Onset],
    /// The key after the lap, if its last note leads into one.
    target: Option<u8>,
    /// The keys that would rub at each onset, a bit each from the lowest on: asked for at every step from it.
    rubbing: Vec<u64>,
}

const _: () = assert!(HIGHEST - LOWEST < 64);

impl LinePrices<'_> {
    /// A line rises over two bars and falls over two, elsewhere in each chorus.
    fn arch(&self, i: usize, key: u8) -> f64 {
        let score = self.scene.score;
        if score.is_plain() {
            return 0.0;
        }
        let at = self.onsets[i].at;
        let bars = &self.scene.bars;
        let bar = bars.partition_point(|bar| bar.start <= at).max(1) - 1;
        let len = (bars[bar].end - bars[bar].start).0.max(1);
        let place = bar as f64 + (at - bars[bar].start).0 as f64 / len as f64;
        let turn = choice::fraction(score.seed, &[SALT, u64::from(score.pass), 1]);
        let (middle, swing, around, price) = ARCH;
        let wanted = middle + swing * (std::f64::consts::TAU * (place / around + turn)).sin();
        price * (f64::from(key) - wanted).abs()
    }

    fn link(&self, i: usize, key: u8, to: u8) -> f64 {
        let (onset, next) = (&self.onsets[i], self.onsets.get(i + 1));
        let misses = onset.task == LineTask::Approach && !leads(self.scene, onset, next, key, to);
        // In a pattern of root and fifth the same note twice is the pattern, not a stumble.
        let pattern = |task| matches!(task, LineTask::Root | LineTask::Fifth);
        let held = key == to && pattern(onset.task) && next.is_none_or(|next| pattern(next.task));
        // What a step resolves is a passing note; what is left by a leap was a wrong one.
        let rubs = key.abs_diff(to) > 2 && self.rubbing[i] >> (key - LOWEST) & 1 == 1;
        (if held { 1.0 } else { leap(key, to) })
            + if misses { FORBIDDEN } else { 0.0 }
            + if rubs { RUBS } else { 0.0 }
    }
}

impl way::Prices for LinePrices<'_> {
    fn alone(&self, i: usize, key: u8) -> f64 {
        let score = self.scene.score;
        let places = [SALT, u64::from(score.pass), i as u64, u64::from(key)];
        1.5 * choice::fraction(score.seed, &places) + edge(key) + self.arch(i, key)
    }

    fn step(&self, i: usize, was: Option<u8>, key: u8, to: u8) -> f64 {
        let encloses = self.onsets[i].task == LineTask::Approach
            && !self.scene.score.is_plain()
            && was.is_some_and(|was| encloses(was, key, to));
        self.link(i, key, to) + was.map_or(0.0, |was| turn(was, key, to))
            - if encloses { ENCLOSES } else { 0.0 }
    }

    fn end(&self, i: usize, was: Option<u8>, key: u8) -> f64 {
        self.target.map_or(0.0, |to| {
            // Struck again at the seam it could come three times with the next pass's second note.
            let again = if key == to { 500.0 } else { 0.0 };
            self.step(i, was, key, to) + again
        })
    }
}

/// What going from one key to another costs: steps are the line, leaps its spice.
fn leap(key: u8, to: u8) -> f64 {
    match key.abs_diff(to) {
        0 => 4.0,
        1 | 2 => 0.0,
        3 | 4 => 0.5,
        5 => 0.8,
        7 => 1.0,
        8 | 9 => 1.8,
        12 => 1.5,
        6 | 10 | 11 => 3.0,
        _ => FORBIDDEN,
    }
}

/// What the way through three notes costs: going on in one direction is free, zigzag costs a little, two
/// leaps the same way more; the same note three times must not be.
fn turn(was: u8, key: u8, to: u8) -> f64 {
    let (first, second) = (
        i32::from(key) - i32::from(was),
        i32::from(to) - i32::from(key),
    );
    if first == 0 && second == 0 {
        FORBIDDEN
    } else if to == was {
        2.0
    } else if first * second < 0 {
        0.6
    } else if first.abs() > 4 && second.abs() > 4 {
        3.0
    } else {
        0.0
    }
}

/// Whether a note that is none of its chord's lies a semitone below one that is; over a dominant with a flat thirteenth the fifth
/// does, too.
pub(super) fn rubs(scene: &Scene<'_>, onset: &Onset, key: u8) -> bool {
    let chord = scene.chord(onset.chord);
    let Some(symbol) = chord.symbol.as_ref().filter(|_| !scene.score.is_plain()) else {
        return false;
    };
    let tone = |class: u8| {
        let mut degrees = symbol.degrees.iter();
        degrees.any(|degree| degree.semitones().rem_euclid(12) as u8 == class)
    };
    let over = (key + 12 - symbol.root.class()) % 12;
    // Where root and fifth are the pattern, the fifth stays.
    let pattern = matches!(onset.task, LineTask::Fifth | LineTask::Answer);
    let flat_thirteenth = chord.scale.contains(&8) && !chord.scale.contains(&9);
    let dark = tone(4) && tone(10) && flat_thirteenth && !pattern;
    !tone(over) && tone((over + 1) % 12) && key % 12 != symbol.bass.class() || over == 7 && dark
}

/// Whether two notes lie on both sides of the one they lead into, no farther than a step.
fn encloses(was: u8, key: u8, to: u8) -> bool {
    let apart = was.abs_diff(to) <= 2 && key.abs_diff(to) <= 2;
    apart && (was > to && key < to || was < to && key > to)
}

/// The line turns before the edges of its range.
fn edge(key: u8) -> f64 {
    let far = (i32::from(key) - 38).abs();
    f64::from((far - 7).max(0)) * 0.4
}
