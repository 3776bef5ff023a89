//! How the engine must be told what to say.
//!
//! espeak-ng reads "A flat" with the article ("uh flat") and "Cis" as "kiss"; both are cured here, and a
//! self-test at the start compares what the installed version makes of a table of words. Phonemes go in as
//! `[[...]]`: one unknown character inside would silently swallow the rest of the word, hence the test.

/// The language of a voice, as far as it matters here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Language {
    /// Voices `en`, `en-us`, `en-gb` ...
    English,
    /// Voices `de` ...
    German,
    /// Any other: texts go in as they are.
    Other,
}

impl Language {
    /// The language of a voice by its name.
    pub fn of_voice(voice: &str) -> Language {
        let language = voice.split(['-', '_', '+']).next().unwrap_or_default();
        match language.to_ascii_lowercase().as_str() {
            "en" => Language::English,
            "de" => Language::German,
            _ => Language::Other,
        }
    }
}

/// The text as the engine must get it. What could be taken for markup or for phonemes is left out.
pub fn spoken_form(text: &str, language: Language) -> String {
    let clean: String = text
        .chars()
        .map(|c| match c {
            '[' | ']' | '<' | '>' | '{' | '}' | '\\' => ' ',
            c if c.is_control() => ' ',
            c => c,
        })
        .collect();
    let clean = clean.replace('&', " and ");
    let words: Vec<&str> = clean.split_whitespace().collect();
    let told = words.iter().enumerate().map(|(at, word)| {
        let core = word.trim_matches(|c: char| !c.is_alphanumeric());
        let syllable = (language == Language::English && is_note(&words, at))
            .then(|| syllable(core))
            .flatten();
        let word = match syllable.or_else(|| said(core, language)) {
            Some(other) => word.replacen(core, other, 1),
            None => word.to_string(),
        };
        match word.strip_suffix(',') {
            Some(word) if language != Language::Other => format!("{word} {SHORT_PAUSE}"),
            _ => word,
        }
    });
    told.collect::<Vec<_>>().join(" ")
}

/// Whether the word there stands where our phrases have a note: at the start, after a comma or "over", and
/// followed by what belongs to a note or a chord; behind "in" it is a key. "do it again" is the player's own.
fn is_note(words: &[&str], at: usize) -> bool {
    const BEHIND: [&str; 18] = [
        "flat",
        "sharp",
        "double",
        "minor",
        "major",
        "five",
        "six",
        "seven",
        "nine",
        "eleven",
        "thirteen",
        "half",
        "diminished",
        "augmented",
        "suspended",
        "altered",
        "add",
        "over",
    ];
    let before = at.checked_sub(1).map(|at| words[at]);
    let begins = before.is_none_or(|word| word.ends_with(',') || ["over", "in"].contains(&word));
    let next = words.get(at + 1).map(|word| word.trim_end_matches(','));
    begins && (words[at].ends_with(',') || next.is_none_or(|word| BEHIND.contains(&word)))
}

/// A syllable of solfège so that an English voice says it: "do" would be the one of "to do", "mi" would be "my".
fn syllable(word: &str) -> Option<&'static str> {
    let all = [
        ("do", "doh"),
        ("re", "ray"),
        ("mi", "mee"),
        ("fa", "fah"),
        ("sol", "sohl"),
        ("la", "lah"),
        ("si", "see"),
    ];
    let found = all.iter().find(|(written, _)| *written == word);
    found.map(|(_, said)| *said)
}

/// Stands for a comma: the engine's own pause makes "D, F sharp, A" 320 ms longer than this one, which is time
/// that a cue does not have.
const SHORT_PAUSE: &str = "[[_:]]";

/// The words that an engine says wrongly, and how to get them right.
fn said(word: &str, language: Language) -> Option<&'static str> {
    match (language, word) {
        (Language::English, "A") => Some("[['eI]]"),
        (Language::German, "Cis") => Some("Ziss"),
        (Language::German, "Cisis") => Some("Ziss-iss"),
        (Language::German, "Ces") => Some("Zess"),
        (Language::German, "Ceses") => Some("Zess-ess"),
        (Language::German, "As") => Some("Ass"),
        (Language::German, "Ases") => Some("Ass-ess"),
        (Language::German, "Eses") => Some("Ess-ess"),
        _ => None,
    }
}

/// What an English voice must make of our words: text, and phonemes as `espeak-ng -x` writes them, without
/// stress and spaces. Read from version 1.51; letters agree with what it says for
/// `<say-as interpret-as="characters">`.
pub const SELF_TEST: &[(&str, &str)] = &[
    ("A", "eI"),
    ("B", "bi:"),
    ("C", "si:"),
    ("D", "di:"),
    ("E", "i:"),
    ("F", "Ef"),
    ("G", "dZi:"),
    ("A flat", "eIflat"),
    ("B flat", "bi:flat"),
    ("F sharp", "EfSA@p"),
    ("A minor", "eImaIn3"),
    ("A seven", "eIsEv@n"),
    ("next, section A", "nEkstsEkS@neI"),
    ("D, F sharp, A", "di:EfSA@peI"),
    ("do", "doU"),
    ("re", "reI"),
    ("mi", "mi:"),
    ("fa", "fA:"),
    ("sol", "soUl"),
    ("la", "lA:"),
    ("si flat", "si:flat"),
];

/// Phonemes without stress marks, pauses and spaces, for comparison.
pub fn bare(phonemes: &str) -> String {
    let pauses = ["_!", "_|", "_:"];
    let spoken = pauses
        .iter()
        .fold(phonemes.to_string(), |text, pause| text.replace(pause, ""));
    spoken
        .chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, '\'' | ',' | '_' | '|'))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_put_as_the_engine_needs_them() {
        use Language::{English, German, Other};
        let cases = [
            (English, "A flat", "[['eI]] flat"),
            (English, "D, F sharp, A", "D [[_:]] F sharp [[_:]] [['eI]]"),
            (
                English,
                "A, third, under the root",
                "[['eI]] [[_:]] third [[_:]] under the root",
            ),
            (English, "as a rule", "as a rule"),
            // The syllables of solfège, and English words of the same letters.
            (English, "do, mi flat", "doh [[_:]] mee flat"),
            (
                English,
                "si flat half diminished",
                "see flat half diminished",
            ),
            (
                English,
                "re major over fa sharp",
                "ray major over fah sharp",
            ),
            (
                English,
                "sol, root, under the root",
                "sohl [[_:]] root [[_:]] under the root",
            ),
            (English, "do it as la does", "do it as la does"),
            (English, "in fa, now you", "in fah [[_:]] now you"),
            (English, "in la flat minor", "in lah flat minor"),
            (English, "section A'", "section [['eI]]'"),
            (English, "B flat", "B flat"),
            (English, "[[x]] <b>1 & 2</b>", "x b 1 and 2 /b"),
            (English, "one\ntwo\0", "one two"),
            (German, "Cis Moll", "Ziss Moll"),
            (German, "As", "Ass"),
            (German, "C, As", "C [[_:]] Ass"),
            (Other, "A, B", "A, B"),
        ];
        for (language, text, told) in cases {
            assert_eq!(spoken_form(text, language), told);
        }
    }

    #[test]
    fn voices_have_a_language() {
        for (voice, language) in [
            ("en", Language::English),
            ("en-us+f3", Language::English),
            ("de", Language::German),
            ("it", Language::Other),
            ("", Language::Other),
            ("mb-en1", Language::Other),
        ] {
            assert_eq!(Language::of_voice(voice), language, "{voice}");
        }
    }
}
