//! Players that were made up, by three published models of how people learn and forget, so that what is thought of them can
//! be compared with what they are. By seed.

use super::dice::Dice;

/// What is asked of them: degrees over qualities, some rarer than others, as in charts.
pub const DEGREES: usize = 4;
pub const QUALITIES: usize = 5;
pub const SKILLS: usize = DEGREES * QUALITIES;
/// How often each quality stands in a chart, in parts.
pub const SHARES: [u64; QUALITIES] = [6, 6, 4, 2, 1];

/// By which model they learn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Model {
    /// Logistic, by the logarithm of practice and a power of the time since: much as the estimator thinks.
    Logistic,
    /// Known or not, with slips and lucky guesses (A. Corbett, J. Anderson, User Modeling 4, 1995), with forgetting from day
    /// to day.
    Tracing,
    /// The activation of memory (P. Pavlik, J. Anderson, Cognitive Science 29, 2005): each time leaves a trace that decays,
    /// faster where the memory was active.
    Activation,
}

pub const MODELS: [Model; 3] = [Model::Logistic, Model::Tracing, Model::Activation];

/// A player.
#[derive(Debug, Clone)]
pub struct Student {
    model: Model,
    dice: Dice,
    skills: Vec<Memory>,
    /// How much harder each key and place is, in logits.
    keys: [f64; 7],
    places: [f64; 4],
    tempo_slope: f64,
    forgetting: f64,
    learning: f64,
}

#[derive(Debug, Clone, Default)]
struct Memory {
    strength: f64,
    trials: u32,
    days: u32,
    last_day: f64,
    known: bool,
    slip: f64,
    guess: f64,
    learns: f64,
    forgets: f64,
    /// Traces: when, and how fast each decays.
    traces: Vec<(f64, f64)>,
}

/// A note that is asked for.
#[derive(Debug, Clone, Copy)]
pub struct Note {
    pub day: f64,
    pub skill: usize,
    /// From 1.
    pub key: usize,
    /// From 1.
    pub place: usize,
    pub tempo_qpm: f64,
}

impl Student {
    pub fn new(model: Model, seed: u64) -> Student {
        let mut dice = Dice(seed.wrapping_mul(77).wrapping_add(model as u64 + 1));
        let talent = dice.normal() * 0.6;
        let by_degree: Vec<f64> = (0..DEGREES)
            .map(|degree| -0.4 * degree as f64 + 0.3 * dice.normal())
            .collect();
        let by_quality: Vec<f64> = (0..QUALITIES)
            .map(|quality| -0.25 * quality as f64 + 0.3 * dice.normal())
            .collect();
        let skills = (0..SKILLS).map(|skill| {
            let ease = talent
                + by_degree[skill / QUALITIES]
                + by_quality[skill % QUALITIES]
                + 0.5 * dice.normal();
            Memory {
                strength: ease,
                known: dice.unit() < 0.25 * sigmoid(ease),
                slip: 0.02 + 0.06 * dice.unit(),
                guess: 0.25 + 0.2 * dice.unit(),
                learns: 0.02 + 0.04 * sigmoid(ease),
                forgets: 0.01 + 0.05 * dice.unit(),
                ..Memory::default()
            }
        });
        let skills = skills.collect();
        let mut spread = |size: f64| dice.normal() * size;
        let (keys, places) = (
            std::array::from_fn(|_| spread(0.25)),
            std::array::from_fn(|_| spread(0.25)),
        );
        let (tempo, forgetting, learning) =
            (-1.0 + spread(0.4), 0.6 + spread(0.15), 1.6 + spread(0.3));
        Student {
            model,
            skills,
            keys,
            places,
            tempo_slope: tempo.min(0.0),
            forgetting: forgetting.max(0.1),
            learning: learning.max(0.4),
            dice,
        }
    }

    /// The true chance that a note is right.
    pub fn chance(&self, note: &Note) -> f64 {
        let around = self.keys[note.key - 1] + self.places[note.place - 1];
        let extra = around + self.tempo_slope * (note.tempo_qpm / 100.0).ln();
        let memory = &self.skills[note.skill];
        match self.model {
            Model::Logistic => {
                sigmoid(memory.logit(note.day, self.learning, self.forgetting) + extra)
            }
            Model::Tracing => {
                let known = if memory.known {
                    1.0 - memory.slip
                } else {
                    memory.guess
                };
                // What stands around a note matters here as well.
                sigmoid((known / (1.0 - known)).ln() + extra)
            }
            Model::Activation => {
                sigmoid((memory.activation(note.day) + 1.3 + 0.35 * memory.strength) / 0.45 + extra)
            }
        }
    }

    /// The same at a usual tempo, wherever it is played.
    pub fn true_share(&self, skill: usize, day: f64, tempo_qpm: f64) -> f64 {
        let mut sum = 0.0;
        for key in 1..=7 {
            for place in 1..=4 {
                sum += self.chance(&Note {
                    day,
                    skill,
                    key,
                    place,
                    tempo_qpm,
                });
            }
        }
        sum / 28.0
    }

    /// A night passes: what is known may be forgotten.
    pub fn sleep(&mut self) {
        for memory in &mut self.skills {
            // Each day of practice makes it last longer.
            let forgets = memory.forgets / f64::from(memory.days.max(1));
            if memory.known && self.dice.unit() < forgets {
                memory.known = false;
            }
        }
    }

    /// Plays a note, and learns by it.
    pub fn play(&mut self, note: &Note) -> bool {
        let right = self.dice.unit() < self.chance(note);
        let activation = self.skills[note.skill].activation(note.day);
        let memory = &mut self.skills[note.skill];
        if memory.trials == 0 || note.day - memory.last_day > 0.5 {
            memory.days += 1;
        }
        memory.trials += 1;
        memory.last_day = note.day;
        if !memory.known && self.dice.unit() < memory.learns {
            memory.known = true;
        }
        if self.model == Model::Activation {
            // Pavlik and Anderson's a and c; a trace in three does for all, with three times the weight.
            if memory.trials % 3 == 1 {
                memory
                    .traces
                    .push((note.day, (0.177 + 0.217 * activation.exp()).min(0.9)));
            }
        }
        right
    }

    /// Which quality comes next where a chart is played through.
    pub fn any_quality(dice: &mut Dice) -> usize {
        let mut left = dice.below(SHARES.iter().sum());
        for (quality, share) in SHARES.iter().enumerate() {
            if left < *share {
                return quality;
            }
            left -= share;
        }
        0
    }
}

impl Memory {
    fn logit(&self, day: f64, learning: f64, forgetting: f64) -> f64 {
        let passed = if self.trials > 0 {
            (day - self.last_day).max(0.0)
        } else {
            0.0
        };
        let lasts = f64::from(self.days.max(1));
        self.strength - 0.3 + learning * f64::from(self.trials).ln_1p() / 3.0
            - forgetting * (1.0 + passed / lasts).ln()
    }

    /// Time counts in units in which a day is an hour: outside of the lesson little interferes (as in the paper).
    fn activation(&self, day: f64) -> f64 {
        let trace =
            |(at, decay): &(f64, f64)| 3.0 * (1.0 + (day - at).max(0.0) * 24.0).powf(-decay);
        let sum: f64 = self.traces.iter().map(trace).sum();
        (sum.max(1e-3) / 30.0).ln()
    }
}

pub fn sigmoid(logit: f64) -> f64 {
    1.0 / (1.0 + (-logit).exp())
}

/// A note asked for, its true chance, and how it went.
#[derive(Debug, Clone, Copy)]
pub struct Played {
    pub note: Note,
    pub chance: f64,
    pub right: bool,
}

/// Three months of practice on three days of five: a few takes of one degree each over the changes of a tune. Every note is
/// handed on, and each evening the player.
pub fn months_each(
    model: Model,
    seed: u64,
    on_note: &mut dyn FnMut(&Played),
    on_evening: &mut dyn FnMut(&Student, f64),
) {
    let mut student = Student::new(model, seed);
    let mut dice = Dice(seed ^ 0xabcd);
    let mut tempo_qpm = 80.0;
    for day in 0..90u32 {
        student.sleep();
        // Now and then a pause of a week or two.
        let away = (30..38).contains(&day) || (60..74).contains(&day);
        if away || dice.unit() > 0.6 {
            on_evening(&student, f64::from(day) + 0.05);
            continue;
        }
        for take in 0..3u32 {
            let degree = dice.below(1 + u64::from(day / 12).min(3)) as usize;
            let key = 1 + dice.below(7) as usize;
            let place = 1 + dice.below(4) as usize;
            tempo_qpm = f64::clamp(
                tempo_qpm + 4.0 * (dice.below(3) as f64 - 1.0) + 0.3,
                60.0,
                160.0,
            );
            for number in 0..24u32 {
                let note = Note {
                    day: f64::from(day) + 0.01 * f64::from(take) + 0.0002 * f64::from(number),
                    skill: degree * QUALITIES + Student::any_quality(&mut dice),
                    key,
                    place,
                    tempo_qpm,
                };
                let chance = student.chance(&note);
                let right = student.play(&note);
                on_note(&Played {
                    note,
                    chance,
                    right,
                });
            }
        }
        on_evening(&student, f64::from(day) + 0.05);
    }
}

/// All notes of three months.
pub fn months(model: Model, seed: u64) -> Vec<Played> {
    let mut played = Vec::new();
    months_each(model, seed, &mut |note| played.push(*note), &mut |_, _| {});
    played
}
