//! What is asked of the models, and what they answer.

/// A note that was asked for, by numbers of the caller's own lists.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Trial {
    /// When, in days.
    pub day: f64,
    /// The date of that day where the player is, counted on from any.
    pub date: i64,
    pub skill: usize,
    pub degree: usize,
    pub quality: usize,
    /// Key, place, region; 0 where none is told.
    pub around: [usize; 3],
    /// Quarter notes a minute.
    pub tempo_qpm: f64,
}

/// What is thought of a skill.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The chance that the next note is right.
    pub right: f64,
    /// It likely lies between these: with a chance of 90 % by both models (what lies inside is counted in
    /// `tests/house/journal/skills.rs`).
    pub between: (f64, f64),
    /// With a chance of 90 % it is more than this.
    pub surely: f64,
    /// Notes it rests on.
    pub trials: u32,
    /// Days on which it was practised, by the calendar.
    pub days: u32,
    /// The last of them, in days.
    pub last_day: f64,
}

/// A skill is automatic when its notes are right so often ...
pub const AUTOMATIC: f64 = 0.9;
/// ... very surely, and that rests on so many notes on so many days: whoever got it right within an evening may have lost it by the morning.
const LEAST_TRIALS: u32 = 24;
pub(super) const LEAST_DAYS: u32 = 3;
/// A pause of so many days begins another session: in it something may have been forgotten.
pub(super) const PAUSE_DAYS: f64 = 0.2;

impl Estimate {
    /// Whether the skill is automatic: very probably right, not only today.
    pub fn is_automatic(&self) -> bool {
        self.surely >= AUTOMATIC && self.trials >= LEAST_TRIALS && self.days >= LEAST_DAYS
    }

    /// How wide what it lies between is: how much is not known.
    pub fn spread(&self) -> f64 {
        self.between.1 - self.between.0
    }
}
