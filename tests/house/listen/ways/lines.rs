//! Lines of recorded notes with a band in them: what the player is told when the band is known, and when it is not.
//!
//! The lines are no part of this project; where they lie is named by `UNDERFOOT_EAR_LINES`, a folder with `labels.json` (`items`: `file`,
//! `set`, `source`, `bleed`, `band`, `notes` with `onset_ac` and `hz`) and sounds of 16 bit, mono.

use super::playing::{Take, Want};
use super::verdicts::{Told, verdicts};
use super::{hits, told_line};
use serde_json::Value;
use std::path::Path;
use underfoot::judging::HeardNote;
use underfoot::listen::{Instrument, Signs};

/// A file, heard once.
pub struct Line {
    pub file: String,
    /// Whether there is a band in it, and whether that was known.
    pub band: Option<bool>,
    pub told: Told,
    /// A line for each note that was told.
    pub notes: Vec<String>,
}

fn samples(path: &Path) -> (Vec<f32>, u32) {
    let mut wav = hound::WavReader::open(path).expect("a sound file");
    let rate = wav.spec().sample_rate;
    let samples = wav.samples::<i16>();
    let samples = samples.map(|sample| f32::from(sample.expect("a sample")) / 32_768.0);
    (samples.collect(), rate)
}

fn take(item: &Value, sound: Vec<f32>) -> Take {
    let want = |note: &Value| {
        let hz = note["hz"].as_f64().expect("a pitch");
        Want {
            at_s: note["onset_ac"].as_f64().expect("an onset"),
            within_s: 0.05,
            names: vec![(69.0 + 12.0 * (hz / 440.0).log2()).round() as u8],
            also: Vec::new(),
        }
    };
    let notes = item["notes"].as_array().expect("notes");
    Take {
        sound,
        wants: notes.iter().map(want).collect(),
    }
}

/// Hears each file; one with a band without knowing it, and knowing it.
pub fn heard(
    folder: &Path,
    hear: impl Fn(&Take, Option<&[f32]>, u32, Instrument) -> (Vec<HeardNote>, Vec<Signs>) + Sync,
) -> Vec<Line> {
    let labels = std::fs::read(folder.join("labels.json")).expect("labels.json");
    let labels: Value = serde_json::from_slice(&labels).expect("labels");
    let items = labels["items"].as_array().expect("items");
    let next = std::sync::Mutex::new(items.iter().enumerate());
    let one = |(index, item): (usize, &Value)| {
        let text = |key: &str| item[key].as_str().map(str::to_string);
        let (file, set) = (text("file").expect("file"), text("set").expect("set"));
        let (sound, rate) = samples(&folder.join(&file));
        let take = take(item, sound);
        let band = text("band").map(|band| samples(&folder.join(band)).0);
        let row = format!("line {set} {}", item["bleed"]);
        let source = text("source").expect("source");
        let instrument = match set.as_str() {
            "bass" => Instrument::Bass,
            _ => Instrument::Guitar,
        };
        let line = |known: bool| {
            let given = band.as_deref().filter(|_| known);
            let (heard, signs) = hear(&take, given, rate, instrument);
            let hits = hits(&take, &heard);
            let notes = heard.iter().zip(hits).zip(signs);
            let told = |((note, hit), signs)| told_line(&source, &row, note, &signs, hit);
            Line {
                file: file.clone(),
                band: band.is_some().then_some(known),
                told: verdicts(&take, &heard),
                notes: notes.map(told).collect(),
            }
        };
        let both: &[bool] = if band.is_some() {
            &[false, true]
        } else {
            &[false]
        };
        (
            index,
            both.iter().map(|known| line(*known)).collect::<Vec<_>>(),
        )
    };
    let one_more = || next.lock().ok()?.next();
    let work = || std::iter::from_fn(one_more).map(one).collect::<Vec<_>>();
    let mut all: Vec<(usize, Vec<Line>)> = std::thread::scope(|scope| {
        let threads = [scope.spawn(work), scope.spawn(work)];
        let done = threads
            .into_iter()
            .map(|thread| thread.join().expect("lines"));
        done.flatten().collect()
    });
    all.sort_by_key(|(index, _)| *index);
    all.into_iter().flat_map(|(_, lines)| lines).collect()
}
