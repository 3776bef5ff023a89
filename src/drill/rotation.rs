//! What turns from pass to pass: places, orders, strings, positions, octaves, above and below, keys; one thing at a time, or
//! crossed, so that any two values meet early.
//!
//! # How many passes until any two values have met?
//!
//! Crossed, the first combinations are a greedy pairwise cover, at most 1.3 times as long as the two longest lists make
//! necessary (`cover.rs`; held by a test); after it come the other combinations, each once before any comes twice.

use super::KeyWalk;
use super::cover;
use super::figure::{Direction, Place};
use super::orders::Numbers;
use super::range::Octave;
use std::sync::Arc;

/// What turns in a stage.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rotation {
    pub places: Vec<Vec<Place>>,
    /// Every order of the figure.
    pub orders: bool,
    pub strings: Vec<u8>,
    /// Frets under the first finger.
    pub positions: Vec<u8>,
    pub octaves: Vec<Octave>,
    /// Which way the notes of the figure lie that are above or below the root.
    pub sides: Vec<Direction>,
    /// `None`: the key does not turn.
    pub keys: Option<KeyWalk>,
    /// Whether the values are crossed; else they turn one thing at a time.
    pub crossed: bool,
    /// One round: an index into each list that turns ([`Rotation::levels`]).
    pub(super) rows: Arc<Vec<Vec<usize>>>,
    /// How long each list is.
    pub(super) lists: [usize; 7],
    /// How many of them bring any two values together.
    pub(super) cover: usize,
}

/// The values of one pass, as far as they turn.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Turning {
    pub places: Option<Vec<Place>>,
    pub order: Option<usize>,
    pub string: Option<u8>,
    pub position: Option<u8>,
    pub octave: Option<Octave>,
    pub side: Option<Direction>,
    /// Steps of the walk through the keys.
    pub key: Option<u32>,
}

/// The most combinations that may be crossed.
pub(super) const COMBINATIONS: usize = 4096;

impl Rotation {
    /// How long each list is; a list that does not turn counts one. `orders`: how many orders the figure has.
    pub(super) fn levels(&self, orders: usize) -> [usize; 7] {
        let keys = match &self.keys {
            None | Some(KeyWalk::Stay) => 1,
            Some(KeyWalk::List(list)) => list.len(),
            Some(_) => 12,
        };
        let orders = if self.orders { orders } else { 1 };
        let lists = [
            self.places.len(),
            orders,
            self.strings.len(),
            self.positions.len(),
            self.octaves.len(),
            self.sides.len(),
            keys,
        ];
        lists.map(|level| level.max(1))
    }

    /// Works one round out for a figure with so many orders.
    pub(super) fn worked_out(mut self, orders: usize) -> Rotation {
        let levels = self.levels(orders);
        let (rows, cover) = if self.crossed {
            cover::covering(&levels)
        } else {
            let mut rows = vec![vec![0; levels.len()]];
            for (index, level) in levels.iter().enumerate() {
                for value in 1..*level {
                    let mut row = vec![0; levels.len()];
                    row[index] = value;
                    rows.push(row);
                }
            }
            let count = rows.len();
            (rows, count)
        };
        self.lists = levels;
        self.rows = Arc::new(rows);
        self.cover = cover;
        self
    }

    /// Passes of one round.
    pub fn round_len(&self) -> usize {
        self.rows.len().max(1)
    }

    /// After how many passes any two values have met, where they are crossed.
    pub fn cover_len(&self) -> usize {
        self.cover
    }

    /// How long each list is; what does not turn counts one.
    pub fn lists(&self) -> &[usize] {
        &self.lists
    }

    /// The combination of pass `turn`, counted from 0: the lists' first values first; each once before any comes twice, in
    /// every round another way; the same seed the same way.
    pub fn indices(&self, turn: u32, seed: u64) -> Vec<usize> {
        let rounds = self.rows.len().max(1);
        let (round, at) = (turn as usize / rounds, turn as usize % rounds);
        let Some(row) = self.rows.get(at) else {
            return Vec::new();
        };
        if round == 0 || !self.crossed {
            return row.clone();
        }
        // The same cover with its values named otherwise is a cover, too.
        let mut numbers = Numbers::new(seed ^ (round as u64).wrapping_mul(0xd134_2543_de82_ef95));
        let named = self.lists.iter().zip(row).map(|(level, value)| {
            let mut names: Vec<usize> = (0..*level).collect();
            for end in (1..*level).rev() {
                names.swap(end, numbers.below(end + 1));
            }
            names[*value]
        });
        named.collect()
    }

    /// What pass `turn` asks for.
    pub fn turning(&self, turn: u32, seed: u64) -> Turning {
        let row = self.indices(turn, seed);
        let at = |list: usize| row.get(list).copied().unwrap_or(0);
        Turning {
            places: self.places.get(at(0)).cloned(),
            order: self.orders.then(|| at(1)),
            string: self.strings.get(at(2)).copied(),
            position: self.positions.get(at(3)).copied(),
            octave: self.octaves.get(at(4)).copied(),
            side: self.sides.get(at(5)).copied(),
            key: self.keys.as_ref().map(|_| at(6) as u32),
        }
    }
}
