//! All voices: who gets one, who gives way, and how they are taken side by side.

use super::channel::Channel;
use super::lanes::{Group, Needs};
use super::output::BLOCK_FRAMES;
use super::output::{Lane, Sums};
use super::sounds::Sounds;
use super::voice::{Owner, Voice};
use super::window::{WINDOW, Window};

/// Voices that fade out while others have already taken their places.
const SPARE: usize = 16;
/// How many voices go side by side where there are so many, and where there are few.
const MANY: usize = 8;
const FEW: usize = 4;

/// The voices that sound. Never grows past what it was made for.
pub(super) struct Voices {
    all: Vec<Voice>,
    limit: usize,
    windows: Box<[Window; MANY]>,
}

impl Voices {
    pub(super) fn new(limit: usize) -> Voices {
        Voices {
            all: Vec::with_capacity(limit + SPARE),
            limit,
            windows: Box::new([[0.0; WINDOW + 4]; MANY]),
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.all.is_empty()
    }

    pub(super) fn len(&self) -> usize {
        self.all.len()
    }

    pub(super) fn of_channel(&mut self, channel: usize) -> impl Iterator<Item = &mut Voice> {
        self.all
            .iter_mut()
            .filter(move |voice| voice.owner.channel == channel)
    }

    pub(super) fn clear(&mut self) {
        self.all.clear();
    }

    /// Ends what the class of a new voice excludes, makes room, and lets it sound.
    pub(super) fn add(&mut self, voice: Voice, rate: f32) {
        for other in &mut self.all {
            if other.excludes(&voice.owner, voice.class()) {
                other.choke(rate);
            }
        }
        let holding = self.all.iter().filter(|voice| !voice.is_giving_way());
        if holding.count() >= self.limit
            && let Some(index) = self.quietest(&voice.owner)
            && let Some(victim) = self.all.get_mut(index)
        {
            victim.give_way();
        }
        if self.all.len() == self.all.capacity() {
            // More at once than can fade out: what fades is cut.
            let fading = self.all.iter().position(Voice::is_giving_way);
            self.all.swap_remove(fading.unwrap_or(0));
        }
        self.all.push(voice);
    }

    /// The voice that is missed least; those of the same strike come last.
    fn quietest(&self, owner: &Owner) -> Option<usize> {
        let rank = |voice: &Voice| (voice.owner.strike == owner.strike, voice.loudness());
        let holding = self
            .all
            .iter()
            .enumerate()
            .filter(|(_, voice)| !voice.is_giving_way());
        let less = |one: &(bool, f32), other: &(bool, f32)| {
            one.0.cmp(&other.0).then(one.1.total_cmp(&other.1))
        };
        holding
            .min_by(|(_, one), (_, other)| less(&rank(one), &rank(other)))
            .map(|(index, _)| index)
    }

    /// Adds a block of all voices.
    pub(super) fn render(
        &mut self,
        sounds: &Sounds,
        channels: &[Channel; 16],
        rate: f32,
        sums: &mut Sums,
    ) {
        for voice in &mut self.all {
            let Owner {
                channel,
                preset,
                region,
                ..
            } = voice.owner;
            if let Some(region) = sounds.regions(preset).get(region)
                && let Some(channel) = channels.get(channel)
            {
                voice.prepare(region, channel, rate);
            }
        }
        let (samples, windows) = (sounds.samples(), &mut *self.windows);
        let mut left = self.all.as_mut_slice();
        while !left.is_empty() {
            let is_many = left.len() > FEW;
            let (group, rest) = left.split_at_mut(left.len().min(MANY));
            if is_many {
                side_by_side::<MANY>(group, windows, samples, sums);
            } else if let Some((windows, _)) = windows.split_first_chunk_mut() {
                side_by_side::<FEW>(group, windows, samples, sums);
            }
            left = rest;
        }
        self.all.retain(|voice| !voice.is_over());
    }
}

/// A block of at most as many voices as there are lanes; lanes without a voice add nothing.
fn side_by_side<const N: usize>(
    voices: &mut [Voice],
    windows: &mut [Window; N],
    samples: &[i16],
    sums: &mut Sums,
) {
    let mut group = Group::<N>::EMPTY;
    let mut needs = Needs {
        filter: false,
        moving_filter: false,
        sends: false,
    };
    for (lane, voice) in voices.iter().enumerate() {
        load(&mut group, lane, voice);
        needs.filter |= !voice.filter.is_open();
        needs.moving_filter |= voice.filter.is_moving();
        let sends = voice.gains.iter().chain(&voice.target).skip(2);
        needs.sends |= sends
            .zip([true, true, false, false])
            .any(|(send, _)| *send != 0.0);
    }
    let mut done = 0;
    while done < BLOCK_FRAMES {
        let fitting = voices
            .iter()
            .map(|voice| voice.track.frames_in_window())
            .min();
        let count = fitting
            .unwrap_or(BLOCK_FRAMES)
            .clamp(1, BLOCK_FRAMES - done);
        for (lane, (voice, window)) in voices.iter().zip(&mut *windows).enumerate() {
            voice.track.fill(window, samples, count);
            if let Some(at) = group.at.get_mut(lane) {
                *at = voice.track.fraction() as u32;
            }
        }
        let frames = sums.frames.get_mut(done..done + count).unwrap_or_default();
        group.run(needs, windows, frames);
        voices
            .iter_mut()
            .for_each(|voice| voice.track.advance(count));
        done += count;
    }
    for (lane, voice) in voices.iter_mut().enumerate() {
        voice.gains = voice.target;
        voice.filter.now = voice.filter.target;
        for (own, memory) in voice.filter.memory.iter_mut().zip(&group.memory) {
            *own = memory.0.get(lane).copied().unwrap_or(0.0);
        }
    }
}

/// Sets a lane to where a voice is, and how it moves to where it is bound.
fn load<const N: usize>(group: &mut Group<N>, lane: usize, voice: &Voice) {
    let set = |lanes: &mut [Lane<N>], values: &[f32]| {
        for (own, value) in lanes.iter_mut().zip(values) {
            if let Some(own) = own.0.get_mut(lane) {
                *own = *value;
            }
        }
    };
    let slope = |from: f32, to: f32| (to - from) / BLOCK_FRAMES as f32;
    let filter = &voice.filter;
    set(&mut group.filter, &filter.now);
    set(&mut group.memory, &filter.memory);
    set(&mut group.gains, &voice.gains);
    let mut slopes = [0.0; 5];
    for ((to, now), target) in slopes.iter_mut().zip(filter.now).zip(filter.target) {
        *to = slope(now, target);
    }
    set(&mut group.filter_step, &slopes);
    for ((to, now), target) in slopes.iter_mut().zip(voice.gains).zip(voice.target) {
        *to = slope(now, target);
    }
    set(&mut group.gain_steps, &slopes);
    if let Some(step) = group.step.get_mut(lane) {
        *step = (voice.track.step >> 8) as u32;
    }
}
