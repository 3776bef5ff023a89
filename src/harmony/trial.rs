//! What a measurement changes to see what a rule or a weight is worth. As built in, nothing.

use super::rule::{Rule, Ruled};
use super::weights::Weights;

/// A rule left out, weights set otherwise. Nobody plays with it: it is there so that what each rule and each weight rests on
/// can be counted again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Trial {
    /// The rule that stays silent; what comes after it speaks, at last the key's own notes.
    pub without: Option<Rule>,
    /// What the search for the local key goes by.
    pub weights: Weights,
}

/// A change that there is not.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" (known: without=RULE, and a weight=NUMBER with one digit after the point, of {names})", names = Weights::NAMES.join(", "))]
pub struct TrialError(String);

impl Trial {
    /// Nothing is changed.
    pub const NOTHING: Trial = Trial {
        without: None,
        weights: Weights::BY_THEORY,
    };

    /// Makes one change: `without=to minor`, `change=6.5`.
    ///
    /// # Errors
    /// When there is no such rule or weight, or the number is none.
    pub fn with(mut self, change: &str) -> Result<Trial, TrialError> {
        let refused = || TrialError(change.to_string());
        let (name, value) = change.split_once('=').ok_or_else(refused)?;
        if name == "without" {
            let rule = Rule::ALL.into_iter().find(|rule| rule.name() == value);
            self.without = Some(rule.ok_or_else(refused)?);
            return Ok(self);
        }
        let points: f64 = value.parse().map_err(|_| refused())?;
        if !(-1000.0..=1000.0).contains(&points) {
            return Err(refused());
        }
        *self.weights.named(name).ok_or_else(refused)? = (points * 10.0).round() as i32;
        Ok(self)
    }

    /// The first rule that speaks and is not left out.
    pub(super) fn first<const N: usize>(&self, rules: [Ruled; N]) -> Ruled {
        let mut speaking = rules.into_iter().flatten();
        speaking.find(|(_, rule)| Some(*rule) != self.without)
    }
}
