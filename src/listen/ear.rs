//! The ear: sound in, readings and notes out.

use super::begin::Envelope;
use super::cancel::Canceller;
use super::decimate::Decimator;
use super::found::{Found, Heard, PitchReading};
use super::history::History;
use super::notes::Notes;
use super::onset::{BANDS, Rise, Spectrum};
use super::pending::Hop;
use super::pitch::HeardPitch;
use super::ringing::Without;
use super::setup::{Instrument, Setup};

/// The time between two looks.
const HOP_S: f32 = 0.001_334;

/// Listens to one sound. Everything is causal: what is told while the samples up to some frame are pushed depends on
/// these samples alone, however they are cut into blocks. Nothing is allocated after construction.
pub struct Ear {
    factor: usize,
    hop: usize,
    in_hop: usize,
    power_window: usize,
    at: u64,
    fine: History,
    coarse: History,
    decimator: Decimator,
    pitch: HeardPitch,
    without: Without,
    spectrum: Spectrum,
    rise: Rise,
    risen_db: f32,
    canceller: Canceller,
    /// The frame after the last one that was pushed, and that after the last one before the band was known.
    arrived: u64,
    band_from: u64,
    block: Vec<f32>,
    powers: [f32; BANDS],
    hears_band: bool,
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
        let string = setup.instrument != Instrument::Voice;
        let pitch = HeardPitch::new(rate, factor, setup.instrument.range_hz(), string);
        let without = Without::new(rate, factor, setup.instrument);
        let canceller = Canceller::new(rate);
        let spectrum = Spectrum::new(rate);
        // About 10 ms; for a bass one period of its lowest note, or every period would be a stroke.
        let power_window = match setup.instrument {
            Instrument::Bass => (rate / (factor as f32 * setup.instrument.range_hz().0)) as usize,
            Instrument::Guitar | Instrument::Voice => 8 * hop / factor,
        };
        Ear {
            factor,
            hop,
            in_hop: 0,
            power_window,
            at: 0,
            fine: History::new(
                pitch
                    .fine_needed()
                    .max(spectrum.needed())
                    .max(without.needed(setup.instrument.range_hz().0)),
            ),
            coarse: History::new(pitch.coarse_needed().max(factor.max(1) * 64)),
            decimator: Decimator::new(factor),
            pitch,
            without,
            rise: Rise::new(),
            risen_db: 0.0,
            spectrum,
            block: Vec::with_capacity(canceller.block()),
            canceller,
            arrived: 0,
            band_from: 0,
            powers: [0.0; BANDS],
            hears_band: false,
            odd: false,
            envelope: Envelope::new(rate),
            notes: Notes::new(setup, hop),
        }
    }

    /// Listens to `sound`, which follows on what was pushed before, and tells what it finds. `band` is what the box
    /// itself played, if it is known: frame by frame beside `sound`, from 0 to 160 ms before it may be heard in it. It
    /// may be shorter; what is missing is silence. With a band sound is taken in blocks of some 1.3 ms.
    pub fn push(&mut self, sound: &[f32], band: Option<&[f32]>, out: &mut impl FnMut(Found)) {
        if self.hears_band != band.is_some() {
            self.hears_band = band.is_some();
            self.block.clear();
            self.block.extend(self.canceller.rest());
            self.hear(out);
            self.band_from = self.arrived;
        }
        let Some(band) = band else {
            for &sample in sound {
                self.arrived += 1;
                self.take(tame(sample), out);
            }
            return;
        };
        for (index, &sample) in sound.iter().enumerate() {
            self.arrived += 1;
            let played = tame(band.get(index).copied().unwrap_or(0.0));
            if let Some(clean) = self.canceller.push(tame(sample), played) {
                self.block.clear();
                self.block.extend_from_slice(clean);
                self.hear(out);
            }
        }
    }

    /// Hears a block whose last frame arrived just now: nothing of it was known before.
    fn hear(&mut self, out: &mut impl FnMut(Found)) {
        let block = std::mem::take(&mut self.block);
        let takes_out = self.canceller.takes_out();
        let (from, len) = (self.band_from, self.canceller.block() as u64);
        let arrived = |frame: u64| frame.saturating_sub(from).next_multiple_of(len) + from;
        let mut tell = |found| {
            out(match found {
                Found::Named(heard) => Found::Named(Heard {
                    known: arrived(heard.known),
                    onset_known: arrived(heard.onset_known),
                    band_taken_out: takes_out,
                    ..heard
                }),
                Found::Reading(reading) => Found::Reading(PitchReading {
                    at: arrived(reading.at),
                    ..reading
                }),
                ended => ended,
            });
        };
        for &sample in &block {
            self.take(sample, &mut tell);
        }
        self.block = block;
    }

    fn take(&mut self, sample: f32, out: &mut impl FnMut(Found)) {
        self.fine.push(sample);
        self.without.push(&self.fine);
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

    fn look_at_spectrum(&mut self) {
        self.powers = self.spectrum.powers(&self.fine);
        let floors = [self.notes.floor(); BANDS];
        let looks = self.notes.period_frames() / (2 * self.hop) as f32;
        let looks = looks.ceil() as usize + 2;
        self.risen_db = self.rise.push(&self.powers, &floors, looks);
    }

    fn look(&mut self, out: &mut impl FnMut(Found)) {
        self.odd = !self.odd;
        if self.odd {
            self.look_at_spectrum();
        }
        let age = (self.notes.age(self.at) / self.factor as u64) as usize;
        let held_hz = self.notes.held_hz();
        let whole = self.pitch.look(&self.coarse, &self.fine, age, held_hz);
        self.without.leave_out(self.notes.ringing_hz(), &self.fine);
        let pitch = self.without.clearer(whole, age, held_hz);
        let newest = self.coarse.newest(self.power_window);
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

/// A sample that can harm nothing.
fn tame(sample: f32) -> f32 {
    if sample.is_finite() {
        sample.clamp(-4.0, 4.0)
    } else {
        0.0
    }
}
