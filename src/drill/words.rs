//! The words of a drill: degrees, figure notes, places and note values.

use super::figure::{Approach, DegreeWord, Direction, FIGURE_CHOICES, FigureNote, Place};
use crate::fault::{TableView, Text};
use crate::harmony::Degree;
use crate::time::{PPQ, Tick};
use std::fmt;
use std::str::FromStr;

/// A word of a drill that could not be read: what would be right.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct WordError(pub String);

fn wrong<T>(rule: String) -> Result<T, WordError> {
    Err(WordError(rule))
}

impl FromStr for DegreeWord {
    type Err = WordError;
    fn from_str(text: &str) -> Result<DegreeWord, WordError> {
        let degree: Degree = text
            .parse()
            .map_err(|error: crate::harmony::DegreeError| WordError(error.to_string()))?;
        if text.starts_with(|first: char| first.is_ascii_digit()) {
            Ok(DegreeWord::InScale(degree.number))
        } else {
            Ok(DegreeWord::Absolute(degree))
        }
    }
}

impl fmt::Display for DegreeWord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            DegreeWord::InScale(number) => write!(f, "{number}"),
            DegreeWord::Absolute(degree) => write!(f, "{degree}"),
        }
    }
}

/// How figure notes are written, for messages.
const FIGURE_FORMS: &str = "a degree, alone or followed by below, above or near (\"3\", \"b9 above\", \
                            \"3 or 7 near\", \"semitone below 3\", \"step above 1\")";

impl FromStr for FigureNote {
    type Err = WordError;
    fn from_str(text: &str) -> Result<FigureNote, WordError> {
        let mut words: Vec<&str> = text.split_whitespace().collect();
        let approach = match words.as_slice() {
            ["semitone", "below", ..] => Some(Approach::SemitoneBelow),
            ["step", "above", ..] => Some(Approach::StepAbove),
            _ => None,
        };
        if approach.is_some() {
            words.drain(..2);
        }
        let direction = match words.last() {
            Some(&"below") => Direction::Below,
            Some(&"above") => Direction::Above,
            Some(&"near") => Direction::Near,
            _ => Direction::Free,
        };
        if direction != Direction::Free {
            words.pop();
        }
        let mut degrees = Vec::new();
        for (index, word) in words.iter().enumerate() {
            if index % 2 == 0 {
                degrees.push(word.parse::<DegreeWord>().map_err(|_| {
                    WordError(format!("\"{text}\" is no note of a figure: {FIGURE_FORMS}"))
                })?);
            } else if *word != "or" {
                let hint = match *word {
                    "under" => " (it is called \"below\")".to_string(),
                    word => crate::fault::nearest_hint(word, ["below", "above", "near", "or"]),
                };
                return wrong(format!(
                    "\"{word}\" is no place of a note: {FIGURE_FORMS}{hint}"
                ));
            }
        }
        if words.len().is_multiple_of(2) || degrees.len() > FIGURE_CHOICES {
            return wrong(format!("\"{text}\" is no note of a figure: {FIGURE_FORMS}"));
        }
        let mut note = FigureNote::new(degrees[0], direction);
        note.approach = approach;
        for (slot, other) in note.or.iter_mut().zip(degrees.into_iter().skip(1)) {
            *slot = Some(other);
        }
        Ok(note)
    }
}

/// What follows the number of a beat, and where it lies in twelfths of the beat.
const SYLLABLES: [(&str, i8); 6] = [
    ("", 0),
    ("e", 3),
    ("&", 6),
    ("a", 9),
    ("trip", 4),
    ("let", 8),
];

impl Place {
    /// The place `twelfths` after `beat` (from 1), named as it is counted.
    pub fn counted(beat: u8, twelfths: i8) -> Place {
        let syllable = SYLLABLES.iter().find(|(_, at)| *at == twelfths);
        let text = match syllable {
            Some((word, _)) => format!("{beat}{word}"),
            None => format!("{beat}+{twelfths}/12"),
        };
        Place {
            text,
            beat,
            twelfths,
        }
    }

    /// The push: half a beat (in compound meters an eighth) before the chord.
    pub fn push() -> Place {
        Place {
            text: "before 1".to_string(),
            beat: 1,
            twelfths: -6,
        }
    }

    /// Whether it lies before the chord.
    pub fn is_push(&self) -> bool {
        self.twelfths < 0
    }
}

impl FromStr for Place {
    type Err = WordError;
    /// Reads `1`, `2&`, `3a`, `4e`, the triplets `1trip` and `1let`, and the push `before 1`.
    fn from_str(text: &str) -> Result<Place, WordError> {
        if text == "before 1" {
            return Ok(Place::push());
        }
        let digits = text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit()).len();
        let beat = text[..digits]
            .parse::<u8>()
            .ok()
            .filter(|beat| (1..=64).contains(beat));
        let twelfths = SYLLABLES.iter().find(|(word, _)| *word == &text[digits..]);
        match (beat, twelfths) {
            (Some(beat), Some((_, twelfths))) => Ok(Place {
                text: text.to_string(),
                beat,
                twelfths: *twelfths,
            }),
            _ => wrong(format!(
                "\"{text}\" is no place: a beat from 1 to 64, then nothing, e, & or a (\"1\", \"2&\", \
                 \"3a\"), trip or let, or \"before 1\" for the push"
            )),
        }
    }
}

/// A note value as a fraction of the whole note: `1/8`, `3/16`, `1/12` (an eighth triplet).
///
/// # Errors
/// When it is no fraction, or shorter than 1/32, or longer than four whole notes.
pub fn note_value(text: &str) -> Result<Tick, WordError> {
    let parts = text.split_once('/').and_then(|(above, below)| {
        let number = |part: &str| part.parse::<i64>().ok().filter(|n| (1..=96).contains(n));
        Some((number(above)?, number(below)?))
    });
    let whole = 4 * PPQ;
    match parts {
        Some((above, below))
            if (whole * above) % below == 0 && above * 32 >= below && above <= 4 * below =>
        {
            Ok(Tick(whole * above / below))
        }
        _ => wrong(format!(
            "\"{text}\" is no note value: a fraction of the whole note from 1/32 to 4/1 (\"1/8\", \
             \"3/16\", \"1/12\" for triplets)"
        )),
    }
}

/// The words of a list, faults told where they stand.
pub(super) fn words<T: FromStr<Err = WordError>>(
    view: &TableView<'_, '_>,
    texts: &[Text<'_>],
) -> Vec<T> {
    let read = texts.iter().filter_map(|text| {
        text.value
            .parse()
            .map_err(|error: WordError| view.reader.fault(text.span.start, error.0))
            .ok()
    });
    read.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_counted_as_the_trade_counts() {
        // Counting syllables are common practice, no source.
        for (text, beat, twelfths) in [
            ("1", 1, 0),
            ("2&", 2, 6),
            ("3a", 3, 9),
            ("2e", 2, 3),
            ("1let", 1, 8),
            ("12", 12, 0),
            ("before 1", 1, -6),
        ] {
            let place: Place = text.parse().unwrap();
            assert_eq!((place.beat, place.twelfths), (beat, twelfths), "{text}");
            assert_eq!(place.to_string(), text);
        }
        for text in ["", "0", "&", "1&&", "2 &", "65", "before 2", "300", "1+"] {
            assert!(text.parse::<Place>().is_err(), "{text}");
        }
    }

    #[test]
    fn figure_notes_say_degree_and_where_it_lies() {
        for (text, degree, direction) in [
            ("3", "3", Direction::Free),
            ("3 below", "3", Direction::Below),
            ("b9 above", "b9", Direction::Above),
            ("7 near", "7", Direction::Near),
        ] {
            let note: FigureNote = text.parse().unwrap();
            assert_eq!(note.degree.to_string(), degree);
            assert_eq!(note.direction, direction, "{text}");
        }
        let either: FigureNote = "3 or 7 or b5 near".parse().unwrap();
        let choices: Vec<String> = either.choices().map(|word| word.to_string()).collect();
        assert_eq!(choices, ["3", "7", "b5"]);
        let lead: FigureNote = "semitone below 3".parse().unwrap();
        assert_eq!(lead.approach, Some(Approach::SemitoneBelow));
        for text in [
            "",
            "near",
            "3 beside",
            "3 or",
            "14",
            "semitone below",
            "3 below near",
            "or 3",
        ] {
            assert!(text.parse::<FigureNote>().is_err(), "{text}");
        }
    }

    #[test]
    fn note_values_are_fractions_of_the_whole() {
        for (text, ticks) in [
            ("1/8", 480),
            ("1/4", 960),
            ("3/16", 720),
            ("1/12", 320),
            ("4/1", 15_360),
        ] {
            assert_eq!(note_value(text), Ok(Tick(ticks)), "{text}");
        }
        for text in ["", "8", "1/0", "0/4", "5/1", "1/64", "1/7", "-1/8"] {
            assert!(note_value(text).is_err(), "{text}");
        }
    }
}
