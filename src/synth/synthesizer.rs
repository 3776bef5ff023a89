//! MIDI messages in, sound out.

use super::channel::{Ask, Channel};
use super::chorus::Chorus;
use super::modulator::Struck;
use super::output::BLOCK_FRAMES;
use super::output::{Block, Sums};
use super::reverb::Reverb;
use super::sounds::{PresetId, Sounds};
use super::voice::{Owner, Voice};
use super::voices::Voices;
use std::ops::RangeInclusive;
use std::sync::Arc;

/// Frames a second that can be played at.
pub const RATES_HZ: RangeInclusive<u32> = 8_000..=768_000;
/// The channel of the drums (General MIDI 1), from 0.
const DRUMS: usize = 9;
/// Where drum kits lie (SoundFont 2.04, section 7.2).
const DRUMS_BANK: u16 = 128;

/// How a synthesizer is to be.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// Frames a second.
    pub rate_hz: u32,
    /// The most voices, 1 to 256; clamped. One note of a SoundFont may take two.
    pub voices: usize,
    /// Whether there is a reverb. Without it nothing comes of what is sent to it.
    pub reverb: bool,
    /// Whether there is a chorus.
    pub chorus: bool,
}

/// A synthesizer of sixteen channels.
pub struct Synthesizer {
    sounds: Arc<Sounds>,
    rate: f32,
    channels: Box<[Channel; 16]>,
    /// How loud each key of each channel is; a reset leaves it.
    key_gains: Box<[[f32; 128]; 16]>,
    voices: Voices,
    strikes: u32,
    reverb: Option<Box<Reverb>>,
    chorus: Option<Box<Chorus>>,
    sums: Box<Sums>,
    left: Block,
    right: Block,
    /// How many frames of the block were handed out.
    given: usize,
}

impl std::fmt::Debug for Synthesizer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Synthesizer")
            .field("sounds", &self.sounds)
            .field("voices", &self.voices.len())
            .finish_non_exhaustive()
    }
}

impl Synthesizer {
    /// Allocates all that it will ever need. The rate is clamped to [`RATES_HZ`].
    pub fn new(sounds: Arc<Sounds>, settings: &Settings) -> Synthesizer {
        let rate = settings.rate_hz.clamp(*RATES_HZ.start(), *RATES_HZ.end()) as f32;
        let mut synth = Synthesizer {
            sounds,
            rate,
            channels: Box::new(std::array::from_fn(|_| Channel::new(0))),
            key_gains: Box::new([[1.0; 128]; 16]),
            voices: Voices::new(settings.voices.clamp(1, 256)),
            strikes: 0,
            reverb: settings.reverb.then(|| Box::new(Reverb::new(rate))),
            chorus: settings.chorus.then(|| Box::new(Chorus::new(rate))),
            sums: Box::new(Sums::new()),
            left: [0.0; BLOCK_FRAMES],
            right: [0.0; BLOCK_FRAMES],
            given: BLOCK_FRAMES,
        };
        synth.reset();
        synth
    }

    /// Silence at once, tails too, and every channel as it was at first.
    pub fn reset(&mut self) {
        self.voices.clear();
        if let Some(reverb) = &mut self.reverb {
            reverb.clear();
        }
        if let Some(chorus) = &mut self.chorus {
            chorus.clear();
        }
        for (index, channel) in self.channels.iter_mut().enumerate() {
            *channel = Channel::new(if index == DRUMS { DRUMS_BANK } else { 0 });
            let id = PresetId {
                bank: channel.bank,
                program: 0,
            };
            channel.preset = self.sounds.place(id);
        }
        self.given = BLOCK_FRAMES;
    }

    /// How many voices sound.
    pub fn voices(&self) -> usize {
        self.voices.len()
    }

    /// Takes a channel message (MIDI 1.0); it is heard from the next block on. Others are passed over.
    pub fn message(&mut self, [status, first, second]: [u8; 3]) {
        let channel = usize::from(status & 0x0F);
        let (first, second) = (first & 0x7F, second & 0x7F);
        match status & 0xF0 {
            0x80 => self.note_off(channel, first),
            0x90 if second == 0 => self.note_off(channel, first),
            0x90 => self.note_on(channel, first, second),
            0xB0 => self.control(channel, first, second),
            0xC0 => self.program(channel, first),
            0xD0 => self.with_channel(channel, |channel| channel.press(first)),
            0xE0 => self.with_channel(channel, |channel| channel.bend(first, second)),
            _ => {}
        }
    }

    /// How loud the notes of a key are from the next strike on: 1 is as the SoundFont has it. A SoundFont's kit is mixed for a
    /// music of its own; this is what a mixer's fader for each drum would be.
    pub fn set_key_gain(&mut self, channel: usize, key: u8, gain: f32) {
        let gains = self.key_gains.get_mut(channel);
        if let Some(own) = gains.and_then(|gains| gains.get_mut(usize::from(key))) {
            *own = gain;
        }
    }

    /// Has a channel play drum kits, as the tenth does; its next program chooses one.
    pub fn make_kit(&mut self, channel: usize) {
        self.with_channel(channel, |channel| channel.bank = DRUMS_BANK);
    }

    fn with_channel(&mut self, channel: usize, change: impl Fn(&mut Channel)) {
        self.channels.get_mut(channel).map(change);
    }

    fn program(&mut self, channel: usize, program: u8) {
        if let Some(channel) = self.channels.get_mut(channel) {
            let id = PresetId {
                bank: channel.bank,
                program: program.into(),
            };
            channel.preset = self.sounds.place(id);
        }
    }

    fn note_on(&mut self, index: usize, key: u8, velocity: u8) {
        self.note_off(index, key);
        self.strikes = self.strikes.wrapping_add(1);
        let Some(channel) = self.channels.get(index) else {
            return;
        };
        let note = Struck { key, velocity };
        let gains = self.key_gains.get(index);
        let gain = gains.and_then(|gains| gains.get(usize::from(key)));
        let levels = (gain.copied().unwrap_or(1.0), self.rate);
        for (region, found) in self.sounds.regions(channel.preset).iter().enumerate() {
            if found.keys.has(key) && found.velocities.has(velocity) {
                let owner = Owner {
                    channel: index,
                    key,
                    preset: channel.preset,
                    region,
                    strike: self.strikes,
                };
                let voice = Voice::new(owner, found, note, channel, levels);
                self.voices.add(voice, self.rate);
            }
        }
    }

    fn note_off(&mut self, index: usize, key: u8) {
        let pedal = self
            .channels
            .get(index)
            .is_some_and(|channel| channel.pedal);
        let down = |voice: &&mut Voice| voice.owner.key == key && voice.is_down();
        let voices = self.voices.of_channel(index).filter(down);
        voices.for_each(|voice| voice.let_go(pedal));
    }

    fn control(&mut self, index: usize, controller: u8, value: u8) {
        let Some(channel) = self.channels.get_mut(index) else {
            return;
        };
        if controller == 0 && index != DRUMS {
            channel.bank = value.into();
        }
        let pedal = channel.pedal;
        match channel.control(controller, value) {
            Ask::Nothing => {}
            Ask::PedalUp => self.voices.of_channel(index).for_each(Voice::pedal_up),
            Ask::SoundOff => self.voices.of_channel(index).for_each(Voice::give_way),
            Ask::NotesOff => {
                let voices = self
                    .voices
                    .of_channel(index)
                    .filter(|voice| voice.is_down());
                voices.for_each(|voice| voice.let_go(pedal));
            }
        }
    }

    /// The next frames; both sides are equally long.
    pub fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        let (mut left, mut right) = (left, right);
        while !left.is_empty() && !right.is_empty() {
            if self.given >= BLOCK_FRAMES {
                self.make_block();
                self.given = 0;
            }
            let count = (BLOCK_FRAMES - self.given).min(left.len()).min(right.len());
            let stretch = self.given..self.given + count;
            let (now_left, later_left) = left.split_at_mut(count);
            let (now_right, later_right) = right.split_at_mut(count);
            now_left.copy_from_slice(self.left.get(stretch.clone()).unwrap_or_default());
            now_right.copy_from_slice(self.right.get(stretch).unwrap_or_default());
            (left, right) = (later_left, later_right);
            self.given += count;
        }
    }

    fn make_block(&mut self) {
        let sums = &mut *self.sums;
        sums.clear();
        if !self.voices.is_empty() {
            self.voices
                .render(&self.sounds, &self.channels, self.rate, sums);
        }
        self.left = sums.total(0);
        self.right = sums.total(1);
        if let Some(reverb) = &mut self.reverb {
            reverb.add(&sums.total(2), &mut self.left, &mut self.right);
        }
        if let Some(chorus) = &mut self.chorus {
            chorus.add(&sums.total(3), &mut self.left, &mut self.right);
        }
    }
}
