//! Words over the staff that mean something: ways through the form, feel, silence.

use crate::chart::Feel;
use crate::harmony::Harmony;
use crate::sheet::lead::Act;

/// What words over the staff say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum WordsSaid {
    DaCapo(Act),
    DalSegno(Act),
    ToCoda,
    Coda,
    Segno,
    Fine,
    Silence,
    Feel(Feel),
    Nothing,
}

/// Reads words over the staff.
pub(super) fn said(words: &str) -> WordsSaid {
    if words.len() > 80 {
        return WordsSaid::Nothing;
    }
    if words.parse() == Ok(Harmony::Silence) {
        return WordsSaid::Silence;
    }
    let letters: String = words
        .chars()
        .filter(|sign| sign.is_alphabetic())
        .collect::<String>()
        .to_lowercase();
    let jump = |starts: [&str; 2]| {
        let rest = starts
            .iter()
            .find_map(|start| letters.strip_prefix(start))?;
        let usual = ["", "al", "fine", "coda", "to", "con", "no", "senza", "e"];
        let known = rest.is_empty() || usual[1..].iter().any(|start| rest.starts_with(start));
        known.then(|| Act {
            to_coda: rest.contains("coda"),
            to_fine: rest.contains("fine"),
            ..Act::default()
        })
    };
    if let Some(act) = jump(["dacapo", "dc"]) {
        return WordsSaid::DaCapo(act);
    }
    if let Some(act) = jump(["dalsegno", "ds"]) {
        return WordsSaid::DalSegno(act);
    }
    match letters.as_str() {
        "fine" => WordsSaid::Fine,
        "coda" => WordsSaid::Coda,
        "tocoda" | "alcoda" => WordsSaid::ToCoda,
        "segno" => WordsSaid::Segno,
        _ => feel(words).map_or(WordsSaid::Nothing, WordsSaid::Feel),
    }
}

fn feel(words: &str) -> Option<Feel> {
    let lower = words.to_lowercase();
    let said: Vec<&str> = lower.split(|sign: char| !sign.is_alphabetic()).collect();
    let has = |words: &[&str]| words.iter().any(|word| said.contains(word));
    match () {
        () if has(&["bossa", "samba"]) => Some(Feel::Bossa),
        () if has(&["straight", "even"]) => Some(Feel::Straight),
        () if has(&["waltz"]) => Some(Feel::Waltz),
        () if has(&["ballad"]) => Some(Feel::Ballad),
        () if has(&["shuffle"]) => Some(Feel::Shuffle),
        () if has(&["swing"]) => Some(Feel::Swing),
        () => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_told_apart() {
        let act = |to_coda, to_fine| Act {
            to_coda,
            to_fine,
            ..Act::default()
        };
        let cases = [
            ("D.C.", WordsSaid::DaCapo(act(false, false))),
            ("D. C. al Fine", WordsSaid::DaCapo(act(false, true))),
            ("Da Capo al Coda", WordsSaid::DaCapo(act(true, false))),
            ("D.S. al Coda", WordsSaid::DalSegno(act(true, false))),
            ("Dal Segno", WordsSaid::DalSegno(act(false, false))),
            ("D.S. (no repeats)", WordsSaid::DalSegno(act(false, false))),
            ("To Coda", WordsSaid::ToCoda),
            ("CODA", WordsSaid::Coda),
            ("Fine", WordsSaid::Fine),
            ("NO CHORD", WordsSaid::Silence),
            ("n.c.", WordsSaid::Silence),
            ("Medium Swing", WordsSaid::Feel(Feel::Swing)),
            ("Slow Shuffle", WordsSaid::Feel(Feel::Shuffle)),
            ("Bossa nova", WordsSaid::Feel(Feel::Bossa)),
            ("Dsus here", WordsSaid::Nothing),
            ("Refrain:", WordsSaid::Nothing),
            ("Finely", WordsSaid::Nothing),
        ];
        for (words, wanted) in cases {
            assert_eq!(said(words), wanted, "{words}");
        }
    }
}
