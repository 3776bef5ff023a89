//! The words and signs of chord symbols.

/// What a word of the grammar means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum SymbolWord {
    Major,
    Triangle,
    Minor,
    Dominant,
    Diminished,
    HalfDiminished,
    Augmented,
    Suspended,
    Altered,
    Add,
    Omit,
}

/// Words in any case; a longer word stands before its own beginning.
const WORDS: [(SymbolWord, &[&str]); 10] = [
    (
        SymbolWord::HalfDiminished,
        &[
            "half-diminished",
            "half diminished",
            "half-dim",
            "half dim",
            "halfdim",
        ],
    ),
    (SymbolWord::Diminished, &["diminished", "dim"]),
    (SymbolWord::Augmented, &["augmented", "aug"]),
    (SymbolWord::Major, &["major", "maj", "ma"]),
    (SymbolWord::Minor, &["minor", "min", "mi"]),
    (SymbolWord::Dominant, &["dominant", "dom"]),
    (SymbolWord::Suspended, &["suspended", "sus"]),
    (SymbolWord::Altered, &["altered", "alt"]),
    (SymbolWord::Add, &["add"]),
    (SymbolWord::Omit, &["omit"]),
];

/// Signs, where the case counts.
const SIGNS: [(SymbolWord, &[&str]); 6] = [
    (SymbolWord::Omit, &["no"]),
    (SymbolWord::Major, &["M", "j"]),
    (SymbolWord::Minor, &["m"]),
    (SymbolWord::Triangle, &["Δ", "∆", "△", "^"]),
    (SymbolWord::Diminished, &["o", "°", "º", "˚"]),
    (SymbolWord::HalfDiminished, &["ø", "Ø", "⌀", "∅", "h"]),
];

/// The word that a text begins with, and its length in characters.
pub(super) fn word_at(text: &[char]) -> Option<(usize, SymbolWord)> {
    // `madd9` is minor with an added ninth, not `ma` and a rest.
    let after_m = text.iter().skip(1).take(3).map(char::to_ascii_lowercase);
    let minor_before_word = text.first() == Some(&'m')
        && matches!(after_m.collect::<String>().as_str(), "add" | "aug" | "alt");
    let words = (!minor_before_word).then(|| find(&WORDS, text, |sign| sign.to_ascii_lowercase()));
    words.flatten().or_else(|| find(&SIGNS, text, |sign| sign))
}

fn find(
    known: &[(SymbolWord, &[&str])],
    text: &[char],
    case: impl Fn(char) -> char,
) -> Option<(usize, SymbolWord)> {
    let length_of = |name: &str| {
        let length = name.chars().count();
        let here = text.get(..length)?.iter().map(|sign| case(*sign));
        here.eq(name.chars()).then_some(length)
    };
    known.iter().find_map(|(word, names)| {
        let length = names.iter().find_map(|name| length_of(name))?;
        Some((length, *word))
    })
}
