//! The ear: sound in, readings and notes out.

use super::begin::Envelope;
use super::decimate::Decimator;
use super::history::History;
use super::notes::{Heard, Hop, Notes};
use super::onset::{Rise, Spectrum};
use super::pitch::Pitch;
use super::setup::Setup;

/// One look at the pitch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The frame after the newest sample it is made of.
    pub at: u64,
    /// In Hz; none when nothing is heard, or nothing clear.
    pub hz: Option<f32>,
    /// How well the sound repeats, 0 to 1.
    pub confidence: f32,
}

/// What the ear tells. Frames count from the first sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Found {
    /// A look at the pitch; there is one for every hop.
    Reading(Reading),
    /// A note has its name. It never changes later.
    Named(Heard),
    /// The note named last ended here.
    Ended {
        /// The frame.
        off: u64,
    },
}

/// The time between two looks.
const HOP_S: f32 = 0.001_334;

/// Listens to one sound. Everything is causal: what is told while the samples up to some frame are pushed depends on
/// these samples alone, however they are cut into blocks. Nothing is allocated after construction.
pub struct Ear {
    factor: usize,
    hop: usize,
    in_hop: usize,
    at: u64,
    fine: History,
    coarse: History,
    decimator: Decimator,
    pitch: Pitch,
    spectrum: Spectrum,
    rise: Rise,
    risen_db: f32,
    odd: bool,
    envelope: Envelope,
    notes: Notes,
}

impl Ear {
    /// An ear that has heard nothing yet.
    pub fn new(setup: Setup) -> Ear {
        let setup = Setup {
            rate: setup.rate.clamp(8_000, 384_000),
            ..setup
        };
        let rate = setup.rate as f32;
        let factor = (rate / setup.instrument.coarse_hz()).round().max(1.0) as usize;
        let hop = ((HOP_S * rate) as usize / factor).max(1) * factor;
        let pitch = Pitch::new(rate, factor, setup.instrument.range_hz());
        let spectrum = Spectrum::new(rate);
        Ear {
            factor,
            hop,
            in_hop: 0,
            at: 0,
            fine: History::new(pitch.fine_needed().max(spectrum.needed())),
            coarse: History::new(pitch.coarse_needed().max(factor.max(1) * 64)),
            decimator: Decimator::new(factor),
            pitch,
            spectrum,
            rise: Rise::new(),
            risen_db: 0.0,
            odd: false,
            envelope: Envelope::new(rate),
            notes: Notes::new(setup, hop),
        }
    }

    /// How many frames lie between two readings.
    pub fn hop_frames(&self) -> usize {
        self.hop
    }

    /// Listens to `sound`, which follows on what was pushed before, and tells what it finds.
    pub fn push(&mut self, sound: &[f32], out: &mut impl FnMut(Found)) {
        for &sample in sound {
            let sample = if sample.is_finite() {
                sample.clamp(-4.0, 4.0)
            } else {
                0.0
            };
            self.fine.push(sample);
            if let Some(sample) = self.decimator.push(sample) {
                self.coarse.push(sample);
            }
            self.envelope.push(sample);
            self.at += 1;
            self.in_hop += 1;
            if self.in_hop == self.hop {
                self.in_hop = 0;
                self.look(out);
            }
        }
    }

    fn look(&mut self, out: &mut impl FnMut(Found)) {
        self.odd = !self.odd;
        if self.odd {
            let powers = self.spectrum.powers(&self.fine);
            self.risen_db = self.rise.push(&powers, self.notes.floor());
        }
        let age = (self.notes.age(self.at) / self.factor as u64) as usize;
        let pitch = self
            .pitch
            .look(&self.coarse, &self.fine, age, self.notes.held_hz());
        let newest = self.coarse.newest((self.hop / self.factor) * 8);
        let power = newest.iter().map(|x| x * x).sum::<f32>() / newest.len() as f32;
        let hop = Hop {
            at: self.at,
            pitch,
            power_db: 10.0 * (power + 1e-12).log10(),
            risen_db: self.risen_db,
            began: self.at.saturating_sub(self.envelope.began()),
        };
        self.notes.step(&hop, out);
    }
}
