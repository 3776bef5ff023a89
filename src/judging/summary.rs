//! What a round of playing comes to: no scores, only what helps to hear it next time.

use crate::harmony::{ChordSymbol, Degree};
use crate::judging::choice::Choice;
use crate::judging::pass_record::PassRecord;
use crate::judging::reentry::Reentry;
use crate::judging::verdict::{Judged, Outcome, Timing, Verdict};
use std::cmp::Reverse;

/// A steady offset is told from here on.
const SITS_MS: f64 = 10.0;
/// Early or late is told from this share of the right notes on.
const OFTEN: f64 = 0.25;
/// The most verdicts, and the most re-entries, that are kept for a summary.
const MOST: usize = 2048;

/// What would be easier, after rough choruses, or harder, after clean ones in a stage that stays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Offered {
    Slower,
    SlowerOrStageBefore,
    LongerChords,
    StageBefore,
    Harder,
}

/// What is offered at the end of a round.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Offer {
    pub(crate) what: Offered,
    /// The other stage as it is called, where there is one.
    pub(crate) stage: Option<String>,
}

/// What became of the rhythm of open choice in a round.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct RhythmPlayed {
    /// The places of the bar where no note was, each once, the most frequent first.
    pub(crate) left_out: Vec<String>,
    /// Notes at a place that are outside the set.
    pub(crate) outside: usize,
}

/// How the right notes of a round stood in time, where that is worth a word.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum TimeHabit {
    OftenLate,
    OftenEarly,
    /// A steady offset in ms; positive is behind.
    Sits(f64),
}

/// What is kept of the newest round.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Summary {
    /// The stage and the round that it is about.
    of: Option<(String, u32)>,
    /// Each with its chord, and with its place in the bar where that is one of a rhythm.
    verdicts: Vec<(Verdict, Option<ChordSymbol>, Option<String>)>,
    offset_ms: f64,
    chosen: Option<Choice>,
    /// How often a chord was begun with each degree, by number, in this stage, all rounds together.
    begun: [usize; 8],
    reentries: Vec<Reentry>,
    offered: Option<Offer>,
}

/// What is to be told of a round.
#[derive(Debug, PartialEq)]
pub(crate) struct RoundSummary<'a> {
    /// None where the band did not come back to the player.
    pub(crate) reentries: Option<Reentries>,
    pub(crate) played: RoundPlayed<'a>,
}

/// Where the player was when the band came back in a round.
#[derive(Debug, PartialEq)]
pub(crate) enum Reentries {
    /// No note told it: the band came back alone.
    Unheard,
    /// So many were heard; how many beats late the others than those in the right place were, and how often: the most
    /// frequent first.
    Heard(usize, Vec<(i32, usize)>),
}

/// What was played in a round.
#[derive(Debug, PartialEq)]
pub(crate) enum RoundPlayed<'a> {
    Nothing,
    /// Where the stage leaves the choice: the newest pass of it, and with which degree, by number, the next one could begin
    /// where this one nearly always began with another.
    Chosen(&'a Choice, Option<u8>),
    Notes(NotesPlayed<'a>),
}

/// What came of the notes that were asked for in a round.
#[derive(Debug, PartialEq)]
pub(crate) struct NotesPlayed<'a> {
    /// The places that were not there, each once, the most frequent first.
    pub(crate) missed: Vec<(Degree, Option<&'a ChordSymbol>)>,
    /// Whether anything could be judged.
    pub(crate) is_clear: bool,
    /// How many notes came beside those that were asked for.
    pub(crate) others: usize,
    pub(crate) time: Option<TimeHabit>,
    pub(crate) offered: Option<&'a Offer>,
    /// What became of a rhythm, where one was asked for; then every note beside it is one of `others`.
    pub(crate) rhythm: Option<RhythmPlayed>,
}

impl Summary {
    /// Adds the verdicts on a pass.
    pub(crate) fn add(&mut self, record: &PassRecord, judged: &Judged) {
        self.turn_to(record);
        self.offset_ms = judged.offset_ms;
        let room = MOST.saturating_sub(self.verdicts.len());
        let with_chord = |verdict: &Verdict| {
            let target = record.target_of(verdict);
            let place = target.filter(|target| target.wanted.choice);
            (
                verdict.clone(),
                target.and_then(|target| target.around.chord.clone()),
                place.map(|target| target.around.place.clone()),
            )
        };
        let new = judged.verdicts.iter().take(room).map(with_chord);
        self.verdicts.extend(new);
    }

    /// Takes what was chosen in the newest pass.
    pub(crate) fn choose(&mut self, record: &PassRecord, choice: Choice) {
        self.turn_to(record);
        for (number, times) in &choice.starts {
            self.begun[usize::from(*number % 8)] += times;
        }
        self.chosen = Some(choice);
    }

    /// With which degree, by number, the next pass of a stage could begin: the one that was least begun with, where nearly every
    /// chord of the newest pass was begun with another.
    pub(crate) fn proposed_start(&self, stage: &str) -> Option<u8> {
        let is_of = self.of.as_ref().is_some_and(|(name, _)| name == stage);
        let choice = self.chosen.as_ref().filter(|_| is_of)?;
        choice.start_instead(&self.begun)
    }

    /// Adds where the player was when the band came back.
    pub(crate) fn come_back(&mut self, record: &PassRecord, reentries: &[Reentry]) {
        self.turn_to(record);
        let room = MOST.saturating_sub(self.reentries.len());
        self.reentries.extend(reentries.iter().take(room));
    }

    /// Offers something easier, or harder, at the end of the round.
    pub(crate) fn offer(&mut self, record: &PassRecord, offered: Offer) {
        self.turn_to(record);
        self.offered = Some(offered);
    }

    /// A better chorus: nothing easier is in place.
    pub(crate) fn withdraw_offer(&mut self) {
        self.offered = None;
    }

    /// Forgets the rounds before that of a pass.
    fn turn_to(&mut self, record: &PassRecord) {
        if !self.is_of(&record.stage, record.round) {
            let is_same = self
                .of
                .as_ref()
                .is_some_and(|(name, _)| *name == record.stage);
            *self = Summary {
                of: Some((record.stage.clone(), record.round)),
                begun: if is_same { self.begun } else { [0; 8] },
                ..Summary::default()
            };
        }
    }

    fn is_of(&self, stage: &str, round: u32) -> bool {
        let is_it = |(name, at): &(String, u32)| name == stage && *at == round;
        self.of.as_ref().is_some_and(is_it)
    }

    /// What is to be told of a stage's round; `None` where it is not the newest that was heard.
    pub(crate) fn of_round(&self, stage: &str, round: u32) -> Option<RoundSummary<'_>> {
        let played = match &self.chosen {
            Some(choice) => RoundPlayed::Chosen(choice, self.proposed_start(stage)),
            None if self.verdicts.is_empty() => RoundPlayed::Nothing,
            None => RoundPlayed::Notes(self.notes_played()),
        };
        self.is_of(stage, round).then_some(RoundSummary {
            reentries: self.reentries(),
            played,
        })
    }

    fn reentries(&self) -> Option<Reentries> {
        let heard = self.reentries.iter().filter_map(|reentry| reentry.beats);
        let off = ranked(heard.clone().filter(|beats| *beats != 0), i32::eq);
        match (self.reentries.len(), heard.count()) {
            (0, _) => None,
            (_, 0) => Some(Reentries::Unheard),
            (_, count) => Some(Reentries::Heard(count, off)),
        }
    }

    fn notes_played(&self) -> NotesPlayed<'_> {
        let verdicts = || self.verdicts.iter().map(|(verdict, ..)| verdict);
        let is_other = |verdict: &&Verdict| verdict.outcome == Outcome::Other;
        let missed = self.verdicts.iter().filter(|(v, ..)| v.is_missed());
        let places = missed.filter_map(|(v, chord, _)| Some((v.want?.degree, chord.as_ref())));
        let missed = ranked(places, is_same_place);
        NotesPlayed {
            missed: missed.into_iter().map(|(place, _)| place).collect(),
            is_clear: verdicts().any(Verdict::is_clear),
            others: verdicts().filter(is_other).count(),
            time: self.time_habit(),
            offered: self.offered.as_ref(),
            rhythm: self.rhythm_played(),
        }
    }

    fn rhythm_played(&self) -> Option<RhythmPlayed> {
        let asked = self.verdicts.iter();
        let asked = asked.filter_map(|(v, _, place)| Some((v, place.as_ref()?)));
        let asked: Vec<(&Verdict, &String)> = asked.filter(|(v, _)| v.target.is_some()).collect();
        let left_out = asked.iter().filter(|(v, _)| v.outcome == Outcome::Missed);
        let left_out = ranked(left_out.map(|(_, place)| *place), |a, b| a == b);
        let outside = asked.iter().filter(|(v, _)| v.outcome == Outcome::Wrong);
        (!asked.is_empty()).then(|| RhythmPlayed {
            left_out: left_out
                .into_iter()
                .map(|(place, _)| place.clone())
                .collect(),
            outside: outside.count(),
        })
    }

    fn time_habit(&self) -> Option<TimeHabit> {
        let right = self.verdicts.iter().map(|(verdict, ..)| verdict);
        let right: Vec<&Verdict> = right.filter(|verdict| verdict.is_right()).collect();
        let often = |timing: Timing| {
            let is_so = |verdict: &&&Verdict| verdict.timing == Some(timing);
            let count = right.iter().filter(is_so).count();
            count > 1 && count as f64 >= OFTEN * right.len() as f64
        };
        match self.offset_ms {
            _ if often(Timing::Late) => Some(TimeHabit::OftenLate),
            _ if often(Timing::Early) => Some(TimeHabit::OftenEarly),
            ms if ms.abs() >= SITS_MS => Some(TimeHabit::Sits(ms)),
            _ => None,
        }
    }
}

/// Whether two places are one to listen for: thirds and sevenths are, minor or major.
fn is_same_place<C: PartialEq>((a, over_a): &(Degree, C), (b, over_b): &(Degree, C)) -> bool {
    let is_plain = |degree: &Degree| matches!((degree.number, degree.alter), (3 | 7, -1 | 0));
    over_a == over_b && (a == b || a.number == b.number && is_plain(a) && is_plain(b))
}

/// Each item once with how often it came, the most frequent first; equal ones stay in the order of playing.
fn ranked<T>(items: impl Iterator<Item = T>, is_same: impl Fn(&T, &T) -> bool) -> Vec<(T, usize)> {
    let mut ranked: Vec<(T, usize)> = Vec::new();
    for item in items {
        match ranked.iter_mut().find(|(known, _)| is_same(known, &item)) {
            Some((_, count)) => *count += 1,
            None => ranked.push((item, 1)),
        }
    }
    ranked.sort_by_key(|(_, count)| Reverse(*count));
    ranked
}

#[cfg(test)]
#[path = "summary_tests.rs"]
mod tests;
