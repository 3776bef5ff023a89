//! What there is to tell, as data, and a few words for it.

use super::dates::monday_of;
use crate::journal::skill::Estimate;
use crate::journal::skill::words::{DUE, SAYS, not_played_for, why};

/// What there is to tell of a player.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    pub player: String,
    /// The day it is told for.
    pub today: String,
    /// The first day it looks back to; none: all of it.
    pub since: Option<String>,
    pub takes: u32,
    pub seconds: f64,
    /// Days with a take.
    pub days: u32,
    /// Notes that were asked for and heard clearly, and those of them that were right.
    pub asked: u32,
    pub right: u32,
    /// Week by week, the first one first.
    pub weeks: Vec<Week>,
    /// The skills, the least sure first.
    pub skills: Vec<SkillReport>,
    /// Keys, places and regions that are clearly harder or easier than others: which kind, its name, by how many in a hundred.
    pub around: Vec<(&'static str, String, f64)>,
    pub variety: Variety,
}

impl Report {
    /// How long was practised since Monday.
    pub fn seconds_this_week(&self) -> f64 {
        let monday = self.today.parse().map(|day| monday_of(day).to_string());
        let last = self.weeks.last();
        let this = last.filter(|week| monday.is_ok_and(|monday| week.begins == monday));
        this.map_or(0.0, |week| week.seconds)
    }
}

/// A week.
#[derive(Debug, Clone, PartialEq)]
pub struct Week {
    /// Its Monday.
    pub begins: String,
    pub seconds: f64,
    pub asked: u32,
    pub right: u32,
}

/// A skill: a degree over a quality of chord.
#[derive(Debug, Clone, PartialEq)]
pub struct SkillReport {
    pub degree: String,
    pub quality: String,
    pub estimate: Estimate,
    /// Of the right notes the share that stood in time.
    pub in_time: f64,
    /// Up to which tempo, in quarter notes a minute, it is probably right nine times of ten.
    pub tempo_reached: Option<f64>,
    /// Days since it was practised ...
    pub days_ago: f64,
    /// ... and midnights since then, where the player is.
    pub nights: u32,
    /// How much of it was forgotten since.
    pub lost: f64,
    /// Week by week: asked for, and right; as the weeks of the report.
    pub weeks: Vec<(u32, u32)>,
}

impl SkillReport {
    /// What it is called: "b3 over minor 7".
    pub fn name(&self) -> String {
        format!("{} over {}", self.degree, self.quality)
    }

    /// How it stands.
    pub fn state(&self) -> State {
        match () {
            _ if self.estimate.is_automatic() => State::Automatic,
            // What is known so badly is no verdict.
            _ if self.estimate.trials < SAYS => State::New,
            _ if self.lost >= DUE => State::Due,
            _ => State::Learning,
        }
    }

    /// The same in words.
    pub(super) fn state_words(&self) -> String {
        match self.state() {
            State::Automatic => "automatic".to_string(),
            State::New => "few notes yet".to_string(),
            State::Due => not_played_for(self.nights),
            State::Learning => "not sure yet".to_string(),
        }
    }

    /// Why it stands among the weak spots, in words; none where it does not.
    pub(super) fn weakness(&self) -> Option<String> {
        match self.state() {
            State::Automatic | State::New => None,
            State::Due | State::Learning => Some(why(&self.estimate, self.lost, self.nights)),
        }
    }
}

/// How a skill stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    Automatic,
    /// Too few notes to say anything.
    New,
    /// Some of it may be forgotten.
    Due,
    Learning,
}

impl State {
    /// The word for programs.
    pub fn name(self) -> &'static str {
        match self {
            State::Automatic => "automatic",
            State::New => "new",
            State::Due => "due",
            State::Learning => "learning",
        }
    }
}

/// What was chosen where the stage leaves the choice.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Variety {
    /// Passes.
    pub passes: u32,
    pub notes: u32,
    /// How many different degrees, octaves, positions, half beats and beginnings a pass had, on the average.
    pub degrees: f64,
    pub octaves: f64,
    pub positions: f64,
    pub beats: f64,
    pub orders: f64,
    /// The share of notes off the beat.
    pub off_beats: f64,
    /// The share of notes in a phrase that had come before in the pass.
    pub repeated: f64,
    /// Each degree that a pass began with, and how often, the most frequent first.
    pub first: Vec<(String, u32)>,
}

/// One player among several.
#[derive(Debug, Clone, PartialEq)]
pub struct PlayerLine {
    pub name: String,
    pub last_day: String,
    pub takes: u32,
    pub seconds: f64,
    /// In the last four weeks.
    pub recent_seconds: f64,
    pub recent_asked: u32,
    pub recent_right: u32,
    /// The weakest skills of the last quarter of a year, with notes and right ones.
    pub weakest: Vec<(String, u32, u32)>,
}

impl PlayerLine {
    /// The weakest skills, in words.
    pub(super) fn weakest_words(&self) -> String {
        let word =
            |(name, asked, right): &(String, u32, u32)| format!("{name} ({right} of {asked})");
        let words: Vec<String> = self.weakest.iter().map(word).collect();
        words.join(", ")
    }
}

/// Minutes and hours as people say them.
pub(super) fn time_words(seconds: f64) -> String {
    let minutes = (seconds / 60.0).round() as u64;
    match minutes {
        0..=89 => format!("{minutes} min"),
        _ => format!("{} h {:02} min", minutes / 60, minutes % 60),
    }
}

/// Text as it may stand in a page, an attribute included.
pub(super) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for sign in text.chars() {
        match sign {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other => out.push(other),
        }
    }
    out
}
