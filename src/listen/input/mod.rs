//! What an input is like: how loud, how quiet, whether it hums or clips, how it is tuned, what is plugged in.
//!
//! What is measured can be told from any playing, without asking for a certain note: the
//! tops of the waves, the sound of the pauses, and the notes that an ear names. Nothing is told before somebody has
//! played: a hum alone has pitch and level, too, but neither strokes nor pauses.

mod clipping;
mod hum;
mod levels;
mod sine;
mod strings;

use super::ear::Ear;
use super::found::Found;
use super::history::History;
use super::setup::{Instrument, Setup};
use crate::device::InputReport;
use clipping::Tops;
use hum::Pauses;
use levels::Levels;
use strings::{PlayedNote, PlayedNotes};

/// Playing stands so far above the pauses, or nobody plays.
const PLAYS_DB: f32 = 12.0;
/// Notes that must have been heard before anything is told of who plays.
const NOTES: usize = 4;
/// ... and for so long.
const LISTENED_S: f32 = 4.0;
/// So much of a note is looked at when it has its name, and how many samples are taken in at once.
const NAMED_S: f32 = 0.15;
const AT_ONCE: usize = 64;
/// An input under this has nothing plugged in.
const NOTHING_DB: f32 = -75.0;

/// What is to be known beforehand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InputSetup {
    /// Frames a second.
    pub rate: u32,
    /// The A above middle C in Hz.
    pub a4_hz: f32,
    /// The lowest open string of the guitar, in Hz: who plays well below it has a bass.
    pub lowest_hz: f32,
}

/// Listens to an input until it is known what it is like.
pub struct InputCheck {
    setup: InputSetup,
    ear: Ear,
    frames: u64,
    levels: Levels,
    tops: Tops,
    pauses: Pauses,
    newest: History,
    notes: PlayedNotes,
}

impl InputCheck {
    /// Nothing was heard yet.
    pub fn new(setup: InputSetup) -> InputCheck {
        let rate = setup.rate.clamp(8_000, 384_000);
        let setup = InputSetup { rate, ..setup };
        // The ear for a bass hears a guitar's notes, too (the highest an octave low, which is no other tuning); the other way
        // round it would not.
        let ear = Ear::new(Setup {
            rate,
            instrument: Instrument::Bass,
            a4_hz: setup.a4_hz,
            lowest_hz: 0.0,
        });
        InputCheck {
            setup,
            ear,
            frames: 0,
            levels: Levels::new(rate),
            tops: Tops::default(),
            pauses: Pauses::new(rate),
            newest: History::new((NAMED_S * rate as f32) as usize + AT_ONCE),
            notes: PlayedNotes::default(),
        }
    }

    /// Listens to what follows. What the box played itself does not belong into it.
    pub fn push(&mut self, sound: &[f32]) {
        for sample in sound {
            let sample = if sample.is_finite() { *sample } else { 0.0 };
            self.levels.push(sample);
            self.tops.push(sample);
            self.pauses.push(sample);
        }
        let mut sound = sound;
        while !sound.is_empty() {
            // The same steps, however it comes in.
            let room = AT_ONCE - (self.frames % AT_ONCE as u64) as usize;
            let (now, later) = sound.split_at(sound.len().min(room));
            self.hear(now);
            sound = later;
        }
    }

    fn hear(&mut self, sound: &[f32]) {
        self.frames += sound.len() as u64;
        self.newest.extend(sound);
        let long = (NAMED_S * self.setup.rate as f32) as usize;
        let (newest, notes) = (&self.newest, &mut self.notes);
        let per_sample = std::f64::consts::TAU / f64::from(self.setup.rate);
        let a4_hz = f64::from(self.setup.a4_hz);
        self.ear.push(sound, None, &mut |found| {
            if let Found::Named(heard) = found {
                let exact = f32::from(heard.midi) + heard.cents / 100.0;
                let hz = a4_hz * ((f64::from(exact) - 69.0) / 12.0).exp2();
                let sound = (newest.newest(long), per_sample * hz);
                notes.push(PlayedNote::new(exact, heard.level_db, sound));
            }
        });
    }

    /// What is known by now.
    pub fn report(&self) -> InputReport {
        let noise_db = self.levels.quiet_db();
        let above = PLAYS_DB + noise_db.unwrap_or(NOTHING_DB);
        let notes = self.notes.above(above);
        let plays = notes.len() >= 2;
        let listened_s = self.frames as f32 / self.setup.rate as f32;
        let is_sure = listened_s >= LISTENED_S && (notes.len() >= NOTES || !plays);
        InputReport {
            listened_s,
            peak_db: self.levels.peak_db(),
            level_db: strings::level_db(&notes).filter(|_| plays),
            noise_db,
            hum: self.pauses.hum(),
            clipped: self.tops.cut(),
            notes: notes.len(),
            tuning_cents: strings::mean_cents(&notes).filter(|_| plays),
            strings: strings::which(&notes, self.setup.a4_hz, self.setup.lowest_hz),
            is_sure,
        }
    }
}
