//! What the control side asks for: commands are taken once a sub-block and done on their frame.

use super::body::{PlayMoment, PlayOrder, Player};
use crate::audio::mixer::db_to_gain;
use crate::audio::queue::{Counters, Garbage};
use crate::audio::{Command, Cue, Level, MidiSink, REPLACE_BARS};
use crate::time::{Bar, Frame, Tick};
use arrayvec::ArrayVec;

/// Commands taken in one sub-block, so that its cost is bounded.
const COMMANDS_A_BLOCK: usize = 16;
/// A level glides to its new value in this time.
const GLIDE_MS: u32 = 20;

impl Player {
    pub(super) fn take_commands(&mut self, now: Frame, sink: &mut dyn MidiSink) {
        for _ in 0..COMMANDS_A_BLOCK {
            let Ok(command) = self.queues.commands.pop() else {
                return;
            };
            self.obey(command, now, sink);
        }
    }

    pub(super) fn obey(&mut self, command: Command, now: Frame, sink: &mut dyn MidiSink) {
        match command {
            Command::Start { at, tick } => {
                self.take_back_start(Frame(0));
                self.add_moment(at, PlayMoment::Start(tick), now, sink);
            }
            Command::Stop { at } => {
                // Who stops after asking for a start does not want what was to begin later, either.
                self.take_back_start(at.max(now));
                self.add_moment(at, PlayMoment::Stop, now, sink);
            }
            Command::Replace { from, bars } => self.replace(from, bars, now),
            Command::Cue(cue) if cue.now.is_some() => {
                self.add_order(cue.now.unwrap_or(now), PlayOrder::Say(cue), now);
            }
            Command::Cue(cue) => {
                self.count_if_late(&cue, now);
                self.clips.add(cue, now, &mut self.queues);
                self.place_cues(now);
            }
            Command::HushCues { at, from, below } => {
                self.add_order(at, PlayOrder::Hush(from..below), now);
            }
            Command::Level { at, level, db } => {
                self.add_order(at, PlayOrder::Level(level, db), now);
            }
            Command::Panic => self.panic(now, sink),
            // The band joins in.
            Command::SwapSynth(synth) if self.take.is_some() && self.desk.has_no_synth() => {
                let heard = self.count_in.now();
                self.desk.swap_synth(synth, heard, &mut self.queues);
            }
            Command::SwapSynth(synth) => {
                if let Some(unused) = self.synth_ahead.replace(synth) {
                    self.queues.discard(Garbage::Synth(unused));
                }
            }
            Command::Follow(settings) => self.following.set(settings),
            Command::Clock {
                at,
                source,
                message,
            } => self.following.push(at, source, message),
            Command::ClockAhead(ahead) => self.following.set_ahead(ahead),
            Command::Home { tick, bars } => {
                self.home_bars.clear(&mut self.queues);
                self.home_bars.replace(tick, bars, &mut self.queues);
                self.home = Some(tick);
            }
            Command::Lead(leads) => self.leads = leads,
        }
    }

    pub(super) fn start_waits(&self) -> bool {
        self.moments.iter().any(is_start)
    }

    /// A start that waits for a frame from `from` on is none, nor what it was to begin with.
    fn take_back_start(&mut self, from: Frame) {
        let waits = |(at, moment): &(Frame, PlayMoment)| *at >= from && is_start(&(*at, *moment));
        if self.moments.iter().any(waits) {
            self.moments.retain(|moment| !waits(moment));
            self.bars_ahead.clear(&mut self.queues);
        }
    }

    pub(super) fn add_order(&mut self, at: Frame, order: PlayOrder, now: Frame) {
        if self.orders.is_full() {
            // Far more than anybody presses: the oldest is done now, so that none is lost.
            let (_, oldest) = self.orders.remove(0);
            self.carry_out(oldest, now, now);
        }
        let index = self.orders.partition_point(|(other, _)| *other <= at);
        let _ = self.orders.try_insert(index, (at, order));
    }

    pub(super) fn carry_out(&mut self, order: PlayOrder, at: Frame, now: Frame) {
        match order {
            PlayOrder::Hush(ids) => self.clips.hush(ids, at, now, &mut self.queues),
            PlayOrder::Level(level, db) => self.set_level(level, db),
            PlayOrder::Say(cue) => self.clips.say_at(cue, at, now, &mut self.queues),
        }
    }

    pub(super) fn add_moment(
        &mut self,
        at: Frame,
        moment: PlayMoment,
        now: Frame,
        sink: &mut dyn MidiSink,
    ) {
        if at < now {
            Counters::bump(&self.queues.counters.late_commands);
        }
        let at = at.max(now);
        if self.moments.is_full() {
            // Far more than anybody presses: the oldest is done now, so that none is lost.
            let (_, oldest) = self.moments.remove(0);
            match oldest {
                PlayMoment::Start(tick) => self.start(tick, now, now, sink),
                PlayMoment::Stop => self.stop(now, now, sink),
            }
        }
        let index = self.moments.partition_point(|(other, _)| *other <= at);
        let _ = self.moments.try_insert(index, (at, moment));
    }

    pub(super) fn replace(
        &mut self,
        from: Tick,
        bars: ArrayVec<Box<Bar>, REPLACE_BARS>,
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

    /// Counts words that came when the last start that they were offered had passed. What is to sound at once has no place that it
    /// could miss, and what is not wanted any more is not missed.
    fn count_if_late(&self, cue: &Cue, now: Frame) {
        let take = self.take.as_ref().filter(|_| !self.start_waits());
        let Some(take) = take.filter(|_| !self.clips.is_hushed(cue.id)) else {
            return;
        };
        let starts = cue.windows.iter().map(|(start, _)| take.frame_of(*start));
        if let Some(last) = starts.max().filter(|last| *last < now) {
            let late = now.0 - last.0;
            self.queues.counters.late_cue(late, self.rate);
        }
    }

    pub(super) fn place_cues(&mut self, now: Frame) {
        if let Some(take) = self.take.as_ref().filter(|_| !self.start_waits()) {
            let frame_of = |tick| take.frame_of(tick);
            self.clips.place_all(now, &frame_of, &mut self.queues);
        }
    }

    pub(super) fn set_level(&mut self, level: Level, db: f32) {
        let (gain, frames) = (db_to_gain(db), self.rate * GLIDE_MS / 1000);
        match level {
            Level::Master => self.master.to(gain, frames),
            Level::Cue => self.cue.to(gain, frames),
            Level::Part(part) => self.desk.set_level(part, gain, frames),
        }
    }
}

fn is_start((_, moment): &(Frame, PlayMoment)) -> bool {
    matches!(moment, PlayMoment::Start(_))
}
