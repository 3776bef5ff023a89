//! What a player's notes teach the estimator: the words of a journal as its numbers, and all verdicts taken in.

use super::dates::{DAY_MS, Dates};
use crate::journal::reading::{each_asked, words};
use crate::journal::skill::{Estimator, Trial};
use rusqlite::{Connection, Result};
use std::collections::{BTreeMap, HashMap};

/// What the estimator looks back on at the most: some years of a busy player.
const MOST_VERDICTS: u32 = 200_000;

/// Numbers from 0 for words, in the order in which they come.
#[derive(Debug, Default)]
pub(in crate::journal) struct Numbers(pub(in crate::journal) HashMap<String, usize>);

impl Numbers {
    pub(in crate::journal) fn of(&mut self, word: &str) -> usize {
        let next = self.0.len();
        *self.0.entry(word.to_string()).or_insert(next)
    }
}

/// What is counted of a skill besides whether it was right.
#[derive(Default, Clone, Copy)]
pub(in crate::journal) struct Counted {
    pub(in crate::journal) right: u32,
    pub(in crate::journal) in_time: u32,
    pub(in crate::journal) last_date: i64,
}

/// The words of a journal as the estimator's numbers.
pub(in crate::journal) struct Lexicon {
    /// By the skill's number in the file: its words, then skill, degree, quality.
    pub(in crate::journal) skills: BTreeMap<i64, ([String; 2], [usize; 3])>,
    /// By the circumstance's number in the file: key, place, region.
    pub(in crate::journal) around: HashMap<i64, [usize; 3]>,
    /// Degrees and qualities.
    pub(in crate::journal) parts: [Numbers; 2],
    pub(in crate::journal) numbers: [Numbers; 3],
}

impl Lexicon {
    pub(in crate::journal) fn of(db: &Connection) -> Result<Lexicon> {
        let (mut degrees, mut qualities) = (Numbers::default(), Numbers::default());
        let named: Vec<(i64, [String; 2])> = words(db, ["degree", "quality"], "skills")?;
        let mut skills = BTreeMap::new();
        for (number, (id, words)) in named.into_iter().enumerate() {
            let numbers = [number, degrees.of(&words[0]), qualities.of(&words[1])];
            skills.insert(id, (words, numbers));
        }
        let mut numbers: [Numbers; 3] = Default::default();
        // An empty word is number 0: nothing is told.
        for numbers in &mut numbers {
            numbers.of("");
        }
        let mut around = HashMap::new();
        for (id, words) in words(db, ["key", "place", "region"], "circumstances")? {
            let of = |kind: usize, numbers: &mut [Numbers; 3]| numbers[kind].of(&words[kind]);
            let told = [
                of(0, &mut numbers),
                of(1, &mut numbers),
                of(2, &mut numbers),
            ];
            around.insert(id, told);
        }
        Ok(Lexicon {
            skills,
            around,
            parts: [degrees, qualities],
            numbers,
        })
    }
}

/// What a player's notes come to.
pub(in crate::journal) struct Learned {
    pub(in crate::journal) estimator: Estimator,
    /// By the skill's number in the file.
    pub(in crate::journal) counted: HashMap<i64, Counted>,
    /// The share of right ones among all.
    pub(in crate::journal) share: f64,
}

impl Learned {
    pub(in crate::journal) fn of(
        db: &Connection,
        player: i64,
        lexicon: &Lexicon,
        dates: &mut Dates<'_>,
    ) -> Result<Learned> {
        let (mut all, mut right) = (0u32, 0u32);
        let mut estimator = Estimator::new();
        let mut counted: HashMap<i64, Counted> = HashMap::new();
        each_asked(db, player, MOST_VERDICTS, |asked| {
            let Some((_, [skill, degree, quality])) = lexicon.skills.get(&asked.skill) else {
                return;
            };
            let around = lexicon.around.get(&asked.circumstance).copied();
            let trial = Trial {
                day: asked.at_ms as f64 / DAY_MS,
                date: dates.number(asked.at_ms),
                skill: *skill,
                degree: *degree,
                quality: *quality,
                around: around.unwrap_or_default(),
                tempo_qpm: asked.tempo_qpm,
            };
            estimator.learn(&trial, asked.right);
            (all, right) = (all + 1, right + u32::from(asked.right));
            let count = counted.entry(asked.skill).or_default();
            count.last_date = dates.number(asked.at_ms);
            count.right += u32::from(asked.right);
            count.in_time += u32::from(asked.in_time);
        })?;
        let share = (f64::from(right) + 1.0) / (f64::from(all) + 2.0);
        Ok(Learned {
            estimator,
            counted,
            share,
        })
    }
}
