//! The grammar of chord symbols: root, then any run of qualities, figures, alterations, additions,
//! omissions and suspensions, in any order, with or without brackets and commas, then a bass.

use super::build::{Build, Kind, TWICE};
use super::vocabulary::{SymbolWord, word_at};
use super::{ChordSymbol, Letter, Pitch};

/// The chord, or the place of the first character that cannot be read and the rule there.
pub(super) fn parse(chars: &[char]) -> Result<ChordSymbol, (usize, String)> {
    let mut reader = SymbolReader {
        chars,
        at: 0,
        build: Build::default(),
        open: Vec::new(),
        adding: false,
    };
    match reader.symbol() {
        Ok((root, bass)) => Ok(ChordSymbol {
            text: String::new(),
            root,
            bass,
            degrees: reader.build.degrees(),
        }),
        Err(rule) => Err((reader.at, rule)),
    }
}

/// The semitones of an accidental sign.
pub(super) fn accidental(sign: char) -> Option<i8> {
    match sign {
        'b' | '♭' => Some(-1),
        '#' | '♯' => Some(1),
        '𝄫' => Some(-2),
        '𝄪' => Some(2),
        _ => None,
    }
}

/// A minus, as typed and as typeset.
fn is_minus(sign: char) -> bool {
    matches!(sign, '-' | '−' | '–')
}

type Parsed<T> = Result<T, String>;

struct SymbolReader<'c> {
    chars: &'c [char],
    at: usize,
    build: Build,
    open: Vec<char>,
    /// After `add`: figures are added tones.
    adding: bool,
}

impl SymbolReader<'_> {
    fn peek(&self, ahead: usize) -> Option<char> {
        self.chars.get(self.at + ahead).copied()
    }

    /// The whole symbol: its root and bass, the tones being in `build`.
    fn symbol(&mut self) -> Parsed<(Pitch, Pitch)> {
        let root = self.note("a chord starts with its root, a capital letter A to G")?;
        let mut bass = root;
        while let Some(sign) = self.peek(0) {
            if sign == '/' && self.bass_follows() {
                if !self.open.is_empty() {
                    return Err("a bracket is open before the bass".to_string());
                }
                self.at += 1;
                self.spaces();
                bass = self.note("a slash is followed by the bass, a capital letter A to G")?;
                self.spaces();
                if self.at < self.chars.len() {
                    return Err("nothing follows the bass".to_string());
                }
                break;
            }
            self.item(sign)?;
        }
        if !self.open.is_empty() {
            return Err("a bracket is not closed".to_string());
        }
        self.build.check()?;
        Ok((root, bass))
    }

    fn spaces(&mut self) {
        while self.peek(0).is_some_and(char::is_whitespace) {
            self.at += 1;
        }
    }

    /// A note name with at most two accidentals.
    fn note(&mut self, rule: &str) -> Parsed<Pitch> {
        let letter = self
            .peek(0)
            .and_then(|sign| Letter::ALL.into_iter().find(|l| l.as_char() == sign))
            .ok_or(rule)?;
        self.at += 1;
        Ok(Pitch::new(letter, self.accidentals()))
    }

    /// A run of accidentals of one kind, at most two semitones.
    fn accidentals(&mut self) -> i8 {
        let mut alter = 0i8;
        while let Some(step) = self.peek(0).and_then(accidental) {
            if alter * step < 0 || (alter + step).abs() > 2 {
                break;
            }
            alter += step;
            self.at += 1;
        }
        alter
    }

    /// Whether the slash here names a bass (and does not only part figures, as in `6/9` or `m/maj7`).
    fn bass_follows(&self) -> bool {
        let next = self.chars[self.at + 1..]
            .iter()
            .find(|sign| !sign.is_whitespace());
        !next.is_some_and(|sign| {
            sign.is_ascii_digit()
                || accidental(*sign).is_some()
                || matches!(sign, '+' | '-' | 'm' | 'M' | 'Δ' | 'a')
        })
    }

    /// One item after the root.
    fn item(&mut self, sign: char) -> Parsed<()> {
        match sign {
            // A period ends a word (`Cmin.`, `C7alt.`) or the symbol.
            '.' if self.ends_word() => self.at += 1,
            ' ' | '\t' | '\u{a0}' | ',' | '/' => {
                // `C/9` adds a tone to the triad.
                self.adding |= sign == '/' && self.build.is_bare();
                self.at += 1;
            }
            '(' | '[' => {
                self.open.push(if sign == '(' { ')' } else { ']' });
                self.at += 1;
            }
            ')' | ']' => {
                if self.open.pop() != Some(sign) {
                    return Err("this bracket was not opened".to_string());
                }
                self.at += 1;
                self.adding = false;
            }
            '+' => return self.plus(),
            _ if is_minus(sign) => return self.minus(),
            _ if sign.is_ascii_digit() => return self.figure(),
            _ => {
                if let Some((length, word)) = word_at(&self.chars[self.at..]) {
                    return self.apply(length, word);
                }
                if accidental(sign).is_some() {
                    return self.alteration();
                }
                return Err(
                    "a quality, a figure, an alteration or a bass is expected here".to_string(),
                );
            }
        }
        Ok(())
    }

    /// Whether a word or the symbol ends before the sign here.
    fn ends_word(&self) -> bool {
        let after_word = self.at > 1 && self.chars[self.at - 1].is_alphabetic();
        after_word && !self.build.is_bare() || self.peek(1).is_none()
    }

    fn apply(&mut self, length: usize, word: SymbolWord) -> Parsed<()> {
        let rule = match word {
            SymbolWord::Minor => self.build.kind(Kind::Minor),
            SymbolWord::Dominant => self.build.kind(Kind::Dominant),
            SymbolWord::Diminished => self.build.kind(Kind::Diminished),
            SymbolWord::HalfDiminished => self.build.kind(Kind::HalfDiminished),
            SymbolWord::Augmented => self.build.raise_fifth(),
            SymbolWord::Altered => self.build.altered(),
            SymbolWord::Major | SymbolWord::Triangle => {
                self.build.major(word == SymbolWord::Triangle)
            }
            SymbolWord::Suspended | SymbolWord::Add | SymbolWord::Omit => Ok(()),
        };
        rule.map_err(|rule: &str| self.told(self.at, self.at + length, rule))?;
        self.at += length;
        self.adding = false;
        match word {
            SymbolWord::Suspended => self.suspension(),
            SymbolWord::Add => self.addition(),
            SymbolWord::Omit => self.omission(),
            // `aug5` says the fifth itself.
            SymbolWord::Augmented if self.peek(0) == Some('5') => {
                self.at += 1;
                Ok(())
            }
            _ => Ok(()),
        }
    }

    /// A number of one or two figures.
    fn number(&mut self) -> Option<u8> {
        let first = self.peek(0)?.to_digit(10)?;
        let second = self.peek(1).and_then(|sign| sign.to_digit(10));
        match second {
            Some(second @ 0..=3) if first == 1 => {
                self.at += 2;
                Some(10 + second as u8)
            }
            _ => {
                self.at += 1;
                Some(first as u8)
            }
        }
    }

    fn figure(&mut self) -> Parsed<()> {
        let before = self.at;
        let inside = !self.open.is_empty();
        let number = self.number().unwrap_or(0);
        let done = if self.adding {
            self.build.add(number, 0)
        } else {
            self.build.figure(number, inside)
        };
        done.map_err(|rule| self.back_to(before, rule))
    }

    fn back_to(&mut self, at: usize, rule: &str) -> String {
        let rule = self.told(at, self.at, rule);
        self.at = at;
        rule
    }

    /// A rule in full, where the word that broke it stands at `from..to`.
    fn told(&self, from: usize, to: usize, rule: &str) -> String {
        if rule != TWICE {
            return rule.to_string();
        }
        let word = &self.chars[from..to.min(self.chars.len())];
        let before = &self.chars[..from];
        let again = !word.is_empty() && before.windows(word.len()).any(|same| same == word);
        let word: String = word.iter().collect();
        match again {
            true => format!("\"{word}\" stands there twice"),
            false => format!("what \"{word}\" says stands there already"),
        }
    }

    fn alteration(&mut self) -> Parsed<()> {
        let before = self.at;
        let alter = self.accidentals();
        let Some(number) = self.number() else {
            return Err("an accidental here stands before a figure".to_string());
        };
        let done = if self.adding {
            self.build.add(number, alter)
        } else {
            self.build.alter(number, alter)
        };
        done.map_err(|rule| self.back_to(before, rule))
    }

    /// A plus: a raised fifth, or a raised tone where a figure that can be raised follows.
    fn plus(&mut self) -> Parsed<()> {
        let before = self.at;
        let bare = self.build.is_bare() && self.open.is_empty();
        self.at += 1;
        let here = self.at;
        let number = self.number();
        let done = match number {
            Some(5) => self.build.alter(5, 1),
            Some(number @ (4 | 11)) => self.build.alter(number, 1),
            Some(9) if !bare => self.build.alter(9, 1),
            Some(13) if !bare => self.build.add(13, 0),
            Some(7) if self.build.is_plain_minor() => self.build.alter(7, 1),
            _ => {
                self.at = here;
                self.build.raise_fifth()
            }
        };
        done.map_err(|rule| self.back_to(before, rule))
    }

    /// A minus: minor after the root, else a lowered tone.
    fn minus(&mut self) -> Parsed<()> {
        let before = self.at;
        let bare = self.build.is_bare() && self.open.is_empty();
        self.at += 1;
        if bare && self.peek(0) != Some('5') {
            return self
                .build
                .kind(Kind::Minor)
                .map_err(|rule| self.back_to(before, rule));
        }
        // A hyphen between words, as in `m-maj7`.
        if !bare && word_at(&self.chars[self.at..]).is_some() {
            return Ok(());
        }
        match self.number() {
            Some(number) => self
                .build
                .alter(number, -1)
                .map_err(|rule| self.back_to(before, rule)),
            None => Err("a minus here stands before a figure".to_string()),
        }
    }

    /// After `sus`: 2, 4, both, or nothing (4).
    fn suspension(&mut self) -> Parsed<()> {
        let (mut second, mut fourth) = (false, false);
        loop {
            let before = self.at;
            self.spaces();
            match self.peek(0) {
                Some('2') if !second => second = true,
                Some('4') if !fourth => fourth = true,
                _ => {
                    self.at = before;
                    break;
                }
            }
            self.at += 1;
        }
        self.build.suspend(second, fourth || !second);
        Ok(())
    }

    /// After `add`: at least one figure; more may follow after commas.
    fn addition(&mut self) -> Parsed<()> {
        self.adding = true;
        self.spaces();
        match self.peek(0) {
            Some('(') => self.item('('),
            Some(sign) if sign.is_ascii_digit() => self.figure(),
            Some(sign) if accidental(sign).is_some() => self.alteration(),
            _ => Err("\"add\" is followed by a figure".to_string()),
        }
    }

    /// After `no` or `omit`: the figures left out, with or without `rd` and `th`.
    fn omission(&mut self) -> Parsed<()> {
        let mut some = false;
        loop {
            let before = self.at;
            while self
                .peek(0)
                .is_some_and(|sign| sign.is_whitespace() || some && matches!(sign, ',' | '&' | '/'))
            {
                self.at += 1;
            }
            let here = self.at;
            let Some(number) = self.number() else {
                self.at = if some { before } else { here };
                break;
            };
            self.build
                .omit(number)
                .map_err(|rule| self.back_to(here, rule))?;
            some = true;
            if matches!((self.peek(0), self.peek(1)), (Some('r'), Some('d')))
                || matches!((self.peek(0), self.peek(1)), (Some('t'), Some('h')))
            {
                self.at += 2;
            }
        }
        if some {
            Ok(())
        } else {
            Err("\"no\" and \"omit\" are followed by a figure".to_string())
        }
    }
}
