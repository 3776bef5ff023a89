//! Names of sections, and what is none.

use crate::harmony::Harmony;

/// Words that name a section by themselves.
const WORDS: [&str; 18] = [
    "bridge",
    "chorus",
    "coda",
    "ending",
    "head",
    "interlude",
    "intro",
    "introduction",
    "middle",
    "outro",
    "part",
    "refrain",
    "section",
    "solo",
    "solos",
    "tag",
    "vamp",
    "verse",
];
/// Signs that tell a jump.
const JUMPS: [&str; 8] = [
    "d.c",
    "d.s",
    "da capo",
    "dal segno",
    "dc al",
    "ds al",
    "to coda",
    "al fine",
];

/// The name of a section that a line, or what stands before its first bar, says; `None`: it says something else.
pub(super) fn label(text: &str) -> Option<&str> {
    let text = text.trim();
    let inner = [
        ("[", "]"),
        ("(", ")"),
        ("<", ">"),
        ("", ":"),
        ("", ")"),
        ("", "."),
    ];
    let named = inner.iter().find_map(|(before, after)| {
        let inner = text.strip_prefix(before)?.strip_suffix(after)?.trim();
        (!inner.is_empty()).then_some(inner)
    });
    if let Some(name) = named {
        // "[A]:" and "(Bridge)." as well.
        let name = name
            .trim_matches(['[', ']', '(', ')', '<', '>', ':'])
            .trim();
        return is_name(name).then_some(without_word(name));
    }
    let lower = text.to_lowercase();
    let first = lower
        .split(|sign: char| !sign.is_alphabetic())
        .next()
        .unwrap_or_default();
    if WORDS.contains(&first) && text.split_whitespace().count() <= 3 {
        return Some(without_word(text));
    }
    is_letter(text).then_some(text)
}

/// A name at the beginning of a text that is marked as one ("[A]", "(Bridge)", "B:", "C)"), and where what follows it begins.
pub(super) fn marked(text: &str) -> Option<(&str, usize)> {
    let bracket = [('[', ']'), ('(', ')'), ('<', '>')];
    let bracket = bracket.iter().find(|(open, _)| text.starts_with(*open));
    let end = match bracket {
        Some((_, close)) => text.find(*close)? + 1,
        None => {
            text.find([':', ')'])
                .filter(|end| !text[..*end].contains('('))?
                + 1
        }
    };
    let inner = text[..end]
        .trim_matches(['[', ']', '(', ')', '<', '>', ':'])
        .trim();
    // "(Dm7)" is a chord; "(A)" is a name.
    let is_chord = bracket.is_some() && !is_letter(inner) && are_chords(inner);
    let rest = text[end..].trim_start_matches([':', '.']);
    let parted =
        rest.is_empty() || rest.starts_with(char::is_whitespace) || rest.len() < text.len() - end;
    (is_name(inner) && !is_chord && parted).then(|| (without_word(inner), text.len() - rest.len()))
}

/// Whether it is a letter as sections have them: "A", "B2", "A'".
pub(super) fn is_letter(text: &str) -> bool {
    let mut signs = text.chars();
    let letter = signs.next().is_some_and(|sign| sign.is_ascii_uppercase());
    letter && text.len() <= 3 && signs.all(|sign| sign.is_ascii_digit() || sign == '\'')
}

fn is_name(name: &str) -> bool {
    let is_of_name = |sign: char| sign.is_alphanumeric() || " '-_.#&/+".contains(sign);
    !name.is_empty() && name.chars().count() <= 40 && name.chars().all(is_of_name)
}

/// "Section A" is A.
fn without_word(name: &str) -> &str {
    let rest = [
        "Section ", "section ", "SECTION ", "Part ", "part ", "PART ",
    ];
    let rest = rest.iter().find_map(|word| name.strip_prefix(word));
    rest.map_or(name, str::trim)
}

/// Whether a text is nothing but chord symbols and what goes on.
pub(super) fn are_chords(text: &str) -> bool {
    let mut words = text.split_whitespace().peekable();
    words.peek().is_some()
        && words.all(|word| is_hold(word) || word == "%" || word.parse::<Harmony>().is_ok())
}

/// Whether a word is a beat on which the chord goes on.
pub(super) fn is_hold(word: &str) -> bool {
    matches!(
        word,
        "/" | "." | "-" | "_" | "\u{2013}" | "\u{2014}" | "\u{2022}" | "\u{b7}"
    )
}

/// Whether a text tells a jump.
pub(super) fn is_jump(text: &str) -> bool {
    let lower = text.to_lowercase();
    JUMPS.iter().any(|sign| lower.contains(sign))
}

/// A piece of a text for a message.
pub(super) fn short(text: &str) -> String {
    match text.char_indices().nth(30) {
        Some((end, _)) => format!("{}...", &text[..end]),
        None => text.to_string(),
    }
}
