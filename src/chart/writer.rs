//! A chart written as a chart file. Reading it gives the same chart.

use super::bars::ends;
use super::habits::habit_lines;
use super::model::{Cell, Chart, ChartBar, MelodyNote, Section};
use crate::harmony::{Harmony, KeyDeclaration};
use crate::time::{Meter, Tick};
use std::fmt::Write;

impl Chart {
    /// The chart as TOML. [`Chart::read`] reads it into the same chart, to the tick; a symbol that could not be
    /// read is written as `N.C.`, which it stands for.
    pub fn to_toml(&self) -> String {
        let mut out = String::new();
        line(&mut out, "title", &quoted(&self.title));
        if let Some(key) = self.key {
            line(&mut out, "key", &quoted(&key.to_string()));
        }
        line(&mut out, "time", &quoted(&self.meter.to_string()));
        line(&mut out, "tempo", &self.tempo_qpm.to_string());
        line(&mut out, "feel", &quoted(self.feel.word()));
        if !self.intro.is_empty() {
            line(&mut out, "intro", &self.names(&self.intro));
        }
        line(&mut out, "form", &self.names(&self.form));
        if let Some(pickup) = &self.pickup {
            line(&mut out, "pickup", &bar(pickup));
        }
        self.write_habits(&mut out);
        self.write_last_time(&mut out);
        for section in self.sections.iter() {
            self.write_section(&mut out, section);
        }
        self.write_melody(&mut out);
        out
    }

    fn names(&self, sections: &[usize]) -> String {
        let names = sections.iter().map(|index| &self.sections[*index].name);
        list(names.map(|name| quoted(name)))
    }

    fn write_last_time(&self, out: &mut String) {
        let Some(last) = &self.last_time else { return };
        let _ = write!(out, "\n[last_time]\n");
        if !last.form.is_empty() {
            line(out, "form", &self.names(&last.form));
        }
        if let Some(bars) = last.to_coda {
            line(out, "to_coda", &bars.to_string());
        }
        if !last.coda.is_empty() {
            line(out, "coda", &self.names(&last.coda));
        }
    }

    fn write_habits(&self, out: &mut String) {
        let lines = habit_lines(&self.habits);
        if !lines.is_empty() {
            let _ = write!(out, "\n[harmony]\n");
        }
        for (key, value) in lines {
            line(out, key, &value);
        }
    }

    fn write_section(&self, out: &mut String, section: &Section) {
        let _ = write!(out, "\n[[section]]\n");
        line(out, "name", &quoted(&section.name));
        if section.vamp {
            line(out, "vamp", "true");
        }
        write_bars(out, &section.bars);
        for ending in &section.endings {
            let _ = write!(out, "\n[[section.ending]]\npass = {}\n", ending.pass);
            write_bars(out, &ending.bars);
        }
        self.write_changes(out, section);
        write_hints(out, section);
    }

    /// What changes on the way through a section, as its reader goes: every section begins with the chart's key
    /// and meter, every ending with those at the end of the bars before the endings.
    fn write_changes(&self, out: &mut String, section: &Section) {
        let mut state = (self.key, self.meter);
        let mut number = 0;
        let mut write_list = |out: &mut String, bars: &[ChartBar], mut state| {
            for one in bars {
                number += 1;
                write_change(out, number, one, &mut state);
            }
            state
        };
        state = write_list(out, &section.bars, state);
        for ending in &section.endings {
            write_list(out, &ending.bars, state);
        }
    }

    fn write_melody(&self, out: &mut String) {
        let Some(melody) = &self.melody else { return };
        let _ = write!(out, "\n[melody]\n");
        if !melody.pickup.is_empty() {
            line(out, "pickup", &notes(&melody.pickup, self.meter));
        }
        for (section, bars) in self.sections.iter().zip(&melody.sections) {
            if bars.iter().all(Vec::is_empty) {
                continue;
            }
            let _ = write!(out, "\n[[melody.section]]\n");
            line(out, "name", &quoted(&section.name));
            let written = (1..).zip(bars).map(|(number, one)| {
                let meter = section.bar(number).map_or(self.meter, |bar| bar.meter);
                notes(one, meter)
            });
            let _ = writeln!(out, "bars = {}", rows(written));
        }
    }
}

fn write_change(
    out: &mut String,
    number: u32,
    bar: &ChartBar,
    state: &mut (Option<KeyDeclaration>, Meter),
) {
    if (bar.key, bar.meter) == *state {
        return;
    }
    let _ = write!(out, "\n[[section.change]]\nbar = {number}\n");
    if let Some(key) = bar.key.filter(|key| Some(*key) != state.0) {
        line(out, "key", &quoted(&key.to_string()));
    }
    if bar.meter != state.1 {
        line(out, "time", &quoted(&bar.meter.to_string()));
    }
    *state = (bar.key, bar.meter);
}

fn write_hints(out: &mut String, section: &Section) {
    let endings = section.endings.iter().flat_map(|ending| &ending.bars);
    for (number, bar) in (1u32..).zip(section.bars.iter().chain(endings)) {
        let chords = bar.cells.iter().filter(|cell| cell.harmony.is_some());
        for (chord, cell) in (1u32..).zip(chords) {
            let Some(hint) = &cell.hint else { continue };
            let _ = write!(out, "\n[[section.hint]]\nbar = {number}\nchord = {chord}\n");
            if let Some(scale) = hint.scale {
                line(out, "scale", &quoted(&scale.to_string()));
            }
            if let Some(note) = &hint.note {
                line(out, "note", &quoted(note));
            }
        }
    }
}

fn line(out: &mut String, key: &str, value: &str) {
    let _ = writeln!(out, "{key} = {value}");
}

/// A basic string of TOML 1.0.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for sign in text.chars() {
        match sign {
            '"' | '\\' => {
                out.push('\\');
                out.push(sign);
            }
            _ if sign.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(sign));
            }
            _ => out.push(sign),
        }
    }
    out.push('"');
    out
}

fn list(items: impl Iterator<Item = String>) -> String {
    format!("[{}]", items.collect::<Vec<_>>().join(", "))
}

fn write_bars(out: &mut String, bars: &[ChartBar]) {
    let _ = writeln!(out, "bars = {}", rows(bars.iter().map(bar)));
}

/// A list of bars, four a row where there are more.
fn rows(items: impl Iterator<Item = String>) -> String {
    let items: Vec<String> = items.collect();
    if items.len() <= 4 {
        return list(items.into_iter());
    }
    let mut out = String::from("[\n");
    for row in items.chunks(4) {
        let _ = writeln!(out, "  {},", row.join(", "));
    }
    out.push(']');
    out
}

/// A bar, in the plainest form that says it.
pub(super) fn bar(bar: &ChartBar) -> String {
    let cells = &bar.cells;
    let meter = bar.meter;
    let beat = meter.beat_ticks().0;
    let spaced = cells
        .iter()
        .any(|cell| symbol(cell).contains(char::is_whitespace));
    let on_beats = cells
        .iter()
        .all(|cell| cell.at.0 % beat == 0 && cell.len.0 % beat == 0);
    if spaced || !on_beats || meter.beats() > 32 {
        return exact(cells, meter);
    }
    let names: Vec<&str> = cells.iter().map(symbol).collect();
    let even = meter.beats().is_multiple_of(2) && cells.len() == 2 && cells[0].len == cells[1].len;
    let first_goes_on = cells.first().is_some_and(|cell| cell.harmony.is_none());
    if !first_goes_on && (cells.len() == 1 || even) {
        return quoted(&names.join(" "));
    }
    let mut words: Vec<&str> = Vec::new();
    for (cell, name) in cells.iter().zip(names) {
        words.push(name);
        words.extend(std::iter::repeat_n("/", (cell.len.0 / beat - 1) as usize));
    }
    quoted(&words.join(" "))
}

/// The symbol as written; `/` where the chord before goes on.
pub(super) fn symbol(cell: &Cell) -> &str {
    match &cell.harmony {
        Some(Harmony::Chord(chord)) => &chord.text,
        Some(Harmony::Silence) => "N.C.",
        None => "/",
    }
}

fn exact(cells: &[Cell], meter: Meter) -> String {
    let lengths: Vec<Tick> = cells.iter().map(|cell| cell.len).collect();
    let beats = beats(&lengths, meter);
    let pairs = cells.iter().zip(beats);
    list(pairs.map(|(cell, beats)| format!("[{}, {beats}]", quoted(symbol(cell)))))
}

/// Lengths as numbers of beats with as few digits as tell them to the tick, the way the reader adds them up.
pub(super) fn beats(lengths: &[Tick], meter: Meter) -> Vec<String> {
    let beat = meter.beat_ticks().0 as f64;
    let written = |digits: usize| -> Vec<String> {
        let one = |len: &Tick| {
            let text = format!("{:.digits$}", len.0 as f64 / beat);
            match text.contains('.') {
                true => text.trim_end_matches('0').trim_end_matches('.').to_string(),
                false => text,
            }
        };
        lengths.iter().map(one).collect()
    };
    let tells = |texts: &[String]| {
        let numbers: Vec<f64> = texts.iter().filter_map(|text| text.parse().ok()).collect();
        ends(&numbers, meter) == Some(sums(lengths))
    };
    (0..12)
        .map(written)
        .find(|texts| tells(texts))
        .unwrap_or_else(|| written(12))
}

/// Where each of some lengths ends.
fn sums(lengths: &[Tick]) -> Vec<Tick> {
    let mut end = Tick(0);
    lengths
        .iter()
        .map(|len| {
            end += *len;
            end
        })
        .collect()
}

/// A bar of the melody: notes and rests with their beats.
fn notes(notes: &[MelodyNote], meter: Meter) -> String {
    let mut names: Vec<String> = Vec::new();
    let mut lengths: Vec<Tick> = Vec::new();
    let mut at = Tick(0);
    for note in notes {
        if note.at > at {
            names.push("-".to_string());
            lengths.push(note.at - at);
        }
        names.push(format!("{}{}", note.pitch, note.octave));
        lengths.push(note.len);
        at = note.at + note.len;
    }
    if at < meter.bar_ticks() {
        names.push("-".to_string());
        lengths.push(meter.bar_ticks() - at);
    }
    let beats = beats(&lengths, meter);
    let mut sounding = notes.iter();
    let words = names.iter().zip(beats).map(|(name, beats)| {
        let tied = name != "-" && sounding.next().is_some_and(|note| note.tied);
        format!("{name}:{beats}{}", if tied { "~" } else { "" })
    });
    quoted(&words.collect::<Vec<_>>().join(" "))
}
