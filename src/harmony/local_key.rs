//! The local key of every chord: one search over the whole form and 24 keys, as an analyst reads it.
//!
//! A path of keys scores what each chord speaks for its key ([`super::standing`]), less what each change costs. The best path
//! is found by dynamic programming (A. Viterbi, 1967), forward and backward, so that for every chord and every key the best
//! path through it is known: the difference to the best of all is how sure the key is. The form is a loop that begins at home.
//!
//! Ties fall to the key that is nearer to home, never to a pitch: a tune moved to another key is read the same.

use super::home::is_blues;
use super::neighbours::nothing_new;
use super::sound::{ChordSound, Neighbours};
use super::standing::{is_of_key, standing};
use super::weights::{Tenths, Weights};
use super::{Key, Mode};

/// Twelve tonics in two modes.
pub(super) const KEYS: usize = 24;

/// The score of a path that there is not.
const OUT_OF_REACH: Tenths = -1_000_000;

/// The keys of a stretch: the search's answer, and what speaks for the others.
#[derive(Debug, Clone)]
pub(super) struct KeyPath {
    /// The 24 keys, each spelled as near to the home signature as can be, the nearest to home first.
    pub keys: [Key; KEYS],
    /// For each chord the key of the best path, as an index.
    pub chosen: Vec<usize>,
    /// For each chord and key how far the best path through that key stays behind the best of all: 0 or less.
    pub behind: Vec<[Tenths; KEYS]>,
}

/// Steps between two signatures on the circle of fifths, 0 to 6.
fn distance(a: Key, b: Key) -> i32 {
    let apart = (i32::from(a.fifths()) - i32::from(b.fifths())).rem_euclid(12);
    apart.min(12 - apart)
}

/// The 24 keys by nearness to home.
fn keys(home: Key) -> [Key; KEYS] {
    let spelled = |class: u8, mode: Mode| {
        (-9i8..=9)
            .map(|fifths| Key::of_signature(fifths, mode))
            .filter(|key| key.tonic.class() == class)
            .min_by_key(|key| {
                let beyond = (key.fifths().abs() - 7).max(0) * 12;
                let far = (key.fifths() - home.fifths()).abs();
                (far + beyond, key.fifths().abs())
            })
            .unwrap_or(home)
    };
    let all = [home.mode, home.relative().mode];
    let mut keys = [home; KEYS];
    for (at, key) in keys.iter_mut().enumerate().skip(1) {
        let class = (usize::from(home.tonic.class()) + at) % 12;
        *key = spelled(class as u8, all[at / 12]);
    }
    let up = |key: &Key| (12 + key.tonic.class() - home.tonic.class()) % 12;
    keys.sort_by_key(|key| (distance(home, *key), key.mode != home.mode, up(key)));
    keys
}

/// The near keys of each: relative, parallel, a fifth up and down, as indices.
fn near(keys: &[Key; KEYS]) -> [[usize; 4]; KEYS] {
    std::array::from_fn(|from| {
        let is_near = |to: Key| {
            let key = keys[from];
            let relative = distance(key, to) == 0 && key.mode != to.mode;
            let fifth = distance(key, to) == 1 && key.mode == to.mode;
            relative || fifth || key.mode != to.mode && key.tonic.class() == to.tonic.class()
        };
        let mut found = [from; 4];
        let others = (0..KEYS).filter(|to| is_near(keys[*to]));
        found.iter_mut().zip(others).for_each(|(at, to)| *at = to);
        found
    })
}

/// From the scores of the paths up to here, the scores of the paths that are in each key next, and which key each came from.
fn step(
    scores: &[Tenths; KEYS],
    near: &[[usize; 4]; KEYS],
    weights: &Weights,
) -> [(Tenths, u8); KEYS] {
    let best = |one: (Tenths, u8), other: (Tenths, u8)| if other.0 > one.0 { other } else { one };
    let all = (0..KEYS).map(|key| (scores[key], key as u8));
    let (top, top_key) = all.reduce(best).unwrap_or((0, 0));
    std::array::from_fn(|key| {
        let stay = (scores[key], key as u8);
        let from_near = near[key].map(|last| (scores[last] - weights.change, last as u8));
        let found = from_near.into_iter().fold(stay, best);
        best(found, (top - weights.change - weights.far, top_key))
    })
}

/// Only differences count; kept small, so that no form is too long.
fn levelled(scores: [Tenths; KEYS]) -> [Tenths; KEYS] {
    let top = scores.iter().copied().fold(Tenths::MIN, Tenths::max);
    scores.map(|score| (score - top).max(OUT_OF_REACH))
}

fn plus(one: &[Tenths; KEYS], other: &[Tenths; KEYS]) -> [Tenths; KEYS] {
    std::array::from_fn(|key| one[key] + other[key])
}

/// What each chord says for each key.
fn said(
    home: Key,
    keys: &[Key; KEYS],
    around: &[Neighbours],
    weights: &Weights,
) -> Vec<[Tenths; KEYS]> {
    let sounds: Vec<ChordSound> = around.iter().map(|place| place.chord).collect();
    let blues = is_blues(home, &sounds);
    let at_home = |chord: ChordSound| match home.mode {
        _ if !is_of_key(home, chord) => 0,
        Mode::Minor if !matches!((12 + chord.root - home.tonic.class()) % 12, 0 | 2 | 5 | 7) => {
            weights.at_home_in_minor
        }
        _ => weights.at_home,
    };
    let of = |(place, old): (&Neighbours, bool)| {
        if old {
            return [0; KEYS];
        }
        std::array::from_fn(|key| {
            let blues = blues && key == 0;
            let more = if key == 0 { at_home(place.chord) } else { 0 };
            standing(keys[key], &Neighbours { blues, ..*place }, weights) + more
        })
    };
    let old = nothing_new(&sounds, weights.heard);
    around.iter().zip(old).map(of).collect()
}

/// The keys of a stretch. Time and space are linear in the number of chords.
pub(super) fn path(home: Key, around: &[Neighbours], weights: &Weights) -> KeyPath {
    let keys = keys(home);
    let near = near(&keys);
    let said = said(home, &keys, around, weights);
    // Before the first chord and after the last one stands the home key.
    let mut edge = [OUT_OF_REACH; KEYS];
    edge[0] = 0;
    // The best that leads to each chord; on the way back the best that goes on from there is put on top: of ten thousand bars
    // each such list is four megabytes.
    let mut behind = Vec::with_capacity(said.len());
    let mut came_from = Vec::with_capacity(said.len());
    let mut scores = edge;
    for chord in &said {
        let stepped = step(&scores, &near, weights);
        scores = levelled(plus(&stepped.map(|(score, _)| score), chord));
        behind.push(scores);
        came_from.push(stepped.map(|(_, from)| from));
    }
    let mut scores = edge;
    for (behind, said) in behind.iter_mut().zip(&said).rev() {
        let from_here = step(&scores, &near, weights).map(|(score, _)| score);
        *behind = levelled(plus(behind, &from_here));
        scores = levelled(plus(&from_here, said));
    }
    let mut chosen = vec![0; said.len()];
    let mut key = behind.last().map_or(0, first_best);
    for at in (0..said.len()).rev() {
        chosen[at] = key;
        key = usize::from(came_from[at][key]);
    }
    KeyPath {
        keys,
        chosen,
        behind,
    }
}

/// The first of the best: ties fall to the key that is nearer to home.
fn first_best(scores: &[Tenths; KEYS]) -> usize {
    let better = |one: usize, other: usize| {
        if scores[other] > scores[one] {
            other
        } else {
            one
        }
    };
    (0..KEYS).reduce(better).unwrap_or(0)
}
