//! The melody's table in a chart file: `"G4:1.5 A4:0.5~ -:2"` is a bar of it.

use super::bars::ends;
use super::model::{Melody, MelodyNote};
use super::placed::{PlacedSection, SectionHome};
use crate::fault::{Reader, TableView, Text, nearest_hint};
use crate::harmony::Pitch;
use crate::time::{Meter, Tick};

/// The most notes and rests of a bar.
const MAX_NOTES: usize = 256;

/// Reads `[melody]`; `None` if there is none, or after a fault.
pub(super) fn read_melody(
    view: &TableView<'_, '_>,
    home: &SectionHome,
    sections: &[PlacedSection],
) -> Option<Melody> {
    let view = view.table("melody")?;
    let mut melody = Melody {
        pickup: Vec::new(),
        sections: vec![Vec::new(); sections.len()],
    };
    if let Some(text) = view.string("pickup") {
        melody.pickup = bar(view.reader, &text, home.meter).unwrap_or_default();
    }
    for table in view.tables("section") {
        if let Some((index, bars)) = section(&table, sections) {
            if !melody.sections[index].is_empty() {
                let rule = "there are two melodies for this section";
                table.fault("name", rule);
            }
            melody.sections[index] = bars;
        }
        table.finish();
    }
    view.finish();
    Some(melody)
}

fn section(
    table: &TableView<'_, '_>,
    sections: &[PlacedSection],
) -> Option<(usize, Vec<Vec<MelodyNote>>)> {
    let name = table.need_string("name", "\"A\"");
    if table.get("bars").is_none() {
        table.missing("bars", "[\"G4:2 A4:2\", \"-:4\"]");
    }
    let texts = table.strings("bars");
    let name = name?;
    let index = sections
        .iter()
        .position(|placed| placed.section.name == name.value.trim());
    let Some(index) = index else {
        let known = sections.iter().map(|placed| placed.section.name.as_str());
        let hint = nearest_hint(name.value, known);
        let rule = format!("there is no section \"{}\"{hint}", name.value);
        table.reader.fault(name.span.start, rule);
        return None;
    };
    let texts = texts?;
    let section = &sections[index].section;
    let endings = section.endings.iter().flat_map(|ending| &ending.bars);
    let bars: Vec<_> = section.bars.iter().chain(endings).collect();
    if texts.len() != bars.len() {
        let rule = format!(
            "the melody has {} bars, section \"{}\" with its endings has {}",
            texts.len(),
            section.name,
            bars.len()
        );
        table.fault("bars", rule);
        return None;
    }
    let read = texts.iter().zip(bars);
    let read: Vec<_> = read
        .map(|(text, of)| bar(table.reader, text, of.meter))
        .collect();
    let read: Option<Vec<_>> = read.into_iter().collect();
    Some((index, read?))
}

/// A note or a rest as written.
struct MelodyWord {
    /// `None`: a rest.
    note: Option<(Pitch, i8)>,
    beats: f64,
    tied: bool,
}

fn bar(reader: &Reader<'_>, text: &Text<'_>, meter: Meter) -> Option<Vec<MelodyNote>> {
    if reader.is_full() {
        return None;
    }
    let count = text.value.split_whitespace().count();
    if count == 0 || count > MAX_NOTES {
        let rule = format!(
            "a bar of melody has 1 to {MAX_NOTES} notes and rests, such as \"G4:1.5 A4:0.5 -:2\", not {count}"
        );
        reader.fault(text.span.start, rule);
        return None;
    }
    let start = text.value.as_ptr() as usize;
    let mut words = Vec::with_capacity(count);
    for written in text.value.split_whitespace() {
        let Some(word) = word(written) else {
            let at = written.as_ptr() as usize - start;
            let rule = format!(
                "\"{}\" is no note: a name with its octave and its beats, such as Bb4:1.5, ~ after it if it is tied \
                 to the next, or -:2 for a rest",
                written.chars().take(20).collect::<String>()
            );
            reader.fault(text.offset(at), rule);
            return None;
        };
        words.push(word);
    }
    let beats: Vec<f64> = words.iter().map(|word| word.beats).collect();
    let Some(ends) = ends(&beats, meter) else {
        let sum: f64 = beats.iter().sum();
        let rule = format!(
            "the notes last {} beats, but a bar of {meter} has {}",
            (sum * 1000.0).round() / 1000.0,
            meter.beats()
        );
        reader.fault(text.span.start, rule);
        return None;
    };
    let starts = [Tick(0)].into_iter().chain(ends.iter().copied());
    let notes = words.iter().zip(starts.zip(&ends));
    let notes = notes.filter_map(|(word, (at, end))| {
        let (pitch, octave) = word.note?;
        Some(MelodyNote {
            at,
            len: *end - at,
            pitch,
            octave,
            tied: word.tied,
        })
    });
    Some(notes.collect())
}

fn word(written: &str) -> Option<MelodyWord> {
    let (name, beats) = written.split_once(':')?;
    let plain = beats.strip_suffix('~');
    let tied = plain.is_some();
    let beats: f64 = plain.unwrap_or(beats).parse().ok()?;
    if !(beats > 0.0 && beats <= 32.0) {
        return None;
    }
    if name == "-" {
        return (!tied).then_some(MelodyWord {
            note: None,
            beats,
            tied,
        });
    }
    let digits = name.find(|sign: char| sign == '-' || sign.is_ascii_digit())?;
    let (pitch, octave) = name.split_at(digits);
    let octave: i8 = octave
        .parse()
        .ok()
        .filter(|octave| (-1..=9).contains(octave))?;
    let pitch: Pitch = pitch.parse().ok()?;
    (pitch.alter.abs() <= 2).then_some(MelodyWord {
        note: Some((pitch, octave)),
        beats,
        tied,
    })
}
