//! Plays a Standard MIDI File through the synth into a float WAV file, for the comparison with another synth:
//! `play_smf FONT MIDI WAV [effects]`.
// A program of the tests: it reads and writes files.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use std::io::BufReader;
use underfoot::synth::{BLOCK_FRAMES, PresetId, Settings, SoundFont, Synthesizer};

const RATE: u32 = 48_000;
/// What is played after the last event.
const TAIL_S: usize = 3;

type Event = (u64, [u8; 3]);

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [font, midi, wav, rest @ ..] = args.as_slice() else {
        return Err("play_smf FONT MIDI WAV [effects]".into());
    };
    let effects = !rest.is_empty();
    let events = events(&std::fs::read(midi)?)?;
    let file = std::fs::File::open(font)?;
    let size = file.metadata()?.len();
    let font = SoundFont::read(BufReader::new(file), size)?;
    let sounds = font.sounds(&presets(&events), u64::MAX)?;
    let settings = Settings {
        rate_hz: RATE,
        voices: 256,
        reverb: effects,
        chorus: effects,
    };
    let mut synth = Synthesizer::new(sounds, &settings);
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: RATE,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut out = hound::WavWriter::create(wav, spec)?;
    let end = events.last().map_or(0, |(at, _)| *at) as usize + TAIL_S * RATE as usize;
    let mut events = events.into_iter().peekable();
    for block in 0..end / BLOCK_FRAMES {
        // To the nearest block.
        let until = (block * BLOCK_FRAMES + BLOCK_FRAMES / 2) as u64;
        while let Some((_, message)) = events.next_if(|(at, _)| *at < until) {
            synth.message(message);
        }
        let (mut left, mut right) = ([0.0; BLOCK_FRAMES], [0.0; BLOCK_FRAMES]);
        synth.render(&mut left, &mut right);
        for (left, right) in left.into_iter().zip(right) {
            out.write_sample(left)?;
            out.write_sample(right)?;
        }
    }
    Ok(out.finalize()?)
}

/// The channel messages of all tracks in order, with their frames.
fn events(bytes: &[u8]) -> Result<Vec<Event>, Box<dyn std::error::Error>> {
    let smf = midly::Smf::parse(bytes)?;
    let midly::Timing::Metrical(ticks) = smf.header.timing else {
        return Err("timecode".into());
    };
    let mut all = Vec::new();
    for track in &smf.tracks {
        let mut at = 0u64;
        for event in track {
            at += u64::from(event.delta.as_int());
            all.push((at, event.kind));
        }
    }
    all.sort_by_key(|(at, _)| *at);
    let (mut events, mut seconds, mut last, mut quarter_us) = (Vec::new(), 0.0, 0, 500_000.0);
    for (at, kind) in all {
        seconds += (at - last) as f64 / f64::from(ticks.as_int()) * quarter_us * 1e-6;
        last = at;
        if let midly::TrackEventKind::Meta(midly::MetaMessage::Tempo(us)) = kind {
            quarter_us = f64::from(us.as_int());
        } else if let Some(message) = kind.as_live_event() {
            let mut bytes = Vec::new();
            message
                .write(&mut bytes)
                .map_err(|error| error.to_string())?;
            bytes.resize(3, 0);
            let frame = (seconds * f64::from(RATE)).round() as u64;
            events.push((frame, [bytes[0], bytes[1], bytes[2]]));
        }
    }
    Ok(events)
}

/// Every preset that is asked for.
fn presets(events: &[Event]) -> Vec<PresetId> {
    let id = |bank, program| PresetId { bank, program };
    let mut presets = vec![id(0, 0), id(128, 0)];
    for (_, [status, program, _]) in events {
        let bank = if status & 0x0F == 9 { 128 } else { 0 };
        let wanted = id(bank, u16::from(*program));
        if status & 0xF0 == 0xC0 && !presets.contains(&wanted) {
            presets.push(wanted);
        }
    }
    presets
}
