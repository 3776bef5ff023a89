//! A sheet as MusicXML 4.0: a part of notes with chord symbols and degrees, and a part in tablature.

use super::accidentals::{fifths, shown};
use super::model::{Clef, SheetModel, SheetNote};
use super::score::{Element, Measure, Value, lead_in, measures};
use crate::sheet::{escaped, harmony_xml};
use crate::time::{Meter, PPQ, Tick};
use std::fmt::Write;

/// The sheet as a score of two parts.
pub fn to_musicxml(model: &SheetModel) -> String {
    let mut whole = model.clone();
    if let Some(bar) = lead_in(model) {
        whole.bars.insert(0, bar);
    }
    let measures = measures(&whole);
    let mut out = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \
         \"http://www.musicxml.org/dtds/partwise.dtd\">\n<score-partwise version=\"4.0\">\n",
    );
    let _ = write!(
        out,
        "  <work><work-title>{}</work-title></work>\n  <movement-title>{}</movement-title>\n\
         \x20 <identification><encoding><software>underfoot</software></encoding></identification>\n\
         \x20 <part-list>\n    <score-part id=\"P1\"><part-name>Notes</part-name></score-part>\n\
         \x20   <score-part id=\"P2\"><part-name>Tablature</part-name></score-part>\n  </part-list>\n",
        escaped(&model.title),
        escaped(&model.subtitle)
    );
    for is_tab in [false, true] {
        let mut part = Part {
            model: &whole,
            is_tab,
            out: &mut out,
            key: None,
            meter: None,
        };
        part.write(&measures);
    }
    out.push_str("</score-partwise>\n");
    out
}

/// A part in the making.
struct Part<'a> {
    model: &'a SheetModel,
    is_tab: bool,
    out: &'a mut String,
    /// What was written last.
    key: Option<i8>,
    meter: Option<Meter>,
}

impl Part<'_> {
    fn write(&mut self, measures: &[Measure<'_>]) {
        let id = if self.is_tab { "P2" } else { "P1" };
        let _ = writeln!(self.out, "  <part id=\"{id}\">");
        for (index, measure) in measures.iter().enumerate() {
            let implicit = if measure.bar.number == 0 {
                " implicit=\"yes\""
            } else {
                ""
            };
            let number = if measure.bar.number == 0 {
                0
            } else {
                index + 1
            };
            let number = number - usize::from(number > 0 && measures[0].bar.number == 0);
            let _ = writeln!(self.out, "    <measure number=\"{number}\"{implicit}>");
            self.attributes(measure, index == 0);
            if !self.is_tab {
                self.directions(measure, index == 0);
            }
            self.elements(measure);
            let next = measures.get(index + 1);
            let style = match next {
                None => Some("light-heavy"),
                Some(next) if next.bar.mark.is_some() => Some("light-light"),
                Some(_) => None,
            };
            if let Some(style) = style {
                let _ = writeln!(
                    self.out,
                    "      <barline location=\"right\"><bar-style>{style}</bar-style></barline>"
                );
            }
            self.out.push_str("    </measure>\n");
        }
        self.out.push_str("  </part>\n");
    }

    fn attributes(&mut self, measure: &Measure<'_>, is_first: bool) {
        let fifths = fifths(measure.bar.key);
        let key = self.key.replace(fifths) != Some(fifths);
        let time = self.meter.replace(measure.bar.meter) != Some(measure.bar.meter);
        if !(is_first || key || time) {
            return;
        }
        self.out.push_str("      <attributes>\n");
        if is_first {
            let _ = writeln!(self.out, "        <divisions>{PPQ}</divisions>");
        }
        if key {
            let _ = writeln!(self.out, "        <key><fifths>{fifths}</fifths></key>");
        }
        if time {
            let (beats, unit) = (measure.bar.meter.beats(), measure.bar.meter.unit());
            let _ = writeln!(
                self.out,
                "        <time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>"
            );
        }
        if is_first {
            self.clef();
        }
        self.out.push_str("      </attributes>\n");
    }

    fn clef(&mut self) {
        let clef = Clef::of(&self.model.neck);
        let change = match clef.octave_change() {
            0 => String::new(),
            change => format!("<clef-octave-change>{change}</clef-octave-change>"),
        };
        let (sign, line) = if clef == Clef::BassOctaveDown {
            ("F", 4)
        } else {
            ("G", 2)
        };
        if !self.is_tab {
            let _ = writeln!(
                self.out,
                "        <clef><sign>{sign}</sign><line>{line}</line>{change}</clef>"
            );
            return;
        }
        let open = self.model.neck.tuning.open_keys();
        let _ = write!(
            self.out,
            "        <clef><sign>TAB</sign><line>5</line></clef>\n        <staff-details>\n          <staff-lines>{}</staff-lines>\n",
            open.len()
        );
        for (line, key) in (1..).zip(open.iter().rev()) {
            let (step, alter) = [
                ("C", 0),
                ("C", 1),
                ("D", 0),
                ("E", -1),
                ("E", 0),
                ("F", 0),
                ("F", 1),
                ("G", 0),
                ("A", -1),
                ("A", 0),
                ("B", -1),
                ("B", 0),
            ][usize::from(key % 12)];
            let alter = if alter == 0 {
                String::new()
            } else {
                format!("<tuning-alter>{alter}</tuning-alter>")
            };
            let octave = i32::from(key / 12) - 1;
            let _ = writeln!(
                self.out,
                "          <staff-tuning line=\"{line}\"><tuning-step>{step}</tuning-step>{alter}<tuning-octave>{octave}</tuning-octave></staff-tuning>"
            );
        }
        if self.model.neck.capo > 0 {
            let _ = writeln!(self.out, "          <capo>{}</capo>", self.model.neck.capo);
        }
        self.out.push_str("        </staff-details>\n");
    }

    fn directions(&mut self, measure: &Measure<'_>, is_first: bool) {
        if let Some(mark) = &measure.bar.mark {
            self.direction(
                &format!("<rehearsal>{}</rehearsal>", escaped(mark)),
                "above",
                Tick(0),
                "",
            );
        }
        if is_first {
            let tempo = self.model.tempo_qpm;
            let metronome = format!(
                "<metronome><beat-unit>quarter</beat-unit><per-minute>{tempo}</per-minute></metronome>"
            );
            self.direction(
                &metronome,
                "above",
                Tick(0),
                &format!("<sound tempo=\"{tempo}\"/>"),
            );
        }
        for (at, index) in &measure.chords {
            let chord = &self.model.chords[*index];
            if chord.is_free && !chord.notes.is_empty() {
                let names = chord
                    .notes
                    .iter()
                    .map(|note| format!("{} {}", note.degree_text(), note.name(self.model.names)));
                let words = names.collect::<Vec<_>>().join(", ");
                let words = format!("<words>choose: {}</words>", escaped(&words));
                self.direction(&words, "below", *at, "");
            }
        }
    }

    fn direction(&mut self, kind: &str, placement: &str, at: Tick, sound: &str) {
        let offset = if at.0 > 0 {
            format!("<offset>{}</offset>", at.0)
        } else {
            String::new()
        };
        let _ = writeln!(
            self.out,
            "      <direction placement=\"{placement}\"><direction-type>{kind}</direction-type>{offset}{sound}</direction>"
        );
    }

    fn elements(&mut self, measure: &Measure<'_>) {
        let mut chords = measure.chords.iter().peekable();
        let ends = measure
            .elements
            .iter()
            .map(|element| element.at + element.value.ticks());
        let ends: Vec<Tick> = ends.collect();
        let shown = shown(measure, fifths(measure.bar.key));
        let mut harmonies = |out: &mut String, from: Tick, to: Tick| {
            while let Some((at, index)) = chords.next_if(|(at, _)| *at < to) {
                out.push_str(&harmony_xml(&self.model.chords[*index].harmony, *at - from));
            }
        };
        if measure.elements.is_empty() {
            let len = measure.bar.meter.bar_ticks();
            if !self.is_tab {
                harmonies(self.out, Tick(0), len);
            }
            let _ = writeln!(
                self.out,
                "      <note><rest measure=\"yes\"/><duration>{}</duration><voice>1</voice></note>",
                len.0
            );
        }
        for (index, element) in measure.elements.iter().enumerate() {
            if !self.is_tab {
                harmonies(self.out, element.at, ends[index]);
            }
            let tuplet = tuplet(measure, index);
            let note = note_xml(element, self.is_tab, shown[index], tuplet);
            self.out.push_str(&note);
        }
    }
}

/// Whether a triplet begins or ends with an element.
fn tuplet(measure: &Measure<'_>, index: usize) -> (bool, bool) {
    let element = &measure.elements[index];
    if !element.value.triplet {
        return (false, false);
    }
    let tick = measure.bar.start.0 + element.at.0;
    let end = tick + element.value.ticks().0;
    (tick.rem_euclid(PPQ) == 0, end.rem_euclid(PPQ) == 0)
}

/// A note or a rest.
fn note_xml(element: &Element<'_>, is_tab: bool, accidental: bool, tuplet: (bool, bool)) -> String {
    let mut out = String::from("      <note>");
    match element.note {
        None => out.push_str("<rest/>"),
        Some(note) => {
            let alter = match note.pitch.alter {
                0 => String::new(),
                alter => format!("<alter>{alter}</alter>"),
            };
            let _ = write!(
                out,
                "<pitch><step>{}</step>{alter}<octave>{}</octave></pitch>",
                note.pitch.letter.as_char(),
                note.octave
            );
        }
    }
    let Value {
        part,
        dotted,
        triplet,
    } = element.value;
    let _ = write!(out, "<duration>{}</duration>", element.value.ticks().0);
    for kind in ties(element) {
        let _ = write!(out, "<tie type=\"{kind}\"/>");
    }
    let _ = write!(out, "<voice>1</voice><type>{}</type>", type_name(part));
    if dotted {
        out.push_str("<dot/>");
    }
    if let Some(note) = element.note.filter(|_| accidental && !is_tab) {
        let _ = write!(
            out,
            "<accidental>{}</accidental>",
            accidental_name(note.pitch.alter)
        );
    }
    if triplet {
        out.push_str("<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>");
    }
    let notations = notations(element, is_tab, tuplet);
    if !notations.is_empty() {
        let _ = write!(out, "<notations>{notations}</notations>");
    }
    if let Some(note) = element.note.filter(|_| !is_tab && !element.tied_from) {
        out.push_str(&lyric(note));
    }
    out.push_str("</note>\n");
    out
}

/// Ties, triplets, and where a note lies on the neck.
fn notations(element: &Element<'_>, is_tab: bool, (begins, ends): (bool, bool)) -> String {
    let mut notations: String = ties(element)
        .map(|kind| format!("<tied type=\"{kind}\"/>"))
        .collect();
    for (is_it, kind) in [(begins, "start"), (ends, "stop")] {
        if is_it {
            let _ = write!(notations, "<tuplet type=\"{kind}\"/>");
        }
    }
    if let Some(place) = element.note.filter(|_| is_tab).and_then(|note| note.neck) {
        let _ = write!(
            notations,
            "<technical><string>{}</string><fret>{}</fret></technical>",
            place.string, place.fret
        );
    }
    notations
}

/// The kinds of ties that a note has.
fn ties(element: &Element<'_>) -> impl Iterator<Item = &'static str> {
    let is_note = element.note.is_some();
    let ties = [(element.tied_from, "stop"), (element.tied_to, "start")];
    ties.into_iter()
        .filter(move |(is_tied, _)| *is_tied && is_note)
        .map(|(_, kind)| kind)
}

/// The degree below a note.
fn lyric(note: &SheetNote) -> String {
    format!(
        "<lyric number=\"1\"><syllabic>single</syllabic><text>{}</text></lyric>",
        note.degree_text()
    )
}

fn type_name(part: i64) -> &'static str {
    match part {
        1 => "whole",
        2 => "half",
        4 => "quarter",
        8 => "eighth",
        _ => "16th",
    }
}

fn accidental_name(alter: i8) -> &'static str {
    match alter {
        ..=-3 => "triple-flat",
        -2 => "flat-flat",
        -1 => "flat",
        0 => "natural",
        1 => "sharp",
        2 => "double-sharp",
        3.. => "triple-sharp",
    }
}
