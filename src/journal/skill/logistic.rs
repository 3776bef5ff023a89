//! The logistic state-space model: see the folder.

use super::estimate::{AUTOMATIC, Estimate, PAUSE_DAYS, Trial};

/// What it lies between is told with a chance of 90 %.
const REACH_DEVIATIONS: f64 = 1.645;
/// A skill is called automatic where the lower end of 80 % is: one call in ten would be false if only one were ever made, and
/// fewer are, because the call must stand on several days.
const SURE_DEVIATIONS: f64 = 1.28;

/// A weight, known so well.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Weight {
    mean: f64,
    variance: f64,
}

/// First guesses: mean, variance.
const PLAYER: Weight = guess(0.5, 1.0);
const DEGREE: Weight = guess(0.0, 0.25);
const QUALITY: Weight = guess(0.0, 0.25);
const SKILL: Weight = guess(0.0, 0.5);
const AROUND: Weight = guess(0.0, 0.1);
const TEMPO: Weight = guess(-1.0, 0.5);
const PRACTICE: Weight = guess(0.5, 0.1);
const FORGETTING: Weight = guess(0.7, 0.15);

/// How much a skill's own weight may drift with each note, and with each day that passes.
const DRIFT_A_NOTE: f64 = 0.004;
const DRIFT_A_DAY: f64 = 0.01;
/// After so many days the drift has done what it does.
const DRIFT_DAYS: f64 = 30.0;
/// What is left to mend after each note of a session.
const MENDING: f64 = 0.8;
/// Nobody plays slower.
const SLOWEST_QPM: f64 = 40.0;
/// Tempo counts from here.
const TEMPO_QPM: f64 = 100.0;

const fn guess(mean: f64, variance: f64) -> Weight {
    Weight { mean, variance }
}

#[derive(Debug, Clone, Copy)]
struct Skill {
    own: Weight,
    trials: u32,
    /// Dates on which it was asked for.
    days: u32,
    last_date: i64,
    last_day: f64,
    /// Sessions, this one included.
    sessions: u32,
    /// Days of pause before this session.
    pause_days: f64,
    /// Sessions before this one.
    sessions_before: u32,
    /// Notes of this session.
    notes: u32,
    /// The fastest tempo of its notes.
    fastest_qpm: f64,
}

/// A session as it would begin, or go on, at a moment.
#[derive(Debug, Clone, Copy)]
struct Session {
    pause_days: f64,
    sessions_before: u32,
    notes: u32,
}

impl Skill {
    fn new() -> Skill {
        Skill {
            own: SKILL,
            trials: 0,
            days: 0,
            last_date: i64::MIN,
            last_day: 0.0,
            sessions: 0,
            pause_days: 0.0,
            sessions_before: 0,
            notes: 0,
            fastest_qpm: 0.0,
        }
    }

    fn session(&self, day: f64) -> Session {
        let passed = (day - self.last_day).max(0.0);
        if self.trials > 0 && passed >= PAUSE_DAYS {
            return Session {
                pause_days: passed,
                sessions_before: self.sessions,
                notes: 0,
            };
        }
        Session {
            pause_days: self.pause_days,
            sessions_before: self.sessions_before,
            notes: self.notes,
        }
    }

    /// How much was forgotten, in units of the weight for it.
    fn forgotten(&self, day: f64) -> f64 {
        let session = self.session(day);
        if session.sessions_before == 0 {
            return 0.0;
        }
        let lasts = f64::from(session.sessions_before);
        (1.0 + session.pause_days / lasts).ln() * MENDING.powi(session.notes.min(99) as i32)
    }
}

/// What is thought of one player.
#[derive(Debug, Clone, Default)]
pub(super) struct Logistic {
    player: Option<Weight>,
    degrees: Vec<Weight>,
    qualities: Vec<Weight>,
    skills: Vec<Skill>,
    around: [Vec<Weight>; 3],
    tempo: Option<Weight>,
    practice: Option<Weight>,
    forgetting: Option<Weight>,
}

/// The weights that speak on a note: how much of each, the weight, and where it is kept.
const PARTS: usize = 10;

impl Logistic {
    /// Nothing is known of the player.
    pub(super) fn new() -> Logistic {
        Logistic::default()
    }

    /// The chance that a note is right, before it is known.
    pub(super) fn chance(&self, trial: &Trial) -> f64 {
        let (logit, variance) = self.logit(trial, true);
        moderated(logit, variance)
    }

    /// What is thought of a skill at a moment, at a tempo, wherever it is played.
    pub(super) fn of_skill(&self, trial: &Trial) -> Estimate {
        let (logit, variance) = self.logit(trial, false);
        let skill = self
            .skills
            .get(trial.skill)
            .copied()
            .unwrap_or_else(Skill::new);
        let deviation = variance.sqrt();
        let reach = |times: f64| sigmoid(logit + times * deviation);
        Estimate {
            right: moderated(logit, variance),
            between: (reach(-REACH_DEVIATIONS), reach(REACH_DEVIATIONS)),
            surely: reach(-SURE_DEVIATIONS),
            trials: skill.trials,
            days: skill.days,
            last_day: skill.last_day,
        }
    }

    /// The logit of a skill's notes' being right, and how sure that is (a standard deviation).
    pub(super) fn spread(&self, trial: &Trial) -> (f64, f64) {
        let (logit, variance) = self.logit(trial, false);
        (logit, variance.sqrt())
    }

    /// By how much a key (0), a place (1) or a region (2) is easier than others, on the scale of logits, and how sure that is
    /// (a standard deviation).
    pub(super) fn of_around(&self, kind: usize, number: usize) -> (f64, f64) {
        let known = self.around.get(kind).and_then(|all| all.get(number));
        let weight = known.copied().unwrap_or(AROUND);
        (weight.mean, weight.variance.sqrt())
    }

    /// Up to which tempo a skill's notes are probably right as often as an automatic one's; none where that is slower than
    /// anybody plays.
    pub(super) fn tempo_reached(&self, trial: &Trial) -> Option<f64> {
        let (logit, _) = self.logit(trial, false);
        let slope = self.tempo.unwrap_or(TEMPO).mean.min(-0.05);
        let wanted = (AUTOMATIC / (1.0 - AUTOMATIC)).ln();
        let qpm = trial.tempo_qpm * ((wanted - logit) / slope).exp();
        // Beyond the fastest that was played nothing is known.
        let fastest = self.skills.get(trial.skill)?.fastest_qpm;
        (qpm >= SLOWEST_QPM).then_some(qpm.min(fastest))
    }

    /// Takes in how a note went.
    pub(super) fn learn(&mut self, trial: &Trial, right: bool) {
        self.come_to(trial);
        let parts = self.parts(trial, true);
        let (mut logit, mut variance) = (0.0, 0.0);
        for (amount, weight) in parts {
            logit += amount * weight.mean;
            variance += amount * amount * weight.variance;
        }
        let chance = sigmoid(logit);
        let information = (chance * (1.0 - chance)).max(1e-4);
        let step = (f64::from(u8::from(right)) - chance) / (1.0 + information * variance);
        let shrink = information / (1.0 + information * variance);
        let learned = parts.map(|(amount, weight)| Weight {
            mean: weight.mean + weight.variance * amount * step,
            variance: weight.variance * (1.0 - weight.variance * amount * amount * shrink),
        });
        self.put_back(trial, learned);
        let skill = &mut self.skills[trial.skill];
        skill.trials += 1;
        skill.notes += 1;
        skill.fastest_qpm = skill.fastest_qpm.max(trial.tempo_qpm);
        skill.last_day = skill.last_day.max(trial.day);
        // The player's own tempo of learning changes, too.
        skill.own.variance += DRIFT_A_NOTE;
    }

    /// Makes room for what is new, and lets time pass for the skill.
    fn come_to(&mut self, trial: &Trial) {
        grow(&mut self.degrees, trial.degree, DEGREE);
        grow(&mut self.qualities, trial.quality, QUALITY);
        grow(&mut self.skills, trial.skill, Skill::new());
        for (known, number) in self.around.iter_mut().zip(trial.around) {
            grow(known, number, AROUND);
        }
        let skill = &mut self.skills[trial.skill];
        let passed = trial.day - skill.last_day;
        if skill.trials == 0 || passed >= PAUSE_DAYS {
            let session = skill.session(trial.day);
            (skill.pause_days, skill.sessions_before, skill.notes) =
                (session.pause_days, session.sessions_before, session.notes);
            if skill.trials > 0 {
                skill.own.variance += DRIFT_A_DAY * passed.min(DRIFT_DAYS);
            }
            skill.sessions += 1;
        }
        skill.days += u32::from(trial.date > skill.last_date);
        skill.last_date = skill.last_date.max(trial.date);
    }

    fn logit(&self, trial: &Trial, with_around: bool) -> (f64, f64) {
        let parts = self.parts(trial, with_around);
        let skill = self.skills.get(trial.skill);
        let passed = skill.map_or(0.0, |skill| (trial.day - skill.last_day).max(0.0));
        let drift = if passed >= PAUSE_DAYS && skill.is_some_and(|skill| skill.trials > 0) {
            DRIFT_A_DAY * passed.min(DRIFT_DAYS)
        } else {
            0.0
        };
        parts
            .iter()
            .fold((0.0, drift), |(logit, variance), (amount, weight)| {
                (
                    logit + amount * weight.mean,
                    variance + amount * amount * weight.variance,
                )
            })
    }

    fn parts(&self, trial: &Trial, with_around: bool) -> [(f64, Weight); PARTS] {
        let skill = self
            .skills
            .get(trial.skill)
            .copied()
            .unwrap_or_else(Skill::new);
        let tempo = (trial.tempo_qpm.max(20.0) / TEMPO_QPM).ln();
        let around = |kind: usize| {
            let number = trial.around[kind];
            let known = self.around[kind].get(number).copied().unwrap_or(AROUND);
            (f64::from(u8::from(with_around && number > 0)), known)
        };
        [
            (1.0, self.player.unwrap_or(PLAYER)),
            (
                1.0,
                self.degrees.get(trial.degree).copied().unwrap_or(DEGREE),
            ),
            (
                1.0,
                self.qualities
                    .get(trial.quality)
                    .copied()
                    .unwrap_or(QUALITY),
            ),
            (1.0, skill.own),
            around(0),
            around(1),
            around(2),
            (tempo, self.tempo.unwrap_or(TEMPO)),
            (
                f64::from(skill.trials).ln_1p() / 3.0,
                self.practice.unwrap_or(PRACTICE),
            ),
            (
                -skill.forgotten(trial.day),
                self.forgetting.unwrap_or(FORGETTING),
            ),
        ]
    }

    fn put_back(&mut self, trial: &Trial, learned: [Weight; PARTS]) {
        let [
            player,
            degree,
            quality,
            own,
            key,
            place,
            region,
            tempo,
            practice,
            forgetting,
        ] = learned;
        self.player = Some(player);
        self.degrees[trial.degree] = degree;
        self.qualities[trial.quality] = quality;
        self.skills[trial.skill].own = own;
        for (kind, weight) in [key, place, region].into_iter().enumerate() {
            self.around[kind][trial.around[kind]] = weight;
        }
        (self.tempo, self.practice, self.forgetting) =
            (Some(tempo), Some(practice), Some(forgetting));
    }
}

fn grow<T: Clone>(list: &mut Vec<T>, number: usize, new: T) {
    if list.len() <= number {
        list.resize(number + 1, new);
    }
}

fn sigmoid(logit: f64) -> f64 {
    1.0 / (1.0 + (-logit).exp())
}

/// The mean of a chance whose logit is known only so well (D. MacKay, Neural Computation 4, 1992).
fn moderated(logit: f64, variance: f64) -> f64 {
    sigmoid(logit / (1.0 + std::f64::consts::PI * variance / 8.0).sqrt())
}
