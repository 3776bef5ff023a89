//! How sure the analysis is of a chord's notes: what speaks for another reading.

use super::function::read;
use super::habits::Habits;
use super::local_key::{KEYS, KeyPath};
use super::sound::Neighbours;
use super::weights::{Tenths, Weights};
use super::{ChordSymbol, Degree, Key, ScaleName as Scale, Trial, fitting};
use std::fmt;

/// Readings that stay further behind than this are not looked at.
const LIMIT: Tenths = 100;
/// From this margin on a second is certain: what a change of key costs.
const CERTAIN: Tenths = Weights::BY_THEORY.change;

/// How sure the analysis is of a chord. Margins are in tenths of a point of the search for the local key: a cadence is worth
/// 10, a tonic 30, a change of key costs 50. At most 100.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Certainty {
    /// How far the best reading with another second stays behind.
    pub margin_tenths: i32,
    /// That reading: its key, its scale. `None`: there is none within 100.
    pub runner_up: Option<(Key, Scale)>,
    /// The same for each degree of the scale, in its order: how far the best reading without that note stays behind.
    pub degrees_tenths: Vec<i32>,
    /// Whether teachers of all habits name the same second here.
    pub taught_alike: bool,
}

impl Certainty {
    /// Whether no other reading that lacks the degree at this place of the scale comes near.
    pub fn is_certain_at(&self, at: usize) -> bool {
        self.degrees_tenths
            .get(at)
            .is_none_or(|margin| *margin >= CERTAIN)
    }

    /// Whether the chord's second can be taken for granted: no other reading comes near, and no teacher differs.
    pub fn is_certain(&self) -> bool {
        self.margin_tenths >= CERTAIN && self.taught_alike
    }
}

impl fmt::Display for Certainty {
    /// For a reader at a terminal: `certain`, or what speaks for another second.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.runner_up {
            _ if self.is_certain() => f.write_str("certain"),
            Some((key, scale)) if self.margin_tenths < CERTAIN => {
                let behind = f64::from(self.margin_tenths) / 10.0;
                write!(f, "or {scale} in {key}, {behind:.1} behind")
            }
            _ => f.write_str("teachers differ"),
        }
    }
}

/// The scale's notes in semitones over the root, in order.
fn notes(symbol: &ChordSymbol, scale: Scale) -> Vec<i32> {
    let degrees = fitting::degrees(symbol, scale);
    let semitones = |degree: Degree| degree.semitones().rem_euclid(12);
    degrees.iter().map(|one| semitones(one.degree)).collect()
}

/// Works out how sure the reading `scale` of the chord at `place` of a path is.
pub(super) fn certainty(
    symbol: &ChordSymbol,
    scale: Scale,
    (path, place): (&KeyPath, usize),
    around: impl Fn(usize) -> Neighbours,
    habits: &Habits,
) -> Certainty {
    let chosen = notes(symbol, scale);
    let behind = &path.behind[place];
    let mut order: Vec<usize> = (0..KEYS).filter(|key| behind[*key] > -LIMIT).collect();
    order.sort_by(|one, other| behind[*other].cmp(&behind[*one]));
    let mut found = Certainty {
        margin_tenths: LIMIT,
        runner_up: None,
        degrees_tenths: vec![LIMIT; chosen.len()],
        taught_alike: taught_alike(
            symbol,
            path.keys[path.chosen[place]],
            &around(path.chosen[place]),
            habits.trial,
        ),
    };
    let mut seen = vec![scale];
    for key in order {
        let other = read(path.keys[key], &around(key), habits).scale;
        let other = fitting::fit(symbol, other);
        if seen.contains(&other) {
            continue;
        }
        seen.push(other);
        let margin = -behind[key];
        let has = notes(symbol, other);
        if found.runner_up.is_none() && has.get(1) != chosen.get(1) {
            found.margin_tenths = margin;
            found.runner_up = Some((path.keys[key], other));
        }
        for (degree, note) in found.degrees_tenths.iter_mut().zip(&chosen) {
            if !has.contains(note) {
                *degree = margin.min(*degree);
            }
        }
    }
    found
}

/// Whether the second is the same whatever the habits: those that flatten most and those that flatten least agree.
fn taught_alike(symbol: &ChordSymbol, key: Key, around: &Neighbours, trial: Trial) -> bool {
    let second = |habits: Habits| {
        let scale = read(key, around, &Habits { trial, ..habits }).scale;
        notes(symbol, fitting::fit(symbol, scale)).get(1).copied()
    };
    second(Habits::FLATTEST) == second(Habits::PLAINEST)
}
