//! What a round of playing comes to, in a few calm words: no scores. Only what helps to hear it next time.

use crate::judging::choice::Choice;
use crate::judging::judge::{Judged, Outcome, Timing, Verdict};
use crate::judging::passes::is_right;
use crate::judging::trading::{self, Reentry};

/// A steady offset is told from here on, in ms.
const SITS_MS: f64 = 10.0;
/// Early or late is told from this share of the right notes on.
const OFTEN: f64 = 0.25;
/// Places that are named at the most.
const NAMED: usize = 2;

/// What is to be told of the passes of a round.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Summary {
    /// Stage and round it tells of.
    of: Option<(String, u32)>,
    verdicts: Vec<(Verdict, String)>,
    offset_ms: f64,
    chosen: Option<Choice>,
    backs: Vec<Reentry>,
    /// What would be easier, after rough choruses.
    easier: Option<&'static str>,
}

/// The most verdicts that are kept for a summary.
const MOST: usize = 2048;

impl Summary {
    /// Adds the verdicts of a pass, each with the symbol of its chord.
    pub(crate) fn add(&mut self, stage: &str, round: u32, judged: &Judged, symbols: Vec<String>) {
        self.turn_to(stage, round);
        self.offset_ms = judged.offset_ms;
        let room = MOST.saturating_sub(self.verdicts.len());
        let new = judged.verdicts.iter().cloned().zip(symbols).take(room);
        self.verdicts.extend(new);
    }

    /// Takes what was chosen in the newest pass.
    pub(crate) fn choose(&mut self, stage: &str, round: u32, choice: Choice) {
        self.turn_to(stage, round);
        self.chosen = Some(choice);
    }

    /// Adds where the player was when the band came back.
    pub(crate) fn come_back(&mut self, stage: &str, round: u32, backs: &[Reentry]) {
        self.turn_to(stage, round);
        let room = MOST.saturating_sub(self.backs.len());
        self.backs.extend(backs.iter().take(room));
    }

    /// Offers something easier at the end of the round.
    pub(crate) fn offer(&mut self, stage: &str, round: u32, easier: &'static str) {
        self.turn_to(stage, round);
        self.easier = Some(easier);
    }

    /// A better chorus: nothing easier is in place.
    pub(crate) fn withdraw_offer(&mut self) {
        self.easier = None;
    }

    /// Forgets the rounds before this one.
    fn turn_to(&mut self, stage: &str, round: u32) {
        let of = Some((stage.to_string(), round));
        if self.of != of {
            *self = Summary {
                of,
                ..Summary::default()
            };
        }
    }

    /// The lines for a stage's round; empty where nothing was heard.
    pub(crate) fn lines(&self, stage: &str, round: u32) -> Vec<String> {
        let about_this = |(name, at): &(String, u32)| name == stage && *at == round;
        if !self.of.as_ref().is_some_and(about_this) {
            return Vec::new();
        }
        // Whether the player kept the place comes first: that was the task.
        let mut lines: Vec<String> = trading::line(&self.backs).into_iter().collect();
        if let Some(choice) = &self.chosen {
            lines.extend(chosen_lines(choice));
            return lines;
        }
        if self.verdicts.is_empty() {
            return lines;
        }
        lines.push(self.notes_line());
        if let Some(easier) = self.easier {
            // Enough is told: what to do about it.
            lines.push(easier.to_string());
            return lines;
        }
        let more = [self.others_line(), self.time_line()];
        let more: Vec<String> = more.into_iter().flatten().collect();
        if !more.is_empty() {
            lines.push(more.join(", "));
        }
        lines
    }

    /// One sentence for the voice, without chord symbols; none where nothing was heard.
    pub(crate) fn sentence(&self, stage: &str, round: u32) -> Option<String> {
        let lines = self.lines(stage, round);
        let first = lines.first()?;
        if let Some(back) = trading::line(&self.backs) {
            return Some(back);
        }
        let again = first
            .split_once("the ")
            .filter(|_| self.again().next().is_some());
        let mut sentence = match again {
            Some((_, places)) => {
                let degree = places.split(" of ").next().unwrap_or_default();
                format!("listen again to the {degree}")
            }
            None => first.clone(),
        };
        if let Some(easier) = self.easier {
            sentence.push_str(", ");
            sentence.push_str(easier);
        } else if let Some(time) = self.time_line() {
            sentence.push_str(", ");
            sentence.push_str(&time.replace(" ms ", " milliseconds "));
        }
        Some(sentence)
    }

    /// The places that were not there.
    fn again(&self) -> impl Iterator<Item = &(Verdict, String)> {
        self.targets().filter(|(verdict, _)| {
            !is_right(verdict) && !verdict.found && verdict.outcome != Outcome::NotJudged
        })
    }

    fn targets(&self) -> impl Iterator<Item = &(Verdict, String)> {
        self.verdicts
            .iter()
            .filter(|(verdict, _)| verdict.target.is_some())
    }

    /// What to listen for again: the places that were not there, the most frequent first.
    fn notes_line(&self) -> String {
        let mut places: Vec<(String, usize)> = Vec::new();
        for (verdict, symbol) in self.again() {
            let degree = verdict.degree.as_deref().unwrap_or_default();
            let place = format!("{} of {symbol}", degree_words(degree));
            match places.iter_mut().find(|(known, _)| *known == place) {
                Some((_, count)) => *count += 1,
                None => places.push((place, 1)),
            }
        }
        // A stable sort: equal ones stay in the order of playing.
        places.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        let named: Vec<&str> = places
            .iter()
            .take(NAMED)
            .map(|(place, _)| place.as_str())
            .collect();
        let is_known = |(verdict, _): &(Verdict, String)| verdict.outcome != Outcome::NotJudged;
        match named.len() {
            0 if !self.targets().any(is_known) => "nothing was heard clearly".to_string(),
            0 => "all of them were there".to_string(),
            _ if places.len() > 2 * NAMED => {
                format!("listen once more, first to the {}", named[0])
            }
            _ => format!("listen again to the {}", named.join(", the ")),
        }
    }

    fn others_line(&self) -> Option<String> {
        let others = self
            .verdicts
            .iter()
            .filter(|(verdict, _)| verdict.outcome == Outcome::Other)
            .count();
        match others {
            0 => None,
            1 => Some("one other note".to_string()),
            2..=12 => Some(format!("{} others", NUMBERS[others - 2])),
            _ => Some("many others".to_string()),
        }
    }

    fn time_line(&self) -> Option<String> {
        let right: Vec<&Verdict> = self
            .targets()
            .map(|(verdict, _)| verdict)
            .filter(|verdict| is_right(verdict))
            .collect();
        let often = |timing: Timing| {
            let count = right
                .iter()
                .filter(|verdict| verdict.timing == Some(timing))
                .count();
            count > 1 && count as f64 >= OFTEN * right.len() as f64
        };
        match self.offset_ms {
            _ if often(Timing::Late) => Some("often late".to_string()),
            _ if often(Timing::Early) => Some("often early".to_string()),
            ms if ms >= SITS_MS => Some(format!("sits {ms:.0} ms behind")),
            ms if ms <= -SITS_MS => Some(format!("sits {:.0} ms ahead", -ms)),
            _ => None,
        }
    }
}

/// What was chosen, counted in words.
fn chosen_lines(choice: &Choice) -> Vec<String> {
    let off = match (choice.off_beats, choice.notes) {
        (0, _) => "all on the beat",
        (off, notes) if 3 * off < notes => "mostly on the beat",
        (off, notes) if 3 * off > 2 * notes => "mostly off the beat",
        _ => "on the beat and off",
    };
    let hand = match choice.positions {
        0 => None,
        1 => Some("in reach of one position".to_string()),
        more => Some(counted(more, "position") + " of the hand"),
    };
    let lines = [
        format!(
            "{}, {}",
            counted(choice.degrees.len(), "degree"),
            counted(choice.octaves, "octave")
        ),
        format!("{}, {off}", counted(choice.orders, "beginning")),
    ];
    lines.into_iter().chain(hand).collect()
}

fn counted(count: usize, what: &str) -> String {
    match count {
        0 => format!("no {what}"),
        1 => format!("one {what}"),
        2..=12 => format!("{} {what}s", NUMBERS[count - 2]),
        _ => format!("many {what}s"),
    }
}

const NUMBERS: [&str; 11] = [
    "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
];

/// A degree ("b3") as a word: digits on the page mean beats only.
fn degree_words(degree: &str) -> String {
    let number = degree.trim_start_matches(['b', '#']);
    let word = match number {
        "1" => "root",
        "2" => "second",
        "3" => "third",
        "4" => "fourth",
        "5" => "fifth",
        "6" => "sixth",
        "7" => "seventh",
        other => other,
    };
    let sign = degree.get(..degree.len() - number.len()).unwrap_or("");
    match (sign, number) {
        ("", _) | ("b", "3" | "7") => word.to_string(),
        ("b", _) => format!("flat {word}"),
        ("#", _) => format!("sharp {word}"),
        ("bb", _) => format!("double-flat {word}"),
        (_, _) => format!("{sign}{word}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn verdict(degree: &str, outcome: Outcome, timing: Timing) -> Verdict {
        Verdict {
            degree: Some(degree.to_string()),
            ..Verdict::plain(0, outcome, Some(timing))
        }
    }

    #[test]
    fn a_round_comes_to_two_calm_lines() {
        use Outcome::*;
        use Timing::*;
        type Case<'a> = (
            &'a [(&'a str, &'a str, Outcome, Timing)],
            f64,
            &'a [&'a str],
        );
        let cases: &[Case<'_>] = &[
            (
                &[("1", "Gm6", Right, InTime)],
                0.0,
                &["all of them were there"],
            ),
            (
                &[("1", "Gm6", Right, InTime), ("b3", "Gm6", Wrong, InTime)],
                0.0,
                &["listen again to the third of Gm6"],
            ),
            (
                &[
                    ("3", "C7", Missed, InTime),
                    ("b3", "Gm6", Wrong, InTime),
                    ("b3", "Gm6", Wrong, InTime),
                ],
                12.4,
                &[
                    "listen again to the third of Gm6, the third of C7",
                    "sits 12 ms behind",
                ],
            ),
            (
                &[
                    ("b2", "A7", Right, Late),
                    ("b2", "A7", Right, Late),
                    ("1", "A7", Other, InTime),
                ],
                0.0,
                &["all of them were there", "one other note, often late"],
            ),
            (
                &[("1", "C", NotJudged, InTime)],
                -15.0,
                &["nothing was heard clearly", "sits 15 ms ahead"],
            ),
        ];
        for (verdicts, offset_ms, told) in cases {
            let judged = Judged {
                verdicts: verdicts
                    .iter()
                    .map(|(degree, _, outcome, timing)| verdict(degree, *outcome, *timing))
                    .collect(),
                offset_ms: *offset_ms,
                tuning_cents: 0.0,
            };
            let symbols = verdicts
                .iter()
                .map(|(_, symbol, _, _)| symbol.to_string())
                .collect();
            let mut summary = Summary::default();
            summary.add("roots", 1, &judged, symbols);
            assert_eq!(summary.lines("roots", 1), *told);
            let sentence = summary.sentence("roots", 1).unwrap_or_default();
            let apart = told[0].split(" of ").next().unwrap_or_default();
            let is_whole = !told[0].starts_with("listen");
            let starts = sentence.starts_with(apart) || is_whole;
            assert!(starts && !sentence.contains("Gm6"), "{sentence}");
            assert!(summary.lines("roots", 2).is_empty() && summary.lines("thirds", 1).is_empty());
        }
    }

    #[test]
    fn a_free_round_is_counted_in_words() {
        let choice = |off_beats: usize| Choice {
            notes: 12,
            degrees: ["1", "b3", "5"].map(String::from).to_vec(),
            keys: vec![48, 60],
            positions: 1,
            octaves: 2,
            beats: 5,
            off_beats,
            orders: 1,
        };
        for (off_beats, how) in [
            (0, "all on the beat"),
            (3, "mostly on the beat"),
            (6, "on the beat and off"),
            (9, "mostly off the beat"),
        ] {
            let mut summary = Summary::default();
            summary.choose("free", 0, choice(off_beats));
            let lines = [
                "three degrees, two octaves".to_string(),
                format!("one beginning, {how}"),
                "in reach of one position".to_string(),
            ];
            assert_eq!(summary.lines("free", 0), lines);
            // Whoever traded hears of that first, and in one sentence of nothing else.
            let back = Reentry {
                at_ms: 0.0,
                beats: Some(-1),
                late_ms: Some(-500.0),
            };
            summary.come_back("free", 0, &[back]);
            assert_eq!(summary.lines("free", 0)[0], "back a beat early");
            assert_eq!(summary.lines("free", 0)[1..], lines);
            let sentence = summary.sentence("free", 0);
            assert_eq!(sentence.as_deref(), Some("back a beat early"));
        }
    }

    #[test]
    fn degrees_are_told_as_words() {
        for (degree, words) in [
            ("1", "root"),
            ("b3", "third"),
            ("b2", "flat second"),
            ("#4", "sharp fourth"),
            ("bb7", "double-flat seventh"),
        ] {
            assert_eq!(degree_words(degree), words);
        }
    }
}
