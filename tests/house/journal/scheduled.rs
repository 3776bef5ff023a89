//! Whether what is proposed gets a player there sooner than a ladder gone through in order: on players that were made up by
//! a model of memory that neither the estimator nor the scheduler knows (activation), and by one that the estimator has in
//! itself (tracing). The scheduler's values were tried on the first seeds, 0 to 49; those from [`NEW`] on were looked at once.

use crate::support::dice::Dice;
use crate::support::students::{DEGREES, Model, Note, QUALITIES, SHARES, SKILLS, Student};
use std::collections::BTreeSet;
use underfoot::journal::next::{Known, Wanted, next};
use underfoot::journal::skill::{Estimator, Trial};

/// Players in every run; `tests/long` has fifty.
const PLAYERS: u64 = 8;
/// From this seed on nothing was tried; looked at by `tests/long`.
const NEW: u64 = 900_000;
/// Takes a day, and notes in a take.
const TAKES: u32 = 4;
const NOTES: u32 = 24;
/// Who is not there after so many takes never will be.
const MOST: u32 = 1_500;
const TEMPO_QPM: f64 = 60.0;
/// A skill is sure from here on.
const SURE: f64 = 0.85;
const DEGREE_WORDS: [&str; DEGREES] = ["1", "3", "7", "5"];

fn trial(skill: usize, day: f64, around: [usize; 3]) -> Trial {
    Trial {
        day,
        date: day.floor() as i64,
        skill,
        degree: skill / QUALITIES,
        quality: skill % QUALITIES,
        around,
        tempo_qpm: TEMPO_QPM,
    }
}

/// Who decides what the next take is about.
trait Teacher {
    /// The skill of the next note.
    fn choose(&mut self, number: u32, dice: &mut Dice) -> usize;
    fn begin(&mut self, day: f64);
    fn hear(&mut self, trial: &Trial, right: bool);
}

/// The ladder in order: one degree over all chords of the tune, until two choruses running went well; after the last one
/// from the first again.
#[derive(Default)]
struct Ladder {
    degree: usize,
    right: u32,
    heard: u32,
    clean: u32,
}

impl Teacher for Ladder {
    fn choose(&mut self, _: u32, dice: &mut Dice) -> usize {
        self.degree * QUALITIES + Student::any_quality(dice)
    }

    fn begin(&mut self, _: f64) {
        let went_well = self.heard > 0 && f64::from(self.right) >= 0.9 * f64::from(self.heard);
        self.clean = if went_well { self.clean + 1 } else { 0 };
        if self.clean >= 2 {
            (self.degree, self.clean) = ((self.degree + 1) % DEGREES, 0);
        }
        (self.right, self.heard) = (0, 0);
    }

    fn hear(&mut self, _: &Trial, right: bool) {
        self.right += u32::from(right);
        self.heard += 1;
    }
}

/// What is proposed: three skills a take, in turn.
struct Proposals {
    estimator: Estimator,
    skills: Vec<usize>,
}

impl Teacher for Proposals {
    fn choose(&mut self, number: u32, dice: &mut Dice) -> usize {
        match self.skills.len() {
            0 => dice.below(SKILLS as u64) as usize,
            some => self.skills[number as usize % some],
        }
    }

    fn begin(&mut self, day: f64) {
        let wanted: Vec<Wanted> = (0..SKILLS)
            .map(|skill| {
                let at = trial(skill, day, [0; 3]);
                let estimate = self.estimator.of_skill(&at);
                let then = self
                    .estimator
                    .of_skill(&trial(skill, estimate.last_day, [0; 3]));
                Wanted {
                    degree: DEGREE_WORDS[skill / QUALITIES].into(),
                    quality: (skill % QUALITIES).to_string(),
                    chords: SHARES[skill % QUALITIES] as u32,
                    known: (estimate.trials > 0).then_some(Known {
                        estimate,
                        lost: (then.right - estimate.right).max(0.0),
                        nights: (day.floor() - estimate.last_day.floor()) as u32,
                    }),
                }
            })
            .collect();
        let proposals = next(&wanted, &BTreeSet::new(), 3);
        let number = |item: &underfoot::journal::next::Proposal| {
            let degree = DEGREE_WORDS
                .iter()
                .position(|word| *word == item.degree)
                .expect("a degree");
            degree * QUALITIES + item.quality.parse::<usize>().expect("a number")
        };
        self.skills = proposals.iter().map(number).collect();
    }

    fn hear(&mut self, trial: &Trial, right: bool) {
        self.estimator.learn(trial, right);
    }
}

/// How many takes until every skill is sure.
fn takes_until_sure(model: Model, seed: u64, teacher: &mut dyn Teacher) -> u32 {
    let mut student = Student::new(model, seed);
    let mut dice = Dice(seed ^ 0x77);
    for take in 0..MOST {
        let day = f64::from(take / TAKES) + 0.01 * f64::from(take % TAKES);
        if take % TAKES == 0 {
            student.sleep();
        }
        let is_sure = |skill: usize| student.true_share(skill, day, TEMPO_QPM) >= SURE;
        if (0..SKILLS).all(is_sure) {
            return take;
        }
        teacher.begin(day);
        let (key, place) = (1 + dice.below(7) as usize, 1 + dice.below(4) as usize);
        for number in 0..NOTES {
            let skill = teacher.choose(number, &mut dice);
            let note = Note {
                day: day + 0.0002 * f64::from(number),
                skill,
                key,
                place,
                tempo_qpm: TEMPO_QPM,
            };
            let right = student.play(&note);
            teacher.hear(&trial(skill, note.day, [key, place, 0]), right);
        }
    }
    MOST
}

#[test]
fn proposals_get_there_sooner_than_the_ladder() {
    let asked = std::env::var("UNDERFOOT_PLAYERS").ok();
    let asked: Option<u64> = asked.and_then(|count| count.parse().ok());
    let players = asked.unwrap_or(PLAYERS);
    let firsts: &[u64] = if asked.is_some() { &[0, NEW] } else { &[0] };
    let both = |model| firsts.iter().map(move |first| (model, *first));
    for (model, first) in [Model::Activation, Model::Tracing]
        .into_iter()
        .flat_map(both)
    {
        let (mut never, mut ladder_never) = (0, 0);
        let mut ratios: Vec<f64> = (first..first + players)
            .map(|seed| {
                let mut proposals = Proposals {
                    estimator: Estimator::new(),
                    skills: Vec::new(),
                };
                let ours = takes_until_sure(model, seed, &mut proposals);
                let ladder = takes_until_sure(model, seed, &mut Ladder::default());
                // Who never arrives counts as one who did in the end: for the ladder that is in its favour.
                never += u32::from(ours == MOST);
                ladder_never += u32::from(ladder == MOST);
                f64::from(ours) / f64::from(ladder)
            })
            .collect();
        ratios.sort_by(f64::total_cmp);
        let at = |share: f64| ratios[(share * (ratios.len() - 1) as f64).round() as usize];
        println!(
            "{model:?} from {first}: {never} of {players} not there after {MOST} takes, by the ladder {ladder_never}; median {:.2}, from {:.2} (tenth) to {:.2} (ninetieth)",
            at(0.5),
            at(0.1),
            at(0.9)
        );
        // A tenth of them, of a few one, may be players whom nothing brings there.
        assert!(
            at(0.5) <= 0.7 && u64::from(never) <= (players / 10).max(1),
            "{model:?}: {}, {never} of {players} never",
            at(0.5)
        );
    }
}
