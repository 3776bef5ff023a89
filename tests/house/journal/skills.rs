//! How well skills are estimated: on players that were made up by three published models, one of which is much as the
//! estimator thinks and two are not.
//!
//! What is foretold is compared with the share of right notes so far and with an exponential average, note by note. Chance
//! itself costs something that nobody can foretell: what an oracle that knows each true chance would pay. So both are told,
//! the score as it is and what of it was avoidable. `tests/outside/skills.py` does the same for a peer.

use crate::support::students::{
    MODELS, Model, Note, Played, QUALITIES, SKILLS, months, months_each,
};
use std::io::Write;
use underfoot::journal::skill::{Estimator, Trial};

const PLAYERS: u64 = 40;

fn trial(note: &Note) -> Trial {
    Trial {
        day: note.day,
        skill: note.skill,
        degree: note.skill / QUALITIES,
        quality: note.skill % QUALITIES,
        around: [note.key, note.place, 0],
        tempo_qpm: note.tempo_qpm,
    }
}

/// A skill at a usual tempo, anywhere.
fn anywhere(skill: usize, day: f64) -> Trial {
    Trial {
        day,
        skill,
        degree: skill / QUALITIES,
        quality: skill % QUALITIES,
        around: [0; 3],
        tempo_qpm: 100.0,
    }
}

/// Means over all notes.
#[derive(Debug, Default, Clone, Copy)]
struct Scores {
    /// G. Brier, Monthly Weather Review 78, 1950.
    brier: f64,
    log_loss: f64,
    /// The mean square of what is foretold less the true chance: the part of Brier's score that can be avoided.
    avoidable: f64,
    notes: f64,
}

impl Scores {
    fn add(&mut self, foretold: f64, played: &Played) {
        let chance = foretold.clamp(0.001, 0.999);
        let came = f64::from(u8::from(played.right));
        self.brier += (chance - came).powi(2);
        self.log_loss -= if played.right {
            chance.ln()
        } else {
            (1.0 - chance).ln()
        };
        self.avoidable += (chance - played.chance).powi(2);
        self.notes += 1.0;
    }

    fn means(self) -> [f64; 3] {
        [self.brier, self.log_loss, self.avoidable].map(|sum| sum / self.notes)
    }
}

/// What was foretold by the estimator, the share so far, the exponential average, and an oracle.
fn foretold(model: Model) -> [Scores; 4] {
    let mut scores = [Scores::default(); 4];
    for seed in 0..PLAYERS {
        let mut estimator = Estimator::new();
        let (mut shares, mut averages) = ([(0.0, 0.0); SKILLS], [0.5; SKILLS]);
        for played in months(model, seed) {
            let (trial, skill) = (trial(&played.note), played.note.skill);
            let (right, asked) = &mut shares[skill];
            scores[0].add(estimator.chance(&trial), &played);
            scores[1].add((*right + 1.0) / (*asked + 2.0), &played);
            scores[2].add(averages[skill], &played);
            scores[3].add(played.chance, &played);
            estimator.learn(&trial, played.right);
            let came = f64::from(u8::from(played.right));
            (*right, *asked) = (*right + came, *asked + 1.0);
            averages[skill] += 0.1 * (came - averages[skill]);
        }
    }
    scores
}

#[test]
fn what_comes_is_foretold_better_than_by_shares() {
    for model in MODELS {
        let [ours, share, average, oracle] = foretold(model).map(Scores::means);
        println!(
            "{model:?}: Brier, log loss, avoidable\n  estimator {ours:.4?}\n  share     {share:.4?}\n  average   {average:.4?}\n  oracle    {oracle:.4?}"
        );
        for simple in [share, average] {
            assert!(ours[0] < simple[0] && ours[1] < simple[1], "{model:?}");
            assert!(ours[2] < 0.85 * simple[2], "{model:?}: {ours:?} {simple:?}");
        }
    }
}

#[test]
fn what_is_foretold_comes_as_often() {
    for model in MODELS {
        let mut bins = [(0.0, 0.0, 0.0); 10];
        for seed in 0..PLAYERS {
            let mut estimator = Estimator::new();
            for played in months(model, seed) {
                let chance = estimator.chance(&trial(&played.note));
                let bin = &mut bins[((chance * 10.0) as usize).min(9)];
                *bin = (
                    bin.0 + chance,
                    bin.1 + f64::from(u8::from(played.right)),
                    bin.2 + 1.0,
                );
                estimator.learn(&trial(&played.note), played.right);
            }
        }
        let all: f64 = bins.iter().map(|bin| bin.2).sum();
        println!("{model:?}: foretold, came, notes");
        let mut off = 0.0;
        for (foretold, came, notes) in bins {
            if notes > 0.0 {
                println!("  {:.3} {:.3} {notes}", foretold / notes, came / notes);
                off += (foretold - came).abs() / all;
            }
        }
        // The expected calibration error (M. Naeini and others, AAAI 2015).
        assert!(off < 0.03, "{model:?}: {off}");
    }
}

#[test]
fn what_is_called_automatic_is() {
    for model in MODELS {
        let (mut calls, mut wrong, mut true_ones, mut found) = (0, 0, 0, 0);
        let mut waits = Vec::new();
        for seed in 100..160 {
            let estimator = std::cell::RefCell::new(Estimator::new());
            let (mut called, mut since) = ([false; SKILLS], [None; SKILLS]);
            months_each(
                model,
                seed,
                &mut |played| {
                    estimator
                        .borrow_mut()
                        .learn(&trial(&played.note), played.right)
                },
                &mut |student, day| {
                    for skill in 0..SKILLS {
                        let is_so = student.true_share(skill, day, 100.0) >= 0.9;
                        if is_so {
                            since[skill].get_or_insert(day);
                        }
                        let is_called = estimator
                            .borrow()
                            .of_skill(&anywhere(skill, day))
                            .is_automatic();
                        if is_called && !called[skill] {
                            called[skill] = true;
                            calls += 1;
                            wrong += u32::from(!is_so);
                            waits.extend(since[skill].map(|since| day - since));
                        }
                        if day >= 89.0 && is_so {
                            true_ones += 1;
                            found += u32::from(called[skill]);
                        }
                    }
                },
            );
        }
        waits.sort_by(f64::total_cmp);
        let wait = waits[waits.len() / 2];
        println!(
            "{model:?}: {calls} calls, {wrong} of them false; {found} of {true_ones} at the end; after {wait:.0} days (median)"
        );
        assert!(
            calls > 50 && f64::from(wrong) < 0.05 * f64::from(calls),
            "{model:?}: {wrong} of {calls}"
        );
        assert!(wait < 30.0, "{model:?}: {wait}");
    }
}

/// The same notes for other programs, where they ask for them.
#[test]
fn the_notes_can_be_had_by_others() {
    let Ok(path) = std::env::var("UNDERFOOT_SKILL_NOTES") else {
        println!("UNDERFOOT_SKILL_NOTES is not set: nothing is written");
        assert_eq!(months(Model::Logistic, 0).len() % 24, 0);
        return;
    };
    let mut out = std::io::BufWriter::new(std::fs::File::create(path).expect("a file"));
    for model in MODELS {
        for seed in 0..PLAYERS {
            let mut estimator = Estimator::new();
            for played in months(model, seed) {
                let note = trial(&played.note);
                let line = serde_json::json!({
                    "model": format!("{model:?}"), "player": seed, "day": played.note.day, "skill": played.note.skill,
                    "chance": played.chance, "right": played.right, "foretold": estimator.chance(&note),
                });
                writeln!(out, "{line}").expect("written");
                estimator.learn(&note, played.right);
            }
        }
    }
}
