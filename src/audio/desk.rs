//! Where notes become sound and MIDI: the synth of the take, the built-in tones, the MIDI that waits for its
//! frame.

use super::mixer::Ramp;
use super::queue::{Garbage, Queues};
use super::seats::BAND_PARTS;
use super::synth::{PartGains, Synth};
use super::tones::Tones;
use super::{BLOCK_FRAMES, MidiSink};
use crate::clock::ClockMessage;
use crate::time::{Frame, Part};
use arrayvec::ArrayVec;
use std::collections::VecDeque;

/// MIDI messages of one sub-block that wait for their frame.
const MIDI: usize = 1024;
/// Notes that fall into the later half of a sub-block and reach the synth with the next one.
const HELD: usize = 512;
/// How long the synth of the take before goes on, fading.
const FADE_MS: u32 = 60;

#[derive(Debug, Clone, Copy)]
struct Strike {
    part: Part,
    key: u8,
    /// 0 lets go.
    velocity: u8,
}

struct Fading {
    synth: Box<Synth>,
    gain: Ramp,
    left: u32,
}

/// A sub-block of every bus.
pub(crate) struct Buses {
    pub(crate) left: [f32; BLOCK_FRAMES],
    pub(crate) right: [f32; BLOCK_FRAMES],
    pub(crate) cue: [f32; BLOCK_FRAMES],
}

impl Buses {
    pub(crate) const SILENT: Buses = Buses {
        left: [0.0; BLOCK_FRAMES],
        right: [0.0; BLOCK_FRAMES],
        cue: [0.0; BLOCK_FRAMES],
    };
}

/// The sounding side of the player.
pub(crate) struct Desk {
    /// The take's; none before the first take and without a SoundFont.
    synth: Option<Box<Synth>>,
    fading: Option<Fading>,
    tones: Tones,
    gains: PartGains,
    click: Ramp,
    model: Ramp,
    /// Never grows: pushes are refused where it would.
    midi: VecDeque<(Frame, [u8; 3])>,
    held: ArrayVec<Strike, HELD>,
    /// The first frame of the sub-block being made.
    now: Frame,
    fade_frames: u32,
}

impl Desk {
    pub(crate) fn new(rate: u32, a4_hz: f64, gain_of: impl Fn(Part) -> f32) -> Desk {
        Desk {
            synth: None,
            fading: None,
            tones: Tones::new(rate, a4_hz),
            click: Ramp::new(gain_of(Part::Click)),
            model: Ramp::new(gain_of(Part::Model)),
            gains: PartGains::new(gain_of),
            midi: VecDeque::with_capacity(MIDI),
            held: ArrayVec::new(),
            now: Frame(0),
            fade_frames: rate * FADE_MS / 1000,
        }
    }

    /// A sub-block begins at `now`: what was held for it reaches the synth.
    pub(crate) fn begin_block(&mut self, now: Frame) {
        self.now = now;
        self.strike_held();
    }

    fn strike_held(&mut self) {
        for index in 0..self.held.len() {
            if let Some(strike) = self.held.get(index).copied() {
                self.strike_synth(strike);
            }
        }
        self.held.clear();
    }

    /// Whether one more note can be struck and all that sounds be let go.
    pub(crate) fn has_room(&self, sounding: usize) -> bool {
        self.midi.capacity() - self.midi.len() > sounding + 4
    }

    /// Strikes a note on its frame.
    pub(crate) fn note_on(&mut self, at: Frame, part: Part, key: u8, velocity: u8) {
        let velocity = velocity.clamp(1, 127);
        self.push_midi(at, [0x90 | part.channel(), key.min(127), velocity]);
        self.sound(
            at,
            Strike {
                part,
                key,
                velocity,
            },
        );
    }

    /// Lets a note go on its frame.
    pub(crate) fn note_off(&mut self, at: Frame, part: Part, key: u8) {
        self.push_midi(at, [0x80 | part.channel(), key.min(127), 0]);
        self.sound(
            at,
            Strike {
                part,
                key,
                velocity: 0,
            },
        );
    }

    /// The MIDI of a panic: sounds off (controller 120) and notes off (123) on every channel we use.
    pub(crate) fn all_off(&mut self, at: Frame) {
        for channel in [0, 1, 2, 9] {
            self.push_midi(at, [0xB0 | channel, 120, 0]);
            self.push_midi(at, [0xB0 | channel, 123, 0]);
        }
    }

    /// A message of our own clock.
    pub(crate) fn real_time(&mut self, at: Frame, message: ClockMessage) {
        self.push_midi(at, message.to_bytes().0);
    }

    fn push_midi(&mut self, at: Frame, bytes: [u8; 3]) {
        let last = self.midi.back().map_or(self.now, |(frame, _)| *frame);
        if self.midi.len() < self.midi.capacity() {
            self.midi.push_back((at.max(self.now).max(last), bytes));
        }
    }

    fn sound(&mut self, at: Frame, strike: Strike) {
        let offset = at.0.saturating_sub(self.now.0).min(BLOCK_FRAMES as u64 - 1) as u32;
        if Tones::plays(strike.part) {
            match strike.velocity {
                0 => self.tones.note_off(strike.part, strike.key, offset),
                velocity => self
                    .tones
                    .note_on(strike.part, strike.key, velocity, offset),
            }
        } else if (offset as usize) < BLOCK_FRAMES / 2 {
            self.strike_synth(strike);
        } else if self.held.try_push(strike).is_err() {
            self.strike_held();
            self.strike_synth(strike);
        }
    }

    fn strike_synth(&mut self, strike: Strike) {
        if let Some(synth) = &mut self.synth {
            match strike.velocity {
                0 => synth.note_off(strike.part, strike.key),
                velocity => synth.note_on(strike.part, strike.key, velocity),
            }
        }
    }

    /// Hands out the MIDI before `end`, as offsets from `start`.
    pub(crate) fn send_midi(&mut self, start: Frame, end: Frame, sink: &mut dyn MidiSink) {
        while let Some(&(frame, bytes)) = self.midi.front() {
            if frame >= end {
                return;
            }
            self.midi.pop_front();
            let offset = frame.0.saturating_sub(start.0).min(u64::from(u32::MAX));
            sink.event(offset as u32, bytes);
        }
    }

    /// Whether nothing plays the band's notes.
    pub(crate) fn has_no_synth(&self) -> bool {
        self.synth.is_none()
    }

    /// Takes the synth of a new take; the one before fades out from the gain that it was heard with.
    pub(crate) fn swap_synth(&mut self, synth: Box<Synth>, heard: f32, queues: &mut Queues) {
        self.strike_held();
        if let Some(old) = self.synth.replace(synth) {
            let mut gain = Ramp::new(heard);
            gain.to(0.0, self.fade_frames);
            let fading = Fading {
                synth: old,
                gain,
                left: self.fade_frames,
            };
            if let Some(older) = self.fading.replace(fading) {
                queues.discard(Garbage::Synth(older.synth));
            }
        }
    }

    /// Moves a part's level.
    pub(crate) fn set_level(&mut self, part: Part, gain: f32, frames: u32) {
        match part {
            Part::Click => self.click.to(gain, frames),
            Part::Model => self.model.to(gain, frames),
            band => self.gains.set(band, gain, frames),
        }
    }

    /// Silence at once, tails too.
    pub(crate) fn silence(&mut self, queues: &mut Queues) {
        self.held.clear();
        self.tones.silence();
        if let Some(synth) = &mut self.synth {
            synth.silence();
        }
        if let Some(fading) = self.fading.take() {
            queues.discard(Garbage::Synth(fading.synth));
        }
    }

    /// Makes the next `frames` (at most a sub-block) of the buses, which are silent before. `growing` is the gain of what the take
    /// plays; what rings on from the one before has its own.
    pub(crate) fn render(
        &mut self,
        buses: &mut Buses,
        frames: usize,
        growing: &mut Ramp,
        queues: &mut Queues,
    ) {
        let frames = frames.min(BLOCK_FRAMES);
        let (left, _) = buses.left.split_at_mut(frames);
        let (right, _) = buses.right.split_at_mut(frames);
        let (cue, _) = buses.cue.split_at_mut(frames);
        self.gains.advance(frames as u32, self.synth.as_deref_mut());
        if let Some(synth) = &mut self.synth {
            synth.render(left, right);
        }
        let mut clicks = [0.0; BLOCK_FRAMES];
        let (clicks, _) = clicks.split_at_mut(frames);
        self.tones.render(clicks, cue);
        self.model.apply(cue);
        self.click.apply(clicks);
        for ((left, right), click) in left.iter_mut().zip(&mut *right).zip(clicks) {
            *left += *click;
            *right += *click;
        }
        growing.apply_stereo(left, right);
        self.render_fading(left, right, queues);
    }

    fn render_fading(&mut self, left: &mut [f32], right: &mut [f32], queues: &mut Queues) {
        let Some(fading) = &mut self.fading else {
            return;
        };
        let mut old = Buses::SILENT;
        let (old_left, _) = old.left.split_at_mut(left.len());
        let (old_right, _) = old.right.split_at_mut(right.len());
        fading.synth.render(old_left, old_right);
        fading.gain.apply_stereo(old_left, old_right);
        left.iter_mut()
            .zip(old_left)
            .for_each(|(out, old)| *out += *old);
        right
            .iter_mut()
            .zip(old_right)
            .for_each(|(out, old)| *out += *old);
        fading.left = fading.left.saturating_sub(left.len() as u32);
        if fading.left == 0
            && let Some(fading) = self.fading.take()
        {
            queues.discard(Garbage::Synth(fading.synth));
        }
    }
}

const _: () = assert!(BAND_PARTS.len() == 4);
