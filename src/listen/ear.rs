//! The ear: sound in, readings and notes out.

use super::band::Bleed;
use super::begin::Envelope;
use super::decimate::Decimator;
use super::found::Found;
use super::history::History;
use super::notes::Notes;
use super::onset::{BANDS, Rise, Spectrum};
use super::pending::Hop;
use super::pitch::HeardPitch;
use super::setup::{Instrument, Setup};

/// The time between two looks.
const HOP_S: f32 = 0.001_334;

/// Listens to one sound. Everything is causal: what is told while the samples up to some frame are pushed depends on
/// these samples alone, however they are cut into blocks. Nothing is allocated after construction.
pub struct Ear {
    rate: f32,
    factor: usize,
    hop: usize,
    in_hop: usize,
    power_window: usize,
    at: u64,
    fine: History,
    coarse: History,
    decimator: Decimator,
    pitch: HeardPitch,
    spectrum: Spectrum,
    rise: Rise,
    risen_db: f32,
    played: History,
    bleed: Bleed,
    powers: [f32; BANDS],
    expected: [f32; BANDS],
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
        let spectrum = Spectrum::new(rate);
        // About 10 ms; for a bass one period of its lowest note, or every period would be a stroke.
        let power_window = match setup.instrument {
            Instrument::Bass => (rate / (factor as f32 * setup.instrument.range_hz().0)) as usize,
            Instrument::Guitar | Instrument::Voice => 8 * hop / factor,
        };
        Ear {
            rate,
            factor,
            hop,
            in_hop: 0,
            power_window,
            at: 0,
            fine: History::new(pitch.fine_needed().max(spectrum.needed())),
            coarse: History::new(pitch.coarse_needed().max(factor.max(1) * 64)),
            decimator: Decimator::new(factor),
            pitch,
            rise: Rise::new(),
            risen_db: 0.0,
            played: History::new(spectrum.needed()),
            spectrum,
            bleed: Bleed::new(),
            powers: [0.0; BANDS],
            expected: [0.0; BANDS],
            hears_band: false,
            odd: false,
            envelope: Envelope::new(rate),
            notes: Notes::new(setup, hop),
        }
    }

    /// Listens to `sound`, which follows on what was pushed before, and tells what it finds. `band` is what the box
    /// itself played, if it is known: frame by frame beside `sound`, from 0 to 100 ms before it may be heard in it. It
    /// may be shorter; what is missing is silence.
    pub fn push(&mut self, sound: &[f32], band: Option<&[f32]>, out: &mut impl FnMut(Found)) {
        self.hears_band = band.is_some();
        let band = band.unwrap_or_default();
        for (index, &sample) in sound.iter().enumerate() {
            let sample = tame(sample);
            self.fine.push(sample);
            if self.hears_band {
                self.played
                    .push(tame(band.get(index).copied().unwrap_or(0.0)));
            }
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

    fn look_at_spectrum(&mut self) {
        self.powers = self.spectrum.powers(&self.fine);
        let floor = self.notes.floor();
        let mut floors = [floor; BANDS];
        if self.hears_band {
            let played = self.spectrum.powers(&self.played);
            self.expected = self
                .bleed
                .push(&played, &self.powers, self.notes.most_bleed());
            for (floor, expected) in floors.iter_mut().zip(&self.expected) {
                *floor += 2.0 * expected;
            }
        }
        self.risen_db = self.rise.push(&self.powers, &floors);
    }

    /// By how many decibels the newest sound stands out from the bleed where a note of this pitch has its first
    /// partials.
    fn stands_out_db(&self, hz: f32) -> f32 {
        if !self.hears_band || hz <= 0.0 {
            return f32::INFINITY;
        }
        let bands = self.spectrum.bands_of(hz, self.rate);
        let sum = |powers: &[f32; BANDS]| powers[bands.clone()].iter().sum::<f32>();
        10.0 * ((sum(&self.powers) + 1e-14) / (sum(&self.expected) + 1e-14)).log10()
    }

    fn look(&mut self, out: &mut impl FnMut(Found)) {
        self.odd = !self.odd;
        if self.odd {
            self.look_at_spectrum();
        }
        let age = (self.notes.age(self.at) / self.factor as u64) as usize;
        let pitch = self
            .pitch
            .look(&self.coarse, &self.fine, age, self.notes.held_hz());
        let newest = self.coarse.newest(self.power_window);
        let power = newest.iter().map(|x| x * x).sum::<f32>() / newest.len() as f32;
        let hop = Hop {
            at: self.at,
            pitch,
            power_db: 10.0 * (power + 1e-12).log10(),
            risen_db: self.risen_db,
            stands_out_db: self.stands_out_db(pitch.hz),
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
