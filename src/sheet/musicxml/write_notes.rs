//! What stands in a bar of a score: the melody with its ties and tuplets, or a slash a beat, and the chords over it.

use super::degree::{DegreeAction, kind_of};
use super::xml::escaped;
use crate::chart::{MelodyNote, suffix};
use crate::harmony::{ChordSymbol, Harmony, Pitch};
use crate::time::{PPQ, Tick};
use std::fmt::Write;

/// Chords by where they start.
pub(super) type Chords<'c> = Vec<(Tick, &'c Harmony)>;

/// Written notes by their length in quarters of PPQ.
const TYPES: [(&str, i64); 7] = [
    ("whole", 4 * PPQ),
    ("half", 2 * PPQ),
    ("quarter", PPQ),
    ("eighth", PPQ / 2),
    ("16th", PPQ / 4),
    ("32nd", PPQ / 8),
    ("64th", PPQ / 16),
];

/// How a length is written: the type, whether it is dotted, and how many stand for how many.
type Notation = (&'static str, bool, Option<(i64, i64)>);

/// A chord or silence as a `harmony` element, so many ticks after where it stands.
pub fn harmony_xml(harmony: &Harmony, offset: Tick) -> String {
    let mut notes = Notes::default();
    notes.harmony(harmony, offset);
    notes.out
}

/// The bars' contents in the making.
#[derive(Default)]
pub(super) struct Notes {
    pub(super) out: String,
    /// The last note goes on into the next.
    tied: bool,
}

impl Notes {
    /// The melody of a bar (or of its end), rests between its notes. `notes` count from where it begins.
    pub(super) fn melody(&mut self, notes: &[MelodyNote], chords: &Chords<'_>, len: Tick) {
        if notes.is_empty() {
            return self.rests(Tick(0), len, chords, len);
        }
        let mut at = Tick(0);
        for note in notes {
            self.rests(at, note.at, chords, len);
            let parts = parts(note.len);
            let last = parts.len().saturating_sub(1);
            let mut start = note.at;
            for (index, part) in parts.into_iter().enumerate() {
                self.chords_in(chords, start, start + part);
                let tied = index < last || note.tied;
                self.note(note, part, tied);
                start += part;
            }
            at = note.at + note.len;
        }
        self.rests(at, len, chords, len);
    }

    fn rests(&mut self, from: Tick, to: Tick, chords: &Chords<'_>, bar: Tick) {
        if to <= from {
            return;
        }
        self.tied = false;
        if from == Tick(0) && to == bar {
            self.chords_in(chords, from, to);
            let _ = writeln!(
                self.out,
                "      <note><rest measure=\"yes\"/><duration>{}</duration><voice>1</voice></note>",
                to.0
            );
            return;
        }
        let mut at = from;
        for part in parts(to - from) {
            self.chords_in(chords, at, at + part);
            let _ = write!(
                self.out,
                "      <note><rest/><duration>{}</duration><voice>1</voice>",
                part.0
            );
            self.notation(part, "");
            at += part;
        }
    }

    fn note(&mut self, note: &MelodyNote, len: Tick, tied: bool) {
        let step = note.pitch.letter.as_char();
        let alter = match note.pitch.alter {
            0 => String::new(),
            alter => format!("<alter>{alter}</alter>"),
        };
        let octave = note.octave;
        let _ = write!(
            self.out,
            "      <note><pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch><duration>{}</duration>",
            len.0
        );
        let mut tieds = String::new();
        for (is_there, which) in [(self.tied, "stop"), (tied, "start")] {
            if is_there {
                let _ = write!(self.out, "<tie type=\"{which}\"/>");
                let _ = write!(tieds, "<tied type=\"{which}\"/>");
            }
        }
        self.out.push_str("<voice>1</voice>");
        let notations = match tieds.is_empty() {
            true => String::new(),
            false => format!("<notations>{tieds}</notations>"),
        };
        self.notation(len, &notations);
        self.tied = tied;
    }

    /// Type, dot and tuplet, and the end of the note.
    fn notation(&mut self, len: Tick, more: &str) {
        if let Some((name, dotted, tuplet)) = notation(len) {
            let dot = if dotted { "<dot/>" } else { "" };
            let _ = write!(self.out, "<type>{name}</type>{dot}");
            if let Some((actual, normal)) = tuplet {
                let _ = write!(
                    self.out,
                    "<time-modification><actual-notes>{actual}</actual-notes><normal-notes>{normal}</normal-notes>\
                     </time-modification>"
                );
            }
        }
        let _ = writeln!(self.out, "{more}</note>");
    }

    /// A slash every `count` ticks, each after the chords that start on it or before the next.
    pub(super) fn slashes(&mut self, chords: &Chords<'_>, count: Tick, len: Tick) {
        let mut at = Tick(0);
        while at < len {
            let end = (at + count).min(len);
            self.chords_in(chords, at, end);
            let _ = write!(
                self.out,
                "      <note><pitch><step>B</step><octave>4</octave></pitch><duration>{}</duration><voice>1</voice>",
                (end - at).0
            );
            self.notation(end - at, "<stem>none</stem><notehead>slash</notehead>");
            at = end;
        }
    }

    /// The chords that start within a note.
    fn chords_in(&mut self, chords: &Chords<'_>, from: Tick, to: Tick) {
        for (start, harmony) in chords.iter().filter(|(at, _)| (from..to).contains(at)) {
            self.harmony(harmony, *start - from);
        }
    }

    fn harmony(&mut self, harmony: &Harmony, offset: Tick) {
        self.out.push_str("      <harmony>");
        match harmony {
            Harmony::Silence => {
                let none = "<root><root-step text=\"\">C</root-step></root><kind text=\"N.C.\">none</kind>";
                self.out.push_str(none);
            }
            Harmony::Chord(symbol) => self.chord(symbol),
        }
        if offset.0 > 0 {
            let _ = write!(self.out, "<offset>{}</offset>", offset.0);
        }
        self.out.push_str("</harmony>\n");
    }

    fn chord(&mut self, symbol: &ChordSymbol) {
        let (kind, edits) = kind_of(&symbol.degrees);
        let root = pitch("root", symbol.root);
        let text = escaped(suffix(symbol));
        let _ = write!(self.out, "{root}<kind text=\"{text}\">{kind}</kind>");
        if symbol.bass != symbol.root {
            let _ = write!(self.out, "{}", pitch("bass", symbol.bass));
        }
        for edit in edits {
            let action = match edit.action {
                DegreeAction::Add => "add",
                DegreeAction::Alter => "alter",
                DegreeAction::Subtract => "subtract",
            };
            let _ = write!(
                self.out,
                "<degree print-object=\"no\"><degree-value>{}</degree-value><degree-alter>{}</degree-alter>\
                 <degree-type>{action}</degree-type></degree>",
                edit.number, edit.alter
            );
        }
    }
}

fn pitch(name: &str, pitch: Pitch) -> String {
    let step = pitch.letter.as_char();
    let alter = match pitch.alter {
        0 => String::new(),
        alter => format!("<{name}-alter>{alter}</{name}-alter>"),
    };
    format!("<{name}><{name}-step>{step}</{name}-step>{alter}</{name}>")
}

/// How a length is written as one note: plain or dotted, else as one of a triplet or a quintuplet.
fn notation(len: Tick) -> Option<Notation> {
    let tuplets = [None, Some((3, 2)), Some((5, 4))];
    tuplets.into_iter().find_map(|tuplet| {
        let (actual, normal) = tuplet.unwrap_or((1, 1));
        let exact = len.0 * actual;
        let written = (exact % normal == 0).then_some(exact / normal)?;
        TYPES.iter().find_map(|(name, ticks)| match written {
            plain if plain == *ticks => Some((*name, false, tuplet)),
            dotted if dotted * 2 == ticks * 3 => Some((*name, true, tuplet)),
            _ => None,
        })
    })
}

/// A length as lengths that are written as one note each, the longest first; what is left has none.
fn parts(len: Tick) -> Vec<Tick> {
    let mut parts = Vec::new();
    let mut left = len;
    while left.0 > 0 {
        if notation(left).is_some() {
            parts.push(left);
            break;
        }
        let plain = TYPES.iter().map(|(_, ticks)| *ticks);
        match plain.into_iter().find(|ticks| *ticks < left.0) {
            Some(ticks) => {
                parts.push(Tick(ticks));
                left = Tick(left.0 - ticks);
            }
            None => {
                parts.push(left);
                break;
            }
        }
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_written_as_notes() {
        // Quarters, and the notes they are tied of: common practice, no source.
        let cases = [
            (4.0, "whole"),
            (3.0, "half."),
            (1.5, "quarter."),
            (2.5, "half eighth"),
            (1.0 / 3.0, "eighth3"),
            (2.0 / 3.0, "quarter3"),
            (0.2, "16th5"),
            (5.0 / 3.0, "quarter quarter3"),
            (3.75, "half quarter eighth."),
        ];
        for (quarters, wanted) in cases {
            let told: Vec<String> = parts(Tick::from_quarters(quarters))
                .into_iter()
                .map(|part| match notation(part) {
                    Some((name, dotted, tuplet)) => {
                        let dot = if dotted { "." } else { "" };
                        let tuplet = tuplet.map_or(String::new(), |(actual, _)| actual.to_string());
                        format!("{name}{dot}{tuplet}")
                    }
                    None => "?".to_string(),
                })
                .collect();
            assert_eq!(told.join(" "), wanted, "{quarters}");
        }
    }
}
