//! The one written form of a chord.

use super::{ChordSymbol, Degree};
use std::fmt;

impl fmt::Display for ChordSymbol {
    /// The one ASCII form: `Bbm7b5`, `C13b9`, `F7sus4`, `Dmaj7#11/A`. Reading it gives the same chord.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.root, suffix(&self.degrees))?;
        if self.bass != self.root {
            write!(f, "/{}", self.bass)?;
        }
        Ok(())
    }
}

/// What is left to write of a chord's tones.
struct Rest(Vec<Degree>);

impl Rest {
    fn take(&mut self, number: u8, alter: i8) -> bool {
        let at = self.0.iter().position(|d| *d == Degree::new(number, alter));
        at.map(|at| self.0.remove(at)).is_some()
    }

    fn has(&self, number: u8, alter: i8) -> bool {
        self.0.contains(&Degree::new(number, alter))
    }
}

/// The text after the root.
fn suffix(degrees: &[Degree]) -> String {
    let mut rest = Rest(degrees.to_vec());
    rest.take(1, 0);
    if degrees.len() == 2 && rest.has(5, 0) {
        return "5".to_string();
    }
    let mut tail = String::new();
    let mut out = String::new();
    let suspended = third(&mut rest, &mut out, &mut tail);
    let altered = [(5, -1), (5, 1), (7, -1), (9, -1), (9, 1)];
    if out.is_empty() && suspended.is_empty() && altered.iter().all(|(n, a)| rest.has(*n, *a)) {
        for (number, alter) in altered {
            rest.take(number, alter);
        }
        out.push_str("7alt");
    } else {
        seventh(&mut rest, &mut out);
        out.push_str(&suspended);
        fifth(&mut rest, &mut out, &mut tail);
    }
    let seven = out.contains(['7', '9']) || out.contains("11") || out.contains("13");
    for degree in &rest.0 {
        if *degree == Degree::new(7, 0) {
            out.push_str("(maj7)");
            continue;
        }
        let altered = degree.alter != 0 && matches!(degree.number, 9 | 11 | 13);
        if !altered || !seven || degree.alter.abs() > 1 {
            out.push_str(&format!("(add{degree})"));
        } else {
            out.push_str(&degree.to_string());
        }
    }
    out + &tail
}

/// The third: `m`, nothing, a suspension, or its omission.
fn third(rest: &mut Rest, out: &mut String, tail: &mut String) -> String {
    let suspended = rest.has(2, 0) || rest.has(4, 0);
    if rest.take(3, -1) {
        out.push('m');
        if !suspended {
            return String::new();
        }
        tail.push_str("(add3)");
    } else if rest.take(3, 0) {
        if !suspended {
            return String::new();
        }
        tail.push_str("(add3)");
    }
    match (rest.take(2, 0), rest.take(4, 0)) {
        (true, true) => "sus24".to_string(),
        (true, false) => "sus2".to_string(),
        (false, true) => "sus4".to_string(),
        (false, false) => {
            tail.push_str("(no3)");
            String::new()
        }
    }
}

/// Seventh or sixth with the natural extensions that their figure implies.
fn seventh(rest: &mut Rest, out: &mut String) {
    if rest.has(7, -2) && out == "m" && rest.has(5, -1) {
        rest.take(7, -2);
        rest.take(5, -1);
        *out = "dim7".to_string();
        return;
    }
    if rest.take(7, -1) {
        out.push_str(extension(rest));
    } else if rest.take(7, 0) {
        out.push_str(if out.is_empty() { "maj" } else { "Maj" });
        out.push_str(extension(rest));
    } else if rest.take(6, 0) {
        out.push_str(if rest.take(9, 0) { "6/9" } else { "6" });
    }
}

/// The highest figure whose implied tones are all there. A thirteenth does not imply the eleventh, and an
/// altered tone takes the place of the natural one that its figure implies.
fn extension(rest: &mut Rest) -> &'static str {
    let alone = |rest: &Rest, number| {
        rest.has(number, 0) && rest.0.iter().filter(|d| d.number == number).count() == 1
    };
    let ninth = rest.0.iter().any(|degree| degree.number == 9);
    let figure = if alone(rest, 13) && ninth && !rest.has(11, 0) {
        13
    } else if alone(rest, 11) && ninth && !rest.0.iter().any(|d| d.number == 13) {
        11
    } else if alone(rest, 9) {
        9
    } else {
        return "7";
    };
    if alone(rest, 9) {
        rest.take(9, 0);
    }
    rest.take(figure, 0);
    match figure {
        13 => "13",
        11 => "11",
        _ => "9",
    }
}

/// The fifth: silent where perfect, `b5`, `#5`, `aug`, `dim`, or its omission.
fn fifth(rest: &mut Rest, out: &mut String, tail: &mut String) {
    if out == "dim7" {
        rest.take(5, 0);
        return;
    }
    if rest.take(5, 0) {
        // A fifth beside the altered one: after a seventh that alone would be read as its alteration.
        if rest.has(5, -1) || rest.has(5, 1) {
            tail.push_str("(add5)");
        } else {
            return;
        }
    }
    let (flat, sharp) = (rest.take(5, -1), rest.take(5, 1));
    match (flat, sharp, out.as_str()) {
        (true, false, "m") => *out = "dim".to_string(),
        (false, true, "") => *out = "aug".to_string(),
        (false, false, _) => tail.push_str("(no5)"),
        _ if out.is_empty() => {
            out.push_str(if flat { "(b5)" } else { "" });
            out.push_str(if sharp { "(#5)" } else { "" });
        }
        _ => {
            out.push_str(if flat { "b5" } else { "" });
            out.push_str(if sharp { "#5" } else { "" });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_chord_has_one_form() {
        // Our own form; that it reads back is a property tested with the grammar.
        let cases = [
            ("C-7♭5", "Cm7b5"),
            ("A/5ø", "Am7b5(add5)"),
            ("BbΔ", "Bbmaj7"),
            ("C7(♯9,♭13)/E", "C7#9b13/E"),
            ("Csus(add3)", "Csus4(add3)"),
            ("CM7(13)", "Cmaj7(add13)"),
            ("C°(Δ7)", "CmMaj7b5"),
            ("Cdim7(maj7)", "Cdim7(maj7)"),
            ("Calt", "C7alt"),
            ("C6 9", "C6/9"),
            ("C2", "C(add9)"),
            ("Comit3", "C5"),
            ("C+7b9", "C7#5b9"),
        ];
        for (written, form) in cases {
            let chord: ChordSymbol = written.parse().unwrap();
            assert_eq!(chord.to_string(), form, "{written}");
            let again: ChordSymbol = form.parse().unwrap();
            assert_eq!(again.degrees, chord.degrees, "{written}");
        }
    }
}
