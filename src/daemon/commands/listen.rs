//! `underfoot listen`: the notes of a recording, as the live box hears them.
//!
//! # When is what of a note known?
//!
//! Its line stands in the order of beginnings, and all of it but `off_s` is known at `known_s`: cut the recording short
//! there, and it is told the same. `off_s` is known when the note has ended, and where it had not ended at the cut it is
//! null. It is after `onset_s`; it may be before `known_s` (a short note) and after the next note's `onset_s` (a string
//! that rings on until it is told from the new one).

// It reads files.
#![allow(clippy::disallowed_types)]

use super::listen_input;
use super::listen_task::ListenTask;
use super::output::stdout_failed;
use crate::daemon::args::ListenArgs;
use crate::daemon::files::{Failure, exit, why};
use crate::daemon::setup;
use crate::device::plain_file::open_plain;
use crate::fretboard::Neck;
use crate::listen::{Ear, Found, Heard, InputCheck, InputSetup, Instrument, PitchReading, Setup};
use serde_json::{Value, json};
use std::io::{BufWriter, Write};
use std::path::Path;

/// The longest recording, in seconds.
const LONGEST_S: f64 = 4.0 * 3600.0;
/// How many frames are listened to at once; it changes nothing in the result.
const BLOCK: usize = 4096;

/// `underfoot listen`.
///
/// # Errors
/// When recording, chart or drill cannot be read (65); a stage that is not there (64).
pub fn listen(args: &ListenArgs) -> Result<(), Failure> {
    let task = args
        .chart
        .as_deref()
        .map(|chart| ListenTask::read(chart, args))
        .transpose()?;
    let mut sound = Recording::open(&args.file)?;
    let rate = sound.rate;
    if args.input {
        return listen_input::print(&checked(&mut sound, args.a4 as f32)?, args.json);
    }
    let band = args
        .bleed
        .as_deref()
        .map(|band| band_at(band, rate))
        .transpose()?;
    let mut ear = Ear::new(Setup {
        rate,
        instrument: instrument(&args.instrument),
        a4_hz: args.a4 as f32,
        lowest_hz: setup::lowest_hz(&Neck::default(), args.a4 as f32),
    });
    let mut told = ToldNote::default();
    let mut block = Vec::with_capacity(BLOCK);
    let mut at = 0;
    while sound.next(&mut block)? {
        let band = band
            .as_deref()
            .map(|band| &band[at.min(band.len())..(at + block.len()).min(band.len())]);
        ear.push(&block, band, &mut |found| told.take(found));
        at += block.len();
    }
    // Only now, when the whole recording turned out to be readable: no partial output.
    let mut out = BufWriter::new(std::io::stdout().lock());
    let verdicts = task
        .map(|task| task.lines(&told.notes, at, rate, args.json))
        .unwrap_or_default();
    for line in told.lines(args, rate).chain(verdicts) {
        writeln!(out, "{line}").map_err(stdout_failed)?;
    }
    out.flush().map_err(stdout_failed)
}

/// What its input is like.
fn checked(sound: &mut Recording, a4_hz: f32) -> Result<InputCheck, Failure> {
    let mut check = InputCheck::new(InputSetup {
        rate: sound.rate,
        a4_hz,
        lowest_hz: setup::lowest_hz(&Neck::default(), a4_hz),
    });
    let mut block = Vec::with_capacity(BLOCK);
    while sound.next(&mut block)? {
        check.push(&block);
    }
    Ok(check)
}

fn instrument(name: &str) -> Instrument {
    match name {
        "bass" => Instrument::Bass,
        "voice" => Instrument::Voice,
        _ => Instrument::Guitar,
    }
}

/// The band at the rate of the recording, 50 ms ahead of it: so far it may be early. The ear finds by how much it is late, up
/// to 160 ms.
fn band_at(path: &Path, rate: u32) -> Result<Vec<f32>, Failure> {
    let mut recording = Recording::open(path)?;
    let (mut band, mut block) = (Vec::new(), Vec::with_capacity(BLOCK));
    while recording.next(&mut block)? {
        band.extend_from_slice(&block);
    }
    let step = f64::from(recording.rate) / f64::from(rate);
    let ahead = 0.05 * f64::from(recording.rate);
    let count = ((band.len() as f64 - ahead) / step).max(0.0) as usize;
    let sample = |index: usize| {
        let place = ahead + index as f64 * step;
        let (whole, part) = (place as usize, place.fract() as f32);
        let at = |index: usize| band.get(index).copied().unwrap_or(0.0);
        at(whole) * (1.0 - part) + at(whole + 1) * part
    };
    Ok((0..count).map(sample).collect())
}

/// A recording as it is, one channel.
///
/// # Errors
/// When it cannot be read, or has another rate (65).
pub(super) fn recording_at(path: &Path, rate: u32) -> Result<Vec<f32>, Failure> {
    let mut recording = Recording::open(path)?;
    if recording.rate != rate {
        let (name, has) = (&recording.name, recording.rate);
        let text = format!("{name}: {has} frames a second; the rendering has {rate} (--rate)");
        return Err(Failure::new(exit::DATA, text));
    }
    let (mut sound, mut block) = (Vec::new(), Vec::with_capacity(BLOCK));
    while recording.next(&mut block)? {
        sound.extend_from_slice(&block);
    }
    Ok(sound)
}

/// What the ear told.
#[derive(Default)]
struct ToldNote {
    readings: Vec<PitchReading>,
    notes: Vec<(Heard, Option<u64>)>,
}

impl ToldNote {
    fn take(&mut self, found: Found) {
        match found {
            Found::Reading(reading) => self.readings.push(reading),
            Found::Named(heard) => self.notes.push((heard, None)),
            Found::Ended { off } => {
                if let Some(last) = self.notes.last_mut() {
                    last.1 = Some(off);
                }
            }
        }
    }

    fn lines<'a>(
        &'a self,
        args: &'a ListenArgs,
        rate: u32,
    ) -> Box<dyn Iterator<Item = String> + 'a> {
        if args.frames {
            let line = move |reading| frame_line(reading, rate, args.json);
            return Box::new(self.readings.iter().map(line));
        }
        let line = move |(heard, off): &(Heard, Option<u64>)| note_line(heard, *off, rate, args);
        Box::new(self.notes.iter().map(line))
    }
}

fn seconds(frame: u64, rate: u32) -> f64 {
    frame as f64 / f64::from(rate)
}

fn frame_line(reading: &PitchReading, rate: u32, json: bool) -> String {
    let at = seconds(reading.at, rate);
    if json {
        return json!({"t_s": at, "hz": reading.hz, "confidence": reading.confidence}).to_string();
    }
    let hz = reading.hz.map_or("-".to_string(), |hz| format!("{hz:.2}"));
    format!("{at:10.4} {hz:>9} {:5.2}", reading.confidence)
}

fn note_line(heard: &Heard, off: Option<u64>, rate: u32, args: &ListenArgs) -> String {
    let at = |frame| seconds(frame, rate);
    if args.json {
        // The end is not known while the note sounds on.
        let off = off.map_or(Value::Null, |off| json!(at(off)));
        let mut line = json!({
            "onset_s": at(heard.onset),
            "onset_known_s": at(heard.onset_known),
            "off_s": off,
            "known_s": at(heard.known),
            "midi": heard.midi,
            "cents": heard.cents,
            "confidence": heard.confidence,
            "struck": heard.struck,
            "also": heard.also,
        });
        if args.bleed.is_some() {
            line["band_taken_out"] = json!(heard.band_taken_out);
        }
        return line.to_string();
    }
    let name = [
        "C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B",
    ][usize::from(heard.midi % 12)];
    let octave = i32::from(heard.midi) / 12 - 1;
    format!(
        "{:10.3} {name:>2}{octave} {:+4.0} cents",
        at(heard.onset),
        heard.cents
    )
}

/// A WAV file, read block by block and mixed to one channel.
struct Recording {
    reader: hound::WavReader<std::io::BufReader<std::fs::File>>,
    rate: u32,
    name: String,
}

impl Recording {
    fn open(path: &Path) -> Result<Recording, Failure> {
        let name = path.display().to_string();
        let failed = |rule: String| Failure::new(exit::DATA, format!("{name}: {rule}"));
        let file = open_plain(path)
            .map_err(|error| failed(format!("cannot be read ({})", why(&error))))?;
        let reader = hound::WavReader::new(std::io::BufReader::new(file))
            .map_err(|error| failed(unreadable(&error)))?;
        let spec = reader.spec();
        if !(8_000..=384_000).contains(&spec.sample_rate) {
            return Err(failed(format!(
                "{} frames a second; 8,000 to 384,000 are read",
                spec.sample_rate
            )));
        }
        if !(1..=64).contains(&spec.channels) {
            return Err(failed(format!(
                "{} channels; 1 to 64 are read",
                spec.channels
            )));
        }
        if f64::from(reader.duration()) > LONGEST_S * f64::from(spec.sample_rate) {
            return Err(failed("longer than four hours".to_string()));
        }
        Ok(Recording {
            rate: spec.sample_rate,
            reader,
            name,
        })
    }

    /// The next block of frames; false at the end.
    fn next(&mut self, block: &mut Vec<f32>) -> Result<bool, Failure> {
        block.clear();
        let spec = self.reader.spec();
        let channels = usize::from(spec.channels);
        let most = BLOCK * channels;
        let taken = match spec.sample_format {
            hound::SampleFormat::Float => mix(
                self.reader.samples::<f32>().take(most),
                channels,
                1.0,
                block,
            ),
            hound::SampleFormat::Int => {
                let scale = 1.0 / (1_i64 << (spec.bits_per_sample - 1).min(62)) as f32;
                let samples = self.reader.samples::<i32>().take(most);
                mix(
                    samples.map(|sample| sample.map(|sample| sample as f32)),
                    channels,
                    scale,
                    block,
                )
            }
        };
        taken.map_err(|error| {
            Failure::new(exit::DATA, format!("{}: {}", self.name, unreadable(&error)))
        })?;
        Ok(!block.is_empty())
    }
}

/// What is wrong with a sound file, in words.
fn unreadable(error: &hound::Error) -> String {
    let why = match error {
        hound::Error::IoError(error) if error.kind() == std::io::ErrorKind::UnexpectedEof => {
            "it breaks off".to_string()
        }
        hound::Error::IoError(error) => match error.get_ref() {
            // The library's own words for an end that comes too soon.
            Some(_) => "it breaks off".to_string(),
            None => why(error),
        },
        hound::Error::FormatError(what) => (*what).to_string(),
        _ => "a form of WAV that is not read".to_string(),
    };
    format!("no WAV file that can be read ({why})")
}

fn mix(
    samples: impl Iterator<Item = Result<f32, hound::Error>>,
    channels: usize,
    scale: f32,
    block: &mut Vec<f32>,
) -> Result<(), hound::Error> {
    let (mut sum, mut count) = (0.0, 0);
    for sample in samples {
        sum += sample? * scale;
        count += 1;
        if count == channels {
            block.push(sum / channels as f32);
            (sum, count) = (0.0, 0);
        }
    }
    Ok(())
}
