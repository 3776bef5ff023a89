//! A chart as MusicXML 4.0: chord symbols over slashes, the form written out.
//!
//! Every bar is written as the form plays it, so that no reader has to know what our endings mean. A section's
//! name stands as a rehearsal mark where it begins.
//!
//! The form is written out: endings here belong to a section's pass, and three programs read nested endings in three
//! ways. Written out there is nothing to misread.

use super::degree::{DegreeAction, kind_of};
use crate::chart::{Cell, Chart, ChartBar, Form, suffix};
use crate::harmony::{ChordSymbol, Harmony, Key, KeyDeclaration, Mode, Pitch};
use crate::time::{Meter, PPQ, Tick};
use std::fmt::Write;

/// The chart as a MusicXML 4.0 score of one part.
pub fn to_musicxml(chart: &Chart) -> String {
    let form = Form::unroll(chart);
    let mut score = XmlScore {
        out: String::new(),
        state: None,
    };
    score.head(&chart.title);
    if let Some(pickup) = &chart.pickup {
        score.pickup(chart, pickup);
    }
    for (index, bar) in form.bars.iter().enumerate() {
        let section = &chart.sections[bar.section];
        let Some(written) = section.bar(bar.bar) else {
            continue;
        };
        let begins = index == 0 || form.bars[index - 1].item != bar.item;
        let next = form.bars.get(index + 1);
        score.bar(&Written {
            number: index + 1,
            bar: written,
            mark: begins.then_some(section.name.as_str()),
            tempo: (index == 0 && chart.pickup.is_none()).then_some(chart.tempo_qpm),
            last: next.is_none(),
            section_ends: next.is_some_and(|next| next.item != bar.item),
        });
    }
    score.out.push_str("  </part>\n</score-partwise>\n");
    score.out
}

/// A chord or silence as a `harmony` element, so many ticks after where it stands.
pub fn harmony_xml(harmony: &Harmony, offset: Tick) -> String {
    let mut score = XmlScore {
        out: String::new(),
        state: None,
    };
    score.harmony(harmony, offset);
    score.out
}

/// A bar about to be written.
struct Written<'c> {
    number: usize,
    bar: &'c ChartBar,
    mark: Option<&'c str>,
    tempo: Option<f64>,
    last: bool,
    section_ends: bool,
}

/// The score in the making.
struct XmlScore {
    out: String,
    /// Key and meter in force.
    state: Option<(Option<KeyDeclaration>, Meter)>,
}

impl XmlScore {
    fn head(&mut self, title: &str) {
        let title = escaped(title);
        let version = env!("CARGO_PKG_VERSION");
        let _ = write!(
            self.out,
            r#"<?xml version="1.0" encoding="UTF-8" standalone="no"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">
<score-partwise version="4.0">
  <work>
    <work-title>{title}</work-title>
  </work>
  <identification>
    <encoding>
      <software>Underfoot {version}</software>
    </encoding>
  </identification>
  <part-list>
    <score-part id="P1">
      <part-name>Changes</part-name>
    </score-part>
  </part-list>
  <part id="P1">
"#
        );
    }

    /// The pickup from its first chord on: an uncounted bar.
    fn pickup(&mut self, chart: &Chart, bar: &ChartBar) {
        let silent = bar.cells.iter().find(|cell| cell.harmony.is_some());
        let from = silent.map_or(Tick(0), |cell| cell.at);
        let cells: Vec<Cell> = bar
            .cells
            .iter()
            .filter(|cell| cell.harmony.is_some())
            .map(|cell| Cell {
                at: cell.at - from,
                ..cell.clone()
            })
            .collect();
        self.out
            .push_str("    <measure number=\"0\" implicit=\"yes\">\n");
        self.attributes(bar);
        self.tempo(chart.tempo_qpm);
        self.beats(&cells, bar.meter, bar.meter.bar_ticks() - from);
        self.out.push_str("    </measure>\n");
    }

    fn bar(&mut self, written: &Written<'_>) {
        let _ = writeln!(self.out, "    <measure number=\"{}\">", written.number);
        self.attributes(written.bar);
        if let Some(mark) = written.mark {
            let mark = escaped(mark);
            self.direction(&format!("<rehearsal>{mark}</rehearsal>"), "");
        }
        if let Some(tempo) = written.tempo {
            self.tempo(tempo);
        }
        let meter = written.bar.meter;
        self.beats(&written.bar.cells, meter, meter.bar_ticks());
        let style = match (written.last, written.section_ends) {
            (true, _) => Some("light-heavy"),
            (false, true) => Some("light-light"),
            (false, false) => None,
        };
        if let Some(style) = style {
            let _ = writeln!(
                self.out,
                "      <barline location=\"right\"><bar-style>{style}</bar-style></barline>"
            );
        }
        self.out.push_str("    </measure>\n");
    }

    fn direction(&mut self, what: &str, sound: &str) {
        let _ = writeln!(
            self.out,
            "      <direction placement=\"above\"><direction-type>{what}</direction-type>{sound}</direction>"
        );
    }

    fn tempo(&mut self, qpm: f64) {
        let metronome = format!(
            "<metronome><beat-unit>quarter</beat-unit><per-minute>{qpm}</per-minute></metronome>"
        );
        self.direction(&metronome, &format!("<sound tempo=\"{qpm}\"/>"));
    }

    /// What holds from this bar on, where it changes.
    fn attributes(&mut self, bar: &ChartBar) {
        let before = self.state.replace((bar.key, bar.meter));
        let first = before.is_none();
        let key = before.is_none_or(|(key, _)| key != bar.key);
        let time = before.is_none_or(|(_, meter)| meter != bar.meter);
        if !(key || time) {
            return;
        }
        self.out.push_str("      <attributes>\n");
        if first {
            let _ = writeln!(self.out, "        <divisions>{PPQ}</divisions>");
        }
        if let Some(declared) = bar.key.filter(|_| key) {
            self.key(declared);
        }
        if time {
            let (beats, unit) = (bar.meter.beats(), bar.meter.unit());
            let _ = writeln!(
                self.out,
                "        <time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>"
            );
        }
        if first {
            self.out
                .push_str("        <clef><sign>G</sign><line>2</line></clef>\n");
        }
        self.out.push_str("      </attributes>\n");
    }

    /// A key of at most seven signs: beyond, that of the same sound.
    fn key(&mut self, declared: KeyDeclaration) {
        let fifths = match declared.fifths() {
            more @ 8.. => more - 12,
            more @ ..=-8 => more + 12,
            fifths => fifths,
        };
        let mode = match declared {
            KeyDeclaration::Key(Key {
                mode: Mode::Major, ..
            }) => "<mode>major</mode>",
            KeyDeclaration::Key(Key {
                mode: Mode::Minor, ..
            }) => "<mode>minor</mode>",
            KeyDeclaration::Signature(_) => "",
        };
        let _ = writeln!(
            self.out,
            "        <key><fifths>{fifths}</fifths>{mode}</key>"
        );
    }

    /// A slash a beat, each after the chords that start on it or before the next.
    fn beats(&mut self, cells: &[Cell], meter: Meter, len: Tick) {
        let count = meter.count_ticks();
        let mut cells = cells
            .iter()
            .filter_map(|cell| Some((cell.at, cell.harmony.as_ref()?)))
            .peekable();
        let mut at = Tick(0);
        while at < len {
            let end = (at + count).min(len);
            while let Some((start, harmony)) = cells.next_if(|one| one.0 < end) {
                self.harmony(harmony, start - at);
            }
            self.slash(end - at);
            at = end;
        }
    }

    fn slash(&mut self, len: Tick) {
        let _ = write!(
            self.out,
            "      <note><pitch><step>B</step><octave>4</octave></pitch><duration>{}</duration><voice>1</voice>",
            len.0
        );
        if let Some((name, dotted)) = note_type(len) {
            let dot = if dotted { "<dot/>" } else { "" };
            let _ = write!(self.out, "<type>{name}</type>{dot}");
        }
        self.out
            .push_str("<stem>none</stem><notehead>slash</notehead></note>\n");
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

/// The written note of a length, and whether it is dotted; `None`: no single note.
fn note_type(len: Tick) -> Option<(&'static str, bool)> {
    let types = [
        ("whole", 4 * PPQ),
        ("half", 2 * PPQ),
        ("quarter", PPQ),
        ("eighth", PPQ / 2),
        ("16th", PPQ / 4),
        ("32nd", PPQ / 8),
    ];
    types.iter().find_map(|(name, ticks)| match len.0 {
        plain if plain == *ticks => Some((*name, false)),
        dotted if dotted == ticks * 3 / 2 => Some((*name, true)),
        _ => None,
    })
}

/// A text in XML 1.0; what it cannot hold is left out.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for sign in text.chars() {
        match sign {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\u{fffe}' | '\u{ffff}' => {}
            _ if sign.is_control() && !matches!(sign, '\t' | '\n') => {}
            _ => out.push(sign),
        }
    }
    out
}
