//! What a journal knows of a player, kept in memory while they play: what the estimator thinks of each skill, and what each new
//! verdict teaches it. The file lags behind by up to a minute; this does not.

use super::entry::VerdictOn;
use super::reading::player_id;
use super::report::dates::{DAY_MS, Dates, date_of, number_of};
use super::report::learned::{Learned, Lexicon, Numbers};
use super::schema::RESULTS;
use super::skill::{Estimate, Estimator, Trial};
use jiff::tz::TimeZone;
use rusqlite::{Connection, Result};
use std::collections::HashMap;

/// The number of what was never met: nobody has it.
const UNKNOWN: usize = usize::MAX;

/// What is known of one player.
#[derive(Debug)]
pub struct Memory {
    estimator: Estimator,
    /// By degree and quality: skill, degree, quality.
    skills: HashMap<[String; 2], [usize; 3]>,
    parts: [Numbers; 2],
    around: [Numbers; 3],
    zone: TimeZone,
}

impl Memory {
    /// What a journal knows of a player; `None` where nothing was ever asked of them.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn of(db: &Connection, player: &str) -> Result<Option<Memory>> {
        let Some(player) = player_id(db, player)? else {
            return Ok(None);
        };
        let zone = TimeZone::system();
        let lexicon = Lexicon::of(db)?;
        let learned = Learned::of(db, player, &lexicon, &mut Dates::of(&zone))?;
        let skills = lexicon.skills.into_values();
        let memory = Memory {
            estimator: learned.estimator,
            skills: skills.collect(),
            parts: lexicon.parts,
            around: lexicon.numbers,
            zone,
        };
        Ok((!learned.counted.is_empty()).then_some(memory))
    }

    /// Takes in what became of a note, at a moment (milliseconds since 1970). What was not judged teaches nothing.
    pub fn learn(&mut self, verdict: &VerdictOn, now_ms: i64) {
        if !RESULTS[..RESULTS.len() - 1].contains(&verdict.result) {
            return;
        }
        let words = [verdict.degree.clone(), verdict.quality.clone()];
        let next = self.skills.len();
        let [degrees, qualities] = &mut self.parts;
        let parts = [degrees.of(&words[0]), qualities.of(&words[1])];
        let numbers = *self
            .skills
            .entry(words)
            .or_insert([next, parts[0], parts[1]]);
        let [keys, places, regions] = &mut self.around;
        let around = [
            keys.of(&verdict.key),
            places.of(&verdict.place),
            regions.of(&verdict.region),
        ];
        let trial = self.trial(numbers, around, verdict.tempo_qpm, now_ms);
        self.estimator.learn(&trial, verdict.result == RESULTS[0]);
    }

    /// What is thought of a degree over a quality of chord at a tempo, at a moment.
    pub fn of_skill(
        &self,
        (degree, quality): (&str, &str),
        tempo_qpm: f64,
        now_ms: i64,
    ) -> Estimate {
        let words = [degree.to_string(), quality.to_string()];
        let part = |kind: usize| {
            self.parts[kind]
                .0
                .get(&words[kind])
                .copied()
                .unwrap_or(UNKNOWN)
        };
        let known = self.skills.get(&words).copied();
        let numbers = known.unwrap_or([UNKNOWN, part(0), part(1)]);
        let trial = self.trial(numbers, [0; 3], tempo_qpm, now_ms);
        self.estimator.of_skill(&trial)
    }

    fn trial(&self, numbers: [usize; 3], around: [usize; 3], tempo_qpm: f64, now_ms: i64) -> Trial {
        let [skill, degree, quality] = numbers;
        Trial {
            day: now_ms as f64 / DAY_MS,
            date: number_of(date_of(now_ms, &self.zone)),
            skill,
            degree,
            quality,
            around,
            tempo_qpm,
        }
    }
}
