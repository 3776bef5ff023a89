//! Made-up learners on the ladders, by readiness alone: whether anybody is stuck, how long it takes, and whether there is a stage
//! that nobody needs. The learners are ours, a model without a source: a skill for each thing that a stage asks for (degrees,
//! places, strings, positions, orders, keys, what is hidden), each with a rate of its own. They forget from day to day, slip, stand
//! still for a while, and every fourth lacks a skill: it begins at nothing and grows at a fifth of the rate. They are judged
//! by the rule of the box: two choruses running with nine notes of ten right and no chord missed in both; after two rough ones they
//! go to the easier stage for a while, as it is offered.

use super::sets::shipped;
use crate::support::dice::Dice;
use std::collections::{BTreeMap, BTreeSet};
use underfoot::drill::{Advance, Direction, Drill, Order, PageHelp, Phase, Stage, StringRule};

/// Learners, chords of a chorus, choruses that are played in a take of ten minutes, one a day.
const LEARNERS: u64 = 50;
const CHORDS: usize = 16;
const PASSES_A_TAKE: u32 = 12;
/// Who needs more choruses than this for a stage is stuck.
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
    if stage.answer_phrase {
        asked.insert("repeating by ear".to_string());
    }
    if stage.is_open_choice() {
        asked.insert("choosing".to_string());
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

/// One thing that is learnt.
struct Skill {
    known: f64,
    /// How much of what lacks is learnt each time.
    rate: f64,
    /// Where it stands still, and how often it is practised there in vain.
    plateau: (f64, u32),
    best: f64,
    practised: u32,
    today: bool,
}

/// One learner.
struct Learner {
    skills: BTreeMap<String, Skill>,
    dice: Dice,
    /// How often a note fails that is known.
    slips: f64,
    /// Days after which half of what may be lost of a new skill is lost.
    keeps_days: f64,
    quickness: f64,
    /// The skill that is lacking, by its number among those that are met, and how much of the rate is left.
    lacks: Option<(usize, f64)>,
    choruses: u32,
}

/// How a chorus went, by the rule of the box.
#[derive(Clone, Copy, PartialEq)]
enum Went {
    Clean,
    Fair,
    Rough,
}

impl Learner {
    fn new(seed: u64) -> Learner {
        let mut dice = Dice(seed);
        let mut between = |low: f64, high: f64| low + (high - low) * dice.unit();
        let (slips, keeps_days) = (between(0.01, 0.05), between(3.0, 12.0));
        let quickness = between(0.5, 1.5);
        let lacks = seed
            .is_multiple_of(4)
            .then(|| (between(0.0, 25.0) as usize, 0.2));
        Learner {
            skills: BTreeMap::new(),
            dice,
            slips,
            keeps_days,
            quickness,
            lacks,
            choruses: 0,
        }
    }

    fn chance(&mut self) -> f64 {
        self.dice.unit()
    }

    /// How likely a note is right where all this is asked; what is new is half known, for better or worse.
    fn sure(&mut self, asked: &BTreeSet<String>) -> f64 {
        let mut sure = 1.0 - self.slips;
        for what in asked {
            if !self.skills.contains_key(what) {
                let lacking = self
                    .lacks
                    .filter(|(number, _)| *number == self.skills.len());
                let share = lacking.map_or(1.0, |(_, share)| share);
                let known = if lacking.is_some() {
                    0.0
                } else {
                    0.2 + 0.6 * self.chance()
                };
                let stands = self.chance() < 0.3;
                let plateau = (
                    0.5 + 0.4 * self.chance(),
                    if stands {
                        5 + (20.0 * self.chance()) as u32
                    } else {
                        0
                    },
                );
                let skill = Skill {
                    known,
                    rate: share * self.quickness * (0.05 + 0.2 * self.chance()),
                    plateau,
                    best: known,
                    practised: 0,
                    today: false,
                };
                self.skills.insert(what.clone(), skill);
            }
            sure *= 1.0 - 0.3 * (1.0 - self.skills[what].known);
        }
        sure
    }

    /// Plays a chorus of so many notes a chord: how it went, and the chords that were missed. All that it asks for is learnt a
    /// little; at the end of the day what was not practised is forgotten a little.
    fn plays(&mut self, asked: &BTreeSet<String>, notes: usize) -> (Went, Vec<usize>) {
        let sure = self.sure(asked);
        let (mut right, mut missed) = (0, Vec::new());
        for chord in 0..CHORDS {
            let here = (0..notes).filter(|_| self.chance() < sure).count();
            right += here;
            if here < notes {
                missed.push(chord);
            }
        }
        for what in asked {
            if let Some(skill) = self.skills.get_mut(what) {
                skill.practised += 1;
                skill.today = true;
                if skill.known >= skill.plateau.0 && skill.plateau.1 > 0 {
                    skill.plateau.1 -= 1;
                } else {
                    skill.known += skill.rate * (1.0 - skill.known);
                }
                skill.best = skill.best.max(skill.known);
            }
        }
        self.choruses += 1;
        if self.choruses.is_multiple_of(PASSES_A_TAKE) {
            self.sleeps();
        }
        let all = CHORDS * notes;
        let went = match () {
            _ if 10 * right >= 9 * all => Went::Clean,
            _ if 10 * right < 7 * all => Went::Rough,
            _ => Went::Fair,
        };
        (went, missed)
    }

    /// A day goes by. What was practised often is kept longer; half of the best that was known stays.
    fn sleeps(&mut self) {
        for skill in self.skills.values_mut() {
            if !std::mem::take(&mut skill.today) {
                let days = self.keeps_days * (1.0 + f64::from(skill.practised) / 8.0);
                let floor = skill.best / 2.0;
                skill.known = floor + (skill.known - floor).max(0.0) * 0.5_f64.powf(1.0 / days);
            }
        }
    }

    /// Choruses until a stage is secure, those in the easier one among them. And whether it was needed: whoever plays its first
    /// choruses clean could have gone on.
    fn goes_through(&mut self, drill: &Drill, index: usize, seed: u64) -> (u32, bool) {
        let stage = &drill.stages[index];
        let (mut running, mut needed, mut played) = (Vec::new(), false, 0);
        for pass in 0..STUCK {
            if stage.pulse && stage.cycle.phase(pass) == Phase::Listen {
                continue;
            }
            let went = self.plays(&asked(stage, pass, seed), notes_of(stage, pass, seed));
            played += 1;
            needed |= went.0 != Went::Clean;
            running.push(went);
            let [.., (before, missed), (now, again)] = &running[..] else {
                continue;
            };
            let (before, now) = (*before, *now);
            let both = missed.iter().any(|chord| again.contains(chord));
            let had_its_passes = pass + 1 >= stage.passes;
            match (before, now) {
                (Went::Clean, Went::Clean) if had_its_passes && !both => return (played, needed),
                (Went::Rough, Went::Rough) => {
                    running.clear();
                    played += self.goes_back(drill, index, seed);
                }
                _ => {}
            }
        }
        (STUCK, true)
    }

    /// A while in the easier stage: as often as it has passes.
    fn goes_back(&mut self, drill: &Drill, index: usize, seed: u64) -> u32 {
        let Some(easier) = drill.easier(index).map(|easier| &drill.stages[easier]) else {
            return 0;
        };
        for pass in 0..easier.passes {
            self.plays(&asked(easier, pass, seed), notes_of(easier, pass, seed));
        }
        easier.passes
    }
}

/// Notes over a chord.
fn notes_of(stage: &Stage, pass: u32, seed: u64) -> usize {
    let now = stage.in_turn(stage.turn_of(pass), seed);
    match now.is_open_choice() {
        true => stage.places_in(pass).len().max(1),
        false => now.figure.len(),
    }
}

fn by_readiness(drill: &Drill) -> Vec<usize> {
    let stages = drill.stages.iter().enumerate();
    stages
        .filter(|(_, stage)| matches!(stage.advance, Advance::Ready | Advance::Right))
        .map(|(index, _)| index)
        .collect()
}

#[test]
fn nobody_is_stuck_on_a_ladder_and_no_stage_is_needed_by_nobody() {
    for (name, drill) in shipped()
        .into_iter()
        .filter(|(name, _)| name.starts_with("ladder"))
    {
        let stages = by_readiness(&drill);
        let (mut takes, mut longest): (Vec<u32>, u32) = (Vec::new(), 0);
        let mut needed = vec![0; drill.stages.len()];
        for seed in 0..LEARNERS {
            let mut learner = Learner::new(seed + 1);
            for index in &stages {
                let (played, was_needed) = learner.goes_through(&drill, *index, seed);
                let stage = &drill.stages[*index].name;
                assert!(played < STUCK, "{name}: learner {seed} is stuck in {stage}");
                longest = longest.max(played);
                needed[*index] += u32::from(was_needed);
            }
            takes.push(learner.choruses.div_ceil(PASSES_A_TAKE));
        }
        takes.sort_unstable();
        let mut by_need: Vec<(u32, &str)> = stages
            .iter()
            .map(|index| (needed[*index], drill.stages[*index].name.as_str()))
            .collect();
        by_need.sort_unstable();
        println!(
            "{name}: {} stages by readiness, takes of {PASSES_A_TAKE} choruses: {} to {}, median {}; the longest stage {longest} choruses; least needed of {LEARNERS}: {:?}",
            stages.len(),
            takes[0],
            takes[takes.len() - 1],
            takes[takes.len() / 2],
            &by_need[..3],
        );
        let by_nobody: Vec<_> = by_need.iter().filter(|(count, _)| *count == 0).collect();
        assert!(by_nobody.is_empty(), "{name}: nobody needs {by_nobody:?}");
    }
}

/// The model can fail: who can never learn a thing is stuck where that is asked for.
#[test]
fn who_never_learns_is_stuck() {
    let all = shipped();
    let (_, drill) = all
        .iter()
        .find(|(name, _)| name.trim_end_matches(".toml") == "ladder")
        .expect("the ladder");
    let mut learner = Learner::new(1);
    learner.lacks = Some((0, 0.0));
    let stuck = |index: &usize| learner.goes_through(drill, *index, 1).0 >= STUCK;
    assert!(by_readiness(drill).iter().any(stuck));
}
