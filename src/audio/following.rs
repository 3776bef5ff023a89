//! The clock that the player follows: which source, what came from it, and when its next tick sounds.
//!
//! # Why are our ticks moved to the master's by 12 % at the most?
//!
//! What sounds must not jump. A difference of up to
//! 2.5 ms (at 120) is gone with the next tick, 10 ms after four of them; more than a bar's worth goes within a bar.

use super::mixer::BLOCK_FRAMES;
use super::queue::Queues;
use super::{AheadFrames, ClockSource, FollowSettings, Notice};
use crate::clock::transport::{TransportClock, TransportCycle};
use crate::clock::{Change, ClockMessage, ClockState, Follower, PlayedTick, TICKS_PER_QUARTER};
use crate::time::{Frame, PPQ, Tick, UsPerQuarter};
use arrayvec::ArrayVec;

/// Messages that can wait for their frame: more than two full-speed MIDI lines bring in a block of 8,192 frames.
const WAITING: usize = 256;
/// A source is gone for another one after this silence, in seconds.
const SILENT_S: f64 = 1.0;
/// Holding on by the internal clock, in quarter notes: a day at 300 a minute.
const FOR_EVER: u32 = 432_000;
/// How fast the way that sound takes is made up for while a take runs, in parts of the time.
const CREEP: f64 = 0.01;
/// Our ticks to a tick of MIDI clock.
pub(crate) const CLOCK_TICK: i64 = PPQ / TICKS_PER_QUARTER;

/// What comes next from the clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Coming {
    /// A message, in the order in which it came.
    Message(ClockSource, ClockMessage),
    /// A tick sounds.
    Tick,
}

/// A tick of the clock in the take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Beat {
    pub(crate) frame: Frame,
    pub(crate) tick: Tick,
    /// The tempo up to the next tick.
    pub(crate) tempo: UsPerQuarter,
}

/// The clock side of the player.
pub(crate) struct Following {
    settings: FollowSettings,
    follower: Box<Follower>,
    waiting: ArrayVec<(Frame, ClockSource, ClockMessage), WAITING>,
    active: Option<ClockSource>,
    /// The last message of the active source.
    last: Frame,
    /// The take's tick of the song's tick 0.
    offset: Tick,
    told: (ClockState, Option<ClockSource>),
    rate: u32,
    lost: u32,
    transport: TransportClock,
    /// How much sooner than the stamps ours sound, in frames: what is asked for each source, and now.
    asked: AheadFrames,
    ahead: f64,
}

impl Following {
    pub(crate) fn new(rate: u32) -> Following {
        Following {
            settings: FollowSettings::default(),
            follower: Box::new(Follower::new(0)),
            waiting: ArrayVec::new(),
            active: None,
            last: Frame(0),
            offset: Tick(0),
            told: (ClockState::Waiting, None),
            rate,
            lost: 0,
            transport: TransportClock::default(),
            asked: AheadFrames::default(),
            ahead: 0.0,
        }
    }

    /// What is followed from now on.
    pub(crate) fn set(&mut self, settings: FollowSettings) {
        let by_itself = settings.order.contains(&ClockSource::Internal);
        let hold = if by_itself {
            FOR_EVER
        } else {
            settings.hold_quarters
        };
        self.follower.hold_for(hold);
        self.settings = settings;
    }

    /// How much sooner than each source's stamps ours sound, in frames.
    pub(crate) fn set_ahead(&mut self, ahead: AheadFrames) {
        self.asked = ahead;
    }

    /// Whether a source is among those that are followed.
    pub(crate) fn follows(&self, source: ClockSource) -> bool {
        self.settings.order.contains(&source)
    }

    /// What the server's transport says of the frames from `at` on.
    pub(crate) fn transport(&mut self, at: Frame, frames: u32, cycle: TransportCycle) {
        let (mut clock, rate) = (std::mem::take(&mut self.transport), self.rate);
        clock.cycle((at, frames), rate, cycle, &mut |at, message| {
            self.push(at, ClockSource::Transport, message);
        });
        self.transport = clock;
    }

    /// Takes a message in, to be looked at on its frame.
    pub(crate) fn push(&mut self, at: Frame, source: ClockSource, message: ClockMessage) {
        if !self.follows(source) {
            return;
        }
        let index = self.waiting.partition_point(|(other, _, _)| *other <= at);
        if self
            .waiting
            .try_insert(index, (at, source, message))
            .is_err()
        {
            self.lost = self.lost.wrapping_add(1);
        }
    }

    /// The frame on which a take is going to begin, if that is known and lies within `start..end`.
    pub(crate) fn begins_within(&self, start: Frame, end: Frame) -> Option<Frame> {
        let mut armed = self.follower.armed().is_some();
        for &(at, _, message) in self.waiting.iter().take_while(|(at, _, _)| *at < end) {
            match message {
                ClockMessage::Start | ClockMessage::Continue => armed = true,
                ClockMessage::Stop => armed = false,
                ClockMessage::Tick if armed && at >= start => return Some(at),
                ClockMessage::Tick | ClockMessage::Position(_) => {}
            }
        }
        None
    }

    /// What comes next before `end`, and on which frame.
    pub(crate) fn next(&self, end: Frame) -> Option<(Frame, Coming)> {
        let message = self.waiting.first().filter(|(at, _, _)| *at < end);
        let tick = self.follower.next_tick().map(|at_s| self.frame_of(at_s));
        let tick = tick.filter(|at| *at < end);
        match (message, tick) {
            (Some(&(at, _, _)), Some(tick)) if tick < at => Some((tick, Coming::Tick)),
            (Some(&(at, source, message)), _) => Some((at, Coming::Message(source, message))),
            (None, Some(tick)) => Some((tick, Coming::Tick)),
            (None, None) => None,
        }
    }

    /// Looks at the message that [`Following::next`] told.
    pub(crate) fn take_message(&mut self) -> Option<Change> {
        if self.waiting.is_empty() {
            return None;
        }
        let (at, source, message) = self.waiting.remove(0);
        if !self.listens_to(source, at) {
            return None;
        }
        self.last = at;
        let at_s = self.seconds(at);
        self.follower.message(at_s, message)
    }

    /// Takes the tick that [`Following::next`] told; it sounds on `at`, later than it was due where it was known too
    /// late.
    pub(crate) fn take_tick(&mut self, at: Frame) -> Option<(Beat, PlayedTick)> {
        let due = self.follower.next_tick()?;
        let played = if at > self.frame_of(due) {
            self.follower
                .take_tick_at(self.seconds(at) + self.ahead_s())?
        } else {
            self.follower.take_tick()?
        };
        Some((self.beat(&played, at), played))
    }

    /// The song begins with the take's `tick` on `at`, because the foot says so. None where no clock ticks.
    pub(crate) fn begin_here(&mut self, at: Frame, tick: Tick) -> Option<Beat> {
        if self.active.is_none() || self.is_silent(at) {
            return None;
        }
        self.follower
            .begin_here(self.seconds(at) + self.ahead_s(), 0)?;
        self.offset = tick;
        let period_s = self.follower.period_s()?;
        Some(Beat {
            frame: at,
            tick,
            tempo: tempo_of(period_s),
        })
    }

    /// The song begins with the master's tick: the take's first tick.
    pub(crate) fn begin(&mut self, tick: i64) -> Tick {
        self.offset = Tick(0);
        Tick(tick * CLOCK_TICK)
    }

    /// Time passes.
    pub(crate) fn pass(&mut self, at: Frame) -> Option<Change> {
        self.come_nearer();
        let change = self.follower.pass(self.seconds(at));
        if self.is_silent(at) && !self.follower.runs() {
            self.active = None;
        }
        change
    }

    /// Tells a changed state once.
    pub(crate) fn tell(&mut self, at: Frame, beat: Option<Beat>, queues: &mut Queues) {
        let state = self.follower.state(self.seconds(at));
        let now = (state, self.active);
        if now == self.told && beat.is_none() {
            return;
        }
        self.told = now;
        let oddities = self.follower.oddities();
        queues.notice(Notice::Clock {
            frame: beat.map_or(at, |beat| beat.frame),
            source: self.active,
            state,
            tick: beat.map(|beat| beat.tick),
            tempo: self.follower.period_s().map(tempo_of),
            scatter_us: self
                .follower
                .scatter_s()
                .map_or(0, |scatter| (scatter * 1e6) as u32),
            lost: oddities.lost.min(u64::from(u32::MAX)) as u32,
        });
    }

    fn is_silent(&self, at: Frame) -> bool {
        at.0.saturating_sub(self.last.0) as f64 > SILENT_S * f64::from(self.rate)
    }

    /// Whether a source is the one that counts; a better one takes over while nothing runs.
    fn listens_to(&mut self, source: ClockSource, at: Frame) -> bool {
        let rank = |source: ClockSource| {
            self.settings
                .order
                .iter()
                .position(|other| *other == source)
        };
        let runs = self.follower.runs();
        let takes_over = match self.active {
            None => true,
            Some(active) if active == source => return true,
            Some(active) => !runs && (self.is_silent(at) || rank(source) < rank(active)),
        };
        if takes_over {
            self.follower.reset();
            self.active = Some(source);
            self.come_nearer();
        }
        takes_over
    }

    fn beat(&self, played: &PlayedTick, at: Frame) -> Beat {
        let next_s = self.follower.next_tick();
        let usual = self
            .follower
            .period_s()
            .unwrap_or(60.0 / 120.0 / TICKS_PER_QUARTER as f64);
        let step_s = next_s.map_or(usual, |next_s| next_s - played.at_s);
        // A catch-up step stays a playable tempo.
        let step_s = step_s.clamp(usual * 0.5, usual * 2.0);
        Beat {
            frame: at,
            tick: Tick(played.tick * CLOCK_TICK) + self.offset,
            tempo: tempo_of(step_s),
        }
    }

    /// Moves to what is asked: at once while nothing runs, else so slowly that it is not heard.
    fn come_nearer(&mut self) {
        let of_source = self.active.and_then(|active| {
            let number = ClockSource::ALL
                .iter()
                .position(|source| *source == active)?;
            self.asked.get(number).copied()
        });
        let by_hand = self.settings.latency_ms * f64::from(self.rate) / 1000.0;
        let off = of_source.unwrap_or(0.0) + by_hand - self.ahead;
        let most = if self.follower.runs() {
            CREEP * BLOCK_FRAMES as f64
        } else {
            f64::INFINITY
        };
        self.ahead += off.clamp(-most, most);
    }

    fn ahead_s(&self) -> f64 {
        self.ahead / f64::from(self.rate)
    }

    /// A frame on the follower's time.
    fn seconds(&self, at: Frame) -> f64 {
        at.0 as f64 / f64::from(self.rate)
    }

    /// The frame on which what the master means for `at_s` sounds: earlier by what it takes to be heard.
    fn frame_of(&self, at_s: f64) -> Frame {
        let frame = at_s * f64::from(self.rate) - self.ahead;
        Frame(frame.max(0.0).round() as u64)
    }
}

fn tempo_of(period_s: f64) -> UsPerQuarter {
    let us = period_s * TICKS_PER_QUARTER as f64 * 1e6;
    UsPerQuarter((us.round() as u32).clamp(60_000, 12_000_000))
}
