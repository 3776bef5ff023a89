//! Headings: `Key: G minor`, several on a line, and what is written without its word.

use super::draft::Draft;
use super::labels::short;
use crate::chart::Feel;
use crate::fault::nearest_hint;
use crate::harmony::KeyDeclaration;
use crate::time::Meter;

/// The words of headings, and what they say.
const WORDS: [(&str, Word); 21] = [
    ("title", Word::Title),
    ("tune", Word::Title),
    ("song", Word::Title),
    ("name", Word::Title),
    ("key", Word::Key),
    ("time", Word::Time),
    ("meter", Word::Time),
    ("metre", Word::Time),
    ("time signature", Word::Time),
    ("tempo", Word::Tempo),
    ("bpm", Word::Tempo),
    ("feel", Word::Feel),
    ("style", Word::Feel),
    ("groove", Word::Feel),
    ("form", Word::Form),
    ("order", Word::Form),
    ("pickup", Word::Pickup),
    ("composer", Word::Other),
    ("by", Word::Other),
    ("date", Word::Other),
    ("notes", Word::Other),
];

const FEELS: [(&str, Feel); 9] = [
    ("swing", Feel::Swing),
    ("straight", Feel::Straight),
    ("even", Feel::Straight),
    ("latin", Feel::Bossa),
    ("bossa nova", Feel::Bossa),
    ("bossa", Feel::Bossa),
    ("waltz", Feel::Waltz),
    ("ballad", Feel::Ballad),
    ("shuffle", Feel::Shuffle),
];

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Word {
    Title,
    Key,
    Time,
    Tempo,
    Feel,
    Form,
    Pickup,
    /// Stands in no chart.
    Other,
}

/// Reads a line as headings; `false`: it is none.
pub(super) fn read(draft: &mut Draft<'_, '_>, at: usize, line: &str) -> bool {
    let places = places(line);
    if places.first().is_none_or(|(from, ..)| *from > 0) {
        return bare(draft, line) || unknown(draft, at, line);
    }
    for (index, (_, word, from)) in places.iter().enumerate() {
        let to = places.get(index + 1).map_or(line.len(), |(next, ..)| *next);
        let value = &line[*from..to];
        let start = from + value.len() - value.trim_start().len();
        take(draft, at + start, *word, tidy(*word, value.trim()));
    }
    true
}

/// Without what parts it from the next heading; in an order a comma says more.
fn tidy(word: Word, value: &str) -> &str {
    match word {
        Word::Form | Word::Title | Word::Other => value,
        _ => value.trim_end_matches([',', ';']).trim(),
    }
}

/// Where headings begin in a line: the word's place, what it says, and where its value begins. A title goes on to the end.
fn places(line: &str) -> Vec<(usize, Word, usize)> {
    let lower = line.to_ascii_lowercase();
    let mut places = Vec::new();
    for (sign, _) in line.match_indices([':', '=']) {
        let before = &lower[..sign].trim_end();
        let ends = |(word, _): &&(&str, Word)| {
            let rest = before.strip_suffix(word);
            rest.is_some_and(|rest| rest.is_empty() || rest.ends_with([' ', '\t', ',', ';']))
        };
        let found = WORDS.iter().filter(ends).max_by_key(|(word, _)| word.len());
        if let Some((word, what)) = found {
            places.push((before.len() - word.len(), *what, sign + 1));
        }
        if places
            .last()
            .is_some_and(|(_, word, _)| matches!(word, Word::Title | Word::Other))
        {
            break;
        }
    }
    places
}

fn take(draft: &mut Draft<'_, '_>, at: usize, word: Word, value: &str) {
    if value.is_empty() && word != Word::Other {
        return draft
            .reader
            .fault(at, "this heading says nothing (such as Key: G minor)");
    }
    match word {
        Word::Title => draft.title = Some(value.to_string()),
        Word::Other => {}
        Word::Form => draft.form = Some((at, value.to_string())),
        Word::Pickup => draft.pickup = Some((at, value.to_string())),
        Word::Key => match value.parse::<KeyDeclaration>() {
            Ok(key) => draft.set_key(key),
            Err(error) => draft.reader.fault(at, error.to_string()),
        },
        Word::Time => match value.parse::<Meter>() {
            Ok(meter) => draft.set_meter(meter),
            Err(error) => draft
                .reader
                .fault(at, format!("\"{}\" is no time: {error}", short(value))),
        },
        Word::Tempo => match tempo(value).filter(|qpm| (30.0..=300.0).contains(qpm)) {
            Some(qpm) => draft.tempo_qpm = Some(qpm),
            None => draft.reader.fault(
                at,
                "the tempo is a number from 30 to 300 quarter notes a minute",
            ),
        },
        Word::Feel => match feel(value) {
            Some(feel) => draft.feel = Some(feel),
            None => {
                let words = FEELS.iter().map(|(word, _)| *word);
                let hint = nearest_hint(value, words);
                let rule = format!(
                    "\"{}\" is no feel: swing, straight, bossa, waltz, ballad or shuffle{hint}",
                    short(value)
                );
                draft.reader.fault(at, rule);
            }
        },
    }
}

/// What stands without its word: `3/4`, `120 bpm`, `medium swing`.
fn bare(draft: &mut Draft<'_, '_>, line: &str) -> bool {
    if let Ok(meter) = line.parse::<Meter>() {
        draft.set_meter(meter);
        return true;
    }
    let lower = line.to_lowercase();
    let tells_tempo = lower.contains("bpm") || lower.contains('=');
    if let Some(qpm) = tempo(line).filter(|qpm| tells_tempo && (30.0..=300.0).contains(qpm)) {
        draft.tempo_qpm = Some(qpm);
        return true;
    }
    // A first line is the title, whatever it says.
    if (draft.title.is_some() || draft.has_begun())
        && let Some(feel) = feel(line)
    {
        draft.feel = Some(feel);
        return true;
    }
    false
}

/// A heading of a word that is not known.
fn unknown(draft: &mut Draft<'_, '_>, at: usize, line: &str) -> bool {
    let Some((word, value)) = line.split_once(':') else {
        return false;
    };
    let is_word = !word.is_empty() && word.chars().all(char::is_alphabetic) && word.len() > 2;
    if !is_word || value.trim().is_empty() {
        return false;
    }
    let known = WORDS.iter().map(|(word, _)| *word);
    let hint = nearest_hint(&word.to_lowercase(), known);
    let rule = format!(
        "there is no heading \"{}\"{hint}; headings are title, key, time, tempo, feel, form and pickup",
        short(word)
    );
    draft.reader.fault(at, rule);
    true
}

/// The number in a tempo; a dotted or other note value before it is not taken for quarters.
fn tempo(text: &str) -> Option<f64> {
    let is_of_number = |sign: char| sign.is_ascii_digit() || sign == '.';
    let mut numbers = text
        .split(|sign| !is_of_number(sign))
        .filter(|word| word.chars().any(|sign| sign.is_ascii_digit()));
    let number = numbers.next()?.trim_matches('.').parse().ok()?;
    numbers.next().is_none().then_some(number)
}

/// A feel by its word, or by a word among at most three.
fn feel(text: &str) -> Option<Feel> {
    let lower = text.to_lowercase();
    let few = lower.split_whitespace().count() <= 3;
    let has = |word: &str| lower == word || few && lower.split([' ', '-']).any(|part| part == word);
    FEELS
        .iter()
        .find(|(word, _)| has(word))
        .map(|(_, feel)| *feel)
}
