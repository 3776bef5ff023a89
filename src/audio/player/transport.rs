//! Takes: how they begin, follow a clock and end, and the walk through what is played.

use super::body::{PlayOrder, Player};
use crate::audio::following::{CLOCK_TICK, Coming};
use crate::audio::mixer::Ramp;
use crate::audio::queue::Garbage;
use crate::audio::take::{Take, TakeStage};
use crate::audio::{MidiSink, Notice, Played};
use crate::clock::{Change, ClockMessage};
use crate::time::{Frame, Tick};

/// The gain with which a count-in begins: -12 dB.
const COUNT_IN_FROM: f32 = 0.251_19;

impl Player {
    /// A take begins because the foot says so; where a clock ticks, that drives it from here.
    pub(super) fn start_by_foot(
        &mut self,
        tick: Tick,
        at: Frame,
        now: Frame,
        sink: &mut dyn MidiSink,
    ) {
        self.start(tick, at, now, sink);
        if let (Some(beat), Some(take)) = (self.following.begin_here(at, tick), &mut self.take) {
            take.drive(beat.tick, beat.frame, beat.tempo, Tick(CLOCK_TICK));
        }
    }

    /// The clock that is followed says something, or a tick of it sounds.
    pub(super) fn clock(&mut self, coming: Coming, at: Frame, now: Frame, sink: &mut dyn MidiSink) {
        if coming == Coming::Tick {
            let Some((beat, played)) = self.following.take_tick(at) else {
                return;
            };
            if let Some(take) = &mut self.take {
                take.drive(beat.tick, at, beat.tempo, Tick(CLOCK_TICK));
                if played.tick % crate::clock::TICKS_PER_QUARTER == 0 {
                    self.following.tell(at, Some(beat), &mut self.queues);
                    self.place_cues(now);
                }
            }
            return;
        }
        match self.following.take_message() {
            Some(Change::Begins { tick }) => {
                let tick = self.following.begin(tick);
                let home = self.home == Some(tick);
                if home {
                    self.bars_ahead.clear(&mut self.queues);
                    self.bars_ahead = std::mem::take(&mut self.home_bars);
                    self.home = None;
                }
                self.start(tick, at, now, sink);
                if let Some(take) = &mut self.take {
                    take.wait_for_clock();
                }
                self.queues.notice(Notice::ClockBegan {
                    frame: at,
                    tick,
                    home,
                });
            }
            Some(Change::Stops) => self.stop(at, now, sink),
            None => {}
        }
    }

    pub(super) fn start(&mut self, tick: Tick, at: Frame, now: Frame, sink: &mut dyn MidiSink) {
        self.end_take(at, now, sink);
        if let Some(synth) = self.synth_ahead.take() {
            // What rings on keeps the level that it has.
            self.desk
                .swap_synth(synth, self.count_in.now(), &mut self.queues);
        }
        sink.played(Played::TakeStarted { tick, frame: at });
        let bars = std::mem::take(&mut self.bars_ahead);
        let mut take = Take::new(tick, at, self.rate, bars);
        if self.leads {
            if tick > Tick(0) {
                // In sixteenths: MIDI 1.0 has 14 bits for them.
                let sixteenths = (tick.0 / (CLOCK_TICK * 6)).min(0x3fff) as u16;
                self.desk.real_time(at, ClockMessage::Position(sixteenths));
                self.desk.real_time(at, ClockMessage::Continue);
            }
            take.send_clock();
        }
        self.grow(take.frame_of(Tick(0)), tick, at);
        self.cue_level.begin();
        self.take = Some(take);
        self.place_cues(now.max(at));
    }

    /// A take that counts in begins softly, and is as loud as it is to be on its first bar: nobody is startled by a level that
    /// was right for another room.
    fn grow(&mut self, first_bar: Frame, tick: Tick, at: Frame) {
        self.count_in = Ramp::new(1.0);
        if tick < Tick(0) {
            let frames = first_bar.0.saturating_sub(at.0).min(u64::from(u32::MAX));
            self.count_in = Ramp::new(COUNT_IN_FROM);
            self.count_in.to(1.0, frames as u32);
        }
    }

    pub(super) fn stop(&mut self, at: Frame, now: Frame, sink: &mut dyn MidiSink) {
        if self.end_take(at, now, sink) {
            self.queues.notice(Notice::Ended { frame: at });
        }
    }

    /// Lets everything go and drops the take's bars and cues. Whether there was a take.
    pub(super) fn end_take(&mut self, at: Frame, now: Frame, sink: &mut dyn MidiSink) -> bool {
        let Some(mut take) = self.take.take() else {
            return false;
        };
        let tick = take.tick(at);
        let mut stage = TakeStage {
            desk: &mut self.desk,
            voices: &mut self.voices,
            queues: &mut self.queues,
            sink,
            now,
        };
        stage.release_all(at, tick);
        if self.leads {
            stage.desk.real_time(at, ClockMessage::Stop);
        }
        stage.sink.played(Played::TakeEnded { tick, frame: at });
        take.clear(&mut self.queues);
        self.clips.drop_waiting(false, at, &mut self.queues);
        true
    }

    pub(super) fn panic(&mut self, now: Frame, sink: &mut dyn MidiSink) {
        self.stop(now, now, sink);
        self.moments.clear();
        while let Some((_, order)) = self.orders.pop() {
            match order {
                PlayOrder::Say(cue) => self.queues.discard(Garbage::Cue(cue)),
                // A level is what is heard afterwards too.
                PlayOrder::Level(level, db) => self.set_level(level, db),
                PlayOrder::Hush(_) => {}
            }
        }
        self.bars_ahead.clear(&mut self.queues);
        self.home_bars.clear(&mut self.queues);
        self.home = None;
        self.clips.drop_waiting(true, now, &mut self.queues);
        self.desk.all_off(now);
        self.panicking = true;
    }

    pub(super) fn run_until(&mut self, end: Frame, now: Frame, sink: &mut dyn MidiSink) {
        let Some(take) = &mut self.take else { return };
        let mut stage = TakeStage {
            desk: &mut self.desk,
            voices: &mut self.voices,
            queues: &mut self.queues,
            sink,
            now,
        };
        if take.run_until(end, &mut stage) {
            if self.leads {
                stage.desk.real_time(end, ClockMessage::Stop);
            }
            self.take = None;
            self.clips.drop_waiting(false, now, &mut self.queues);
        }
    }
}
