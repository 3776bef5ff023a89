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

/// What would be easier, after rough choruses.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Easier {
    Slower,
    SlowerOrStageBefore,
    LongerChords,
    StageBefore,
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
    /// Each with its chord.
    verdicts: Vec<(Verdict, Option<ChordSymbol>)>,
    offset_ms: f64,
    chosen: Option<Choice>,
    reentries: Vec<Reentry>,
    easier: Option<Easier>,
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
    /// Where the stage leaves the choice: the newest pass of it.
    Chosen(&'a Choice),
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
    pub(crate) easier: Option<Easier>,
}

impl Summary {
    /// Adds the verdicts on a pass.
    pub(crate) fn add(&mut self, record: &PassRecord, judged: &Judged) {
        self.turn_to(record);
        self.offset_ms = judged.offset_ms;
        let room = MOST.saturating_sub(self.verdicts.len());
        let with_chord = |verdict: &Verdict| {
            let target = record.target_of(verdict);
            (
                verdict.clone(),
                target.and_then(|target| target.around.chord.clone()),
            )
        };
        let new = judged.verdicts.iter().take(room).map(with_chord);
        self.verdicts.extend(new);
    }

    /// Takes what was chosen in the newest pass.
    pub(crate) fn choose(&mut self, record: &PassRecord, choice: Choice) {
        self.turn_to(record);
        self.chosen = Some(choice);
    }

    /// Adds where the player was when the band came back.
    pub(crate) fn come_back(&mut self, record: &PassRecord, reentries: &[Reentry]) {
        self.turn_to(record);
        let room = MOST.saturating_sub(self.reentries.len());
        self.reentries.extend(reentries.iter().take(room));
    }

    /// Offers something easier at the end of the round.
    pub(crate) fn offer(&mut self, record: &PassRecord, easier: Easier) {
        self.turn_to(record);
        self.easier = Some(easier);
    }

    /// A better chorus: nothing easier is in place.
    pub(crate) fn withdraw_offer(&mut self) {
        self.easier = None;
    }

    /// Forgets the rounds before that of a pass.
    fn turn_to(&mut self, record: &PassRecord) {
        if !self.is_of(&record.stage, record.round) {
            *self = Summary {
                of: Some((record.stage.clone(), record.round)),
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
            Some(choice) => RoundPlayed::Chosen(choice),
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
        let verdicts = || self.verdicts.iter().map(|(verdict, _)| verdict);
        let is_other = |verdict: &&Verdict| verdict.outcome == Outcome::Other;
        let missed = self.verdicts.iter().filter(|(v, _)| v.is_missed());
        let places = missed.filter_map(|(v, chord)| Some((v.want?.degree, chord.as_ref())));
        let missed = ranked(places, is_same_place);
        NotesPlayed {
            missed: missed.into_iter().map(|(place, _)| place).collect(),
            is_clear: verdicts().any(Verdict::is_clear),
            others: verdicts().filter(is_other).count(),
            time: self.time_habit(),
            easier: self.easier,
        }
    }

    fn time_habit(&self) -> Option<TimeHabit> {
        let right = self.verdicts.iter().map(|(verdict, _)| verdict);
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
mod tests {
    use super::*;
    use crate::judging::around::Around;
    use crate::judging::pass_record::{PassKey, Target};
    use crate::judging::verdict::{NoteName, Wanted};
    use crate::plan::standing::Loop;
    use crate::time::{Frame, Tick};

    /// A pass of one target a symbol, a root each.
    fn record(stage: &str, round: u32, symbols: &[&str]) -> PassRecord {
        let target = |(index, symbol): (usize, &&str)| Target {
            wanted: wanted(index),
            tick: Tick(index as i64),
            bar: None,
            section: String::new(),
            around: Around {
                chord: symbol.parse().ok(),
                ..Around::default()
            },
        };
        PassRecord {
            key: PassKey {
                take: 1,
                origin: Tick(0),
                stage: 0,
                pass: 0,
            },
            tune: (String::new(), None),
            stage: stage.to_string(),
            pass: 1,
            round,
            sung: false,
            looping: Loop::Form,
            as_asked: true,
            whole: true,
            targets: symbols.iter().enumerate().map(target).collect(),
            spans: Vec::new(),
            returns: Vec::new(),
            begins: Frame(0),
            ends: Some(Frame(1)),
        }
    }

    fn name(degree: Degree) -> NoteName {
        let root = "C".parse().expect("a note");
        let pitch = degree.above(root);
        NoteName { degree, pitch }
    }

    fn wanted(chord: usize) -> Wanted {
        Wanted {
            chord,
            name: name(Degree::new(1, 0)),
            midi: 48,
            fixed: false,
            at_ms: 1_000.0 * chord as f64,
            at_last_ms: 1_000.0 * chord as f64,
            on_change: true,
            beat_ms: 500.0,
            until_ms: 1_000.0 * (chord + 1) as f64,
            set: 1,
            names: std::array::from_fn(|_| name(Degree::new(1, 0))),
        }
    }

    fn verdict(target: usize, outcome: Outcome, timing: Timing) -> Verdict {
        Verdict {
            target: (outcome != Outcome::Other).then_some(target),
            want: Some(name(Degree::new(1, 0))),
            timing: Some(timing),
            ..Verdict::blank(target, 1_000.0 * target as f64, outcome)
        }
    }

    #[test]
    fn a_round_is_told_as_what_was_missed_what_came_beside_and_how_it_stood_in_time() {
        use Outcome::*;
        use Timing::*;
        // Verdicts on Gm6 and C7 in turn, the steady offset; what is told.
        type Case<'a> = (
            &'a [(Outcome, Timing)],
            f64,
            &'a [&'a str],
            bool,
            usize,
            Option<TimeHabit>,
        );
        #[rustfmt::skip]
        let cases: &[Case<'_>] = &[
            (&[(Right, InTime), (Right, InTime)],                0.0,   &[],            true,  0, None),
            (&[(Right, InTime), (Wrong, InTime)],                9.0,   &["C7"],        true,  0, None),
            (&[(Missed, InTime), (Octave, InTime)],              12.4,  &["Gm6", "C7"], true,  0, Some(TimeHabit::Sits(12.4))),
            (&[(Right, Late), (Right, Late), (Other, InTime)],   0.0,   &[],            true,  1, Some(TimeHabit::OftenLate)),
            (&[(Right, Early), (Right, Early), (Other, InTime)], 12.0,  &[],            true,  1, Some(TimeHabit::OftenEarly)),
            (&[(Right, Late), (Other, Late)],                    0.0,   &[],            true,  1, None),
            (&[(NotJudged, InTime)],                             -15.0, &[],            false, 0, Some(TimeHabit::Sits(-15.0))),
        ];
        for (verdicts, offset_ms, missed, is_clear, others, time) in cases {
            let given = verdicts.iter().enumerate();
            let given = given.map(|(at, (outcome, timing))| verdict(at, *outcome, *timing));
            let judged = Judged {
                verdicts: given.collect(),
                offset_ms: *offset_ms,
                tuning_cents: 0.0,
            };
            let mut summary = Summary::default();
            summary.add(&record("roots", 1, &["Gm6", "C7"]), &judged);
            let told = summary.of_round("roots", 1).map(|round| round.played);
            let Some(RoundPlayed::Notes(notes)) = told else {
                panic!("{verdicts:?}: {told:?}");
            };
            let text = |(_, chord): &(Degree, Option<&ChordSymbol>)| chord.map(|c| c.text.clone());
            let found: Vec<String> = notes.missed.iter().filter_map(text).collect();
            assert_eq!(found, *missed, "{verdicts:?}");
            let rest = (notes.is_clear, notes.others, notes.time);
            assert_eq!(rest, (*is_clear, *others, *time), "{verdicts:?}");
            assert!(summary.of_round("roots", 2).is_none());
            assert!(summary.of_round("thirds", 1).is_none());
        }
    }

    #[test]
    fn a_new_round_forgets_the_one_before() {
        let judged = Judged {
            verdicts: vec![verdict(0, Outcome::Right, Timing::InTime)],
            ..Judged::default()
        };
        let mut summary = Summary::default();
        summary.add(&record("roots", 0, &["C7"]), &judged);
        summary.choose(&record("roots", 1, &[]), Choice::default());
        assert_eq!(summary.of_round("roots", 0), None);
        let told = summary.of_round("roots", 1).map(|round| round.played);
        assert_eq!(told, Some(RoundPlayed::Chosen(&Choice::default())));
    }

    #[test]
    fn coming_back_is_counted_by_how_far_off_it_was() {
        use Reentries::{Heard, Unheard};
        for (beats, told) in [
            (&[][..], None),
            (&[None], Some(Unheard)),
            (&[Some(0), None], Some(Heard(1, vec![]))),
            (&[Some(0), Some(4)], Some(Heard(2, vec![(4, 1)]))),
            (
                &[Some(1), Some(-1), Some(-1), Some(3)],
                Some(Heard(4, vec![(-1, 2), (1, 1), (3, 1)])),
            ),
        ] {
            let reentry = |beats: &Option<i32>| Reentry {
                at_ms: 0.0,
                beats: *beats,
                late_ms: beats.map(f64::from),
            };
            let reentries: Vec<Reentry> = beats.iter().map(reentry).collect();
            let mut summary = Summary::default();
            summary.come_back(&record("traded", 0, &[]), &reentries);
            let round = summary.of_round("traded", 0).expect("a round");
            assert_eq!(round.reentries, told, "{beats:?}");
        }
    }

    #[test]
    fn what_was_missed_most_comes_first_and_a_third_is_a_third() {
        let places = ["3 C", "1 F", "b3 C", "b2 A7", "2 A7", "1 F", "b3 C"];
        let place = |text: &str| {
            let (degree, chord) = text.split_once(' ').expect("a place");
            let degree: Degree = degree.parse().expect("a degree");
            (degree, chord.to_string())
        };
        let told = ranked(places.into_iter().map(place), is_same_place);
        let told: Vec<String> = told
            .iter()
            .map(|((degree, chord), count)| format!("{degree} {chord} {count}"))
            .collect();
        assert_eq!(told, ["3 C 3", "1 F 2", "b2 A7 1", "2 A7 1"]);
    }
}
