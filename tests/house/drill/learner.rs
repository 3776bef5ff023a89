//! A made-up learner on the ladder, by readiness alone: whether anybody is stuck, how long it takes, and whether there is a
//! stage that nobody needs. The learner is ours, a model without a source: a skill for each thing that a stage asks for
//! (degrees, places, strings, positions, orders, keys, what is hidden), each with a rate of its own, learnt pass by pass.

use super::sets::shipped;
use crate::support::dice::Dice;
use std::collections::{BTreeMap, BTreeSet};
use underfoot::drill::{Advance, Direction, Drill, Order, PageHelp, Phase, Stage, StringRule};

/// Learners, chords of a chorus, passes of a take.
const LEARNERS: u64 = 50;
const CHORDS: usize = 16;
const PASSES_A_TAKE: u32 = 12;
/// Who needs more passes than this for a stage is stuck.
const STUCK: u32 = 400;

/// What a pass of a stage asks of a learner.
fn asked(stage: &Stage, pass: u32, seed: u64) -> BTreeSet<String> {
    let turn = stage.turn_of(pass);
    let now = stage.in_turn(turn, seed);
    let mut asked: BTreeSet<String> = now
        .degrees
        .iter()
        .map(|degree| format!("degree {degree}"))
        .collect();
    asked.extend(
        stage
            .places_at(pass, seed)
            .iter()
            .map(|place| format!("place {place}")),
    );
    asked.insert(format!("{} notes", now.figure.len()));
    asked.extend(now.position.map(|fret| format!("position {fret}")));
    asked.extend(now.octave.map(|octave| format!("octave {octave:?}")));
    match now.string {
        StringRule::Free => {}
        StringRule::EveryPlace => drop(asked.insert(format!("every place {}", turn % 8))),
        other => drop(asked.insert(format!("{other:?}"))),
    }
    if now
        .figure
        .iter()
        .any(|note| note.direction == Direction::Below)
    {
        asked.insert("below".to_string());
    }
    if now.figure.iter().any(|note| note.approach.is_some()) {
        asked.insert("approach".to_string());
    }
    if matches!(
        stage.order,
        Order::EveryOrderAChord | Order::EveryOrderAPass
    ) {
        asked.insert("orders".to_string());
    }
    if stage.order == Order::OnFromTheNearest {
        asked.insert("joining".to_string());
    }
    if now.figure != stage.figure {
        asked.insert("turned figure".to_string());
    }
    if stage.silence {
        asked.insert("silence".to_string());
    }
    if stage.rest_bars > 0 {
        asked.insert("rests".to_string());
    }
    let turning = stage
        .rotation
        .as_ref()
        .map(|rotation| rotation.turning(turn, seed));
    asked.extend(
        turning
            .and_then(|turning| turning.key)
            .map(|key| format!("key {key}")),
    );
    if matches!(stage.help_in(pass).page, PageHelp::Symbol | PageHelp::Off) {
        asked.insert("hidden".to_string());
    }
    asked
}

/// One learner.
struct Learner {
    skills: BTreeMap<String, (f64, f64)>,
    dice: Dice,
}

impl Learner {
    fn new(seed: u64) -> Learner {
        Learner {
            skills: BTreeMap::new(),
            dice: Dice(seed),
        }
    }

    fn chance(&mut self) -> f64 {
        self.dice.unit()
    }

    /// How likely a note is right where all this is asked; what is new is half known, for better or worse.
    fn sure(&mut self, asked: &BTreeSet<String>) -> f64 {
        let mut sure = 1.0;
        for what in asked {
            if !self.skills.contains_key(what) {
                let known = 0.2 + 0.6 * self.chance();
                let rate = 0.08 + 0.25 * self.chance();
                self.skills.insert(what.clone(), (known, rate));
            }
            sure *= 1.0 - 0.3 * (1.0 - self.skills[what].0);
        }
        sure
    }

    /// Whether a chorus is clean: nine notes of ten right. All that it asks for is learnt a little.
    fn plays(&mut self, asked: &BTreeSet<String>) -> bool {
        let sure = self.sure(asked);
        let right = (0..CHORDS).filter(|_| self.chance() < sure).count();
        for what in asked {
            if let Some((known, rate)) = self.skills.get_mut(what) {
                *known += *rate * (1.0 - *known);
            }
        }
        10 * right >= 9 * CHORDS
    }

    /// Passes until a stage is secure: its own number, and two clean choruses running. And whether it was needed: whoever
    /// plays its first choruses clean could have gone on.
    fn goes_through(&mut self, stage: &Stage, seed: u64) -> (u32, bool) {
        let (mut clean, mut needed) = (0, false);
        let mut played = 0;
        for pass in 0..STUCK {
            if stage.pulse && stage.cycle.phase(pass) == Phase::Listen {
                continue;
            }
            let is_clean = self.plays(&asked(stage, pass, seed));
            played += 1;
            clean = if is_clean { clean + 1 } else { 0 };
            needed |= !is_clean;
            let had_its_passes = pass + 1 >= stage.passes;
            if clean >= 2 && had_its_passes {
                return (played, needed);
            }
        }
        (STUCK, true)
    }
}

fn by_readiness(drill: &Drill) -> Vec<&Stage> {
    let stages = drill.stages.iter();
    stages
        .filter(|stage| matches!(stage.advance, Advance::Ready | Advance::Right))
        .collect()
}

#[test]
fn nobody_is_stuck_on_a_ladder_and_no_stage_is_needed_by_nobody() {
    for (name, drill) in shipped()
        .into_iter()
        .filter(|(name, _)| name.starts_with("ladder"))
    {
        let stages = by_readiness(&drill);
        let mut takes: Vec<u32> = Vec::new();
        let mut needed: BTreeMap<&str, u32> = stages
            .iter()
            .map(|stage| (stage.name.as_str(), 0))
            .collect();
        for seed in 0..LEARNERS {
            let mut learner = Learner::new(seed + 1);
            let mut passes = 0;
            for stage in &stages {
                let (played, was_needed) = learner.goes_through(stage, seed);
                assert!(
                    played < STUCK,
                    "{name}: learner {seed} is stuck in {}",
                    stage.name
                );
                passes += played;
                *needed.get_mut(stage.name.as_str()).unwrap() += u32::from(was_needed);
            }
            takes.push(passes.div_ceil(PASSES_A_TAKE));
        }
        takes.sort_unstable();
        let least = needed.iter().min_by_key(|(_, count)| **count).unwrap();
        println!(
            "{name}: {} stages by readiness, takes of {PASSES_A_TAKE} passes: {} to {}, median {}; least needed: {} ({} of {LEARNERS})",
            stages.len(),
            takes[0],
            takes[takes.len() - 1],
            takes[takes.len() / 2],
            least.0,
            least.1
        );
        let by_nobody: Vec<&&str> = needed
            .iter()
            .filter(|(_, count)| **count == 0)
            .map(|(name, _)| name)
            .collect();
        assert!(by_nobody.is_empty(), "{name}: nobody needs {by_nobody:?}");
    }
}
