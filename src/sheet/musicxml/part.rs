//! A part read bar by bar: attributes, notes, chords.

use super::direction;
use super::harmony::{self, Transposition};
use super::reader::PartReader;
use super::xml::{child, children, number, text};
use crate::chart::MelodyNote;
use crate::harmony::{Key, KeyDeclaration, Mode, Pitch};
use crate::sheet::lead::{Measure, short};
use crate::time::{Meter, Tick};
use roxmltree::Node;

impl PartReader<'_> {
    /// Reads a bar: `measure` has its label, `content` what stands in it.
    pub(super) fn measure(&mut self, measure: Node<'_, '_>, content: Node<'_, '_>) {
        let index = self.sheet.measures.len() + 1;
        let label = measure.attribute("number").map(short);
        let next = std::mem::take(&mut self.next);
        self.bar = Measure {
            label: label
                .filter(|label| !label.is_empty())
                .unwrap_or(index.to_string()),
            implicit: measure.attribute("implicit") == Some("yes"),
            mark: next.mark,
            ..Measure::default()
        };
        self.bar.flow.forward = next.forward;
        self.bar.flow.segno = next.segno;
        (self.at, self.reach, self.last_note) = (0.0, 0.0, 0.0);
        self.whole_rest = false;
        for element in children(content) {
            self.element(element);
        }
        self.finish_bar();
    }

    fn element(&mut self, element: Node<'_, '_>) {
        match element.tag_name().name() {
            "attributes" => self.attributes(element),
            "note" => self.note(element),
            "backup" => self.go(-self.duration(element)),
            "forward" => self.go(self.duration(element)),
            "harmony" => self.harmony(element),
            "direction" => direction::read(self, element),
            "sound" => direction::sound(self, element, &mut direction::DirectionTold::default()),
            "barline" => self.barline(element),
            _ => {}
        }
    }

    fn finish_bar(&mut self) {
        self.bar.key = self.key.map(|key| self.sounding_key(key));
        self.bar.meter = self.meter;
        self.bar.len = Tick::from_quarters(self.reach);
        if self.whole_rest
            && let Some(meter) = self.meter
        {
            self.bar.len = meter.bar_ticks();
        }
        self.bar
            .notes
            .sort_by_key(|note| (note.at, -i32::from(note.midi())));
        let bar = std::mem::take(&mut self.bar);
        self.sheet.measures.push(bar);
        if let Some(back) = self.repeats {
            self.repeat(back);
        }
        self.key = self.later_key.take().or(self.key);
        self.meter = self.later_meter.take().or(self.meter);
    }

    /// Writes a bar-repeat sign out: a bar without chords of its own gets those of the bar it repeats.
    fn repeat(&mut self, back: usize) {
        let measures = &mut self.sheet.measures;
        let here = measures.len() - 1;
        if let Some(before) = here.checked_sub(back)
            && measures[here].chords.is_empty()
        {
            measures[here].chords = measures[before].chords.clone();
        }
    }

    fn attributes(&mut self, element: Node<'_, '_>) {
        for one in children(element) {
            match one.tag_name().name() {
                "divisions" => self.set_divisions(one),
                "key" if first_staff(one) => self.set_key(one),
                "time" if first_staff(one) => self.set_meter(one),
                "transpose" if first_staff(one) => self.set_transposition(one),
                "measure-style" => self.set_repeats(one),
                _ => {}
            }
        }
    }

    fn set_divisions(&mut self, node: Node<'_, '_>) {
        match number(node).filter(|divisions| *divisions > 0.0) {
            Some(divisions) => self.divisions = divisions,
            None => self.warn("divisions that are none: left as they were"),
        }
    }

    fn set_key(&mut self, node: Node<'_, '_>) {
        let fifths = child(node, "fifths").and_then(number);
        let Some(fifths) = fifths.filter(|fifths| (-7.0..=7.0).contains(fifths)) else {
            self.warn("a key signature of its own kind is left out");
            return;
        };
        let fifths = fifths as i8;
        let mode = child(node, "mode").map(text).unwrap_or_default();
        let key = match mode {
            "major" | "ionian" => KeyDeclaration::Key(Key::of_signature(fifths, Mode::Major)),
            "minor" | "aeolian" => KeyDeclaration::Key(Key::of_signature(fifths, Mode::Minor)),
            _ => KeyDeclaration::Signature(fifths),
        };
        if self.at > 0.0 {
            self.later_key = Some(key);
        } else {
            self.key = Some(key);
        }
    }

    fn set_meter(&mut self, node: Node<'_, '_>) {
        let mut beats = 0;
        let mut unit = None;
        for one in children(node) {
            match one.tag_name().name() {
                // "3+2" is five.
                "beats" => {
                    let parts = text(one).split('+').map(|part| part.trim().parse::<u8>());
                    let sum: Result<Vec<u8>, _> = parts.collect();
                    beats += sum.map_or(0, |all| all.iter().map(|one| u32::from(*one)).sum());
                }
                "beat-type" => {
                    let this = text(one).parse::<u8>().ok();
                    if unit.is_some() && unit != this {
                        self.warn("a meter of two kinds of beats is taken by its first");
                    }
                    unit = unit.or(this);
                }
                _ => {}
            }
        }
        let meter = u8::try_from(beats)
            .ok()
            .zip(unit)
            .and_then(|(beats, unit)| Meter::new(beats, unit).ok());
        if meter.is_none() {
            let what = match child(node, "senza-misura").is_some() {
                true => "music without a meter: its bars are taken by their length",
                false => "a time signature that no chart has: its bars are taken by their length",
            };
            self.warn(what);
            return;
        }
        if self.at > 0.0 {
            self.later_meter = meter;
        } else {
            self.meter = meter;
        }
    }

    fn set_transposition(&mut self, node: Node<'_, '_>) {
        let of = |name: &str| {
            child(node, name)
                .and_then(number)
                .unwrap_or(0.0)
                .clamp(-99.0, 99.0) as i32
        };
        let semitones = of("chromatic");
        let steps = match child(node, "diatonic") {
            Some(_) => of("diatonic"),
            // The usual interval of this many semitones.
            None => {
                let steps = [0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6];
                let size =
                    steps[semitones.unsigned_abs() as usize % 12] + 7 * (semitones.abs() / 12);
                size * semitones.signum()
            }
        };
        let octaves = of("octave-change").clamp(-4, 4);
        let transposition = Transposition {
            steps: steps + 7 * octaves,
            semitones: semitones + 12 * octaves,
        };
        if transposition != self.transposition && transposition.semitones % 12 != 0 {
            self.warn("the part is for a transposing instrument: its chords and keys are taken as they sound");
        }
        self.transposition = transposition;
    }

    fn set_repeats(&mut self, node: Node<'_, '_>) {
        let Some(repeat) = child(node, "measure-repeat") else {
            return;
        };
        self.repeats = match repeat.attribute("type") {
            Some("stop") => None,
            _ => Some(number(repeat).map_or(1, |bars| bars.clamp(1.0, 8.0) as usize)),
        };
    }

    fn sounding_key(&self, key: KeyDeclaration) -> KeyDeclaration {
        if self.transposition == Transposition::default() {
            return key;
        }
        let fifths = self.transposition.fifths(match key {
            KeyDeclaration::Key(key) => Key::of_signature(key.fifths(), Mode::Major).fifths(),
            KeyDeclaration::Signature(fifths) => fifths,
        });
        match key {
            KeyDeclaration::Key(key) => KeyDeclaration::Key(Key::of_signature(fifths, key.mode)),
            KeyDeclaration::Signature(_) => KeyDeclaration::Signature(fifths),
        }
    }

    fn note(&mut self, element: Node<'_, '_>) {
        if child(element, "grace").is_some() {
            self.graces += 1;
            if self.graces == 1 {
                self.warn("grace notes, here and later, are left out of the melody");
            }
            return;
        }
        let quarters = self.duration(element);
        let chord = child(element, "chord").is_some();
        let start = if chord { self.last_note } else { self.at };
        if !chord {
            self.last_note = self.at;
            self.go(quarters);
        }
        if let Some(rest) = child(element, "rest") {
            self.whole_rest |= rest.attribute("measure") == Some("yes");
            return;
        }
        if let Some(note) = self.melody_note(element, start, quarters) {
            self.bar.notes.push(note);
        }
    }

    /// A note of the melody: of the first staff and its first voice, with a pitch.
    fn melody_note(
        &mut self,
        element: Node<'_, '_>,
        start: f64,
        quarters: f64,
    ) -> Option<MelodyNote> {
        let slash = child(element, "notehead")
            .map(text)
            .is_some_and(|head| head.contains("slash"));
        let pitch = child(element, "pitch")?;
        if slash || child(element, "cue").is_some() {
            return None;
        }
        if child(element, "staff").is_some_and(|staff| text(staff) != "1") {
            return None;
        }
        let voice = child(element, "voice").map(text).unwrap_or("1");
        if self.voice.get_or_insert_with(|| voice.to_string()) != voice {
            return None;
        }
        let step: Pitch = child(pitch, "step").map(text)?.parse().ok()?;
        let alter = child(pitch, "alter").and_then(number).unwrap_or(0.0);
        let octave = child(pitch, "octave").and_then(number)?;
        if !(0.0..=9.0).contains(&octave) || alter.abs() > 2.0 {
            self.warn("a note out of all range is left out of the melody");
            return None;
        }
        let written = Pitch::new(step.letter, alter.round() as i8);
        let (pitch, octaves) = self.transposition.pitch(written);
        let at = Tick::from_quarters(start);
        Some(MelodyNote {
            at,
            len: Tick::from_quarters(start + quarters) - at,
            pitch,
            octave: (octave as i32 + octaves).clamp(-1, 9) as i8,
            tied: children(element).any(|one| {
                one.tag_name().name() == "tie" && one.attribute("type") == Some("start")
            }),
        })
    }

    fn harmony(&mut self, element: Node<'_, '_>) {
        let at = self.place(element);
        let read = harmony::read(element, self.key, self.transposition);
        read.told.into_iter().for_each(|what| self.warn(what));
        if let Some(harmony) = read.harmony {
            self.bar.chords.push((at, harmony));
        }
    }
}

/// Whether an attribute is for the whole part or its first staff.
fn first_staff(node: Node<'_, '_>) -> bool {
    node.attribute("number")
        .is_none_or(|staff| staff.trim() == "1")
}
