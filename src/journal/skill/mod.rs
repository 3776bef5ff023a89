//! How sure a player is of a skill: one degree over one quality of chord.
//!
//! # Which model?
//!
//! A logistic state-space model, filtered one note at a time: the logit of a note's being right is a sum of weights that are
//! known only so well and may drift (dynamic logistic regression: T. McCormick, A. Raftery, D. Madigan, R. Burd, Biometrics
//! 68, 2012; the step is that of the extended Kalman filter, L. Fahrmeir, JASA 87, 1992; with one variance a weight, as in
//! M. Glickman's rating of players, Applied Statistics 48, 1999). The weights are those of the player, the degree, the
//! quality, the skill itself, key, place and region, and the tempo; to them come
//!
//! * practice: the logarithm of how often the skill was asked for (performance factors: P. Pavlik, H. Cen, K. Koedinger,
//!   AIED 2009),
//! * forgetting: a power of the time since (J. Wixted, E. Ebbesen, Psychological Science 2, 1991), slower with each session in
//!   which the skill was practised (the spacing of DAS3H: B. Choffin and others, EDM 2019), and mended within a few notes.
//!
//! How much practice and time do is learned for each player, like all the rest. Beside it stands a second model, for what comes
//! all at once (`tracing`); what both say is averaged by how well each foretold this player's notes so far (dynamic model
//! averaging: A. Raftery, M. Kárný, P. Ettler, Technometrics 52, 2010). What is told of a skill (how sure, up to which tempo,
//! automatic or not) is the first model's, which knows how sure it is; between what it likely lies is told by both (`range`).
//!
//! # How good is it?
//!
//! Chance itself costs something that nobody can foretell. On new players an oracle that knows each true chance has a Brier
//! score 8 % (logistic), 17 % (tracing) and 14 % (activation) under that of an exponential average, so 15 % less than the average
//! cannot be had on two of the three, and this has 3 to 5 % less (4 to 23 % less than the share so far). Tried on the development
//! players and dropped, for nothing changes: the exponential average as a third model to be averaged (0.0 points), a drift of a
//! quarter, and of two and a half and seven times as much (+0.3, -0.4 and -1.4 points on logistic players, 0.1 on the others).
//!
//! The values of the first guesses are ours: chosen by theory and round, and tried on players that were made up
//! (`tests/house/journal/skills.rs`). Of the three models that make them up two are near: one is logistic, the other is knowledge
//! tracing with its values drawn around those of the second model here. Only the third, the activation of memory, is a stranger
//! to both. What is claimed is measured on players that were never looked at before, too.

mod estimate;
mod logistic;
mod range;
mod tracing;
pub(super) mod words;

pub use estimate::{AUTOMATIC, Estimate, Trial};

use logistic::Logistic;
use range::{Bell, quantile};
use tracing::Tracing;

/// How much of what the models foretold counts after each further note.
const REMEMBERED: f64 = 0.995;

/// How far what is played where a skill is known, and where it is not, may lie from what is usual: a standard deviation on the scale
/// of logits.
const USUAL_SPREAD: f64 = 0.5;

/// What is thought of one player.
#[derive(Debug, Clone)]
pub struct Estimator {
    logistic: Logistic,
    tracing: Vec<Tracing>,
    /// How much better the first model foretold than the second: a difference of logarithms of chances.
    ahead: f64,
}

impl Default for Estimator {
    fn default() -> Estimator {
        Estimator::new()
    }
}

impl Estimator {
    /// Nothing is known of the player.
    pub fn new() -> Estimator {
        Estimator {
            logistic: Logistic::new(),
            tracing: Vec::new(),
            ahead: 1.0,
        }
    }

    /// The chance that a note is right, before it is known.
    pub fn chance(&self, trial: &Trial) -> f64 {
        let (one, other) = self.chances(trial);
        let weight = 1.0 / (1.0 + (-self.ahead).exp());
        weight * one + (1.0 - weight) * other
    }

    fn chances(&self, trial: &Trial) -> (f64, f64) {
        let tracing = self
            .tracing
            .get(trial.skill)
            .copied()
            .unwrap_or_else(Tracing::new);
        (self.logistic.chance(trial), tracing.chance(trial.day))
    }

    /// Takes in how a note went.
    pub fn learn(&mut self, trial: &Trial, right: bool) {
        let (one, other) = self.chances(trial);
        let of = |chance: f64| if right { chance } else { 1.0 - chance }.max(1e-6);
        self.ahead = REMEMBERED * self.ahead + (of(one) / of(other)).ln();
        self.logistic.learn(trial, right);
        if self.tracing.len() <= trial.skill {
            self.tracing.resize(trial.skill + 1, Tracing::new());
        }
        self.tracing[trial.skill].learn(trial.day, right);
    }

    /// What is thought of a skill at a moment, at a tempo, wherever it is played.
    pub fn of_skill(&self, trial: &Trial) -> Estimate {
        let bells = self.bells(trial);
        Estimate {
            between: (quantile(&bells, 0.05), quantile(&bells, 0.95)),
            ..self.logistic.of_skill(trial)
        }
    }

    /// What both models think of a skill: the first one, the second where it is known, and where it is not.
    fn bells(&self, trial: &Trial) -> [Bell; 3] {
        let weight = 1.0 / (1.0 + (-self.ahead).exp());
        let tracing = self.tracing.get(trial.skill).copied();
        let (known, shares) = tracing.unwrap_or_else(Tracing::new).parts(trial.day);
        let (logit, deviation) = self.logistic.spread(trial);
        let narrow = |part: f64, share: f64| Bell {
            weight: (1.0 - weight) * part,
            logit: (share / (1.0 - share)).ln(),
            deviation: USUAL_SPREAD,
        };
        let first = Bell {
            weight,
            logit,
            deviation,
        };
        [
            first,
            narrow(known, shares.0),
            narrow(1.0 - known, shares.1),
        ]
    }

    /// By how much a key (0), a place (1) or a region (2) is easier than others, on the scale of logits, and how sure that is
    /// (a standard deviation).
    pub fn of_around(&self, kind: usize, number: usize) -> (f64, f64) {
        self.logistic.of_around(kind, number)
    }

    /// Up to which tempo a skill's notes are probably right as often as an automatic one's; none where that is slower than
    /// anybody plays.
    pub fn tempo_reached(&self, trial: &Trial) -> Option<f64> {
        self.logistic.tempo_reached(trial)
    }
}
