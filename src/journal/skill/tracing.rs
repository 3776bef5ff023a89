//! Knowledge tracing: a skill is known or it is not, with slips and lucky guesses (A. Corbett, J. Anderson, User Modeling and
//! User-Adapted Interaction 4, 1995); from session to session it may be forgotten, the less the more there were. It sees at
//! once what comes all at once.

use super::estimate::PAUSE_DAYS;

/// What is known before the first note, and the chances of learning it with a note, of slipping, of guessing right, of
/// forgetting it in the first night: about the middle of what is usual in the literature.
const KNOWN: f64 = 0.3;
const LEARN: f64 = 0.04;
const SLIP: f64 = 0.06;
const GUESS: f64 = 0.35;
const FORGET: f64 = 0.05;

/// One skill.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tracing {
    known: f64,
    sessions: f64,
    last_day: Option<f64>,
}

impl Tracing {
    pub(super) fn new() -> Tracing {
        Tracing {
            known: KNOWN,
            sessions: 1.0,
            last_day: None,
        }
    }

    fn known_on(&self, day: f64) -> f64 {
        let passed = self.last_day.map_or(0.0, |last| (day - last).max(0.0));
        match passed >= PAUSE_DAYS {
            true => self.known * (1.0 - FORGET / self.sessions).powf(passed),
            false => self.known,
        }
    }

    /// The chance that the next note is right.
    pub(super) fn chance(&self, day: f64) -> f64 {
        let known = self.known_on(day);
        known * (1.0 - SLIP) + (1.0 - known) * GUESS
    }

    /// How likely it is known, and how often its notes are right where it is and where it is not.
    pub(super) fn parts(&self, day: f64) -> (f64, (f64, f64)) {
        (self.known_on(day), (1.0 - SLIP, GUESS))
    }

    /// Takes in how it went.
    pub(super) fn learn(&mut self, day: f64, right: bool) {
        let known = self.known_on(day);
        let (if_known, if_not) = match right {
            true => (1.0 - SLIP, GUESS),
            false => (SLIP, 1.0 - GUESS),
        };
        let now = known * if_known / (known * if_known + (1.0 - known) * if_not);
        self.known = now + (1.0 - now) * LEARN;
        if self.last_day.is_some_and(|last| day - last >= PAUSE_DAYS) {
            self.sessions += 1.0;
        }
        self.last_day = Some(self.last_day.map_or(day, |last| last.max(day)));
    }
}
