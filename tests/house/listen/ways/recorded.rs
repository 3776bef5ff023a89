//! Recorded notes in the place of the string model: one instrument's notes, played at any pitch near their own, and gliding as
//! the model does. The notes are no part of this project; where they lie is named by `UNDERFOOT_REAL_NOTES`, a folder with
//! `labels.json` (a list: `file`, `source`, `articulation`, `midi`, `onset_s`) and `notes/*.flac`, mono.

use super::string::{RATE, Sounding, pitch_at};
use flac_codec::decode::FlacSampleReader;
use serde_json::Value;
use std::path::Path;

/// One note.
struct Note {
    midi: f64,
    sound: Vec<f32>,
    rate: f64,
    onset_s: f64,
}

/// The picked notes of one instrument.
pub struct Recorded {
    pub source: String,
    notes: Vec<Note>,
}

/// The level of a note's first quarter second before it is played louder or softer.
const LEVEL: f64 = 0.35;
/// What is not struck begins so long after the stroke that was recorded.
const AFTER_STROKE_S: f64 = 0.03;

impl Recorded {
    /// All instruments of a folder.
    pub fn read(folder: &Path) -> Vec<Recorded> {
        let labels = std::fs::read(folder.join("labels.json")).expect("labels.json");
        let labels: Vec<Value> = serde_json::from_slice(&labels).expect("a list");
        let mut all: Vec<Recorded> = Vec::new();
        for label in labels
            .iter()
            .filter(|label| label["articulation"] == "picked")
        {
            let source = label["source"].as_str().expect("a source").to_string();
            let file = label["file"].as_str().expect("a file");
            let note = Note::read(&folder.join("notes").join(file), label);
            match all.iter_mut().find(|recorded| recorded.source == source) {
                Some(recorded) => recorded.notes.push(note),
                None => all.push(Recorded {
                    source,
                    notes: vec![note],
                }),
            }
        }
        all
    }

    /// The lowest and the highest of its notes.
    pub fn range(&self) -> (u8, u8) {
        let midi = || self.notes.iter().map(|note| note.midi as u8);
        (midi().min().unwrap_or(0), midi().max().unwrap_or(0))
    }

    /// Plays a note as the model would: its pitch, level and length. Each time it is another one of those nearest to the pitch.
    pub fn add(&self, sound: &mut [f32], string: &Sounding) {
        let rate = f64::from(RATE);
        let from = (string.at_s * rate) as usize;
        let first = string.pitch[0].1;
        let far = |note: &Note| (note.midi - first).abs();
        let least = self.notes.iter().map(far).fold(f64::INFINITY, f64::min);
        let near: Vec<&Note> = self
            .notes
            .iter()
            .filter(|n| far(n) <= least + 0.1)
            .collect();
        let note = near[from / 7 % near.len()];
        let is_struck = string.noise >= 0.2;
        let into_s = if is_struck { 0.0 } else { AFTER_STROKE_S };
        // Softer partials die sooner where the model's do: by one rate for all of them.
        let dies = (string.dies.0 - 0.8).max(0.0) + 3.0 * (string.dies.1 - 0.35).max(0.0);
        let (mut place, lead) = (
            into_s,
            if is_struck {
                note.onset_s.min(0.02)
            } else {
                0.0
            },
        );
        place -= lead;
        let begin = from.saturating_sub((lead * rate) as usize);
        for n in 0..((string.long_s + lead) * rate) as usize {
            let t = (n as f64 / rate - lead).max(0.0);
            let end = ((string.long_s - t) / string.damped_s).clamp(0.0, 1.0);
            let rise = if is_struck {
                1.0
            } else {
                (t / string.rises_s).min(1.0)
            };
            let value = note.at(note.onset_s + place);
            if let Some(to) = sound.get_mut(begin + n) {
                *to += (LEVEL * string.level * rise * end * (-dies * t).exp() * value) as f32;
            }
            let semitones = pitch_at(&string.pitch, t) - note.midi;
            place += (semitones / 12.0).exp2() / rate;
        }
    }
}

impl Note {
    fn read(file: &Path, label: &Value) -> Note {
        let mut reader = FlacSampleReader::open(file).expect("a FLAC file");
        let rate = f64::from(flac_codec::metadata::Metadata::sample_rate(
            reader.metadata(),
        ));
        let mut samples = Vec::new();
        reader.read_to_end(&mut samples).expect("samples");
        let mut sound: Vec<f32> = samples.iter().map(|sample| *sample as f32).collect();
        let onset_s = label["onset_s"].as_f64().expect("an onset");
        let first = (onset_s * rate) as usize;
        let quarter = &sound[first..sound.len().min(first + (0.25 * rate) as usize)];
        let level = (super::effects::power(quarter)).sqrt();
        sound.iter_mut().for_each(|sample| *sample /= level);
        Note {
            midi: label["midi"].as_f64().expect("a MIDI note"),
            sound,
            rate,
            onset_s,
        }
    }

    /// The sound between its samples: a cubic through four of them (Catmull and Rom, 1974; from memory).
    fn at(&self, seconds: f64) -> f64 {
        let place = (seconds * self.rate).max(0.0);
        let (whole, t) = (place as usize, place.fract());
        let sample = |back: usize| {
            f64::from(
                *self
                    .sound
                    .get((whole + back).saturating_sub(1))
                    .unwrap_or(&0.0),
            )
        };
        let (a, b, c, d) = (sample(0), sample(1), sample(2), sample(3));
        b + 0.5 * t * (c - a + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a)))
    }
}
