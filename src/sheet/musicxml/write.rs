//! A chart as MusicXML 4.0: chord symbols over its melody, or over slashes; sections as rehearsal marks, repeats, endings.
//!
//! What came in from a score goes out again, and in once more it is the same chart. Each time that a section comes back later
//! it is written out: three programs read nested endings in three ways, and written out there is nothing to misread.

use super::write_notes::{Chords, Notes};
use super::write_plan::{ScoreBar, score_bars};
use super::xml::escaped;
use crate::chart::{Chart, ChartBar, MelodyNote};
use crate::harmony::{Key, KeyDeclaration, Mode};
use crate::time::{Meter, PPQ, Tick};
use std::fmt::Write;

/// The chart as a MusicXML 4.0 score of one part.
pub fn to_musicxml(chart: &Chart) -> String {
    let mut score = XmlScore {
        notes: Notes::default(),
        state: None,
        begun: false,
        ending: Vec::new(),
    };
    score.head(&chart.title);
    score.pickup(chart);
    let bars = score_bars(chart);
    for (index, bar) in bars.iter().enumerate() {
        let is_last = index + 1 == bars.len();
        score.bar(chart, index + 1, bar, is_last);
    }
    score.notes.out.push_str("  </part>\n</score-partwise>\n");
    score.notes.out
}

/// The score in the making.
struct XmlScore {
    notes: Notes,
    /// Key and meter in force.
    state: Option<(Option<KeyDeclaration>, Meter)>,
    /// Tempo and feel stand there.
    begun: bool,
    /// The passes of the ending that is open.
    ending: Vec<u32>,
}

impl XmlScore {
    fn head(&mut self, title: &str) {
        let title = escaped(title);
        let version = env!("CARGO_PKG_VERSION");
        let _ = write!(
            self.notes.out,
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

    /// The pickup from its first chord or note on: an uncounted bar.
    fn pickup(&mut self, chart: &Chart) {
        let notes = chart
            .melody
            .as_ref()
            .map_or(&[][..], |melody| &melody.pickup);
        let chords = chart.pickup.as_ref().map_or(Vec::new(), chords);
        let first = chords.iter().map(|(at, _)| *at);
        let Some(from) = first.chain(notes.iter().map(|note| note.at)).min() else {
            return;
        };
        let bar = chart.pickup.clone().unwrap_or(ChartBar {
            meter: chart.meter,
            key: chart.key,
            cells: Vec::new(),
        });
        let moved = |(at, harmony): (Tick, _)| (at - from, harmony);
        let chords: Chords<'_> = chords.into_iter().map(moved).collect();
        let notes: Vec<MelodyNote> = notes
            .iter()
            .map(|note| MelodyNote {
                at: note.at - from,
                ..*note
            })
            .collect();
        let out = &mut self.notes.out;
        out.push_str("    <measure number=\"0\" implicit=\"yes\">\n");
        self.attributes(&bar);
        self.begin(chart);
        let len = bar.meter.bar_ticks() - from;
        match chart.melody {
            Some(_) => self.notes.melody(&notes, &chords, len),
            None => self.notes.slashes(&chords, bar.meter.count_ticks(), len),
        }
        self.notes.out.push_str("    </measure>\n");
    }

    fn bar(&mut self, chart: &Chart, number: usize, written: &ScoreBar, is_last: bool) {
        let section = &chart.sections[written.section];
        let Some(bar) = section.bar(written.number) else {
            return;
        };
        let _ = writeln!(self.notes.out, "    <measure number=\"{number}\">");
        self.left_barline(written);
        self.attributes(bar);
        if written.marked {
            let mark = escaped(&section.name);
            self.direction(&format!("<rehearsal>{mark}</rehearsal>"), "");
        }
        self.begin(chart);
        let (chords, len) = (chords(bar), bar.meter.bar_ticks());
        match &chart.melody {
            Some(melody) => {
                let bars = melody.sections.get(written.section);
                let notes = bars.and_then(|bars| bars.get(written.number as usize - 1));
                let notes = notes.map_or(&[][..], Vec::as_slice);
                self.notes.melody(notes, &chords, len);
            }
            None => self.notes.slashes(&chords, bar.meter.count_ticks(), len),
        }
        self.right_barline(written, is_last);
        self.notes.out.push_str("    </measure>\n");
    }

    fn left_barline(&mut self, written: &ScoreBar) {
        if !written.forward && written.ending.is_empty() {
            return;
        }
        let style = match written.forward {
            true => "<bar-style>heavy-light</bar-style>",
            false => "",
        };
        let repeat = match written.forward {
            true => "<repeat direction=\"forward\"/>",
            false => "",
        };
        let ending = ending(&written.ending, "start");
        self.ending.clone_from(&written.ending);
        let _ = writeln!(
            self.notes.out,
            "      <barline location=\"left\">{style}{ending}{repeat}</barline>"
        );
    }

    fn right_barline(&mut self, written: &ScoreBar, is_last: bool) {
        let style = match (written.backward, is_last, written.section_ends) {
            (Some(_), ..) | (None, true, _) => "light-heavy",
            (None, false, true) => "light-light",
            (None, false, false) if written.ending_stops => "regular",
            (None, false, false) => return,
        };
        let stop = match (written.ending_stops, written.backward) {
            (false, _) => String::new(),
            (true, Some(_)) => ending(&self.ending, "stop"),
            (true, None) => ending(&self.ending, "discontinue"),
        };
        let repeat = match written.backward {
            None => String::new(),
            Some(2) => "<repeat direction=\"backward\"/>".to_string(),
            Some(times) => format!("<repeat direction=\"backward\" times=\"{times}\"/>"),
        };
        let _ = writeln!(
            self.notes.out,
            "      <barline location=\"right\"><bar-style>{style}</bar-style>{stop}{repeat}</barline>"
        );
    }

    fn direction(&mut self, what: &str, sound: &str) {
        let _ = writeln!(
            self.notes.out,
            "      <direction placement=\"above\"><direction-type>{what}</direction-type>{sound}</direction>"
        );
    }

    /// Feel and tempo, once.
    fn begin(&mut self, chart: &Chart) {
        if std::mem::replace(&mut self.begun, true) {
            return;
        }
        let feel = chart.feel.word();
        self.direction(&format!("<words>{feel}</words>"), "");
        let qpm = chart.tempo_qpm;
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
        self.notes.out.push_str("      <attributes>\n");
        if first {
            let _ = writeln!(self.notes.out, "        <divisions>{PPQ}</divisions>");
        }
        if let Some(declared) = bar.key.filter(|_| key) {
            self.key(declared);
        }
        if time {
            let (beats, unit) = (bar.meter.beats(), bar.meter.unit());
            let _ = writeln!(
                self.notes.out,
                "        <time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>"
            );
        }
        if first {
            self.notes
                .out
                .push_str("        <clef><sign>G</sign><line>2</line></clef>\n");
        }
        self.notes.out.push_str("      </attributes>\n");
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
            self.notes.out,
            "        <key><fifths>{fifths}</fifths>{mode}</key>"
        );
    }
}

/// The chords of a bar that start in it.
fn chords(bar: &ChartBar) -> Chords<'_> {
    let cells = bar.cells.iter();
    cells
        .filter_map(|cell| Some((cell.at, cell.harmony.as_ref()?)))
        .collect()
}

/// The bracket of an ending; nothing where there is none.
fn ending(passes: &[u32], kind: &str) -> String {
    if passes.is_empty() {
        return String::new();
    }
    let numbers: Vec<String> = passes.iter().map(u32::to_string).collect();
    let numbers = numbers.join(",");
    format!("<ending number=\"{numbers}\" type=\"{kind}\"/>")
}
