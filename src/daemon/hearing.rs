//! From sound to what the core is told: what both the offline renderer and the daemon do with a guitar.

use super::input_watch::InputWatch;
use crate::audio::DEAD_MS;
use crate::judging::EarEvent;
use crate::listen::{Found, InputSetup, Instrument, Setup, Stream};
use crate::time::Frame;
use std::sync::Arc;

/// How much of what was heard is kept, in seconds: three megabytes a half minute, at 48,000 frames a second.
const KEPT_S: u64 = 90;
/// The greatest sample in 16 bits.
const FULL: f32 = 32_767.0;
/// What is played back comes and goes in this time, in ms.
const FADE_MS: u64 = 10;

/// What was heard last, to be played back; never more than 90 s, in 16 bits. Until something sounds it takes no memory.
pub struct Past {
    kept: Vec<i16>,
    /// The frame after the newest sample, and how many of those before it are kept.
    end: u64,
    count: u64,
    fade_frames: u64,
    rate: u32,
}

impl Past {
    /// Nothing yet, at `rate` frames a second.
    pub fn new(rate: u32) -> Past {
        Past {
            kept: Vec::new(),
            end: 0,
            count: 0,
            fade_frames: (FADE_MS * u64::from(rate) / 1000).max(1),
            rate,
        }
    }

    /// Frames a second.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// Keeps a block that begins on `frame`. What was lost before it is silence; a step back forgets all.
    pub fn push(&mut self, frame: Frame, sound: &[f32]) {
        if self.kept.is_empty() && sound.iter().any(|sample| *sample != 0.0) {
            self.kept = vec![0; (KEPT_S * u64::from(self.rate)) as usize];
        }
        let room = self.kept.len() as u64;
        if room == 0 {
            return;
        }
        let is_new = self.count == 0 || frame.0 < self.end || frame.0 - self.end >= room;
        if is_new {
            (self.end, self.count) = (frame.0, 0);
        }
        while self.end < frame.0 {
            self.put(0.0);
        }
        sound.iter().for_each(|sample| self.put(*sample));
    }

    fn put(&mut self, sample: f32) {
        let room = self.kept.len() as u64;
        self.kept[(self.end % room) as usize] = (sample * FULL).round() as i16;
        self.end += 1;
        self.count = (self.count + 1).min(room);
    }

    /// Gives all of it back.
    pub fn forget(&mut self) {
        (self.kept, self.count) = (Vec::new(), 0);
    }

    /// What is left in memory of what the player played from one frame up to another, heard so many frames later.
    pub fn all_between(&self, from: Frame, to: Frame, late_frames: i64) -> Vec<i16> {
        let room = (self.kept.len() as u64).max(1);
        let heard = |frame: Frame| frame.0.saturating_add_signed(late_frames);
        let first = heard(from).max(self.end - self.count);
        let kept = first..heard(to).min(self.end);
        kept.map(|at| self.kept[(at % room) as usize]).collect()
    }

    /// What the player played from one frame up to another, heard so many frames later; its beginning is silence where
    /// it is not kept any more. None where nothing of it is.
    pub fn between(&self, from: Frame, to: Frame, late_frames: i64) -> Option<Arc<[f32]>> {
        let room = self.kept.len() as u64;
        let heard = |frame: Frame| frame.0.saturating_add_signed(late_frames);
        let (from, to) = (heard(from), heard(to).min(self.end));
        let first = self.end - self.count;
        if to <= from.max(first) || to - from > room {
            return None;
        }
        let sample = |at: u64| match at < first {
            true => 0.0,
            false => {
                let fade = (at - from + 1).min(to - at).min(self.fade_frames) as f32;
                let sample = f32::from(self.kept[(at % room) as usize]) / FULL;
                sample * fade / self.fade_frames as f32
            }
        };
        Some((from..to).map(sample).collect())
    }
}

/// How often it is told how far the ear is, in ms.
const TELL_EVERY_MS: u64 = 20;
/// How often a reading of the pitch is told, in ms.
const READ_EVERY_MS: u64 = 100;

/// Listens, and tells notes on the frames on which the player meant them.
pub struct Listener {
    stream: Stream,
    /// What lies between what the player heard and what is heard of the player.
    latency_frames: i64,
    tell_every: u64,
    told: u64,
    readings: bool,
    read_at: u64,
    dead_frames: u64,
    watch: Option<InputWatch>,
}

impl Listener {
    /// Nothing was heard yet. `latency_frames`: the whole way round, from the frame on which something is played to
    /// the frame on which it comes back.
    pub fn new(setup: Setup, latency_frames: i64) -> Listener {
        Listener {
            stream: Stream::new(setup),
            latency_frames,
            tell_every: TELL_EVERY_MS * u64::from(setup.rate) / 1000,
            told: 0,
            readings: false,
            read_at: 0,
            dead_frames: 0,
            watch: None,
        }
    }

    /// Whether readings of the pitch are told now and then, for tuning.
    pub fn tell_readings(&mut self, wanted: bool) {
        self.readings = wanted;
    }

    /// Whether it is told what the input is like.
    pub fn watch_input(&mut self, wanted: Option<InputSetup>) {
        match wanted {
            Some(setup) if self.watch.is_none() => self.watch = Some(InputWatch::new(setup)),
            Some(_) => {}
            None => self.watch = None,
        }
    }

    /// The player is known to be so loud, in dB of full scale.
    pub fn expect(&mut self, level_db: Option<f32>) {
        self.stream.expect(level_db);
    }

    /// The way round has changed.
    pub fn set_latency(&mut self, frames: i64) {
        self.latency_frames = frames;
    }

    /// Listens for another instrument from now on.
    pub fn listen_for(&mut self, instrument: Instrument) {
        self.stream.listen_for(instrument);
    }

    /// How long the input has been without any signal at all: nothing is plugged in, or the cable is out.
    fn is_dead(&mut self, sound: &[f32]) -> bool {
        if sound.iter().any(|sample| *sample != 0.0) {
            self.dead_frames = 0;
        } else {
            self.dead_frames += sound.len() as u64;
        }
        self.dead_frames > DEAD_MS * self.tell_every / TELL_EVERY_MS
    }

    /// Listens to a block that begins on `frame`, with what was played meanwhile beside it.
    pub fn push(&mut self, frame: Frame, sound: &[f32], played: &[f32], out: &mut Vec<EarEvent>) {
        let dead = self.is_dead(sound);
        let latency = self.latency_frames;
        let (readings, read_every) = (
            self.readings,
            READ_EVERY_MS * self.tell_every / TELL_EVERY_MS,
        );
        let read_at = &mut self.read_at;
        let meant = |at: u64| Frame(at.saturating_add_signed(-latency));
        // A dead input costs nothing: what is not listened to is a gap.
        if !dead {
            self.stream
                .push(frame.0, sound, Some(played), &mut |found| match found {
                    Found::Reading(reading) => {
                        let due = reading.at < *read_at || reading.at >= *read_at + read_every;
                        if readings && due {
                            *read_at = reading.at;
                            out.push(EarEvent::Reading { hz: reading.hz });
                        }
                    }
                    Found::Named(heard) => out.push(EarEvent::Began {
                        onset: meant(heard.onset),
                        midi: heard.midi,
                        cents: heard.cents,
                        confidence: heard.confidence,
                        also: heard.also,
                        struck: heard.struck,
                    }),
                    Found::Ended { off } => out.push(EarEvent::Ended { off: meant(off) }),
                });
        }
        let report = self.watch.as_mut();
        let report = report.and_then(|watch| watch.push(sound, played));
        out.extend(report.map(EarEvent::Input));
        let upto = frame.0 + sound.len() as u64;
        if upto < self.told || upto >= self.told + self.tell_every {
            self.told = upto;
            out.push(EarEvent::Upto { frame: meant(upto) });
        }
    }
}
