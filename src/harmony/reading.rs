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
        let chars: Vec<char> = text.chars().take(LONGEST + 1).map(on_the_line).collect();
        if chars.len() > LONGEST {
            return Err(SymbolError {
                column: LONGEST + 1,
                rule: format!("a chord symbol has at most {LONGEST} characters"),
                nearest: None,
            });
        }
        let (before, body) = without_brackets(&chars);
        parse(body)
            .map(|chord| ChordSymbol {
                text: text.to_string(),
                ..chord
            })
            .map_err(|(at, rule)| SymbolError {
                column: before + at + 1,
                rule,
                nearest: nearest_symbol(body, at),
            })
    }
}

/// A chord in brackets, which the band may leave out, without them, and how many characters went before it.
fn without_brackets(chars: &[char]) -> (usize, &[char]) {
    let (['(', inner @ .., ')'] | ['[', inner @ .., ']']) = chars else {
        return (0, chars);
    };
    let blank = |sign: &&char| sign.is_whitespace();
    let before = inner.iter().take_while(blank).count();
    let after = inner[before..].iter().rev().take_while(blank).count();
    (1 + before, &inner[before..inner.len() - after])
}

/// Figures and signs that stand raised, as typeset, brought down to the line.
fn on_the_line(sign: char) -> char {
    const RAISED: [(char, char); 17] = [
        ('⁰', '0'),
        ('¹', '1'),
        ('²', '2'),
        ('³', '3'),
        ('⁴', '4'),
        ('⁵', '5'),
        ('⁶', '6'),
        ('⁷', '7'),
        ('⁸', '8'),
        ('⁹', '9'),
        ('⁺', '+'),
        ('⁻', '-'),
        ('⁽', '('),
        ('⁾', ')'),
        ('ᵇ', 'b'),
        ('ᵐ', 'm'),
        ('ᵒ', 'o'),
    ];
    let found = RAISED.iter().find(|(raised, _)| *raised == sign);
    found.map_or(sign, |(_, plain)| *plain)
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
