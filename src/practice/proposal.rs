//! What a practice journal has to tell the player: data; words are made of it where it is shown or said.

use crate::drill::Drill;
use crate::harmony::Degree;

/// A skill, as it is told to a player.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProposedSkill {
    pub degree: Degree,
    /// The kind of chord: "half-diminished".
    pub quality: String,
}

/// What could be practised today.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The first skill of its drill.
    pub skill: ProposedSkill,
    /// Midnights since that was practised; none where it never was, or no clock tells.
    pub nights: Option<u32>,
    /// Skills besides.
    pub more: usize,
    pub drill: Box<Drill>,
}

/// How the practice goes, in a few numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct ShortReport {
    /// Practised since Monday.
    pub week_minutes: u32,
    /// Skills that are automatic, and all that were asked for.
    pub automatic: (u32, u32),
    /// What comes next over the chart that is practised.
    pub next: Option<ProposedSkill>,
}
