//! Words over the staff that mean something: ways through the form, feel, silence.

use crate::chart::Feel;
use crate::harmony::Harmony;
use crate::sheet::lead::Act;

/// What words over the staff say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Said {
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
pub(super) fn said(words: &str) -> Said {
    if words.len() > 80 {
        return Said::Nothing;
    }
    if words.parse() == Ok(Harmony::Silence) {
        return Said::Silence;
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
        return Said::DaCapo(act);
    }
    if let Some(act) = jump(["dalsegno", "ds"]) {
        return Said::DalSegno(act);
    }
    match letters.as_str() {
        "fine" => Said::Fine,
        "coda" => Said::Coda,
        "tocoda" | "alcoda" => Said::ToCoda,
        "segno" => Said::Segno,
        _ => feel(words).map_or(Said::Nothing, Said::Feel),
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
            ("D.C.", Said::DaCapo(act(false, false))),
            ("D. C. al Fine", Said::DaCapo(act(false, true))),
            ("Da Capo al Coda", Said::DaCapo(act(true, false))),
            ("D.S. al Coda", Said::DalSegno(act(true, false))),
            ("Dal Segno", Said::DalSegno(act(false, false))),
            ("D.S. (no repeats)", Said::DalSegno(act(false, false))),
            ("To Coda", Said::ToCoda),
            ("CODA", Said::Coda),
            ("Fine", Said::Fine),
            ("NO CHORD", Said::Silence),
            ("n.c.", Said::Silence),
            ("Medium Swing", Said::Feel(Feel::Swing)),
            ("Bossa nova", Said::Feel(Feel::Bossa)),
            ("Dsus here", Said::Nothing),
            ("Refrain:", Said::Nothing),
            ("Finely", Said::Nothing),
        ];
        for (words, wanted) in cases {
            assert_eq!(said(words), wanted, "{words}");
        }
    }
}
