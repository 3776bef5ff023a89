//! Chord symbols from text, and what is nearest to a text that is none.

use super::grammar::{accidental, parse};
use super::{ChordSymbol, SymbolError};
use std::str::FromStr;

/// The longest symbol that is read, in characters.
const LONGEST: usize = 64;

/// Suffixes to propose for one that cannot be read.
const COMMON: [&str; 30] = [
    "", "m", "7", "maj7", "m7", "m7b5", "dim7", "dim", "aug", "6", "m6", "6/9", "9", "m9", "maj9",
    "11", "m11", "13", "maj13", "sus4", "sus2", "7sus4", "7b9", "7#9", "7#11", "7alt", "7#5",
    "mMaj7", "add9", "5",
];

impl FromStr for ChordSymbol {
    type Err = SymbolError;
    /// Reads a chord symbol of at most 64 characters. Spaces around it are dropped.
    fn from_str(text: &str) -> Result<ChordSymbol, SymbolError> {
        let text = text.trim();
        let chars: Vec<char> = text.chars().take(LONGEST + 1).collect();
        if chars.len() > LONGEST {
            return Err(SymbolError {
                column: LONGEST + 1,
                rule: format!("a chord symbol has at most {LONGEST} characters"),
                nearest: None,
            });
        }
        parse(&chars)
            .map(|chord| ChordSymbol {
                text: text.to_string(),
                ..chord
            })
            .map_err(|(at, rule)| SymbolError {
                column: at + 1,
                rule,
                nearest: nearest_symbol(&chars, at),
            })
    }
}

/// The nearest symbol that can be read: with the first letter mended, a bracket closed or the last
/// character dropped; else the same root with the nearest usual suffix; else the longest beginning.
fn nearest_symbol(chars: &[char], at: usize) -> Option<String> {
    let written = |chars: &[char]| {
        parse(chars)
            .is_ok()
            .then(|| chars.iter().collect::<String>())
    };
    let mut mended = chars.to_vec();
    let first = mended.first_mut()?;
    *first = match first.to_ascii_uppercase() {
        'H' => 'B',
        other => other,
    };
    if let Some(near) = written(&mended) {
        return Some(near);
    }
    let closed: Vec<char> = mended.iter().copied().chain([')']).collect();
    if let Some(near) = written(&closed) {
        return Some(near);
    }
    if at + 1 >= mended.len()
        && let Some(near) = written(&mended[..mended.len() - 1])
    {
        return Some(near);
    }
    let longest = (1..mended.len())
        .rev()
        .find_map(|end| written(&mended[..end]))?;
    let signs = mended[1..]
        .iter()
        .take_while(|sign| accidental(**sign).is_some())
        .count();
    let rest: String = mended[1 + signs..].iter().collect();
    COMMON
        .iter()
        .map(|suffix| (strsim::jaro_winkler(&rest, suffix), suffix))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(score, _)| *score > 0.8)
        .map(|(_, suffix)| {
            let root = mended[..=signs].iter().copied();
            root.chain(suffix.chars()).collect::<Vec<char>>()
        })
        .and_then(|near| written(&near))
        .or(Some(longest))
}
