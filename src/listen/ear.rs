//! The ear: sound in, readings and notes out.

use super::added::AddedNotes;
use super::begin::Envelope;
use super::cancel::Canceller;
use super::decimate::{Decimator, dot};
use super::echo::Echo;
use super::found::{Found, Heard, PitchReading};
use super::history::History;
use super::notes::Notes;
use super::onset::{BANDS, Rise, Spectrum};
use super::pending::Hop;
use super::pitch::{HeardPitch, Look};
use super::ringing::Without;
use super::setup::{Instrument, Setup};
use super::strokes::LEAST_RISE_DB;

/// The time between two looks.
const HOP_S: f32 = 0.001_334;
/// Samples that are taken in at once, at most.
const AT_ONCE: usize = 64;
/// Under this nothing is looked at: less than any note has.
const SILENT_DB: f32 = -75.0;

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
    added: AddedNotes,
    spectrum: Spectrum,
    rise: Rise,
    risen_db: f32,
    canceller: Canceller,
    echo: Echo,
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
        let pitch = HeardPitch::new(rate, factor, hop, setup.instrument.range_hz(), string);
        let without = Without::new(rate, factor, hop, setup.instrument);
        let added = AddedNotes::new(rate / factor as f32, setup.instrument.range_hz());
        let decimator = Decimator::new(factor);
        let canceller = Canceller::new(rate);
        let echo = Echo::new(factor, added.needed(0.3));
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
            fine: History::with_energies(
                pitch
                    .fine_needed()
                    .max(spectrum.needed())
                    .max(decimator.needed(hop))
                    .max(without.needed(setup.instrument.range_hz().0)),
            ),
            coarse: History::with_energies(
                pitch
                    .coarse_needed()
                    .max(factor.max(1) * 64)
                    .max(added.needed(0.3)),
            ),
            decimator,
            pitch,
            without,
            added,
            rise: Rise::new(),
            risen_db: 0.0,
            spectrum,
            block: Vec::with_capacity(canceller.block()),
            canceller,
            echo,
            arrived: 0,
            band_from: 0,
            powers: [0.0; BANDS],
            hears_band: false,
            odd: false,
            envelope: Envelope::new(rate),
            notes: Notes::new(setup, hop),
        }
    }

    /// The player's notes are about so loud, in dB of full scale: what is far softer is none, from the first moment on.
    pub fn expect(&mut self, level_db: f32) {
        self.notes.player_db = self.notes.player_db.max(level_db);
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
            self.echo.forget();
        }
        let mut at = 0;
        while at < sound.len() {
            let most = match band {
                None => AT_ONCE,
                Some(_) => self.canceller.room().min(AT_ONCE),
            };
            let now = &sound[at..sound.len().min(at + most)];
            let heard = tame(now);
            self.arrived += now.len() as u64;
            match band {
                None => self.take(&heard[..now.len()], out),
                Some(band) => {
                    let played = tame(band.get(at..).unwrap_or_default());
                    let (heard, played) = (&heard[..now.len()], &played[..now.len()]);
                    if let Some(clean) = self.canceller.push(heard, played) {
                        self.block.clear();
                        self.block.extend_from_slice(clean);
                        self.echo.extend(self.canceller.taken());
                        self.hear(out);
                    }
                }
            }
            at += now.len();
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
        self.take(&block, &mut tell);
        self.block = block;
    }

    fn take(&mut self, mut sound: &[f32], out: &mut impl FnMut(Found)) {
        while !sound.is_empty() {
            let (now, later) = sound.split_at(sound.len().min(self.hop - self.in_hop));
            self.fine.extend(now);
            self.envelope.extend(now);
            self.at += now.len() as u64;
            self.in_hop += now.len();
            if self.in_hop == self.hop {
                self.in_hop = 0;
                self.decimator.pass(&self.fine, self.hop, &mut self.coarse);
                self.look(out);
            }
            sound = later;
        }
    }

    fn look_at_spectrum(&mut self) {
        self.powers = self.spectrum.powers(&self.fine);
        let floor = self.notes.floor();
        let looks = self.notes.period_frames() / (2 * self.hop) as f32;
        let looks = looks.ceil() as usize + 2;
        self.risen_db = self.rise.push(&self.powers, floor, looks);
    }

    fn look(&mut self, out: &mut impl FnMut(Found)) {
        self.odd = !self.odd;
        if self.odd {
            self.look_at_spectrum();
        }
        let newest = self.coarse.newest(self.power_window);
        let power_db = 10.0 * (dot(newest, newest) / newest.len() as f32 + 1e-12).log10();
        self.pitch.pass();
        self.without.pass(self.notes.ringing_hz());
        // In silence there is no pitch to look for, and where nothing has risen no beginning.
        let pitch = if power_db < SILENT_DB {
            Look::default()
        } else {
            self.look_at_pitch()
        };
        let out_of_silence = self.notes.is_out_of_silence(power_db);
        let began = if self.risen_db > LEAST_RISE_DB || out_of_silence {
            self.envelope.began()
        } else {
            0
        };
        let hop = Hop {
            at: self.at,
            pitch,
            power_db,
            risen_db: self.risen_db,
            out_of_silence,
            began: self.at.saturating_sub(began),
            band_open: self.hears_band && self.canceller.is_open(),
        };
        let (added, coarse, echo) = (&mut self.added, &self.coarse, self.echo.coarse());
        let echo = self.hears_band.then_some(echo);
        let (at, factor) = (self.at, self.factor as u64);
        let mut of = |onset: u64, hz: f32| {
            let age = (at.saturating_sub(onset) / factor) as usize;
            added.look(coarse, echo, age, hz)
        };
        self.notes.step(&hop, &mut of, out);
    }

    fn look_at_pitch(&mut self) -> Look {
        let age = (self.notes.age(self.at) / self.factor as u64) as usize;
        let held_hz = self.notes.held_hz();
        let whole = self.pitch.look(&self.coarse, &self.fine, age, held_hz);
        self.without.clearer(whole, &self.fine, age, held_hz)
    }
}

/// Samples that can harm nothing.
fn tame(samples: &[f32]) -> [f32; AT_ONCE] {
    let mut tame = [0.0; AT_ONCE];
    for (to, &sample) in tame.iter_mut().zip(samples) {
        let clamped = sample.clamp(-4.0, 4.0);
        *to = if sample.is_finite() { clamped } else { 0.0 };
    }
    tame
}
