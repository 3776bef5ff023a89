//! The band's synthesizer: General MIDI programs of a SoundFont.

use super::mixer::Ramp;
use super::seats::{BAND_PARTS, Seats};
use super::soundfont;
use super::trims::Trims;
use crate::synth::{FontError, PresetId, Settings, SoundFont, Sounds, Synthesizer};
use crate::time::Part;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, sync_channel};

/// How the band sounds.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// What each part plays on, where it stands and how much room is around it.
    pub seats: Seats,
    /// Whether there is a reverb. Without it nothing comes of what is sent there.
    pub reverb: bool,
    /// How much goes to the chorus, 0 to 127. At 0 there is none.
    pub chorus: u8,
    /// The pitch of A4 in Hz, 400 to 480; clamped.
    pub a4_hz: f64,
    /// The most synthesizer voices, 8 to 256; clamped; above them the quietest gives way. One note of a SoundFont may take two.
    pub polyphony: usize,
    /// What brings each sound to its place in the balance.
    pub trims: Trims,
}

impl Default for Band {
    fn default() -> Band {
        Band {
            seats: Seats::default(),
            reverb: true,
            chorus: 0,
            a4_hz: 440.0,
            polyphony: 64,
            trims: Trims::default(),
        }
    }
}

impl Band {
    /// How far the tuning lies from A4 = 440 Hz, in cents.
    pub(crate) fn tuning_cents(&self) -> f64 {
        1200.0 * (clamp_a4(self.a4_hz) / 440.0).log2()
    }

    /// The preset of a part.
    pub(crate) fn preset(&self, part: Part) -> PresetId {
        let bank = if part == Part::Drums { DRUMS_BANK } else { 0 };
        PresetId {
            bank,
            program: self.seats.of(part).program.min(127).into(),
        }
    }

    /// What it plays with: the samples of its presets and no others. Reads them where they were not read before.
    ///
    /// # Errors
    /// When they cannot be read any more, or the memory does not suffice.
    pub fn sounds(&self, font: &SoundFont) -> Result<Arc<Sounds>, FontError> {
        let mut presets = BAND_PARTS.map(|part| self.preset(part)).to_vec();
        presets.extend(has_brushes(font).then_some(BRUSHES));
        font.sounds(&presets, soundfont::room_bytes())
    }
}

/// The kit of brushes (General MIDI 2), which a SoundFont may have.
const BRUSHES: PresetId = PresetId {
    bank: DRUMS_BANK,
    program: 40,
};
/// The channel on which it plays, beside the kit that is always there.
const BRUSHES_CHANNEL: u8 = 10;

fn has_brushes(font: &SoundFont) -> bool {
    font.stand_in(BRUSHES) == Some(BRUSHES)
}

/// A pitch of A4 that can be tuned to.
pub(crate) fn clamp_a4(a4_hz: f64) -> f64 {
    if a4_hz.is_finite() {
        a4_hz.clamp(400.0, 480.0)
    } else {
        440.0
    }
}

/// Why there is no synthesizer.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SynthError {
    /// No sound card runs at this rate.
    #[error("a clock of {0} frames a second cannot be played at (8,000 to 768,000)")]
    Rate(u32),
    /// The SoundFont's samples cannot be had.
    #[error("{0}")]
    Font(#[from] FontError),
}

/// Where drum kits lie (SoundFont 2.04, section 7.2).
const DRUMS_BANK: u16 = 128;
/// A brush that taps and one that sweeps, as the band strikes them.
const BRUSH_TAP: u8 = 40;
const BRUSH_SWEEP: u8 = 25;

/// Makes a synth for each take. Making one takes milliseconds that no start has, so the next is made on a thread of its
/// own as soon as one is taken.
pub(crate) struct SynthMaker {
    font: Option<Arc<SoundFont>>,
    band: Band,
    rate: u32,
    ready: Option<Box<Synth>>,
    coming: Option<Receiver<Box<Synth>>>,
}

impl SynthMaker {
    /// # Errors
    /// When the samples cannot be read.
    pub(crate) fn new(
        font: Option<Arc<SoundFont>>,
        band: Band,
        rate: u32,
    ) -> Result<SynthMaker, SynthError> {
        let ready = match &font {
            Some(font) => Some(Box::new(Synth::new(font, &band, rate)?)),
            None => None,
        };
        Ok(SynthMaker {
            font,
            band,
            rate,
            ready,
            coming: None,
        })
    }

    /// Whether there is a SoundFont.
    pub(crate) fn has_font(&self) -> bool {
        self.font.is_some()
    }

    /// A fresh synth; none without a SoundFont. Two within the milliseconds that one takes have to wait for it.
    pub(crate) fn take(&mut self) -> Option<Box<Synth>> {
        let font = self.font.clone()?;
        let coming = |maker: &mut SynthMaker| maker.coming.take()?.recv().ok();
        let ready = self.ready.take().or_else(|| coming(self));
        let (band, rate) = (self.band.clone(), self.rate);
        // The same samples were there in new().
        let make = move || Synth::new(&font, &band, rate).ok().map(Box::new);
        let synth = ready.or_else(&make);
        let (made, coming) = sync_channel(1);
        // Whoever wanted it may be gone.
        let work = move || make().map(|synth| made.send(synth));
        let thread = std::thread::Builder::new().name("synth".into()).spawn(work);
        self.coming = thread.ok().map(|_| coming);
        synth
    }
}

/// What a band plays on that joins a player which was made without. Making it takes its time: not on the thread that is to hear
/// presses.
pub struct LateBand {
    pub(super) maker: SynthMaker,
    pub(super) rate: u32,
}

impl std::fmt::Debug for LateBand {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("LateBand")
            .field("rate", &self.rate)
            .finish_non_exhaustive()
    }
}

impl LateBand {
    /// For a player of this rate.
    ///
    /// # Errors
    /// When the samples cannot be read.
    pub fn new(font: Arc<SoundFont>, band: Band, rate: u32) -> Result<LateBand, SynthError> {
        let maker = SynthMaker::new(Some(font), band, rate)?;
        Ok(LateBand { maker, rate })
    }
}

/// A synthesizer with the band's programs, pans, sends and tuning set.
pub struct Synth {
    inner: Synthesizer,
    band: Band,
    /// Whether the SoundFont has brushes.
    brushes: bool,
    /// The volume last set on each of the band's channels.
    volumes: [u16; BAND_PARTS.len()],
}

impl std::fmt::Debug for Synth {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Synth")
            .field("band", &self.band)
            .finish_non_exhaustive()
    }
}

impl Synth {
    /// Allocates: never on the audio thread.
    ///
    /// # Errors
    /// When the samples cannot be read.
    pub fn new(font: &Arc<SoundFont>, band: &Band, rate: u32) -> Result<Synth, SynthError> {
        let settings = Settings {
            rate_hz: rate,
            voices: band.polyphony.clamp(8, 256),
            reverb: band.reverb,
            chorus: band.chorus > 0,
        };
        let inner = Synthesizer::new(band.sounds(font)?, &settings);
        let mut synth = Synth {
            inner,
            band: band.clone(),
            brushes: has_brushes(font),
            volumes: [u16::MAX; BAND_PARTS.len()],
        };
        synth.set_up();
        synth.trim();
        Ok(synth)
    }

    /// Programs, pans, sends and tuning.
    fn set_up(&mut self) {
        let cents = self.band.tuning_cents();
        for part in BAND_PARTS {
            let seat = self.band.seats.of(part);
            self.send(part, 0xC0, seat.program, 0);
            if part == Part::Drums {
                self.inner.make_kit(usize::from(BRUSHES_CHANNEL));
                let program = BRUSHES.program as u8;
                self.inner.message([0xC0 | BRUSHES_CHANNEL, program, 0]);
            }
            self.control(part, 0x0A, seat.pan);
            self.control(part, 0x5B, seat.reverb);
            self.control(part, 0x5D, self.band.chorus);
            if part != Part::Drums {
                self.tune(part, cents);
            }
        }
        self.volumes = [u16::MAX; BAND_PARTS.len()];
    }

    /// The faders of the balance; nothing moves them afterwards.
    fn trim(&mut self) {
        for part in BAND_PARTS {
            for key in 0..=127 {
                let gain = self.band.trims.gain(part, key);
                let (channel, key) = self.place(part, key);
                self.inner.set_key_gain(usize::from(channel), key, gain);
            }
        }
    }

    /// Registered parameters 2 (semitones around 64) and 1 (100 cents each way in 14 bits): MIDI 1.0.
    fn tune(&mut self, part: Part, cents: f64) {
        let semitones = (cents / 100.0).round();
        let fine = (cents / 100.0 - semitones) * 8192.0 + 8192.0;
        let fine = fine.round().clamp(0.0, 16_383.0) as u16;
        self.control(part, 0x65, 0);
        self.control(part, 0x64, 2);
        self.control(part, 0x06, (64.0 + semitones).clamp(0.0, 127.0) as u8);
        self.control(part, 0x64, 1);
        self.control(part, 0x06, (fine >> 7) as u8);
        self.control(part, 0x26, (fine & 0x7F) as u8);
    }

    fn control(&mut self, part: Part, controller: u8, value: u8) {
        self.send(part, 0xB0, controller, value);
        if part == Part::Drums {
            let message = [0xB0 | BRUSHES_CHANNEL, controller.min(127), value.min(127)];
            self.inner.message(message);
        }
    }

    /// The channel and key on which a key of a part sounds. Brushes are taps (38) and sweeps (40) of a kit of their own (General
    /// MIDI 2); without it the snare is struck.
    fn place(&self, part: Part, key: u8) -> (u8, u8) {
        match (part, key, self.brushes) {
            (Part::Drums, BRUSH_TAP, true) => (BRUSHES_CHANNEL, 38),
            (Part::Drums, BRUSH_SWEEP, true) => (BRUSHES_CHANNEL, 40),
            (Part::Drums, BRUSH_TAP | BRUSH_SWEEP, false) => (part.channel(), 38),
            _ => (part.channel(), key),
        }
    }

    fn strike(&mut self, command: u8, part: Part, key: u8, velocity: u8) {
        let (channel, key) = self.place(part, key);
        self.inner
            .message([command | channel, key.min(127), velocity.min(127)]);
    }

    fn send(&mut self, part: Part, command: u8, first: u8, second: u8) {
        let status = command | part.channel();
        self.inner
            .message([status, first.min(127), second.min(127)]);
    }

    /// Strikes a note; takes effect at the next block.
    pub(crate) fn note_on(&mut self, part: Part, key: u8, velocity: u8) {
        self.strike(0x90, part, key, velocity);
    }

    /// Lets a note go.
    pub(crate) fn note_off(&mut self, part: Part, key: u8) {
        self.strike(0x80, part, key, 0);
    }

    /// Sets a part's gain (0 to +6 dB) for the next block; the synthesizer glides there within the block.
    pub(crate) fn set_gain(&mut self, index: usize, gain: f32) {
        // The channel's volume is squared; half of its range leaves +6 dB above our 0 dB. 127 is full, whatever follows.
        let volume = (FULL_VOLUME * (gain * 0.5).max(0.0).sqrt()).min(FULL_VOLUME) as u16;
        if let (Some(last), Some(part)) = (self.volumes.get_mut(index), BAND_PARTS.get(index))
            && *last != volume
        {
            *last = volume;
            let part = *part;
            self.control(part, 0x07, (volume >> 7) as u8);
            self.control(part, 0x27, (volume & 0x7F) as u8);
        }
    }

    /// Sets every part's gain.
    pub(super) fn set_all_gains(&mut self, gain: f32) {
        (0..BAND_PARTS.len()).for_each(|index| self.set_gain(index, gain));
    }

    /// Silence at once, reverb and chorus too.
    pub(crate) fn silence(&mut self) {
        self.inner.reset();
        self.set_up();
    }

    /// The next frames; both sides are equally long.
    pub(crate) fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        self.inner.render(left, right);
    }
}

/// Controller 7 at 127, with its second byte at 0.
const FULL_VOLUME: f32 = 16_256.0;

/// The levels of the band's parts, moved a block at a time.
#[derive(Debug)]
pub(crate) struct PartGains {
    ramps: [Ramp; BAND_PARTS.len()],
}

impl PartGains {
    pub(crate) fn new(gain_of: impl Fn(Part) -> f32) -> PartGains {
        PartGains {
            ramps: BAND_PARTS.map(|part| Ramp::new(gain_of(part))),
        }
    }

    /// Moves a part to a gain.
    pub(crate) fn set(&mut self, part: Part, gain: f32, frames: u32) {
        if let Some(index) = BAND_PARTS.iter().position(|own| *own == part)
            && let Some(ramp) = self.ramps.get_mut(index)
        {
            ramp.to(gain, frames);
        }
    }

    /// The gains at the end of the next `frames`, set on the synth.
    pub(crate) fn advance(&mut self, frames: u32, synth: Option<&mut Synth>) {
        let mut gains = [0.0; BAND_PARTS.len()];
        for (gain, ramp) in gains.iter_mut().zip(&mut self.ramps) {
            *gain = ramp.skip(frames);
        }
        if let Some(synth) = synth {
            for (index, gain) in gains.into_iter().enumerate() {
                synth.set_gain(index, gain);
            }
        }
    }
}
