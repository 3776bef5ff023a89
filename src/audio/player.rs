//! The player: the whole body of the audio callback, without any of JACK's types.
//!
//! Forbidden in everything [`Player::render`] reaches: to allocate, to free, to lock, to call the system, to
//! log, to panic. It works in sub-blocks of [`BLOCK_FRAMES`] on a grid that starts with the take, so the
//! size of the caller's blocks changes nothing.

use super::clips::Clips;
use super::denormal::Flush;
use super::desk::{Buses, Desk};
use super::mixer::{Limiter, Ramp, db_to_gain};
use super::queue::{Counters, Garbage, PlayerEnd, Queues, queues};
use super::synth::{Band, Synth, SynthError, SynthMaker};
use super::take::{Bars, Stage, Take};
use super::voices::Voices;
use super::{Command, Cue, Level, Notice};
use crate::time::{Frame, Meter, Part, Tick, UsPerQuarter};
use arrayvec::ArrayVec;
use rustysynth::SoundFont;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

/// Frames of a sub-block.
pub const BLOCK_FRAMES: usize = 64;
/// Clock rates that can be played at, in frames a second.
const RATES: std::ops::RangeInclusive<u32> = 8_000..=768_000;
/// Starts and stops that can wait for their frame.
const MOMENTS: usize = 8;
/// Hushes, levels and phrases that can wait for their frame.
const ORDERS: usize = 16;
/// Commands taken in one sub-block, so that its cost is bounded.
const COMMANDS_A_BLOCK: usize = 16;
/// A level glides to its new value in this time.
const GLIDE_MS: u32 = 20;
/// A new player opens from silence in this time.
const OPEN_MS: u32 = 50;

/// Everything a player is made of; kept to make another when the audio server went away.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// Frames a second of the audio clock: 16,000 to 192,000 with a SoundFont.
    pub rate: u32,
    /// The band's sounds; without them click, model tones and cues still sound.
    pub font: Option<Arc<SoundFont>>,
    /// How the band sounds.
    pub band: Band,
    /// The levels to start with in dB; what is not named is at 0.
    pub levels: Vec<(Level, f32)>,
    /// Whether the cues also go to the band's outputs.
    pub cue_to_outputs: bool,
}

/// The buffers to fill: band left and right, cue. The shortest counts.
#[derive(Debug)]
pub struct Outputs<'a> {
    /// The band's left output.
    pub left: &'a mut [f32],
    /// The band's right output.
    pub right: &'a mut [f32],
    /// Speech and model tones.
    pub cue: &'a mut [f32],
}

/// Where the band goes as MIDI. Called within the callback: its rules hold for the implementation.
pub trait MidiSink {
    /// A message `offset_frames` after the first frame of the block; offsets never go down.
    fn event(&mut self, offset_frames: u32, bytes: [u8; 3]);

    /// What was played, in ticks, for a file. In the order of time; each at most a sub-block ahead of its
    /// frame.
    fn played(&mut self, what: Played) {
        let _ = what;
    }
}

impl MidiSink for () {
    fn event(&mut self, _offset_frames: u32, _bytes: [u8; 3]) {}
}

/// What was played, in ticks of the take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Played {
    /// A take began.
    TakeStarted {
        /// Its first tick.
        tick: Tick,
        /// On which frame.
        frame: Frame,
    },
    /// A bar began.
    Bar {
        /// Where.
        tick: Tick,
        /// How it is counted.
        meter: Meter,
        /// The tempo from here on.
        tempo: UsPerQuarter,
    },
    /// A note was struck.
    On {
        /// Where.
        tick: Tick,
        /// By whom.
        part: Part,
        /// MIDI key.
        key: u8,
        /// MIDI velocity.
        velocity: u8,
    },
    /// A note was let go.
    Off {
        /// Where.
        tick: Tick,
        /// By whom.
        part: Part,
        /// MIDI key.
        key: u8,
    },
    /// The take ended.
    TakeEnded {
        /// Where.
        tick: Tick,
        /// On which frame.
        frame: Frame,
    },
}

/// What is done at the beginning of the sub-block that its frame falls into.
#[derive(Debug)]
enum Order {
    Hush(std::ops::Range<u32>),
    Level(Level, f32),
    Say(Box<Cue>),
}

#[derive(Debug, Clone, Copy)]
enum Moment {
    Start(Tick),
    Stop,
}

/// The body of the audio callback.
pub struct Player {
    queues: Queues,
    desk: Desk,
    voices: Voices,
    clips: Clips,
    take: Option<Take>,
    /// Bars of the take to come.
    bars_ahead: Bars,
    synth_ahead: Option<Box<Synth>>,
    /// Starts and stops to come, in order.
    moments: ArrayVec<(Frame, Moment), MOMENTS>,
    /// Other things to come, in order.
    orders: ArrayVec<(Frame, Order), ORDERS>,
    master: Ramp,
    cue: Ramp,
    opening: Ramp,
    band_limiter: Limiter,
    cue_limiter: Limiter,
    cue_to_outputs: bool,
    rate: u32,
    /// The sub-block made last, and how much of it was handed out.
    buses: Buses,
    made: usize,
    read: usize,
    /// The first frame of the sub-block to come; none before the first call.
    next: Option<Frame>,
    /// How much of the sub-block to come lies in a gap.
    skip: usize,
    panicking: bool,
    poisoned: bool,
}

impl Player {
    /// A player and its control side.
    ///
    /// # Errors
    /// When nothing can be played at the rate.
    pub fn new(prepared: Prepared) -> Result<(Player, PlayerEnd), SynthError> {
        let Prepared {
            rate,
            font,
            band,
            levels,
            cue_to_outputs,
        } = prepared;
        if !(RATES.contains(&rate)) {
            return Err(SynthError::Rate(rate));
        }
        let gain_of = |level: Level| {
            let named = levels.iter().rev().find(|(named, _)| *named == level);
            db_to_gain(named.map_or(0.0, |(_, db)| *db))
        };
        let a4_hz = band.a4_hz;
        let maker = SynthMaker::new(font, band, rate)?;
        let (queues, end) = queues(maker);
        let player = Player {
            queues,
            desk: Desk::new(rate, a4_hz, |part| gain_of(Level::Part(part))),
            voices: Voices::default(),
            clips: Clips::new(rate),
            take: None,
            bars_ahead: Bars::default(),
            synth_ahead: None,
            moments: ArrayVec::new(),
            orders: ArrayVec::new(),
            master: Ramp::new(gain_of(Level::Master)),
            cue: Ramp::new(gain_of(Level::Cue)),
            opening: opening(rate),
            band_limiter: Limiter::new(rate),
            cue_limiter: Limiter::new(rate),
            cue_to_outputs,
            rate,
            buses: Buses::SILENT,
            made: 0,
            read: 0,
            next: None,
            skip: 0,
            panicking: false,
            poisoned: false,
        };
        Ok((player, end))
    }

    /// Fills the buffers with what sounds from the frame `at` on. Any length, also 0. A jump of `at` is a gap
    /// in the audio clock: musical time follows it, what should have been let go is let go, notes more than
    /// 30 ms late are dropped.
    pub fn render(&mut self, at: Frame, out: Outputs<'_>, midi: &mut dyn MidiSink) {
        let Outputs { left, right, cue } = out;
        let frames = left.len().min(right.len()).min(cue.len());
        let whole = [&mut *left, &mut *right, &mut *cue];
        whole.into_iter().for_each(|buffer| buffer.fill(0.0));
        if self.poisoned {
            return;
        }
        let _flush = Flush::start();
        let out = Outputs {
            left: left.split_at_mut(frames).0,
            right: right.split_at_mut(frames).0,
            cue: cue.split_at_mut(frames).0,
        };
        // Nothing in here should panic. If a hostile SoundFont makes the synthesizer do it all the same, the
        // state of the player does not matter any more: it is silent from then on.
        if catch_unwind(AssertUnwindSafe(|| self.fill(at, out, midi))).is_err() {
            self.poison(at, frames, midi);
            [left, right, cue]
                .into_iter()
                .for_each(|buffer| buffer.fill(0.0));
        }
    }

    /// A message that came in on `frame`; passed on as a notice. Longer ones than three bytes are ignored.
    pub fn midi_in(&mut self, frame: Frame, message: &[u8]) {
        let mut bytes = [0; 3];
        if message.is_empty() || message.len() > bytes.len() {
            return;
        }
        bytes
            .iter_mut()
            .zip(message)
            .for_each(|(to, from)| *to = *from);
        self.queues.notice(Notice::Midi {
            frame,
            bytes,
            len: message.len() as u8,
        });
    }

    /// Tells, and lets go of what sounds as MIDI: on the block's last frame, because offsets never go down.
    fn poison(&mut self, at: Frame, frames: usize, midi: &mut dyn MidiSink) {
        self.poisoned = true;
        self.queues.notice(Notice::Poisoned);
        self.queues.notice(Notice::Ended { frame: at });
        let offset = frames.saturating_sub(1) as u32;
        while let Some(voice) = self.voices.take_any() {
            midi.event(offset, [0x80 | voice.part.channel(), voice.key, 0]);
        }
    }

    fn fill(&mut self, at: Frame, out: Outputs<'_>, midi: &mut dyn MidiSink) {
        let frames = out.left.len();
        let end = Frame(at.0 + frames as u64);
        self.follow(at);
        let mut done = 0;
        while done < frames {
            if self.read >= self.made {
                self.make_block(midi);
            }
            self.desk.send_midi(at, end, midi);
            let count = (self.made - self.read).min(frames - done);
            let (from, to) = (self.read..self.read + count, done..done + count);
            for (target, source) in [
                (&mut *out.left, &self.buses.left),
                (&mut *out.right, &self.buses.right),
                (&mut *out.cue, &self.buses.cue),
            ] {
                if let (Some(target), Some(source)) =
                    (target.get_mut(to.clone()), source.get(from.clone()))
                {
                    target.copy_from_slice(source);
                }
            }
            self.read += count;
            done += count;
        }
    }

    /// Brings the grid to the frame `at`, over a gap if there is one.
    fn follow(&mut self, at: Frame) {
        let Some(next) = self.next else {
            self.next = Some(at);
            return;
        };
        let expected = next.0 - (self.made - self.read) as u64;
        if at.0 == expected {
            return;
        }
        if at.0 > expected {
            Counters::bump(&self.queues.counters.gaps);
            let lost = (at.0 - expected).min(u64::from(u32::MAX)) as u32;
            self.queues.notice(Notice::Xrun { lost });
        }
        if at.0 > expected && at < next {
            self.read += (at.0 - expected) as usize;
            return;
        }
        // Sub-blocks that nobody will hear are not made; their events are done, late, in the next one.
        let past = at.0.saturating_sub(next.0);
        let grid = next.0 + past - past % BLOCK_FRAMES as u64;
        let start = if at < next { at } else { Frame(grid) };
        (self.made, self.read) = (0, 0);
        self.next = Some(start);
        self.place_cues(start);
        self.skip = (at.0 - start.0) as usize;
    }

    /// Makes the next sub-block: commands, events in the order of time, sound.
    fn make_block(&mut self, sink: &mut dyn MidiSink) {
        let Some(start) = self.next else { return };
        self.desk.begin_block(start);
        self.take_commands(start, sink);
        let full = Frame(start.0 + BLOCK_FRAMES as u64);
        // A take begins with a sub-block of its own.
        let end = self.moments.iter().find_map(|&(at, moment)| {
            let starts = matches!(moment, Moment::Start(_)) && at > start && at < full;
            starts.then_some(at)
        });
        let end = end.unwrap_or(full);
        while self.orders.first().is_some_and(|(at, _)| *at < end) {
            let (at, order) = self.orders.remove(0);
            self.carry_out(order, at.max(start), start);
        }
        while let Some(&(at, moment)) = self.moments.first().filter(|(at, _)| *at < end) {
            self.moments.remove(0);
            self.run_until(at, start, sink);
            match moment {
                Moment::Start(tick) => self.start(tick, at, start, sink),
                Moment::Stop => self.stop(at, start, sink),
            }
        }
        self.run_until(end, start, sink);
        self.clips.begin_due(start, end, &mut self.queues);
        self.mix((end.0 - start.0) as usize);
        self.next = Some(end);
    }

    fn mix(&mut self, frames: usize) {
        self.buses = Buses::SILENT;
        self.desk.render(&mut self.buses, frames, &mut self.queues);
        let (left, _) = self.buses.left.split_at_mut(frames);
        let (right, _) = self.buses.right.split_at_mut(frames);
        let (cue, _) = self.buses.cue.split_at_mut(frames);
        self.clips.render(cue, &mut self.queues);
        self.cue.apply(cue);
        self.master.apply_stereo(left, right);
        if self.cue_to_outputs {
            for ((left, right), cue) in left.iter_mut().zip(&mut *right).zip(&*cue) {
                *left += *cue;
                *right += *cue;
            }
        }
        if self.panicking {
            self.opening = Ramp::new(1.0);
            self.opening.to(0.0, frames as u32);
        }
        self.opening.clone().apply(cue);
        self.opening.apply_stereo(left, right);
        let peak = self
            .band_limiter
            .stereo(left, right)
            .max(self.cue_limiter.mono(cue));
        self.queues.counters.raise_peak(peak);
        if self.panicking {
            self.panicking = false;
            self.desk.silence(&mut self.queues);
            self.clips.silence(&mut self.queues);
            self.opening = opening(self.rate);
        }
        self.made = frames;
        self.read = self.skip.min(frames);
        self.skip -= self.read;
    }

    fn take_commands(&mut self, now: Frame, sink: &mut dyn MidiSink) {
        for _ in 0..COMMANDS_A_BLOCK {
            let Ok(command) = self.queues.commands.pop() else {
                return;
            };
            self.obey(command, now, sink);
        }
    }

    fn obey(&mut self, command: Command, now: Frame, sink: &mut dyn MidiSink) {
        match command {
            Command::Start { at, tick } => {
                if self.start_waits() {
                    self.moments
                        .retain(|(_, moment)| !matches!(moment, Moment::Start(_)));
                    self.bars_ahead.clear(&mut self.queues);
                }
                self.add_moment(at, Moment::Start(tick), now, sink);
            }
            Command::Stop { at } => self.add_moment(at, Moment::Stop, now, sink),
            Command::Replace { from, bars, .. } => self.replace(from, bars, now),
            Command::Cue(cue) if cue.now.is_some() => {
                self.add_order(cue.now.unwrap_or(now), Order::Say(cue), now);
            }
            Command::Cue(cue) => {
                self.clips.add(cue, now, &mut self.queues);
                self.place_cues(now);
            }
            Command::HushCues { at, from, below } => {
                self.add_order(at, Order::Hush(from..below), now);
            }
            Command::Level { at, level, db } => {
                self.add_order(at, Order::Level(level, db), now);
            }
            Command::Panic => self.panic(now, sink),
            Command::SwapSynth(synth) => {
                if let Some(unused) = self.synth_ahead.replace(synth) {
                    self.queues.discard(Garbage::Synth(unused));
                }
            }
        }
    }

    fn start_waits(&self) -> bool {
        let starts = |(_, moment): &(Frame, Moment)| matches!(moment, Moment::Start(_));
        self.moments.iter().any(starts)
    }

    fn add_order(&mut self, at: Frame, order: Order, now: Frame) {
        if self.orders.is_full() {
            // Far more than anybody presses: the oldest is done now, so that none is lost.
            let (_, oldest) = self.orders.remove(0);
            self.carry_out(oldest, now, now);
        }
        let index = self.orders.partition_point(|(other, _)| *other <= at);
        let _ = self.orders.try_insert(index, (at, order));
    }

    fn carry_out(&mut self, order: Order, at: Frame, now: Frame) {
        match order {
            Order::Hush(ids) => self.clips.hush(ids, at, &mut self.queues),
            Order::Level(level, db) => self.set_level(level, db),
            Order::Say(cue) => self.clips.say_at(cue, at, now, &mut self.queues),
        }
    }

    fn add_moment(&mut self, at: Frame, moment: Moment, now: Frame, sink: &mut dyn MidiSink) {
        if at < now {
            Counters::bump(&self.queues.counters.late_commands);
        }
        let at = at.max(now);
        if self.moments.is_full() {
            // Far more than anybody presses: the oldest is done now, so that none is lost.
            let (_, oldest) = self.moments.remove(0);
            match oldest {
                Moment::Start(tick) => self.start(tick, now, now, sink),
                Moment::Stop => self.stop(now, now, sink),
            }
        }
        let index = self.moments.partition_point(|(other, _)| *other <= at);
        let _ = self.moments.try_insert(index, (at, moment));
    }

    fn replace(
        &mut self,
        from: Tick,
        bars: ArrayVec<Box<crate::time::Bar>, { super::REPLACE_BARS }>,
        now: Frame,
    ) {
        let for_next = self.start_waits();
        match &mut self.take {
            Some(take) if !for_next => {
                take.replace(from, bars, now, &mut self.queues);
                self.place_cues(now);
            }
            _ => {
                self.bars_ahead.replace(from, bars, &mut self.queues);
            }
        }
    }

    fn place_cues(&mut self, now: Frame) {
        if let Some(take) = self.take.as_ref().filter(|_| !self.start_waits()) {
            let frame_of = |tick| take.frame_of(tick);
            self.clips.place_all(now, &frame_of, &mut self.queues);
        }
    }

    fn set_level(&mut self, level: Level, db: f32) {
        let (gain, frames) = (db_to_gain(db), self.rate * GLIDE_MS / 1000);
        match level {
            Level::Master => self.master.to(gain, frames),
            Level::Cue => self.cue.to(gain, frames),
            Level::Part(part) => self.desk.set_level(part, gain, frames),
        }
    }

    fn start(&mut self, tick: Tick, at: Frame, now: Frame, sink: &mut dyn MidiSink) {
        self.end_take(at, now, sink);
        if let Some(synth) = self.synth_ahead.take() {
            self.desk.swap_synth(synth, &mut self.queues);
        }
        sink.played(Played::TakeStarted { tick, frame: at });
        let bars = std::mem::take(&mut self.bars_ahead);
        self.take = Some(Take::new(tick, at, self.rate, bars));
        self.place_cues(now.max(at));
    }

    fn stop(&mut self, at: Frame, now: Frame, sink: &mut dyn MidiSink) {
        if self.end_take(at, now, sink) {
            self.queues.notice(Notice::Ended { frame: at });
        }
    }

    /// Lets everything go and drops the take's bars and cues. Whether there was a take.
    fn end_take(&mut self, at: Frame, now: Frame, sink: &mut dyn MidiSink) -> bool {
        let Some(mut take) = self.take.take() else {
            return false;
        };
        let tick = take.tick(at);
        let mut stage = Stage {
            desk: &mut self.desk,
            voices: &mut self.voices,
            queues: &mut self.queues,
            sink,
            now,
        };
        stage.release_all(at, tick);
        stage.sink.played(Played::TakeEnded { tick, frame: at });
        take.clear(&mut self.queues);
        self.clips.drop_waiting(false, at, &mut self.queues);
        true
    }

    fn panic(&mut self, now: Frame, sink: &mut dyn MidiSink) {
        self.stop(now, now, sink);
        self.moments.clear();
        while let Some((_, order)) = self.orders.pop() {
            match order {
                Order::Say(cue) => self.queues.discard(Garbage::Cue(cue)),
                // A level is what is heard afterwards too.
                Order::Level(level, db) => self.set_level(level, db),
                Order::Hush(_) => {}
            }
        }
        self.bars_ahead.clear(&mut self.queues);
        self.clips.drop_waiting(true, now, &mut self.queues);
        self.desk.all_off(now);
        self.panicking = true;
    }

    fn run_until(&mut self, end: Frame, now: Frame, sink: &mut dyn MidiSink) {
        let Some(take) = &mut self.take else { return };
        let mut stage = Stage {
            desk: &mut self.desk,
            voices: &mut self.voices,
            queues: &mut self.queues,
            sink,
            now,
        };
        if take.run_until(end, &mut stage) {
            self.take = None;
            self.clips.drop_waiting(false, now, &mut self.queues);
        }
    }
}

fn opening(rate: u32) -> Ramp {
    let mut ramp = Ramp::new(0.0);
    ramp.to(1.0, rate * OPEN_MS / 1000);
    ramp
}
